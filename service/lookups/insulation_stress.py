"""/v1/insulation-stress: the field in a solid layer and the air film beside it, with published strength; no verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from service.answers.document import Echo
from service.answers.evaluate import Evaluation
from service.answers.lookup import Answer, Lead, Lookup, chosen_method, spread
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, Atmosphere, read_atmosphere
from service.errors import BadQuestion
from service.parameters import Parameter, Question
from service.reference import Table
from service.spoken import said, span_of, told
from service.standards import materials
from service.standards.materials import Material
from service.standards.requirement import distance
from service.standards.solid import FilmBreakdown, Layer, film_breakdown, film_inception, weakest_film
from service.units import Quantity

RESULTS: Mapping[str, str] = {
    "solid_field": "Largest field in the solid.",
    "air_film_field": "Largest field in the air film, at the surface of the solid.",
    "air_film_voltage": "Voltage across the film.",
    "air_film_inception": "Voltage across solid and film together at which the film breaks down; peak.",
    "air_film_weakest": "Thickness of the film that breaks down first, where none was given.",
    "strength": "Every published strength of the material, with thickness, method and provenance.",
    "breakdown_voltage": "Published breakdown voltages of one thickness.",
    "relative_permittivity": "What was taken.",
}
SOURCE = "kuffel-zaengl-kuffel-2000"
"""Key of the textbook that has layers in series."""
THICK = (
    "Thick, aged or voided insulation holds far less per millimetre than the published strength of a thin new sample: "
    "strength falls with thickness (roughly to the power -0.3 to -0.5) and cannot be carried over to another thickness."
)
VOIDS = (
    "Partial discharge in a film or void eats the solid away in hours to years at voltages far below its short-time "
    "breakdown."
)
WIRE = (
    "A hand or an earthed part beside an insulated wire is the outer electrode; it leaves a film of air of unknown "
    "thickness."
)
DIRECT = (
    "At lasting direct voltage the resistances share the voltage, not the permittivities: solid and film may differ."
)
NO_FILM = (
    "No air_film was given: its field is that of a film much thinner than the solid, which a surface laid against it "
    "always leaves. The voltage at which a film breaks down depends on its thickness: shown is that of the film which "
    "breaks down first (air_film_weakest, found between plates); give air_film for one of known thickness."
)
PARAMETERS = (
    Parameter("voltage", "voltage", "Peak voltage across the layer.", required=True, example="12kV"),
    Parameter("thickness", "length", "Thickness of the solid.", required=True, example="0.8mm"),
    Parameter("permittivity", "number", "Relative permittivity of the solid.", low=1.0, high=1e4, example="2.3"),
    Parameter("conductor_diameter", "length", "Diameter of a round conductor inside the solid.", example="1mm"),
    Parameter("air_film", "length", "Thickness of the air between the solid and the next electrode.", example="0.1mm"),
)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    material = Parameter(
        "material", "text", "Material of the solid, as /v1/materials lists it.", example=materials.keys(registry)[0]
    )
    return Lookup(
        "insulation-stress",
        "Stress of solid insulation",
        "The field in a solid layer and in the air film beside it, beside published strength and air breakdown.",
        (*PARAMETERS[:2], material, *PARAMETERS[2:], *ATMOSPHERE),
        lambda question: answer(question, registry),
        example="voltage=12kV&thickness=0.8mm&material=polyethylene&conductor_diameter=1mm&air_film=0.1mm",
        more=("voltage=12kV&thickness=0.8mm&material=fr-4", "voltage=12kV&thickness=0.8mm&permittivity=4"),
        results=RESULTS,
        keeps_question=True,
        one_of=(("material",), ("permittivity",)),
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the stress of a layer.

    Raises
    ------
    BadQuestion
        When neither material nor permittivity is given, or the material has no published permittivity but needs one.
    """
    material = materials.material_of(registry, question.key("material")) if "material" in question else None
    layer = _layer(question, material)
    air = read_atmosphere(question, registry)
    weakest = weakest_film(layer, air.case, registry)
    film = film_breakdown(weakest or layer, air.case, registry)
    stress = Stress.of(layer, film, weakest)
    return Answer(
        "insulation-stress",
        _asked(question, air),
        stress.fields() | _published(material),
        _method(film, registry.reference.table("source-citations")),
        notes=[*stress.notes, *_strength_notes(layer, material), *air.notes],
        cautions=("insulated-wire", "not-a-barrier", "local-codes"),
        lead=_lead(layer, stress),
    )


def _lead(layer: Layer, stress: Stress) -> Lead:
    """Return what is read first: from which voltage the air beside the solid may discharge, and whether it does."""
    volts, caution = f"{said(layer.voltage, 'voltage')} peak", "insulated-wire"
    solid = span_of(stress.solid_field)
    if stress.starts is None:
        why = (
            "no permittivity of it is published here" if not layer.permittivities else "no method answers for the film"
        )
        sentence = (
            f"When the air beside the solid discharges is not known: {why}. At {volts} the field in the solid is "
        )
        sentence += f"{solid}."
        return Lead(sentence, "Air beside it discharges from", "not known", caution)
    whole = stress.starts.whole
    from_ = told(whole, "low", toward="down")
    if whole.high is not None and layer.voltage > whole.high:
        verdict = "the air beside the solid discharges"
    elif whole.low is None or layer.voltage >= whole.low:
        verdict = "the air beside the solid may discharge"
    else:
        verdict = "below the voltage from which the air beside the solid may discharge"
    of = f"it may begin at {from_}"
    if stress.film_voltage is not None:
        of += f"; across the film are {span_of(stress.film_voltage)}, and it breaks down at "
        of += span_of(stress.starts.film)
    return Lead(f"At {volts}: {verdict}. {of[:1].upper()}{of[1:]}.", "Air beside it may discharge from", from_, caution)


