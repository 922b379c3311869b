"""Schemas of the specification: what may be asked, as it is declared, and what is answered, as it was seen.

Types of results are seen in the answers themselves: every lookup's example, and the same with each key of what it
chooses among.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from typing import Any
from urllib.parse import parse_qsl

from service import units
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import ServiceError
from service.lookups.batch import MOST_POINTS, STATUSES, batched
from service.methods import Arrangement
from service.parameters import Listed, Members, Parameter
from service.web.arrow_body import MEDIA_TYPE as ARROW
from service.web.problems import MEDIA_TYPE, TITLES

Node = dict[str, Any]
"""A part of the description as it is written: a schema, a parameter, a response, an operation."""

DESCRIPTION = (
    "A quantity in a query is a number followed by a unit (`gap=8mm`); a bare number is refused. Every answer carries "
    "its band, method, source, provenance and validity, and the values of the other valid methods. What no method "
    "covers is refused with the nearest range; nothing is clipped, extrapolated or defaulted in silence. This work can "
    "kill: answers are estimates and guidance, never a rating or a proof of compliance; local codes and licensed "
    "practice decide. The same question may stand in the path: `/v1/NAME;gap=8mm;electrodes=needle-gap.svg`, pairs "
    "after semicolons and a suffix last; a name in both path and query is a repetition. `pressure` and `altitude` "
    "exclude each other, as do the three humidities; sizes belong to the electrodes that have them."
)

HEADERS: Mapping[str, object] = {
    "ETag": {"description": "Strong tag of versions, question and format.", "schema": {"type": "string"}},
    "Link": {"description": "The same answer in other formats.", "schema": {"type": "string"}},
    "Cache-Control": {"schema": {"type": "string"}},
}

QUANTITY: Mapping[str, object] = {
    "type": "object",
    "required": ["value", "unit"],
    "properties": {
        "value": {"type": ["number", "null"], "description": "Null where only a bracket can be given."},
        "low": {"type": "number"},
        "high": {"type": "number"},
        "unit": {"type": "string"},
        "measure": {"type": "string"},
    },
}

METHOD: Mapping[str, Any] = {
    "type": "object",
    "required": ["key", "title", "kind", "source", "provenance"],
    "properties": {
        "key": {"type": "string"},
        "title": {"type": "string"},
        "kind": {"enum": ["table", "formula", "model", "bracket"]},
        "validity": {"type": "string"},
        "uncertainty_percent": {"type": "number"},
        "source": {"$ref": "#/components/schemas/source"},
        "row": {"type": "string"},
        "provenance": {"type": "string"},
    },
}

PROBLEM: Mapping[str, object] = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "errors"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["parameter", "detail"],
                "properties": {
                    "parameter": {"type": "string"},
                    "detail": {"type": "string"},
                    "accepted": {"type": "array", "items": {"type": "string"}},
                    "valid": {"type": "object", "properties": {"low": {}, "high": {}}},
                },
            },
        },
    },
}


VERSIONS: Mapping[str, object] = {"service_version": {"type": "string"}, "data_version": {"type": "string"}}

ANSWER: Mapping[str, Any] = {
    "type": "object",
    "required": ["lookup", "asked", "also", "corrections", "notes", "cautions", "service_version", "data_version"],
    "properties": {
        "lookup": {"type": "string"},
        "asked": {"type": "object", "properties": {"assumed": {"type": "array", "items": {"type": "string"}}}},
        "sentence": {"type": "string", "description": "What a person would say; it stands alone."},
        "headline": {"$ref": "#/components/schemas/headline"},
        "also": {"type": "array", "items": {"$ref": "#/components/schemas/other"}},
        "corrections": {"type": "object"},
        "notes": {"type": "array", "items": {"type": "string"}},
        "cautions": {"type": "array", "items": {"$ref": "#/components/schemas/caution"}},
        **VERSIONS,
    },
}
"""What every answer has."""

SIGNED = ("temperature", "altitude")
"""Dimensions whose quantities may be negative."""


BATCH: Mapping[str, str] = {
    "count": "Number of points.",
    "columns": "Result columns.",
    "method": "Key of the method of each point; null where none answers.",
    "status": "What became of each point.",
}
BATCH_TYPES: Mapping[str, object] = {
    "count": {"type": "integer"},
    "columns": {"type": "object", "additionalProperties": {"$ref": "#/components/schemas/column"}},
    "method": {"type": "array", "items": {"type": ["string", "null"]}},
    "status": {"type": "array", "items": {"enum": list(STATUSES)}},
}
_NUMBERS: Mapping[str, object] = {"type": "array", "items": {"type": ["number", "null"]}}
COLUMN: Mapping[str, object] = {
    "type": "object",
    "required": ["unit", "values"],
    "properties": {
        "unit": {"type": "string"},
        "measure": {"type": "string"},
        "values": _NUMBERS,
        "low": _NUMBERS,
        "high": _NUMBERS,
    },
}
"""A result of a batch, one number a point."""


def escaped(text: str) -> str:
    """Return a text as a pattern that every dialect reads: a hyphen needs no escape, and may have none in some."""
    return re.escape(text).replace("\\-", "-")


def quantity_schema(dimension: str) -> Node:
    """Return the schema of a quantity as it is asked: a number, at most one space, and a unit."""
    spellings = "|".join(map(escaped, units.accepted(dimension)))
    sign = "-?" if dimension in SIGNED else ""
    return {
        "type": "string",
        "maxLength": units.LONGEST,
        "description": f"{units.DIMENSIONS[dimension].title.capitalize()}: a number and a unit.",
        "pattern": rf"^{sign}[0-9]+(\.[0-9]+)?([eE]-?[0-9]+)? ?({spellings})$",
    }


def answer_schema(results: Mapping[str, str], types: Mapping[str, Any] | None = None) -> Node:
    """Return the schema of an answer; members that are not named are allowed.

    Parameters
    ----------
    results : mapping
        Result field to its meaning.
    types : mapping, optional
        Result field to its schema, as far as it is known.
    """
    known = types or {}
    own: Node = {"method": {"$ref": "#/components/schemas/method"}}
    for name, meaning in results.items():
        if name not in ANSWER["properties"]:
            own[name] = _described(known.get(name, {}), meaning)
    return {"allOf": [{"$ref": "#/components/schemas/answer"}, {"type": "object", "properties": own}]}


def _texts(*names: str, optional: tuple[str, ...] = ()) -> Node:
    """Return the schema of an object of texts."""
    properties = {name: {"type": "string"} for name in (*names, *optional)}
    return {"type": "object", "required": list(names), "properties": properties}


def _described(schema: Mapping[str, object], meaning: str) -> Node:
    """Return a schema with what it means; a reference takes no other member in many readers."""
    return {"description": meaning, "allOf": [dict(schema)]} if "$ref" in schema else {"description": meaning, **schema}


OTHERS = ("404", "405", "406", "413", "500", "503")
"""Problems that any operation may have, whatever is asked."""


def components(found: Mapping[str, Lookup], registry: Registry) -> Node:
    """Return the components: schemas of every lookup's answer, and the problem responses."""
    asked = {one.dimension for lookup in found.values() for one in lookup.parameters if not one.many}
    schemas: Node = {
        **{dimension: quantity_schema(dimension) for dimension in units.DIMENSIONS if dimension in asked},
        "answer": ANSWER,
        "quantity": QUANTITY,
        "column": COLUMN,
        "source": _texts("key", "citation", optional=("edition", "table")),
        "method": METHOD,
        "headline": _texts("label", "text", optional=("caution",)),
        "other": {
            "type": "object",
            "description": "Another method that is valid there, with its own value.",
            "properties": {
                **{name: schema for name, schema in METHOD["properties"].items() if name != "kind"},
                "kind": {"type": "string"},
                "breakdown_voltage": {"$ref": "#/components/schemas/quantity"},
                "difference_percent": {"type": ["number", "null"]},
            },
        },
        "caution": _texts("key", "text"),
        "problem": PROBLEM,
        "catalogue-answer": {"type": "object", "required": list(VERSIONS), "properties": VERSIONS},
        "entry-answer": {"type": "object", "required": ["key"], "properties": {"key": {"type": "string"}, **VERSIONS}},
        "batch-answer": answer_schema(BATCH, BATCH_TYPES),
    }
    schemas |= {
        f"{lookup.key}-answer": answer_schema(lookup.results, seen(lookup, registry)) for lookup in found.values()
    }
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/problem"}}}
    problems: Node = {}
    for number, title, _ in TITLES.values():
        problems.setdefault(str(number), {"description": title, "content": content})
    problems["304"] = {"description": "Unchanged since the tag that was sent."}
    others = (
        f"{number}: {problems[number]['description'][:1].lower()}{problems[number]['description'][1:]}"
        for number in OTHERS
    )
    problems["default"] = {"description": f"Any other problem. {'; '.join(others)}.", "content": content}
    problems["405"]["headers"] = {"Allow": {"schema": {"type": "string"}}}
    return {"schemas": schemas, "responses": problems}


