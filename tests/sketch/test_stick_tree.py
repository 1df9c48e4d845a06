"""From strokes to a figure: joints, chains, twins, names, scales and faults.

Random figures are drawn as SVG in many ways and read back as the same tree.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from packer.errors import FigureError, OptionError, ReadError
from packer.model.stick_layout import layout
from packer.model.tree import tree_of, walk
from packer.sketch import mirror as mirror_module
from packer.sketch.joints import join_strokes
from packer.sketch.marked_copy import marked_copy
from packer.sketch.mirror import find_mirror
from packer.sketch.sketch_values import passed_over
from packer.sketch.stick_tree import Scaling, figure_of_sketch, joined
from packer.sketch.svg_reader import parse_sketch
from tests.strategies import figures

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" fill="none" stroke="black"'


def parse(body, head=""):
    return parse_sketch(f"{HEAD} {head}>{body}</svg>".encode())


def read(*paths, scaling=None, **options):
    """Read strokes given as (name, path data), or as path data alone."""
    named = [path if isinstance(path, tuple) else ("", path) for path in paths]
    body = "".join(f'<path d="{d}"><title>{escape(n)}</title></path>' for n, d in named)
    return figure_of_sketch(parse(body), "figure", scaling, **options)


def lengths(figure):
    return {part.name: part.length for part in (*figure.flaps, *figure.rivers)}


# --- joints


STAR = [("a", "M0 0H-30"), ("b", "M0 0V30"), ("c", "M0 0H60")]


def test_ends_that_nearly_meet_are_one_joint_and_the_longest_part_is_ten():
    read_back = read(("a", "M0.5 0H-30"), ("b", "M0 0.7V30"), ("c", "M-.4 0H59.6"), twins=0)
    figure = read_back.figure
    assert len({flap.joint for flap in figure.flaps}) == 1
    assert lengths(figure) == pytest.approx({"a": 30.5 / 6, "b": 29.3 / 6, "c": 10}, abs=6e-3)


def test_the_tolerance_is_a_share_of_the_shortest_stroke():
    apart = [("a", "M0 0H-20"), ("b", "M0 0V20"), ("c", "M1.9 0H60")]
    with pytest.raises(FigureError, match=r'"b" hangs loose at \(0, 0\), 1\.9 from the rest'):
        read(*apart, join=0.05)
    assert len(read(*apart, join=0.1).figure.flaps) == 3


def test_a_stroke_that_ends_on_anothers_middle_makes_a_joint_there():
    figure = read(
        ("spine", "M0 0H100"), ("leg", "M30 0.4V30"), ("arm", "M60 -.4V-50"), twins=0
    ).figure
    assert lengths(figure) == pytest.approx(
        {"spine 1": 6.0 / 2, "spine 2": 3, "spine 3": 4, "leg": 2.96, "arm": 4.96}
        | {"spine 1": 3}
        | {}
    ) or lengths(figure)["spine 1"] / lengths(figure)["leg"] == pytest.approx(
        30 / 29.6, rel=1e-3
    )
    assert {river.name for river in figure.rivers} == {"spine 2"}


def test_strokes_that_cross_have_a_joint_there():
    figure = read(("a", "M-30 0H40"), ("b", "M0 -50V60"), twins=0, cross="join").figure
    assert sorted(lengths(figure).values()) == pytest.approx([5, 20 / 3, 25 / 3, 10], abs=6e-3)
    assert not figure.rivers


def test_a_chain_without_a_branch_is_one_part():
    figure = read(
        ("a", "M0 0H-30"), ("b", "M0 0V30"), ("", "M0 0H10"), ("c", "M30 20L10 0"), twins=0
    ).figure
    assert lengths(figure)["c"] / lengths(figure)["a"] == pytest.approx(
        (10 + math.hypot(20, 20)) / 30, rel=1e-3
    )


def test_a_drawing_without_a_branch_keeps_its_middle_joint():
    figure = read(("a", "M0 0H50"), ("b", "M50 0H110"), ("c", "M110 0H120"), twins=0).figure
    assert lengths(figure) == pytest.approx({"a": 50 / 7, "b": 10}, abs=6e-3)


def test_a_curve_is_measured_along():
    figure = read(("a", "M0 0A20 20 0 0 1 40 0"), ("b", "M0 0H-20"), ("c", "M0 0V90"), twins=0)
    found = lengths(figure.figure)
    assert found["a"] / found["b"] == pytest.approx(math.pi, rel=1e-3)


def test_a_shaky_pen_makes_no_loops():
    hook = "M0 0l.6 .6 -.6 .1 L-40 0"  # begins with a curl smaller than the tolerance
    assert len(read(("a", hook), *STAR[1:]).figure.flaps) == 3
    wiggle = "M0 0H-20 l-1 -1 1 -.2 -.6 1.4 L-45 0"  # crosses itself within a pencil's width
    assert len(read(("a", wiggle), *STAR[1:]).figure.flaps) == 3


# --- faults


@pytest.mark.parametrize(
    ("paths", "said"),
    [
        ((*STAR, "M-30 0L0 30"), r'"b" and "a" close a loop around \(-10\.61, 10\.61\)'),
        ((*STAR, "M0 0C-20 -50 20 -50 0 0"), "loop"),
        ((*STAR, "M0 0L10 10L10 20L-4 8"), "loop"),  # ends on its own middle's neighbour
        ((*STAR, "M0 0V-40H20V-20H-20"), "loop"),  # crosses itself
        ((*STAR, "M-10 20a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z"), "loop"),
        (("M0 0H10V10H0Z",), "loop"),
        ((*STAR, "M80 80H90"), r"hangs loose at \(80, 80\)"),
        ((*STAR, ("d", "M2 0H60")), r'"c" and "d" lie on each other at \(31, 0\)'),
        ((*STAR, "M0 0H-30.4"), "drawn twice"),
        ((*STAR, "M-25 0.2H-5"), "drawn twice"),  # from middle to middle
        ((*STAR, "M-15 0H-45"), "drawn twice"),  # half on, half beyond
        ((*STAR, "M0 0V-30V-1"), "drawn twice"),  # out and back
        ((*STAR, "M0 0V-0.9V-30V-10H20"), r"drawn twice at \(0, -30\)"),
        (("M0 0H10",), "single stroke"),
    ],
)
def test_what_is_no_tree_is_told_with_its_place(paths, said):
    with pytest.raises(FigureError, match=said) as caught:
        read(*paths, cross="join")
    assert "\n" not in str(caught.value)


def test_faults_are_told_in_the_drawings_own_units():
    body = '<g transform="translate(100 0)"><path d="M0 0H-30M0 0V30M0 0H60M80 80H90"/></g>'
    sketch = parse(body, 'width="40mm" height="40mm" viewBox="0 0 400 400"')
    with pytest.raises(FigureError, match=r"at \(180, 80\)"):
        figure_of_sketch(sketch, "figure")


def test_every_fault_is_marked_in_a_copy_that_is_still_a_drawing():
    body = "".join(f'<path d="{d}"/>' for _, d in STAR)
    body += '<path d="M-30 0L0 30"/><path d="M80 80H90"/><path d="M1 0H60"/>'
    sketch = parse(body)
    net = joined(sketch)
    assert sorted(fault.kind for fault in net.faults) == [
        "doubled stroke",
        "loop",
        "loose piece",
    ]
    copy = marked_copy(sketch, net)
    assert copy.startswith(sketch.source[: -len(b"</svg>")])
    marked = parse_sketch(copy)
    assert [c.text for c in marked.captions] == ["1", "2", "3"]
    assert len(marked.strokes) > len(sketch.strokes)


def test_a_sound_drawing_is_marked_with_names_whatever_they_hold():
    wild = 'a <script> & "b" é'
    body = f'<path d="M0 0H-30"><title>{escape(wild)}</title></path><path d="M0 0V30M0 0H60"/>'
    for encoding in ("utf-8", "utf-16"):
        source = f'<?xml version="1.0" encoding="{encoding}"?>{HEAD}>{body}</svg>'
        sketch = parse_sketch(source.encode(encoding))
        reading = figure_of_sketch(sketch, "figure")
        copy = parse_sketch(marked_copy(sketch, reading.net, reading.names))
        assert wild in [caption.text for caption in copy.captions]


# --- lengths


def test_lengths_are_scaled_to_the_longest_to_a_named_part_or_to_true_millimetres():
    assert lengths(read(*STAR, scaling=Scaling(longest=3)).figure)["a"] == 1.5
    assert lengths(read(*STAR, scaling=Scaling(part="a", length=7)).figure)["c"] == 14
    mm = lengths(read(*STAR, scaling=Scaling(mm=True)).figure)
    assert mm["c"] == pytest.approx(60 / 96 * 25.4, abs=1e-2)


def test_a_wrong_scale_is_told():
    with pytest.raises(OptionError, match='no part is called "aa"'):
        read(*STAR, scaling=Scaling(part="aa", length=7))
    with pytest.raises(OptionError, match="above zero"):
        Scaling(longest=math.nan)
    with pytest.raises(OptionError, match="no size"):
        figure_of_sketch(
            parse('<path d="M0 0H9M0 0V9M0 0H-9"/>', 'viewBox="0 0 9 9"'), "f", Scaling(mm=True)
        )
    for bad in ({"join": -1}, {"join": math.nan}, {"twins": 0.7}):
        with pytest.raises(OptionError, match="write a share"):
            read(*STAR, **bad)


# --- names


def test_parts_without_a_name_take_the_nearest_caption_else_their_place():
    body = (
        '<path d="M50 50L0 0M50 50L100 0M50 50V100M50 50H130"/>'
        '<text x="2" y="8" font-size="6">horn</text><text x="300" y="300">Fig. 1</text>'
    )
    figure = figure_of_sketch(parse(body), "figure", twins=0).figure
    assert [flap.name for flap in figure.flaps] == [
        "horn",
        "upper right 1",
        "lower 1",
        "right 1",
    ]


def test_names_met_twice_are_numbered():
    figure = read(
        ("leg", STAR[0][1]), ("leg", STAR[1][1]), ("leg 1", STAR[2][1]), twins=0
    ).figure
    assert len({flap.name for flap in figure.flaps}) == 3


def test_the_longest_named_stroke_of_a_chain_names_it():
    figure = read(*STAR[:2], ("toe", "M20 0H25"), ("leg", "M0 0H20"), twins=0).figure
    assert {flap.name for flap in figure.flaps} == {"a", "b", "leg"}


# --- twins


CRAB = [
    ("body", "M0 0V40"),
    ("left claw", "M0 0L-30 -20"),
    ("right claw", "M0 0L31 -20"),
    ("leg.l", "M0 40L-20 60"),
    ("", "M0 40L20 61"),
    ("tail", "M0 40V70"),
]


def test_near_mirror_twins_are_pairs_and_the_figure_gets_its_symmetry():
    reading = read(*CRAB)
    figure = reading.figure
    assert figure.symmetry == "book"
    assert [(flap.name, flap.pair) for flap in figure.flaps] == [
        ("claw", True),
        ("leg", True),
        ("tail", False),
    ]
    mean = (math.hypot(30, 20) + math.hypot(31, 20)) / 2
    assert lengths(figure)["claw"] / lengths(figure)["body"] == pytest.approx(
        mean / 40, rel=1e-3
    )
    assert any("2 twin parts" in note and "%" in note for note in reading.notes)


def test_twins_that_differ_too_much_are_not_twins():
    uneven = [CRAB[0], CRAB[1], ("right claw", "M0 0L20 -13"), *CRAB[3:]]
    figure = read(*uneven).figure
    assert {"left claw", "right claw"} <= {flap.name for flap in figure.flaps}
    assert all(not flap.pair for flap in read(*CRAB, twins=0).figure.flaps)


def test_one_part_without_a_twin_keeps_the_symmetry_of_the_whole():
    odd = [*CRAB, ("fin", "M0 20H25"), ("a", "M0 20L-30 10"), ("b", "M0 20L30 10")]
    reading = read(*odd)
    assert reading.figure.symmetry == "book"
    assert [f.name for f in reading.figure.flaps if f.pair] == ["claw", "leg", "a"]
    assert any('"fin" has no twin' in note for note in reading.notes)


def test_a_figure_turned_in_the_drawing_is_still_mirrored():
    body = "".join(f'<path d="{d}"/>' for _, d in CRAB)
    for angle in (17, 90, 245):
        sketch = parse(f'<g transform="rotate({angle})">{body}</g>')
        figure = figure_of_sketch(sketch, "figure").figure
        assert figure.symmetry == "book"
        assert sum(flap.pair for flap in figure.flaps) == 2


def test_a_river_across_the_mirror_line_is_written_as_twin_halves():
    bridge = ["M-20 0H20", "M-20 0L-40 -30", "M-20 0L-30 50", "M20 0L40 -30", "M20 0L30 50"]
    figure = read(*bridge).figure
    tree = tree_of(figure)
    assert figure.symmetry == "book"
    assert (tree.n_tips, len(tree.rivers)) == (4, 2)
    leg = math.hypot(10, 50)
    across = tree.distances.max() / tree.lengths[: tree.n_tips].max()
    assert across == pytest.approx((2 * leg + 40) / leg, rel=1e-3)


# --- drawn and read back


def cone_layout(tree):
    """Straight edges of true length, each subtree inside a cone of its own: nothing crosses."""
    root = tree.n_tips
    below = dict.fromkeys(range(root), 1)
    order = walk(tree, root)
    for node, parent, _ in reversed(order):
        below[parent] = below.get(parent, 0) + below[node]
    places = {root: np.zeros(2)}
    free = {root: (0.0, 2 * math.pi / below[root])}  # next angle of a cone, angle a tip
    for node, parent, edge in order[1:]:
        start, each = free[parent]
        width = each * below[node]
        angle = start + width / 2
        free[parent] = (start + width, each)
        width = min(width, math.radians(170))
        free[node] = (angle - width / 2, width / below[node])
        way = np.array([math.cos(angle), math.sin(angle)])
        places[node] = places[parent] + tree.lengths[edge] * way
    return places


def drawn(tree, rng, bulge):
    """Draw each edge in one of many ways; return the strokes and the lengths drawn."""
    places = cone_layout(tree)
    strokes, true = [], []
    for edge, (a, b) in enumerate(tree.ends.tolist()):
        p, q = places[a], places[b]
        if rng.random() < 0.5:
            p, q = q, p
        side = np.array([-(q - p)[1], (q - p)[0]]) * bulge * rng.choice([-1, 1])
        style = rng.integers(5)
        middle = p + (q - p) * rng.uniform(0.3, 0.7)
        name = tree.flaps[edge] if edge < tree.n_tips else ""  # rivers may end in a chain
        if style == 0:
            data, length = f"M{p[0]} {p[1]}L{q[0]} {q[1]}", np.hypot(*(q - p))
        elif style == 1:  # two strokes of a chain
            data = None
            length = np.hypot(*(q - p))
            for s, t in ((p, middle), (q, middle)):
                strokes.append(
                    f'<line x1="{s[0]}" y1="{s[1]}" x2="{t[0]}" y2="{t[1]}">'
                    f"<title>{name}</title></line>"
                )
        elif style == 2:
            bent = middle + side
            data = f"M{p[0]} {p[1]}l{(bent - p)[0]} {(bent - p)[1]}L{q[0]} {q[1]}"
            length = np.hypot(*(bent - p)) + np.hypot(*(q - bent))
        else:
            control = [p + (q - p) / 3 + side, p + (q - p) * 2 / 3 + side]
            t = np.linspace(0, 1, 4001)[:, None]
            if style == 3:
                data = f"M{p[0]} {p[1]}Q{control[0][0]} {control[0][1]} {q[0]} {q[1]}"
                curve = (1 - t) ** 2 * p + 2 * t * (1 - t) * control[0] + t**2 * q
            else:
                c = " ".join(f"{x - p[0]} {y - p[1]}" for x, y in (*control, q))
                data = f"M{p[0]} {p[1]}c{c}"
                curve = (
                    (1 - t) ** 3 * p
                    + 3 * t * (1 - t) ** 2 * control[0]
                    + 3 * t**2 * (1 - t) * control[1]
                    + t**3 * q
                )
            length = np.hypot(*np.diff(curve, axis=0).T).sum()
        if data:
            strokes.append(f'<path d="{data}"><title>{name}</title></path>')
        true.append(float(length))
    return strokes, np.array(true)


def distances_by_name(tree, lengths):
    order = np.argsort(tree.flaps)
    return tree.distances_with(lengths)[np.ix_(order, order)]


@settings(deadline=None, max_examples=60)
@given(figures(max_flaps=9, symmetry="none"), st.integers(0, 2**32 - 1))
def test_random_figures_drawn_and_read_back_are_the_same_tree(figure, seed):
    tree = tree_of(figure)
    assume(tree.n_tips > 2)  # two flaps are one line, whose joint could be anywhere
    rng = np.random.default_rng(seed)
    strokes, true = drawn(tree, rng, bulge=0.04)
    rng.shuffle(strokes)
    half = len(strokes) // 2
    turn, zoom = rng.uniform(0, 360), rng.uniform(0.1, 10)
    inner = f'<g transform="translate(5 -3)">{"".join(strokes[half:])}</g>'
    body = (
        f'<g transform="rotate({turn}) scale({zoom} {-zoom})">'
        f'<g transform="translate(5,-3)">{"".join(strokes[:half])}</g>{inner}</g>'
    )
    sketch = parse(body, 'width="120" height="80" viewBox="-9 -9 30 20"')
    back = tree_of(figure_of_sketch(sketch, "figure", twins=0, join=0.02).figure)
    assert sorted(back.flaps) == sorted(tree.flaps)
    got, wanted = distances_by_name(back, back.lengths), distances_by_name(tree, true)
    factor = got.max() / wanted.max()
    rounding = 0.01 * len(tree.names)  # lengths are written with two decimals, longest 10
    assert got == pytest.approx(wanted * factor, abs=rounding)


@st.composite
def mirrored_figures(draw):
    """A spine with paired branches: (strokes of both halves, tips, rivers) with shaky hands."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    spine = draw(st.integers(1, 3))
    y, lines, pairs = 0.0, [], 0
    joints = [0.0]
    for _ in range(spine - 1):
        y += rng.uniform(28, 34)
        lines.append(((0, joints[-1]), (0, y)))
        joints.append(y)
    for k, at in enumerate(joints):
        for angle in rng.permutation([-35, 0, 35])[: rng.integers(1, 4) if k else 2]:
            way = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle))])
            foot = np.array([0, at])
            tip = foot + way * rng.uniform(4, 7)
            branch = [(foot, tip)]
            if rng.random() < 0.4:
                branch += [
                    (tip, tip + way @ turned * rng.uniform(3, 5))
                    for turned in (np.array([[0.8, 0.6], [-0.6, 0.8]]), np.eye(2))
                ]
            for p, q in branch:
                shaky = rng.uniform(-0.1, 0.1, 2)
                lines += [(p, q), (p * [-1, 1], q * [-1, 1] + (shaky if q is not tip else 0))]
                pairs += 1
    lines += [((0, 0), (0, -9.0)), ((0, joints[-1]), (0, joints[-1] + 9.0))]
    return lines, pairs


