"""Reference tables as printed: title, source, conditions, doubts, and the provenance of every row."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from service.reference import Field, Table
from service.reference.proof import sheet_csv
from service.reference.table import NO_DATA
from service.render.comma_separated import csv_bytes
from service.render.grids import Grid
from service.render.html_card import table_article, whole_page
from service.render.layout import visible
from service.render.markup import DOKUWIKI, MARKDOWN, MEDIAWIKI, Markup
from service.render.records import capital, source_text


def table_says(table: Table) -> Iterator[tuple[str, str]]:
    """Yield what a table says of itself: label and text."""
    yield "Source", source_text(table.source.block())
    counts = table.cells_by_provenance.items()
    yield "Provenance of its cells", "; ".join(f"{word} {count}" for word, count in counts)
    for name, text in table.description.block().items():
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


def table_grid(table: Table) -> Grid:
    """Return the rows of a table as printed, provenance among them."""
    heads = tuple(visible(field.name) for field in table.fields)
    rows = tuple(tuple(visible(cell) for cell in cells) for cells in table.cells)
    numeric = tuple(field.numeric for field in table.fields)
    return Grid(visible(table.title), heads, rows, numeric)


BESIDE = frozenset({"bracketed", "provenance", "doubtful", "note"})
"""What may be said of a cell beside its place and its number."""


def matrix(table: Table) -> Grid | None:
    """Return a table of one number over two as it is printed: a row per value of one, a column per value of the other.

    Returns
    -------
    Grid or None
        Nothing where the table is no such one.
    """
    fields = {field.quantity: field for field in table.fields}
    crossed = [*table.rules.within, *table.rules.rises]
    if len(table.rules.within) != 1 or len(crossed) != 3 or set(fields) - set(crossed) - BESIDE:
        return None
    across, down, cell = crossed
    usual = max(table.cells_by_provenance, key=lambda word: table.cells_by_provenance[word])
    notes = [note for note in dict.fromkeys(table.text("note")) if note]
    found: dict[tuple[str, str], str] = {}
    for row in table.rows:
        said = {quantity: row[field.name] for quantity, field in fields.items()}
        marks = "" if said["provenance"] == usual else MARK
        marks += f" [{notes.index(said['note']) + 1}]" if said["note"] else ""
        number = f"({said[cell]})" if said["bracketed"] == "1" else said[cell]
        doubt = "?" if said["doubtful"] == "1" else ""
        found[_size(said[down]), _size(said[across])] = f"{number}{doubt}{marks}"
    downs, acrosses = (sorted({pair[place] for pair in found}, key=float) for place in (0, 1))
    title = f"{visible(table.title)}: {_field(fields[cell])} by {_field(fields[down])} and {_field(fields[across])}"
    rows = tuple((one, *(found.get((one, other), "") for other in acrosses)) for one in downs)
    legend = [f"Provenance of a cell: {usual}"]
    others = " or ".join(word for word in table.cells_by_provenance if word != usual)
    legend += [f"{MARK} {others}"] if others else []
    legend += ["? doubtful", "in brackets as printed, where the source holds it less certain"]
    legend += [f"[{place}] {visible(note)}" for place, note in enumerate(notes, 1)]
    heads = (capital(f"{down}, {fields[down].unit}"), *(f"{one} {fields[across].unit}" for one in acrosses))
    return Grid(title, heads, rows, (True,) * len(heads), f"{'; '.join(legend)}.", crossed=True)


def _size(cell: str) -> str:
    return f"{float(cell):g}"


def _field(field: Field) -> str:
    return f"{field.quantity.replace('_', ' ')} ({field.unit})"


def comma_separated(table: Table) -> bytes:
    """Return the rows as printed, as CSV; what the table says of itself stands in the other formats."""
    return csv_bytes([field.name for field in table.fields], table.cells)


def html(table: Table) -> bytes:
    """Return a table as a page."""
    title = visible(table.title)
    return whole_page(
        title, table_article(title, matrix(table) or table_grid(table), list(table_says(table))), "auto"
    ).encode("utf-8")


MARK = "*"
"""After a cell that stands on memory alone, in a sheet to be held against the print."""
BOX = "[ ]"


def proof_grid(table: Table) -> Grid:
    """Return the rows of a table to be held against the print: a box to tick, cells from memory alone marked."""
    whole_grid = table_grid(table)
    data = [field.numeric and field.quantity not in NO_DATA for field in table.fields]
    rows = tuple(
        (BOX, *(_marked(cell, number and word == "memory") for cell, number in zip(row, data, strict=True)))
        for row, word in zip(whole_grid.rows, table.provenance, strict=True)
    )
    numeric = (False, *whole_grid.numeric)
    return Grid(f"{whole_grid.title}: proof sheet", ("Agrees", *whole_grid.heads), rows, numeric)


def _marked(cell: str, from_memory: bool) -> str:
    return f"{cell} {MARK}" if cell and from_memory else cell


def proof_said(table: Table) -> Iterator[tuple[str, str]]:
    """Yield what a proof sheet says of itself and of its table."""
    yield (
        "How to use it",
        (
            "Hold each row against the printed source and tick it where every cell agrees. "
            f"{MARK} marks a cell from memory alone. "
            "The same sheet as CSV (suffix .csv), with x in the first column of the rows that agree and corrected "
            "cells written in, is confirmed by: python -m service.reference confirm SHEET.csv"
        ),
    )
    yield "Checked by, on, with", "................................................................"
    yield from table_says(table)


def proof_html(table: Table) -> bytes:
    """Return the proof sheet of a table as a page."""
    sheet = proof_grid(table)
    return whole_page(sheet.title, table_article(sheet.title, sheet, list(proof_said(table))), "auto").encode("utf-8")


def proof_markdown(table: Table) -> bytes:
    """Return the proof sheet of a table in Markdown."""
    sheet = proof_grid(table)
    return MARKDOWN.render_table(sheet.title, list(proof_said(table)), sheet)


PROOF_FORMATS: Mapping[str, Callable[[Table], bytes]] = MappingProxyType(
    {"md": proof_markdown, "csv": sheet_csv, "html": proof_html}
)
"""Suffix to renderer of a proof sheet."""


def _marked_up(markup: Markup) -> Callable[[Table], bytes]:
    return lambda table: markup.render_table(visible(table.title), list(table_says(table)), table_grid(table))


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
