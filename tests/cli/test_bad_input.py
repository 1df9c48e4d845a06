"""Every kind of wrong input: one sentence with file, entry and remedy, exit 2, nothing written."""

from __future__ import annotations

import pytest

from packer.limits import MOST_TIPS

STAR = '[flaps]\na = { joint = "j", length = 1 }\nb = { joint = "j", length = 1 }\n'
RIVER = 'body = { joints = ["j", "k"], length = 1 }\n'
FORK = STAR + 'c = { joint = "k", length = 1 }\n'


def flap(name, **wishes):
    return f'{name} = {{ joint = "j", {", ".join(f"{k} = {v}" for k, v in wishes.items())} }}\n'


def star(*flaps, head=""):
    return head + "[flaps]\n" + "".join(flaps)


A, B, C = (flap(name, length=1) for name in "abc")

WRONG = {
    "a cycle": (
        FORK + "[rivers]\n" + RIVER + 'back = { joints = ["k", "j"], length = 1 }\n',
        (
            "rivers.back: this river closes a cycle, and a stick figure has none; remove it or join "
            "another joint"
        ),
    ),
    "both ends one": (
        STAR + '[rivers]\nloop = { joints = ["j", "j"], length = 1 }\n',
        'rivers.loop.joints: both ends are "j", which is a cycle; join two different joints',
    ),
    "a loose flap": (
        FORK,
        (
            'flaps.c.joint: joint "k" is not joined to "j"; add a river between them or hang all '
            "flaps on one joint"
        ),
    ),
    "a loose part": (
        FORK + "[rivers]\n" + RIVER + 'far = { joints = ["m", "n"], length = 1 }\n',
        'rivers.far: this part is not joined to "body"; add a river between them',
    ),
    "an unknown joint": (
        FORK.replace('"k"', '"shouldr"')
        + '[rivers]\nb2 = { joints = ["j", "shoulder"], length = 1 }\n',
        'flaps.c.joint: unknown joint "shouldr"; did you mean "shoulder"?',
    ),
    "an unknown key of a flap": (
        star(A, B, flap("c", lenght=1, length=1)),
        'flaps.c: unknown key "lenght"; did you mean "length"?',
    ),
    "an unknown key of a river": (
        FORK + "[rivers]\n" + RIVER.replace("joints", "joint"),
        'rivers.body: unknown key "joint"; did you mean "joints"?',
    ),
    "an unknown key of the file": (
        "symetry = 'book'\n" + STAR,
        'unknown key "symetry"; did you mean "symmetry"?',
    ),
    "an unknown key of the sheet": (
        "[sheet]\nwidht = 1\nheight = 1\n" + STAR,
        'sheet: unknown key "widht"; did you mean "width"?',
    ),
    "no joint": (
        "[flaps]\na = { length = 1 }\n",
        'flaps.a: "joint" is missing; write joint = ...',
    ),
    "no length": (
        star(A, 'b = { joint = "j" }\n'),
        'flaps.b: "length" is missing; write length = ...',
    ),
    "length zero": (
        star(A, flap("b", length=0)),
        "flaps.b.length: a length of 0 is no part; write a number above zero",
    ),
    "length negative": (
        star(A, flap("b", length=-2.5)),
        "flaps.b.length: a length of -2.5 is no part; write a number above zero",
    ),
    "length infinite": (
        star(A, flap("b", length="inf")),
        "flaps.b.length: inf is no length; write a finite number above zero",
    ),
    "length too large for a float": (
        star(A, flap("b", length="1" + "0" * 400)),
        "flaps.b.length: inf is no length; write a finite number above zero",
    ),
    "length not a number": (
        star(A, flap("b", length="nan")),
        "flaps.b.length: nan is no length; write a finite number above zero",
    ),
    "length a text": (
        star(A, flap("b", length="'1.5'")),
        "flaps.b.length: '1.5' is not a number; write a length such as 1.5",
    ),
    "length true": (
        star(A, flap("b", length="true")),
        "flaps.b.length: True is not a number; write a length such as 1.5",
    ),
    "length of a river": (
        FORK + "[rivers]\n" + RIVER.replace("length = 1", "length = 0"),
        "rivers.body.length: a length of 0 is no part; write a number above zero",
    ),
    "one flap": (star(A), "flaps: a figure needs at least two flaps; add some"),
    "no flap": ("[flaps]\n", "flaps: a figure needs at least two flaps; add some"),
    "no table of flaps": ("name = 'x'\n", '"flaps" is missing; write a table [flaps]'),
    "flaps no table": (
        "flaps = 3\n",
        "flaps: flaps is no table; write [flaps] and one line a part",
    ),
    "a flap no line": (
        star(A, "b = 3\n"),
        "flaps.b: 3 is no part; write { joint = ..., length = ... }",
    ),
    "an empty file": ("", "the file is empty; write a table [flaps]"),
    "a single neighbour": (
        STAR + "[rivers]\n" + RIVER,
        (
            'rivers.body.joints: joint "k" has a single neighbour; hang a flap on it, or write this '
            "part as a flap"
        ),
    ),
    "three joints": (
        FORK + '[rivers]\nbody = { joints = ["j", "k", "m"], length = 1 }\n',
        "rivers.body.joints: a river joins two joints; write two names",
    ),
    "joints no list": (
        FORK + '[rivers]\nbody = { joints = "j", length = 1 }\n',
        'rivers.body.joints: \'j\' is no list; write two joints such as ["front", "rear"]',
    ),
    "a joint no text": (
        star(A, "b = { joint = 3, length = 1 }\n"),
        "flaps.b.joint: 3 is no text; write it in quotes",
    ),
    "a name twice": (
        FORK.replace("c =", "body =") + "[rivers]\n" + RIVER,
        "rivers.body: this name is given twice; give each part its own",
    ),
    "a twin's name": (
        star(flap("a", length=1, pair="true"), '"a.left" = { joint = "j", length = 1 }\n'),
        'a.left: "a.left" is also a twin\'s name; give one of them another',
    ),
    "an empty name": (
        star(A, B, '" " = { joint = "j", length = 1 }\n'),
        "flaps. : a name is missing; write some text",
    ),
    "pair no yes or no": (
        star(A, flap("b", length=1, pair="'yes'")),
        "flaps.b.pair: 'yes' is neither true nor false; write one of them",
    ),
    "flex out of range": (
        star(A, flap("b", length=1, flex=1.5)),
        "flaps.b.flex: 1.5 is no flex; write 0 or a fraction from 0.000001 to 0.9, such as 0.1",
    ),
    "pairs that contain each other": (
        FORK
        + '[rivers]\none = { joints = ["j", "k"], length = 1, pair = true }\n'
        + 'two = { joints = ["n", "k"], length = 1, pair = true }\n'
        + '[flaps.d]\njoint = "n"\nlength = 1\n',
        (
            "rivers.one.joints: its pair and another paired river's contain each other; write the far "
            "joint, the one away from the axis, second"
        ),
    ),
    "two tips on one point": (
        star(flap("a", length=1, place="[0.5, 1]"), flap("b", length=1, place="[0.5, 1]"), C),
        (
            'flaps.b.place: too many tips for too few points: it would lie on one point with "a"; '
            "give one of them another place"
        ),
    ),
    "twins on one point without a mirror": (
        star(flap("a", length=1, place="'top left'", pair="true")),
        (
            'flaps.a.place: too many tips for too few points: it would lie on one point with "a.left"'
            "; give one of them another place"
        ),
    ),
    "five tips for four corners": (
        star(*(flap(name, length=1, place="'corner'") for name in "abcde")),
        (
            'flaps.e.place: too many tips for too few points: it would lie on one point with "c"; '
            "give one of them another place"
        ),
    ),
    "an unpaired flap off the axis": (
        star(A, flap("b", length=1, place="'left'"), head="symmetry = 'book'\n"),
        (
            "flaps.b.place: an unpaired flap lies on the axis under book symmetry, and no place of "
            "left does; pair it or place it on the axis"
        ),
    ),
    "a fixed point off the axis": (
        star(A, flap("b", length=1, place="[0.5, 0.2]"), head="symmetry = 'diagonal'\n"),
        (
            "flaps.b.place: an unpaired flap lies on the axis under diagonal symmetry, and no place "
            "of [0.5, 0.2] does; pair it or place it on the axis"
        ),
    ),
    "twins on the axis": (
        star(A, flap("b", length=1, pair="true", place="'axis'"), head="symmetry = 'book'\n"),
        (
            "flaps.b.place: twins are mirror images under book symmetry and cannot both lie on the "
            "axis; remove the place or the pair"
        ),
    ),
    "twins on a point of the axis": (
        star(A, flap("b", length=1, pair="true", place="[0.5, 1]"), head="symmetry = 'book'\n"),
        (
            "flaps.b.place: twins would both lie on this point of the axis; move it off the axis or "
            "remove the pair"
        ),
    ),
    "twins in a corner of the diagonal": (
        star(
            A,
            flap("b", length=1, pair="true", place="'top right'"),
            head="symmetry = 'diagonal'\n",
        ),
        (
            "flaps.b.place: twins would both lie on this point of the axis; move it off the axis or "
            "remove the pair"
        ),
    ),
    "an unknown place": (
        star(A, flap("b", length=1, place="'cornre'")),
        'flaps.b.place: unknown place "cornre"; did you mean "corner"?',
    ),
    "a point off the sheet": (
        star(A, flap("b", length=1, place="[0.5, 2]")),
        (
            'flaps.b.place: [0.5, 2] is no place; write a name such as "edge" or a point such as '
            "[0.5, 1], in fractions of the sheet from 0 to 1"
        ),
    ),
    "an empty list of places": (
        star(A, flap("b", length=1, place="[]")),
        'flaps.b.place: the list is empty; write a place such as "edge"',
    ),
    "an unknown symmetry": (
        "symmetry = 'bok'\n" + STAR,
        'symmetry: unknown symmetry "bok"; did you mean "book"?',
    ),
    "diagonal on a rectangle": (
        "symmetry = 'diagonal'\n[sheet]\nwidth = 2\nheight = 1\n" + STAR,
        (
            "symmetry: diagonal symmetry needs a square, and this sheet is 2 x 1; make the sides "
            "equal or choose book symmetry"
        ),
    ),
    "a sheet of no size": (
        "[sheet]\nwidth = 0\nheight = 1\n" + STAR,
        "sheet.width: a side of 0 is no sheet; write a length above zero",
    ),
    "a sheet of negative size": (
        "[sheet]\nwidth = 1\nheight = -3\n" + STAR,
        "sheet.height: a side of -3 is no sheet; write a length above zero",
    ),
    "a sheet without a side": (
        "[sheet]\nwidth = 1\n" + STAR,
        'sheet: "height" is missing; write both sides',
    ),
    "an unknown unit": (
        "[sheet]\nwidth = 1\nheight = 1\nunit = 'mmm'\n" + STAR,
        'sheet.unit: unknown unit "mmm"; did you mean "mm"?',
    ),
    "a unit no text": (
        "[sheet]\nwidth = 1\nheight = 1\nunit = 3\n" + STAR,
        'sheet.unit: 3 is no unit; write a name such as "mm"',
    ),
    "not TOML": (
        "[flaps]\na = { joint = \n",
        "line 2: a value is missing or is no number, text, list or true or false; mend it",
    ),
    "a packing in place of its figure": (
        '{\n"figure": {"name": "crab"},',
        "this is JSON, such as a packing; name the figure it was made from",
    ),
    "a key twice": (
        STAR + "[flaps]\n",
        "the table [flaps] stands twice, lines 1 and 4; write its entries under one of them",
    ),
    "nested too deep": (
        "a = " + "[" * 100_000,
        "not a figure: brackets nested far too deep; remove them",
    ),
    "too many flaps": (
        star(*(flap(f"f{k}", length=1) for k in range(MOST_TIPS + 1))),
        (
            f"flaps: {MOST_TIPS + 1} flaps are more than the {MOST_TIPS} that can be packed; merge "
            "some"
        ),
    ),
}


