"""Insulating materials: tracking index and group, strength with thickness and method, permittivity, as published."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import source_block
from service.answers.registry import Registry
from service.errors import BadQuestion, Fault, UnknownName
from service.reference import Table

PROPERTIES: Mapping[str, tuple[str, str]] = {
    "CTI": ("tracking_index", "number"),
    "dielectric_strength": ("strength", "field"),
    "dielectric_breakdown": ("breakdown_voltage", "voltage"),
    "rel_permittivity": ("relative_permittivity", "number"),
}
"""Property as printed to result field and dimension; a tracking index is a number, the voltage of its test [V]."""


def catalogue(registry: Registry) -> list[dict[str, Any]]:
    """Return every material with every published figure, in the order of the table.

    Parameters
    ----------
    registry : Registry
    """
    table = registry.reference.table("materials")
    places: dict[str, list[int]] = {}
    for place, key in enumerate(table.text("material_key")):
        places.setdefault(key, []).append(place)
    return [_material(key, rows, table) for key, rows in places.items()]


def keys(registry: Registry) -> tuple[str, ...]:
    """Return the key of every material, in the order of the table."""
    return tuple(dict.fromkeys(registry.reference.table("materials").text("material_key")))


def find(registry: Registry, key: str, parameter: str = "material") -> dict[str, Any]:
    """Return one material of the catalogue.

    Parameters
    ----------
    registry : Registry
    key : str
        As the catalogue lists it.
    parameter : str
        Where the name was given, for the error.

    Raises
    ------
    BadQuestion
        When the name fits several materials; all of them are listed.
    UnknownName
        When it fits none.
    """
    listed = {entry["key"]: entry for entry in catalogue(registry)}
    if key in listed:
        return listed[key]
    fitting = _fitting(key, listed)
    if len(fitting) > 1:
        detail = f"{parameter} fits several materials: {', '.join(fitting)}; name one of them."
        raise BadQuestion(detail, [Fault(parameter, detail, fitting)])
    if fitting:
        detail = f"{parameter} knows this material as '{fitting[0]}'."
        raise UnknownName(detail, [Fault(parameter, detail, fitting)])
    raise UnknownName.among(parameter, key, listed)


def _fitting(text: str, listed: Mapping[str, Mapping[str, Any]]) -> tuple[str, ...]:
    wanted = _folded(text)
    if not wanted:
        return ()
    names = {key: [key, *entry["names"]] for key, entry in listed.items()}
    exact = tuple(key for key, known in names.items() if wanted in map(_folded, known))
    within = tuple(key for key, known in names.items() if any(wanted in _folded(name) for name in known))
    return within if len(within) > 1 or not exact else exact


def _folded(text: str) -> str:
    return "".join(character for character in text.casefold() if character.isalnum())


def _material(key: str, rows: list[int], table: Table) -> dict[str, Any]:
    entry: dict[str, Any] = {"key": key, "names": list(dict.fromkeys(table.text("material")[row] for row in rows))}
    groups = [group for row in rows if (group := table.text("material_group")[row])]
    if groups:
        entry["material_group"] = groups[0]
    for row in rows:
        name, dimension = PROPERTIES[table.text("property")[row]]
        entry.setdefault(name, []).append(figure(table, row, dimension))
    spreads = [_spread(name, entry[name]) for name, _ in PROPERTIES.values() if len(entry.get(name, ())) > 1]
    disagreement = [sentence for sentence in spreads if sentence]
    if disagreement:
        entry["disagreement"] = disagreement
    entry["source"] = source_block(table.source)
    return entry


def figure(table: Table, row: int, dimension: str) -> dict[str, Any]:
    """Return one published figure: value or range, method, thickness, group, provenance, doubts.

    Parameters
    ----------
    table : Table
        The table of materials.
    row : int
        Position of the row.
    dimension : str
        Of the property; ``number`` for a plain one.
    """
    low, high = float(table["value"][row]), float(table["value_high"][row])
    block: dict[str, Any] = {"as": table.text("material")[row]}
    block |= _shown(low, high, dimension)
    if np.isfinite(table["thickness"][row]):
        block["thickness"] = units.quantity(float(table["thickness"][row]), "length")
    texts = {"method": "method", "material_group": "material_group", "note": "note", "provenance": "provenance"}
    block |= {name: text for name, column in texts.items() if (text := table.text(column)[row])}
    if bool(table.doubtful[row]):
        block["doubtful"] = True
    return block


def _shown(low: float, high: float, dimension: str) -> dict[str, Any]:
    if np.isnan(low):
        return {"published": False}
    single = np.isnan(high)
    if dimension in units.DIMENSIONS:
        # a data sheet's breakdown voltage does not say whether it is peak or rms
        measure = "not-stated" if dimension == "voltage" else None
        if single:
            return units.quantity(low, dimension, measure=measure)
        return units.quantity(None, dimension, low=low, high=high, measure=measure)
    return {"value": low} if single else {"value": None, "low": low, "high": high}


def _spread(name: str, figures: list[dict[str, Any]]) -> str:
    ends = [figure[end] for figure in figures for end in ("value", "low", "high") if figure.get(end) is not None]
    lows = [figure["high"] if "high" in figure else figure.get("value") for figure in figures]
    highs = [figure["low"] if "low" in figure else figure.get("value") for figure in figures]
    tops, bottoms = [one for one in lows if one is not None], [one for one in highs if one is not None]
    if not ends or min(tops) >= max(bottoms):
        return ""
    unit = figures[0].get("unit", "")
    words = f"{min(ends):g} to {max(ends):g} {unit}".strip()
    what = name.replace("_", " ")
    why = "with grade, direction, thickness or source"
    return f"{what}: the published figures differ {why}, {words}; none is averaged."
