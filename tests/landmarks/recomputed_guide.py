"""What does not hold in a written guide: everything recomputed from its JSON and the FOLD file.

Plain geometry on the numbers as written; nothing of the package is used.
"""

from __future__ import annotations

import math
from itertools import combinations

from tests.landmarks.slow_reference import cross, reflect

KINDS = {1: "pp", 2: "pp", 3: "ll", 4: "lp", 5: "plp", 6: "plpl", 7: "pll"}
"""What each alignment takes: points and lines."""

OFF = 1e-7
"""Miss, as a share of the shorter side, that is rounding."""


def faults(guide, fold):
    side = min(guide["sheet"]["width"], guide["sheet"]["height"])
    lines, marks = dict(guide["given"]["lines"]), dict(guide["given"]["marks"])
    found = []
    for step in guide["steps"]:
        found += step_faults(step, lines, marks, side)
        lines[step["id"]] = step["line"]
        for mark in step["marks"]:
            if any(name not in lines for name in mark["of"]):
                found.append(f"mark {mark['id']} is of a line not made yet")
                continue
            spot = cross(*(lines[name] for name in mark["of"]))
            if math.dist(spot, mark["at"]) > OFF * side:
                found.append(f"mark {mark['id']} is not where its lines cross")
            marks[mark["id"]] = mark["at"]
    found += tip_faults(guide, fold, marks, side)
    found += precrease_faults(guide, fold, list(lines.values()), side)
    found += stage_faults(guide, fold, side)
    found += pleat_faults(guide, fold, side)
    return found


def passes(line, point, side):
    return abs(line[0] * point[0] + line[1] * point[1] - line[2]) < OFF * side


def same(one, two, side):
    far = [abs(x - y) for x, y in zip(one, two, strict=True)]
    turned = [abs(x + y) for x, y in zip(one, two, strict=True)]
    return any(max(d[0], d[1], d[2] / side) < OFF for d in (far, turned))


def image_of(line, crease):
    """A line as a fold along a crease lays it."""
    base = (line[0] * line[2], line[1] * line[2])
    a, b = reflect(crease, base), reflect(crease, (base[0] - line[1], base[1] + line[0]))
    normal = (a[1] - b[1], b[0] - a[0])
    return (*normal, normal[0] * a[0] + normal[1] * a[1])


def step_faults(step, lines, marks, side):
    name, crease = step["id"], step["line"]
    known = {**lines, **marks}
    if any(used not in known for used in step["uses"]):
        return [f"{name} uses what is not there yet"]
    if abs(math.hypot(crease[0], crease[1]) - 1) > 1e-12:
        return [f"the normal of {name} is not of length 1"]
    used = [known[k] for k in step["uses"]]
    if not aligned(step["alignment"], used, crease, side):
        return [f"{name} does not align {step['uses']}"]
    return []


def aligned(number, used, crease, side):
    """Whether a crease does what the alignment of this number says (Huzita, Justin, Hatori)."""
    if "".join("pl"[len(x) == 3] for x in used) != KINDS.get(number):
        return False
    lands = lambda p, line: passes(line, reflect(crease, p), side)  # noqa: E731
    square = lambda line: abs(crease[0] * line[0] + crease[1] * line[1]) < OFF  # noqa: E731
    match number, used:
        case 1, [p, q]:
            return passes(crease, p, side) and passes(crease, q, side) and math.dist(p, q) > OFF
        case 2, [p, q]:
            return math.dist(reflect(crease, p), q) < OFF * side
        case 3, [line, onto]:
            return same(image_of(line, crease), onto, side)
        case 4, [line, p]:
            return square(line) and passes(crease, p, side)
        case 5, [p, line, q]:
            return lands(p, line) and passes(crease, q, side)
        case 6, [p, line, q, onto]:
            return lands(p, line) and lands(q, onto)
        case 7, [p, line, other]:
            return lands(p, line) and square(other)
    return False


def tip_faults(guide, fold, marks, side):
    found = []
    if guide["steps"] or guide["tips"]:
        if {*guide["tips"], *guide["unmarked"]} != set(fold["packer:tips"]):
            found.append("a tip is neither marked nor measured")
        for name, at in guide["unmarked"].items():
            if math.dist(at, fold["vertices_coords"][fold["packer:tips"][name]]) > OFF * side:
                found.append(f"{name} is measured where it is not")
        for name, tip in guide["tips"].items():
            spot = fold["vertices_coords"][fold["packer:tips"][name]]
            away = math.dist(marks[tip["mark"]], spot) / side
            if abs(away - tip["distance"]) > 1e-9:
                found.append(f"the distance of {name} is not as told")
            if away * side > guide["within"] * (1 + 1e-9):
                found.append(f"the mark of {name} is farther off than was asked")
    return found


