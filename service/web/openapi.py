"""The OpenAPI 3.1 description, generated from the parameter declarations and the routes.

``python -m service.web.openapi`` writes ``openapi.yaml`` beside the package; a test keeps it in step.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import yaml

import service
from service import lookups, units
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.lookups.catalogues import CATALOGUES
from service.parameters import MOST_LISTED, Parameter
from service.render.formats import FORMATS
from service.web import openapi_schemas as schemas
from service.web.arrow_body import MEDIA_TYPE as ARROW
from service.web.asking import DIGITS, FORMAT, ONLY, PICTURES, THEME, VIEW, WIDTH
from service.web.openapi_pages import fixed_paths

TAGS = {
    "lookups": "Questions and their answers.",
    "catalogues": "What there is: electrodes, gases, methods, materials, units, sources, tables.",
    "pages": "For people.",
    "operations": "For operators.",
}


def specification(registry: Registry) -> dict[str, Any]:
    """Return the description of the whole interface.

    Parameters
    ----------
    registry : Registry
        Built from the shipped data.
    """
    found = lookups.discover(registry)
    paths: dict[str, Any] = {}
    shared = Shared({lookup.key: parameter_objects(lookup) for lookup in found.values() if not lookup.post})
    for lookup in found.values():
        paths |= _body_path(lookup) if lookup.post else _lookup_path(lookup, shared)
        if lookup.body is not None and not lookup.post:
            paths[f"/v1/{lookup.key}"] |= _body_path(lookup, "-by-record")[f"/v1/{lookup.key}"]
    paths |= {"/v1/batch": _batch_path(found)}
    for kind, (title, _) in CATALOGUES.items():
        paths |= _catalogue_paths(kind, title)
    paths |= fixed_paths()
    for path, operations in paths.items():
        for verb, operation in operations.items():
            if verb in ("get", "post"):
                operation.setdefault("operationId", _identifier(path, verb))
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Spark-gap and breakdown voltage reference service",
            "version": service.__version__,
            "summary": "Breakdown voltage of gaps, its inverse, and insulation guidance, each with its source.",
            "description": schemas.DESCRIPTION,
            "contact": {"name": "Whoever runs this copy of the service"},
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "security": [],
        "tags": [{"name": name, "description": words} for name, words in TAGS.items()],
        "paths": paths,
        "components": _components(found, registry, shared),
    }


def _components(found: Mapping[str, Lookup], registry: Registry, shared: Shared) -> dict[str, Any]:
    every = schemas.components(found, registry)
    bodies = {f"{one.key}-body": one.body for one in found.values() if one.body is not None}
    every["schemas"] |= schemas.bodies(bodies, describe)
    kinds = {name: answer_object(name, CATALOGUE_FORMATS) for name in ("catalogue", "entry")}
    parameters = {**shared.components, "key": KEY}
    answers = {**every["responses"], **kinds}
    return {**every, "responses": answers, "headers": dict(schemas.HEADERS), "parameters": parameters}


def _identifier(path: str, verb: str) -> str:
    own = path.startswith("/v1")
    words = re.findall(r"[a-z0-9-]+", path.removeprefix("/v1/")) or ["home"]
    words += [] if own else ["page"]
    return "-".join(words if verb == "get" else [*words, verb])


class Shared:
    """Parameters that operations share, each written once.

    Parameters
    ----------
    asked : mapping of str to iterable of dict
        Parameter objects by the lookup that asks with them.
    """

    def __init__(self, asked: Mapping[str, Iterable[dict[str, Any]]]) -> None:
        kinds: dict[str, list[tuple[str, dict[str, Any]]]] = {}
        often: Counter[str] = Counter()
        for owner, blocks in asked.items():
            for block in blocks:
                known = kinds.setdefault(block["name"], [])
                first = next((name for name, kind in known if kind == block), None)
                if first is None:
                    known.append((owner, block))
                often[f"{block['name']} {first or owner}"] += 1
        self.components: dict[str, Any] = {}
        for name, known in kinds.items():
            # the meaning that most have in mind has the plain name, another that of the first lookup that has it
            most = max(known, key=lambda kind: often[f"{name} {kind[0]}"])
            self.components |= {name if kind is most else f"{name}-{kind[0]}": kind[1] for kind in known}

    def reference(self, block: dict[str, Any]) -> dict[str, Any]:
        """Return the reference to a parameter object."""
        name = block["name"]
        key = next(key for key, kind in self.components.items() if kind["name"] == name and kind == block)
        return {"$ref": f"#/components/parameters/{key}"}


def parameter_object(parameter: Parameter) -> dict[str, Any]:
    """Return a query parameter as a plain dictionary; one that need not be given says nothing of it, as is the rule."""
    block: dict[str, Any] = {
        "name": parameter.name,
        "in": "query",
        **({"required": True} if parameter.required else {}),
        "description": describe(parameter),
        "schema": schema_of(parameter),
    }
    example = parameter.example or parameter.default
    if example:
        block["example"] = parameter.read(example) if parameter.dimension in TYPED else example
    return block


TYPED = ("count", "number", "boolean")
"""Kinds of value that are no text."""


def describe(parameter: Parameter) -> str:
    """Return meaning, accepted units and bounds of a parameter in words."""
    parts = [parameter.meaning, *([parameter.beside()] if parameter.beside() else [])]
    if parameter.many:
        parts.append("A comma list.")
    bounds = parameter.bounds_in_words()
    if bounds:
        words = {"low": "at least", "high": "at most"}
        said = "; ".join(f"{words[end]} {text}" for end, text in bounds.items())
        parts.append(said[:1].upper() + said[1:] + ".")
    if parameter.default:
        parts.append(f"Default {parameter.default}.")
    return " ".join(parts)


def schema_of(parameter: Parameter) -> dict[str, Any]:
    """Return the schema of a parameter's text: a pattern for quantities, a list for keys."""
    if parameter.choices:
        one: dict[str, Any] = {"type": "string", "enum": list(parameter.choices)}
        return _listed("|".join(map(schemas.escaped, parameter.choices))) if parameter.many else one
    if parameter.dimension in units.DIMENSIONS:
        quantity = schemas.quantity_schema(parameter.dimension)["pattern"][1:-1]
        return _listed(quantity) if parameter.many else {"$ref": f"#/components/schemas/{parameter.dimension}"}
    plain: dict[str, dict[str, Any]] = {
        "count": {"type": "integer"},
        "number": {"type": "number"},
        "boolean": {"type": "boolean"},
    }
    one = plain.get(parameter.dimension, {"type": "string", "minLength": 1})
    one |= {k: v for k, v in {"minimum": parameter.low, "maximum": parameter.high}.items() if v is not None}
    return _listed("[^,]+") if parameter.many else one


