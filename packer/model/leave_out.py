"""Leave parts out of a stick figure, and make one part of what no longer branches."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from packer.model.parts import Flap, River

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from packer.model.pleats import Pleats

Pieces = tuple[tuple[str, bool], ...]
"""The parts as written that a part is made of, along it, and whether each now runs backwards."""


def left_out(
    flaps: Sequence[Flap],
    rivers: Sequence[River],
    names: Collection[str],
    twins: Collection[str],
) -> tuple[tuple[Flap, ...], tuple[River, ...], dict[str, Pieces]]:
    """Return the parts of a figure that stay when some are left out.

    Parameters
    ----------
    flaps, rivers
        The parts of a figure, in its order.
    names
        Those to leave out.
    twins
        The joints that are twins (see `beyond_pairs`).

    Returns
    -------
    flaps, rivers
        Perhaps none; joined parts stand where the first of the two stood.
    pieces
        What each of them is made of, by its name.
    """
    parts = _Parts(flaps, rivers, twins)
    touched = {j for part in parts.all if part.name in names for j in ends_of(part)}
    parts.flaps = [flap for flap in flaps if flap.name not in names]
    for river in rivers:
        if river.name in names:
            now = next(r for r in parts.rivers if r.name == river.name)
            parts.rivers.remove(now)
            touched.add(parts.shrink(now))
    for joint in [j for j in parts.joints if j in touched]:
        parts.tidy(joint)
    left = [part.name for part in parts.all]
    pieces = {name: parts.pieces[name] for name in left}
    return tuple(parts.flaps), tuple(parts.rivers), pieces


def joined_pose(
    pose: Sequence[tuple[str, float]], pieces: Mapping[str, Pieces]
) -> tuple[tuple[str, float], ...]:
    """Return the directions of the parts that are left.

    A joined part has that of the last of its pieces that has one, and a piece that runs backwards
    in it the opposite of its own.

    Parameters
    ----------
    pose
        Directions of the parts as written, in degrees.
    pieces
        Of each part that is left (see `left_out`).
    """
    asked = dict(pose)
    directions = []
    for name, made_of in pieces.items():
        known = [(asked[piece], back) for piece, back in made_of if piece in asked]
        if known:
            direction, back = known[-1]
            directions.append((name, (direction + 180) % 360 if back else direction))
    return tuple(directions)


def ends_of(part: Flap | River) -> tuple[str, ...]:
    """Return the joints of a part: one of a flap, two of a river."""
    return part.joints if isinstance(part, River) else (part.joint,)


class _Parts:
    """The parts of a figure while some are taken away."""

    def __init__(
        self, flaps: Sequence[Flap], rivers: Sequence[River], twins: Collection[str]
    ) -> None:
        self.flaps, self.rivers, self.twins = list(flaps), list(rivers), set(twins)
        self.pieces: dict[str, Pieces] = {p.name: ((p.name, False),) for p in self.all}

    @property
    def all(self) -> list[Flap | River]:
        return [*self.flaps, *self.rivers]

    @property
    def joints(self) -> dict[str, None]:
        return dict.fromkeys(j for part in self.all for j in ends_of(part))

    def at(self, joint: str) -> list[Flap | River]:
        """Return the parts that meet at a joint."""
        return [part for part in self.all if joint in ends_of(part)]

    def degree(self, joint: str) -> int:
        """Return how many edges meet at a joint, twins written out."""
        alone = joint not in self.twins
        return sum(2 if part.pair and alone else 1 for part in self.at(joint))

    def shrink(self, river: River) -> str:
        """Make the two joints of a river, already taken out, into one: the first.

        What a paired river held beyond it becomes paired itself.
        """
        near, far = river.joints
        split = near not in self.twins and far in self.twins
        for part in self.at(far):
            pair = part.pair or split
            if isinstance(part, Flap):
                self.flaps[self.flaps.index(part)] = replace(part, joint=near, pair=pair)
            else:
                other = part.joints[0] if part.joints[1] == far else part.joints[1]
                ends = (near, other) if split or part.joints[0] == far else (other, near)
                if split and part.joints[1] == far:
                    self.pieces[part.name] = _turned(self.pieces[part.name])
                self.rivers[self.rivers.index(part)] = replace(part, joints=ends, pair=pair)
        return near

    def tidy(self, joint: str) -> None:
        """Join the two parts that meet at a joint, or make a flap of a river that ends there."""
        parts = self.at(joint)
        if len(parts) == 1 and isinstance(parts[0], River) and self.degree(joint) == 1:
            river = parts[0]
            self.rivers.remove(river)
            self.flaps.append(_as_flap(river, joint))
            if river.joints[0] == joint:
                self.pieces[river.name] = _turned(self.pieces[river.name])
            self.tidy(_other(river, joint))
        elif len(parts) == 2 and self.degree(joint) == 2:
            one, two = parts if isinstance(parts[1], River) else parts[::-1]
            if isinstance(two, River):  # two flaps on one joint are a figure and stay
                joined = _joined(one, two, joint)
                self.pieces[joined.name] = self._along(one, two, joint)
                if isinstance(joined, Flap):
                    self.flaps = [joined if flap is one else flap for flap in self.flaps]
                else:
                    self.rivers = [joined if part is one else part for part in self.rivers]
                self.rivers.remove(two)

    def _along(self, one: Flap | River, two: River, joint: str) -> Pieces:
        """Return the pieces of two parts that meet at a joint, along the part they become."""
        first, last = _in_order(one, two, joint)
        near, far = self.pieces[first.name], self.pieces[last.name]
        if first.joints[0] == joint:
            near = _turned(near)
        if isinstance(last, River) and last.joints[1] == joint:
            far = _turned(far)
        return near + far


def _turned(pieces: Pieces) -> Pieces:
    return tuple((name, not back) for name, back in reversed(pieces))


def _other(river: River, joint: str) -> str:
    return river.joints[0] if river.joints[1] == joint else river.joints[1]


def _as_flap(river: River, end: str) -> Flap:
    """Return the flap that a river becomes when nothing is left at one end."""
    pleats, depth = river.pleats, river.depth
    if river.joints[0] == end:
        pleats, depth = _written(*_along(river.folded_away, back=True), river.length)
    return Flap(
        river.name,
        _other(river, end),
        river.length,
        pair=river.pair,
        flex=river.flex,
        detail=river.detail,
        pleats=pleats,
        depth=depth,
    )


def _joined(one: Flap | River, two: River, joint: str) -> Flap | River:
    """Return the one part of two that meet at a joint.

    It is as needed as the more needed of the two, and may stray by what both may together. Its
    name and its length begin with the part that is farther from the tip, or that stands first.
    """
    first, last = _in_order(one, two, joint)
    near, depths = _along(first.folded_away, back=first.joints[0] == joint)
    back = isinstance(last, River) and last.joints[1] == joint
    far, more = _along(last.folded_away, back=back)
    length = first.length + last.length
    pleats, depth = _written((*near, *(first.length + m for m in far)), depths + more, length)
    joined = replace(
        last,
        name=f"{first.name} + {last.name}",
        length=length,
        pair=first.pair or last.pair,
        flex=(first.flex * first.paper + last.flex * last.paper) / (first.paper + last.paper),
        detail=min(first.detail, last.detail),
        pleats=pleats,
        depth=depth,
    )
    if isinstance(joined, Flap):
        return replace(joined, joint=_other(first, joint))
    return replace(joined, joints=(_other(first, joint), _other(joined, joint)))


def _in_order(one: Flap | River, two: River, joint: str) -> tuple[River, Flap | River]:
    """Return two parts that meet so that what a pair holds beyond it stays beyond it."""
    if isinstance(one, Flap):
        return two, one
    turned = (one.pair and one.joints[0] == joint) or (two.pair and two.joints[1] == joint)
    return (two, one) if turned else (one, two)


def _written(
    middles: tuple[float, ...], depths: tuple[float, ...], length: float
) -> tuple[int | tuple[float, ...], float | tuple[float, ...]]:
    """Return pleats as a part has them: places as fractions of its length, and depths."""
    if not depths:
        return 0, 0.0
    return tuple(middle / length for middle in middles), depths


def _along(pleats: Pleats, *, back: bool) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the places and depths of pleats, from the part's other end where `back`."""
    if not back:
        return pleats.middles, pleats.depths
    return tuple(pleats.length - m for m in reversed(pleats.middles)), pleats.depths[::-1]
