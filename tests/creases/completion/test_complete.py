"""Closed packings: mirrored where the figure is, the same each time, rivers as the paper has them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from packer.creases.completion import complete
from packer.creases.completion.complete import crease_pattern, shortest_edge
from packer.creases.faces import split_rivers
from packer.creases.settling.settle import settle
from packer.deadline import Deadline
from packer.files.figure_toml import read_figure
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES
from tests.folded.pentagon import CORNERS, pentagon
from tests.strategies import random_figure

# Found by a search of two seconds on a square.
CUTTLEFISH = {
    "inner arm": (0.08919073279542322, 0.42303897462078277),
    "second arm": (0.3555519811924647, 0.23668267871502513),
    "third arm": (0.0, 0.7059675123774004),
    "outer arm": (0.0, 1.0),
    "tentacle": (0.0, 0.0),
    "front fin": (0.4055858350651257, 0.5818992938830572),
    "hind fin": (0.40854421799247603, 0.8538186104796133),
    "mantle end": (0.5, 1.0),
}


@pytest.fixture(scope="module", name="cuttlefish")
def _cuttlefish():
    problem = pose(read_figure(SAMPLES / "cuttlefish.toml"))
    tips = []
    for name in problem.tree.flaps:
        x, y = CUTTLEFISH[name.removesuffix(".left").removesuffix(".right")]
        tips.append((1 - x if name.endswith(".right") else x, y))
    return Packing(problem, tuple(tips))


@pytest.fixture(scope="module", params=["book", "diagonal"], name="packing")
def _packing(request):
    figure = random_figure(5, 5, symmetry=request.param, pairs=True)
    return pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))


def test_no_filler_is_as_short_as_rounding(cuttlefish):
    """Its two fillers on the lower side just touch each other, to within 3e-8 as first found.

    A third between them, as short as that, would ask for creases of 1e-8 that cancel.
    """
    pattern = crease_pattern(cuttlefish)
    assert findings(pattern, fold(pattern)) == []
    assert shortest_edge(pattern) > 1e-4


def mirrored(pattern, symmetry):
    """How far vertices lie from their mirror images, and the creases that have none."""
    points = pattern.points
    if symmetry == "diagonal":
        image = points[:, ::-1]
    else:
        image = np.column_stack([pattern.sheet.width - points[:, 0], points[:, 1]])
    off, other = cKDTree(points).query(image)
    roles = {
        frozenset(e): r for e, r in zip(pattern.edges.tolist(), pattern.roles, strict=True)
    }
    alone = [
        edge
        for edge, role in roles.items()
        if roles.get(frozenset(other[list(edge)].tolist())) != role
    ]
    return off.max(), alone


def test_symmetric_packings_give_mirrored_patterns(packing):
    for pattern in (crease_pattern(packing), settle(packing, tries=2, seed=1).pattern):
        off, alone = mirrored(pattern, packing.symmetry)
        assert off < 1e-9
        assert alone == []


def test_a_pattern_without_symmetry_is_not_mirrored():
    """The judge can say no."""
    pattern = crease_pattern(
        pack(random_figure(5, 5), options=SearchOptions(stop=MaxStarts(1), workers=1))
    )
    off, alone = mirrored(pattern, "book")
    assert off > 1e-3
    assert alone


def test_no_vertex_lies_idle_on_a_straight_line(packing):
    """Vertices with two edges of one role in one line are tips, or not there at all."""
    pattern = crease_pattern(packing)
    tips = set(pattern.tips.values())
    for vertex, edges in enumerate(pattern.edges_at):
        if len(edges) == 2 and vertex not in tips:
            one, two = edges
            (ax, ay), (bx, by) = (
                pattern.points[pattern.edges[k].sum() - vertex] - pattern.points[vertex]
                for k in edges
            )
            sine = abs(ax * by - ay * bx) / (np.hypot(ax, ay) * np.hypot(bx, by))
            assert pattern.roles[one] != pattern.roles[two] or sine > 1e-8


def test_the_same_packing_gives_the_same_pattern(packing):
    one, other = crease_pattern(packing), crease_pattern(packing)
    for name in ("points", "edges", "heights", "lengths"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    for name in ("roles", "faces", "tree_points", "fillers", "split_rivers"):
        assert getattr(one, name) == getattr(other, name)


# --- rivers


def strands_twin(pattern, river):
    """Pieces over a river: cut the sheet along its hinges with shapely, see what each lies over.

    A piece lies over the river where every vertex in it or on its rim does, ends included.
    """
    spots = shapely.points(pattern.points)
    ends = pattern.edges[[role in {"hinge", "border"} for role in pattern.roles]]
    pieces = shapely.polygonize(shapely.linestrings(pattern.points[ends])).geoms
    edge = pattern.tree.names.index(river)
    found = 0
    for piece in pieces:
        there = np.flatnonzero(shapely.distance(piece, spots) < 1e-9)
        found += all(edge in over(pattern, int(v)) for v in there)
    return found


def over(pattern, vertex):
    """The edges of the tree that a vertex lies over: one inside it, all that meet at a node."""
    edge, offset = pattern.tree_points[vertex]
    for node, s in zip(pattern.tree.ends[edge], (0.0, pattern.lengths[edge]), strict=True):
        if abs(offset - s) < 1e-9:
            return {k for k, ends in enumerate(pattern.tree.ends.tolist()) if node in ends}
    return {edge}


@pytest.mark.parametrize(
    ("seed", "flaps", "split"), [(3, 6, ("r0",)), (8, 7, ("r0",)), (10, 7, ("r1",)), (7, 7, ())]
)
def test_rivers_are_whole_or_split_as_the_paper_has_them(seed, flaps, split):
    packing = pack(
        random_figure(seed, flaps), options=SearchOptions(stop=MaxStarts(1), workers=1)
    )
    pattern = crease_pattern(packing)
    counted = {
        pattern.part_of[river]
        for river in pattern.tree.rivers
        if strands_twin(pattern, river) > 1 and pattern.part_of[river] in packing.tree.rivers
    }
    assert set(pattern.split_rivers) == counted == set(split)


def test_a_settled_packing_claims_what_the_pattern_has():
    """Whatever the packing believed before."""
    packing = pack(random_figure(3, 6), options=SearchOptions(stop=MaxStarts(1), workers=1))
    for claim in ((), packing.tree.rivers):
        settled = settle(replace(packing, split_rivers=claim), tries=1)
        assert settled.packing.split_rivers == settled.pattern.split_rivers


def test_a_cut_flap_in_strands_is_no_split_river():
    pattern = crease_pattern(
        pack(random_figure(22, 5), options=SearchOptions(stop=MaxStarts(1), workers=1))
    )
    assert split_rivers(pattern) == ("r0",)
    flap = pattern.tree.flaps[0]
    piece = replace(pattern, part_of={**pattern.part_of, "r0": flap})
    assert split_rivers(piece) == ()


def test_a_polygon_without_a_layer_order_is_divided(monkeypatch):
    """Told that a pentagon has none, it lies in several polygons, and all still folds."""

    def around(pattern):
        """Whether some polygon has all five tips for corners, by joining faces over ridges."""
        corners = {pattern.tips[name] for name in CORNERS}
        sets = [set(loop) for loop in pattern.faces]
        for role, (f, g) in zip(pattern.roles, pattern.edge_faces.tolist(), strict=True):
            if role not in {"axial", "border"} and sets[f] is not sets[g]:
                sets[f] |= sets[g]
                old = sets[g]
                sets = [sets[f] if one is old else one for one in sets]
        return any(corners <= one for one in sets)

    whole = crease_pattern(pentagon())
    assert around(whole)
    monkeypatch.setattr(
        complete, "polygon_without_order", lambda p: tuple(CORNERS) if around(p) else ()
    )
    divided = crease_pattern(pentagon())
    assert not around(divided)
    assert len(divided.fillers) > len(whole.fillers)
    assert not findings(divided, fold(divided))


def test_a_polygon_is_not_divided_when_the_time_is_over(monkeypatch):
    """Layer orders looked for, counted: each may take as long as the whole search."""
    looked = []
    monkeypatch.setattr(
        complete, "polygon_without_order", lambda pattern: looked.append(pattern) or ()
    )
    layout = complete.layout_of(pentagon())
    late = complete.completed(layout, Deadline.after(0.0))
    assert not looked
    assert not findings(late, fold(late))
    complete.completed(layout)
    assert looked
