"""Whatever is said on the line becomes a message or one sentence, and never more."""

import json

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from packer.errors import PackerError, ReadError
from packer.table.changes import CHANGES
from packer.table.messages import (
    FIELDS,
    MOST_MESSAGE_BYTES,
    MOST_PICTURE_BYTES,
    Message,
    picture_kind,
    read_message,
)
from packer.table.pictures import size_of
from tests.table.serving import session_for

ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=8,
)
"""Any JSON, infinite and missing numbers included."""

NEAR = {
    "part": st.sampled_from(["leg_1", "apron", "nobody", ""]),
    "tip": st.sampled_from(["leg_1.left", "apron", "leg_1", ""]),
    "at": st.lists(st.floats(-1000, 1000), min_size=2, max_size=2),
    "path": st.lists(
        st.lists(st.floats(-500, 500), min_size=2, max_size=2), min_size=2, max_size=4
    ),
    "phase": st.sampled_from(["move", "drop"]),
    "node": st.integers(1, 20),
    "start": st.none() | st.integers(1, 20),
    "card": st.integers(1, 3),
    "one": st.integers(1, 3),
    "other": st.integers(1, 3),
    "length": st.floats(1e-6, 1e4),
    "scale": st.floats(1e-4, 1e4),
    "turn": st.floats(-360, 360),
    "strength": st.floats(0, 1),
    "name": st.text(max_size=5),
}
WORTH = {
    "rename": st.sampled_from(["leg", "leg_1", "", "../up"]),
    "joint": st.sampled_from(["hip", "front", ""]),
    "length": st.none() | st.floats(1e-3, 1e3),
    "pair": st.booleans(),
    "place": st.lists(st.sampled_from(["edge", "corner", "left", "axis"]), max_size=2),
    "flex": st.floats(0, 0.9),
    "title": st.text(max_size=5),
    "symmetry": st.sampled_from(["none", "book", "diagonal"]),
    "whole": st.booleans(),
    "sheet": st.sampled_from(["1x1", "2x1", "A4", "300mm", "nonsense", "0x0", ""]),
    "ratio": st.floats(0.05, 20),
    "pin": st.none() | st.sampled_from(["here", "edge", "top left"]),
    "call": st.text(max_size=5),
}
STARTS_PROCESSES = {"act", "gallery"}


@st.composite
def near_messages(draw):
    """Messages whose fields are right, but for what they name."""
    kind = draw(st.sampled_from(sorted(FIELDS.keys() - STARTS_PROCESSES)))
    record = {"kind": kind, "number": draw(st.integers(0, 9))}
    for field in FIELDS[kind]:
        record[field] = draw(WORTH[kind] if field == "to" else NEAR[field])
    return json.dumps(record)


def read(text):
    """A message, or None where one sentence refuses it."""
    refused = ""
    try:
        return read_message(text)
    except ReadError as error:
        refused = str(error)
    assert refused
    assert "\n" not in refused
    return None


@settings(max_examples=150)
@given(
    st.text(max_size=40)
    | st.binary(max_size=40)
    | ANY.map(json.dumps)
    | st.builds(
        lambda kind, fields: json.dumps({"kind": kind, **fields}),
        st.sampled_from(sorted(FIELDS)),
        st.dictionaries(st.sampled_from(["part", "at", "phase", "to", "number", "tip"]), ANY),
    )
)
@example("[" * 100_000)
@example('{"kind": "hold", "tip": "a", "at": [1e999, 0], "phase": "move"}')
@example('{"kind": "hold", "tip": "a", "at": [NaN, 0], "phase": "move"}')
@example('{"kind": "undo", "number": ' + "9" * 5000 + "}")
@example('{"kind": "rename", "part": "\\ud800", "to": "x"}')
@example('{"kind": "undo", "__class__": 1}')
def test_anything_is_a_message_or_one_sentence(text):
    message = read(text)
    assert message is None or message.kind in FIELDS


@pytest.mark.parametrize("kind", FIELDS)
def test_a_message_has_its_own_fields_and_no_others(kind):
    assert read(json.dumps({"kind": kind, "more": 1})) is None
    if FIELDS[kind]:
        assert read(json.dumps({"kind": kind})) is None


def test_a_message_too_long_is_not_even_parsed():
    assert read('{"kind": "undo"' + " " * MOST_MESSAGE_BYTES + "}") is None
    with pytest.raises(ReadError, match="1024 KiB"):
        read_message(" " * (MOST_MESSAGE_BYTES + 1))


@pytest.fixture(scope="module")
def crab_table(tmp_path_factory, request):
    sample = request.config.rootpath / "samples" / "shore_crab.toml"
    folder = tmp_path_factory.mktemp("work") / "project"
    session, told = session_for(sample, folder)
    return session, told, folder


@settings(max_examples=60)
@given(st.lists(near_messages(), min_size=1, max_size=4))
def test_every_message_gives_a_frame_or_a_sentence_and_writes_in_the_folder_alone(
    crab_table, texts
):
    session, told, folder = crab_table
    for text in texts:
        told.clear()
        message = read(text)
        if message is None:
            continue
        session.receive(message)
        kinds = [reply["kind"] for reply in told]
        assert kinds[-1] == "state"
        assert told[-1]["number"] == message.number
        for reply in told:
            json.dumps(reply, allow_nan=False)
        sentences = [reply["text"] for reply in told if reply["kind"] == "sentence"]
        assert all("\n" not in sentence for sentence in sentences)
        frame = session.state.frame
        assert frame is None or frame.scale > 0
    assert {path.name for path in folder.parent.iterdir()} <= {"project"}
    assert all(path.is_file() and path.resolve().parent == folder for path in folder.glob("*"))


def test_what_a_new_page_is_told_answers_no_message_of_its_own(crab_table):
    """Messages of a page are counted from 1."""
    session, told, _ = crab_table
    told.clear()
    session.tell_all()
    assert [reply["number"] for reply in told if reply["kind"] == "state"] == [0]


def test_every_kind_of_message_is_understood_by_the_session(crab_table):
    session = crab_table[0]
    for kind in FIELDS.keys() - CHANGES.keys():
        assert callable(getattr(session, f"_{kind}")), kind


@pytest.mark.parametrize(
    "content",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"<?xml version='1.0'?><svg/>", b"GIF89a",
        b"", b"\x89PN", b"RIFF....WEBP", b"\xff\xd8",
    ],
)  # fmt: skip
def test_only_png_and_jpeg_are_pictures(content):
    with pytest.raises(ReadError, match="neither PNG nor JPEG"):
        picture_kind(content)


def test_a_picture_too_large_is_refused():
    with pytest.raises(ReadError, match="32 MiB"):
        picture_kind(b"\xff\xd8\xff" + bytes(MOST_PICTURE_BYTES))


@settings(max_examples=80)
@given(st.sampled_from([b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"]), st.binary(max_size=60))
def test_a_damaged_header_gets_a_sentence(head, rest):
    refused = ""
    try:
        width, height = size_of(head + rest)
    except PackerError as error:
        refused = str(error)
    assert "\n" not in refused
    assert refused or (width > 0 and height > 0)


def test_a_pull_under_way_gives_way_to_a_newer_one():
    move = Message("hold", {"tip": "a", "at": (0, 0), "phase": "move"})
    drop = Message("hold", {"tip": "a", "at": (0, 0), "phase": "drop"})
    assert move.is_passing
    assert not drop.is_passing
