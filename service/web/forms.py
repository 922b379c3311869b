"""Forms and examples made from the declarations: nothing about a parameter is written twice."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service import spoken, units
from service.answers.figure import Figure, electrodes_figure
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, FRACTION
from service.errors import ServiceError
from service.lookups.breakdown import GAP
from service.methods import Arrangement
from service.parameters import PHYSICAL, Listed, Members, Parameter, Part
from service.render import svg

FEW = 8
"""Keys that are listed where a parameter stands; longer lists stand once, in a chapter of their own."""


@dataclass(frozen=True)
class ReferenceRow:
    """One thing that may be asked with, as the reference prints it.

    Parameters
    ----------
    name : str
        With its place in a body.
    meaning : str
        One line: what it is, its values, default and bounds.
    """

    name: str
    meaning: str
    needed: bool


def asked(parameter: Parameter, within: str = "") -> ReferenceRow:
    """Return a declaration as the reference prints it.

    Parameters
    ----------
    within : str
        Its place in a body, with a final dot.
    """
    parts = [parameter.meaning]
    if parameter.choices and len(parameter.choices) <= FEW:
        parts.append(f"One of {', '.join(parameter.choices)}.")
    elif parameter.choices:
        parts.append("One of its keys.")
    if parameter.many:
        parts.append("Several are separated by commas.")
    parts.append(parameter.beside())
    if parameter.default:
        parts.append(f"Default {parameter.default}.")
    if (parameter.low, parameter.high) != PHYSICAL.get(parameter.dimension):
        words = {"low": "from", "high": "to"}
        own = zip(("low", "high"), PHYSICAL.get(parameter.dimension, (None, None)), strict=True)
        said = parameter.bounds_in_words()
        told = [f"{words[end]} {said[end]}" for end, usual in own if getattr(parameter, end) != usual]
        parts.append(f"{' '.join(told).capitalize()}." if told else "")
    return ReferenceRow(within + parameter.name, " ".join(part for part in parts if part), parameter.required)


def members(body: Members, within: str = "") -> Iterator[ReferenceRow]:
    """Yield every member of a body, those of its lists and objects with their place."""
    for parameter in body.parameters:
        yield asked(parameter, within)
    for part in body.parts:
        yield ReferenceRow(within + part.name, part.meaning, False)
        yield from _inner(part, within)


def _inner(part: Part, within: str) -> Iterator[ReferenceRow]:
    kind: Parameter | Members | Listed | None = part.kind
    place = f"{within}{part.name}"
    while isinstance(kind, Listed):
        kind, place = kind.of, f"{place}[]"
    if isinstance(kind, Members):
        yield from members(kind, f"{place}.")


def entry(lookup: Lookup) -> dict[str, object]:
    """Return what the reference says of a lookup."""
    posted = lookup.post
    rows = (
        list(members(lookup.body)) if posted and lookup.body is not None else [asked(one) for one in lookup.parameters]
    )
    query = f"?{lookup.example}" if lookup.example and not posted else ""
    return {
        "key": lookup.key,
        "title": lookup.title,
        "summary": " ".join(filter(None, (lookup.summary, lookup.asked_by()))),
        "method": "POST" if posted else "GET",
        "rows": rows,
        "results": lookup.results,
        "formats": lookup.formats,
        "address": "" if posted else f"/v1/{lookup.key}{query}",
        "page": "" if posted else f"/?lookup={lookup.key}" + (f"&{lookup.example}" if lookup.example else ""),
        "body": lookup.example if posted and lookup.example.startswith("{") else "",
    }


def long_lists(lookups: Mapping[str, Lookup]) -> dict[str, tuple[str, ...]]:
    """Return the keys of every parameter that has many, once each."""
    found: dict[str, tuple[str, ...]] = {}
    for lookup in lookups.values():
        for parameter in lookup.parameters:
            if len(parameter.choices) > FEW:
                known = found.get(parameter.name, ())
                found[parameter.name] = tuple(dict.fromkeys((*known, *parameter.choices)))
    return found


def spellings() -> list[tuple[str, str, str]]:
    """Return every dimension with its unit of answers and its accepted spellings."""
    return [(kind.title, kind.shown, ", ".join(kind.spellings)) for kind in units.DIMENSIONS.values()]


SURROUNDINGS = frozenset({one.name for one in ATMOSPHERE} | {FRACTION.name, "gas"})
"""Parameters of the surroundings, kept together below the question."""

FURTHER = frozenset({"method", "gap_from", "gap_to", "repetition_frequency", "frequency", "polarity", "waveform"})
"""Parameters that few need."""

REACHABLE: Mapping[str, tuple[str, ...]] = {
    "length": ("mm", "cm", "m", "um", "inch", "mil"),
    "coordinate": ("mm", "cm", "m", "um", "inch"),
    "pressure": ("kPa", "hPa", "Pa", "bar", "mbar", "Torr", "mmHg"),
    "temperature": ("degC", "degF", "K"),
    "altitude": ("m", "ft"),
    "voltage": ("kV", "V", "MV"),
    "pd": ("Pa_m", "Torr_cm", "bar_mm"),
    "current": ("mA", "A", "uA"),
    "frequency": ("Hz", "kHz", "MHz"),
}
"""Units to choose from beside a number; of the other dimensions, those in which they are spoken."""

UNIT = "unit."
"""What the name of a unit's field begins with."""

