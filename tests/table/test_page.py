"""The page in a real browser: drawn on by pointer and by key, pulled, kept, undone, saved."""

import re

import pytest

from packer import read_figure, read_packing
from packer.files.packing_json import packing_text
from packer.model.problem import pose
from packer.search.frame import first_frame
from packer.search.from_here import at_rest
from tests.conftest import SAMPLES, run
from tests.table.chromium import Hand, grey_png
from tests.table.serving import packing_of, table

FIELDS = "button|textbox|combobox|checkbox|slider|spinbutton|link"
"""Roles of what is pressed or written in, as WAI-ARIA has them."""


@pytest.fixture
def drawn(browser, request, tmp_path):
    """A table with a sample on it, in a browser."""
    with table(SAMPLES / getattr(request, "param", "shore_crab.toml"), tmp_path) as (
        server,
        session,
    ):
        hand = Hand(browser, server.access.address)
        hand.session, hand.folder, hand.address = session, tmp_path, server.access.address
        yield hand
        hand.page.close()


@pytest.fixture
def empty(browser, tmp_path):
    """An empty table in a browser."""
    with table(None, tmp_path) as (server, session):
        hand = Hand(browser, server.access.address)
        hand.session, hand.folder = session, tmp_path
        yield hand
        hand.page.close()


def test_a_crab_is_drawn_from_nothing_by_pointer_and_read_from_its_files(empty):
    hand = empty
    assert "nothing is drawn yet" in hand.text("#draft-sentence")
    centre = hand.middle("#mat")
    hand.pull(hand.by(centre, 0, 40), hand.by(centre, 2, -60))
    assert "one limb alone" in hand.text("#draft-sentence")
    head = "#mat .node >> nth=0"
    for across, down in ((-120, -40), (-130, 50), (-70, 110)):
        here = hand.middle(f"{head} >> .spot")
        hand.pull(here, hand.by(here, across, down))
    here = hand.middle(f"{head} >> .spot")
    hand.pull(here, hand.by(here, 1, 90))
    assert hand.text("#draft-sentence") == ""
    assert hand.page.locator("[data-tip]").count() == 8
    for k, name in enumerate(("body", "claw", "leg_1", "leg_2", "tail"), 1):
        hand.page.fill(f'tr[data-key="limb {k}"] input.name', name)
        hand.page.keyboard.press("Tab")
        hand.rest()
    hand.page.fill("#title", "tide crab")
    hand.page.click("#save")
    hand.rest()
    assert hand.text("#sentence").startswith(
        "Saved figure.toml, figure.svg, figure.packing.json"
    )
    saved = read_figure(hand.folder / "figure.toml")
    assert {flap.name: flap.pair for flap in saved.flaps} == {
        "body": False, "claw": True, "leg_1": True, "leg_2": True, "tail": False,
    }  # fmt: skip
    out = hand.folder / "out"
    assert run("sketch", hand.folder / "figure.svg", "--out", out, "--quiet") == 0
    read = read_figure(out / "figure.toml")
    assert {f.name: f.pair for f in read.flaps} == {f.name: f.pair for f in saved.flaps}
    # test_onward.py has the command make creases of what was saved
    assert read_packing(hand.folder / "figure.packing.json").violations() == []
    assert hand.wrong == []


def test_a_crab_is_drawn_from_nothing_by_key_alone(empty):
    hand = empty
    keys = hand.page.keyboard
    hand.page.locator("#mat").focus()
    hand.press("n")  # the body; its tip is in focus
    for step in ("ArrowUp", "ArrowUp"):
        hand.press(step)
    keys.press("Shift+Tab")  # back to the first joint
    for turns in ((("ArrowLeft",) * 3), (("ArrowDown",) * 2), (("ArrowLeft",) * 1)):
        hand.press("n", *turns)
        hand.page.locator("#mat .node >> nth=0").focus()
    hand.press("n")
    figure = packing_of(hand.session).figure
    assert len(figure.flaps) == 5
    assert sum(flap.pair for flap in figure.flaps) >= 3
    hand.press("Enter")  # from a tip to its length
    keys.type("0.8")
    hand.press("Tab")
    assert 0.8 in [flap.length for flap in packing_of(hand.session).figure.flaps]
    hand.page.locator("#mat .joint").first.focus()
    hand.press("r")  # a river
    assert len(hand.session.state.draft.parts) == 6
    hand.press("Control+z")
    hand.page.locator("[data-tip]").first.focus()
    hand.press("p")
    assert any(part.place for part in hand.session.state.draft.parts)
    hand.press("k")
    assert hand.page.locator("#wall-cards li").count() == 1
    hand.press("Control+s")
    assert (hand.folder / "figure.packing.json").exists()
    assert hand.wrong == []


