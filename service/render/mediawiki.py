"""The table markup of MediaWiki."""

from __future__ import annotations

import re
from collections.abc import Iterator

from service.render.clean import visible
from service.render.grids import Grid
from service.render.markup import Markup

ACTIVE = re.compile(r"[^\w .,;()/%+°µ·³²Ω±–-]|_", re.ASCII)
"""Every ASCII character that is not plainly text; outside ASCII there is no markup."""


def escape(text: str) -> str:
    """Return a text that MediaWiki takes as it stands: what might be markup becomes a character reference.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> escape("25.8 kV | {{x}}")
    '25.8 kV &#124; &#123;&#123;x&#125;&#125;'
    """
    return ACTIVE.sub(lambda match: f"&#{ord(match[0])};" if match[0].isascii() else match[0], visible(text))


def table(grid: Grid) -> Iterator[str]:
    """Yield the lines of a table.

    Parameters
    ----------
    grid : Grid
    """
    labelled = not grid.title
    yield '{| class="wikitable"'
    yield f"|+ {escape(grid.title or grid.heads[0])}"
    if not labelled:
        yield "|-"
        yield from (f'! scope="col" | {escape(head)}' for head in grid.heads)
    for row in grid.rows:
        yield "|-"
        first = '! scope="row" style="text-align:left" | ' if labelled else _cell(grid.numeric[0])
        yield first + escape(row[0])
        yield from (_cell(numeric) + escape(cell) for cell, numeric in zip(row[1:], grid.numeric[1:], strict=True))
    yield "|}"


def _cell(numeric: bool) -> str:
    return '| style="text-align:right" | ' if numeric else "| "


MEDIAWIKI = Markup(
    escape=escape,
    heading=lambda text: f"'''{text}'''",
    strong=lambda text: f"'''{text}'''",
    bullet=lambda text: f"* {text}",
    small=lambda text: f"<small>{text}</small>",
    table=table,
)