def _listed(pattern: str) -> dict[str, Any]:
    """Return the schema of a comma list as the text that it is: clients repeat the name of an array."""
    return {"type": "string", "pattern": f"^({pattern})(,({pattern})){{0,{MOST_LISTED - 1}}}$"}


def parameter_objects(lookup: Lookup) -> list[dict[str, Any]]:
    """Return everything that a lookup is asked with, its manner included."""
    only = (ONLY, DIGITS) if lookup.single_values else ()
    looks = (THEME, VIEW, WIDTH) if set(PICTURES) & set(lookup.formats) else ()
    return [parameter_object(p) for p in (*lookup.parameters, *only, *looks, replace(FORMAT, choices=lookup.formats))]


def _lookup_path(lookup: Lookup, shared: Shared) -> dict[str, Any]:
    """Return the path of a lookup."""
    operation = {
        "operationId": lookup.key,
        "summary": lookup.title,
        "description": " ".join(filter(None, (lookup.summary, lookup.asked_by()))),
        "tags": ["lookups"],
        "parameters": [shared.reference(one) for one in parameter_objects(lookup)],
        "responses": responses(answer_object(lookup.key, lookup.formats)),
    }
    return {f"/v1/{lookup.key}": {"get": operation}}


ASKED, KEYED, POSTED = ("400", "422"), ("404",), ("413", "415")
"""Problems that a question has itself: of a query, further ones where a path names an entry, where a body is read."""


def responses(answer: dict[str, Any], *further: str, stored: bool = True) -> dict[str, Any]:
    """Return the responses of an operation: the answer, 304 where it may be stored, problems of the question, others.

    Parameters
    ----------
    answer : dict
        Response object, or a reference to one.
    further : str
        Codes of further problems.
    stored : bool
        Whether a client may keep it, with its tag.
    """
    codes = [*(("304",) if stored else ()), *sorted((*ASKED, *further))]
    return {"200": answer} | {code: {"$ref": f"#/components/responses/{code}"} for code in (*codes, "default")}


def answer_object(schema: str, formats: tuple[str, ...], *, stored: bool = True) -> dict[str, Any]:
    """Return the response that holds an answer, in every format.

    Parameters
    ----------
    schema : str
        Name of the answer's schema.
    formats : tuple of str
        Formats offered.
    stored : bool
        Whether a client may keep it; it is given alone too, by ``only``.
    """
    content: dict[str, Any] = {}
    if "json" in formats:
        content["application/json"] = {"schema": {"$ref": f"#/components/schemas/{schema}-answer"}}
    for name in (*formats, *(("txt",) if stored else ())):
        content.setdefault(FORMATS[name].media_type.partition(";")[0], {"schema": {"type": "string"}})
    headers = {name: {"$ref": f"#/components/headers/{name}"} for name in schemas.HEADERS}
    return {"description": "The answer.", "content": content, **({"headers": headers} if stored else {})}


