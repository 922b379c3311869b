"""Plain text: 80 columns, ASCII, the assumed inputs first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from service.render.clean import ascii_text
from service.render.grids import Grid
from service.render.layout import fit, wrap
from service.render.page import Page
from service.render.sheet import Line, Section, sheet

COLUMNS = 80
INDENT = 2
LABELS = 36
"""Most columns of a label before its text."""
GAP = 2
TALLEST = 4
"""Most lines of a row; a table with taller ones is set as a list instead."""


def render(page: Page) -> bytes:
    """Return an answer as plain text.

    Parameters
    ----------
    page : Page
    """
    return ("\n".join(_lines(page)) + "\n").encode("ascii")


def _lines(page: Page) -> Iterator[str]:
    model = sheet(page)
    title = wrap(ascii_text(model.title), COLUMNS)
    yield from title
    yield "=" * max(map(len, title), default=0)
    for section in model.starting_with("assumed"):
        yield ""
        yield ascii_text(section.title)
        yield from _section(section)
    yield ""
    for foot in (model.versions, model.address):
        yield from _broken(ascii_text(foot))


def _broken(text: str) -> list[str]:
    return wrap(text, COLUMNS) if text else []


def _section(section: Section) -> Iterator[str]:
    widest = min(max((len(ascii_text(line.label)) for line in section.lines), default=0), LABELS)
    bulleted = section.key in ("notes", "cautions")
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
    shapes = (ascii_grid, ascii_grid.turned())
    fitting = ((one, widths) for one in shapes if one is not None and (widths := _widths(one)))
    shape, sized = next(fitting, (ascii_grid, []))
    yield from _table(shape, sized) if sized else _records(shape)
    if grid.remark:
        yield from _hanging("", ascii_text(grid.remark), 2 * INDENT)


def _widths(grid: Grid) -> list[int]:
    """Return column widths, or none where the table does not fit or its rows would be too tall."""
    found = fit(grid.columns, COLUMNS - 2 * INDENT, GAP)
    widths = [int(width) for width in found or ()]
    lines = (len(wrap(cell, width)) for row in grid.rows for cell, width in zip(row, widths, strict=False))
    return widths if max(lines, default=0) <= TALLEST else []


def _table(grid: Grid, widths: list[int]) -> Iterator[str]:
    yield from _row(grid.heads, widths, grid.numeric)
    yield " " * 2 * INDENT + (" " * GAP).join("-" * width for width in widths)
    for row in grid.rows:
        yield from _row(row, widths, grid.numeric)


def _row(row: Sequence[str], widths: list[int], numeric: tuple[bool, ...]) -> Iterator[str]:
    cells = [wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
    for place in range(max(map(len, cells))):
        texts = [lines[place] if place < len(lines) else "" for lines in cells]
        padded = [
            text.rjust(width) if number else text.ljust(width)
            for text, width, number in zip(texts, widths, numeric, strict=True)
        ]
        yield (" " * 2 * INDENT + (" " * GAP).join(padded)).rstrip()


def _records(grid: Grid) -> Iterator[str]:
    widest = min(max(map(len, grid.heads)), LABELS)
    for number, row in enumerate(grid.rows, 1):
        if len(grid.rows) > 1:
            yield f"{' ' * 2 * INDENT}({number})"
        for head, cell in zip(grid.heads, row, strict=True):
            if cell != "-":
                yield from _labelled(Line(head, cell), widest, 3 * INDENT)
