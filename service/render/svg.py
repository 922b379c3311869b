"""SVG: the curve picture of an answer that has one, otherwise its card; the same bytes every time."""

from __future__ import annotations

from service.answers.figure import Figure
from service.render.canvas import BASE, DARK, RAISED, Canvas
from service.render.card import BRIEF, draw_brief, draw_card, spoken
from service.render.card import WIDTH as CARD
from service.render.clean import visible
from service.render.layout import FAMILIES
from service.render.page import Page
from service.render.picture import HEADED, draw_headed, draw_picture, draw_plot
from service.render.picture import WIDTH as PICTURE
from service.render.sheet import lead_of, sheet
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
        return draw_picture(figure, sheet(page), page.width or PICTURE)
    return draw_headed(figure, sheet(page, HEADED), page.width or PICTURE)


def words(page: Page) -> tuple[str, str]:
    """Return title and description of the picture for a reader who does not see it."""
    lead, figure = lead_of(page.document), page.figure
    if figure is None or page.view == "brief":
        return visible(page.title), lead.words if lead else spoken(sheet(page))
    described = " ".join(part for part in (lead.words, visible(figure.description)) if part)
    return visible(figure.title), described
