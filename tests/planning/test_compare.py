"""Comparisons of sheets against exact optima: the zigzag theorem and the table of the square."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import pytest

from packer.errors import FigureError, OptionError
from packer.model.figure import Figure, Flap
from packer.model.sheet import Sheet
from packer.planning.compare import compare
from packer.planning.comparison import row
from packer.planning.shapes import default_shapes, equal_sheets
from packer.planning.stock import Stock
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts

ROOT = math.sqrt(2)

# Largest least distance of n points in the unit square, all proven: n = 4, 5 plain (see Szabo et
# al., New Approaches to Circle Packing in a Square, 2007), n = 6 Graham 1963 and Melissen 1994,
# n = 7 Schaer and Meir 1965.
SQUARE = {4: 1.0, 5: ROOT / 2, 6: math.sqrt(13) / 6, 7: 4 - 2 * math.sqrt(3)}


def star(n, **more):
    return Figure("star", tuple(Flap(f"f{k}", "hub", 1) for k in range(n)), **more)


def zigzag(n, sheet):
    """Exact scale of n equal flaps on a long sheet, H <= sqrt(3) W / (n - 1).

    Alternate tips lie on the long edges. No packing is better by the inequality of Groemer
    (1960) and Oler (1961) for points in a convex body.
    """
    assert sheet.height <= math.sqrt(3) * sheet.width / (n - 1)
    return math.hypot(sheet.height, sheet.width / (n - 1)) / 2


@pytest.mark.parametrize("n", [4, 5, 6, 7])
def test_equal_flaps_reach_the_exact_optima_on_every_sheet(n):
    shapes = [Sheet(1, 1), Sheet(4, 1), Sheet(1, 5), Sheet(6, 1)]
    found = compare(star(n), shapes, options=SearchOptions(stop=MaxStarts(3), workers=1))
    square, *long = found.entries
    assert square.packing.scale == pytest.approx(SQUARE[n] / 2, rel=1e-9)
    for entry in long:
        sheet = entry.packing.sheet
        lying = Sheet(max(sheet.width, sheet.height), min(sheet.width, sheet.height))
        assert sheet.area == pytest.approx(1)
        if lying.height <= math.sqrt(3) * lying.width / (n - 1):
            assert entry.packing.scale == pytest.approx(zigzag(n, lying), rel=1e-9)


def test_the_best_sheet_is_the_one_that_is_known_to_be():
    # n = 4: the square's 1/2 is the exact optimum there, and the zigzag value, which is an upper
    # bound on any sheet, is at most 0.456 on the others; two flaps reach half the diagonal, which grows with the side ratio
    shapes = [Sheet(1, 1), Sheet(3, 2), Sheet(2, 1), Sheet(4, 1)]
    assert (
        compare(star(4), shapes, options=SearchOptions(stop=MaxStarts(2), workers=1)).best == 0
    )
    two = compare(star(2), shapes, options=SearchOptions(stop=MaxStarts(1), workers=1))
    assert two.best == 3
    for entry in two.entries:
        assert entry.packing.scale == pytest.approx(entry.packing.sheet.diagonal / 2)
        assert entry.packing.headroom == pytest.approx(0, abs=1e-9)


def test_the_same_seed_gives_the_same_table_whoever_works():
    """What is proven beside the search is counted and not timed, so it is the same as well."""
    figure = star(6)
    tables = []
    with ThreadPoolExecutor(2) as threads:
        for more in ({"workers": 1}, {"executor": threads}):
            options = SearchOptions(seed=5, stop=MaxStarts(2), **more)
            found = compare(figure, [Sheet(1, 1), Sheet(3, 2)], options=options)
            tables.append([row(found, entry) for entry in found.entries])
    assert tables[0] == tables[1]
    assert all(line["headroom"] >= 0 and line["bound_rule"] for line in tables[0])


def test_a_row_says_what_the_packing_says():
    found = compare(star(4), [Sheet(1, 1)], options=SearchOptions(stop=MaxStarts(2), workers=1))
    line = row(found, found.entries[0])
    assert (line["corner"], line["edge"], line["middle"]) == (4, 0, 0)
    assert line["size"] == pytest.approx(1.0)  # two flaps of 1/2
    assert line["paper_used"] == pytest.approx(math.pi / 4, rel=1e-3)  # four quarter discs
    assert line["relative"] == 1
    assert line["headroom"] == pytest.approx(0, abs=1e-6)
    assert line["waste"] is None


def test_symmetries_stand_in_one_table_and_diagonal_only_on_squares():
    pairs = Figure("x", (Flap("a", "j", 1, pair=True), Flap("b", "j", 1)))
    found = compare(
        pairs,
        [Sheet(1, 1), Sheet(2, 1)],
        ["none", "book", "diagonal"],
        options=SearchOptions(stop=MaxStarts(2), workers=1),
    )
    assert [(e.shape, e.packing.symmetry) for e in found.entries] == [
        ("1 x 1", "none"),
        ("1 x 1", "book"),
        ("1 x 1", "diagonal"),
        ("2 x 1", "none"),
        ("2 x 1", "book"),
    ]
    free, *bound = [e.packing.scale for e in found.entries[:3]]
    assert all(
        scale <= free * (1 + 1e-9) for scale in bound
    )  # a condition never raises a maximum


def test_book_symmetry_compares_standing_sheets_too():
    names = default_shapes("book")
    assert "3 x 4" in names
    assert "A-series standing" in names
    assert "3 x 4" not in default_shapes("none")


def test_what_is_held_equal_is_equal():
    shapes = [Sheet(1, 1), Sheet(3, 2), Sheet(1, 4)]
    figure = star(3)
    assert {round(s.area, 9) for s in equal_sheets(figure, shapes, "area")} == {1}
    longest = equal_sheets(figure, shapes, "longest side")
    assert {max(s.width, s.height) for s in longest} == {1}
    sized = equal_sheets(figure, [Sheet(300, 300, "mm"), Sheet(2, 1)], "area")
    assert [s.unit for s in sized] == ["mm", "mm"]
    assert sized[1].area == pytest.approx(90_000)
    own = star(3, sheet=Sheet(20, 20, "cm"))
    assert equal_sheets(own, shapes, "longest side")[2] == Sheet(5, 20, "cm")
    for before, after in zip(shapes, longest, strict=True):
        assert after.width / after.height == pytest.approx(before.width / before.height)


def test_sheets_cut_from_one_stock_show_their_waste():
    # ISO 216: from a sheet of ratio root 2 the largest square leaves 1 - 1/root 2 over
    a3 = Stock("A3", 297, 420)
    found = compare(
        star(2),
        [Sheet(1, 1), Sheet(2, 1)],
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        equal="stock",
        stock=a3,
    )
    square, double = found.entries
    assert square.packing.sheet == Sheet(297, 297, "mm")
    assert square.waste == pytest.approx(1 - 1 / ROOT, abs=1e-3)
    assert double.packing.sheet == Sheet(420, 210, "mm")
    assert double.waste == pytest.approx(1 - 210 / 297)


@pytest.mark.parametrize(
    ("shapes", "more", "error", "said"),
    [
        ([], {}, OptionError, "no sheet"),
        ([Sheet()], {"equal": "weight"}, OptionError, 'cannot hold "weight"'),
        ([Sheet()], {"equal": "stock"}, OptionError, "go together"),
        ([Sheet()], {"stock": Stock("A4", 210, 297)}, OptionError, "go together"),
        ([Sheet()], {"symmetries": ["bock"]}, OptionError, '"book"'),
        ([Sheet(2, 1)], {"symmetries": ["diagonal"]}, OptionError, "needs a square"),
    ],
)
def test_wrong_questions_are_told(shapes, more, error, said):
    with pytest.raises(error, match=said):
        compare(star(3), shapes, **more)


def test_a_wish_that_a_sheet_cannot_grant_is_told_with_the_sheet():
    crowded = Figure(
        "x", tuple(Flap(f"f{k}", "hub", 1, place=("bottom left",)) for k in range(2))
    )
    with pytest.raises(FigureError, match=r"on a sheet of 3 x 2: too many tips"):
        compare(crowded, [Sheet(3, 2)])


def test_ctrl_c_keeps_the_sheets_until_then(monkeypatch):
    from packer.planning import timed_searches as module  # noqa: PLC0415 - patched here

    calls = []

    def interrupted(problem, **options):
        calls.append(problem)
        if len(calls) == 3:
            raise KeyboardInterrupt
        return real(problem, **options)

    real = module.pack
    monkeypatch.setattr(module, "pack", interrupted)
    shapes = [Sheet(1, 1), Sheet(3, 2), Sheet(2, 1), Sheet(3, 1)]
    found = compare(star(3), shapes, options=SearchOptions(stop=MaxStarts(1), workers=1))
    assert not found.complete
    assert [entry.shape for entry in found.entries] == ["1 x 1", "3 x 2"]


def test_ctrl_c_in_a_later_step_keeps_the_packing(monkeypatch):
    from packer.planning import fold_ranking as module  # noqa: PLC0415 - patched here

    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(module, "folding", interrupted)
    found = compare(
        star(3),
        [Sheet(1, 1), Sheet(2, 1)],
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        tries=1,
    )
    assert not found.complete
    assert [entry.folding for entry in found.entries] == [None]


def test_one_report_counts_all_steps():
    seen = []
    compare(
        star(4),
        [Sheet(1, 1), Sheet(2, 1)],
        options=SearchOptions(
            stop=MaxStarts(1),
            workers=1,
            progress=lambda now: seen.append((now.done, now.total, now.doing)),
        ),
        tries=1,
        effort=1,
    )
    assert [s for s in seen if not s[2]] == [(k, 6, "") for k in range(7)]
    assert {s[0] for s in seen if s[2]} >= {0, 3}
    said = " ".join(s[2] for s in seen)
    assert all(word in said for word in (" tried", "grid", "creases"))
