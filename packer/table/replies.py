"""What the page is told, as plain keys and values: the drawing, the tree, the frame, the wall."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from packer.drawing.marks.styles import GREY, part_colours
from packer.model.figure import SYMMETRY_NAMES
from packer.model.regions import centre_joint
from packer.model.sheet import Sheet
from packer.table.draft import joint_names

if TYPE_CHECKING:
    from collections.abc import Iterable

    from packer.model.packing import Packing
    from packer.model.tree import Tree
    from packer.search.frame import Frame
    from packer.table.draft import Draft
    from packer.table.state import TableState
    from packer.table.wall import Card, VariantComparison

DIGITS: Final = 9
"""Digits of a number that is told: with six the scale that follows from the tips is 1e-5 off."""


def short(number: float) -> float:
    """Return a number with `DIGITS` digits."""
    return float(f"{number:.{DIGITS}g}")


def draft_reply(draft: Draft, sentence: str, tree: Tree | None) -> dict[str, Any]:
    """Return a drawing for the page: every length both as drawn and as asked."""
    joints, twinned = joint_names(draft), draft.twinned
    colours = {} if tree is None else part_colours(tree)
    sheet = draft.sheet or Sheet()
    parts = []
    for part in draft.parts:
        flap = not (part.near in joints and part.far in joints)
        colour = colours.get(part.name) or colours.get(f"{part.name}.left") or GREY
        parts.append(
            {
                "name": part.name,
                "kind": "flap" if flap else "river",
                "ends": [part.near, part.far],
                "bends": [[short(x), short(y)] for x, y in part.bends],
                "drawn": draft.drawn(part),
                "asked": part.asked,
                "pair": part.pair,
                "twin": part.pair or not twinned.isdisjoint({part.near, part.far}),
                "place": [list(p) if isinstance(p, tuple) else p for p in part.place],
                "flex": part.flex,
                "colour": colour,
            }
        )
    seen = draft.picture
    return {
        "name": draft.name,
        "symmetry": draft.symmetry,
        "whole": draft.whole_rivers,
        "sheet": {
            "width": sheet.width,
            "height": sheet.height,
            "unit": sheet.unit,
            "text": sheet.describe(),
        },
        "sentence": sentence,
        "nodes": [
            {
                "number": node.number,
                "at": [short(node.at[0]), short(node.at[1])],
                "joint": joints.get(node.number, ""),
                "twin": node.number in twinned,
            }
            for node in draft.nodes
        ],
        "parts": parts,
        "picture": None
        if seen is None
        else {
            "name": seen.name,
            "at": list(seen.at),
            "scale": seen.scale,
            "turn": seen.turn,
            "strength": seen.strength,
        },
    }


def tree_reply(tree: Tree) -> dict[str, Any]:
    """Return a tree for the page, with the colour of each part; node k below the flaps is a tip."""
    colours = part_colours(tree)
    return {
        "flaps": list(tree.flaps),
        "rivers": list(tree.rivers),
        "ends": tree.ends.tolist(),
        "twin": tree.twin.tolist(),
        "written": list(tree.written),
        "colours": [colours[name] for name in tree.names],
    }


def frame_reply(frame: Frame, packing: Packing | None) -> dict[str, Any]:
    """Return a frame for the page; what only a packing at rest knows comes with it."""
    problem = frame.problem
    root = centre_joint(packing or frame.packing)
    reply: dict[str, Any] = {
        "sheet": [problem.sheet.width, problem.sheet.height],
        "symmetry": problem.symmetry,
        "mm": problem.sheet.mm_per_unit,
        "root": root,
        "tips": [[short(x), short(y)] for x, y in frame.points.tolist()],
        "lengths": [short(length) for length in frame.lengths.tolist()],
        "scale": short(frame.scale),
        "costs": [short(cost) for cost in frame.costs.tolist()],
        "loose": [int(tip) for tip in frame.loose.nonzero()[0]],
        "active": [list(pair) for pair in frame.active],
        "crowded": frame.crowded,
        "rest": packing is not None,
    }
    if packing is not None:
        reply["split"] = list(packing.split_rivers)
        reply["slack"] = {
            packing.tree.flaps[tip]: short(length) for tip, length in packing.slack
        }
    return reply


def line_reply(
    state: TableState, before: TableState | None, headroom: float | None
) -> dict[str, Any]:
    """Return the line above the table: scale, difference, headroom, middle and loose flaps."""
    frame = state.frame
    if frame is None:
        return {"scale": None}
    scale = None if before is None else before.scale
    kinds = frame.packing.kinds.values()
    return {
        "scale": short(frame.scale),
        "mm": frame.problem.sheet.mm_per_unit,
        "difference": None if not scale else short(frame.scale / scale - 1),
        "headroom": headroom,
        "flaps": len(frame.points),
        "middle": sum(kind == "middle" for kind in kinds),
        "loose": int(frame.loose.sum()),
        "symmetry": SYMMETRY_NAMES[frame.problem.symmetry],
    }


def picture_reply(packing: Packing) -> dict[str, Any]:
    """Return a packing with its own tree, for a small picture of it."""
    from packer.search.frame import frame_of  # noqa: PLC0415 - beside its only use

    return {
        "tree": tree_reply(packing.tree),
        "frame": frame_reply(frame_of(packing), packing),
    }


def card_replies(cards: Iterable[Card]) -> list[dict[str, Any]]:
    """Return the cards of the wall."""
    return [
        {
            "card": card.number,
            "name": card.name,
            "scale": short(card.packing.scale),
            "size": card.packing.sheet.describe(),
            **picture_reply(card.packing),
        }
        for card in cards
    ]


def comparison_reply(compared: VariantComparison, one: Card, other: Card) -> dict[str, Any]:
    """Return how two cards differ."""
    return {
        "one": one.number,
        "other": other.number,
        "scale": short(compared.scale),
        "parts": [
            {"name": name, "before": before, "after": after}
            for name, before, after in compared.parts
        ],
        "tips": [
            {"name": name, "from": list(a), "to": list(b), "share": short(share)}
            for name, a, b, share in compared.tips
        ],
    }
