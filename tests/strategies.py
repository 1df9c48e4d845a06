"""Random sheets, figures, problems and packings, for hypothesis and for benchmarks.

`figures`, `sheets`, `problems` and `packings` are hypothesis strategies; `random_figure` and
`scattered` are plain functions of a seed, for benchmarks and for bulk.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from packer.model.figure import Figure, Flap, River, beyond_pairs
from packer.model.packing import Bound, Packing, SearchRecord
from packer.model.problem import Problem, pose
from packer.model.sheet import Sheet
from packer.units import MM_PER_UNIT

WILD_NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).filter(
    lambda name: bool(name.strip()) and not name.endswith((".left", ".right"))
)
"""Any Unicode that a file can hold, control characters and markup included."""


def lengths():
    """Lengths of flaps and rivers within a factor of twenty, as designers write them."""
    return st.integers(5, 100).map(lambda tenths: tenths / 10)


def sheets(unit=None):
    """Sheets up to three times as long as wide; `unit` None draws one, "" keeps a ratio."""
    units = st.sampled_from(["", *MM_PER_UNIT]) if unit is None else st.just(unit)
    sides = st.integers(10, 30).map(lambda tenths: tenths / 10)
    return st.builds(Sheet, sides, sides, units)


@st.composite
def figures(draw, max_flaps=12, symmetry=None, places=False, flex=False, wild_names=False):
    """Figures of at least two flaps; every joint has at least two neighbours.

    Parameters
    ----------
    max_flaps
        Most lines under [flaps]; paired ones count once here and twice as tips.
    symmetry
        The figure's symmetry; drawn where None. Pairs are drawn under every symmetry.
    places
        Whether some flaps wish for a place. Under a symmetry that a sheet does not fit
        (diagonal on a rectangle) the figure is still a figure, but not a problem.
    flex
        Whether some parts may stray from their lengths.
    wild_names
        Whether names are any Unicode in place of "f0" and "r0".
    """
    symmetry = symmetry or draw(st.sampled_from(["none", "book", "diagonal"]))
    seed = draw(st.integers(0, 2**32 - 1))
    n = draw(st.integers(2, max_flaps))
    rng = np.random.default_rng(seed)
    figure = random_figure(rng, n, symmetry=symmetry, pairs=draw(st.booleans()))
    flaps, rivers = list(figure.flaps), list(figure.rivers)
    for k, flap in enumerate(flaps):
        changes = {"length": draw(lengths())}
        if places and draw(st.integers(0, 3)) == 0:
            changes["place"] = draw(_places(flap, figure))
        if flex and draw(st.booleans()):
            changes["flex"] = draw(st.sampled_from([0.02, 0.1, 0.3]))
        flaps[k] = replace(flap, **changes)
    figure = replace(figure, flaps=tuple(flaps), rivers=tuple(rivers))
    return draw(_renamed(figure)) if wild_names else figure


@st.composite
def problems(draw, max_flaps=12, symmetry=None, places=True):
    """Figures posed on sheets that fit their symmetry."""
    figure = draw(figures(max_flaps=max_flaps, symmetry=symmetry, places=places))
    sheet = draw(sheets())
    if figure.symmetry == "diagonal":
        sheet = Sheet(sheet.width, sheet.width, sheet.unit)
    return pose(figure, sheet)


@st.composite
def packings(draw, max_flaps=12, symmetry=None, places=True):
    """Packings made without a search: tips scattered within their ranges.

    Every inequality holds, since the scale is the least ratio; none is anywhere near the best.
    """
    problem = draw(problems(max_flaps=max_flaps, symmetry=symmetry, places=places))
    return scattered(problem, draw(st.integers(0, 2**32 - 1)), records=draw(st.booleans()))


def random_figure(seed, flaps, *, symmetry="none", pairs=False, joints=None):
    """Return a random figure, the same for the same seed.

    Parameters
    ----------
    seed
        A seed or a numpy generator.
    flaps
        Lines under [flaps]: tips where nothing is paired.
    symmetry
        The figure's symmetry.
    pairs
        Whether some rivers and flaps are paired, so that there are more tips than lines.
    joints
        Number of joints; about a third of the flaps by default.
    """
    rng = np.random.default_rng(seed)
    most = max(1, flaps - 1)  # every joint but the first then has a flap left for it
    j = min(joints or 1 + int(rng.integers(0, max(1, flaps // 3) + 1)), most)
    parents = [int(rng.integers(0, k)) for k in range(1, j)]
    rivers = tuple(
        River(
            f"r{k}",
            (f"j{parent}", f"j{k + 1}"),
            _length(rng, 0.3, 2.0),
            pair=bool(pairs and rng.random() < 0.3),
        )
        for k, parent in enumerate(parents)
    )
    ends = [parents.count(k) + (k > 0) for k in range(j)]
    needy = [k for k in range(j) if ends[k] < 2]
    needy += [0] if j > 1 and ends[0] == 0 else []
    homes = needy + [int(rng.integers(0, j)) for _ in range(flaps - len(needy))]
    hung = tuple(
        Flap(
            f"f{k}",
            f"j{home}",
            _length(rng, 0.5, 3.0),
            pair=bool(pairs and rng.random() < 0.4),
        )
        for k, home in enumerate(homes[:flaps])
    )
    return Figure(f"random {flaps}", hung, rivers, symmetry)


def scattered(problem: Problem, seed, *, records=True) -> Packing:
    """Return a packing of any problem with tips at random in their ranges.

    Parameters
    ----------
    problem
        What to pack.
    seed
        A seed or a numpy generator.
    records
        Whether to add multipliers, slack, a bound and a search record, all made up but of the
        right form.
    """
    rng = np.random.default_rng(seed)
    tips: list[tuple[float, float]] = []
    for tip, ranges in enumerate(problem.ranges):
        twin = int(problem.mirror[tip])
        if twin < tip:
            x, y = problem.reflect(np.array(tips[twin]))
        else:
            box = ranges[rng.integers(len(ranges))]
            u, v = rng.random(2)
            if box.on_axis and problem.symmetry == "diagonal":
                v = u
            if all(b.margin for b in ranges):
                u, v = 0.1 + 0.8 * u, 0.1 + 0.8 * v
            x = box.x[0] + u * (box.x[1] - box.x[0])
            y = box.y[0] + v * (box.y[1] - box.y[0])
        tips.append((float(x), float(y)))
    packing = Packing(problem, tuple(tips))
    if not records or not packing.scale > 0:
        return packing
    tree = problem.tree
    n = tree.n_tips
    return Packing(
        problem,
        tuple(tips),
        stress=((0, 1, 1 / float(packing.distances[0, 1])),),
        slack=((n - 1, float(rng.random())),) if n > 2 else (),
        split_rivers=tree.rivers[:1],
        bound=Bound(packing.scale * 1.5, "made up"),
        search=SearchRecord(seed=1, starts=2, hits=1, seconds=0.5, stopped="starts"),
    )


def _length(rng, low, high):
    return round(float(rng.uniform(low, high)), 2)


def _places(flap, figure):
    """Wishes that never contradict another: no two tips can be bound to one point by them."""
    twinned = flap.pair or flap.joint in beyond_pairs(figure)
    if figure.symmetry == "none" or twinned:
        return st.sampled_from([("edge",), ("middle",), ("left", "top"), ("edge", "middle")])
    return st.sampled_from([("axis",), ("edge", "axis"), ("axis", "middle"), ("middle",)])


def _renamed(figure):
    parts = [f.name for f in figure.flaps] + [r.name for r in figure.rivers]
    names = st.lists(WILD_NAMES, min_size=len(parts) + 1, max_size=len(parts) + 1, unique=True)

    def rename(chosen):
        new = dict(zip(parts, chosen, strict=False))
        return replace(
            figure,
            name=chosen[-1],
            flaps=tuple(replace(f, name=new[f.name]) for f in figure.flaps),
            rivers=tuple(replace(r, name=new[r.name]) for r in figure.rivers),
        )

    return names.map(rename)