def test_a_pulled_tip_is_let_go_pinned_and_put_back(drawn):
    hand = drawn
    first = packing_of(hand.session)
    tip = '[data-tip="leg_2.left"] .spot'
    start = hand.middle(tip)
    hand.pull(start, hand.by(start, 60, 40), let_go=False)
    hand.page.keyboard.press("Escape")
    hand.page.mouse.up()
    hand.rest()
    assert packing_of(hand.session).tips == first.tips
    hand.pull(start, hand.by(start, 60, 40))
    packing = packing_of(hand.session)
    assert packing.stress
    assert packing.violations() == []
    assert "%" in hand.text("#line") or "no change" in hand.text("#line")
    hand.page.locator('[data-tip="leg_2.left"]').focus()
    hand.page.click("#pin-here")
    hand.rest()
    (place,) = hand.session.state.draft.part("leg_2").place
    at = packing_of(hand.session).tips[packing.tree.flaps.index("leg_2.left")]
    assert at == pytest.approx(place, abs=1e-6)
    assert hand.page.locator('[data-tip="leg_2.left"].pinned').count() == 1
    hand.page.click("#unpin")
    hand.rest()
    assert hand.session.state.draft.part("leg_2").place == ()
    assert hand.wrong == []


LATE_PICTURES = """
const asked = window.requestAnimationFrame.bind(window);
window.requestAnimationFrame = (paint) => setTimeout(() => asked(paint), 400);
"""
"""A browser that has much else to do, and so is late with every picture."""


def test_the_table_is_at_work_until_the_picture_has_come_to_rest(browser, tmp_path):
    """A tip that moves back is caught where it is seen, so that a hand that waits must see it at rest."""
    with table(SAMPLES / "shore_crab.toml", tmp_path) as (server, session):
        hand = Hand(browser, server.access.address, LATE_PICTURES)
        tip = '[data-tip="leg_2.left"] .spot'
        start = hand.middle(tip)
        for _ in range(2):
            hand.pull(start, hand.by(start, 60, 40), let_go=False)
            hand.page.keyboard.press("Escape")
            hand.page.mouse.up()
            hand.rest()
            assert hand.middle(tip) == pytest.approx(start, abs=0.5)
        hand.pull(start, hand.by(start, 60, 40))
        assert len(session.history.past) == 1
        assert hand.wrong == []
        hand.page.close()


def test_tips_are_buttons_that_begin_with_their_part(drawn):
    # the browser's own accessibility tree, as a screen reader is given it
    heard = re.findall(
        r'^ *- button "(.*)"$', drawn.page.locator("#paper").aria_snapshot(), re.M
    )
    packing = packing_of(drawn.session)
    assert len(heard) == len(packing.tree.flaps)
    for name, label in zip(packing.tree.flaps, heard, strict=True):
        kind, length = packing.kinds[name], packing.lengths[packing.tree.flaps.index(name)]
        assert label.startswith(f"{name.replace('.', ' ')}, {kind}, {length:g}")
    assert drawn.page.get_by_role("button", name="leg_2 left, ").count() == 1
    told = drawn.page.locator("body").aria_snapshot()
    assert re.findall(rf"^ *- (?:{FIELDS})(?! \").*$", told, re.M) == []  # each has a name
    names = re.findall(r'^ *- button "(.*?)"', told, re.M)
    assert {"Undo", "Keep", "New limb", "Pin here", "Creases", "Guide", "Report"} < set(names)
    assert re.search(r"^ *- alert", told, re.M)
    assert "- status: scale 0.1" in told  # one sentence at rest; none while somebody pulls


def test_nothing_goes_sideways_in_a_small_window(drawn):
    drawn.page.set_viewport_size({"width": 390, "height": 800})
    for element in ("document.documentElement", "document.querySelector('.wide')"):
        across, seen = drawn.page.evaluate(f"[{element}.scrollWidth, {element}.clientWidth]")
        assert across <= seen
    name, length = (
        drawn.page.get_by_label("Name of leg_1"),
        drawn.page.get_by_label("Length of leg_1, asked"),
    )
    assert name.bounding_box()["y"] < length.bounding_box()["y"]  # two lines a part