BARE = re.compile(r"[+-]?[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?", re.ASCII)


@dataclass(frozen=True)
class Input:
    """One field of a form.

    Parameters
    ----------
    value : str
        As given; empty where it was not.
    fault : str
        What was wrong with it; empty where nothing was.
    chosen_unit : str
        Unit that was chosen beside the number.
    titles : mapping of str to str
        Names of its options for a person, where they have any.
    """

    parameter: Parameter
    value: str = ""
    fault: str = ""
    chosen_unit: str = ""
    titles: Mapping[str, str] | None = None

    @property
    def label(self) -> str:
        """The name in words."""
        return label_of(self.parameter.name)

    @property
    def number(self) -> str:
        """The given text without the unit that is chosen beside it."""
        return self.value.removesuffix(self.unit).strip() if self.units and self.unit else self.value

    @property
    def placeholder(self) -> str:
        """An example or the default, as it would be typed."""
        return self.parameter.example or self.parameter.default or ""

    @property
    def hint(self) -> str:
        """Meaning and default in one line."""
        default = f" Left empty: {self.parameter.default}." if self.parameter.default else ""
        return f"{self.parameter.meaning}{default}"

    @property
    def options(self) -> Sequence[str]:
        """Keys to choose from; empty for typed fields."""
        if self.parameter.dimension == "boolean":
            return ("true", "false")
        return self.parameter.choices

    def words(self, option: str) -> str:
        """Return an option as a person reads it."""
        return (self.titles or {}).get(option, option.replace("-", " "))

    @property
    def units(self) -> tuple[str, ...]:
        """Units to choose from; none for a list, or what has no unit."""
        dimension = self.parameter.dimension
        if dimension not in units.DIMENSIONS or self.parameter.many:
            return ()
        own = tuple(name for name in (self.given_unit,) if name)
        ladder = REACHABLE.get(dimension, spoken.LADDERS.get(dimension, ()))
        return tuple(dict.fromkeys((*own, *ladder)))

    @property
    def given_unit(self) -> str:
        """The unit that the given text ends in, where it is one."""
        found = re.search(r"[0-9.]\s*([^0-9\s.]\S*)$", self.value)
        known = units.DIMENSIONS[self.parameter.dimension].spellings
        return found[1] if found and found[1] in known else ""

    @property
    def unit(self) -> str:
        """The unit that stands in the form: as given or chosen, else that of the example."""
        example = re.search(r"[^0-9.+-].*$", self.placeholder)
        fitting = example[0] if example and example[0] in self.units else ""
        return self.given_unit or self.chosen_unit or fitting or (self.units[0] if self.units else "")

    def unit_words(self, name: str) -> str:
        """Return a unit as it is printed."""
        return spoken.printed(name)


@dataclass(frozen=True)
class QuestionForm:
    """A form: what is asked first, the surroundings, and the rest.

    Parameters
    ----------
    asked, surroundings, further : tuple of Input
        Fields in three groups.
    shape : str
        One sentence of what the chosen electrodes are on a bench; empty where none are asked.
    drawing : str
        Markup of their picture; empty where none are asked.
    """

    lookup: Lookup
    asked: tuple[Input, ...]
    surroundings: tuple[Input, ...]
    further: tuple[Input, ...]
    shape: str = ""
    drawing: str = ""

    @property
    def around_opened(self) -> bool:
        """Whether a field of the surroundings was given or is at fault."""
        return any(one.value or one.fault for one in self.surroundings)

    @property
    def further_opened(self) -> bool:
        """Whether a field of the rest was given or is at fault."""
        return any(one.value or one.fault for one in self.further)


def label_of(name: str) -> str:
    """Return a parameter's name as the label of its field."""
    return name.rpartition(".")[2].replace("_", " ").capitalize()


