"""The size of a picture, from its own header."""

from __future__ import annotations

import struct

from packer.errors import ReadError

_FRAMES = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
"""JPEG markers that begin a frame and tell its size (ISO/IEC 10918-1, table B.1)."""


def size_of(content: bytes) -> tuple[int, int]:
    """Return width and height in pixels of a PNG or JPEG.

    Raises
    ------
    ReadError
        Where the header ends too early.
    """
    try:
        if content.startswith(b"\x89PNG"):
            width, height = struct.unpack(">II", content[16:24])
        else:
            width, height = _jpeg_size(content)
    except struct.error:
        raise ReadError("the picture ends within its header; export it again") from None
    if not (width and height):
        raise ReadError("the picture has no size; export it again")
    return width, height


def _jpeg_size(content: bytes) -> tuple[int, int]:
    at = 2
    while True:
        mark, kind, length = struct.unpack(">BBH", content[at : at + 4])
        if mark != 0xFF:
            raise ReadError("the picture's header is damaged; export it again")
        if kind in _FRAMES:
            height, width = struct.unpack(">HH", content[at + 5 : at + 9])
            return width, height
        at += 2 + length
