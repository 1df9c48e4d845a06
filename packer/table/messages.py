"""What the page may ask for: one table of messages, and the reader that checks each of them."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from packer.errors import ReadError, did_you_mean
from packer.model.figure import PLACES, SYMMETRIES
from packer.numbers import as_number

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    Check = Callable[[object], Any]

MOST_MESSAGE_BYTES: Final = 2**20
"""Largest message in bytes; a thousand limbs pulled at once would need a tenth of it."""
MOST_PICTURE_BYTES: Final = 32 * 2**20
"""Largest picture in bytes: a photograph of forty million pixels."""
MOST_LETTERS: Final = 200
"""Longest name or size."""
MOST_POINTS: Final = 500
"""Most points of one stroke; the page sends its bends, not all that the pointer did."""
FARTHEST: Final = 1e6
"""Largest coordinate, in pixels of the mat or units of the sheet."""
LARGEST: Final = 1e9
"""Largest length or size."""

PICTURES: Final = {"png": b"\x89PNG\r\n\x1a\n", "jpg": b"\xff\xd8\xff"}
"""The kinds of picture that are taken, with their first bytes."""


@dataclass(frozen=True)
class Message:
    """One thing that the page asks for.

    Attributes
    ----------
    kind
        A key of `FIELDS`.
    values
        Its fields, checked.
    number
        The page's own, which the reply repeats.
    """

    kind: str
    values: Mapping[str, Any] = field(default_factory=dict)
    number: int = 0

    @property
    def is_passing(self) -> bool:
        """Whether a newer one of its kind takes its place: a pull under way."""
        return self.values.get("phase") == "move"


# --- checks of one value: each returns it, or raises ReadError saying what is wanted


def _number(low: float, high: float) -> Check:
    def check(value: object) -> float:
        number = as_number(value)
        if number is None or not math.isfinite(number) or not low <= number <= high:
            raise ReadError(f"a number from {low:g} to {high:g} is wanted")
        return number

    return check


def _whole(low: int, high: int) -> Check:
    def check(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ReadError(f"a whole number from {low} to {high} is wanted")
        return value

    return check


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > MOST_LETTERS:
        raise ReadError(f"a text of at most {MOST_LETTERS} letters is wanted")
    if not value.isprintable():  # line breaks, half characters, what turns text round
        raise ReadError("the text holds characters that cannot be shown; write it again")
    return value


def _yes_or_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise ReadError("true or false is wanted")
    return value


def _one_of(*words: str) -> Check:
    def check(value: object) -> str:
        if value not in words:
            raise ReadError(f"one of {', '.join(words)} is wanted")
        return str(value)

    return check


def _or_nothing(inner: Check) -> Check:
    def check(value: object) -> Any:
        return None if value is None else inner(value)

    return check


_coordinate = _number(-FARTHEST, FARTHEST)


def _point(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ReadError("a point [x, y] is wanted")
    return _coordinate(value[0]), _coordinate(value[1])


def _path(value: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or not 2 <= len(value) <= MOST_POINTS:
        raise ReadError(f"a stroke of 2 to {MOST_POINTS} points is wanted")
    return tuple(map(_point, value))


def _places(value: object) -> tuple[Any, ...]:
    if not isinstance(value, list) or len(value) > len(PLACES):
        raise ReadError("a list of places is wanted")
    places = []
    for place in value:
        if isinstance(place, list):
            x, y = _point(place)
            if not (0 <= x <= 1 and 0 <= y <= 1):
                raise ReadError("a place is a point in fractions of the sheet, from 0 to 1")
            places.append((x, y))
        elif place in PLACES:
            places.append(place)
        else:
            raise ReadError(f"unknown place{did_you_mean(str(place), PLACES)}")
    return tuple(places)


_length = _number(1e-6, LARGEST)
_phase = _one_of("move", "drop")
_card = _whole(1, 10**9)
_node = _whole(1, 10**9)

FIELDS: Final[dict[str, dict[str, Check]]] = {
    # the drawing
    "draw": {"start": _or_nothing(_node), "path": _path},
    "end": {"part": _text, "at": _point, "phase": _phase},
    "node": {"node": _node, "at": _point, "phase": _phase},
    "apart": {"node": _node, "at": _point},
    "remove": {"part": _text},
    "rename": {"part": _text, "to": _text},
    "joint": {"node": _node, "to": _text},
    "length": {"part": _text, "to": _or_nothing(_length), "phase": _phase},
    "measure": {"part": _text, "length": _length},
    "pair": {"part": _text, "to": _yes_or_no},
    "place": {"part": _text, "to": _places},
    "flex": {"part": _text, "to": _number(0, 0.99)},
    "title": {"to": _text},
    "symmetry": {"to": _one_of(*SYMMETRIES)},
    "whole": {"to": _yes_or_no},
    "picture": {
        "at": _point,
        "scale": _number(1e-4, 1e4),
        "turn": _number(-360, 360),
        "strength": _number(0, 1),
        "phase": _phase,
    },
    "bare": {},
    # the sheet
    "sheet": {"to": _text},
    "ratio": {"to": _number(0.05, 20), "phase": _phase},
    "hold": {"tip": _text, "at": _point, "phase": _phase},
    "pin": {"tip": _text, "to": _or_nothing(_one_of("here", *PLACES))},
    # back and forth
    "undo": {},
    "redo": {},
    "back": {},
    # offers and the wall
    "gallery": {},
    "take": {"card": _card},
    "leave": {"card": _card},
    "keep": {"name": _text},
    "call": {"card": _card, "to": _text},
    "restore": {"card": _card},
    "forget": {"card": _card},
    "compare": {"one": _card, "other": _card},
    # on from here
    "save": {},
    "act": {
        "what": _one_of("creases", "guide", "grid", "plan", "print", "report"),
        "sheet": _text,
        "paper": _text,
    },
    "stop": {},
    # the page itself
    "claim": {},
}
"""For each kind of message its fields and the check of each."""


def read_message(text: str | bytes) -> Message:
    """Return the message that the page sent.

    Raises
    ------
    ReadError
        Where it is no message: one sentence that says what is wrong with it.
    """
    if len(text) > MOST_MESSAGE_BYTES:
        raise ReadError(f"a message is at most {MOST_MESSAGE_BYTES // 1024} KiB long")
    try:
        record = json.loads(text)
    except RecursionError:
        raise ReadError("brackets are nested far too deep") from None
    except ValueError:
        raise ReadError("not JSON") from None
    if not isinstance(record, dict) or not isinstance(record.get("kind"), str):
        raise ReadError('a message is an object with a "kind"')
    kind = record.pop("kind")
    fields = FIELDS.get(kind)
    if fields is None:
        raise ReadError(f"no message is called {kind[:40]!r}")
    number = _whole(0, 2**53)(record.pop("number", 0))
    if record.keys() != fields.keys():
        raise ReadError(f'"{kind}" has the fields {", ".join(fields) or "none"}')
    values = {}
    for name, check in fields.items():
        try:
            values[name] = check(record[name])
        except ReadError as error:
            raise ReadError(error.message, f"{kind}.{name}") from None
    return Message(kind, values, number)


def picture_kind(content: bytes) -> str:
    """Return "png" or "jpg" by a picture's first bytes.

    Raises
    ------
    ReadError
        Where it is neither, or too large.
    """
    if len(content) > MOST_PICTURE_BYTES:
        raise ReadError(f"a picture is at most {MOST_PICTURE_BYTES // 2**20} MiB large")
    for kind, head in PICTURES.items():
        if content.startswith(head):
            return kind
    raise ReadError("the picture is neither PNG nor JPEG; export it as one of them")