def form_of(
    lookup: Lookup, given: Mapping[str, str], faults: Mapping[str, str], registry: Registry | None
) -> QuestionForm:
    """Return the form of a lookup: of the sizes of electrodes, those of the chosen shape.

    Parameters
    ----------
    given : mapping
        Texts by parameter name, and units that were chosen under `UNIT` and the name.
    faults : mapping
        What was wrong, by parameter name.
    registry : Registry or None
        ``None`` where the data did not load.
    """
    hidden, shape, titles = _shape(lookup, given, registry)
    fields = [
        Input(
            p,
            given.get(p.name, ""),
            faults.get(p.name, ""),
            given.get(UNIT + p.name, ""),
            titles if p.name == "electrodes" else None,
        )
        for p in lookup.parameters
        if p.name not in hidden or given.get(p.name) or p.name in faults
    ]
    around = tuple(one for one in fields if one.parameter.name in SURROUNDINGS)
    further = tuple(one for one in fields if one.parameter.name in FURTHER and not one.parameter.required)
    asked = tuple(one for one in fields if one not in around and one not in further)
    return QuestionForm(lookup, asked, around, further, shape, _drawing(lookup, given, registry) if shape else "")


def _shape(
    lookup: Lookup, given: Mapping[str, str], registry: Registry | None
) -> tuple[frozenset[str], str, Mapping[str, str]]:
    """Return the sizes that the chosen electrodes do not have, what they are on a bench, and the names of all."""
    declared = {parameter.name: parameter for parameter in lookup.parameters}
    if registry is None or "electrodes" not in declared:
        return frozenset(), "", {}
    every = registry.arrangements
    titles = {key: one.title for key, one in every.items()}
    key = given.get("electrodes", declared["electrodes"].default or "")
    sizes = {size.name for one in every.values() for size in one.parameters}
    if key not in every:
        return frozenset(sizes), "", titles
    own = {size.name for size in every[key].parameters}
    return frozenset(sizes - own), every[key].on_the_bench, titles


def _drawing(lookup: Lookup, given: Mapping[str, str], registry: Registry | None) -> str:
    """Return the picture of the chosen electrodes, in the sizes that were given and else in those of the examples."""
    declared = {parameter.name: parameter for parameter in lookup.parameters}
    key = given.get("electrodes", declared["electrodes"].default or "")
    if registry is None or key not in registry.arrangements:
        return ""
    item = registry.arrangements[key]
    figure = pictured(item, {**given, "gap": given.get("gap") or declared.get("gap", GAP).example or "8mm"})
    return svg.plot(figure, "light") if figure is not None else ""


def pictured(item: Arrangement, given: Mapping[str, str]) -> Figure | None:
    """Return the picture of an arrangement in given sizes; what is not given, or cannot be read, is as in the examples.

    Parameters
    ----------
    given : mapping
        Texts by parameter name.
    """
    read: dict[str, float | str] = {one.name: _size(one, given.get(one.name, "")) for one in (*item.parameters, GAP)}
    gap = read.pop("gap")
    if item.gap_from is not None:
        lengths = {name: np.array([size]) for name, size in read.items() if isinstance(size, float)}
        gap = float(item.gap_from(lengths)[0])
    return electrodes_figure(item, read, gap) if isinstance(gap, float) and gap > 0 else None


def _size(parameter: Parameter, text: str) -> float | str:
    """Return a size [m] or an option, as given or else as in the example."""
    for said in (text, parameter.default, parameter.example):
        try:
            found = parameter.read(said) if said else None
        except ServiceError:
            continue
        if isinstance(found, str | float):
            return found
    return ""


def known_pairs(pairs: Iterable[tuple[str, str]], lookup: Lookup) -> dict[str, str]:
    """Return the non-empty pairs that a lookup knows; a page ignores what it does not know.

    Parameters
    ----------
    pairs : iterable of (str, str)
        Of the page's query.
    """
    return completed_pairs(pairs, {parameter.name: parameter for parameter in lookup.parameters})


def completed_pairs(pairs: Iterable[tuple[str, str]], known: Mapping[str, Parameter]) -> dict[str, str]:
    """Return the non-empty pairs of a form that are declared; a bare number takes the unit that is chosen beside it.

    Parameters
    ----------
    pairs : iterable of (str, str)
        Of the page's query.
    """
    texts = {name: text.strip() for name, text in pairs if text.strip()}
    found = {name: text for name, text in texts.items() if name in known}
    for name, text in found.items():
        unit = texts.get(UNIT + name, "")
        bare = known[name].dimension in units.DIMENSIONS and BARE.fullmatch(text)
        if bare and unit in units.DIMENSIONS[known[name].dimension].spellings:
            found[name] = f"{text}{unit}"
    return found


def spoken_fault(detail: str, names: Iterable[str]) -> str:
    """Return the words of a fault with labels in place of parameter names."""
    for name in sorted(names, key=len, reverse=True):
        detail = re.sub(rf"\b{re.escape(name)}\b(?!=)", label_of(name), detail)
    return re.sub(r"\s*For example \S+=\S+\.", "", detail).replace("=", " ")