def test_a_pulled_limb_grows_and_all_that_hangs_on_it_goes_along(drawn):
    hand = drawn
    hand.page.fill('tr[data-key="claw_arm"] input.length', "")  # it follows its stroke
    hand.page.keyboard.press("Tab")
    hand.rest()
    draft = hand.session.state.draft
    before = draft.drawn(draft.part("claw_arm"))
    middle = hand.middle('[data-part="claw_arm"]')
    hand.pull(middle, hand.by(middle, -40, -30))
    after = hand.session.state.draft
    assert after.drawn(after.part("claw_arm")) > before
    assert after.drawn(after.part("thumb")) == pytest.approx(
        draft.drawn(draft.part("thumb")), rel=1e-3
    )
    assert packing_of(hand.session).figure.rivers[-1].length == after.drawn(
        after.part("claw_arm")
    )


def test_a_flex_typed_for_parts_is_the_figures_and_pays(drawn):
    hand = drawn
    first = packing_of(hand.session)
    for name in ("leg_1", "leg_4"):
        field = hand.page.get_by_label(f"Flex of {name}, in per cent")
        field.fill("10")
        hand.press("Tab")
    packing = packing_of(hand.session)
    assert {f.name: f.flex for f in packing.figure.flaps if f.flex} == {
        "leg_1": 0.1,
        "leg_4": 0.1,
    }
    # what leg_1 gives and leg_4 takes: the one costs seven times as much as the other
    assert packing.scale > 1.01 * first.scale
    assert sum(packing.lengths) == pytest.approx(sum(first.lengths))
    field.fill("100")
    hand.page.keyboard.press("Tab")
    assert "from 0 to 99" in field.evaluate("field => field.validationMessage")
    assert hand.session.state.draft.part("leg_4").flex == 0.1
    field.fill("")
    hand.press("Tab")
    assert hand.session.state.draft.part("leg_4").flex == 0
    assert hand.wrong == []


def test_the_corner_changes_the_ratio_and_a_typed_size_the_sheet(drawn):
    hand = drawn
    corner = hand.middle("#paper .corner path")
    hand.pull(corner, hand.by(corner, 0, -160))
    sheet = packing_of(hand.session).sheet
    assert sheet.width / sheet.height > 1.1
    assert sheet.area == pytest.approx(1.0, rel=1e-3)
    hand.page.fill("#size", "A4")
    hand.page.keyboard.press("Tab")
    hand.rest()
    assert packing_of(hand.session).sheet.describe() == "210 x 297 mm"
    hand.page.fill("#size", "no paper")
    hand.page.keyboard.press("Tab")
    hand.rest()
    assert "is no sheet" in hand.text("#sentence")
    assert packing_of(hand.session).sheet.describe() == "210 x 297 mm"


def test_keep_compare_and_undo_to_the_first_state_bit_for_bit(drawn):
    hand = drawn
    first = hand.session.state
    hand.page.click("#keep")
    hand.rest()
    hand.page.fill('[data-length="leg_1"]', "2.1")
    hand.page.keyboard.press("Tab")
    hand.rest()
    tip = '[data-tip="leg_3.left"] .spot'
    start = hand.middle(tip)
    hand.pull(start, hand.by(start, 30, -30))
    hand.page.click("#keep")
    hand.rest()
    for k in range(2):
        hand.page.locator("#wall-cards input[type=checkbox]").nth(k).check()
    hand.page.wait_for_selector("#comparison tbody tr")
    assert "leg_1" in hand.text("#comparison tbody")
    assert "moved" in hand.text("#comparison")
    while not hand.page.locator("#undo").is_disabled():
        hand.page.click("#undo")
        hand.rest()
    last = hand.session.state
    assert last.draft == first.draft
    assert last.frame is first.frame
    assert packing_of(hand.session).tips == first.packing.tips
    while not hand.page.locator("#redo").is_disabled():
        hand.page.click("#redo")
        hand.rest()
    assert hand.session.state.draft.part("leg_1").asked == 2.1
    hand.page.locator("button.restore").first.click()
    hand.rest()
    assert packing_of(hand.session).tips == first.packing.tips
    assert hand.wrong == []


