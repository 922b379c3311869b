"""Insulating materials as published: strength, permittivity, tracking index; and the material group of a surface.

A surface belongs to a group as given, by tracking index, or by material: then the weakest published grade is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import source_block
from service.answers.registry import Registry
from service.errors import BadQuestion, Fault, OutsideValidity, UnknownName
from service.parameters import Parameter, Question
from service.reference import Table
from service.standards.asking import contradiction

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


# the group of a surface

GROUPS = ("I", "II", "III", "IIIa", "IIIb")
"""III stands for IIIa and IIIb where both ask for the same."""
NON_TRACKING = "not tracking"
"""Method of a tracking index that was not measured because the material is inorganic."""


def parameters(registry: Registry) -> tuple[Parameter, ...]:
    """Return the three ways to say what the surface is made of.

    Parameters
    ----------
    registry : Registry
        For the materials.
    """
    return (
        Parameter("material_group", "choice", "Material group by tracking index.", default="IIIa", choices=GROUPS),
        Parameter("cti", "text", "Comparative tracking index in place of the group, 400 or 400V.", example="400"),
        Parameter(
            "material",
            "text",
            "Material in place of the group; its weakest published grade is taken.",
            example=keys(registry)[0],
        ),
    )


@dataclass(frozen=True)
class Surface:
    """What a creepage path runs along.

    Parameters
    ----------
    group : str
        Material group.
    why : str
        Where the group comes from, with its provenance.
    notes : tuple of str
    """

    group: str
    why: str
    notes: tuple[str, ...] = ()


def surface_of(question: Question, registry: Registry) -> Surface:
    """Return what a question says of the surface.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    BadQuestion
        When it is said twice, or cannot be read.
    OutsideValidity
        When the tracking index is below every group.
    """
    given = [name for name in ("material_group", "cti", "material") if question.given(name)]
    if len(given) > 1:
        raise contradiction(given[0], given[1])
    if given == ["cti"]:
        return _by_index(tracking_index(question.key("cti")), registry)
    if given == ["material"]:
        return _by_material(find(registry, question.key("material")), registry)
    assumed = "" if given else ", assumed"
    return Surface(question.key("material_group"), f"material group as {'given' if given else 'by default'}{assumed}")


def as_asked(question: Question) -> Question:
    """Return the question without the default group where a tracking index or a material says it instead."""
    if not (question.given("cti") or question.given("material")):
        return question
    values = {name: value for name, value in question.values.items() if name != "material_group"}
    return replace(question, values=values)


def tracking_index(text: str) -> float:
    """Return a comparative tracking index from ``400`` or ``400V``.

    Raises
    ------
    BadQuestion
        When it is neither.
    """
    accepted = ("400", "400V")
    if units.PLAIN_NUMBER.fullmatch(text) and len(text) <= units.LONGEST and 0 < float(text) < np.inf:
        return float(text)
    try:
        return units.read("cti", text, "voltage")
    except BadQuestion as error:
        detail = "cti is a tracking index: a plain number, or volts, as 400 or 400V."
        raise BadQuestion(detail, [Fault("cti", detail, accepted)]) from error


def group_of(index: float, table: Table) -> str | None:
    """Return the material group of a tracking index [V]; ``None`` below every group.

    Parameters
    ----------
    index : float
    table : Table
        Material groups of IEC 60664-1.
    """
    reached = [
        (float(lowest), name)
        for lowest, name in zip(table["cti_from"], table.text("material_group"), strict=True)
        if index >= lowest
    ]
    return max(reached)[1] if reached else None


def _by_index(index: float, registry: Registry) -> Surface:
    table = registry.reference.table("iec-60664-1-material-groups")
    group = group_of(index, table)
    if group is None:
        lowest = float(table["cti_from"].min())
        detail = (
            f"The material groups begin at a tracking index of {lowest:g}. Change the design: a material of higher "
            "index, or a coating or potting over this one that bears the surface."
        )
        raise OutsideValidity(detail, [Fault("cti", detail, (), {"low": lowest})])
    origin = table.where(material_group=group).provenance[0]
    return Surface(group, f"tracking index {index:g}: group {group} ({origin})")


def _by_material(entry: dict[str, Any], registry: Registry) -> Surface:
    table = registry.reference.table("iec-60664-1-material-groups")
    every = entry.get("tracking_index", ())
    figures = [figure for figure in every if figure.get("published", True)]
    if not figures:
        rules = registry.reference.table("iec-60664-1-rules")
        group = str(rules.row("unknown_material_group")["value"])
        return Surface(group, f"unknown tracking index: group {group}", tuple(_unpublished(entry["key"], every, group)))
    lowest = min(float(figure["low"] if figure.get("value") is None else figure["value"]) for figure in figures)
    weakest = next(f for f in figures if lowest in (f.get("value"), f.get("low")))
    group = group_of(lowest, table) or GROUPS[-1]
    doubt = "; doubtful" if weakest.get("doubtful") else ""
    why = f"{weakest['as']}, tracking index {lowest:g}: group {group} ({weakest['provenance']}{doubt})"
    return Surface(group, why, tuple(_notes(entry["key"], weakest, group)))


def _unpublished(key: str, figures: Sequence[Mapping[str, Any]], group: str) -> Iterator[str]:
    yield f"No tracking index of {key} is published here: it is treated as group {group}."
    if any(figure.get("method") == NON_TRACKING for figure in figures):
        yield "For glass, mica and ceramics, which do not track, the standard lets the creepage equal the clearance."
    for figure in figures:
        if figure.get("method") != NON_TRACKING and "note" in figure:
            yield f"Tracking index of {key}: {figure['note']}."


def _notes(key: str, figure: dict[str, Any], group: str) -> list[str]:
    notes = []
    if figure.get("value") is None and figure["low"] != figure["high"]:
        words = f"{figure['low']:g} to {figure['high']:g}"
        notes.append(f"The tracking index of {key} is published as {words}; its low end, group {group}, is taken.")
    if figure.get("method") == NON_TRACKING:
        notes.append(f"{key} does not track: the standard lets the creepage equal the clearance.")
    if "note" in figure:
        notes.append(f"Tracking index of {key}: {figure['note']}.")
    return notes
