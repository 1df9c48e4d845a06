"""Every grid pattern folds flat into its tree, and planted faults are noticed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from packer.errors import PatternError
from packer.files.figure_toml import read_figure
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.grid import contours as grid_contours
from packer.grid.bands import bands, gap_paper
from packer.grid.contours import best_root, contours, split_rivers
from packer.grid.grid_creases import grid_creases
from packer.grid.pack_grid import pack_grid
from packer.model.tree import node_distances
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.conftest import HANDY
from tests.grid.whole import filled, whole_figure

BATCH = 20


def case(seed):
    """A random tree packed on some sheet, mirrored or not, with creases seen from any joint."""
    rng = np.random.default_rng(seed)
    symmetry = ("none", "book", "none", "diagonal")[seed % 4]
    figure = whole_figure(seed, int(rng.integers(3, 9)), 4, symmetry)
    slope = 0 if symmetry == "diagonal" else int(rng.integers(0, 5))
    packing = filled(figure, seed, slope)
    return replace(packing, root=str(rng.choice(packing.tree.joints)))


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 200, BATCH))
def test_random_trees_fold(first):
    for seed in range(first, first + BATCH):
        packing = case(seed)
        pattern = grid_creases(packing)
        assert findings(pattern, fold(pattern)) == [], seed
        check_plainly(pattern, packing)


def check_plainly(pattern, packing):
    """Plain reference of the checks: reflections around every vertex, tips at their distances."""
    folded = np.array([f not in "BF" for f in pattern.folds])
    rigid = walk_faces(pattern, folded)
    at = np.full((len(pattern.points), 2), np.nan)
    for face, loop in enumerate(pattern.faces):
        for v in loop:
            spot = rigid[face][:, :2] @ pattern.points[v] + rigid[face][:, 2]
            assert (
                np.isnan(at[v, 0]) or np.hypot(*(spot - at[v])) < 1e-9 * pattern.sheet.diagonal
            )
            at[v] = spot
    # the folded base lies along one line: rotate so that it is x, with the root joint first
    tree = packing.tree
    root = tree.n_tips + tree.joints.index(packing.root)
    depth = node_distances(tree, pattern.lengths)[root]
    tips = [pattern.tips[name] for name in tree.flaps]
    places = at[tips]
    axis = next(
        (pattern.points[b] - pattern.points[a], at[b] - at[a])
        for (a, b), role in zip(pattern.edges.tolist(), pattern.roles, strict=True)
        if role == "axial"
    )[1]
    along = places @ axis / np.hypot(*axis)
    across = places @ np.array([-axis[1], axis[0]]) / np.hypot(*axis)
    room = 1e-9 * pattern.sheet.diagonal
    assert np.ptp(across) < room
    want = depth[: tree.n_tips]
    fits = [np.ptp(along - sign * want) < room for sign in (1, -1)]
    assert any(fits)


def walk_faces(pattern, folded):
    """Lay every face down by reflections across the folded edges, one neighbour at a time."""
    rigid = {0: np.column_stack([np.eye(2), np.zeros(2)])}
    near = [[] for _ in pattern.faces]
    for edge, (f, g) in enumerate(pattern.edge_faces.tolist()):
        if f >= 0 and g >= 0:
            near[f].append((edge, g))
            near[g].append((edge, f))
    todo = [0]
    while todo:
        face = todo.pop()
        for edge, other in near[face]:
            if other in rigid:
                continue
            step = rigid[face]
            if folded[edge]:
                a, b = pattern.points[pattern.edges[edge]]
                u = (b - a) / np.hypot(*(b - a))
                turn = 2 * np.outer(u, u) - np.eye(2)
                flip = np.column_stack([turn, a - turn @ a])
                step = np.column_stack(
                    [step[:, :2] @ flip[:, :2], step[:, :2] @ flip[:, 2] + step[:, 2]]
                )
            rigid[other] = step
            todo.append(other)
    return rigid


@pytest.mark.slow
@pytest.mark.parametrize("path", HANDY, ids=lambda p: p.stem)
def test_every_sample_folds(path):
    packing = pack_grid(read_figure(path), options=SearchOptions(stop=MaxEffort(2)))
    assert packing.violations() == []
    pattern = grid_creases(packing)
    assert findings(pattern, fold(pattern)) == []


@pytest.mark.parametrize("seed", range(4))
def test_any_root_folds(seed):
    packing = filled(whole_figure(seed, 9, 3, ("none", "book")[seed % 2]), seed)
    for joint in packing.tree.joints:
        pattern = grid_creases(replace(packing, root=joint))
        assert findings(pattern, fold(pattern)) == []


def test_odd_grids_have_blunt_tips_that_fold():
    seen = 0
    for seed in range(12):
        packing = filled(whole_figure(seed, 5, 3, "book"), seed)
        if packing.board.blunt.any():
            seen += 1
            pattern = grid_creases(packing)
            assert findings(pattern, fold(pattern)) == []
    assert seen >= 3


def test_planted_faults_are_noticed():
    """One tip one cell too near to another one: refused, or found by the checks."""
    planted = 0
    for seed in range(60):
        packing = filled(whole_figure(seed, 7, 4), seed)
        at = np.array(packing.tips)
        i, j = next(pair for pair in touching(packing))
        for axis in (0, 1):
            step = np.sign(at[j, axis] - at[i, axis])
            if abs(at[j, axis] - at[i, axis]) == packing.board.distances[i, j]:
                moved = [list(tip) for tip in packing.tips]
                moved[i][axis] += step
                wrong = replace(packing, tips=tuple(map(tuple, moved)))
                if (
                    packing.board.distances[i, j]
                    > np.abs(np.array(wrong.tips[i]) - wrong.tips[j]).max()
                ):
                    assert wrong.violations()
                    assert is_noticed(wrong), seed
                    planted += 1
                    break
    assert planted >= 40


def touching(packing):
    at = np.array(packing.tips)
    d = packing.board.distances
    for i in range(len(at)):
        for j in range(len(at)):
            if i != j and np.abs(at[i] - at[j]).max() == d[i, j]:
                yield i, j


def is_noticed(packing):
    try:
        pattern = grid_creases(packing)
    except PatternError:
        return True
    return bool(findings(pattern, fold(pattern)))


@pytest.mark.parametrize("seed", range(6))
def test_creases_lie_on_the_grid_and_its_diagonals(seed):
    packing = case(seed)
    pattern = grid_creases(packing)
    cells = pattern.points / packing.cell
    assert np.abs(2 * cells - np.rint(2 * cells)).max() < 1e-9
    for (a, b), role in zip(pattern.edges.tolist(), pattern.roles, strict=True):
        dx, dy = np.abs(cells[b] - cells[a])
        if role == "ridge":
            assert dx == pytest.approx(dy)
            total, off = cells[a].sum(), cells[a][0] - cells[a][1]
            assert min(abs(total - round(total)), abs(off - round(off))) < 1e-9
        else:
            assert min(dx, dy) < 1e-9
        if role in {"axial", "between"}:
            line = cells[a][0] if dx < 1e-9 else cells[a][1]
            assert line % 1 == pytest.approx(0.5 if role == "between" else 0, abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_creases_are_merged_to_long_lines(seed):
    """No vertex merely continues a crease: two collinear edges alike and nothing else."""
    pattern = grid_creases(case(seed))
    for vertex, edges in enumerate(pattern.edges_at):
        if len(edges) == 2:
            (a, b) = (pattern.edges[e] for e in edges)
            ways = [pattern.points[e[e != vertex][0]] - pattern.points[vertex] for e in (a, b)]
            straight = abs(ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0]) < 1e-12
            assert not (straight and pattern.roles[edges[0]] == pattern.roles[edges[1]])


@pytest.mark.parametrize("seed", range(8))
def test_bands_and_contours_agree(seed):
    """A square is where the height passes the flap's joint, the gaps are where it is below 0."""
    packing = case(seed)
    regions, heights = bands(packing), contours(packing)
    area = packing.cells[0] * packing.cells[1]
    gap = gap_paper(packing).area
    assert sum(r.area for r in regions.values()) + gap == pytest.approx(area)
    middles = heights.gap[1::2, 1::2]
    assert abs(gap - middles.sum()) <= area * 0.25 + 2 * sum(packing.cells)
    assert (gap == 0) == (not heights.gap.any())


