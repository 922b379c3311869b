"""Making and confirming data packages: hashes set in one go, and a sheet that an owner of the print ticks.

A proof sheet lists a table row by row; an owner of the printed source ticks each row that agrees. From the ticked sheet
comes an overlay package in which those rows are ``reproduction+memory`` (or ``reproduction``) and which says what they
were checked against and when. A cell that differs is written into the sheet, and taken over.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from service.errors import BadReferenceData
from service.reference.collection import Reference
from service.reference.package import DESCRIPTOR
from service.reference.table import Table

TICK, BY, PRINTED = "agrees with the print", "checked in", "key of the table"
"""Heads of the columns of a sheet beside those of its table: a tick, what it was held against, the key of the table."""
TICKS = frozenset({"x", "X", "yes", "1", "✓", "✔"})
"""What counts as a tick."""


def sheet(table: Table) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return head and rows of the proof sheet of a table: a column to tick, then every cell as stored."""
    head = (TICK, BY, PRINTED, *(field.name for field in table.fields))
    source = ", ".join(part for part in (table.source.citation, table.source.edition, table.source.table) if part)
    rows = [("", source if place == 0 else "", table.key, *cells) for place, cells in enumerate(table.cells)]
    return head, rows


def sheet_csv(table: Table) -> bytes:
    """Return the proof sheet as CSV, to be ticked and confirmed."""
    text = io.StringIO()
    head, rows = sheet(table)
    csv.writer(text, lineterminator="\r\n").writerows([head, *rows])
    return text.getvalue().encode()


def confirm(path: Path, reference: Reference, folder: Path, today: date | None = None) -> Path:
    """Write the overlay package that a ticked sheet makes, and return its folder.

    Parameters
    ----------
    path : Path
        The sheet as CSV; ticked rows agree with the print, or were corrected in it.
    reference : Reference
        The data that the sheet was made of.
    folder : Path
        Where the overlay goes; the package in it has the name of the table's own.
    today : date, optional
        When the sheet is confirmed; the day of the clock otherwise.

    Raises
    ------
    BadReferenceData
        With the row, where the sheet is not one of a table of these data, or nothing in it is ticked.
    """
    head, *rows = _read(path)
    table = _table_of(path, head, rows, reference)
    wanted = [field.name for field in table.fields]
    places = {name: place for place, name in enumerate(wanted, start=3)}
    cells, ticked = [], 0
    for line, row in enumerate(rows, start=2):
        if len(row) != len(head):
            raise BadReferenceData(path.name, line, f"has {len(row)} cells; its head has {len(head)}")
        own = {name: row[places[name]] for name in wanted}
        if row[0].strip() in TICKS:
            ticked += 1
            own["provenance"] = _confirmed(own, table.cells[line - 2], wanted)
        elif row[0].strip():
            raise BadReferenceData(path.name, line, f"'{row[0]}' is no tick; write x", TICK)
        elif tuple(own.values()) != table.cells[line - 2]:
            raise BadReferenceData(path.name, line, "was changed, but is not ticked", TICK)
        cells.append(list(own.values()))
    if not ticked:
        raise BadReferenceData(path.name, None, "no row is ticked")
    print_ = next((row[1] for row in rows if row[1]), table.source.citation)
    when = f"{today or date.today():%Y-%m}"
    return _write(table, reference, folder, cells, {"what": f"{ticked} of {len(rows)} rows: {print_}", "when": when})


def _confirmed(own: dict[str, str], before: Sequence[str], names: Sequence[str]) -> str:
    """Return the provenance of a ticked row: read and equal to memory, or read where the sheet corrected it."""
    changed = [name for name, cell in zip(names, before, strict=True) if own[name] != cell and name != "provenance"]
    return "reproduction" if changed else "reproduction+memory"


