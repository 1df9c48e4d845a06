"""A packing file judged by plain arithmetic, with nothing of packer: the independent twin."""

from __future__ import annotations

import math


def tip_distances(record):
    """Return {(flap, flap): tree distance} from a packing's record alone."""
    graph = {}
    for a, b, length in edges(record):
        graph.setdefault(a, []).append((b, length))
        graph.setdefault(b, []).append((a, length))
    found = {}
    for start in record["tips"]:
        todo, seen = [("tip", start, 0.0)], {("tip", start)}
        while todo:
            kind, here, far = todo.pop()
            if kind == "tip" and here != start:
                found[start, here] = far
            for there, length in graph[kind, here]:
                if there not in seen:
                    seen.add(there)
                    todo.append((*there, far + length))
    return found


def edges(record):
    """Return (node, node, length used) of every flap and river, twins written out."""
    lengths, figure = record["lengths"], record["figure"]
    rivers = figure.get("rivers", {})
    twins = set()
    for name, river in rivers.items():
        if river.get("pair"):
            twins |= joints_beyond(rivers, name, river["joints"][1])

    def joint(name, end):
        return "joint", name + (end if name in twins else "")

    def ends(name):
        return ("",) if name in lengths else (".left", ".right")

    flaps = [
        (("tip", name + end), joint(flap["joint"], end), lengths[name + end])
        for name, flap in figure["flaps"].items()
        for end in ends(name)
    ]
    bands = [
        (*(joint(j, end) for j in river["joints"]), lengths[name + end])
        for name, river in rivers.items()
        for end in ends(name)
    ]
    return flaps + bands


def joints_beyond(rivers, cut, start):
    """Return the joints reached from one without passing a river."""
    found, todo = {start}, [start]
    while todo:
        here = todo.pop()
        for name, river in rivers.items():
            if name != cut and here in river["joints"]:
                there = set(river["joints"]) - {here} - found
                found |= there
                todo += there
    return found


def check_record(record, rel=1e-9):
    """Assert all that a packing's record claims and that can be recomputed from it alone."""
    width, height = record["sheet"]["width"], record["sheet"]["height"]
    tips, scale = record["tips"], record["scale"]
    room = 1e-9 * min(width, height)
    distances = tip_distances(record)
    assert len(distances) == len(tips) * (len(tips) - 1)
    for x, y in tips.values():
        assert -room <= x <= width + room
        assert -room <= y <= height + room
    active = {frozenset(pair) for pair in record["active"]}
    for (a, b), distance in distances.items():
        apart = math.dist(tips[a], tips[b])
        assert apart >= scale * distance * (1 - rel)
        tight = apart <= scale * distance * (1 + 1e-7)
        assert tight == (frozenset((a, b)) in active)
    for name, kind in record["kinds"].items():
        x, y = tips[name]
        sides = (min(x, width - x) <= room) + (min(y, height - y) <= room)
        assert kind == ("middle", "edge", "corner")[sides]
    if "upper_bound" in record:
        assert scale <= record["upper_bound"] * (1 + rel)
    if record["stress"]:
        total = sum(
            value * (distances[a, b] if a != b else record["lengths"][a])
            for a, b, value in record["stress"]
        )
        assert math.isclose(total, 1, rel_tol=1e-6)
    if record["symmetry"] != "none":
        for name, (x, y) in tips.items():
            twin = {"left": "right", "right": "left"}
            end = name.rsplit(".", 1)[-1]
            other = tips[name[: -len(end)] + twin[end]] if end in twin else (x, y)
            image = (width - x, y) if record["symmetry"] == "book" else (y, x)
            assert math.dist(image, other) <= 1e-9 * math.hypot(width, height)