def precrease_faults(guide, fold, landmarks, side):
    rows = {row["id"]: row for row in guide["precreasing"]}
    points = fold["vertices_coords"]
    tips = [points[v] for v in fold["packer:tips"].values()]
    if guide["onGrid"]:
        tips += [p for p in points if is_crossing(p, landmarks, side)]
    found = []
    edges = sorted(edge for row in rows.values() for edge in row["edges"])
    if edges != list(range(len(fold["edges_vertices"]))):
        found.append("not every edge of the pattern is told once")
    for name, row in rows.items():
        if any(not passes(row["line"], points[v], side) for v in row["vertices"]):
            found.append(f"{name} does not run along its edges")
        if {fold["packer:roles"][edge] for edge in row["edges"]} != {row["role"]}:
            found.append(f"{name} has another role")
        if row["how"] in {"folded", "measured"} and not rests(row, rows, tips, side):
            found.append(f"{name} ({row['role']}) does not follow from what it rests on")
    return found


def is_crossing(point, lines, side):
    """Whether an upright and a level line, edges counted, cross at a point."""
    own = [line for line in lines if passes(line, point, side)]
    return all(any(abs(line[k]) < OFF for line in own) for k in (0, 1))


def rests(row, rows, tips, side):
    """Whether a crease is aligned as it says to creases and points of lower levels."""

    def there(name):
        return rows[name]["level"] < row["level"] and rows[name]["how"] not in {
            "collapse",
            "flat",
        }

    def known(point):
        pair = [rows[k]["line"] for k in point["crossingOf"]]
        if any(math.dist(point["at"], p) < OFF * side for p in spots):
            return True
        return len(pair) == 2 and math.dist(cross(*pair), point["at"]) < OFF * side

    spots = [*tips, *(m["at"] for m in row["measured"])]
    below = [
        *row["lines"],
        *(m["along"] for m in row["measured"]),
        *(k for p in row["points"] for k in p["crossingOf"]),
    ]
    used = [rows[k]["line"] for k in row["lines"]] + [p["at"] for p in row["points"]]
    return (
        all(map(there, below))
        and all(map(known, row["points"]))
        and all(is_measured(m, rows, side) for m in row["measured"])
        and aligned(row["alignment"], used, row["line"], side)
    )


def is_measured(m, rows, side):
    """Whether a point lies on its crease, as far from the start as is told."""
    ends = m["at"], m["from"]
    on = all(passes(rows[m["along"]]["line"], p, side) for p in ends)
    return on and abs(math.dist(*ends) - m["length"]) < OFF * side


def stage_faults(guide, fold, side):
    """Each stage's state is flat: faces keep their shape, and turn over across folded edges alone."""
    sheet = guide["collapse"]
    points = sheet["vertices"]
    found = cut_faults(sheet, fold, side)
    beside = sides_of(sheet)
    for number, stage in enumerate(guide["stages"], 1):
        folded, laid = set(stage["folded"]), stage["positions"]
        turned = []
        for loop in sheet["faces"]:
            far = [
                abs(math.dist(points[a], points[b]) - math.dist(laid[a], laid[b]))
                for a in loop
                for b in loop
            ]
            if max(far) > 1e-6 * side:
                found.append(f"stage {number} stretches a face")
            turned.append(area([laid[v] for v in loop]) < 0)
        for edge, sides in enumerate(beside):
            if len(sides) == 2 and (turned[sides[0]] != turned[sides[1]]) != (edge in folded):
                found.append(f"stage {number} folds edge {edge} or not, against its word")
        for face in stage["open"]:
            loop = sheet["faces"][face]
            if any(math.dist(points[v], laid[v]) > 1e-6 * side for v in loop):
                # the open rest lies as the sheet lay, unless it is in more than one piece
                if turned[face] == turned[stage["open"][0]]:
                    continue
                found.append(f"stage {number} turns open paper over")
    last = {e for e, fold_ in enumerate(fold["edges_assignment"]) if fold_ in "MV"}
    of = sheet["edgeOf"]
    end = {of[e] for e in guide["stages"][-1]["folded"]}
    whole = all((of[e] in last) == (e in guide["stages"][-1]["folded"]) for e in range(len(of)))
    if last and not (end == last and whole):
        found.append("the last stage is not the base")
    return found


