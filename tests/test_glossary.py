"""One word, one meaning: the names of the package, and what its guide says of them."""

from __future__ import annotations

import ast
import doctest
import importlib
import re
import subprocess
import sys
from collections import defaultdict

import pytest

from tests.test_house import FLOORS, MODULES, PACKAGE, ROOT, room_of

OWN_OF_EACH_FORMAT = {"FORMAT", "VERSION"}
"""Constants that every module of a file format states for itself."""

RETIRED = {
    *(
        "brood",
        "clutch",
        "elders",
        "foothold",
        "footholds",
        "hatch",
        "helpful",
        "hunt",
        "hunts",
    ),
    *("litter", "polished", "quest", "recipe", "recipes", "springs", "taste", "workshop"),
}
"""Words that named something in the code until the literature's word took their place."""


def trees():
    """Every module of the package with its syntax tree."""
    return [(path, ast.parse(path.read_text(encoding="utf-8"))) for path in MODULES]


def repeated(homes):
    """The names with more than one home."""
    return {name: where for name, where in homes.items() if len(where) > 1}


def test_no_two_public_classes_share_a_name():
    homes = defaultdict(list)
    for path, tree in trees():
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes[node.name].append(str(path.relative_to(PACKAGE)))
    assert repeated(homes) == {}


def test_no_two_modules_of_one_floor_share_a_name():
    homes = defaultdict(list)
    for path in MODULES:
        if path.stem != "__init__" and room_of(path) in FLOORS:
            homes[FLOORS[room_of(path)], path.stem].append(str(path.relative_to(PACKAGE)))
    assert repeated(homes) == {}


def test_no_constant_is_defined_twice_in_a_room():
    """What two modules of a room need is defined in one of them and imported by the other."""
    homes = defaultdict(list)
    for path, tree in trees():
        for node in tree.body:
            targets = node.targets if isinstance(node, ast.Assign) else []
            targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
            for name in (t.id for t in targets if isinstance(t, ast.Name)):
                if re.fullmatch("[A-Z][A-Z0-9_]*", name) and name not in OWN_OF_EACH_FORMAT:
                    homes[str(path.parent.relative_to(ROOT)), name].append(path.name)
    assert repeated(homes) == {}


def identifiers(tree):
    """Every name that a module gives to something."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.attr


def test_no_retired_word_names_anything():
    tests = sorted((ROOT / "tests").rglob("*.py"))
    used = {
        (str(path.relative_to(ROOT)), name)
        for path in (*MODULES, *tests)
        for name in (path.stem, *identifiers(ast.parse(path.read_text(encoding="utf-8"))))
        if set(re.sub("([a-z])([A-Z])", r"\1_\2", name).lower().split("_")) & RETIRED
    }
    assert used == set()


def test_variables_say_what_they_hold():
    """No variable is called "found": a noun says what was."""
    assert [path.name for path, tree in trees() if "found" in set(identifiers(tree))] == []


def test_names_in_the_developers_guide_exist():
    """Every dotted name of the package that DEVELOPERS.md writes as code can be imported."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in sorted(set(re.findall(r"`(packer(?:\.\w+)+)`", text))):
        module, _, last = name.rpartition(".")
        try:
            importlib.import_module(name)
        except ImportError:
            assert hasattr(importlib.import_module(module), last), name


def test_files_in_the_developers_guide_exist():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in sorted(set(re.findall(r"`((?:packer|tests)/[\w/.*]+)`", text))):
        assert list(ROOT.glob(name)), name


def test_the_map_of_the_house_names_every_room():
    """The table of floors in the guide against the one that the imports are held to."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| [\d, ]+ \| (.*?) \|", text, flags=re.MULTILINE)
    named = {name for row in rows for name in re.findall(r"`([\w.]+)`", row)}
    assert named == FLOORS.keys() - {"__main__"}


def test_names_said_to_be_in_a_file_are_there():
    """Of rows such as "`reach` in `packer/grid/relations.py`"."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = re.findall(r"`([\w.]+)` in `(packer/[\w/]+\.py)`", text)
    assert told
    for name, file in told:
        last = name.rpartition(".")[2]
        assert re.search(rf"\b{last}\b", (ROOT / file).read_text(encoding="utf-8")), name


def test_benchmarks_in_the_developers_guide_exist():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in set(re.findall(r"python -m tests\.benchmarks\.(\w+)", text)):
        assert (ROOT / "tests" / "benchmarks" / f"{name}.py").exists(), name


def test_the_front_door_does_not_load_the_command_line():
    code = (
        "import sys, packer; [getattr(packer, name) for name in packer.__all__]; "
        "print(sorted({'typer', 'click', 'rich', 'packer.cli'} & sys.modules.keys()))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert ran.stdout.strip() == "[]"


def test_types_are_shipped():
    """PEP 561: a file py.typed in the package, and in what is installed."""
    assert (PACKAGE / "py.typed").exists()
    assert '"py.typed"' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if ">>>" in path.read_text(encoding="utf-8")],
    ids=lambda path: str(path.relative_to(ROOT)),
)
def test_examples_in_docstrings_come_out_as_written(path, monkeypatch):
    monkeypatch.chdir(ROOT)
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    result = doctest.testmod(importlib.import_module(name), verbose=False)
    assert result.attempted > 0
    assert result.failed == 0
