"""Moves: changes to packings from which the local solver climbs anew.

Each move takes a problem, the (packings, tips, 2) points of a population, which of them are to be
changed, and a random generator, and returns new (picked, tips, 2) points; those of mirrored twins
are taken from their other. Many are made at once, since on small figures the calls cost more than
the numbers. `MOVES` holds them with their shares.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from packer.local_solver.range_assignment import sample

if TYPE_CHECKING:
    from packer.model.problem import Problem
    from packer.model.tree import Tree

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Move = Callable[["Problem", Floats, Indices, np.random.Generator], Floats]

HOLE_SAMPLES: Final = 60


def into_hole(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Move one to three tips, each into the roomiest hole among random places."""
    points = packings[picked]
    times = rng.integers(1, 4, size=len(picked))
    for turn in range(3):
        rows = np.flatnonzero(times > turn)
        tips = rng.choice(problem.leaders, size=len(rows))
        spots = sample(problem, tips, HOLE_SAMPLES, rng)
        roomiest = room(problem, points[rows], tips, spots).argmax(axis=1)
        put(problem, points, rows, tips, spots[np.arange(len(rows)), roomiest])
    return points


def put(problem: Problem, points: Floats, rows: Indices, tips: Indices, spots: Floats) -> None:
    """Put a tip of some rows of (several, tips, 2) points on a spot, and its twin opposite."""
    points[rows, tips] = spots
    paired = problem.mirror[tips] != tips
    points[rows[paired], problem.mirror[tips[paired]]] = problem.reflect(spots[paired])


def room(
    problem: Problem, points: Floats, tips: Indices, spots: Floats, known: Flags | None = None
) -> Floats:
    """Return the scale that a tip on a spot would leave to itself.

    Parameters
    ----------
    problem
        Gives the lengths of the paths.
    points
        (several, tips, 2) where the tips lie.
    tips
        (several,) which one is put on the spots.
    spots
        (several, spots, 2)
    known
        (tips,) which other tips are looked at; all by default.

    Returns
    -------
    Floats
        (several, spots)
    """
    twins = problem.mirror[tips]
    weight = problem.tree.distances[tips]
    ignored = np.zeros(weight.shape, dtype=bool)
    if known is not None:
        ignored |= ~known
    np.put_along_axis(ignored, np.column_stack([tips, twins]), values=True, axis=1)
    weight[ignored] = 1.0
    weight **= -2
    # (other tips, several, spots): a minimum over the first axis is the fastest
    found = spots[:, :, 0] - points[:, :, 0].T[:, :, None]
    found *= found
    up = spots[:, :, 1] - points[:, :, 1].T[:, :, None]
    up *= up
    found += up
    found *= weight.T[:, :, None]
    found += np.where(ignored, np.inf, 0.0).T[:, :, None]
    least: Floats = np.sqrt(found.min(axis=0))
    paired = twins != tips
    if paired.any():
        gap = spots[paired] - problem.reflect(spots[paired])
        across = problem.tree.distances[tips[paired], twins[paired], None]
        least[paired] = np.minimum(least[paired], np.hypot(gap[..., 0], gap[..., 1]) / across)
    return least


