"""The catalogues: electrodes, methods, units, sources, gases, materials, tables; each a list of what there is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from service import units
from service.answers.cautions import cautions
from service.answers.document import Shown
from service.answers.lookup import method_block
from service.answers.registry import Registry
from service.errors import NotFound, did_you_mean, quoted
from service.methods import Arrangement, Method
from service.parameters import Parameter
from service.reference import Table
from service.standards import materials
from service.units import Quantity, Series


def catalogue(registry: Registry) -> list[dict[str, object]]:
    """Return every gas: key, title, kind, formula, and the methods between plates in order of trust."""
    return [_line(registry, i) for i in range(len(registry.reference.table("gases")))]


def _line(registry: Registry, row: int) -> dict[str, object]:
    table = registry.reference.table("gases")
    said = {name: table.text(name)[row] for name in ("key", "title", "kind", "formula")}
    return {name: text for name, text in said.items() if text} | {
        "methods": [method.key for method in _methods(registry, said["key"])]
    }


def _methods(registry: Registry, key: str) -> list[Method]:
    return [m for m in registry.plates.methods if key in m.validity.gases]


def detail(registry: Registry, key: str) -> dict[str, object]:
    """Return what is known of a gas.

    Raises
    ------
    NotFound
        When there is no such gas.
    """
    table = registry.reference.table("gases")
    keys = table.text("key")
    if key not in keys:
        raise NotFound(f"There is no gas '{quoted(key)}'{did_you_mean(key, keys)}.")
    row = keys.index(key)
    block = _line(registry, row)
    block |= {name: table.text(name)[row] for name in ("purity", "doubts", "provenance") if table.text(name)[row]}
    block |= _ranges(registry, row)
    block["methods"] = _method_blocks(registry, key)
    block["minima"] = minima(registry, key)
    block["coefficients"] = coefficients(registry, key)
    block["secondary_coefficients"] = _rows(registry, "gamma-secondary", key)
    block["critical_fields"] = _rows(registry, "critical-fields", key)
    points = measured_points(registry, key)
    if points:
        block["measured_points"] = points
    block["cautions"] = cautions(("estimate",), table.text("cautions")[row].split())
    return block


def _ranges(registry: Registry, row: int) -> dict[str, object]:
    table = registry.reference.table("gases")
    block: dict[str, object] = {"temperature_to": Quantity(float(table["temperature_to"][row]), "temperature")}
    secondary = float(table["secondary"][row])
    if np.isfinite(secondary):
        block["default_gamma_of_closed_forms"] = secondary
    ends = [float(table[f"fraction_{end}"][row]) for end in ("from", "to")]
    if np.isfinite(ends).all():
        block["fraction"] = {
            "low": Quantity(ends[0], "fraction"),
            "high": Quantity(ends[1], "fraction"),
        }
    return block


@dataclass(frozen=True)
class PublishedMinimum(Shown):
    """A published minimum of a Paschen curve, with its cathode."""

    cathode: str
    pd: Quantity
    voltage: Quantity
    source: str
    provenance: str


def minima(registry: Registry, key: str) -> list[PublishedMinimum]:
    """Return every published minimum of a gas with its cathode and source; positions disagree by 10 to 130 %."""
    table = registry.reference.table("paschen-minima")
    rows = [i for i, gas in enumerate(table.text("gas_key")) if gas == key]
    return [
        PublishedMinimum(
            table.text("cathode")[i],
            Quantity(float(table["pd"][i]), "pd"),
            Quantity(float(table["voltage"][i]), "voltage", unit="V"),
            table.text("row_source")[i],
            table.provenance[i],
        )
        for i in rows
    ]


def coefficients(registry: Registry, key: str) -> list[dict[str, object]]:
    """Return the printed constants of the closed forms of a gas, with their range and source."""
    return _rows(registry, "townsend-ab", key)


def _rows(registry: Registry, name: str, key: str) -> list[dict[str, object]]:
    """Return the rows of a table that belong to a gas, as printed."""
    table = registry.reference.table(name)
    names = [field.name for field in table.fields if field.quantity not in ("gas", "gas_key")]
    rows = [row for row, gas in zip(table.rows, table.text("gas_key"), strict=True) if gas == key]
    source = table.source.block()
    return [
        {**{cell: row[cell] for cell in names if row[cell]}, "table": table.key, "table_source": source["key"]}
        for row in rows
    ]


def _method_blocks(registry: Registry, key: str) -> list[dict[str, object]]:
    """Return the methods between plates in order of trust, each with the note of its row."""
    table = registry.reference.table("gas-methods")
    notes = dict(zip(table.text("key"), table.text("note"), strict=True))
    return [
        method_block(method) | ({"note": notes[method.key]} if notes.get(method.key) else {})
        for method in _methods(registry, key)
    ]


def measured(registry: Registry, key: str) -> Table:
    """Return the table of the measured points of a gas, maybe without rows."""
    return registry.reference.table("norman-2022-points").where(gas_key=key)


def measured_points(registry: Registry, key: str) -> dict[str, object]:
    """Return the measured points of a gas in columns; empty where there are none."""
    table = measured(registry, key)
    if not len(table):
        return {}
    return {
        "gap": Series(table["gap"], "length"),
        "pressure": Series(table["pressure"], "pressure"),
        "pd": Series(table["gap"] * table["pressure"], "pd"),
        "voltage": Series(table["voltage"], "voltage", unit="V"),
        "source": table.source.block(),
    }


Entries = list[dict[str, object]]


def electrodes(registry: Registry) -> Entries:
    """Return every arrangement: what it is on a bench, its sizes, its methods in order of trust."""
    return [_arrangement(item) for item in registry.arrangements.values()]


def _arrangement(item: Arrangement) -> dict[str, object]:
    block: dict[str, object] = {"key": item.key, "title": item.title, "on_the_bench": item.on_the_bench}
    block["parameters"] = [parameter_block(parameter) for parameter in item.parameters]
    block["methods"] = [method.key for method in item.methods]
    return block


def parameter_block(parameter: Parameter) -> dict[str, object]:
    """Return the declaration of a parameter; parts that do not apply are absent."""
    block: dict[str, object] = {"name": parameter.name, "dimension": parameter.dimension, "meaning": parameter.meaning}
    parts = {
        "required": parameter.required,
        "default": parameter.default,
        "choices": list(parameter.choices),
        "example": parameter.example,
    }
    return block | {name: part for name, part in parts.items() if part} | parameter.bounds()


def methods(registry: Registry) -> Entries:
    """Return every method with the arrangements that it answers for."""
    users: dict[str, dict[str, None]] = {}  # in order, each arrangement once
    for arrangement in registry.arrangements.values():
        for method in arrangement.methods:
            users.setdefault(method.key, {})[arrangement.key] = None
    return [method_block(method) | {"electrodes": list(users[key])} for key, method in sorted(registry.methods.items())]


def dimensions(registry: Registry) -> Entries:
    """Return every dimension with its accepted spellings and the unit of answers."""
    del registry  # every catalogue is asked alike
    return [
        {"key": key, "title": kind.title, "unit_in_answers": kind.shown, "accepted": list(kind.spellings)}
        for key, kind in units.DIMENSIONS.items()
    ]


def sources(registry: Registry) -> Entries:
    """Return every data package with its sources, licences and tables."""
    return [
        {
            "key": name,
            "title": package.title,
            "version": package.version,
            "sources": [dict(source) for source in package.sources],
            "licenses": [dict(licence) for licence in package.licenses],
            "tables": list(package.tables),
        }
        for name, package in registry.reference.packages.items()
    ]


def tables(registry: Registry) -> Entries:
    """Return every table: title, source, number of rows, provenance words, doubts."""
    return [table_block(table) for table in registry.reference.tables.values()]


def table_block(table: Table) -> dict[str, object]:
    """Return what a table says of itself, without its rows."""
    block: dict[str, object] = {"key": table.key, "title": table.title, "package": table.package}
    block["source"] = table.source.block()
    block["rows"] = len(table)
    block["provenance"] = list(table.provenance_words)
    block["cells"] = dict(table.cells_by_provenance)
    block |= table.description.block()
    block["checked_against"] = [dict(check) for check in table.checked_against]
    return block


CATALOGUES: Mapping[str, tuple[str, Callable[[Registry], Entries]]] = {
    "gases": ("Gases", catalogue),
    "electrodes": ("Electrode arrangements", electrodes),
    "methods": ("Methods", methods),
    "materials": ("Insulating materials", materials.catalogue),
    "units": ("Accepted units", dimensions),
    "sources": ("Sources", sources),
    "tables": ("Reference tables", tables),
}
"""Path segment to title and content."""

DETAILS: Mapping[str, Callable[[Registry, str], dict[str, object]]] = {"gases": detail}
"""Catalogues whose single entries say more than their line in the list."""
