"""HTML: the card as a page without script, whose article may be taken into any other page."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from service.answers.figure import Figure
from service.render import svg
from service.render.canvas import DARK, LIGHT, PAGE_DARK, PAGE_LIGHT
from service.render.grids import Grid
from service.render.layout import FAMILIES, visible
from service.render.page import Page
from service.render.sheet import FOLDED, Sheet, SheetSection, sheet
from service.render.svg import plot_width
from service.render.templating import ENVIRONMENT


def render(page: Page) -> bytes:
    """Return an answer as a complete page."""
    ways = () if page.view == "brief" else (*SITE[:1], *_asked_again(page), *SITE[1:])
    return whole_page(visible(page.title), article(page, 1), page.theme, ways).encode("utf-8")


SITE = (("/", "Spark gaps and breakdown voltages"), ("/tables", "Tables"), ("/docs", "Reference"))
"""Ways from a page that stands alone back to the others: address and words."""


def _asked_again(page: Page) -> tuple[tuple[str, str], ...]:
    """Return the way to the form with this very question; nothing where it was not asked by an address."""
    lookup, (_, mark, query) = page.document.get("lookup"), page.address.partition("?")
    return ((f"/?lookup={lookup}&{query}", "Change the question"),) if lookup and mark else ()


def article(page: Page, level: int = 2) -> str:
    """Return an answer as an article for another page, without a style of its own.

    Parameters
    ----------
    level : int
        Of its heading.

    Notes
    -----
    What a sanitizer leaves of it still reads in order: headings, tables with captions and heads, lists. A picture is
    an image with its description, so that none of its letters are left over.
    """
    model, brief = sheet(page), page.view == "brief"
    figure = None if brief else page.figure
    picture = address_of(svg.plot(figure, page.theme)) if figure else ""
    return ENVIRONMENT.get_template("article.html").render(
        sheet=model,
        sections=[one for one in model.sections if one.key == "because"] if brief else _said_once(model, figure),
        folded=FOLDED,
        figure=figure,
        picture=Markup(picture),
        picture_width=round(plot_width(figure)) if figure else 0,
        theme=page.theme,
        level=level,
    )


def _said_once(model: Sheet, figure: Figure | None) -> list[SheetSection]:
    """Return the sections of an answer without the sentences that stand under its picture."""
    said = {visible(sentence) for sentence in figure.sentences} if figure is not None else set()
    left = (replace(one, parts=tuple(part for part in one.parts if part not in said)) for one in model.sections)
    return [one for one in left if one.parts]


def address_of(markup: str) -> str:
    """Return a picture as an address that holds it."""
    return "data:image/svg+xml;base64," + b64encode(markup.encode("utf-8")).decode("ascii")


def table_article(title: str, grid: Grid, said: list[tuple[str, str]]) -> str:
    """Return a table with what it says of itself.

    Parameters
    ----------
    title : str
        Heading.
    said : list of (str, str)
        Label and text.
    """
    return ENVIRONMENT.get_template("table.html").render(title=title, grid=grid, said=said, theme="auto", level=1)


@dataclass(frozen=True)
class ListEntry:
    """An entry of a list.

    Parameters
    ----------
    key, title, said : str
        Key, name, and one sentence.
    address : str
        Where it stands.
    drawing : Figure, optional
        Its picture.
    """

    key: str
    title: str
    said: str
    address: str
    drawing: Figure | None = None


def listing(
    page: Page,
    entries: Sequence[ListEntry],
    related: Sequence[tuple[str, Sequence[ListEntry]]],
    said: Sequence[tuple[str, str]] = (),
) -> str:
    """Return a list of entries that lead to their own pages, or what one entry leads to, and all that is said of them.

    Parameters
    ----------
    page : Page
        The whole document.
    entries : sequence of ListEntry
        Empty for the page of one entry.
    related : sequence of (str, sequence of ListEntry)
        What else it leads to, under labels.
    said : sequence of (str, str)
        What stands above the list.
    """
    pictures = {one.key: address_of(svg.plot(one.drawing, "auto")) for one in entries if one.drawing is not None}
    body = ENVIRONMENT.get_template("listing.html").render(
        title=visible(page.title),
        entries=entries,
        pictures={key: Markup(picture) for key, picture in pictures.items()},
        related=related,
        said=said,
        body=Markup(article(page)),
        level=2,
    )
    return whole_page(visible(page.title), body, page.theme)


def whole_page(title: str, body: str, theme: str, ways: Sequence[tuple[str, str]] = SITE) -> str:
    """Return a complete page around an article.

    Parameters
    ----------
    body : str
        Markup.
    theme : str
        One of the page's themes.
    ways : sequence of (str, str)
        Addresses and words of links above it.
    """
    return ENVIRONMENT.get_template("page.html").render(
        title=title, body=Markup(body), theme=theme, ways=ways, light=LIGHT, dark=DARK, families=Markup(FAMILIES)
    )


def style() -> str:
    """Return the style of cards and of the page that shows them, for a page that takes both from an address."""
    return ENVIRONMENT.get_template("style.css").render(
        light=LIGHT | PAGE_LIGHT, dark=DARK | PAGE_DARK, families=Markup(FAMILIES), theme="auto"
    )
