"""The catalogues: electrodes, methods, units, sources, gases, materials, tables; each a list of what there is."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from service import units
from service.answers.blocks import method_block
from service.answers.registry import Registry
from service.lookups import gases
from service.methods import Arrangement
from service.parameters import Parameter
from service.reference import Table
from service.standards import materials

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
    "gases": ("Gases", gases.catalogue),
    "electrodes": ("Electrode arrangements", electrodes),
    "methods": ("Methods", methods),
    "materials": ("Insulating materials", materials.catalogue),
    "units": ("Accepted units", dimensions),
    "sources": ("Sources", sources),
    "tables": ("Reference tables", tables),
}
"""Path segment to title and content."""

DETAILS: Mapping[str, Callable[[Registry, str], dict[str, object]]] = {"gases": gases.detail}
"""Catalogues whose single entries say more than their line in the list."""
