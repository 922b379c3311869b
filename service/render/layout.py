"""Text before it is set: control characters out, measured, broken into lines, its columns sharing a width.

The advance widths are those in the shipped font files. Their family is metric-compatible with the sans-serif faces that
every picture names beside it, so that a text measured here also fits where a browser draws it with one of them.
"""

from __future__ import annotations

import re
import struct
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path

from service.spoken import printed
from service.units import DIMENSIONS

INVISIBLE = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\uffff\ud800-\udfff]"
)
"""Control characters, and those that reorder or hide the text around them."""

ASCII: Mapping[int, str] = str.maketrans(
    {
        "°": "deg ",
        "µ": "u",
        "μ": "u",
        "Ω": "ohm",
        "·": " ",
        "×": "x",
        "±": "+/-",
        "–": "-",
        "—": "-",
        "−": "-",
        "≤": "<=",
        "≥": ">=",
        "≈": "~",
        "‘": "'",
        "’": "'",
        "“": '"',
        "”": '"',
        "…": "...",
        "²": "2",
        "³": "3",
        "η": "eta",
        "γ": "gamma",
        "α": "alpha",
        "δ": "delta",
        "√": "sqrt ",
        "→": "->",
        "ß": "ss",
        "ø": "o",
        "Ø": "O",
        "æ": "ae",
        "œ": "oe",
        "đ": "d",
        "ł": "l",
        "ı": "i",
    }
)


def visible(text: object) -> str:
    """Return `_visible` of the text of anything, kept for the sentences that every answer repeats."""
    return _visible(text if isinstance(text, str) else str(text))


@lru_cache(maxsize=8192)
def _visible(text: str) -> str:
    r"""Return a text in one line without characters that hide or reorder.

    Parameters
    ----------
    text : object
        Anything; its text is taken.

    Examples
    --------
    >>> visible("two\nlines")
    'two lines'
    """
    return " ".join(INVISIBLE.sub(" ", text).split())


@lru_cache(maxsize=8192)
def ascii_text(text: str) -> str:
    """Return a text in ASCII; a character without a counterpart becomes a question mark.

    Examples
    --------
    >>> ascii_text("20 °C, 45 µC, 8.5 g/m³, Möhring")
    '20 degC, 45 uC, 8.5 g/m3, Mohring'
    """
    known = text.replace("°C", "degC").translate(ASCII)
    if known.isascii():
        return known
    letters = (c for c in unicodedata.normalize("NFKD", known) if not unicodedata.combining(c))
    return "".join(character if character.isascii() else "?" for character in letters)


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


def text_width(text: str, size: float, *, bold: bool = False) -> float:
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

    >>> round(text_width("2026", 10.0) * 2048 / 1139, 6)
    40.0
    """
    return size * unit_width(text, bold)


UNITS = sorted({re.escape(printed(name)) for kind in DIMENSIONS.values() for name in kind.spellings})
SPACE = re.compile(rf" (?!(?<=[0-9] )(?:{'|'.join(UNITS)})(?:[\s,;.)-]|$))")
"""Where a line may be broken: never between a number and its unit."""

FIGURES = re.compile(r"[0-9.e+–-]+ (?:to [0-9.e+-]+|\([0-9.e+-]+ to [0-9.e+-]+\))")
"""A range, or a number with its band: never broken within a table."""


@lru_cache(maxsize=8192)
def words_of(text: str) -> tuple[str, ...]:
    """Return the parts of a text between which a line may be broken."""
    return tuple(SPACE.split(text))


Measure = Callable[[str], float]
"""Width of a text in one line."""

BREAKABLE = re.compile(r"(?<=[/;?&=,_-])")
"""Places within a long word, such as an address, where it may be broken."""


def wrap(text: str, width: float, measure: Measure = len) -> list[str]:
    """Return a text broken into lines that fit.

    Parameters
    ----------
    text : str
        Words; a word longer than a line is broken.
    width : float
        Of a line.
    measure : callable
        Width of a text; by default its number of characters.

    Examples
    --------
    >>> wrap("a burr, dust or a flame", 10)
    ['a burr,', 'dust or a', 'flame']
    """
    lines: list[str] = []
    current = ""
    for word in words_of(text):
        joined = f"{current} {word}" if current else word
        if measure(joined) <= width:
            current = joined
            continue
        if current:
            lines.append(current)
        *full, current = _pieces(word, width, measure)
        lines += full
    return [*lines, current] if current else lines


def _pieces(word: str, width: float, measure: Measure) -> list[str]:
    """Return a word in pieces that fit, broken after punctuation where possible."""
    pieces = [""]
    for part in BREAKABLE.split(word):
        if measure(pieces[-1] + part) <= width:
            pieces[-1] += part
            continue
        pieces.append("")
        for character in part:
            if pieces[-1] and measure(pieces[-1] + character) > width:
                pieces.append("")
            pieces[-1] += character
    return [piece for piece in pieces if piece] or [""]


def longest_word(text: str, measure: Measure = len) -> float:
    """Return the width of the widest part of a text that is not broken within a table."""
    if text[:1] in "0123456789.e+–-" and FIGURES.fullmatch(text):
        return measure(text)
    return max((measure(word) for word in words_of(text)), default=0.0)


def fit(columns: Sequence[Sequence[str]], width: float, gap: float, measure: Measure = len) -> list[float] | None:
    """Return column widths with which a table fits, or nothing when not even its words do.

    Parameters
    ----------
    columns : sequence of sequence of str
        Cells of each column, its head among them.
    width : float
        To be shared.
    gap : float
        Between two columns.
    measure : callable
        Width of a text.

    Notes
    -----
    Every column gets at least its widest word and at most its widest cell; what is left between is shared in
    proportion to what each could still use.
    """
    natural = [max(measure(cell) for cell in column) for column in columns]
    least = [max(longest_word(cell, measure) for cell in column) for column in columns]
    available = width - gap * (len(columns) - 1)
    if sum(natural) <= available:
        return natural
    spare, wish = available - sum(least), sum(natural) - sum(least)
    if spare < 0:
        return None
    return [low + (high - low) * spare / wish for low, high in zip(least, natural, strict=True)]
