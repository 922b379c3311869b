"""The table markup of DokuWiki, which knows no character references: what might be markup is switched off."""

from __future__ import annotations

import re
from collections.abc import Iterator

from service.render.clean import visible
from service.render.grids import Grid
from service.render.markup import Markup, joined

PLAIN = re.compile(r"[\w .,;()/%+°µ·³²Ω±–-]*")
ACTIVE = re.compile(
    r"""_|//|--|%%|\.\.\.|\((?:c|r|tm)\)|\dx\d|www\.|ftp\.|8-[)O]|;-|FIXME|DELETEME|^\s""", re.IGNORECASE | re.ASCII
)
"""Within plain text: emphasis, dashes, typography, addresses and picture words."""

OFF, ON = "<nowiki>", "</nowiki>"


def escape(text: str) -> str:
    """Return a text that DokuWiki takes as it stands.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> escape("25.8 kV"), escape("a|b")
    ('25.8 kV', '%%a|b%%')
    """
    clean = visible(text)
    if PLAIN.fullmatch(clean) and not ACTIVE.search(clean):
        return clean
    if "%" not in clean:
        return f"%%{clean}%%"
    # the end mark itself is split over two marked stretches
    return OFF + re.sub(ON, f"<{ON}{OFF}/nowiki>", clean, flags=re.IGNORECASE) + ON


def table(grid: Grid) -> Iterator[str]:
    """Yield the lines of a table, its caption before it.

    Parameters
    ----------
    grid : Grid
    """
    if grid.title:
        yield from (f"**{escape(grid.title)}**", "")
    yield joined([_aligned(escape(head), False) for head in grid.heads], "^", "^", "^")
    for row in grid.rows:
        cells = [_aligned(escape(cell), numeric) for cell, numeric in zip(row, (grid.numeric), strict=True)]
        yield joined(cells, "|" if grid.title else "^", "|", "|")


def _aligned(cell: str, numeric: bool) -> str:
    return f"  {cell} " if numeric else f" {cell} "


DOKUWIKI = Markup(
    escape=escape,
    heading=lambda text: f"**{text}**",
    strong=lambda text: f"**{text}**",
    bullet=lambda text: f"  * {text}",
    small=lambda text: text,
    table=table,
)
