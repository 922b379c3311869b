"""SVG: the curve picture of an answer that has one, otherwise its card; the same bytes every time."""

from __future__ import annotations

from service.answers.figure import Figure
from service.render.canvas import BASE, DARK, RAISED, Canvas
from service.render.card import (
    BRIEF,
    SPACE,
    TITLE,
    begun,
    draw_brief,
    draw_card,
    draw_foot,
    draw_grid,
    draw_said,
    framed,
    spoken,
)
from service.render.card import WIDTH as CARD
from service.render.drawing import draw_drawing, draw_section
from service.render.grids import Grid
from service.render.layout import FAMILIES, visible
from service.render.page import Page
from service.render.plots import draw_bars, draw_curves
from service.render.sheet import Sheet, SheetSection, lead_of, sheet
from service.render.templating import ENVIRONMENT

PLOTTED = 320
"""Narrowest width that a plot is drawn at; below it the words stand alone."""


def render(page: Page) -> bytes:
    """Return the picture of a page as SVG."""
    return markup(page).encode("utf-8")


def markup(page: Page) -> str:
    """Return the picture of a page as SVG text."""
    return svg_text(drawing(page), *words(page), page.theme)


def plot(figure: Figure, theme: str) -> str:
    """Return the plot of a figure alone as SVG text, for a page that says the rest."""
    return svg_text(draw_plot(figure), visible(figure.title), visible(figure.description), theme)


def svg_text(canvas: Canvas, title: str, description: str, theme: str) -> str:
    """Return a drawing as SVG text.

    Parameters
    ----------
    title, description : str
        For a reader who does not see it.
    """
    return ENVIRONMENT.get_template("picture.svg").render(
        width=round(canvas.width),
        height=round(canvas.y),
        theme=theme,
        dark=DARK if theme == "auto" else None,
        colours=BASE[theme],
        families=FAMILIES,
        raised=RAISED,
        title=title,
        description=description,
        items=canvas.items,
        plotted=canvas.plotted,
    )


def drawing(page: Page) -> Canvas:
    """Return what is drawn for a page."""
    figure = page.figure
    if page.view == "plot" and figure is not None:
        return draw_plot(figure)
    if page.view == "brief" or (0 < page.width < PLOTTED):
        return draw_brief(sheet(page), page.width or BRIEF)
    if figure is None:
        return draw_card(sheet(page), page.width or CARD)
    if page.view == "full":
        return draw_picture(figure, sheet(page), page.width or WIDTH)
    return draw_headed(figure, sheet(page, HEADED), page.width or WIDTH)


def words(page: Page) -> tuple[str, str]:
    """Return title and description of the picture for a reader who does not see it."""
    lead, figure = lead_of(page.document), page.figure
    if figure is None or page.view == "brief":
        return visible(page.title), lead.words if lead else spoken(sheet(page))
    described = " ".join(part for part in (lead.words, visible(figure.description)) if part)
    return visible(figure.title), described


WIDTH, MARGIN = 660.0, 22.0
DRAWN = 340.0
"""Width of a drawing that stands alone; a telephone is not much narrower."""
HEADED = ("because",)
"""Sections that are drawn under a plot that has its headline alone."""
SENTENCE = 13.0
"""Font size of the sentences under the plot."""


def draw_plot(figure: Figure) -> Canvas:
    """Return the plot of a figure alone, for a page that says the rest."""
    canvas = Canvas(plot_width(figure), MARGIN, MARGIN - 6)
    _plot(canvas, figure)
    return framed(canvas)


def plot_width(figure: Figure) -> float:
    """Return the width of the plot of a figure alone."""
    return WIDTH if figure.plotted else DRAWN


def _plot(canvas: Canvas, figure: Figure) -> None:
    if figure.section is not None:
        draw_section(canvas, figure.section)
    if figure.drawing is not None:
        draw_drawing(canvas, figure.drawing)
    if figure.plotted:
        draw = draw_bars if figure.bars else draw_curves
        draw(canvas, figure)
    canvas.y += SPACE / 2


def draw_headed(figure: Figure, model: Sheet, width: float = WIDTH) -> Canvas:
    """Return the picture of a figure under what is read first of its answer, and nothing else."""
    canvas = _with_plot(figure, model, width)
    if not model.lead:
        for sentence in figure.sentences:
            canvas.paragraph(sentence, SENTENCE)
            canvas.y += 3
    for section in model.sections:
        if section.key in HEADED:
            canvas.y += SPACE / 2
            draw_said(canvas, section)
    draw_foot(canvas, model)
    return framed(canvas)


def _with_plot(figure: Figure, model: Sheet, width: float) -> Canvas:
    if model.lead:
        canvas = begun(model, width)
        canvas.y += SPACE
        canvas.paragraph(figure.title, SENTENCE, bold=True)
    else:
        canvas = Canvas(width, MARGIN, MARGIN - 6)
        canvas.paragraph(figure.title, TITLE, bold=True)
    canvas.y += SPACE / 2
    _plot(canvas, figure)
    return canvas


def draw_picture(figure: Figure, model: Sheet, width: float = WIDTH) -> Canvas:
    """Return the picture of a figure, with what the answer says of its conditions, source and cautions."""
    if not figure.plotted:
        return draw_card(model, width, lambda canvas: _plot(canvas, figure))
    canvas = _with_plot(figure, model, width)
    for sentence in figure.sentences:
        canvas.paragraph(sentence, SENTENCE)
        canvas.y += 3
    for grid in tables_beside(figure, model):
        canvas.y += SPACE / 2
        draw_grid(canvas, grid)
    _small_print(canvas, figure, model)
    draw_foot(canvas, model)
    return framed(canvas)


def tables_beside(figure: Figure, model: Sheet) -> list[Grid]:
    """Return the tables of an answer that its plot does not show: not points of curves, nor a row per bar.

    Notes
    -----
    A card to be read off stands for the list that it was made of.
    """
    tables = [grid for section in model.sections if section.key == "answer" for grid in section.tables]
    crossed = [grid for grid in tables if grid.crossed]
    rows = len(figure.bars)
    return crossed or [grid for grid in tables if not grid.series and not (rows and len(grid.rows) == rows)]


def _small_print(canvas: Canvas, figure: Figure, model: Sheet) -> None:
    said = "\n".join(visible(sentence) for sentence in figure.sentences)
    for section in model.sections:
        parts = tuple(part for part in section.parts if not (isinstance(part, str) and _said(part, said)))
        left = SheetSection(section.key, section.title, parts)
        if left.lines or left.sentences:
            canvas.y += 4
            draw_said(canvas, left)


def _said(sentence: str, said: str) -> bool:
    """Return whether a sentence, or what follows its label, stands under the plot already."""
    return sentence in said or sentence.partition(": ")[2] in said.split("\n")
