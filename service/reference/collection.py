"""All reference data in use: the shipped packages, and a lab's own laid over them."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import numpy as np

from service.errors import BadReferenceData, NotFound, did_you_mean, quoted
from service.reference.descriptor import Field
from service.reference.package import DESCRIPTOR, Package, discover
from service.reference.table import Table
from service.units import ROUNDING

SERVICE = Path(__file__).resolve().parent.parent
"""Folder of the package ``service``."""
once = lru_cache(maxsize=64)
"""What is built from the reference data is built once: kept for the same reference and further arguments."""


@dataclass(frozen=True)
class WorkedExample:
    """A printed question and its printed answer.

    Parameters
    ----------
    id : str
        Name within the package.
    package : str
        Name of the data package.
    question : str
        In words.
    inputs : mapping
        The numbers given, by name with unit.
    expected, unit, tolerance : str
        As printed.
    source, provenance : str
        Where it was printed and how it came here.
    note : str
        What else is to be said.
    """

    id: str
    package: str
    question: str
    inputs: Mapping[str, object]
    expected: str
    unit: str
    tolerance: str
    source: str
    provenance: str
    note: str = ""


@dataclass(frozen=True, eq=False)
class Reference:
    """Every table in use.

    Parameters
    ----------
    tables : mapping
        By key, sorted.
    packages : mapping
        By name, sorted; the tables of a package are those that it brought, in use or replaced.
    version : str
        Year and month of the newest package, and a hash of all data in use: ``2026.11+3f9c2a1b``.
    """

    # what holds all of the data shows none of it: a failing test would print for minutes
    tables: Mapping[str, Table] = dataclasses.field(repr=False)
    packages: Mapping[str, Package] = dataclasses.field(repr=False)
    version: str

    def table(self, key: str) -> Table:
        """Return a table.

        Parameters
        ----------
        key : str
            Its name.

        Raises
        ------
        BadReferenceData
            When no package holds a table of that name, although an answer needs it.
        """
        if key not in self.tables:
            raise BadReferenceData(key, None, "no data package holds this table, although answers need it")
        return self.tables[key]

    def asked_table(self, key: str) -> Table:
        """Return a table that somebody asks for by name.

        Raises
        ------
        NotFound
            When there is none.
        """
        if key not in self.tables:
            raise NotFound(f"There is no table '{quoted(key)}'{did_you_mean(key, self.tables)}.")
        return self.tables[key]

    def worked_examples(self, package: str | None = None) -> tuple[WorkedExample, ...]:
        """Return the printed questions and answers.

        Parameters
        ----------
        package : str, optional
            Of this package only.

        Raises
        ------
        NotFound
            When there is no such package.
        """
        if package is not None and package not in self.packages:
            raise NotFound(f"There is no data package '{quoted(package)}'{did_you_mean(package, self.packages)}.")
        chosen = self.packages.values() if package is None else (self.packages[package],)
        return tuple(example for each in chosen for example in _examples(each))


def shipped_folder() -> Path:
    """Return the folder of the shipped data packages.

    In a checkout it lies beside ``service`` and ``pyproject.toml``, and is served even where an editable install
    has left a copy elsewhere; in an installed wheel it lies inside ``service``.
    """
    beside = SERVICE.parent / "reference_data"
    in_checkout = (SERVICE.parent / "pyproject.toml").is_file() and beside.is_dir()
    return beside if in_checkout else SERVICE / "reference_data"


def load(overlay: Path | None = None) -> Reference:
    """Return all reference data, checked.

    Parameters
    ----------
    overlay : Path, optional
        Folder of packages laid over the shipped ones: a table of the same key replaces, the rest stays.

    Raises
    ------
    BadReferenceData
        With the file, its row where one is at fault, and the reason.
    """
    shipped = shipped_folder()
    packages = {each.name: each for each in _shipped(shipped, _state(shipped))}
    tables = _collected(packages.values())
    if overlay is not None:
        laid_over = list(discover(overlay))
        replacing = _collected(laid_over)
        for key in tables.keys() & replacing.keys():
            _check_replacement(tables[key], replacing[key])
        tables |= replacing
        packages |= {each.name: _merged(packages.get(each.name), each) for each in laid_over}
    _check_references(tables)
    return Reference(
        tables=MappingProxyType(dict(sorted(tables.items()))),
        packages=MappingProxyType(dict(sorted(packages.items()))),
        version=_version(packages.values(), tables.values()),
    )


@lru_cache(maxsize=1)
def _shipped(folder: Path, state: tuple[tuple[str, int, int], ...]) -> tuple[Package, ...]:
    """Return the packages of a folder, read once as long as no file in it changes; tables do not change."""
    del state  # it only tells one reading from the next
    return tuple(discover(folder))


def _state(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Return name, time and size of every file of a folder of packages."""
    stated = ((str(path), path.stat()) for path in sorted(folder.glob("*/*")))
    return tuple((name, found.st_mtime_ns, found.st_size) for name, found in stated)


def _collected(packages: Iterable[Package]) -> dict[str, Table]:
    tables: dict[str, Table] = {}
    for package in packages:
        for key, table in package.tables.items():
            if key in tables:
                file = f"{package.name}/{DESCRIPTOR}"
                raise BadReferenceData(
                    file, None, f"the table '{key}' stands in the package '{tables[key].package}' too"
                )
            tables[key] = table
    return tables


SLIP = 10.0 * (1 - ROUNDING)
"""How many times a corrected number of a named row may not differ from what it replaces: a slip of the point is ten."""