@settings(deadline=None, max_examples=40)
@given(mirrored_figures(), st.floats(0, 360))
def test_random_mirrored_drawings_are_read_as_mirrored(drawing, turn):
    lines, pairs = drawing
    body = "".join(f'<path d="M{p[0]} {p[1]}L{q[0]} {q[1]}"/>' for p, q in lines)
    sketch = parse(f'<g transform="rotate({turn})">{body}</g>')
    net = join_strokes(sketch)
    mirror = find_mirror(net)
    assert mirror is not None
    assert not mirror.alone
    reading = figure_of_sketch(sketch, "figure")
    assert reading.figure.symmetry == "book"
    assert len(mirror.twins) >= pairs  # a star of four may be mirrored in more than one line
    back, plain = (
        tree_of(reading.figure),
        tree_of(figure_of_sketch(sketch, "f", twins=0).figure),
    )
    assert back.n_tips == plain.n_tips
    got, wanted = np.sort(back.distances, axis=None), np.sort(plain.distances, axis=None)
    assert got == pytest.approx(wanted, abs=0.05 * wanted.max())


@settings(deadline=None, max_examples=20)
@given(mirrored_figures(), st.floats(0, 360))
def test_where_tips_are_many_a_few_of_them_find_the_mirror_line(drawing, turn):
    """What counts as many is set below the tips of the drawings; all pairs are the slow reference."""
    lines, pairs = drawing
    body = "".join(f'<path d="M{p[0]} {p[1]}L{q[0]} {q[1]}"/>' for p, q in lines)
    net = join_strokes(parse(f'<g transform="rotate({turn})">{body}</g>'))
    slow = find_mirror(net)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mirror_module, "_MANY", 5)
        patch.setattr(mirror_module, "_FIRST", 3)
        quick = find_mirror(net)
    assert quick is not None
    assert len(quick.twins) == len(slow.twins) >= pairs


