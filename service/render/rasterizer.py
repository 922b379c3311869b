"""A process that draws SVG as pixels: ``python rasterizer.py FAMILY FONT...``.

The library that draws holds the interpreter lock of its process: in the service's own all other requests would wait for
a picture. Messages on standard input and output are a length of eight bytes and the bytes themselves; the first byte of
a drawing is its zoom in quarters. It ends with its input.

Where processors are short, pictures come after words: drawn at the same priority, they take a processor from the
process that answers questions, all of whose threads then wait.
"""

from __future__ import annotations

import os
import sys
from typing import BinaryIO

LENGTH = 8
"""Bytes of a message's length."""
QUARTERS = 4
"""Parts of a zoom's unit."""
COURTESY = 5
"""By how much the priority of drawing is below that of answering."""


def send(stream: BinaryIO, message: bytes) -> None:
    """Write a message."""
    stream.write(len(message).to_bytes(LENGTH, "big") + message)
    stream.flush()


def receive(stream: BinaryIO) -> bytes:
    """Read a message.

    Raises
    ------
    EOFError
        When there is none any more, or it ends within.
    """
    length = stream.read(LENGTH)
    size = int.from_bytes(length, "big")
    message = stream.read(size)
    if len(length) < LENGTH or len(message) < size:
        raise EOFError("the other process has ended")
    return message


def drawing_of(markup: str, zoom: float) -> bytes:
    """Return SVG text and its zoom as a drawing."""
    return bytes([round(QUARTERS * zoom)]) + markup.encode()


def draw(drawing: bytes, family: str, fonts: list[str]) -> bytes:
    """Return PNG of a zoom and SVG text; nothing where it cannot be drawn."""
    import resvg_py  # the service itself speaks to this process and does not draw

    try:
        found = resvg_py.svg_to_bytes(
            svg_string=drawing[1:].decode(),
            zoom=drawing[0] / QUARTERS,
            skip_system_fonts=True,
            font_files=fonts,
            font_family=family,
            sans_serif_family=family,
        )
    except ValueError:
        return b""
    return bytes(found)


def main(family: str, fonts: list[str]) -> None:
    """Draw what comes until nothing comes any more."""
    if hasattr(os, "nice"):
        os.nice(COURTESY)
    while True:
        try:
            drawing = receive(sys.stdin.buffer)
        except EOFError:
            return
        send(sys.stdout.buffer, draw(drawing, family, fonts))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
