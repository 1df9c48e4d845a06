"""From here: the packing next to this one, and better ones as they come.

Where `pack` searches everywhere, `from_here` solves once from the tips of a packing: what a designer
gets who changes one thing and wants the rest to follow.
"""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError, did_you_mean
from packer.local_solver.solver import LocalSolver, StartPoint, better
from packer.model.packing import SearchRecord
from packer.model.problem import pose
from packer.search.frame import frame_of, next_frame
from packer.search.memetic.run import SearchGoal, begin, stepped
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised
from packer.search.result.packing_distance import oriented_like
from packer.search.warm_start import start_near

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from packer.model.figure import Figure
    from packer.model.packing import Bound, Packing
    from packer.model.sheet import Point, Sheet
    from packer.search.frame import Frame

GIVEN: Final = SearchRecord()
BETTER: Final = 1e-6
"""Relative gain of scale from which a packing is worth telling of."""


def at_rest(frame: Frame, bound: Bound | None = None) -> Packing:
    """Return the packing that one local solve from a frame's tips reaches, with its certificate.

    Parameters
    ----------
    frame
        Where to begin; tips that were held are free again.
    bound
        What is proven about the best, if anything is known.
    """
    optimum = frame.optimum
    solver = LocalSolver(frame.problem, frame.problem.figure.whole_rivers)
    (end,) = solver.solve([StartPoint(optimum.choice, optimum.z)], [optimum])
    return finalised(frame.problem, end if better(end, optimum) else optimum, GIVEN, bound)


def from_here(
    packing: Packing,
    figure: Figure | None = None,
    sheet: Sheet | None = None,
    *,
    held: Mapping[str, Point] | None = None,
) -> Packing:
    """Return the packing that one local solve from the tips of another reaches.

    It takes hundredths of a second, where a search takes seconds: for sliders, and for trying what
    one longer leg does to all the others. The result is a local optimum next to the packing given,
    seldom the best there is; `pack` with ``near=`` searches on from it.

    Parameters
    ----------
    packing
        Where to begin.
    figure, sheet
        A figure or a sheet that differs in some ways; flaps are matched by name, and new ones begin
        where clearance is greatest. The packing's own by default.
    held
        Flaps, by name, whose tips are held at a point, in sheet units, or as near to it as their
        places allow. The result is then the best with these tips there, without a certificate.

    Raises
    ------
    OptionError
        Where a held flap is not known.
    FigureError, SheetError
        Where figure and sheet contradict each other.
    SearchError
        Where the packing is of no use to the figure and no fresh start is either.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from packer import MaxStarts, SearchOptions, pack, read_figure
    >>> figure = read_figure("samples/sea_star.toml")
    >>> packing = pack(figure, options=SearchOptions(stop=MaxStarts(1)))
    >>> longer = replace(figure, flaps=(replace(figure.flaps[0], length=2.0), *figure.flaps[1:]))
    >>> from_here(packing, longer).scale < packing.scale
    True
    """
    problem = packing.problem
    if figure is not None or sheet is not None:
        given = packing.sheet if sheet is None else sheet
        problem = pose(figure or packing.figure, given, packing.symmetry)
    index = {name: tip for tip, name in enumerate(problem.tree.flaps)}
    for name in held or {}:
        if name not in index:
            raise OptionError(f'no flap is called "{name}"{did_you_mean(name, index)}', "held")
    points = {index[name]: point for name, point in (held or {}).items()}
    with one_thread():
        frame = next_frame(problem, frame_of(packing), points, tolerance=1e-10)
        return frame.packing if held else at_rest(frame)


def better_packings(packing: Packing, seed: int = 0) -> Iterator[Packing | None]:
    """Yield ever larger packings of the same problem, without end.

    None is yielded after every step of the search, so that the caller can do other work in
    between, or stop. The first start searches on from the packing, later ones from fresh starts.

    Parameters
    ----------
    packing
        The one to beat; the others are turned to lie as it does.
    seed
        The same seed gives the same packings.
    """
    problem = packing.problem
    goal = SearchGoal(problem, problem.figure.whole_rivers)
    near = start_near(problem, packing, np.random.default_rng(seed))
    least = packing.scale * (1 + BETTER)
    for index in count():
        run = begin(seed, index, near if index == 0 else None)
        while not run.done:
            with one_thread():
                run = stepped(goal, run)
            best = run.best
            if best is not None and best.scale > least:
                record = SearchRecord(seed, index + 1, 1, 0.0, "starts")
                larger = oriented_like(finalised(problem, best, record), packing)
                least = larger.scale * (1 + BETTER)
                yield larger
            else:
                yield None
