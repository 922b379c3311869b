"""Reference tables in every format: cells as printed, source, conditions, doubts, provenance per row."""

from __future__ import annotations

import csv
import html
import io
import re

import pytest

from service.reference import load
from service.render.comma_separated import guarded
from service.render.table import TABLE_FORMATS, matrix, table_grid, table_says

REFERENCE = load()
KEYS = sorted(REFERENCE.tables)
SOME = KEYS[:: max(1, len(KEYS) // 8)]


def test_the_formats_are_those_of_tables():
    assert list(TABLE_FORMATS) == ["csv", "md", "html", "wiki", "dokuwiki"]


@pytest.mark.parametrize("key", KEYS)
def test_csv_holds_every_cell_as_printed(key):
    table = REFERENCE.table(key)
    rows = list(csv.reader(io.StringIO(TABLE_FORMATS["csv"](table).decode(), newline=""), strict=True))
    assert rows[0] == [field.name for field in table.fields]
    assert rows[1:] == [[guarded(cell) for cell in cells] for cells in table.cells]
    numeric = [place for place, field in enumerate(table.fields) if field.numeric]
    for row, cells in zip(rows[1:], table.cells, strict=True):
        assert [row[place] for place in numeric] == [cells[place] for place in numeric]


@pytest.mark.parametrize("key", SOME)
@pytest.mark.parametrize("suffix", ["md", "html", "wiki", "dokuwiki"])
def test_the_other_formats_say_where_the_table_comes_from(suffix, key):
    table = REFERENCE.table(key)
    text = html.unescape(re.sub(r"%%|</?nowiki>|\\", "", TABLE_FORMATS[suffix](table).decode()))
    assert table.title in text
    assert table.provenance_words[0] in text
    for sentence in (table.source.citation.rstrip("."), table.description.conditions, table.description.doubts):
        assert not sentence or " ".join(sentence.split()) in text.replace("\n", " ")


@pytest.mark.parametrize("key", SOME)
def test_every_row_shows_its_provenance(key):
    table = REFERENCE.table(key)
    shown = table_grid(table)
    place = next(place for place, field in enumerate(table.fields) if field.quantity == "provenance")
    assert [row[place] for row in shown.rows] == [" ".join(word.split()) for word in table.provenance]
    assert len(shown.rows) == len(table)


def test_a_table_says_what_it_was_checked_against():
    table = next(table for table in REFERENCE.tables.values() if table.checked_against)
    assert any(label == "Checked against" for label, _ in table_says(table))


@pytest.mark.parametrize("key", SOME)
def test_the_page_of_a_table_has_heads_for_rows_and_columns(key):
    markup = TABLE_FORMATS["html"](REFERENCE.table(key)).decode()
    assert '<th scope="col"' in markup
    assert '<th scope="row"' in markup
    assert "<script" not in markup


@pytest.mark.parametrize("key", ["iec-60052-table-2", "iec-60052-table-3"])
def test_in_a_matrix_the_cells_of_another_provenance_than_most_are_marked_and_the_legend_says_which(key):
    table = REFERENCE.table(key)
    grid = matrix(table)
    usual = max(table.provenance_words, key=table.provenance.count)
    marked = sum(cell.partition(" ")[0].endswith("*") for row in grid.rows for cell in row[1:])
    assert marked == sum(word != usual for word in table.provenance)
    assert sum(bool(cell) for row in grid.rows for cell in row[1:]) == len(table)
    assert f"Provenance of a cell: {usual}; " in grid.remark
    doubted = sum("?" in cell for row in grid.rows for cell in row[1:])
    assert doubted == sum(table.doubtful)
    printed = {field.quantity: place for place, field in enumerate(table.fields)}
    bracketed = sum(cell.startswith("(") for row in grid.rows for cell in row[1:])
    assert bracketed == sum(cells[printed["bracketed"]] == "1" for cells in table.cells) > 0