def bodies(found: Mapping[str, Members], describe: Callable[[Parameter], str]) -> Node:
    """Return the schemas of bodies by name; an object that stands in several places is written once.

    Parameters
    ----------
    describe : callable
        From a declaration to its words.
    """
    shared = Bodies(found, describe)
    return {name: shared.members(members) for name, members in shared.objects.items()} | shared.values


class Bodies:
    """What bodies share, each written once: objects that stand in several places, and members that mean the same.

    Parameters
    ----------
    describe : callable
        From a declaration to its words.
    """

    def __init__(self, found: Mapping[str, Members], describe: Callable[[Parameter], str]) -> None:
        self.describe = describe
        often: Counter[int] = Counter()
        inner: dict[int, tuple[str, Members]] = {}
        for name, members in found.items():
            for path, one in _objects(members, name.removesuffix("-body")):
                often[id(one)] += 1
                inner.setdefault(id(one), (path, one))
        whole = {id(members) for members in found.values()}
        several = {path: one for key, (path, one) in inner.items() if often[key] > 1 and key not in whole}
        self.objects: Mapping[str, Members] = {**found, **several}
        self.names = {id(members): name for name, members in self.objects.items()}
        every = {id(one): one for one in (*found.values(), *(one for _, one in inner.values()))}
        self.values = self._repeated([one for members in every.values() for one in members.parameters])

    def _repeated(self, parameters: list[Parameter]) -> Node:
        """Return the schemas of values that several objects have, by name; another meaning of a name is written out."""
        blocks = [(one.name, self._value(one)) for one in parameters]
        several = [(name, block) for place, (name, block) in enumerate(blocks) if (name, block) in blocks[:place]]
        found: Node = {}
        for name, block in several:
            found.setdefault(f"given-{name}", block)
        return found

    def _value(self, parameter: Parameter) -> Node:
        """Return the schema of a value: a key, or text or a number as in a query."""
        if parameter.choices and not parameter.many:
            return {"description": self.describe(parameter), "type": "string", "enum": list(parameter.choices)}
        return {"description": self.describe(parameter), "type": ["string", "number"]}

    def value(self, parameter: Parameter) -> Node:
        """Return the schema of a value, or the reference to it."""
        block, name = self._value(parameter), f"given-{parameter.name}"
        return {"$ref": f"#/components/schemas/{name}"} if self.values.get(name) == block else block

    def members(self, members: Members) -> Node:
        """Return the schema of an object."""
        flat = {one.name: self.value(one) for one in members.parameters}
        parts = {part.name: _described(self.kind(part.kind), part.meaning) for part in members.parts}
        required = [one.name for one in members.parameters if one.required]
        required += [one.name for one in members.parts if one.required]
        return {
            "type": "object",
            **({"required": required} if required else {}),
            "properties": flat | parts,
            "additionalProperties": members.open,
        }

    def kind(self, kind: Parameter | Members | Listed | None) -> Node:
        """Return the schema of a part."""
        if kind is None:
            return {"type": "object"}
        if isinstance(kind, Parameter):
            return self.value(kind)
        if isinstance(kind, Members):
            known = self.names.get(id(kind))
            return {"$ref": f"#/components/schemas/{known}"} if known else self.members(kind)
        return {"type": "array", "minItems": kind.least, "maxItems": kind.most, "items": self.kind(kind.of)}


