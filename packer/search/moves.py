"""Moves: changes to a packing from which the local solver climbs anew.

Each move takes a `Site` and a random generator and returns new (tips, 2) points; those of
mirrored twins are taken from their other. `MOVES` holds them with their shares.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.placements import leaders, sample

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.problem import Problem


@dataclass(frozen=True, eq=False)
class Site:
    """What a move starts from: a problem, where its tips lie, their scale, and other packings.

    `mates` are the (tips, 2) points of the whole population.
    """

    problem: Problem
    points: NDArray[np.float64]
    scale: float
    mates: tuple[NDArray[np.float64], ...] = ()


Move = Callable[[Site, np.random.Generator], "NDArray[np.float64]"]

HOLE_SAMPLES: Final = 60
ALIKE: Final = 1e-9
"""Relative difference of their paths up to which two tips are alike."""


def into_hole(site: Site, rng: np.random.Generator) -> NDArray[np.float64]:
    """Move one to three tips, each into the roomiest hole among random places."""
    points = site.points.copy()
    heads = leaders(site.problem)
    for tip in rng.choice(heads, size=min(len(heads), int(rng.integers(1, 4))), replace=False):
        spots = sample(site.problem, int(tip), HOLE_SAMPLES, rng)
        points[tip] = spots[np.argmax(room(site.problem, points, int(tip), spots))]
        points[site.problem.mirror[tip]] = _image(site.problem, points[tip], int(tip))
    return points


def room(
    problem: Problem,
    points: NDArray[np.float64],
    tip: int,
    spots: NDArray[np.float64],
    known: NDArray[np.bool_] | None = None,
) -> NDArray[np.float64]:
    """Return for each (k, 2) spot the scale that a tip there would leave to itself.

    `known` tells which tips are looked at; all by default.
    """
    d = problem.tree.distances[tip]
    twin = int(problem.mirror[tip])
    others = np.ones(len(points), dtype=bool) if known is None else known.copy()
    others[[tip, twin]] = False
    found = np.full(len(spots), np.inf)
    if others.any():
        across = (spots[:, :1] - points[others, 0]) / d[others]
        up = (spots[:, 1:] - points[others, 1]) / d[others]
        found = np.sqrt((across * across + up * up).min(axis=1))
    if twin != tip:
        gap = spots - problem.reflect(spots)
        found = np.minimum(found, np.hypot(gap[:, 0], gap[:, 1]) / d[twin])
    return found


def swap_tips(site: Site, rng: np.random.Generator) -> NDArray[np.float64]:
    """Exchange two tips that are not alike."""
    heads = leaders(site.problem)
    one = int(rng.choice(heads))
    others = [tip for tip in heads.tolist() if not _alike(site.problem, one, tip)]
    if not others:
        return shake(site, rng)
    points, other = site.points.copy(), int(rng.choice(others))
    points[[one, other]] = points[[other, one]]
    return points


def _alike(problem: Problem, one: int, other: int) -> bool:
    """Whether nothing changes where two tips are exchanged."""
    d = problem.tree.distances
    differ = np.abs(d[one] - d[other]) > ALIKE * d[one]
    differ[[one, other]] = False
    return not differ.any() and problem.ranges[one] == problem.ranges[other]


def jiggle(site: Site, rng: np.random.Generator) -> NDArray[np.float64]:
    """Shake all tips."""
    return site.points + _shock(site, rng) * rng.standard_normal(site.points.shape)


def _shock(site: Site, rng: np.random.Generator) -> float:
    """Return a length: 15, 30 or 60 % of the diagonal of one tip's share of the sheet."""
    share = site.problem.sheet.diagonal / math.sqrt(len(site.points))
    return share * float(rng.choice([0.15, 0.3, 0.6]))


