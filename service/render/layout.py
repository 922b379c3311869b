"""Breaking lines and sharing a width among columns, in characters or in picture units alike."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache

from service.render.words import unit
from service.units import DIMENSIONS

UNITS = sorted({re.escape(unit(name)) for kind in DIMENSIONS.values() for name in kind.spellings})
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
