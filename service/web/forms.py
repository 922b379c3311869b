"""Forms of the page, made from the parameter declarations: nothing about a parameter is written twice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from service import units
from service.answers.lookup import Lookup
from service.parameters import Parameter

ON_THE_PAGE = (
    "breakdown",
    "gap",
    "spark",
    "sphere-gaps",
    "source-check",
    "barrier",
    "clearance",
    "creepage",
    "conductor-spacing",
    "insulation-stress",
    "hazard",
    "switch-on-sheet",
    "protective-gap",
    "probe-plan",
    "pressure",
    "paschen",
    "approach",
)
"""Lookups with a form, in the order that a person at the bench asks; the probe check has a page of its own."""

SURROUNDINGS = frozenset(
    {"pressure", "altitude", "temperature", "relative_humidity", "absolute_humidity", "dew_point", "gas", "fraction"}
)
"""Parameters of the surroundings, kept together below the question."""


@dataclass(frozen=True)
class Field:
    """One field of a form.

    Parameters
    ----------
    parameter : Parameter
    value : str
        As given; empty where it was not.
    fault : str
        What was wrong with it; empty where nothing was.
    """

    parameter: Parameter
    value: str = ""
    fault: str = ""

    @property
    def label(self) -> str:
        """The name in words."""
        return self.parameter.name.replace("_", " ").capitalize()

    @property
    def placeholder(self) -> str:
        """An example or the default, as it would be typed."""
        return self.parameter.example or self.parameter.default or ""

    @property
    def hint(self) -> str:
        """Meaning, units and default in one line."""
        parts = [self.parameter.meaning]
        if self.parameter.dimension in units.DIMENSIONS:
            spellings = units.accepted(self.parameter.dimension)
            parts.append("Number and unit: " + ", ".join(spellings[:8]) + (" …" if len(spellings) > 8 else "") + ".")
        if self.parameter.default:
            parts.append(f"Left empty: {self.parameter.default}.")
        return " ".join(parts)

    @property
    def options(self) -> Sequence[str]:
        """Keys to choose from; empty for typed fields."""
        if self.parameter.dimension == "boolean":
            return ("true", "false")
        return self.parameter.choices


@dataclass(frozen=True)
class Form:
    """A form: what is asked first, the surroundings, and the rest.

    Parameters
    ----------
    lookup : Lookup
    asked, surroundings, further : tuple of Field
        Fields in three groups.
    """

    lookup: Lookup
    asked: tuple[Field, ...]
    surroundings: tuple[Field, ...]
    further: tuple[Field, ...]

    @property
    def opened(self) -> bool:
        """Whether a field outside the first group was given or is at fault."""
        return any(one.value or one.fault for one in (*self.surroundings, *self.further))


FURTHER = frozenset({"method", "gap_from", "gap_to", "repetition_frequency", "frequency", "polarity"})
"""Parameters that few need."""


def form_of(lookup: Lookup, given: Mapping[str, str], faults: Mapping[str, str]) -> Form:
    """Return the form of a lookup.

    Parameters
    ----------
    lookup : Lookup
    given : mapping
        Texts by parameter name.
    faults : mapping
        What was wrong, by parameter name.
    """
    fields = [Field(p, given.get(p.name, ""), faults.get(p.name, "")) for p in lookup.parameters]
    around = tuple(one for one in fields if one.parameter.name in SURROUNDINGS)
    further = tuple(one for one in fields if one.parameter.name in FURTHER)
    asked = tuple(one for one in fields if one not in around and one not in further)
    return Form(lookup, asked, around, further)


def chosen(pairs: Iterable[tuple[str, str]], lookup: Lookup) -> dict[str, str]:
    """Return the non-empty pairs that a lookup knows; a page ignores what it does not know.

    Parameters
    ----------
    pairs : iterable of (str, str)
        Of the page's query.
    lookup : Lookup
    """
    known = {parameter.name for parameter in lookup.parameters}
    return {name: text.strip() for name, text in pairs if name in known and text.strip()}