@pytest.mark.parametrize("kind", WRONG)
def test_a_wrong_figure_gets_one_sentence_and_leaves_nothing(kind, packer_cli, tmp_path):
    text, message = WRONG[kind]
    file = tmp_path / "wrong.toml"
    file.write_text(text, encoding="utf-8")
    for command in ("check", "pack"):
        ran = packer_cli(command, file, "--out", tmp_path / "out")
        assert ran.code == 2
        assert ran.out == ""
        # an entry is set off with a comma, and a sentence about the whole file with a colon
        assert ran.err in {f"{file}, {message}\n", f"{file}: {message}\n"}
        assert not (tmp_path / "out").exists()


FILES = {
    "not UTF-8": (b"name = '\xff'\n", "byte 8 is not UTF-8; save it as UTF-8 text"),
    "UTF-16": ("name = 'x'".encode("utf-16"), "byte 0 is not UTF-8; save it as UTF-8 text"),
    "far too large": (
        b"#" * (2**20 + 1),
        "more than 1 MiB is far too large; name a figure file",
    ),
}


@pytest.mark.parametrize("kind", FILES)
def test_a_file_that_is_no_text_is_refused(kind, packer_cli, tmp_path):
    content, message = FILES[kind]
    file = tmp_path / "wrong.toml"
    file.write_bytes(content)
    ran = packer_cli("pack", file, "--out", tmp_path / "out")
    assert (ran.code, ran.out, ran.err) == (2, "", f"{file}: {message}\n")
    assert not (tmp_path / "out").exists()