def inked(*paths, style="", group=""):
    """A drawing of named strokes, perhaps with a style sheet and a group of an id."""
    shapes = "".join(f'<path class="limb" id="{name}" d="{d}"/>' for name, d in paths)
    return parse_sketch(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 200"><style>{style}</style>'
        f'<g id="{group or "g"}">{shapes}</g></svg>'.encode()
    )


BUG = (
    ("body", "M100 40V140"), ("antenna_l", "M100 40L60 0"), ("antenna_r", "M100 40L140 0"),
    ("leg_l", "M100 140L60 190"), ("leg_r", "M100 140L140 190"),
)  # fmt: skip
INK = "path { stroke: black }"


def test_strokes_styled_by_compound_selectors_are_read():
    """Selectors of CSS, level 3 and 4: descendants, children, classes with types, :not()."""
    for selector in ("#layer2 path.limb", "g > path", "svg g .limb:not(.x)", "#layer2 > [d]"):
        sketch = inked(*BUG, style=selector + "{stroke:black}", group="layer2")
        assert len(sketch.strokes) == 5, selector


def test_the_stronger_rule_wins_as_in_css():
    """Specificity, order and importance: Cascading Style Sheets, level 2, section 6.4."""
    hidden = "#layer2 path.limb { stroke: none } path.limb { stroke: black }"
    with pytest.raises(ReadError, match="no visible stroke"):
        inked(*BUG, style=hidden, group="layer2")
    seen = "#layer2 path.limb { stroke: none } path.limb { stroke: black !important }"
    assert len(inked(*BUG, style=seen, group="layer2").strokes) == 5