def swap_tips(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Exchange two tips that are not alike."""
    points, heads, rows = packings[picked], problem.leaders, np.arange(len(picked))
    one = rng.integers(len(heads), size=len(picked))
    unlike = ~problem.alike[np.ix_(heads, heads)][one]
    other = np.where(unlike, rng.random(unlike.shape), -1.0).argmax(axis=1)
    pair = heads[np.stack([one, other])]
    points[rows, pair] = points[rows, pair[::-1]]
    lone = ~unlike.any(axis=1)
    points[lone] = shake(problem, packings, picked[lone], rng)
    return points


def jiggle(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Shake all tips."""
    points = packings[picked]
    return points + _shock(problem, len(picked), rng) * rng.standard_normal(points.shape)


def _shock(problem: Problem, count: int, rng: np.random.Generator) -> Floats:
    """Return (count, 1, 1): 15, 30 or 60 % of the diagonal of one tip's share of the sheet."""
    share = problem.sheet.diagonal / math.sqrt(problem.tree.n_tips)
    shock: Floats = share * rng.choice([0.15, 0.3, 0.6], size=(count, 1, 1))
    return shock


def shake(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Shake the tips nearest to one of them."""
    points = packings[picked]
    count, n = points.shape[:2]
    middle = points[np.arange(count), rng.integers(n, size=count)]
    away = ((points - middle[:, None]) ** 2).sum(axis=2)
    rank = away.argsort(axis=1, kind="stable").argsort(axis=1)
    near = rank < rng.integers(2, max(3, min(n, 13)), size=(count, 1))
    points += _shock(problem, count, rng) * near[:, :, None] * rng.standard_normal(points.shape)
    return points


def shift_limb(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Turn a limb, mirror it, throw it elsewhere, or exchange it with another limb."""
    if not problem.tree.rivers:
        return shake(problem, packings, picked, rng)
    points, count = packings[picked], len(picked)
    limb = _limbs(problem.tree, count, rng)
    other = _limbs(problem.tree, count, rng)
    kind = rng.integers(3, size=count)
    kind[(limb & other).any(axis=1) & (kind == 2)] = 0
    here, there = _centre(points, limb), _centre(points, other)
    anywhere = rng.random((count, 1, 2)) * (problem.sheet.width, problem.sheet.height)
    kind = kind[:, None, None]
    limb, other = limb[:, :, None], other[:, :, None]
    thrown = _turned(points - here, rng) + np.where(kind == 1, anywhere, here)
    exchanged = points + (there - here) * limb + (here - there) * other
    return np.where(kind == 2, exchanged, np.where(limb, thrown, points))


def graft(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Take one side of a river from another packing, which is first turned to fit the rest.

    Where all flaps hang on one joint one side of the sheet is taken; see `splice`.
    """
    if len(packings) < 2:
        return shake(problem, packings, picked, rng)
    if not problem.tree.rivers:
        return splice(problem, packings, picked, rng)
    points, count = packings[picked], len(picked)
    limb = _limbs(problem.tree, count, rng) ^ (rng.random((count, 1)) < 0.5)
    mates = _mates(packings, picked, rng)
    turned = sheet_images(problem, packings)[:, mates]
    off = ((turned - points) ** 2).sum(axis=3)
    nearest = np.where(limb, 0.0, off).sum(axis=2).argmin(axis=0)
    return np.where(limb[:, :, None], turned[nearest, np.arange(count)], points)


def splice(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Cut the sheet by a line and take what lies beyond it from another packing, turned at random.

    Tips that are alike stand for each other: of each kind as many are taken as the packing has
    beyond the line, those that lie farthest (the cut and splice of D. M. Deaven and K. M. Ho,
    Physical Review Letters 75, 1995, for clusters of atoms). With these in place of as many shakes
    76 and 88 equal flaps came within 1e-4 of the best known after 9 and 8 s with one seed, before after
    35 and 12 s. Under a symmetry some tips are shaken.
    """
    if problem.symmetry != "none":
        return shake(problem, packings, picked, rng)
    count, n = len(picked), packings.shape[1]
    images = sheet_images(problem, packings)
    turned = images[rng.integers(len(images), size=count), _mates(packings, picked, rng)]
    angle = rng.uniform(0, 2 * np.pi, size=count)
    along = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    kind = problem.alike.argmax(axis=1)
    here, height = _by_kind(packings[picked], kind, along)
    there, _ = _by_kind(turned, kind, along)
    last = np.sort(height, axis=1)[np.arange(count), rng.integers(n - 1, size=count)]
    points = np.empty_like(here)
    points[:, kind.argsort(kind="stable")] = np.where(
        (height <= last[:, None])[:, :, None], here, there
    )
    return points


def _by_kind(points: Floats, kind: Indices, along: Floats) -> tuple[Floats, Floats]:
    """Return (several, tips, 2) points by kind of tip and how far they lie along a line, and that."""
    height = np.einsum("ktc,kc->kt", points, along)
    order = np.lexsort((height, np.broadcast_to(kind, height.shape)))
    return (
        np.take_along_axis(points, order[:, :, None], axis=1),
        np.take_along_axis(height, order, axis=1),
    )


def _mates(packings: Floats, picked: Indices, rng: np.random.Generator) -> Indices:
    """Return (picked,) another packing for each of those picked."""
    found: Indices = (picked + rng.integers(1, len(packings), size=len(picked))) % len(packings)
    return found


def sheet_images(problem: Problem, points: Floats) -> Floats:
    """Return (images, ..., 2): points turned and reflected in every way that leaves the sheet."""
    size = np.array([problem.sheet.width, problem.sheet.height])
    flips = [(False, False), (False, True), (True, False), (True, True)]
    images = np.stack([np.where(flip, size - points, points) for flip in flips])
    return np.concatenate([images, images[..., ::-1]]) if problem.sheet.is_square else images


def _limbs(tree: Tree, count: int, rng: np.random.Generator) -> Flags:
    """Return (count, tips) which tips lie on the smaller side of a random river."""
    sides: Flags = tree.beyond[rng.integers(tree.n_tips, len(tree.names), size=count)]
    sides ^= 2 * sides.sum(axis=1, keepdims=True) > tree.n_tips
    return sides


def _centre(points: Floats, limb: Flags) -> Floats:
    """Return (several, 1, 2) the mean of the points of each limb."""
    held = limb[:, :, None]
    centre: Floats = points.mean(axis=1, keepdims=True, where=held)
    return centre


def _turned(points: Floats, rng: np.random.Generator) -> Floats:
    """Turn each (several, tips, 2) points about the origin, and mirror them half of the time."""
    angle = rng.uniform(0, 2 * np.pi, size=len(points))
    flip = rng.choice([-1.0, 1.0], size=len(points))
    c, s = np.cos(angle), np.sin(angle)
    turned: Floats = points @ np.stack([c, s, -s * flip, c * flip], axis=1).reshape(-1, 2, 2)
    return turned


MOVES: Final[tuple[tuple[float, Move], ...]] = (
    (0.28, into_hole),
    (0.12, swap_tips),
    (0.08, jiggle),
    (0.08, shake),
    (0.24, shift_limb),
    (0.20, graft),
)


def moved(
    problem: Problem, packings: Floats, picked: Indices, rng: np.random.Generator
) -> Floats:
    """Return (picked, tips, 2) points of some packings, each changed by a random move."""
    found = np.empty((len(picked), *packings.shape[1:]))
    kinds = rng.choice(len(MOVES), size=len(picked), p=[share for share, _ in MOVES])
    for kind, (_, move) in enumerate(MOVES):
        rows = np.flatnonzero(kinds == kind)
        if len(rows):
            found[rows] = move(problem, packings, picked[rows], rng)
    return found