def _objects(members: Members, path: str) -> Iterator[tuple[str, Members]]:
    """Yield every object within an object, under a name made of the names that lead to it."""
    for part in members.parts:
        kind: object = part.kind
        while isinstance(kind, Listed):
            kind = kind.of
        if isinstance(kind, Members):
            yield f"{path}-{part.name}", kind
            yield from _objects(kind, f"{path}-{part.name}")


ARROW_BODY = {
    "type": "string",
    "contentMediaType": ARROW,
    "description": (
        "Columns of floating-point numbers or integers, named as parameters, with metadata 'unit'; metadata 'question' "
        "of the schema has lookup and given as JSON. Not compressed."
    ),
}
ARROW_ANSWER = {
    "type": "string",
    "contentMediaType": ARROW,
    "description": (
        "A field for each result column, and with _low and _high for the ends of its band, with metadata 'unit' and "
        "'measure'; method and status as dictionaries; metadata 'document' of the schema has all the rest as JSON."
    ),
}


def batch_body(found: Mapping[str, Lookup]) -> Node:
    """Return the schema of a batch body."""
    column = {
        "type": "object",
        "required": ["values"],
        "properties": {
            "unit": {"type": "string"},
            "values": {"type": "array", "items": {}, "minItems": 1, "maxItems": MOST_POINTS},
        },
        "additionalProperties": False,
    }
    return {
        "type": "object",
        "required": ["lookup", "columns"],
        "properties": {
            "lookup": {"enum": list(batched(found))},
            "given": {"type": "object", "additionalProperties": {"type": "string"}},
            "columns": {"type": "object", "minProperties": 1, "additionalProperties": column},
        },
        "additionalProperties": False,
        "example": {
            "lookup": "breakdown",
            "given": {"gas": "air", "electrodes": "uniform-field"},
            "columns": {"gap": {"unit": "mm", "values": [1, 2, 8]}},
        },
    }


