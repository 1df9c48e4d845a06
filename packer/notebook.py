"""How values draw themselves in a notebook: a formatter registered for each type.

The values lie on the lowest floors and know nothing of drawing. The package's front door registers
the formatter of each, by name, so that the drawing is loaded when a notebook first asks for it.
"""

from __future__ import annotations

from importlib import import_module

_FORMATTERS: dict[str, tuple[str, str]] = {}


def register_svg(type_name: str, module: str, function: str) -> None:
    """Register the function that draws values of a type.

    Parameters
    ----------
    type_name
        Name of the class, such as "Packing".
    module, function
        Where the function is; it takes the value and returns SVG text.
    """
    _FORMATTERS[type_name] = module, function


def svg_of(value: object) -> str | None:
    """Return a value as SVG text, None where no formatter is registered for its class."""
    registered = _FORMATTERS.get(type(value).__name__)
    if registered is None:
        return None
    module, function = registered
    text: str = getattr(import_module(module), function)(value)
    return text
