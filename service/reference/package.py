"""Data packages on disk: the only place that opens data files.

A package is a folder with ``datapackage.json`` (Frictionless Data Package) and one CSV file per printed table.
Everything is checked when it is read: the descriptor, the hash of each file, every cell against its field, and that
the columns that must rise do.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import stat
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from service.errors import BadReferenceData
from service.reference.descriptor import Resource, Statement, read_resource, read_statement
from service.reference.table import Table

NumberedRows = Sequence[tuple[int, tuple[str, ...]]]
"""Line number in the file and cells of each row."""

DESCRIPTOR = "datapackage.json"
EXAMPLES = "worked-examples"
"""Name of the resource that holds the printed questions and answers of a source."""


@dataclass(frozen=True)
class Package(Statement):
    """One data package: the tables of one source.

    Parameters
    ----------
    tables : mapping
        Its tables by key, worked examples apart.
    examples : Table or None
        Its worked examples.
    """

    tables: Mapping[str, Table]
    examples: Table | None


def discover(folder: Path) -> Iterator[Package]:
    """Yield the packages of a folder in the order of their names.

    Parameters
    ----------
    folder : Path
        Each sub-folder of it that is not hidden is a package.

    Raises
    ------
    BadReferenceData
        When the folder is missing or holds no package, or a package does not load.
    """
    if not folder.is_dir():
        raise BadReferenceData(folder.name, None, "there is no such folder of data packages")
    packages = sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith((".", "_")))
    if not packages:
        raise BadReferenceData(folder.name, None, "the folder holds no data package")
    yield from map(read_package, packages)


def read_package(folder: Path) -> Package:
    """Return the package in a folder, checked.

    Parameters
    ----------
    folder : Path
        Where ``datapackage.json`` lies; its name must be the name of the package.

    Raises
    ------
    BadReferenceData
        With the file, its row where one is at fault, and the reason.
    """
    file = f"{folder.name}/{DESCRIPTOR}"
    stated = _descriptor(folder, file)
    try:
        statement = read_statement(stated, folder.name)
        resources = [read_resource(each) for each in statement.resources]
    except ValueError as fault:
        raise BadReferenceData(file, None, str(fault)) from fault
    except (TypeError, KeyError, AttributeError) as fault:
        raise BadReferenceData(file, None, f"holds something of another kind than belongs there: {fault}") from fault
    tables = {each.key: _table(folder, each) for each in resources}
    if len(tables) < len(resources):
        raise BadReferenceData(file, None, "two resources have the same name")
    examples = tables.pop(EXAMPLES, None)
    return Package(**vars(statement), tables=tables, examples=examples)


LARGEST = 32 * 1024 * 1024
"""Largest file that is read [bytes]; the largest that is shipped has 0.2 MB."""


def _bytes(path: Path, file: str) -> bytes:
    """Return a file; what would never end, or holds up whoever reads it, is none."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise BadReferenceData(file, None, "is no regular file")
        if found.st_size > LARGEST:
            raise BadReferenceData(file, None, f"has {found.st_size} bytes; at most {LARGEST} are read")
        return path.read_bytes()
    except OSError as fault:
        raise BadReferenceData(file, None, f"cannot be read: {fault.strerror}") from fault


def _descriptor(folder: Path, file: str) -> Mapping[str, object]:
    content = _bytes(folder / DESCRIPTOR, file)
    try:
        stated = json.loads(content, parse_constant=_no_number, object_pairs_hook=_members)
        json.dumps(stated, ensure_ascii=False).encode()  # half of a surrogate pair is no text
    except (ValueError, RecursionError) as fault:
        raise BadReferenceData(file, getattr(fault, "lineno", None), f"is not JSON: {fault}") from fault
    if not isinstance(stated, dict):
        raise BadReferenceData(file, None, "is not a JSON object")
    return stated


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _members(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        raise ValueError(f"an object names '{next(name for name in names if names.count(name) > 1)}' twice")
    return found


def _table(folder: Path, resource: Resource) -> Table:
    file = f"{folder.name}/{resource.path}"
    content = _bytes(folder / resource.path, file)
    digest = hashlib.sha256(content).hexdigest()
    if resource.sha256 != digest:
        raise BadReferenceData(file, None, f"its sha256 is {digest}, but {DESCRIPTOR} states {resource.sha256}")
    header, numbered = _cells(content, file)
    expected = [field.name for field in resource.fields]
    if header != expected:
        raise BadReferenceData(file, 1, f"the header is {', '.join(header)}; the schema states {', '.join(expected)}")
    _check_cells(file, resource, numbered)
    fingerprint = _fingerprint([content, resource.canonical])
    cells = tuple(row for _, row in numbered)
    table = Table(**vars(resource), package=folder.name, cells=cells, fingerprint=fingerprint)
    for place, column, reason in table.faults(table.rules):
        raise BadReferenceData(file, numbered[place][0], reason, column)
    return table


def _check_cells(file: str, resource: Resource, rows: NumberedRows) -> None:
    """Raise at the first cell that does not fit its field, or name that is empty or stands there twice."""
    wrong = next((row for row in rows if len(row[1]) != len(resource.fields)), None)
    if wrong is not None:
        raise BadReferenceData(file, wrong[0], f"has {len(wrong[1])} cells; the schema states {len(resource.fields)}")
    columns = dict(
        zip((field.name for field in resource.fields), zip(*(cells for _, cells in rows), strict=True), strict=True)
    )
    for field in resource.fields:
        cells = columns[field.name]
        for place, fault in field.faults(cells):
            raise BadReferenceData(file, rows[place][0], f"{field.name} {fault}", field.name)
        for place, unit in enumerate(columns[field.unit_field] if field.unit_field else ()):
            fault_of_unit = None if cells[place] in field.missing else field.fault_of_unit(unit)
            if fault_of_unit is not None:
                raise BadReferenceData(file, rows[place][0], f"{field.name}: {fault_of_unit}", field.unit_field)


def _cells(content: bytes, file: str) -> tuple[list[str], list[tuple[int, tuple[str, ...]]]]:
    try:
        reader = csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True)
        rows = [(reader.line_num, tuple(row)) for row in reader]
    except (UnicodeDecodeError, csv.Error) as fault:
        raise BadReferenceData(file, None, f"is not a CSV file in UTF-8: {fault}") from fault
    if len(rows) < 2:
        raise BadReferenceData(file, None, "has no rows")
    return list(rows[0][1]), rows[1:]


def _fingerprint(parts: Iterable[bytes]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(hashlib.sha256(part).digest())
    return digest.hexdigest()
