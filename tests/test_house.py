"""The rules of the house: which way imports run, what lies at the top, what is documented."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import packer

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "packer"
MODULES = sorted(PACKAGE.rglob("*.py"))

FLOORS = {
    "errors": 0, "limits": 0, "units": 0, "numbers": 0, "interrupt": 0, "notebook": 0, "version": 0,
    "deadline": 0,
    "model": 1, "search.options": 1, "search.stopping": 1,
    "local_solver": 2, "creases": 2, "drawing.marks": 2,
    "bounds": 3, "search.memetic": 3, "search.result": 3,
    "creases.constraints": 3, "creases.molecules": 3, "grid": 3,
    "search.parallel": 4, "creases.completion": 4, "folded": 4,
    "search": 5, "creases.settling": 5, "landmarks": 5,
    "planning": 6,
    "files": 7, "sketch": 7, "drawing": 7, "drawing.writers": 7,
    "drawing.plates": 8,
    "report": 9,
    "cli": 10, "table": 10, "__main__": 10,
}  # fmt: skip
"""The floor of each room. A room imports its own floor and those below, never one above."""

TYPES_ONLY = {"files", "drawing", "drawing.marks", "drawing.writers", "drawing.plates"}
"""Rooms that read, write and draw results without loading whoever made them."""

MAKERS = {"local_solver", "bounds", "search", "search.memetic", "search.parallel"}
"""Rooms that solve; none of these is loaded to read or draw a result."""

TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE"}
TOP_ROOMS = {"packer", "tests", "samples", "notebooks"}
DRAWERS = {"util", "helper", "manager", "core", "engine", "common", "misc", "data"}


def room_of(path):
    """The room a file belongs to: ``packer/search/memetic/run.py`` is of "search.memetic"."""
    return room_named(".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts))


def room_named(module):
    """The room of a module given by its full name; "packer" itself is none."""
    parts = module.split(".")[1:]
    for count in range(len(parts), 0, -1):
        if ".".join(parts[:count]) in FLOORS:
            return ".".join(parts[:count])
    return parts[0] if parts else "packer"


def imports(path):
    """(line, module, whether only for type checking) of every import of a module of packer."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(node)
        for block in ast.walk(tree)
        if isinstance(block, ast.If) and "TYPE_CHECKING" in ast.unparse(block.test)
        for statement in block.body
        for node in ast.walk(statement)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno} imports relatively"
            # "from packer.files import write" imports a module of its own
            names = [node.module or "", *(f"{node.module}.{a.name}" for a in node.names)]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            if name.startswith("packer."):
                yield node.lineno, name, id(node) in typing_only


def wrong_imports(path, source_room=None):
    """What a file imports from a floor above its own, and who imports a search only to draw."""
    here = source_room or room_of(path)
    found = []
    for line, name, only_types in imports(path):
        there = room_named(name)
        if there in FLOORS and FLOORS[there] > FLOORS[here]:
            found.append(f"{path.name}:{line} imports {name} from a floor above")
        if here in TYPES_ONLY and there in MAKERS and not only_types:
            found.append(f"{path.name}:{line} imports {name} to read or draw a result")
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_run_one_way(path):
    if path != PACKAGE / "__init__.py":  # the front door names rooms, and loads them on demand
        assert wrong_imports(path) == []


def test_an_import_that_runs_the_wrong_way_is_found(tmp_path):
    wrong = tmp_path / "wrong.py"
    wrong.write_text("def f():\n    from packer.cli.pack import command\n")
    assert wrong_imports(wrong, "model")
    wrong.write_text("from packer.search.pack import pack\n")
    assert wrong_imports(wrong, "drawing")
    wrong.write_text("from packer.model.figure import Figure\n")
    assert not wrong_imports(wrong, "drawing")


def test_every_room_has_a_floor():
    assert {room_of(path) for path in MODULES} - {"__init__"} <= FLOORS.keys()


def test_only_the_command_line_ends_an_error():
    ends = []
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ExceptHandler):
                caught = ast.unparse(node.type) if node.type else "BaseException"
                # elsewhere an error may be caught only to be raised again, saying more, or to be
                # handed to the thread that waits for it, where it is raised
                again = any(
                    isinstance(n, ast.Raise)
                    or (isinstance(n, ast.Attribute) and n.attr == "set_exception")
                    for n in ast.walk(node)
                )
                if caught in {"PackerError", "Exception", "BaseException"} and not again:
                    ends.append(str(path.relative_to(PACKAGE)))
    # the page of the table tells a person what is wrong as the terminal does
    assert {Path(end).parts[0] for end in ends} <= {"cli", "table"}
    assert [end for end in ends if end.startswith("cli")] == ["cli/__init__.py"]