def test_an_offer_is_taken_and_all_is_found_again_when_the_page_opens_again(browser, tmp_path):
    figure = read_figure(SAMPLES / "shore_crab.toml")
    poor = at_rest(first_frame(pose(figure), seed=1))
    path = tmp_path / "crab.packing.json"
    path.write_text(packing_text(poor), encoding="utf-8")
    folder = tmp_path / "project"
    with table(path, folder, search=True) as (server, session):
        hand = Hand(browser, server.access.address)
        assert packing_of(session).tips == poor.tips  # untouched until the first change
        hand.page.wait_for_selector("#offer-cards li")
        gain = hand.text("#offer-cards li >> nth=0 >> .gain")
        assert gain.startswith("+")
        hand.page.locator("#offer-cards button", has_text="Take it").first.click()
        hand.rest()
        taken = packing_of(session)
        assert taken.scale > poor.scale
        hand.page.click("#keep")
        hand.rest()
        hand.page.click("#save")
        hand.rest()
        assert read_packing(folder / "crab.packing.json").tips == taken.tips
        hand.page.close()
    with table(path, folder) as (server, session):
        hand = Hand(browser, server.access.address)
        assert packing_of(session).tips == taken.tips
        assert [card.packing.tips for card in session.wall.cards] == [taken.tips]
        hand.page.close()


def test_a_picture_lies_under_the_drawing_and_svg_is_none(drawn, tmp_path):
    hand = drawn
    hand.page.locator("#picture summary").click()
    wrong = {
        "name": "crab.png",
        "mimeType": "image/png",
        "buffer": b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    }
    hand.page.set_input_files("#picture-file", files=[wrong])
    hand.page.wait_for_selector("#sentence:not(:empty)")
    assert "neither PNG nor JPEG" in hand.text("#sentence")
    assert list(tmp_path.glob("picture-*")) == []
    right = {"name": "crab.png", "mimeType": "image/png", "buffer": grey_png()}
    hand.page.set_input_files("#picture-file", files=[right])
    hand.page.wait_for_selector("#mat image")
    hand.page.fill("#picture-turn", "30")
    hand.page.keyboard.press("Tab")
    hand.rest()
    seen = hand.session.state.draft.picture
    assert seen.turn == 30
    assert (hand.folder / seen.name).read_bytes() == grey_png()
    hand.page.click("#save")
    hand.rest()
    assert b"<image" in (hand.folder / "shore_crab.svg").read_bytes()
    hand.page.click("#undo")
    hand.rest()
    hand.page.click("#undo")
    hand.rest()
    assert hand.session.state.draft.picture is None
    assert hand.wrong == []


def test_of_two_pages_the_newest_draws_and_the_other_looks_on(browser, tmp_path):
    with table(SAMPLES / "sea_star.toml", tmp_path) as (server, session):
        old, new = (Hand(browser, server.access.address) for _ in range(2))
        old.page.wait_for_selector("body.looks-on")
        old.page.fill("#title", "from the old page")
        old.page.keyboard.press("Tab")
        old.page.wait_for_selector("#sentence:not(:empty)")
        assert "another page is drawing" in old.text("#sentence")
        new.page.fill("#title", "from the new page")
        new.page.keyboard.press("Tab")
        new.rest()
        assert session.state.draft.name == "from the new page"
        old.page.click("#claim")
        new.page.wait_for_selector("body.looks-on")
        old.rest()
        old.page.fill("#title", "from the old page")
        old.page.keyboard.press("Tab")
        old.rest()
        assert session.state.draft.name == "from the old page"
        old.page.close()
        new.page.wait_for_selector("body:not(.looks-on)")
        new.page.close()


def test_plan_leads_on_and_no_request_leaves_the_machine(drawn):
    hand = drawn
    hand.page.fill("#true-size", "300mm")
    hand.page.click('[data-act="plan"]')
    hand.page.wait_for_selector(".result")
    assert "300 x 300 mm" in hand.text(".result .told")
    command = hand.text(".result code")
    assert command == "packer plan shore_crab.packing.json --sheet 300mm --out ."
    assert (hand.folder / "shore_crab.plan.json").exists()
    hand.page.click('[data-act="print"]')
    hand.page.wait_for_selector(".result img")
    here = hand.address.removeprefix("http://").partition("/")[0]
    places = {url.split("/")[2] for url in hand.asked if not url.startswith(("data:", "blob:"))}
    assert places == {here}
    assert hand.wrong == []
