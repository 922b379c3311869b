"""The card: answer, band, assumed inputs, question, method, source, provenance and cautions in one picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import zip_longest

from service.render.canvas import LEADING, Canvas, measure
from service.render.grids import Fitted, Grid, shaped
from service.render.layout import wrap
from service.render.sheet import Headline, Line, Sheet, SheetSection

WIDTH, BRIEF, MARGIN = 500.0, 480.0, 22.0
NARROW = 360.0
"""Below this width the margins are halved."""
HEADLINE, TITLE, ANSWER, BODY, SMALL = 27.0, 17.0, 15.0, 12.5, 11.5
"""Font sizes; none falls below 11 at the width that is asked for."""

TALLEST = 2600.0
"""No section begins further down; four screens of a phone hold what comes before."""

SPACE = 10.0
"""Between two blocks."""

GAP = 14.0
"""Between two columns."""

LABELS = 0.45
"""Most of the width that labels take."""

SEVERAL = 3
"""From this number, sentences stand below each other."""

MOST = 60
"""Most rows of a table."""

DETAILED = 30
"""Most rows of a table of which each has what is said under it."""

FIRST = 8
"""Rows that have it in a longer table."""


def draw_card(model: Sheet, width: float = WIDTH, above: Callable[[Canvas], None] | None = None) -> Canvas:
    """Return the card of an answer.

    Parameters
    ----------
    above : callable, optional
        Draws what stands between the lead and the rest.
    """
    canvas = begun(model, width)
    if above is not None:
        canvas.y += SPACE
        above(canvas)
    for number, section in enumerate(model.sections):
        if canvas.y > TALLEST:
            left = ", ".join(one.title.lower() for one in model.sections[number:])
            canvas.y += SPACE
            canvas.paragraph(f"Left out of this picture: {left}; the answer in the other formats has all.", SMALL)
            break
        canvas.y += SPACE
        _section(canvas, section)
    draw_foot(canvas, model)
    return framed(canvas)


def draw_brief(model: Sheet, width: float = BRIEF) -> Canvas:
    """Return what is read first of an answer, why, and where the rest is."""
    canvas = begun(model, width)
    for section in model.sections:
        if section.key == "because" or (not model.lead and section.key == "answer"):
            canvas.y += SPACE
            draw_said(canvas, replace(section, title="Because"))
    draw_foot(canvas, model)
    return framed(canvas)


def begun(model: Sheet, width: float) -> Canvas:
    """Return a canvas with title and lead."""
    canvas = Canvas(width, MARGIN if width >= NARROW else MARGIN / 2, MARGIN - 4)
    canvas.paragraph(
        model.title, SMALL + 1 if model.lead else TITLE, "soft" if model.lead else "ink", bold=not model.lead
    )
    canvas.y += 4
    canvas.rule("accent", 1.5)
    draw_lead(canvas, model.lead)
    return canvas


def draw_lead(canvas: Canvas, lead: Headline) -> None:
    """Set what is read first: the largest words, the sentence, and the caution beside a bar."""
    if not lead:
        return
    canvas.y += SPACE
    canvas.paragraph(lead.label, BODY, "soft")
    fitting = min(HEADLINE, HEADLINE * canvas.room / max(measure(HEADLINE, bold=True)(lead.headline), 1.0))
    canvas.paragraph(lead.headline, max(fitting, ANSWER), bold=True)
    canvas.y += 2
    canvas.paragraph(lead.sentence, BODY + 0.5)
    if lead.caution:
        canvas.y += SPACE / 2
        top = canvas.y
        canvas.paragraph(lead.caution, SMALL, x=canvas.margin + SPACE, wide=canvas.room - SPACE)
        canvas.box(canvas.margin, top, 3, canvas.y - top, "accent")


def draw_foot(canvas: Canvas, model: Sheet) -> None:
    """Set versions and address under a rule."""
    canvas.y += SPACE
    canvas.rule()
    canvas.y += SPACE / 2
    for foot in (model.versions, model.address):
        if foot:
            canvas.paragraph(foot, 11.0, "soft")


def framed(canvas: Canvas) -> Canvas:
    """Return a finished canvas on its paper, with a thin border."""
    height = float(round(canvas.y + MARGIN - SPACE))
    sheet = Canvas(canvas.width, canvas.margin, height)
    sheet.box(0, 0, canvas.width, height, "paper")
    right, bottom = canvas.width - 0.5, height - 0.5
    sheet.path([(0.5, 0.5), (right, 0.5), (right, bottom), (0.5, bottom), (0.5, 0.5)], "rule", 1)
    sheet.items += canvas.items
    sheet.plotted = canvas.plotted
    return sheet


def spoken(model: Sheet) -> str:
    """Return the answer and its cautions as text, for a reader who does not see the card."""
    parts = [f"{line.label}: {line.text}." for section in model.sections for line in section.lines]
    sentences = [text for section in model.sections if section.key == "cautions" for text in section.sentences]
    return " ".join([*parts, *sentences])


def run_in(section: SheetSection) -> str:
    """Return the lines and sentences of a section as running text."""
    named = "; ".join(_named(line) for line in section.lines)
    return " ".join([*([f"{named}."] if named else []), *section.sentences])


def _named(line: Line) -> str:
    label = line.label[:1].lower() + line.label[1:] if line.label[1:2].islower() else line.label
    return f"{label}{':' if ',' in label else ''} {line.text}".removeprefix("method ")


def _section(canvas: Canvas, section: SheetSection) -> None:
    if section.key == "answer":
        draw_lines(canvas, section.lines, BODY, first=ANSWER)
        for text in section.sentences:
            canvas.paragraph(text, BODY)
    elif section.key == "because":
        canvas.rule("grid")
        canvas.y += SPACE
        draw_lines(canvas, section.lines, SMALL)
    else:
        draw_said(canvas, section)
    for place, grid in enumerate(section.tables):
        if place or section.lines or section.sentences:
            canvas.y += SPACE
        draw_grid(canvas, grid)


def draw_said(canvas: Canvas, section: SheetSection) -> None:
    """Set the lines and sentences of a section as a paragraph, or as a list where the sentences are several."""
    if len(section.sentences) >= SEVERAL and not section.lines:
        canvas.paragraph(section.title, SMALL, bold=True)
        for sentence in section.sentences:
            canvas.text(canvas.margin, canvas.y + SMALL, "•", SMALL, "soft")
            canvas.paragraph(sentence, SMALL, x=canvas.margin + SPACE, wide=canvas.room - SPACE)
    elif section.lines or section.sentences:
        canvas.headed(f"{section.title}:", run_in(section), SMALL)


def draw_lines(canvas: Canvas, lines: Sequence[Line], body: float, *, first: float | None = None) -> None:
    """Set labels in one column and what they say in another.

    Parameters
    ----------
    body : float
        Font size.
    first : float, optional
        Font size of what the first line says, set bold.
    """
    widest = max((measure(body)(line.label) for line in lines), default=0.0)
    column = min(widest, LABELS * canvas.room)
    for number, line in enumerate(lines):
        size, bold = (first, True) if first and number == 0 else (body, False)
        labels = wrap(line.label, column, measure(body))
        texts = wrap(line.text, canvas.room - column - GAP, measure(size, bold=bold))
        for place, label in enumerate(labels):
            canvas.text(canvas.margin, canvas.y + size + place * LEADING * body, label, body, "soft")
        for place, text in enumerate(texts):
            base = canvas.y + size + place * LEADING * size
            canvas.text(canvas.margin + column + GAP, base, text, size, bold=bold)
        canvas.y += max(len(labels) * LEADING * body, len(texts) * LEADING * size)


def draw_grid(canvas: Canvas, grid: Grid) -> None:
    """Set a table; of a very long one its first rows."""
    canvas.paragraph(grid.title, BODY, bold=True)
    if grid.record:
        draw_lines(canvas, [Line(head, cell) for head, cell in grid.record], SMALL)
        remarks = [grid.remark]
    else:
        shape = shaped(replace(grid, rows=grid.rows[:MOST]), canvas.room, GAP, measure(SMALL))
        _table(canvas, shape)
        remarks = [grid.remark, *_left_out(grid, shape)]
    for remark in filter(None, remarks):
        canvas.y += 2
        canvas.paragraph(remark, SMALL, "soft")


def _detailed(shape: Fitted) -> int:
    """Return how many rows have what is said under them."""
    return FIRST if len(shape.grid.rows) > DETAILED else len(shape.grid.rows)


def _left_out(grid: Grid, shape: Fitted) -> Iterator[str]:
    """Yield what a reader of the other formats sees more of."""
    if shape.details and _detailed(shape) < len(grid.rows):
        yield f"What is said under the first {FIRST} rows is said of every row in the other formats."
    if len(grid.rows) > MOST:
        yield f"{MOST} of {len(grid.rows)} rows; the answer in the other formats has all."


def _table(canvas: Canvas, shape: Fitted) -> None:
    grid, widths = shape.grid, [wide + 0.01 for wide in shape.widths]
    right = canvas.margin + min(sum(widths) + GAP * (len(widths) - 1), canvas.room)
    _row(canvas, grid.heads, widths, grid.numeric, "soft")
    canvas.line(canvas.margin, canvas.y, right, canvas.y, "soft")
    for place, (row, detail) in enumerate(zip_longest(grid.rows, shape.details[: _detailed(shape)])):
        if place:
            canvas.line(canvas.margin, canvas.y, right, canvas.y, "grid")
        _row(canvas, row, widths, grid.numeric, "ink")
        if detail:
            canvas.y -= 3
            canvas.paragraph(detail, 11.0, "soft", x=canvas.margin + GAP, wide=canvas.room - GAP)
            canvas.y += 3


def _row(canvas: Canvas, cells: Sequence[str], widths: list[float], numeric: Sequence[bool], role: str) -> None:
    left, tallest = canvas.margin, 1
    for cell, wide, number in zip(cells, widths, numeric, strict=True):
        lines = wrap(cell, wide, measure(SMALL)) or [""]
        for place, line in enumerate(lines):
            base = canvas.y + 2 + SMALL + place * LEADING * SMALL
            canvas.text(left + (wide if number else 0), base, line, SMALL, role, "end" if number else "start")
        left, tallest = left + wide + GAP, max(tallest, len(lines))
    canvas.y += tallest * LEADING * SMALL + 4
