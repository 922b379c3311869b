"""Answers in the markup of wikis: one walk over the sheet, and what each markup writes for a table or a list."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from service.render.grids import Grid
from service.render.page import Page
from service.render.sheet import Section, sheet

Lines = Iterator[str]


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
    table: Callable[[Grid], Lines]

    def render(self, page: Page) -> bytes:
        """Return an answer in this markup.

        Parameters
        ----------
        page : Page
        """
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

    def _lines(self, page: Page) -> Lines:
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

    def _section(self, section: Section) -> Lines:
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