def shake(site: Site, rng: np.random.Generator) -> NDArray[np.float64]:
    """Shake the tips nearest to one of them."""
    points = site.points.copy()
    n = len(points)
    away = np.hypot(*(points - points[rng.integers(n)]).T)
    near = np.argsort(away, kind="stable")[: int(rng.integers(2, max(3, min(n, 13))))]
    points[near] += _shock(site, rng) * rng.standard_normal((len(near), 2))
    return points


def shift_limb(site: Site, rng: np.random.Generator) -> NDArray[np.float64]:
    """Turn a limb, mirror it, throw it elsewhere, or exchange it with another limb."""
    points = site.points.copy()
    limb = _limb(site.problem, rng)
    if limb is None:
        return shake(site, rng)
    kind = rng.integers(3)
    if kind == 0:
        points[limb] = _turned(points[limb], rng)
    elif kind == 1:
        sheet = site.problem.sheet
        goal = rng.random(2) * (sheet.width, sheet.height)
        points[limb] = _turned(points[limb], rng) + goal - points[limb].mean(axis=0)
    else:
        other = _limb(site.problem, rng)
        if other is None or (limb & other).any():
            points[limb] = _turned(points[limb], rng)
        else:
            here, there = points[limb].mean(axis=0), points[other].mean(axis=0)
            points[limb] += there - here
            points[other] += here - there
    return points


def graft(site: Site, rng: np.random.Generator) -> NDArray[np.float64]:
    """Take one side of a river from another packing, which is first turned to fit the rest."""
    points = site.points.copy()
    limb = _limb(site.problem, rng)
    if limb is None or not site.mates:
        return shake(site, rng)
    if rng.random() < 0.5:
        limb = ~limb
    mate = site.mates[int(rng.integers(len(site.mates)))]
    turned = sheet_images(site.problem, mate)
    off = ((turned[:, ~limb] - points[~limb]) ** 2).sum(axis=(1, 2))
    points[limb] = turned[np.argmin(off), limb]
    return points


def sheet_images(problem: Problem, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (images, tips, 2): points turned and reflected in every way that leaves the sheet."""
    size = np.array([problem.sheet.width, problem.sheet.height])
    flips = np.array([[False, False], [False, True], [True, False], [True, True]])[:, None]
    images: NDArray[np.float64] = np.where(flips, size - points, points)
    return np.concatenate([images, images[..., ::-1]]) if problem.sheet.is_square else images


def _limb(problem: Problem, rng: np.random.Generator) -> NDArray[np.bool_] | None:
    """Return the tips on the smaller side of a random river; None where there is no river."""
    tree = problem.tree
    if not tree.rivers:
        return None
    side: NDArray[np.bool_] = tree.beyond[
        int(rng.integers(tree.n_tips, len(tree.names)))
    ].copy()
    if 2 * side.sum() > len(side):
        np.logical_not(side, out=side)
    return side


def _turned(points: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Turn points about their centre by any angle, and mirror them half of the time."""
    angle = rng.uniform(0, 2 * np.pi)
    c, s = np.cos(angle), np.sin(angle)
    flip = float(rng.choice([-1.0, 1.0]))
    centre: NDArray[np.float64] = points.mean(axis=0)
    out: NDArray[np.float64] = (points - centre) @ np.array([[c, s], [-s * flip, c * flip]])
    out += centre
    return out


def _image(problem: Problem, point: NDArray[np.float64], tip: int) -> NDArray[np.float64]:
    image: NDArray[np.float64] = point if problem.mirror[tip] == tip else problem.reflect(point)
    return image


MOVES: Final[tuple[tuple[float, Move], ...]] = (
    (0.28, into_hole),
    (0.12, swap_tips),
    (0.08, jiggle),
    (0.08, shake),
    (0.24, shift_limb),
    (0.20, graft),
)


def pick_moves(count: int, rng: np.random.Generator) -> list[Move]:
    """Return random moves."""
    shares, moves = zip(*MOVES, strict=True)
    return [moves[k] for k in rng.choice(len(moves), size=count, p=shares)]
