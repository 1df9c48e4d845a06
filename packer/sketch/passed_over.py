"""What of a drawing was passed over, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

TOLD: Final = 4
"""Names of things passed over that are told, of each kind."""


def passed_over(
    counts: Mapping[str, int], names: Mapping[str, Sequence[str]] | None = None
) -> str:
    """Return in words what of a drawing was passed over, by name; empty where nothing was."""

    def called(what: str) -> str:
        known = list(dict.fromkeys((names or {}).get(what, ())))
        shown = ", ".join(f'"{name}"' for name in known[:TOLD])
        more = ", ..." if len(known) > TOLD else ""
        return f" ({shown}{more})" if known else ""

    words = [
        f"{count} {what.removesuffix('s') if count == 1 else what}{called(what)}"
        for what, count in sorted(counts.items())
        if count
    ]
    return f"passed over: {', '.join(words)}" if words else ""
