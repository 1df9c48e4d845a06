"""A finger, a pen and the picture underneath: what each pointer may pull."""

import pytest

from tests.conftest import SAMPLES
from tests.table.chromium import FingersAndPen, Hand, grey_png
from tests.table.serving import packing_of, table

SMALL = {"width": 1100, "height": 900}


@pytest.fixture(params=["sea_star.toml"])
def touched(browser, request, tmp_path):
    """A table on a screen that is touched."""
    subject = request.param and SAMPLES / request.param
    with table(subject, tmp_path) as (server, session):
        hand = Hand(browser, server.access.address, has_touch=True, viewport=SMALL)
        hand.session, hand.pointers = session, FingersAndPen(hand)
        yield hand
        assert hand.wrong == []
        hand.page.close()


def tip(name):
    return f'[data-tip="{name}"] .spot'


def held(hand):
    """The tips that the page has asked to hold, in the order of its asking."""
    return [said["tip"] for said in hand.said if said["kind"] == "hold"]


def test_a_finger_pulls_a_tip_and_a_second_one_does_nothing(touched):
    hand, fingers = touched, touched.pointers.fingers
    first = packing_of(hand.session)
    start, end, other = (hand.middle(tip(f"arm_{k}")) for k in (2, 1, 4))
    fingers(start)
    for share in (0.1, 0.3, 0.5):
        here = tuple(a + share * (b - a) for a, b in zip(start, end, strict=True))
        fingers(here)
    hand.page.wait_for_selector('[data-tip="arm_2"].held')
    fingers(here, other)
    fingers(here, hand.by(other, 50, 0))
    fingers(end, hand.by(other, 60, 0))
    fingers(end)
    assert hand.page.locator('[data-tip="arm_2"].held').count() == 1
    fingers()
    hand.rest()
    packing = packing_of(hand.session)
    assert packing.tips[1] == pytest.approx(
        first.tips[0]
    )  # put on another tip, both change places
    assert packing.violations() == []
    assert set(held(hand)) == {"arm_2"}
    assert hand.session.history.past[0].packing.tips == first.tips
    assert len(hand.session.history.past) == 1  # one pull, one step back


def test_a_finger_is_ignored_while_a_pen_is_down(touched):
    hand, fingers, pen = touched, touched.pointers.fingers, touched.pointers.pen
    start, other = hand.middle(tip("arm_2")), hand.middle(tip("arm_4"))
    pen(start, begins=True)
    pen(hand.by(start, 20, 15))
    fingers(other)
    fingers(hand.by(other, 40, 40))
    assert hand.page.locator('[data-tip="arm_2"].held').count() == 1
    fingers()
    assert hand.page.locator('[data-tip="arm_2"].held').count() == 1
    pen(hand.by(start, 30, 20))
    pen(hand.by(start, 30, 20), pressed=False)
    hand.rest()
    assert set(held(hand)) == {"arm_2"}
    assert hand.said[-1]["phase"] == "drop"
    other = hand.middle(tip("arm_4"))
    fingers(other)  # and is heard again when the pen is lifted
    fingers(hand.by(other, 20, 20))
    fingers()
    hand.rest()
    assert held(hand)[-1] == "arm_4"


def test_a_pen_takes_over_from_the_palm(touched):
    hand, fingers, pen = touched, touched.pointers.fingers, touched.pointers.pen
    first = packing_of(hand.session)
    start, palm = hand.middle(tip("arm_2")), hand.middle(tip("arm_4"))
    fingers(palm)
    fingers(hand.by(palm, -20, 0))  # off the sheet, so that it stays in its corner
    hand.page.wait_for_selector('[data-tip="arm_4"].held')
    pen(start, begins=True)
    pen(hand.by(start, 20, 15))
    assert hand.page.locator('[data-tip="arm_2"].held').count() == 1
    assert hand.page.locator('[data-tip="arm_4"].held').count() == 0
    pen(hand.by(start, 20, 15), pressed=False)
    fingers()
    hand.rest()
    assert [said["kind"] for said in hand.said if said["kind"] != "hold"] == ["back"]
    assert held(hand)[0] == "arm_4"
    assert held(hand)[-1] == "arm_2"
    assert hand.session.history.past[0].packing.tips == first.tips
    assert len(hand.session.history.past) == 1  # what the palm did is no step


@pytest.mark.parametrize("touched", [None], indirect=True)
def test_limbs_are_drawn_with_a_finger(touched):
    hand, fingers = touched, touched.pointers.fingers
    centre = hand.middle("#mat")
    for start, end in (((0, 40), (1, -60)), ((0, 40), (-90, 60)), ((0, 40), (-80, -20))):
        fingers(hand.by(centre, *start))
        fingers(hand.by(centre, *(a + (b - a) / 2 for a, b in zip(start, end, strict=True))))
        fingers(hand.by(centre, *end))
        fingers()
        hand.rest()
        centre = hand.by(hand.middle("#mat .node >> nth=0 >> .spot"), 0, -40)
    assert [part.pair for part in hand.session.state.draft.parts] == [False, True, True]


@pytest.mark.parametrize("touched", [None], indirect=True)
def test_the_picture_is_pulled_and_stretched_by_the_pointer(touched):
    hand = touched
    hand.page.locator("#picture summary").click()
    picture = {"name": "crab.png", "mimeType": "image/png", "buffer": grey_png()}
    hand.page.set_input_files("#picture-file", files=[picture])
    hand.page.wait_for_selector("#mat image")
    hand.rest()
    before = hand.session.state.draft.picture
    unit = hand.page.evaluate("1 / document.getElementById('mat').getScreenCTM().a")
    middle = hand.middle("#mat image")
    hand.pull(middle, hand.by(middle, 60, -30))
    moved = hand.session.state.draft.picture
    shift = [b - a for a, b in zip(before.at, moved.at, strict=True)]
    assert shift == pytest.approx([60 * unit, -30 * unit], abs=unit)
    assert (moved.scale, moved.turn) == (before.scale, before.turn)
    grip, middle = hand.middle("#mat-pictureGrip .grip"), hand.middle("#mat image")
    reach = [b - a for a, b in zip(middle, grip, strict=True)]
    end = (
        middle[0] - 0.5 * reach[1],
        middle[1] + 0.5 * reach[0],
    )  # half as far, turned a quarter
    hand.pull(grip, end)
    turned = hand.session.state.draft.picture
    assert turned.at == moved.at
    assert turned.scale == pytest.approx(moved.scale / 2, rel=0.02)
    assert turned.turn == pytest.approx(90, abs=1)
    for state in (moved, before):
        hand.page.click("#undo")
        hand.rest()
        assert hand.session.state.draft.picture == state