def _read(path: Path) -> list[list[str]]:
    try:
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"), newline=""), strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as fault:
        raise BadReferenceData(path.name, None, f"is not a sheet in CSV: {fault}") from fault
    if len(rows) < 2:
        raise BadReferenceData(path.name, None, "has no rows")
    return rows


def _table_of(path: Path, head: list[str], rows: list[list[str]], reference: Reference) -> Table:
    if head[:3] != [TICK, BY, PRINTED]:
        raise BadReferenceData(path.name, 1, f"does not begin with the columns {TICK}, {BY}, {PRINTED}")
    key = rows[0][2] if len(rows[0]) > 2 else ""
    if key not in reference.tables:
        raise BadReferenceData(path.name, 2, f"there is no table '{key}'", PRINTED)
    table = reference.tables[key]
    wanted = [field.name for field in table.fields]
    if head[3:] != wanted or len(rows) != len(table):
        raise BadReferenceData(path.name, 1, f"is not the sheet of '{key}': {len(table)} rows of {', '.join(wanted)}")
    return table


def _write(table: Table, reference: Reference, folder: Path, cells: list[list[str]], check: dict[str, str]) -> Path:
    package = reference.packages[table.package]
    target = folder / table.package
    if target.exists():
        raise BadReferenceData(target.name, None, "is there already; name another folder")
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([[field.name for field in table.fields], *cells])
    resource = dict(table.stated) | {"checked_against": [*(dict(one) for one in table.checked_against), check]}
    resource["schema"] = _only_own_keys(resource["schema"], table.key)
    stated = {
        "name": package.name,
        "title": package.title,
        "version": package.version,
        "created": package.created,
        "licenses": [dict(one) for one in package.licenses],
        "sources": [dict(one) for one in package.sources],
        "resources": [resource],
    }
    target.mkdir(parents=True)
    (target / str(resource["path"])).write_text(text.getvalue(), encoding="utf-8", newline="")
    (target / DESCRIPTOR).write_text(_json(stated), encoding="utf-8")
    seal(target)
    return target


def _only_own_keys(schema: dict[str, Any], key: str) -> dict[str, Any]:
    """Return a schema without foreign keys into tables that are not in the package written."""
    keys = [one for one in schema.get("foreignKeys", ()) if one["reference"]["resource"] == key]
    rest = {name: part for name, part in schema.items() if name != "foreignKeys"}
    return rest | ({"foreignKeys": keys} if keys else {})


def seal(folder: Path) -> list[str]:
    """Set the hash of every file of a package, or of every package in a folder; return the files whose hash was wrong.

    Raises
    ------
    BadReferenceData
        When a descriptor or a file cannot be read.
    """
    packages = (
        [folder] if (folder / DESCRIPTOR).is_file() else sorted(path.parent for path in folder.glob(f"*/{DESCRIPTOR}"))
    )
    if not packages:
        raise BadReferenceData(folder.name, None, f"there is no {DESCRIPTOR} in it or in a folder below")
    return [changed for package in packages for changed in _sealed(package)]


def _sealed(package: Path) -> Iterator[str]:
    path = package / DESCRIPTOR
    file = f"{package.name}/{DESCRIPTOR}"
    try:
        stated = json.loads(path.read_text(encoding="utf-8"))
        resources = [(resource, package / resource["path"]) for resource in stated["resources"]]
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise BadReferenceData(file, None, f"cannot be read: {fault}") from fault
    changed = []
    for resource, table in resources:
        try:
            digest = f"sha256:{hashlib.sha256(table.read_bytes()).hexdigest()}"
        except OSError as fault:
            raise BadReferenceData(f"{package.name}/{table.name}", None, f"cannot be read: {fault.strerror}") from fault
        if resource.get("hash") != digest:
            resource["hash"] = digest
            changed.append(f"{package.name}/{table.name}")
    if changed:
        path.write_text(_json(stated), encoding="utf-8")
    yield from changed


def _json(stated: dict[str, Any]) -> str:
    return json.dumps(stated, indent=1, ensure_ascii=False) + "\n"
