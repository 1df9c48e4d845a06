"""``packer pack`` with wishes: flex, whole rivers, a warm start, a cluster."""

from __future__ import annotations

import pytest

from packer.files.packing_json import read_packing

FEW = ("--starts", "1", "--workers", "1")


def packed(packer_cli, samples, out, *words):
    ran = packer_cli("pack", samples / "goby.toml", "--out", out, *FEW, *words)
    assert ran.code == 0, ran.err
    return ran, read_packing(out / "goby.packing.json")


def test_flex_lets_lengths_stray_and_holds_their_total(packer_cli, samples, tmp_path):
    _, stiff = packed(packer_cli, samples, tmp_path / "stiff", "--quiet")
    ran, loose = packed(packer_cli, samples, tmp_path / "loose", "--flex", "0.05")
    assert loose.scale > stiff.scale
    assert sum(loose.lengths) == pytest.approx(sum(stiff.lengths), rel=1e-9)
    for used, asked in zip(loose.lengths, stiff.lengths, strict=True):
        assert 0.95 * asked * (1 - 1e-9) <= used <= 1.05 * asked * (1 + 1e-9)
    assert " used " in ran.out


def test_a_warm_start_is_never_worse(packer_cli, samples, tmp_path):
    _, first = packed(packer_cli, samples, tmp_path / "first", "--quiet")
    file = tmp_path / "first" / "goby.packing.json"
    _, second = packed(packer_cli, samples, tmp_path / "second", "--from", file, "--quiet")
    assert second.scale >= first.scale * (1 - 1e-12)


def test_whole_rivers_are_asked_for_and_their_cost_told(packer_cli, samples, tmp_path):
    ran, packing = packed(packer_cli, samples, tmp_path, "--whole-rivers")
    assert packing.figure.whole_rivers
    assert "a short search without that wish" in ran.err


def test_a_wrong_wish_is_named_and_nothing_written(packer_cli, samples, tmp_path):
    out = tmp_path / "out"
    packed(packer_cli, samples, tmp_path, "--quiet")
    foreign = tmp_path / "goby.packing.json"
    ran = packer_cli("pack", "(x:1,y:1);", "--out", out, "--from", foreign)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == (
        f'--from: no flap of "{foreign}" has a name of this figure; give a packing of the same '
        "or a similar figure\n"
    )
    wrong = {
        (
            "--flex",
            "1",
        ): "--flex: 1 is out of range; write a number from 0 to 0.9\n",
        ("--from", tmp_path / "none.json"): (
            f"{tmp_path / 'none.json'}: no such file; name a packing file such as "
            "crab.packing.json\n"
        ),
    }
    for words, message in wrong.items():
        ran = packer_cli("pack", samples / "goby.toml", "--out", out, *words)
        assert (ran.code, ran.out, ran.err) == (2, "", message)
        assert not out.exists()