def _layer(question: Question, material: Material | None) -> Layer:
    film = question.optional("air_film")
    return Layer(
        question.number("voltage"),
        question.number("thickness"),
        _permittivities(question, material, film),
        question.optional("conductor_diameter"),
        film,
    )


def _permittivities(question: Question, material: Material | None, film: float | None) -> tuple[float, ...]:
    if "permittivity" in question:
        return (question.number("permittivity"),)
    if material is None:
        detail = "material or permittivity is needed, the material to see its strength."
        raise BadQuestion.about(("material", "permittivity"), detail)
    published = material.ends("relative_permittivity")
    if published:
        return published
    if film is not None:
        detail = f"No permittivity of {material.key} is published here: give permittivity for the air film."
        raise BadQuestion.about(("permittivity",), detail)
    return ()


@dataclass(frozen=True)
class Stress:
    """The fields of a layer and of the air beside it, and when that air discharges."""

    layer: Layer
    solid_field: Quantity
    film_field: Quantity | None
    film_voltage: Quantity | None
    starts: FilmBreakdown | None
    weakest: Layer | None
    without_method: bool

    @classmethod
    def of(cls, layer: Layer, film: Evaluation | None, weakest: Layer | None) -> Stress:
        """Return the stress of a layer with its film, or with the film that breaks down first."""
        # without a film the permittivity does not matter to the solid
        solid = replace(layer, permittivities=layer.permittivities or (1.0,)).fields(layer.voltage).solid
        fields = layer.fields(layer.voltage) if layer.permittivities else None
        starts = None if film is None else film_inception(weakest or layer, film)
        return cls(
            layer,
            spread(solid, "field"),
            None if fields is None else spread(fields.film, "field"),
            spread(fields.film_voltage, "voltage") if fields and film is not None and weakest is None else None,
            starts,
            weakest if film is not None else None,
            film is not None and starts is None,
        )

    def fields(self) -> dict[str, object]:
        """Return the result fields of the answer; what does not apply is absent."""
        found: dict[str, object] = {"solid_field": self.solid_field, "air_film_field": self.film_field}
        found |= {"air_film_voltage": self.film_voltage, **(self.starts.block() if self.starts else {})}
        if self.weakest is not None and self.weakest.film is not None:
            found["air_film_weakest"] = distance(float(f"{self.weakest.film:.3g}"))
        if self.layer.permittivities:
            found["relative_permittivity"] = _plain(self.layer.permittivities)
        return {name: part for name, part in found.items() if part is not None}

    @property
    def notes(self) -> list[str]:
        """The sentences that belong to it."""
        conditions = {
            THICK: True,
            VOIDS: True,
            WIRE: self.layer.conductor_diameter is not None,
            DIRECT: bool(self.layer.permittivities),
            NO_FILM: self.layer.film is None,
            NO_METHOD: self.without_method,
        }
        return [sentence for sentence, holds in conditions.items() if holds]


NO_METHOD = "No method answers for an air film this thin or wide at this pressure: its breakdown is absent."


def _published(material: Material | None) -> dict[str, object]:
    if material is None:
        return {}
    listed: dict[str, object] = {name: material.figures.get(name) for name in ("strength", "breakdown_voltage")}
    listed["disagreement"] = material.disagreement()
    return {name: found for name, found in listed.items() if found} | {"material": material.key}


def _plain(values: tuple[float, ...]) -> object:
    return values[0] if len(values) == 1 else {"value": None, "low": min(values), "high": max(values)}


def _strength_notes(layer: Layer, material: Material | None) -> list[str]:
    if material is None:
        return ["No material was given: there is no published strength beside the field."]
    figures = material.figures.get("strength", ())
    if not figures:
        return [f"No strength of {material.key} is published here."]
    stated = [figure.thickness for figure in figures if figure.thickness is not None]
    if any(np.isclose(thickness, layer.thickness, rtol=0.05) for thickness in stated):
        return []
    return ["None of the published strengths states the thickness asked; they are shown as published."]


def _method(film: Evaluation | None, citations: Table) -> dict[str, object]:
    block: dict[str, object] = {
        "key": "layers-in-series",
        "title": "Solid layer and air film in series",
        "kind": "formula",
        "validity": "alternating voltage; clean layers of even thickness, no edges",
        "source": {"key": SOURCE, "citation": citations.row(SOURCE)["citation"]},
        "provenance": "memory",
    }
    return block | ({"air_film": chosen_method(film)} if film is not None and film.answered[0] else {})


def _asked(question: Question, air: Atmosphere) -> Echo:
    own = [parameter.name for parameter in question.parameters.values() if parameter not in ATMOSPHERE]
    return Echo.of(question, own) | air.asked
