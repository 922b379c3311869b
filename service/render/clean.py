"""Text that came from elsewhere: control and direction characters out, ASCII where a format asks for it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache

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
