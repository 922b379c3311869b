"""Which material group a surface belongs to: as given, by tracking index, or by material; the weakest where unclear."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service import units
from service.answers.registry import Registry
from service.errors import BadQuestion, Fault, OutsideValidity
from service.parameters import Parameter, Question
from service.reference import Table
from service.standards import materials
from service.standards.asking import contradiction

GROUPS = ("I", "II", "IIIa", "IIIb")
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
            example=materials.keys(registry)[0],
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
        return _by_material(materials.find(registry, question.key("material")), registry)
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
        detail = f"The material groups begin at a tracking index of {lowest:g}."
        raise OutsideValidity(detail, [Fault("cti", detail, (), {"low": lowest})])
    origin = table.where(material_group=group).provenance[0]
    return Surface(group, f"tracking index {index:g}: group {group} ({origin})")


def _by_material(entry: dict[str, Any], registry: Registry) -> Surface:
    table = registry.reference.table("iec-60664-1-material-groups")
    figures = [figure for figure in entry.get("tracking_index", ()) if figure.get("published", True)]
    if not figures:
        rules = registry.reference.table("iec-60664-1-rules")
        group = str(rules.row("unknown_material_group")["value"])
        note = (
            f"No tracking index of {entry['key']} is published here: it is treated as group {group}. For glass, mica "
            "and ceramics, which do not track, the standard lets the creepage equal the clearance."
        )
        return Surface(group, f"unknown tracking index: group {group}", (note,))
    lowest = min(float(figure["low"] if figure.get("value") is None else figure["value"]) for figure in figures)
    weakest = next(f for f in figures if lowest in (f.get("value"), f.get("low")))
    group = group_of(lowest, table) or GROUPS[-1]
    why = f"{weakest['as']}, tracking index {lowest:g}: group {group} ({weakest['provenance']})"
    return Surface(group, why, tuple(_notes(entry["key"], weakest, group)))


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
