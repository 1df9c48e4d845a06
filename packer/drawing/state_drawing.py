"""Pictures of flat-folded paper as it lies: what shows from the front or the back."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
import shapely

from packer.drawing.marks.labels import LETTER
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Path, plain
from packer.drawing.marks.strokes import mirrored as from_behind
from packer.drawing.marks.styles import FOLDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Mark, Point
    from packer.folded.form import FoldedForm
    from packer.folded.layers import LayerOrder

ToPage = Callable[["NDArray[np.float64]"], "NDArray[np.float64]"]
"""Moves (n, 2) points from the folded plane to the picture."""

NAME_MM = 2.6
"""Size of the names of flaps."""

LEAST_NAME_MM = 1.4
"""Size below which names could not be read: where there are too many for it none is written."""

APART = 1.25
"""From one name to the next, in sizes of the text."""


def state_drawing(
    pattern: CreasePattern,
    form: FoldedForm,
    order: LayerOrder | None,
    most: tuple[float, float],
    *,
    back: bool = False,
    names: Sequence[str] = (),
    pleats: Sequence[tuple[str, Point, Point]] = (),
) -> Drawing:
    """Draw flat-folded paper as it lies on the table, or all layers at once without an order.

    Parameters
    ----------
    pattern
        The creases.
    form
        Where the faces lie.
    order
        Of the layers; without one they are drawn see-through.
    most
        Width and height in mm that the picture fills.
    back
        Whether it is turned over.
    names
        Flaps whose tips are named, below the picture; none where its width does not hold them all.
    pleats
        Folds to make across all layers, "M" or "V" as seen from the front, each with its two ends
        in the folded plane.
    """
    low, high = form.positions.min(axis=0), form.positions.max(axis=0)
    letters = max((len(_called(pattern, name)) for name in names), default=0)

    def fitted(size: float) -> tuple[float, float]:
        """Return the room for names of a size below the picture, and mm a unit above it."""
        foot = LETTER * size * letters + 6.0 if letters else 0.0
        return foot, float(
            min(most[0] / (high[0] - low[0]), (most[1] - foot) / (high[1] - low[1]))
        )

    # smaller names leave the picture more height, so that it is no narrower than here
    width = float(high[0] - low[0]) * fitted(NAME_MM)[1]
    size = min(NAME_MM, width / (APART * max(1, len(names))))
    if size < LEAST_NAME_MM:
        names, letters = (), 0
    foot, mm = fitted(size)

    def to_page(points: NDArray[np.float64]) -> NDArray[np.float64]:
        moved: NDArray[np.float64] = (points - low) * mm + np.array([0.0, foot])
        return moved

    paper = _seen(form, order, back, to_page) if order else _through(pattern, form, to_page)
    groups = (
        ("paper", tuple(paper)),
        ("pleats", tuple(_across(pleats, to_page))),
        ("names", tuple(_names(pattern, form, names, to_page, (foot, size)))),
    )
    side = "back" if back else "front"
    drawing = Drawing(
        float(high[0] - low[0]) * mm,
        float(high[1] - low[1]) * mm + foot,
        groups,
        "Folded flat",
        f"Seen from the {side}" if order else "All layers at once",
        margin=3.0,
    )
    return from_behind(drawing) if back else drawing


def _seen(form: FoldedForm, order: LayerOrder, back: bool, to_page: ToPage) -> Iterator[Mark]:
    """Yield what shows of each layer, white for the paper's front and grey for its back."""
    layers = order.layers
    for layer, region in sorted(order.seen(back=back).items()):
        kind = "paper back" if bool(layers.flipped[layer]) != back else "paper front"
        for part in shapely.get_parts(region):
            rings = [part.exterior, *part.interiors]
            yield Area(kind, tuple(_ring(to_page(np.array(r.coords)[:-1])) for r in rings))


def _ring(points: NDArray[np.float64]) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _through(pattern: CreasePattern, form: FoldedForm, to_page: ToPage) -> Iterator[Mark]:
    points = to_page(form.positions)
    for loop in pattern.faces:
        yield Area("paper seen through", (_ring(points[list(loop)]),))


def _across(pleats: Sequence[tuple[str, Point, Point]], to_page: ToPage) -> Iterator[Mark]:
    for fold, *ends in pleats:
        yield Path(f"pleat {FOLDS[fold]}", _ring(to_page(np.array(ends))))


def _names(
    pattern: CreasePattern,
    form: FoldedForm,
    names: Sequence[str],
    to_page: ToPage,
    room: tuple[float, float],
) -> Iterator[Mark]:
    """Yield names under the picture, upright, each with a line to its tip.

    The room is the height below the picture and the size of a name, in mm.
    """
    foot, size = room
    tips_at = to_page(form.positions[[pattern.tips[name] for name in names]])
    order = np.argsort(tips_at[:, 0], kind="stable").tolist() if len(names) else []
    gap, width = APART * size, float(to_page(form.positions)[:, 0].max())
    slots = _apart([float(tips_at[k, 0]) for k in order], gap)
    last = len(slots) - 1
    slots = [min(slot, width - gap * (last - k)) for k, slot in enumerate(slots)]
    for slot, k in zip(slots, order, strict=True):
        x, y = tips_at[k].tolist()
        yield Disc("mark", (x, y), 0.6)
        yield Path("measure", ((x, y), (slot, foot - 4.0)))
        text = _called(pattern, names[k])
        yield Label("name", (slot, foot - 5.0), text, size, "end", angle=90.0)


def _apart(wanted: list[float], gap: float) -> list[float]:
    """Return places in order, each as near as can be to the wanted one, a gap apart."""
    runs: list[list[float]] = []  # of places moved together: sum of (wanted - offset), count
    for x in wanted:
        runs.append([x, 1.0])
        while (
            len(runs) > 1
            and runs[-2][0] / runs[-2][1] + gap * runs[-2][1] > runs[-1][0] / runs[-1][1]
        ):
            total, count = runs.pop()
            runs[-1][0] += total - gap * runs[-1][1] * count
            runs[-1][1] += count
    return [total / count + gap * k for total, count in runs for k in range(int(count))]


def _called(pattern: CreasePattern, name: str) -> str:
    return plain(pattern.part_of.get(name, name), 24)