def body_operation(key: str, title: str, summary: str, content: Mapping[str, object], answers: object) -> Node:
    """Return a POST operation."""
    return {
        "post": {
            "operationId": key,
            "summary": title,
            "description": summary,
            "tags": ["lookups"],
            "requestBody": {"required": True, "content": dict(content)},
            "responses": answers,
        }
    }


QUANTITY_PARTS = frozenset({"value", "low", "high", "unit", "measure"})
MOST_KEYS = 40
"""Keys of one parameter that are tried."""


def seen(lookup: Lookup, registry: Registry) -> Mapping[str, Node]:
    """Return the schema of every result field as it was seen; a field that was not seen is absent."""
    found: dict[str, Node] = {}
    for document in _documents(lookup, registry):
        for name, value in document.items():
            schema = typed(value)
            found[name] = merged(found[name], schema) if name in found else schema
    return found


def _documents(lookup: Lookup, registry: Registry) -> Iterator[Mapping[str, object]]:
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
            question = lookup.read(asked.items())
            yield lookup.answer(question).document(registry)
        except ServiceError:  # what is refused has no type
            continue


def _shape(arrangement: Arrangement, known: set[str]) -> dict[str, str | None]:
    """Return what asks for an arrangement of its example's sizes; a gap that follows from them is taken out."""
    sizes = {size.name: size.example or size.default for size in arrangement.parameters if size.name in known}
    return {"electrodes": arrangement.key, **sizes, **({"gap": None} if arrangement.gap_from is not None else {})}


def typed(value: object) -> Node:
    """Return the schema of one value."""
    if isinstance(value, Mapping):
        return _object(value)
    if isinstance(value, list | tuple):
        items: Node | None = None
        for one in value[:50]:
            items = typed(one) if items is None else merged(items, typed(one))
        return {"type": "array", "items": items or {}}
    if value is None:
        return {"type": "null"}
    if isinstance(value, bool):
        return {"type": "boolean"}
    return {"type": "string"} if isinstance(value, str) else {"type": "number"}


def _object(value: Mapping[str, object]) -> Node:
    if "unit" in value and "value" in value:
        further = {name: typed(one) for name, one in value.items() if name not in QUANTITY_PARTS}
        quantity = {"$ref": "#/components/schemas/quantity"}
        return {"allOf": [quantity, {"type": "object", "properties": further}]} if further else quantity
    if {"key", "title", "kind", "source"} <= set(value):
        return {"$ref": "#/components/schemas/method"}
    if {"key", "citation"} <= set(value):
        return {"$ref": "#/components/schemas/source"}
    return {"type": "object", "properties": {str(name): typed(one) for name, one in value.items()}}


def merged(first: Node, second: Node) -> Node:
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


def _kinds(schema: Node) -> list[str]:
    kind = schema.get("type", [])
    return list(kind) if isinstance(kind, list) else [kind]


def _quantities(first: Node, second: Node) -> Node:
    """Merge quantities of which one at least has further members."""
    further: Node = {"type": "object", "properties": {}}
    for schema in (first, second):
        if "allOf" in schema:
            further = merged(further, schema["allOf"][1])
        elif schema.get("$ref") != "#/components/schemas/quantity":
            return {}
    return {"allOf": [{"$ref": "#/components/schemas/quantity"}, further]}
