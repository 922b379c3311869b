"""The picture of an answer that has one: plot, sentences, and everything that keeps it honest in small print."""

from __future__ import annotations

from service.answers.figure import Figure
from service.render.bars import draw_bars
from service.render.canvas import Canvas
from service.render.card import SMALL, SPACE, TITLE, draw_foot, draw_grid, framed, run_in
from service.render.clean import visible
from service.render.curves import draw_curves
from service.render.sheet import Sheet

WIDTH, MARGIN = 660.0, 22.0
SENTENCE = 13.0
"""Font size of the sentences under the plot."""

SMALL_PRINT = ("answer", "assumed", "conditions", "method", "corrections", "notes", "cautions")
"""Sections of the answer that stand under the plot."""


def draw_plot(figure: Figure) -> Canvas:
    """Return the plot of a figure alone, for a page that says the rest.

    Parameters
    ----------
    figure : Figure
    """
    canvas = Canvas(WIDTH, MARGIN, MARGIN - 6)
    _plot(canvas, figure)
    return framed(canvas)


def _plot(canvas: Canvas, figure: Figure) -> None:
    draw = draw_bars if figure.bars else draw_curves
    draw(canvas, figure)
    canvas.y += SPACE / 2


def draw_picture(figure: Figure, model: Sheet) -> Canvas:
    """Return the picture of a figure, with what the answer says of its conditions, source and cautions.

    Parameters
    ----------
    figure : Figure
    model : Sheet
    """
    canvas = Canvas(WIDTH, MARGIN, MARGIN - 6)
    canvas.paragraph(figure.title, TITLE, bold=True)
    canvas.y += SPACE / 2
    _plot(canvas, figure)
    for sentence in figure.sentences:
        canvas.paragraph(sentence, SENTENCE)
        canvas.y += 3
    for grid in (grid for section in model.sections for grid in section.tables if grid.crossed):
        canvas.y += SPACE / 2
        draw_grid(canvas, grid)
    _small_print(canvas, figure, model)
    draw_foot(canvas, model)
    return framed(canvas)


def _small_print(canvas: Canvas, figure: Figure, model: Sheet) -> None:
    said = "\n".join(visible(sentence) for sentence in figure.sentences)
    for section in model.sections:
        if section.key in SMALL_PRINT:
            parts = tuple(part for part in section.parts if not (isinstance(part, str) and _said(part, said)))
            text = run_in(type(section)(section.key, section.title, parts))
            if text:
                canvas.y += 4
                canvas.headed(f"{section.title}:", text, SMALL)


def _said(sentence: str, said: str) -> bool:
    """Return whether a sentence, or what follows its label, stands under the plot already."""
    return sentence in said or sentence.partition(": ")[2] in said.split("\n")
