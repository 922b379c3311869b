"""Reference tables as printed: title, source, conditions, doubts, and the provenance of every row."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from service.reference import Table
from service.render.clean import visible
from service.render.comma_separated import written
from service.render.dokuwiki import DOKUWIKI
from service.render.grids import Grid
from service.render.html_card import table_article, whole
from service.render.markdown import MARKDOWN
from service.render.markup import Markup
from service.render.mediawiki import MEDIAWIKI
from service.render.quantities import source_text
from service.render.words import capital


def said(table: Table) -> Iterator[tuple[str, str]]:
    """Yield what a table says of itself: label and text.

    Parameters
    ----------
    table : Table
    """
    source = {name: getattr(table.source, name) for name in ("key", "citation", "edition", "table")}
    yield "Source", source_text(source)
    yield "Provenance of its rows", "; ".join(table.provenance_words)
    for name in ("unit", "conditions", "accuracy", "validity", "doubts", "rules"):
        text = getattr(table.description, name)
        if text:
            yield capital(name), visible(text)
    for check in table.checked_against:
        yield "Checked against", ", ".join(visible(check[part]) for part in ("what", "when") if part in check)
    yield from _columns(table)


def _columns(table: Table) -> Iterator[tuple[str, str]]:
    for field in table.fields:
        parts = [field.title if field.title != field.name else "", f"in {field.unit}" if field.unit else ""]
        words = ", ".join(visible(part) for part in [*parts, field.description or ""] if part)
        if words:
            yield f"Column {visible(field.name)}", words


def grid(table: Table) -> Grid:
    """Return the rows of a table as printed, provenance among them.

    Parameters
    ----------
    table : Table
    """
    heads = tuple(visible(field.name) for field in table.fields)
    rows = tuple(tuple(visible(cell) for cell in cells) for cells in table.cells)
    numeric = tuple(field.numeric for field in table.fields)
    return Grid(visible(table.title), heads, rows, numeric)


def comma_separated(table: Table) -> bytes:
    """Return the rows as printed, as CSV; what the table says of itself stands in the other formats.

    Parameters
    ----------
    table : Table
    """
    return written([field.name for field in table.fields], table.cells)


def html(table: Table) -> bytes:
    """Return a table as a page.

    Parameters
    ----------
    table : Table
    """
    title = visible(table.title)
    return whole(title, table_article(title, grid(table), list(said(table))), "auto").encode("utf-8")


def _marked_up(markup: Markup) -> Callable[[Table], bytes]:
    return lambda table: markup.render_table(visible(table.title), list(said(table)), grid(table))


TABLE_FORMATS: Mapping[str, Callable[[Table], bytes]] = MappingProxyType(
    {
        "csv": comma_separated,
        "md": _marked_up(MARKDOWN),
        "html": html,
        "wiki": _marked_up(MEDIAWIKI),
        "dokuwiki": _marked_up(DOKUWIKI),
    }
)
"""Suffix to renderer of a reference table; the media types are those of the answers."""
