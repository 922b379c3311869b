"""Plain text: 80 columns, ASCII, what is read first before everything else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import zip_longest

from service.render.clean import ascii_text
from service.render.grids import Fitted, Grid, shaped
from service.render.layout import wrap
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
