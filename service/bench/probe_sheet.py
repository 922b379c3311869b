"""The sheet of a probe check: written by the plan, filled in at the bench, read back by the check.

One row a sparkover. ``spacing_mm`` and ``indicated_kV`` are read, ``sphere_diameter_mm`` too where it is there; the
other columns are for the person who fills it in.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from service import units
from service.errors import BadQuestion, did_you_mean, echo

READ = ("spacing_mm", "indicated_kV")
DIAMETER = "sphere_diameter_mm"
FOR_PEOPLE = ("setting", "sparkover", "expected_kV", "remark")
COLUMNS = ("setting", DIAMETER, "spacing_mm", "expected_kV", "sparkover", "indicated_kV")
"""Columns of the sheet, in order."""
MOST_ROWS = 20_000
RULE = re.compile(r":?-+:?")
"""What a column holds in the line below a heading of a table in markdown."""

Row = tuple[int, dict[str, str]]


def body_from_csv(text: str, pairs: Mapping[str, str]) -> dict[str, Any]:
    """Return the JSON structure of a check from a filled-in sheet and the query beside it.

    Parameters
    ----------
    text : str
        Comma, semicolon or tab separated, or the table of the sheet in markdown; a decimal mark is a point.
    pairs : mapping of str to str
        Everything else by name; members of the network as ``network.upper_resistance``.

    Raises
    ------
    BadQuestion
        Naming the row that cannot be read, or the column that is missing or unknown.
    """
    rows = _rows(text)
    filled = [row for row in rows if row[1]["indicated_kV"]]
    if not filled:
        raise BadQuestion.about("indicated_kV", "The sheet has no row with an indicated_kV.")
    settings: dict[tuple[str, str], list[str]] = {}
    for number, cells in filled:
        key = (_cell(number, cells, "spacing_mm"), _cell(number, cells, DIAMETER) if cells.get(DIAMETER) else "")
        settings.setdefault(key, []).append(_cell(number, cells, "indicated_kV") + "kV")
    body = _nested(pairs)
    body["readings"] = [_entry(*key, voltages) for key, voltages in settings.items()]
    if len(filled) < len(rows):
        body["unfilled_rows"] = len(rows) - len(filled)
    return body


def _entry(spacing: str, diameter: str, voltages: list[str]) -> dict[str, Any]:
    entry: dict[str, Any] = {"spacing": f"{spacing}mm", "indicated_voltages": voltages}
    return entry | ({"sphere_diameter": f"{diameter}mm"} if diameter else {})


def _nested(pairs: Mapping[str, str]) -> dict[str, Any]:
    body: dict[str, Any] = {}
    for name, text in pairs.items():
        outer, dot, inner = name.partition(".")
        if dot and outer == "network":
            body.setdefault("network", {})[inner] = text
        elif name in ("readings", "network"):
            raise BadQuestion.about(name, f"{name} does not go into the query beside a sheet.")
        else:
            body[name] = text
    return body


def _rows(text: str) -> list[Row]:
    lines = [(number, line) for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    tabular = [(number, line) for number, line in lines if line.lstrip().startswith("|")]
    split = _split_markdown(tabular) if tabular else _split_plain(lines)
    if not split:
        raise BadQuestion.about("spacing_mm", f"The sheet is empty; it needs the columns {' and '.join(READ)}.")
    if len(split) > MOST_ROWS:
        raise BadQuestion(f"The sheet has {len(split)} rows; at most {MOST_ROWS} are read.")
    heading = _heading(split[0][1])
    return [_row(number, heading, cells) for number, cells in split[1:] if any(cells)]


def _split_markdown(lines: Iterable[tuple[int, str]]) -> list[tuple[int, list[str]]]:
    split = [(number, [cell.strip() for cell in line.strip().strip("|").split("|")]) for number, line in lines]
    return [(number, cells) for number, cells in split if not all(RULE.fullmatch(cell) for cell in cells)]


def _split_plain(lines: Sequence[tuple[int, str]]) -> list[tuple[int, list[str]]]:
    if not lines:
        return []
    delimiter = next((mark for mark in (",", ";", "\t") if mark in lines[0][1]), ",")
    found = []
    for number, line in lines:
        found.append((number, _cells(number, line, delimiter)))
    return found


def _cells(number: int, line: str, delimiter: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter))]
    except csv.Error as error:
        raise BadQuestion.about(f"row {number}", f"Row {number} cannot be read: {error}.") from error


def _heading(cells: Sequence[str]) -> list[str]:
    known = {name.casefold(): name for name in (*READ, DIAMETER, *FOR_PEOPLE)}
    for cell in cells:
        if cell.casefold() not in known:
            why = did_you_mean(cell, known.values())
            raise BadQuestion.about(cell[:64], f"The sheet has an unknown column '{echo(cell)}'{why}.", known.values())
    names = [known[cell.casefold()] for cell in cells]
    for name in READ:
        if names.count(name) != 1:
            raise BadQuestion.about(name, f"The sheet needs the column {name} once.", READ)
    return names


def _row(number: int, heading: Sequence[str], cells: Sequence[str]) -> Row:
    if len(cells) > len(heading):
        detail = f"Row {number} has {len(cells)} cells under {len(heading)} columns; a decimal mark is a point."
        raise BadQuestion.about(f"row {number}", detail)
    padded = [*cells, *[""] * (len(heading) - len(cells))]
    found = dict(zip(heading, padded, strict=True))
    if found["indicated_kV"] and not found["spacing_mm"]:
        raise BadQuestion.about("spacing_mm", f"Row {number} has an indicated_kV but no spacing_mm.")
    return number, found


def _cell(number: int, cells: Mapping[str, str], name: str) -> str:
    text = cells[name]
    if len(text) > units.LONGEST or not units.PLAIN_NUMBER.fullmatch(text):
        detail = f"Row {number}: {name} must be a plain number; '{echo(text)}' is not. A decimal mark is a point."
        raise BadQuestion.about(name, detail)
    return text


def sheet(rows: Iterable[Sequence[str]]) -> str:
    """Return the sheet to be filled in.

    Parameters
    ----------
    rows : iterable of sequence of str
        Cells by `COLUMNS`.
    """
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(rows)
    return target.getvalue()


def table(rows: Iterable[Sequence[str]]) -> str:
    """Return the same as a table in markdown.

    Parameters
    ----------
    rows : iterable of sequence of str
        Cells by `COLUMNS`.
    """
    heading = [COLUMNS, ["---"] * len(COLUMNS)]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in [*heading, *rows])
