"""The card: answer, band, assumed inputs, question, method, source, provenance and cautions in one picture."""

from __future__ import annotations

from collections.abc import Sequence

from service.render.canvas import LEADING, Canvas, measure
from service.render.grids import Grid
from service.render.layout import fit, wrap
from service.render.sheet import Line, Section, Sheet
from service.render.words import ABSENT

WIDTH, MARGIN = 520.0, 24.0
TITLE, ANSWER, BODY, SMALL = 17.0, 15.0, 12.5, 11.5
"""Font sizes."""

SPACE = 10.0
"""Between two blocks."""

GAP = 14.0
"""Between two columns."""

LABELS = 0.45
"""Most of the width that labels take."""

TALLEST = 4
"""Most lines of a row of a table."""


def draw_card(model: Sheet) -> Canvas:
    """Return the card of an answer.

    Parameters
    ----------
    model : Sheet
    """
    canvas = Canvas(WIDTH, MARGIN, MARGIN - 4)
    canvas.paragraph(model.title, TITLE, bold=True)
    canvas.y += 4
    canvas.rule("accent", 1.5)
    for section in model.sections:
        canvas.y += SPACE
        _section(canvas, section)
    draw_foot(canvas, model)
    return framed(canvas)


def draw_foot(canvas: Canvas, model: Sheet) -> None:
    """Set versions and address under a rule.

    Parameters
    ----------
    canvas : Canvas
    model : Sheet
    """
    canvas.y += SPACE
    canvas.rule()
    canvas.y += SPACE / 2
    for foot in (model.versions, model.address):
        if foot:
            canvas.paragraph(foot, SMALL - 1, "soft")


def framed(canvas: Canvas) -> Canvas:
    """Return a finished canvas on its paper, with a thin border.

    Parameters
    ----------
    canvas : Canvas
    """
    height = float(round(canvas.y + MARGIN - SPACE))
    sheet = Canvas(canvas.width, canvas.margin, height)
    sheet.box(0, 0, canvas.width, height, "paper")
    right, bottom = canvas.width - 0.5, height - 0.5
    sheet.path([(0.5, 0.5), (right, 0.5), (right, bottom), (0.5, bottom), (0.5, 0.5)], "rule", 1)
    sheet.items += canvas.items
    return sheet


def spoken(model: Sheet) -> str:
    """Return the answer and its cautions as text, for a reader who does not see the card.

    Parameters
    ----------
    model : Sheet
    """
    parts = [f"{line.label}: {line.text}." for section in model.sections for line in section.lines]
    sentences = [text for section in model.sections if section.key == "cautions" for text in section.sentences]
    return " ".join([*parts, *sentences])


def run_in(section: Section) -> str:
    """Return the lines and sentences of a section as running text.

    Parameters
    ----------
    section : Section
    """
    named = "; ".join(f"{_lowered(line.label)} {line.text}" for line in section.lines)
    return " ".join([*([f"{named}."] if named else []), *section.sentences])


def _lowered(label: str) -> str:
    return label[:1].lower() + label[1:] if label[1:2].islower() else label


def _section(canvas: Canvas, section: Section) -> None:
    if section.key == "answer":
        draw_lines(canvas, section.lines, ANSWER, bold=True)
        for text in section.sentences:
            canvas.paragraph(text, BODY)
    elif section.key == "method":
        canvas.rule("grid")
        canvas.y += SPACE
        draw_lines(canvas, section.lines, SMALL)
    elif section.lines or section.sentences:
        canvas.headed(f"{section.title}:", run_in(section), SMALL)
    for grid in section.tables:
        draw_grid(canvas, grid)


def draw_lines(canvas: Canvas, lines: Sequence[Line], size: float, *, bold: bool = False) -> None:
    """Set labels in one column and what they say in another.

    Parameters
    ----------
    canvas : Canvas
    lines : sequence of Line
    size : float
        Font size of what they say.
    bold : bool
        Whether that is set bold.
    """
    label_size = min(size, BODY)
    widest = max((measure(label_size)(line.label) for line in lines), default=0.0)
    column = min(widest, LABELS * canvas.room)
    for line in lines:
        labels = wrap(line.label, column, measure(label_size))
        texts = wrap(line.text, canvas.room - column - GAP, measure(size, bold=bold))
        for place, label in enumerate(labels):
            canvas.text(canvas.margin, canvas.y + size + place * LEADING * label_size, label, label_size, "soft")
        for place, text in enumerate(texts):
            base = canvas.y + size + place * LEADING * size
            canvas.text(canvas.margin + column + GAP, base, text, size, bold=bold)
        canvas.y += max(len(labels) * LEADING * label_size, len(texts) * LEADING * size)


def draw_grid(canvas: Canvas, grid: Grid) -> None:
    """Set a table; one that does not fit is turned, or set as lists.

    Parameters
    ----------
    canvas : Canvas
    grid : Grid
    """
    canvas.y += SPACE
    canvas.paragraph(grid.title, BODY, bold=True)
    shapes = (one for one in (grid, grid.turned()) if one is not None)
    shape, widths = next(((one, wide) for one in shapes if (wide := _widths(canvas, one))), (grid, []))
    if widths:
        _table(canvas, shape, widths)
    else:
        _records(canvas, grid)
    if grid.remark:
        canvas.y += 2
        canvas.paragraph(grid.remark, SMALL, "soft")


def _widths(canvas: Canvas, grid: Grid) -> list[float]:
    """Return column widths, or none where the table does not fit or its rows would be too tall."""
    widths = fit(grid.columns, canvas.room, GAP, measure(SMALL))
    if widths is None:
        return []
    cells = (len(wrap(cell, wide, measure(SMALL))) for row in grid.rows for cell, wide in zip(row, widths, strict=True))
    return [wide + 0.01 for wide in widths] if max(cells, default=0) <= TALLEST else []


def _table(canvas: Canvas, grid: Grid, widths: list[float]) -> None:
    _row(canvas, grid.heads, widths, grid.numeric, "soft")
    canvas.line(canvas.margin, canvas.y, canvas.margin + sum(widths) + GAP * (len(widths) - 1), canvas.y, "soft")
    for place, row in enumerate(grid.rows):
        if place:
            canvas.line(
                canvas.margin, canvas.y, canvas.margin + sum(widths) + GAP * (len(widths) - 1), canvas.y, "grid"
            )
        _row(canvas, row, widths, grid.numeric, "ink")


def _row(canvas: Canvas, cells: Sequence[str], widths: list[float], numeric: Sequence[bool], role: str) -> None:
    left, tallest = canvas.margin, 1
    for cell, wide, number in zip(cells, widths, numeric, strict=True):
        lines = wrap(cell, wide, measure(SMALL)) or [""]
        for place, line in enumerate(lines):
            base = canvas.y + 2 + SMALL + place * LEADING * SMALL
            canvas.text(left + (wide if number else 0), base, line, SMALL, role, "end" if number else "start")
        left, tallest = left + wide + GAP, max(tallest, len(lines))
    canvas.y += tallest * LEADING * SMALL + 4


def _records(canvas: Canvas, grid: Grid) -> None:
    for place, row in enumerate(grid.rows):
        if place:
            canvas.y += 3
            canvas.rule("grid")
            canvas.y += 3
        pairs = zip(grid.heads, row, strict=True)
        draw_lines(canvas, [Line(head, cell) for head, cell in pairs if cell != ABSENT], SMALL)