def test_the_top_level_is_as_agreed():
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {Path(name).parts[0] for name in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= TOP | TOP_ROOMS


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_is_too_long_or_a_drawer(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400
    words = {word.removesuffix("s") for word in path.stem.split("_")}
    assert not words & DRAWERS


HEAD = re.compile(r" {4}([a-z_/.]+(?:, [a-z_/.]+)*)  +[^\s(]")
"""A line of a room's table of contents: modules, a gap, what they are for."""

LONGEST_FUNCTION = 60
"""Lines of code in a function, its docstring not counted: what it must say takes the lines it takes."""
MOST_PARAMETERS = 7
"""Parameters of a function beside the first, which is its subject; of a method beside self."""


def sizes(path):
    """Name, parameters beside the subject and lines of code of every function, inner ones too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            given = node.args
            count = len(given.posonlyargs + given.args + given.kwonlyargs)
            first = node.body[0] if ast.get_docstring(node) is not None else None
            words = first.end_lineno - first.lineno + 1 if first is not None else 0
            yield node.name, count - 1, node.end_lineno - node.lineno + 1 - words


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_function_is_too_long_or_takes_too_much(path):
    assert [
        name
        for name, parameters, lines in sizes(path)
        if parameters > MOST_PARAMETERS or lines > LONGEST_FUNCTION
    ] == []


def test_a_function_that_is_too_long_is_found(tmp_path):
    long = tmp_path / "long.py"
    long.write_text(
        'def f(a, *, b, c):\n    """Say."""\n\n    def g():\n' + "        f()\n" * 70
    )
    assert list(sizes(long)) == [("f", 2, 73), ("g", -1, 71)]


def public_definitions(path):
    """Every module, class and function whose name has no underscore, and its docstring."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    yield path.name, ast.get_docstring(tree)
    todo = [(path.stem, node) for node in tree.body]
    while todo:
        prefix, node = todo.pop()
        if isinstance(node, ast.ClassDef | ast.FunctionDef) and not node.name.startswith("_"):
            name = f"{prefix}.{node.name}"
            overload = any("overload" in ast.unparse(d) for d in node.decorator_list)
            if not overload:
                yield name, ast.get_docstring(node)
            if isinstance(node, ast.ClassDef):
                todo += [(name, child) for child in node.body]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_public_name_is_documented(path):
    assert [name for name, words in public_definitions(path) if not words] == []


ROOMS = sorted(
    path for path in MODULES if path.name == "__init__.py" and path.parent != PACKAGE
)


@pytest.mark.parametrize("path", ROOMS, ids=lambda p: str(p.parent.relative_to(PACKAGE)))
def test_every_room_says_what_goes_in_and_what_comes_out(path):
    words = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert len(words.splitlines()) >= 8
    assert "In: " in words
    assert "Out: " in words


@pytest.mark.parametrize("path", ROOMS, ids=lambda p: str(p.parent.relative_to(PACKAGE)))
def test_modules_that_a_room_names_are_there(path):
    """The words at the head of a line of its contents name modules."""
    words = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    heads = [match[1] for line in words.splitlines() if (match := HEAD.match(line))]
    named = {name.strip().removesuffix(".py") for head in heads for name in head.split(",")}
    there = {p.stem for p in path.parent.iterdir()}
    assert {name.rstrip("/") for name in named} <= there


@pytest.mark.parametrize("name", packer.__all__)
def test_every_name_at_the_front_door_is_there_and_documented(name):
    thing = getattr(packer, name)
    assert thing.__doc__
    assert not thing.__doc__.startswith(f"{name}(")  # dataclass writes such a line by itself


def test_the_front_door_is_typed():
    source = (PACKAGE / "__init__.py").read_text(encoding="utf-8")
    for name in packer.__all__:
        assert f" import {name} as {name}" in source


def test_help_and_wrong_input_come_without_loading_a_solver():
    code = (
        "import sys; import packer.cli; "
        "print(sorted({'numpy', 'scipy', 'matplotlib', 'shapely'} & sys.modules.keys()))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert ran.stdout.strip() == "[]"


def test_pyplot_is_never_used():
    for path in MODULES:
        assert "pyplot" not in path.read_text(encoding="utf-8"), path


def test_the_clock_is_read_by_deadlines_alone():
    readers = [
        str(path.relative_to(PACKAGE))
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Import) and any(a.name == "time" for a in node.names))
        or (isinstance(node, ast.ImportFrom) and node.module == "time")
    ]
    assert readers == ["deadline.py"]


def hidden_state(path):
    """Attributes that a class gets in a method, though neither its body nor its birth names them."""
    for owner in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(owner, ast.ClassDef):
            continue
        methods = [node for node in owner.body if isinstance(node, ast.FunctionDef)]
        born = {"__init__", "__post_init__"}
        known = {n.target.id for n in owner.body if isinstance(n, ast.AnnAssign)}
        known |= {name for m in methods if m.name in born for name in own_stores(m)}
        for method in methods:
            yield from (
                f"{owner.name}.{name}" for name in own_stores(method) if name not in known
            )


def own_stores(method):
    """The attributes of self that a method sets."""
    for node in ast.walk(method):
        if (
            isinstance(node, ast.Attribute)
            and isinstance(node.ctx, ast.Store)
            and ast.unparse(node.value) == "self"
        ):
            yield node.attr


def test_state_is_declared_where_it_is_looked_for():
    assert [name for path in MODULES for name in hidden_state(path)] == []


def test_state_made_elsewhere_is_found(tmp_path):
    hidden = tmp_path / "hidden.py"
    hidden.write_text(
        "class A:\n    def __init__(self):\n        self.a = 1\n\n"
        "    def f(self):\n        self.a, self.b = 2, 3\n"
    )
    assert list(hidden_state(hidden)) == ["A.b"]
