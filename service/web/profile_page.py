"""The page on which electrodes are chosen from ready shapes and their field is seen; every state is an address."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from flask import Blueprint, Response, request

from service.bench.profile_shapes import PLACES, SHAPES, SIZES, Ready
from service.errors import ServiceError
from service.parameters import Parameter
from service.render.page import Page
from service.web import bodies
from service.web.forms import UNIT, Input, completed_pairs, label_of, spoken_fault
from service.web.pages import card_of, page
from service.web.problems import problem_block
from service.web.workshop import workshop

blueprint = Blueprint("profile-page", __name__)

SIDES = ("live", "other")
"""The two electrodes of the form; the second may be left out over a plane."""
AROUND = ("gas", "pressure", "temperature", "waveform", "polarity", "voltage", "measure")
"""What the form asks beside the electrodes."""
EXAMPLES = {
    "A bolt head 10 mm from a wall": "plane=earthed&live.shape=hex-head&live.size=M6&live.face=10mm&voltage=12kV",
    "A ball on a rod over a plate": "plane=earthed&live.shape=ball&live.diameter=20mm&live.shank=6mm&live.tip=15mm",
    "A wire between the plates of the precipitator": (
        "symmetry=section&plane=earthed&live.shape=wire&live.diameter=0.3mm&live.at=0mm,25mm&voltage=12kV&waveform=dc"
    ),
    "Two busbars": "symmetry=section&live.shape=bar&live.width=30mm&live.thickness=5mm&live.at=0mm,0mm"
    "&other.shape=bar&other.width=30mm&other.thickness=5mm&other.at=40mm,0mm",
}
"""Real things, as addresses."""


@dataclass(frozen=True)
class Side:
    """One electrode of the form.

    Parameters
    ----------
    name : str
        One of `SIDES`.
    fields : tuple of Input
        Its shape and the sizes of that shape.
    """

    name: str
    shape: Ready | None
    fields: tuple[Input, ...]


@blueprint.get("/profile")
def profile() -> Response:
    """Choose shapes and sizes, and see field and answer."""
    declared = {one.name: one for side in SIDES for one in _sizes(side, _shape(request.args, side))}
    lookup = workshop().lookups["profile"]
    around = [one for one in lookup.parameters if one.name in ("symmetry", "plane", *AROUND)]
    declared |= {one.name: one for one in around}
    pairs = list(request.args.items(multi=True))
    given = completed_pairs(pairs, declared)
    asked = any(name.startswith("live.") for name in given) and "choose" not in request.args
    values: dict[str, object] = {"examples": EXAMPLES}
    status, faults = 200, {}
    if asked:
        try:
            answer = lookup.answer_given(bodies.read(lookup.body, body_of(given)))  # type: ignore[misc, arg-type]  # a posted lookup has both
            values |= card_of(Page.of(answer, workshop().registry, lookup.title))
            values["live"] = [(o.name, label_of(o.name.partition(".")[2])) for o in declared.values() if _moved(o)]
        except ServiceError as error:
            block = problem_block(error)
            faults = {fault.parameter: spoken_fault(fault.detail, declared) for fault in error.faults}
            values["problem"], status = block | {"detail": spoken_fault(block["detail"], declared)}, block["status"]
    texts = {**{name: text for name, text in pairs if name.startswith(UNIT)}, **given}
    values |= {
        "around": [_field(one, texts, faults) for one in around],
        "sides": [_side(side, texts, faults) for side in SIDES],
    }
    return page("profile.html", values, status)


def _moved(parameter: Parameter) -> bool:
    """Return whether a slider moves a size."""
    return parameter.name.partition(".")[0] in SIDES and parameter.dimension in ("length", "coordinate")


def _shape(given: Mapping[str, str], side: str) -> Ready | None:
    return SHAPES.get(given.get(f"{side}.shape", ""))


def _sizes(side: str, shape: Ready | None) -> list[Parameter]:
    """Return the declarations of a side: its shape, and the sizes of that shape."""
    title = (
        "Shape of the electrode." if side == "live" else "Shape of the second electrode, at earth; none over a plane."
    )
    choice = Parameter(f"{side}.shape", "choice", title, choices=tuple(SHAPES))
    if shape is None:
        return [choice]
    own = {one.name: one for one in SIZES}
    own |= {name: Parameter(name, "text", f"{words} Two numbers: 0mm,10mm.") for name, words in PLACES.items()}
    edge = Parameter("edge_radius", "length", "Radius of edges that point outwards; 0.1 mm where it is not given.")
    own["edge_radius"] = edge
    return [
        choice,
        *(
            replace(own[name], name=f"{side}.{name}", required=name in shape.needed, default=None)
            for name in shape.sizes
            if name in own
        ),
    ]


def _field(parameter: Parameter, texts: Mapping[str, str], faults: Mapping[str, str]) -> Input:
    titles = {key: one.title for key, one in SHAPES.items()} if parameter.name.endswith(".shape") else None
    fault = faults.get(parameter.name, faults.get(_in_body(parameter.name), ""))
    value, unit = texts.get(parameter.name, ""), texts.get(UNIT + parameter.name, "")
    return Input(parameter, value, fault, unit, titles)


def _in_body(name: str) -> str:
    """Return the place of a field in the body, as faults name it."""
    side, dot, member = name.partition(".")
    return f"electrodes[{SIDES.index(side)}].{member}" if dot and side in SIDES else name


def _side(side: str, texts: Mapping[str, str], faults: Mapping[str, str]) -> Side:
    shape = _shape(texts, side)
    return Side(side, shape, tuple(_field(one, texts, faults) for one in _sizes(side, shape)))


def body_of(given: Mapping[str, str]) -> dict[str, object]:
    """Return the body that a form asks with.

    Parameters
    ----------
    given : mapping
        Texts by the names of the form's fields.
    """
    body: dict[str, object] = {name: text for name, text in given.items() if "." not in name}
    electrodes = []
    for potential, side in zip((1, 0), SIDES, strict=True):
        own = {name.partition(".")[2]: text for name, text in given.items() if name.startswith(f"{side}.")}
        if own.get("shape"):
            places = {name: own.pop(name).split(",") for name in PLACES if name in own}
            electrodes.append({"name": side, "potential": potential, **own, **places})
    return {**body, "electrodes": electrodes}
