"""Insulating materials as published: strength, permittivity, tracking index; and the material group of a surface.

A surface belongs to a group as given, by tracking index, or by material: then the weakest published grade is taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from service import units
from service.answers.registry import Registry
from service.errors import BadQuestion, OutsideValidity, UnknownName
from service.parameters import Parameter, Question
from service.reference import Reference, Source, Table, once
from service.spoken import between
from service.units import Quantity

PROPERTIES: Mapping[str, tuple[str, str]] = {
    "CTI": ("tracking_index", "number"),
    "dielectric_strength": ("strength", "field"),
    "dielectric_breakdown": ("breakdown_voltage", "voltage"),
    "rel_permittivity": ("relative_permittivity", "number"),
}
"""Property as printed to result field and dimension; a tracking index is a number, the voltage of its test [V]."""


@dataclass(frozen=True)
class Published:
    """One published figure in SI: both ends of a range, equal of a single figure, NaN where none is published."""

    material: str
    low: float
    high: float
    dimension: str
    thickness: float | None
    method: str
    material_group: str
    note: str
    provenance: str
    doubtful: bool

    @property
    def known(self) -> bool:
        """Whether a figure is published."""
        return math.isfinite(self.low)

    def block(self) -> dict[str, object]:
        """Return the figure as answers show it."""
        block: dict[str, object] = {"as": self.material, **self._value()}
        if self.thickness is not None:
            block["thickness"] = Quantity(self.thickness, "length")
        texts = {name: getattr(self, name) for name in ("method", "material_group", "note", "provenance")}
        block |= {name: text for name, text in texts.items() if text}
        return block | ({"doubtful": True} if self.doubtful else {})

    def _value(self) -> Mapping[str, object]:
        if not self.known:
            return {"published": False}
        if self.dimension not in units.DIMENSIONS:
            same = self.low == self.high
            return {"value": self.low} if same else {"value": None, "low": self.low, "high": self.high}
        # a data sheet's breakdown voltage does not say whether it is peak or rms
        measure = "not-stated" if self.dimension == "voltage" else None
        if self.low == self.high:
            return Quantity(self.low, self.dimension, measure=measure).block()
        return Quantity(None, self.dimension, low=self.low, high=self.high, measure=measure).block()


@dataclass(frozen=True, eq=False)
class Material:
    """A material with every published figure, by result field, in the order of the table."""

    key: str
    names: tuple[str, ...]
    figures: Mapping[str, tuple[Published, ...]]
    source: Source

    def known(self, name: str) -> list[Published]:
        """Return the figures of a property that are published."""
        return [one for one in self.figures.get(name, ()) if one.known]

    def ends(self, name: str) -> tuple[float, ...]:
        """Return the lowest and the highest published value of a property, one of them where they are equal."""
        values = [end for one in self.known(name) for end in (one.low, one.high)]
        return tuple(dict.fromkeys((min(values), max(values)))) if values else ()

    def blocks(self, name: str) -> list[dict[str, object]]:
        """Return the figures of a property as answers show them."""
        return [one.block() for one in self.figures.get(name, ())]

    def block(self, groups: Table) -> dict[str, object]:
        """Return the material as the catalogue shows it; ``groups`` are the material groups of IEC 60664-1."""
        entry: dict[str, object] = {"key": self.key, "names": list(self.names)}
        indices = self.ends("tracking_index")
        group = group_of(min(indices), groups) if indices else None
        entry |= {"material_group": group} if group else {}
        entry |= {name: self.blocks(name) for name in self.figures}
        disagreement = self.disagreement()
        return entry | ({"disagreement": disagreement} if disagreement else {}) | {"source": self.source.block()}

    def disagreement(self) -> list[str]:
        """Return a sentence for every property whose published figures exclude each other."""
        return [sentence for name, _ in PROPERTIES.values() if (sentence := self._spread(name))]

    def _spread(self, name: str) -> str:
        known = self.known(name)
        if not known or min(one.high for one in known) >= max(one.low for one in known):
            return ""
        dimension = known[0].dimension
        ends = self.ends(name)
        kind = units.DIMENSIONS.get(dimension)
        words = between(min(ends), max(ends), dimension, unit=kind.shown) if kind else f"{min(ends):g} to {max(ends):g}"
        what = name.replace("_", " ")
        why = "with grade, direction, thickness or source"
        return f"{what}: the published figures differ {why}, {words}; none is averaged."


def catalogue(registry: Registry) -> list[dict[str, object]]:
    """Return every material with every published figure, in the order of the table."""
    groups = registry.reference.table("iec-60664-1-material-groups")
    return [material.block(groups) for material in all_materials(registry.reference).values()]


def keys(registry: Registry) -> tuple[str, ...]:
    """Return the key of every material, in the order of the table."""
    return tuple(all_materials(registry.reference))


@once
def all_materials(reference: Reference) -> Mapping[str, Material]:
    """Return every material by key, in the order of the table."""
    table = reference.table("materials")
    places: dict[str, list[int]] = {}
    for place, key in enumerate(table.text("material_key")):
        places.setdefault(key, []).append(place)
    return {key: _material(key, rows, table) for key, rows in places.items()}


def _material(key: str, rows: list[int], table: Table) -> Material:
    figures: dict[str, list[Published]] = {}
    for row in rows:
        name, dimension = PROPERTIES[table.text("property")[row]]
        figures.setdefault(name, []).append(_published(table, row, dimension))
    names = tuple(dict.fromkeys(table.text("material")[row] for row in rows))
    return Material(key, names, {name: tuple(found) for name, found in figures.items()}, table.source)


def _published(table: Table, row: int, dimension: str) -> Published:
    low, high = float(table["value"][row]), float(table["value_high"][row])
    thickness = float(table["thickness"][row])
    return Published(
        material=table.text("material")[row],
        low=low,
        high=low if math.isnan(high) else high,
        dimension=dimension,
        thickness=thickness if math.isfinite(thickness) else None,
        method=table.text("method")[row],
        material_group=table.text("material_group")[row],
        note=table.text("note")[row],
        provenance=table.provenance[row],
        doubtful=bool(table.doubtful[row]),
    )


def material_of(registry: Registry, key: str) -> Material:
    """Return one material.

    Raises
    ------
    BadQuestion
        When the name fits several materials; all of them are listed.
    UnknownName
        When it fits none.
    """
    listed = all_materials(registry.reference)
    if key in listed:
        return listed[key]
    fitting = _fitting(key, listed)
    if len(fitting) > 1:
        detail = f"material fits several materials: {', '.join(fitting)}; name one of them."
        raise BadQuestion.about("material", detail, fitting)
    if fitting:
        detail = f"material knows this material as '{fitting[0]}'."
        raise UnknownName.about("material", detail, fitting)
    raise UnknownName.among("material", key, listed)


def _fitting(text: str, listed: Mapping[str, Material]) -> tuple[str, ...]:
    wanted = _folded(text)
    if not wanted:
        return ()
    names = {key: [key, *material.names] for key, material in listed.items()}
    exact = tuple(key for key, known in names.items() if wanted in map(_folded, known))
    within = tuple(key for key, known in names.items() if any(wanted in _folded(name) for name in known))
    return within if len(within) > 1 or not exact else exact


def _folded(text: str) -> str:
    return "".join(character for character in text.casefold() if character.isalnum())


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
        Parameter(
            "cti",
            "text",
            "Comparative tracking index in place of the group, 400 or 400V.",
            example="400",
            excludes=("material_group",),
        ),
        Parameter(
            "material",
            "text",
            "Material in place of the group; its weakest published grade is taken.",
            example=keys(registry)[0],
            excludes=("material_group", "cti"),
        ),
    )


@dataclass(frozen=True)
class CreepageSurface:
    """What a creepage path runs along.

    Parameters
    ----------
    group : str
        Material group.
    why : str
        Where the group comes from, with its provenance.
    """

    group: str
    why: str
    notes: tuple[str, ...] = ()


def surface_of(question: Question, registry: Registry) -> CreepageSurface:
    """Return what a question says of the surface.

    Raises
    ------
    BadQuestion
        When it is said twice, or cannot be read.
    OutsideValidity
        When the tracking index is below every group.
    """
    given = [name for name in ("material_group", "cti", "material") if question.given(name)]
    if len(given) > 1:
        raise BadQuestion.contradiction(given[0], given[1])
    if given == ["cti"]:
        return _by_index(tracking_index(question.key("cti")), registry)
    if given == ["material"]:
        return _by_material(material_of(registry, question.key("material")), registry)
    assumed = "" if given else ", assumed"
    return CreepageSurface(
        question.key("material_group"), f"material group as {'given' if given else 'by default'}{assumed}"
    )


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
        raise BadQuestion.about("cti", detail, accepted) from error


def group_of(index: float, table: Table) -> str | None:
    """Return the material group of a tracking index [V]; ``None`` below every group.

    Parameters
    ----------
    table : Table
        Material groups of IEC 60664-1.
    """
    reached = [
        (float(lowest), name)
        for lowest, name in zip(table["cti_from"], table.text("material_group"), strict=True)
        if index >= lowest
    ]
    return max(reached)[1] if reached else None


def _by_index(index: float, registry: Registry) -> CreepageSurface:
    table = registry.reference.table("iec-60664-1-material-groups")
    group = group_of(index, table)
    if group is None:
        lowest = float(table["cti_from"].min())
        detail = (
            f"The material groups begin at a tracking index of {lowest:g}. Change the design: a material of higher "
            "index, or a coating or potting over this one that bears the surface."
        )
        raise OutsideValidity.about("cti", detail, valid={"low": lowest})
    origin = table.where(material_group=group).provenance[0]
    return CreepageSurface(group, f"tracking index {index:g}: group {group} ({origin})")


def _by_material(material: Material, registry: Registry) -> CreepageSurface:
    table = registry.reference.table("iec-60664-1-material-groups")
    figures = material.known("tracking_index")
    if not figures:
        rules = registry.reference.table("iec-60664-1-rules")
        group = str(rules.row("unknown_material_group")["value"])
        return CreepageSurface(group, f"unknown tracking index: group {group}", tuple(_unpublished(material, group)))
    weakest = min(figures, key=lambda one: one.low)
    group = group_of(weakest.low, table) or GROUPS[-1]
    doubt = "; doubtful" if weakest.doubtful else ""
    why = f"{weakest.material}, tracking index {weakest.low:g}: group {group} ({weakest.provenance}{doubt})"
    return CreepageSurface(group, why, tuple(_notes(material.key, weakest, group)))


def _unpublished(material: Material, group: str) -> Iterator[str]:
    yield f"No tracking index of {material.key} is published here: it is treated as group {group}."
    figures = material.figures.get("tracking_index", ())
    if any(figure.method == NON_TRACKING for figure in figures):
        yield "For glass, mica and ceramics, which do not track, the standard lets the creepage equal the clearance."
    for figure in figures:
        if figure.method != NON_TRACKING and figure.note:
            yield f"Tracking index of {material.key}: {figure.note}."


def _notes(key: str, figure: Published, group: str) -> Iterator[str]:
    if figure.low != figure.high:
        words = f"{figure.low:g} to {figure.high:g}"
        yield f"The tracking index of {key} is published as {words}; its low end, group {group}, is taken."
    if figure.method == NON_TRACKING:
        yield f"{key} does not track: the standard lets the creepage equal the clearance."
    if figure.note:
        yield f"Tracking index of {key}: {figure.note}."
