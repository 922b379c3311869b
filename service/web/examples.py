"""Entries of the reference, made from the declarations: what a lookup is asked with, in a query or a body, and what it
answers.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from service import units
from service.answers.lookup import Lookup
from service.parameters import PHYSICAL, Listed, Members, Parameter, Part

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
