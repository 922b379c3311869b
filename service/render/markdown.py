"""Markdown with tables, as forges and wikis read it."""

from __future__ import annotations

import re
from collections.abc import Iterator

from service.render.clean import visible
from service.render.grids import Grid
from service.render.markup import Markup, joined

ACTIVE = re.compile(r"[\\`*_{}\[\]|~$^@]")
LEADING = re.compile(r"^[-+#=:]")
NUMBERED = re.compile(r"^(\d+)([.)])(?= |$)")
LINKED = re.compile(r"://|(?<=www)\.", re.IGNORECASE)


def escape(text: str) -> str:
    r"""Return a text that markdown takes as it stands.

    Parameters
    ----------
    text : str

    Examples
    --------
    >>> print(escape("a|b <script> Pa_m"))
    a\|b &lt;script&gt; Pa\_m
    """
    inert = ACTIVE.sub(r"\\\g<0>", visible(text))
    inert = inert.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    inert = LINKED.sub(lambda match: "".join(f"\\{character}" for character in match[0]), inert)
    return NUMBERED.sub(r"\1\\\2", LEADING.sub(r"\\\g<0>", inert))


def table(grid: Grid) -> Iterator[str]:
    """Yield the lines of a table, its caption before it.

    Parameters
    ----------
    grid : Grid
    """
    if grid.title:
        yield from (f"**{escape(grid.title)}**", "")
    yield joined([escape(head) for head in grid.heads], "| ", " | ", " |")
    yield joined(["---:" if numeric else "---" for numeric in grid.numeric], "| ", " | ", " |")
    for row in grid.rows:
        yield joined([escape(cell) for cell in row], "| ", " | ", " |")


MARKDOWN = Markup(
    escape=escape,
    heading=lambda text: f"## {text}",
    strong=lambda text: f"**{text}**",
    bullet=lambda text: f"- {text}",
    small=lambda text: text,
    table=table,
)
