"""On from here and the gallery, pressed on the page and followed to their end."""

import re
from unittest.mock import Mock

import pytest

from packer import read_packing
from packer.files.fold_json import read_fold
from packer.files.grid_json import read_grid
from packer.search.result.packing_distance import difference
from packer.table import offers, project
from packer.table.actions import ENDINGS, TaskResult
from packer.table.messages import Message
from tests.conftest import SAMPLES
from tests.table.chromium import Hand
from tests.table.serving import packing_of, session_for, table

COMMANDS = {
    "guide": " && packer guide sea_star.creases.fold --sheet 200mm --on A4",
    "grid": "packer grid sea_star.toml",
    "report": "packer report sea_star.packing.json --sheet 200mm",
}
CREASES = ("creases.svg", "creases.png", "creases.fold", "settled.packing.json")
MADE = {
    "guide": (*CREASES, "guide.pdf", "guide.html", "guide.json"),
    "grid": ("grid.json", "grid.svg", "grid.png", "grid.creases.fold", "grid.creases.svg"),
    "report": ("report.html",),
}
"""What is written in any case; a guide makes creases first where there are none."""


@pytest.fixture
def laid(browser, request, tmp_path):
    """A table with a figure on it, with or without a search beside it."""
    name, search = getattr(request, "param", ("sea_star", False))
    with table(SAMPLES / f"{name}.toml", tmp_path, search=search) as (server, session):
        hand = Hand(browser, server.access.address)
        hand.session, hand.folder = session, tmp_path
        yield hand
        assert hand.wrong == []
        hand.page.close()


def test_guide_grid_and_report_are_followed_to_their_end(laid):
    hand = laid
    hand.page.fill("#true-size", "200mm")
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
        assert result.locator("code").inner_text().endswith(COMMANDS[what])
    assert read_fold(hand.folder / "sea_star.creases.fold").sheet.width == 1
    assert read_packing(hand.folder / "sea_star.settled.packing.json").violations() == []
    assert read_grid(hand.folder / "sea_star.grid.json").figure.name == "Sea star"
    page = (hand.folder / "sea_star.report.html").read_text()
    assert "Sea star" in page
    # the guide made before is told of, in the rows that its own result showed, with its command
    assert "The fold guide in short, for a sheet of 200 x 200 mm" in page
    assert "packer guide sea_star.creases.fold --sheet 200mm --on A4\n" in page
    shown = " ".join(hand.page.locator(".result .told").all_inner_texts())
    row = re.search(r"come together at once</bdi></th><td>(\d+, \d+ without stages)</td>", page)
    assert row[1] in shown


@pytest.mark.parametrize("laid", [("goby", False)], indirect=True)
def test_creases_are_stopped_and_their_best_is_kept(laid):
    hand = laid
    hand.page.click('[data-act="creases"]')
    hand.page.wait_for_function(
        "() => /feature 0.0*[1-9]/.test(document.getElementById('running').textContent)"
    )
    hand.page.get_by_role("button", name="Stop this stage and keep its best").click()
    hand.page.wait_for_selector(".result")
    assert hand.page.locator("#stop").is_hidden()
    assert hand.text("#running") == ""
    assert hand.text(".result h3") == "Creases"
    assert read_fold(hand.folder / "goby.creases.fold").sheet.width == 1
    assert hand.page.locator("[data-act]:not(:disabled)").count() == len(ENDINGS)


def test_a_guide_begins_from_creases_of_the_same_packing(tmp_path, monkeypatch):
    begun = []
    monkeypatch.setattr(
        project, "ChildProcess", lambda work, hears, given: begun.append(*given) or Mock()
    )
    session, told = session_for(SAMPLES / "sea_star.toml", tmp_path)

    def made(what, size="200mm"):
        session.receive(Message("act", {"what": what, "sheet": size, "paper": "A4"}, 1))
        task = begun[-1]
        files = {f"{task.stem}.{ending}": b"" for ending in ENDINGS[what]}
        session.project.heard(TaskResult(task, files, ""), session.project.number)
        return task.command

    creases = "packer crease sea_star.packing.json"
    guide = "packer guide sea_star.creases.fold --sheet 200mm --on A4"
    assert made("guide") == f"{creases} && {guide}"
    assert made("creases") == creases
    assert made("guide") == guide
    session.receive(Message("length", {"part": "arm_1", "to": 1.5, "phase": "drop"}, 2))
    assert made("guide") == f"{creases} && {guide}"
    session.receive(Message("act", {"what": "guide", "sheet": "", "paper": "A4"}, 3))
    (refused,) = [reply["text"] for reply in told if reply["kind"] == "sentence"]
    assert refused.startswith("Sheet to fold from: the sheet has no unit yet")


@pytest.mark.parametrize("laid", [("sea_star", True)], indirect=True)
def test_the_gallery_shows_really_different_layouts(laid):
    hand = laid
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