def _check_replacement(shipped: Table, own: Table) -> None:
    """Raise where a table that replaces a shipped one lacks what the shipped one is asked for, or breaks its rules."""
    descriptor = f"{own.package}/{DESCRIPTOR}"
    given = {field.quantity: field for field in own.fields}
    for field in shipped.fields:
        other = given.get(field.quantity)
        if other is None or (other.numeric, other.dimension) != (field.numeric, field.dimension):
            reason = (
                f"replaces the table '{own.key}', but has no field of the quantity '{field.quantity}' and its dimension"
            )
            raise BadReferenceData(descriptor, None, reason)
    for part in (_lost_rows, _against_rules, _out_of_range, _off_by_a_decade):
        for row, header, reason in part(shipped, own):
            line = None if row is None else row + 2
            raise BadReferenceData(own.file, line, f"{reason}, as the table it replaces", header)


Wrong = tuple[int | None, str | None, str]
"""Place of a row, header of a column and reason."""


def _lost_rows(shipped: Table, own: Table) -> Iterator[Wrong]:
    """Yield the named rows, and the groups of rows, that stand in the shipped table only."""
    named = [shipped.quantity_of(shipped.primary_key)] if shipped.primary_key else []
    for columns in (named, list(shipped.rules.within)):
        if columns:
            wanted, found = (set(zip(*(table.text(name) for name in columns), strict=True)) for table in (shipped, own))
            for lost in sorted(wanted - found):
                yield None, None, f"must have a row '{', '.join(lost)}'"


def _against_rules(shipped: Table, own: Table) -> Iterator[Wrong]:
    yield from own.faults(shipped.rules)


def _out_of_range(shipped: Table, own: Table) -> Iterator[Wrong]:
    """Yield the cells that do not keep the constraints of the shipped column, compared in SI."""
    for field in shipped.fields:
        if not field.numeric:
            yield from _against_texts(field, own)
            continue
        convert = field.converter()
        if convert is None:
            continue
        header, column = own.header_of(field.quantity), own[field.quantity]
        if field.required and np.isnan(column).any():
            yield int(np.flatnonzero(np.isnan(column))[0]), header, f"{header} must not be empty"
        for name, beyond in (("minimum", np.less), ("maximum", np.greater)):
            if name in field.constraints:
                end = convert(str(field.constraints[name]))
                slack = abs(end) * ROUNDING
                for place in np.flatnonzero(beyond(column, end - slack if name == "minimum" else end + slack)):
                    cell, stated = own.text(field.quantity)[place], field.constraints[name]
                    yield int(place), header, f"{header} is '{cell}'; {name} {stated} {field.unit or ''}".rstrip()


def _against_texts(field: Field, own: Table) -> Iterator[Wrong]:
    for place, fault in field.faults(own.text(field.quantity)):
        yield place, own.header_of(field.quantity), f"{own.header_of(field.quantity)} {fault}"


def _off_by_a_decade(shipped: Table, own: Table) -> Iterator[Wrong]:
    """Yield the numbers of named rows that are more than ten times off, or of another sign."""
    if shipped.primary_key is None:
        return
    name = shipped.quantity_of(shipped.primary_key)
    before = {key: place for place, key in enumerate(shipped.text(name))}
    keys = own.text(name)
    shared = [(place, before[key]) for place, key in enumerate(keys) if key in before]
    for field in (field for field in shipped.fields if field.numeric):
        new, old, header = own[field.quantity], shipped[field.quantity], own.header_of(field.quantity)
        for place, place_before in shared:
            there, here = float(old[place_before]), float(new[place])
            if np.isnan(there) != np.isnan(here):
                yield (
                    place,
                    header,
                    f"{header} of '{own.text(name)[place]}' must be {'empty' if np.isnan(there) else 'given'}",
                )
            elif there and not np.isnan(there) and not 1 / SLIP < here / there < SLIP:
                yield place, header, f"{header} of '{own.text(name)[place]}' must lie within a factor of ten"


def _check_references(tables: Mapping[str, Table]) -> None:
    """Raise where a cell names a row of another table that is not there."""
    for table in tables.values():
        for quantity, there, header in table.rules.refers:
            if there not in tables:
                raise BadReferenceData(
                    f"{table.package}/{DESCRIPTOR}", None, f"refers to the table '{there}', which is missing"
                )
            known = {row[header] for row in tables[there].rows}
            empty = next(field.missing for field in table.fields if field.quantity == quantity)
            for place, cell in enumerate(table.text(quantity)):
                if cell not in known and cell not in empty:
                    column = table.header_of(quantity)
                    reason = f"{column} is '{cell}', which is no {header} of the table '{there}'"
                    raise BadReferenceData(table.file, place + 2, reason, column)


def _merged(shipped: Package | None, own: Package) -> Package:
    if shipped is None:
        return own
    return replace(own, tables={**shipped.tables, **own.tables}, examples=own.examples or shipped.examples)


def _version(packages: Iterable[Package], tables: Iterable[Table]) -> str:
    chosen = list(packages)
    in_use = [*tables, *(each.examples for each in chosen if each.examples)]
    digest = hashlib.sha256()
    for key, fingerprint in sorted((f"{each.package}/{each.key}", each.fingerprint) for each in in_use):
        digest.update(f"{key} {fingerprint}\n".encode())
    newest = max(each.created for each in chosen)
    return f"{newest[:4]}.{newest[5:7]}+{digest.hexdigest()[:8]}"


def _examples(package: Package) -> Iterable[WorkedExample]:
    for row in package.examples.rows if package.examples else ():
        texts = {name: text for name, text in row.items() if name != "inputs"}
        yield WorkedExample(package=package.name, inputs=MappingProxyType(json.loads(row["inputs"])), **texts)
