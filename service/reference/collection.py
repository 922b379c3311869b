"""All reference data in use: the shipped packages, and a lab's own laid over them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from service.errors import BadReferenceData, NotFound, did_you_mean, echo
from service.reference.package import DESCRIPTOR, Package, discover
from service.reference.table import Table

SERVICE = Path(__file__).resolve().parent.parent
"""Folder of the package ``service``."""


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

    tables: Mapping[str, Table]
    packages: Mapping[str, Package]
    version: str

    def table(self, key: str) -> Table:
        """Return a table.

        Parameters
        ----------
        key : str
            Its name.

        Raises
        ------
        NotFound
            When no package holds a table of that name.
        """
        if key not in self.tables:
            raise NotFound(f"There is no table '{echo(key)}'{did_you_mean(key, self.tables)}.")
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
            raise NotFound(f"There is no data package '{echo(package)}'{did_you_mean(package, self.packages)}.")
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
    packages = {each.name: each for each in discover(shipped_folder())}
    tables = _collected(packages.values())
    if overlay is not None:
        laid_over = list(discover(overlay))
        replacing = _collected(laid_over)
        for key in tables.keys() & replacing.keys():
            _check_replacement(tables[key], replacing[key])
        tables |= replacing
        packages |= {each.name: _merged(packages.get(each.name), each) for each in laid_over}
    return Reference(
        tables=MappingProxyType(dict(sorted(tables.items()))),
        packages=MappingProxyType(dict(sorted(packages.items()))),
        version=_version(packages.values(), tables.values()),
    )


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


def _check_replacement(shipped: Table, own: Table) -> None:
    wanted = {field.quantity: field for field in shipped.fields}
    given = {field.quantity: field for field in own.fields}
    for quantity, field in wanted.items():
        other = given.get(quantity)
        if other is None or (other.numeric, other.dimension) != (field.numeric, field.dimension):
            reason = f"replaces the table '{own.key}', but has no field of the quantity '{quantity}' and its dimension"
            raise BadReferenceData(f"{own.package}/{DESCRIPTOR}", None, reason)


def _merged(shipped: Package | None, own: Package) -> Package:
    if shipped is None:
        return own
    return Package(
        name=own.name,
        title=own.title,
        version=own.version,
        created=own.created,
        licenses=own.licenses,
        sources=own.sources,
        tables={**shipped.tables, **own.tables},
        examples=own.examples or shipped.examples,
    )


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