def test_what_is_passed_over_is_told_by_name():
    style = (
        INK + " #shell { stroke: none } #photo { display: none } path::before { stroke: red }"
    )
    sketch = inked(*BUG, ("shell", "M0 0h9v9z"), ("photo", "M0 0h5"), style=style)
    told = passed_over(sketch.passed, sketch.names_passed)
    assert told == (
        'passed over: 1 fill ("shell"), 1 hidden ("photo"), 1 style rule ("path::before")'
    )


def test_a_horn_drawn_over_an_antenna_is_read():
    """It crosses the antenna and ends elsewhere; one limb off the axis keeps the symmetry."""
    sketch = inked(*BUG, ("horn", "M100 60L40 60L90 15"), style=INK)
    read = figure_of_sketch(sketch, "bug")
    assert {flap.name for flap in read.figure.flaps} == {"antenna", "horn", "leg"}
    assert read.figure.symmetry == "book"
    pairs = {flap.name: flap.pair for flap in read.figure.flaps}
    assert pairs == {"antenna": True, "horn": False, "leg": True}
    told = " ".join(read.notes)
    assert '"horn" has no twin and lies off the mirror line: read as unpaired' in told
    assert "1 crossing not joined" in told
    with pytest.raises(FigureError, match="loop"):
        figure_of_sketch(sketch, "bug", cross="join")


def test_crossing_strokes_are_joined_where_that_is_wished():
    cross = inked(("up", "M50 0V100"), ("over", "M0 50H100"), style=INK)
    assert tree_of(figure_of_sketch(cross, "cross", cross="join").figure).n_tips == 4
    with pytest.raises(FigureError, match="--cross join"):
        figure_of_sketch(cross, "cross")


def test_the_figure_keeps_the_directions_inked():
    figure = figure_of_sketch(inked(*BUG, style=INK), "bug").figure
    assert dict(figure.pose) == {"body": 180, "antenna": 45, "leg": 141}  # atan2(4, -5)
    tree = tree_of(figure)
    at = layout(tree)
    for name, way in (("antenna.left", (-1, 1)), ("antenna.right", (1, 1))):
        tip, joint = tree.ends[tree.names.index(name)]
        step = at[tip] - at[joint]
        assert step / np.hypot(*step) == pytest.approx(np.array(way) / np.sqrt(2))