def test_a_directory_is_no_figure(packer_cli, tmp_path):
    ran = packer_cli("pack", tmp_path)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == f"{tmp_path}: this is a directory; name a figure file in it\n"


def test_a_missing_file_is_named_with_the_nearest_one(packer_cli, tmp_path):
    (tmp_path / "shore_crab.toml").write_text(STAR)
    ran = packer_cli("pack", tmp_path / "shore_carb.toml")
    assert (ran.code, ran.out) == (2, "")
    near = tmp_path / "shore_crab.toml"
    wrong = tmp_path / "shore_carb.toml"
    assert ran.err == f'{wrong}: no such file; name a figure file, perhaps "{near}"\n'


OPTIONS = {
    ("--sheet", "A11"): (
        '--sheet: "A11" is no sheet; write a size such as 1x1, 300x300mm or 350mm, or a paper '
        'such as A4; did you mean "A1"?'
    ),
    ("--sheet", "-1x1"): "--sheet: a side of -1 is no sheet; write a length above zero",
    ("--sheet", "0x1"): "--sheet: a side of 0 is no sheet; write a length above zero",
    ("--symmetry", "bok"): '--symmetry: unknown symmetry "bok"; did you mean "book"?',
    ("--time", "0"): "--time: 0 is out of range; write a number from 0.001 to 1000000",
    ("--time", "nan"): "--time: nan is out of range; write a number from 0.001 to 1000000",
    ("--starts", "-1"): "--starts: -1 is out of range; write a number from 1 to 1000000000",
    ("--workers", "0"): "--workers: 0 is out of range; write a number from 1 to 256",
}


