"""How wide a text is, from the advance widths in the shipped font files.

The family is metric-compatible with the sans-serif faces named beside it in every picture, so that a text measured
here also fits where a browser draws it with one of them.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

FONTS = Path(__file__).resolve().parent / "fonts"
FAMILY = "Liberation Sans"
FAMILIES = f"'{FAMILY}', Arial, Helvetica, Arimo, sans-serif"
"""Value of ``font-family`` in pictures and cards."""

FILES: Mapping[bool, Path] = {False: FONTS / "LiberationSans-Regular.ttf", True: FONTS / "LiberationSans-Bold.ttf"}
"""Font file by whether it is bold."""


@lru_cache(maxsize=2)
def advances(bold: bool) -> Mapping[int, float]:
    """Return the advance width of every character of a face, in parts of the font size.

    Parameters
    ----------
    bold : bool
        Which face.
    """
    data = FILES[bold].read_bytes()
    tables = _tables(data)
    (units_per_em,) = struct.unpack_from(">H", data, tables["head"] + 18)
    (count,) = struct.unpack_from(">H", data, tables["hhea"] + 34)
    metrics = struct.unpack_from(f">{2 * count}H", data, tables["hmtx"])
    widths = metrics[::2]
    glyphs = _glyphs(data, tables["cmap"])
    return {code: widths[min(glyph, count - 1)] / units_per_em for code, glyph in glyphs.items()}


def _tables(data: bytes) -> Mapping[str, int]:
    (count,) = struct.unpack_from(">H", data, 4)
    entries = (struct.unpack_from(">4sLLL", data, 12 + 16 * place) for place in range(count))
    return {name.decode("ascii"): offset for name, _, offset, _ in entries}


def _glyphs(data: bytes, cmap: int) -> Mapping[int, int]:
    """Return character to glyph, from the Unicode subtable of format 4."""
    (count,) = struct.unpack_from(">H", data, cmap + 2)
    records = [struct.unpack_from(">HHL", data, cmap + 4 + 8 * place) for place in range(count)]
    start = next(cmap + offset for platform, encoding, offset in records if (platform, encoding) == (3, 1))
    (twice,) = struct.unpack_from(">H", data, start + 6)
    segments = twice // 2
    places = [start + 14, start + 16 + twice, start + 16 + 2 * twice, start + 16 + 3 * twice]
    ends, starts, deltas, offsets = (struct.unpack_from(f">{segments}H", data, place) for place in places)
    glyphs: dict[int, int] = {}
    for segment, (first, last) in enumerate(zip(starts, ends, strict=True)):
        for code in range(first, last + 1):
            glyph = code
            if offsets[segment]:
                at = places[3] + 2 * segment + offsets[segment] + 2 * (code - first)
                (glyph,) = struct.unpack_from(">H", data, at)
            glyphs[code] = (glyph + deltas[segment]) & 0xFFFF
    return {code: glyph for code, glyph in glyphs.items() if glyph and code != 0xFFFF}


WIDEST = 1.1
"""Width taken for a character that the font does not have, in parts of the font size."""


@lru_cache(maxsize=16384)
def unit_width(text: str, bold: bool) -> float:
    """Return the width of a text in parts of the font size."""
    table = advances(bold)
    return sum(table.get(ord(character), WIDEST) for character in text)


def width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a text in one line.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Font size.
    bold : bool
        Whether it is set bold.

    Examples
    --------
    The digits of this family are equally wide, 1139 of 2048 parts.

    >>> round(width("2026", 10.0) * 2048 / 1139, 6)
    40.0
    """
    return size * unit_width(text, bold)
