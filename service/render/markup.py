"""The sheet written in characters: plain text of 80 columns in ASCII, and the markup of wikis.

Each makes inert in its own way what it might take for markup: Markdown by strokes, MediaWiki by character references,
and DokuWiki, which knows no references, by switching itself off.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from service.render.grids import Fitted, Grid, shaped
from service.render.layout import ascii_text, visible, wrap
from service.render.page import Page
from service.render.sheet import Headline, Line, SheetSection, sheet

COLUMNS = 80
INDENT = 2
LABELS = 36
"""Most columns of a label before its text."""
GAP = 2


def render(page: Page) -> bytes:
    """Return an answer as plain text."""
    return ("\n".join(_lines(page)) + "\n").encode("ascii")


def _lines(page: Page) -> Iterator[str]:
    model = sheet(page)
    title = wrap(ascii_text(model.title), COLUMNS)
    yield from title
    yield "=" * max(map(len, title), default=0)
    yield from _lead(model.lead)
    for section in model.sections:
        yield ""
        yield ascii_text(section.title)
        yield from _section(section)
    yield ""
    for foot in (model.versions, model.address):
        yield from _broken(ascii_text(foot))


def _lead(lead: Headline) -> Iterator[str]:
    """Yield the largest words between rules, the sentence and the caution."""
    if lead:
        yield ""
        yield from wrap(ascii_text(f"{lead.label}: {lead.headline}"), COLUMNS)
        yield ""
        yield from _hanging("", ascii_text(lead.sentence))
        yield from _hanging("! ", ascii_text(lead.caution)) if lead.caution else ()


def _broken(text: str) -> list[str]:
    return wrap(text, COLUMNS) if text else []


def _section(section: SheetSection) -> Iterator[str]:
    widest = min(max((len(ascii_text(line.label)) for line in section.lines), default=0), LABELS)
    bulleted = section.key != "answer"
    for part in section.parts:
        if isinstance(part, Line):
            yield from _labelled(part, widest)
        elif isinstance(part, Grid):
            yield from _grid(part)
        else:
            yield from _hanging("- " if bulleted else "", ascii_text(part))


def _hanging(head: str, text: str, indent: int = INDENT) -> Iterator[str]:
    room = COLUMNS - indent - len(head)
    for number, line in enumerate(wrap(text, room) or [""]):
        yield (" " * indent + (head if number == 0 else " " * len(head)) + line).rstrip()


def _labelled(line: Line, widest: int, indent: int = INDENT) -> Iterator[str]:
    label = ascii_text(line.label)
    if len(label) > widest:
        yield from _hanging("", label, indent)
        label = ""
    yield from _hanging(f"{label:<{widest}}  ", ascii_text(line.text), indent)


def _grid(grid: Grid) -> Iterator[str]:
    yield from _hanging("", f"{ascii_text(grid.title)}:")
    ascii_grid = replace(
        grid,
        heads=tuple(map(ascii_text, grid.heads)),
        rows=tuple(tuple(map(ascii_text, row)) for row in grid.rows),
    )
    if ascii_grid.record:
        yield from _record(ascii_grid)
    else:
        yield from _table(shaped(ascii_grid, COLUMNS - 2 * INDENT, GAP))
    if grid.remark:
        yield from _hanging("", ascii_text(grid.remark), 2 * INDENT)


def _table(shape: Fitted) -> Iterator[str]:
    widths = [int(width) for width in shape.widths]
    yield from _row(shape.grid.heads, widths, shape.grid.numeric)
    yield " " * 2 * INDENT + (" " * GAP).join("-" * width for width in widths)
    for row, detail in zip_longest(shape.grid.rows, shape.details):
        yield from _row(row, widths, shape.grid.numeric)
        if detail:
            yield from _hanging("", detail, 4 * INDENT)


def _row(row: Sequence[str], widths: list[int], numeric: tuple[bool, ...]) -> Iterator[str]:
    cells = [wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
    for place in range(max(map(len, cells))):
        texts = [lines[place] if place < len(lines) else "" for lines in cells]
        padded = [
            text.rjust(width) if number else text.ljust(width)
            for text, width, number in zip(texts, widths, numeric, strict=True)
        ]
        yield (" " * 2 * INDENT + (" " * GAP).join(padded)).rstrip()


def _record(grid: Grid) -> Iterator[str]:
    widest = min(max(len(head) for head, _ in grid.record), LABELS)
    for head, cell in grid.record:
        yield from _labelled(Line(head, cell), widest, 2 * INDENT)


MarkupLines = Iterator[str]


@dataclass(frozen=True)
class Markup:
    """What one markup writes; every text is escaped by it.

    Parameters
    ----------
    escape : callable
        Text to inert markup.
    heading, strong, bullet, small : callable
        Escaped text to a line.
    table : callable
        Caption, heads, rows and which columns are numeric to lines; where the caption is empty the first column of
        each row is its head.
    """

    escape: Callable[[str], str]
    heading: Callable[[str], str]
    strong: Callable[[str], str]
    bullet: Callable[[str], str]
    small: Callable[[str], str]
    table: Callable[[Grid], MarkupLines]

    def render(self, page: Page) -> bytes:
        """Return an answer in this markup."""
        return ("\n".join(self._lines(page)).rstrip("\n") + "\n").encode("utf-8")

    def render_table(self, title: str, said: Sequence[tuple[str, str]], grid: Grid) -> bytes:
        """Return a reference table in this markup.

        Parameters
        ----------
        title : str
            Heading.
        said : sequence of (str, str)
            What the table says of itself: label and text.
        grid : Grid
            Its rows.
        """
        about = Grid("", ("About this table", ""), tuple(said), (False, False))
        lines = [self.heading(self.escape(title)), "", *self.table(about), "", *self.table(grid)]
        return ("\n".join(lines) + "\n").encode("utf-8")

    def _lines(self, page: Page) -> MarkupLines:
        model = sheet(page)
        yield from (self.heading(self.escape(model.title)), "")
        if model.lead:
            yield from (self.strong(self.escape(f"{model.lead.label}: {model.lead.headline}")), "")
            yield from (self.escape(model.lead.sentence), "")
            yield from (self.escape(model.lead.caution), "") if model.lead.caution else ()
        for section in model.sections:
            yield from self._section(section)
        for foot in (model.versions, model.address):
            if foot:
                yield from (self.small(self.escape(foot)), "")

    def _section(self, section: SheetSection) -> MarkupLines:
        if section.lines:
            rows = tuple((line.label, line.text) for line in section.lines)
            yield from self.table(Grid("", (section.title, ""), rows, (False, False)))
            yield ""
        elif section.sentences:
            yield from (self.strong(self.escape(section.title)), "")
        for grid in section.tables:
            yield from self.table(grid.upright())
            yield ""
            if grid.remark:
                yield from (self.small(self.escape(grid.remark)), "")
        if section.sentences:
            yield from (self.bullet(self.escape(text)) for text in section.sentences)
            yield ""


def joined(cells: Sequence[str], left: str, between: str, right: str) -> str:
    """Return cells as one line of a table."""
    return f"{left}{between.join(cells)}{right}"


MARKDOWN_ACTIVE = re.compile(r"[\\`*_{}\[\]|~$^@]")
MARKDOWN_PLAIN = re.compile(r"\d+(?:\.\d+)?(?:e[-+]?\d+)?|[a-z]+(?:[ -][a-z]+)*", re.ASCII)
"""Numbers and plain words, which need no look for anything of this."""
MARKDOWN_LEADING = re.compile(r"^[-+#=:]")
MARKDOWN_NUMBERED = re.compile(r"^(\d+)([.)])(?= |$)")
MARKDOWN_LINKED = re.compile(r"://|(?<=www)\.", re.IGNORECASE)


def markdown_text(text: str) -> str:
    r"""Return a text that markdown takes as it stands.

    Examples
    --------
    >>> print(markdown_text("a|b <script> Pa_m"))
    a\|b &lt;script&gt; Pa\_m
    """
    if MARKDOWN_PLAIN.fullmatch(text):
        return text
    inert = MARKDOWN_ACTIVE.sub(r"\\\g<0>", visible(text))
    inert = inert.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    inert = MARKDOWN_LINKED.sub(lambda match: "".join(f"\\{character}" for character in match[0]), inert)
    return MARKDOWN_NUMBERED.sub(r"\1\\\2", MARKDOWN_LEADING.sub(r"\\\g<0>", inert))


def markdown_table(grid: Grid) -> Iterator[str]:
    """Yield the lines of a table, its caption before it."""
    if grid.title:
        yield from (f"**{markdown_text(grid.title)}**", "")
    yield joined([markdown_text(head) for head in grid.heads], "| ", " | ", " |")
    yield joined(["---:" if numeric else "---" for numeric in grid.numeric], "| ", " | ", " |")
    for row in grid.rows:
        yield joined([markdown_text(cell) for cell in row], "| ", " | ", " |")


MARKDOWN = Markup(
    escape=markdown_text,
    heading=lambda text: f"## {text}",
    strong=lambda text: f"**{text}**",
    bullet=lambda text: f"- {text}",
    small=lambda text: text,
    table=markdown_table,
)


MEDIAWIKI_ACTIVE = re.compile(r"[^\w .,;()/%+°µ·³²Ω±–-]|_", re.ASCII)
"""Every ASCII character that is not plainly text; outside ASCII there is no markup."""


def mediawiki_text(text: str) -> str:
    """Return a text that MediaWiki takes as it stands: what might be markup becomes a character reference.

    Examples
    --------
    >>> mediawiki_text("25.8 kV | {{x}}")
    '25.8 kV &#124; &#123;&#123;x&#125;&#125;'
    """
    return MEDIAWIKI_ACTIVE.sub(lambda match: f"&#{ord(match[0])};" if match[0].isascii() else match[0], visible(text))


def mediawiki_table(grid: Grid) -> Iterator[str]:
    """Yield the lines of a table."""
    labelled = not grid.title
    yield '{| class="wikitable"'
    yield f"|+ {mediawiki_text(grid.title or grid.heads[0])}"
    if not labelled:
        yield "|-"
        yield from (f'! scope="col" | {mediawiki_text(head)}' for head in grid.heads)
    for row in grid.rows:
        yield "|-"
        first = '! scope="row" style="text-align:left" | ' if labelled else _mediawiki_cell(grid.numeric[0])
        yield first + mediawiki_text(row[0])
        yield from (
            _mediawiki_cell(numeric) + mediawiki_text(cell)
            for cell, numeric in zip(row[1:], grid.numeric[1:], strict=True)
        )
    yield "|}"


def _mediawiki_cell(numeric: bool) -> str:
    return '| style="text-align:right" | ' if numeric else "| "


MEDIAWIKI = Markup(
    escape=mediawiki_text,
    heading=lambda text: f"'''{text}'''",
    strong=lambda text: f"'''{text}'''",
    bullet=lambda text: f"* {text}",
    small=lambda text: f"<small>{text}</small>",
    table=mediawiki_table,
)


DOKUWIKI_PLAIN = re.compile(r"[\w .,;()/%+°µ·³²Ω±–-]*")
DOKUWIKI_ACTIVE = re.compile(
    r"""_|//|--|%%|\.\.\.|\((?:c|r|tm)\)|\dx\d|www\.|ftp\.|8-[)O]|;-|FIXME|DELETEME|^\s""", re.IGNORECASE | re.ASCII
)
"""Within plain text: emphasis, dashes, typography, addresses and picture words."""

