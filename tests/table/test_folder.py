"""What is written, where, and what is never written over."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packer import read_figure, read_packing
from packer.errors import PackerError, ReadError
from packer.table.folder import Folder, slug
from packer.table.messages import Message
from tests.table.serving import packing_of, session_for


@given(st.text(max_size=80))
def test_any_name_gives_a_plain_file_name(name):
    plain = slug(name)
    assert 0 < len(plain) <= 60
    assert set(plain) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_")
    assert not plain.startswith(("-", "_", "."))


@pytest.mark.parametrize(
    "name", ["../up.toml", "/etc/passwd", "sub/a.toml", ".hidden", "..", ""]
)
def test_nothing_is_written_outside_the_folder(tmp_path, name):
    folder = Folder(tmp_path / "project")
    with pytest.raises((ReadError, OSError)):
        folder.write({name: "text"})
    assert list(tmp_path.rglob("*.toml")) == []


def test_what_somebody_else_wrote_is_saved_beside_and_never_over(tmp_path, samples):
    own = tmp_path / "sea_star.toml"
    own.write_text((samples / "sea_star.toml").read_text() + "\n# a note of mine\n")
    before = own.read_bytes()
    session, told = session_for(own, tmp_path)
    session.receive(Message("save"))
    names = next(reply["names"] for reply in told if reply["kind"] == "saved")
    assert names == ["sea_star-2.toml", "sea_star-2.svg", "sea_star-2.packing.json"]
    assert own.read_bytes() == before
    session.receive(Message("save"))  # the table's own it may write over
    assert {path.name for path in tmp_path.iterdir()} == {
        own.name,
        "sea_star.table.json",
        *names,
    }
    (tmp_path / names[0]).write_text("# changed by hand\n")
    session.receive(Message("save"))
    assert (tmp_path / names[0]).read_text() == "# changed by hand\n"
    assert (tmp_path / "sea_star-3.toml").exists()


def test_a_link_is_never_followed(tmp_path, samples):
    target = tmp_path / "elsewhere.toml"
    target.write_text("mine")
    project = tmp_path / "project"
    project.mkdir()
    (project / "sea_star.toml").symlink_to(target)
    session, _ = session_for(samples / "sea_star.toml", project)
    session.receive(Message("save"))
    assert target.read_text() == "mine"
    assert (project / "sea_star-2.toml").exists()


def test_what_is_saved_reads_back_equal(tmp_path, samples):
    session, _ = session_for(samples / "shore_crab.toml", tmp_path)
    session.receive(Message("length", {"part": "leg_1", "to": 2.0, "phase": "drop"}))
    session.receive(Message("save"))
    packing = packing_of(session)
    saved = read_packing(tmp_path / "shore_crab.packing.json")
    assert saved.tips == packing.tips
    assert saved.stress == packing.stress
    assert replace(saved.figure, pose=()) == packing.figure
    assert read_figure(tmp_path / "shore_crab.toml") == saved.figure


def test_a_table_is_taken_up_as_it_was_left_and_another_figure_begins_anew(tmp_path, samples):
    session, _ = session_for(samples / "shore_crab.toml", tmp_path)
    session.receive(Message("keep", {"name": "first"}))
    session.receive(Message("length", {"part": "leg_1", "to": 2.0, "phase": "drop"}))
    session.rest()
    again, _ = session_for(samples / "shore_crab.toml", tmp_path)
    assert again.state.draft == session.state.draft
    assert packing_of(again).tips == packing_of(session).tips
    assert [card.name for card in again.wall.cards] == ["first"]
    changed = tmp_path / "shore_crab.toml"
    changed.write_text((samples / "shore_crab.toml").read_text().replace("1.7", "1.9"))
    other, _ = session_for(changed, tmp_path)
    assert other.state.draft.part("leg_1").asked == 1.9
    assert [card.name for card in other.wall.cards] == ["first"]


@pytest.mark.parametrize(
    "text",
    ["", "{}", "no json", '{"format": "packer.table", "version": 1}', '{"format": "other"}'],
)
def test_a_damaged_table_file_gets_a_sentence_and_is_left_alone(
    packer_cli, tmp_path, samples, text
):
    path = tmp_path / "sea_star.table.json"
    path.write_text(text)
    ran = packer_cli("table", samples / "sea_star.toml", "--out", tmp_path, "--no-browser")
    assert ran.code == 2
    assert str(path) in ran.err
    assert ran.err.count("\n") == 1
    assert path.read_text() == text


def test_any_damage_of_a_table_file_gets_a_sentence(tmp_path, samples):
    session, _ = session_for(samples / "sea_star.toml", tmp_path)
    session.receive(Message("keep", {"name": "one"}))
    path = tmp_path / "sea_star.table.json"
    whole = json.loads(path.read_text())
    for key in ("draft", "packing", "wall", "written"):
        for wrong in (3, [], {}, "text", [{}], {"cards": [{}], "last": 1}):
            path.write_text(json.dumps({**whole, key: wrong}))
            told = refusal(samples / "sea_star.toml", tmp_path)
            assert told is None or str(path) in told


def refusal(subject, folder):
    """The sentence that refuses to open a table; None where it opens. Any other error is one."""
    try:
        session_for(subject, folder)
    except PackerError as error:
        return str(error)
    return None


@pytest.mark.parametrize("subject", ["missing.toml", "missing.svg", "missing.packing.json"])
def test_a_missing_figure_is_told_before_anything_is_served(packer_cli, tmp_path, subject):
    ran = packer_cli("table", tmp_path / subject, "--out", tmp_path / "out", "--no-browser")
    assert ran.code == 2
    assert subject in ran.err
    assert ran.out == ""
    assert not (tmp_path / "out").exists()


def test_without_the_extra_the_remedy_is_told(packer_cli, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "packer.table.server", None)
    ran = packer_cli("table", "--out", tmp_path, "--no-browser")
    assert ran.code == 2
    assert "packer[table]" in ran.err