def test_each_side_of_a_river_is_looked_at_once(monkeypatch):
    """However many joints it is seen from: a chain of 100 rivers took 20,200 looks in place of 200."""
    looks = []
    pieces = grid_contours.connected_components
    monkeypatch.setattr(
        grid_contours,
        "connected_components",
        lambda graph, **more: looks.append(1) or (max(2, pieces(graph, **more)[0]), None),
    )
    packing = filled(whole_figure(3, 9), 3)
    joint, split = best_root(packing)  # told that all are split it tries every joint
    assert joint in packing.tree.joints
    assert len(split) == len(packing.tree.rivers) > 1
    assert len(looks) <= 2 * len(packing.tree.rivers)


@pytest.mark.parametrize("seed", range(12))
def test_a_river_is_split_where_what_lies_beyond_it_is(seed):
    """Against the regions: the union of squares beyond the far joint, in how many pieces."""
    packing = filled(whole_figure(seed, 9), seed)
    joint, split = best_root(packing)
    packing = replace(packing, root=joint)
    tree = packing.tree
    root = tree.n_tips + tree.joints.index(joint)
    assert split == split_rivers(packing, root)
    regions = bands(packing)
    for name in tree.rivers:
        if name not in split:
            inner = regions[name]
            # one band encloses one piece: filling its holes leaves one polygon, edge cut or not
            assert len(pieces_beyond(packing, name, root)) == 1, inner
        else:
            assert len(pieces_beyond(packing, name, root)) > 1


def pieces_beyond(packing, name, root):
    import shapely  # noqa: PLC0415

    tree = packing.tree
    edge = tree.names.index(name)
    far = node_distances(tree, np.array(packing.lengths, float))
    a, b = tree.ends[edge].tolist()
    node = a if far[root, a] > far[root, b] else b
    tips = [
        t
        for t in range(tree.n_tips)
        if far[root, t] == pytest.approx(far[root, node] + far[node, t])
        and edge in path_edges(tree, root, t)
    ]
    squares = [
        shapely.box(x - far[node, t], y - far[node, t], x + far[node, t], y + far[node, t])
        for t in tips
        for x, y in [packing.tips[t]]
    ]
    # a hair smaller, so that squares which share only a corner come apart, then a hair less so
    union = shapely.union_all(squares)
    return shapely.get_parts(shapely.buffer(union, -1e-6, join_style="mitre"))


def path_edges(tree, root, tip):
    todo = [(root, -1, [])]
    while todo:
        node, parent, way = todo.pop()
        if node == tip:
            return way
        todo += [(n, node, [*way, e]) for n, e in tree.neighbours[node] if n != parent]
    raise AssertionError
