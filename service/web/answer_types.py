"""Types of answers, seen in the answers themselves: every lookup's example, and the same with each key of what it
chooses among.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import parse_qsl

from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import ServiceError
from service.methods import Arrangement
from service.parameters import read_question

QUANTITY_PARTS = frozenset({"value", "low", "high", "unit", "measure"})
MOST_KEYS = 40
"""Keys of one parameter that are tried."""

Schema = dict[str, Any]


def seen(lookup: Lookup, registry: Registry) -> Mapping[str, Schema]:
    """Return the schema of every result field as it was seen; a field that was not seen is absent."""
    found: dict[str, Schema] = {}
    for document in _documents(lookup, registry):
        for name, value in document.items():
            schema = typed(value)
            found[name] = merged(found[name], schema) if name in found else schema
    return found


def _documents(lookup: Lookup, registry: Registry) -> Iterator[Mapping[str, Any]]:
    base = dict(parse_qsl(lookup.example))
    known = {parameter.name for parameter in lookup.parameters}
    choosing = [one for one in lookup.parameters if one.choices and one.name not in ("method", "gas", "electrodes")]
    changes: list[dict[str, str | None]] = [{}]
    changes += [{one.name: key} for one in choosing for key in one.choices[:MOST_KEYS]]
    changes += [{name: None} for name in base]
    changes += [dict.fromkeys(base) | dict(parse_qsl(query)) for query in lookup.more]
    if "electrodes" in known:
        changes += [_shape(arrangement, known) for arrangement in registry.arrangements.values()]
    for change in changes:
        asked = {name: text for name, text in {**base, **change}.items() if text is not None}
        try:
            question = read_question(lookup.key, lookup.parameters, asked.items())
            yield lookup.answer(question).document(registry)
        except ServiceError:  # what is refused has no type
            continue


def _shape(arrangement: Arrangement, known: set[str]) -> dict[str, str | None]:
    """Return what asks for an arrangement of its example's sizes; a gap that follows from them is taken out."""
    sizes = {size.name: size.example or size.default for size in arrangement.parameters if size.name in known}
    return {"electrodes": arrangement.key, **sizes, **({"gap": None} if arrangement.gap_from is not None else {})}


def typed(value: Any) -> Schema:
    """Return the schema of one value."""
    if isinstance(value, Mapping):
        return _object(value)
    if isinstance(value, list | tuple):
        items: Schema | None = None
        for one in value[:50]:
            items = typed(one) if items is None else merged(items, typed(one))
        return {"type": "array", "items": items or {}}
    if value is None:
        return {"type": "null"}
    if isinstance(value, bool):
        return {"type": "boolean"}
    return {"type": "string"} if isinstance(value, str) else {"type": "number"}


def _object(value: Mapping[str, Any]) -> Schema:
    if "unit" in value and "value" in value:
        further = {name: typed(one) for name, one in value.items() if name not in QUANTITY_PARTS}
        quantity = {"$ref": "#/components/schemas/quantity"}
        return {"allOf": [quantity, {"type": "object", "properties": further}]} if further else quantity
    if {"key", "title", "kind", "source"} <= set(value):
        return {"$ref": "#/components/schemas/method"}
    if {"key", "citation"} <= set(value):
        return {"$ref": "#/components/schemas/source"}
    return {"type": "object", "properties": {str(name): typed(one) for name, one in value.items()}}


def merged(first: Schema, second: Schema) -> Schema:
    """Return a schema that both values keep to."""
    if first == second or not first:
        return first
    if not second:
        return second
    if "allOf" in first or "allOf" in second:
        return _quantities(first, second)
    if "$ref" in first or "$ref" in second:
        return {}
    if first.get("type") == second.get("type") == "object":
        properties = dict(first.get("properties", {}))
        for name, schema in second.get("properties", {}).items():
            properties[name] = merged(properties[name], schema) if name in properties else schema
        return {"type": "object", "properties": properties}
    if first.get("type") == second.get("type") == "array":
        return {"type": "array", "items": merged(first["items"], second["items"])}
    kinds = [*_kinds(first), *(kind for kind in _kinds(second) if kind not in _kinds(first))]
    plain = set(kinds) <= {"string", "number", "boolean", "null"}
    return {"type": kinds} if plain else {}


def _kinds(schema: Schema) -> list[str]:
    kind = schema.get("type", [])
    return list(kind) if isinstance(kind, list) else [kind]


def _quantities(first: Schema, second: Schema) -> Schema:
    """Merge quantities of which one at least has further members."""
    further: Schema = {"type": "object", "properties": {}}
    for schema in (first, second):
        if "allOf" in schema:
            further = merged(further, schema["allOf"][1])
        elif schema.get("$ref") != "#/components/schemas/quantity":
            return {}
    return {"allOf": [{"$ref": "#/components/schemas/quantity"}, further]}