def _body_path(lookup: Lookup, suffix: str = "") -> dict[str, Any]:
    assert lookup.body is not None
    body = {"$ref": f"#/components/schemas/{lookup.key}-body"}
    content: dict[str, Any] = {"application/json": {"schema": body}}
    if lookup.from_sheet is not None:
        content["text/csv"] = {"schema": {"type": "string"}}
    answers = responses(answer_object(lookup.key, lookup.formats, stored=False), *POSTED, stored=False)
    return {
        f"/v1/{lookup.key}": schemas.body_operation(lookup.key + suffix, lookup.title, lookup.summary, content, answers)
    }


def _batch_path(found: Mapping[str, Lookup]) -> dict[str, Any]:
    content = {"application/json": {"schema": schemas.batch_body(found)}, ARROW: {"schema": schemas.ARROW_BODY}}
    summary = (
        "Many points of one lookup at once; an element without an answer is null with its reason in status. As an "
        "Arrow stream up to 10^7 points, both ways: the schema's metadata has the rest of the question as JSON under "
        "'question', and of the answer under 'document'; the metadata of a field has its unit."
    )
    answer = answer_object("batch", ("json",), stored=False)
    answer["content"][ARROW] = {"schema": schemas.ARROW_ANSWER}
    answers = responses(answer, *POSTED, stored=False)
    return schemas.body_operation("batch", "Many points", summary, content, answers)


ENTRY_PARAMETERS: Mapping[str, tuple[dict[str, Any], ...]] = {
    "tables": (
        {
            "name": "proof",
            "in": "query",
            "required": False,
            "schema": {"type": "string", "enum": ["true"]},
            "description": (
                "A sheet of the table to be held against its print and ticked, with the suffix .md, .html or .csv; "
                "cells from memory alone are marked."
            ),
        },
    ),
}
"""What an entry of a catalogue is asked with, by catalogue."""


CATALOGUE_FORMATS = ("json", "txt", "csv", "md", "html")
KEY: Mapping[str, Any] = {
    "name": "key",
    "in": "path",
    "required": True,
    "schema": {"type": "string"},
    "description": "Key, or key and suffix.",
}


def _catalogue_paths(kind: str, title: str) -> dict[str, Any]:
    listed, one = ({"$ref": f"#/components/responses/{name}"} for name in ("catalogue", "entry"))
    every = {
        "operationId": kind,
        "summary": title,
        "description": "The whole list, with the keys under which each stands alone.",
        "tags": ["catalogues"],
        "responses": responses(listed),
    }
    entry = {
        "operationId": f"{kind}-entry",
        "summary": f"{title}: one of them",
        "description": "One entry by its key, with everything that is known of it.",
        "tags": ["catalogues"],
        "parameters": [{"$ref": "#/components/parameters/key"}, *ENTRY_PARAMETERS.get(kind, ())],
        "responses": responses(one, *KEYED),
    }
    return {f"/v1/{kind}": {"get": every}, f"/v1/{kind}/{{key}}": {"get": entry}}


def as_text(document: Mapping[str, Any]) -> str:
    """Return a description as YAML."""
    return yaml.dump(document, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=LONGEST_LINE)


LONGEST_LINE = 240
"""Length up to which an object or a list stands in one line."""


class _Plain(yaml.SafeDumper):
    """YAML without anchors, which some readers do not follow; what is short stands in one line."""

    def ignore_aliases(self, data: Any) -> bool:
        return True

    def represent_mapping(self, tag: str, mapping: Any, flow_style: bool | None = None) -> yaml.MappingNode:
        node = super().represent_mapping(tag, mapping, flow_style)
        node.flow_style = _length(node) <= LONGEST_LINE
        return node

    def represent_sequence(self, tag: str, sequence: Any, flow_style: bool | None = None) -> yaml.SequenceNode:
        node = super().represent_sequence(tag, sequence, flow_style)
        node.flow_style = _length(node) <= LONGEST_LINE
        return node


def _length(node: yaml.Node) -> int:
    """Return about how long a node is in one line."""
    if isinstance(node, yaml.MappingNode):
        return sum(_length(key) + _length(value) + 4 for key, value in node.value)
    return sum(_length(one) + 2 for one in node.value) if isinstance(node, yaml.SequenceNode) else len(node.value)


def main() -> None:
    """Write ``openapi.yaml`` beside the package."""
    target = Path(service.__file__).parent.parent / "openapi.yaml"
    target.write_text(as_text(specification(Registry.build())), encoding="utf-8")


if __name__ == "__main__":
    main()