OFF, ON = "<nowiki>", "</nowiki>"


def dokuwiki_text(text: str) -> str:
    """Return a text that DokuWiki takes as it stands.

    Examples
    --------
    >>> dokuwiki_text("25.8 kV"), dokuwiki_text("a|b")
    ('25.8 kV', '%%a|b%%')
    """
    clean = visible(text)
    if DOKUWIKI_PLAIN.fullmatch(clean) and not DOKUWIKI_ACTIVE.search(clean):
        return clean
    if "%" not in clean:
        return f"%%{clean}%%"
    # the end mark itself is split over two marked stretches
    return OFF + re.sub(ON, f"<{ON}{OFF}/nowiki>", clean, flags=re.IGNORECASE) + ON


def dokuwiki_table(grid: Grid) -> Iterator[str]:
    """Yield the lines of a table, its caption before it."""
    if grid.title:
        yield from (f"**{dokuwiki_text(grid.title)}**", "")
    yield joined([_dokuwiki_cell(dokuwiki_text(head), False) for head in grid.heads], "^", "^", "^")
    for row in grid.rows:
        cells = [_dokuwiki_cell(dokuwiki_text(cell), numeric) for cell, numeric in zip(row, grid.numeric, strict=True)]
        yield joined(cells, "|" if grid.title else "^", "|", "|")


def _dokuwiki_cell(cell: str, numeric: bool) -> str:
    return f"  {cell} " if numeric else f" {cell} "


DOKUWIKI = Markup(
    escape=dokuwiki_text,
    heading=lambda text: f"**{text}**",
    strong=lambda text: f"**{text}**",
    bullet=lambda text: f"  * {text}",
    small=lambda text: text,
    table=dokuwiki_table,
)
