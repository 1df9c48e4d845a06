"""Bad and extreme inputs as data: a file of ``cases/`` becomes runs of the command line.

A table of a file of cases holds:

``about``
    What is varied.
``subject``
    Name of the file that is written, such as "subject.toml"; `SUBJECT` in `commands` is its path.
``text``
    Its contents, in which `VALUE` stands for each value.
``base``, ``at``
    In place of `text`: one of the results that `bases` makes, and the entry whose value is
    replaced, such as "vertices_coords.0.1"; the values are JSON. Several entries make more runs.
``commands``
    Command lines; `OUT` is an empty directory and `PACKING` a sound packing. `VALUE` may stand in
    them too.
``refused``, ``done``, ``either``
    The values that end in one sentence, that work, and of which both is right.
``says``
    What the sentence of a refusal must hold.
``slow``
    Whether the runs that are done take more than a moment. Of the values of which both is right
    only some are quick in any case, since they are so many.

A value is a text or a table: ``{ repeat = "ab", times = 3, after = "c", close = "d" }`` is
"ab" three times, "c", and "d" three times.
"""

from __future__ import annotations

import json
import shlex
import tomllib
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent / "cases"
EITHER = 9
"""Of so many values that may do either one is tried in the quick part, another for each entry."""
SHOWN = 30
"""Letters of a value in the name of a run."""


@dataclass(frozen=True)
class Case:
    """One run of the command line.

    Attributes
    ----------
    name
        For the test's report.
    words
        The command line, with SUBJECT and OUT still in it.
    subject, content
        The file to write before, if any.
    base, at, value
        Or the result to change: its name, the entry, the JSON put there.
    ends
        The exit codes that are right.
    says
        What a refusal must hold.
    slow
        Whether it belongs to the slow part.
    """

    name: str
    words: tuple[str, ...]
    subject: str = ""
    content: str = ""
    base: str = ""
    at: str = ""
    value: str = ""
    ends: tuple[int, ...] = (2,)
    says: str = ""
    slow: bool = False

    def prepare(self, folder, bases):
        """Write the file of the case; return the words of the command line."""
        path = folder / (self.subject or "subject")
        if self.base:
            path = folder / f"base.{self.base}"
            path.write_text(changed(bases[self.base], self.at, self.value), encoding="utf-8")
        elif self.subject:
            path.write_text(self.content, encoding="utf-8")
        places = {"SUBJECT": str(path), "OUT": str(folder / "out")}
        if "PACKING" in self.words:
            places["PACKING"] = str(folder / "other.packing.json")
            (folder / "other.packing.json").write_text(bases["packing.json"], encoding="utf-8")
        return [places.get(word, word) for word in self.words]


def cases(kind):
    """Return the runs of one file of cases, in its order."""
    tables = tomllib.loads((HERE / f"{kind}.toml").read_text(encoding="utf-8"))
    return [case for table in tables["case"] for case in _runs(table)]


def _runs(table):
    ends = {"refused": (2,), "done": (0,), "either": (0, 2)}
    for kind, codes in ends.items():
        for row, value in enumerate(table.get(kind, [])):
            text = _text(value)
            for column, at in enumerate(table.get("at", [""])):
                for k, command in enumerate(table["commands"]):
                    often = kind != "either" or (row + column) % EITHER == 0
                    yield Case(
                        " ".join(
                            filter(None, (table["about"], at, text[:SHOWN], f"#{k}" * bool(k)))
                        ),
                        tuple(word.replace("VALUE", text) for word in shlex.split(command)),
                        table.get("subject", ""),
                        table.get("text", "").replace("VALUE", text),
                        table.get("base", ""),
                        at,
                        text,
                        codes,
                        table.get("says", "") if kind == "refused" else "",
                        not often or (table.get("slow", False) and kind != "refused"),
                    )


def _text(value):
    if isinstance(value, str):
        return value
    times = value["times"]
    return value["repeat"] * times + value.get("after", "") + value.get("close", "") * times


def changed(text, at, value):
    """Return a JSON text with another value at an entry; "" as value removes the entry."""
    record = json.loads(text)
    *above, last = at.split(".")
    here = record
    for step in above:
        here = here[int(step) if isinstance(here, list) else step]
    mark = "\ue000"
    if isinstance(here, list):
        here[int(last)] = mark
    elif value:
        here[last] = mark
    else:
        here.pop(last, None)
    return json.dumps(record).replace(json.dumps(mark), value)
