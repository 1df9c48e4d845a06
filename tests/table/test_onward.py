"""On from here and the gallery, pressed on the page and followed to their end."""

import pytest

from packer import read_packing
from packer.files.fold_json import read_fold
from packer.files.grid_json import read_grid
from packer.search.result.packing_distance import difference
from packer.table import offers
from tests.conftest import SAMPLES
from tests.table.chromium import Hand
from tests.table.serving import packing_of, table

MADE = {
    "creases": ("creases.svg", "creases.png", "creases.fold", "settled.packing.json"),
    "grid": ("grid.json", "grid.svg", "grid.png", "grid.creases.fold", "grid.creases.svg"),
    "report": ("report.html",),
}
"""What the command of each name writes in any case."""


@pytest.fixture(params=[False])
def star(browser, request, tmp_path):
    """A table with the simplest figure there is, with or without a search beside it."""
    with table(SAMPLES / "sea_star.toml", tmp_path, search=request.param) as (server, session):
        hand = Hand(browser, server.access.address)
        hand.session, hand.folder = session, tmp_path
        yield hand
        assert hand.wrong == []
        hand.page.close()


def test_creases_grid_and_report_are_followed_to_their_end(star):
    hand = star
    for rank, (what, endings) in enumerate(MADE.items()):
        hand.page.click(f'[data-act="{what}"]')
        hand.page.wait_for_selector("#stop:not([hidden])")
        assert hand.page.locator("[data-act]:not(:disabled)").count() == 0
        hand.page.wait_for_function(
            "count => document.querySelectorAll('.result').length === count", arg=rank + 1
        )
        hand.page.wait_for_selector("#stop", state="hidden")
        result = hand.page.locator(".result").first
        assert result.locator("h3").inner_text() == what.capitalize()
        names = [f"sea_star.{ending}" for ending in endings]
        assert {path.name for path in hand.folder.iterdir()} >= set(names)
        linked = result.locator("a:not(:has(img))").all_inner_texts()
        assert set(linked) >= set(names)
        assert all((hand.folder / name).stat().st_size for name in linked)
        pictures = result.locator("img")
        assert pictures.count() == sum(name.endswith(".svg") for name in linked)
        for k in range(pictures.count()):
            pictures.nth(k).scroll_into_view_if_needed()
            pictures.nth(k).evaluate("picture => picture.decode()")  # fails where it is none
        assert result.locator(".told").count() == 1
        assert (
            result.locator("code")
            .inner_text()
            .startswith(f"packer {what.removesuffix('s')} sea_star.")
        )
    assert read_fold(hand.folder / "sea_star.creases.fold").sheet.width == 1
    assert read_packing(hand.folder / "sea_star.settled.packing.json").violations() == []
    assert read_grid(hand.folder / "sea_star.grid.json").figure.name == "Sea star"
    assert "Sea star" in (hand.folder / "sea_star.report.html").read_text()


@pytest.mark.parametrize("star", [True], indirect=True)
def test_the_gallery_shows_really_different_layouts(star):
    hand = star
    hand.session.search.gallery_seconds = 2.0
    hand.page.click("#gallery")
    hand.page.wait_for_function(
        "() => document.getElementById('looking').textContent.includes('different')"
    )
    hand.page.wait_for_selector("#offer-cards li")
    hand.page.wait_for_function(
        "() => !document.getElementById('looking').textContent.includes('Looking')"
    )
    own, others = packing_of(hand.session), list(hand.session.offers.values())
    assert 0 < len(others) < offers.GALLERY
    assert hand.page.locator("#offer-cards li").count() == len(others)
    assert all(difference(own, other) > 0.3 for other in others)
    assert all(not other.violations() for other in others)