@pytest.mark.parametrize("words", OPTIONS)
def test_a_wrong_option_is_named(words, packer_cli, tmp_path):
    file = tmp_path / "star.toml"
    file.write_text(STAR)
    ran = packer_cli("pack", file, *words, "--out", tmp_path / "out")
    assert (ran.code, ran.out, ran.err) == (2, "", OPTIONS[words] + "\n")
    assert not (tmp_path / "out").exists()


def test_an_unknown_option_is_refused_with_the_nearest(packer_cli):
    ran = packer_cli("pack", "x.toml", "--shet", "1x1")
    assert (ran.code, ran.out) == (2, "")
    assert "--shet" in ran.err
    assert "--sheet" in ran.err


def test_names_in_errors_cannot_move_the_cursor(packer_cli, tmp_path):
    file = tmp_path / "wild.toml"
    file.write_text('[flaps]\n"\\u001b[2J" = { joint = "j", length = 0 }\n')
    ran = packer_cli("check", file)
    assert ran.code == 2
    assert "\x1b" not in ran.err
    assert "\\u001b[2J" in ran.err


TREES = {
    "(a:1,b:2)": None,  # no ";": taken for a file's name
    "(a:1,b:);": "character 8: a length is missing after the colon; write a number",
    "((a:1,b:2);": 'character 11: a ")" is missing before ";"; close every "("',
    "(a:1,b:2));": 'character 10: ")" without a "(" before it; add one',
    "(a:1,b:two);": 'flaps.b.length: "two" is not a number; write a length such as 1.5',
    "(a:1,b);": 'flaps.b: "length" is missing; write it after a colon',
    "(a:1,b:-2);": "flaps.b.length: a length of -2 is no part; write a number above zero",
    "(a:1,a:2);": "flaps.a: this name is given twice; give each part its own",
}


@pytest.mark.parametrize("tree", TREES)
def test_a_wrong_tree_on_the_command_line_is_refused(tree, packer_cli):
    ran = packer_cli("pack", tree)
    assert (ran.code, ran.out) == (2, "")
    if TREES[tree] is None:
        assert ran.err == f"{tree}: no such file; name a figure file\n"
    else:
        assert ran.err == f"the Newick tree, {TREES[tree]}\n"


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["pack"], "FIGURE"),
        (["pack", "a.toml", "b.toml"], "b.toml"),
        (["pack", "a.toml", "--tme", "3"], "--tme"),
        (["pack", "a.toml", "--time", "soon"], "--time"),
        (["pack", "a.toml", "--seed", "1.5"], "--seed"),
        (["pack", "a.toml", "--out"], "--out"),
        (["fold", "a.toml"], "fold"),
        (["--fast"], "--fast"),
    ],
)
def test_words_that_fit_no_command_are_told_in_one_line(packer_cli, words, named):
    ran = packer_cli(*words)
    assert ran.code == 2
    assert ran.out == ""
    (line,) = ran.err.splitlines()
    command = "packer pack" if words[0] == "pack" else "packer"
    assert line.startswith(f"{command}: ")
    assert named in line
    assert line.endswith(f"; {command} --help tells what it takes")


def test_without_words_the_help_is_shown(packer_cli):
    ran = packer_cli()
    assert (ran.code, ran.err) == (0, "")
    assert ran == packer_cli("--help")
    assert all(name in ran.out for name in ("pack", "compare", "crease", "grid", "print"))