def cut_faults(sheet, fold, side):
    """The pattern of the stages is the pattern itself, its edges cut into pieces, with lines added."""
    points = sheet["vertices"]
    if points[: len(fold["vertices_coords"])] != fold["vertices_coords"]:
        return ["the pattern of the stages has other vertices"]
    long = [0.0] * len(fold["edges_vertices"])
    found = []
    for (a, b), edge in zip(sheet["edges"], sheet["edgeOf"], strict=True):
        if edge is not None:
            p, q = (fold["vertices_coords"][v] for v in fold["edges_vertices"][edge])
            line = (p[1] - q[1], q[0] - p[0], (p[1] - q[1]) * p[0] + (q[0] - p[0]) * p[1])
            long[edge] += math.dist(points[a], points[b])
            if not all(passes(line, points[v], side) for v in (a, b)):
                found.append(f"a piece of edge {edge} does not lie on it")
    for edge, (a, b) in enumerate(fold["edges_vertices"]):
        if abs(long[edge] - math.dist(points[a], points[b])) > OFF * side:
            found.append(f"the pieces of edge {edge} do not make it up")
    whole = sum(area([points[v] for v in loop]) for loop in sheet["faces"])
    parts = [0.0] * len(fold["faces_vertices"])
    for loop, face in zip(sheet["faces"], sheet["faceOf"], strict=True):
        parts[face] += area([points[v] for v in loop])
    for face, loop in enumerate(fold["faces_vertices"]):
        if abs(parts[face] - area([points[v] for v in loop])) > OFF * whole:
            found.append(f"the pieces of face {face} do not make it up")
    return found


def sides_of(sheet):
    """The faces on the two sides of each edge."""
    at = {}
    for face, loop in enumerate(sheet["faces"]):
        for a, b in zip(loop, [*loop[1:], loop[0]], strict=True):
            at.setdefault(frozenset((a, b)), []).append(face)
    return [at.get(frozenset(pair), []) for pair in sheet["edges"]]


def area(points):
    return sum(
        p[0] * q[1] - p[1] * q[0] for p, q in zip(points, [*points[1:], points[0]], strict=True)
    )


def pleat_faults(guide, fold, side):
    """Every fold of a pleat is one line through all layers of the base, seen alike from its front."""
    flat = fold["file_frames"][0]["vertices_coords"]
    sheet = fold["vertices_coords"]
    found = []
    for part in guide["pleats"]:
        seen = [one["seen"] for one in part["folds"]]
        if seen != ["M", "V"] * (len(seen) // 2):
            found.append(f"the pleats of {part['part']} do not all lie the same way")
        at = []
        for one in part["folds"]:
            own = []
            for line in one["lines"]:
                middle = [sum(xy) / 2 for xy in zip(*line["ends"], strict=True)]
                faces = [f for f in fold["faces_vertices"] if inside(middle, f, sheet)]
                if len(faces) != 1:
                    found.append("a line of a pleat lies in no face")
                    continue
                area = area_of(faces[0], flat)
                own += [folded_x(end, faces[0], sheet, flat) for end in line["ends"]]
                if (line["side"] == "back") != (area < 0):
                    found.append("a line lies in a layer that shows its other side")
                opposite = {"M": "V", "V": "M"}[one["seen"]]
                if line["fold"] != (one["seen"] if area > 0 else opposite):
                    found.append("a layer would be folded against the others")
            if max(own) - min(own) > OFF * side:
                found.append("a fold of a pleat is no one line through all layers")
            at.append(own[0])
        gaps = [
            abs(abs(b - a) - abs(d["along"] - c["along"]))
            for a, b, c, d in zip(at, at[1:], part["folds"], part["folds"][1:], strict=False)
        ]
        if max(gaps) > OFF * side:
            found.append("folds of pleats are not as far apart as told")
    return found


def area_of(face, points):
    ring = [points[v] for v in face]
    return sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
    )


def inside(point, face, points):
    """By the number of sides that a ray to the right crosses."""
    ring = [points[v] for v in face]
    crossed = [
        a[0] + (point[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) > point[0]
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
        if (a[1] > point[1]) != (b[1] > point[1])
    ]
    return sum(crossed) % 2 == 1


def folded_x(point, face, sheet, flat):
    """Where a point of a face comes to lie along the base, by the corners of a large triangle."""
    three = max(combinations(face, 3), key=lambda t: abs(area_of(t, sheet)))
    whole = area_of(three, sheet)
    total = 0.0
    for v in three:
        spots = {n: sheet[n] for n in three} | {v: point}
        total += area_of(three, spots) / whole * flat[v][0]
    return total
