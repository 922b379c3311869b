"""The OpenAPI 3.1 description, generated from the parameter declarations and the routes.

``python -m service.web.openapi`` writes ``openapi.yaml`` beside the package; a test keeps it in step.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml

import service
from service import lookups, units
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.lookups.catalogues import CATALOGUES
from service.parameters import Parameter
from service.render.formats import FORMATS
from service.web import openapi_schemas as schemas
from service.web.asking import DIGITS, FORMAT, ONLY, PICTURES, THEME, VIEW, WIDTH

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
    shared = Shared()
    for lookup in found.values():
        paths |= _body_path(lookup) if lookup.post else _lookup_paths(lookup, shared)
        if lookup.body is not None and not lookup.post:
            paths[f"/v1/{lookup.key}"] |= _body_path(lookup, "-by-record")[f"/v1/{lookup.key}"]
    paths |= {"/v1/batch": _batch_path()}
    for kind, (title, _) in CATALOGUES.items():
        paths |= _catalogue_paths(kind, title)
    paths |= schemas.other_paths()
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
    return {**every, "headers": dict(schemas.HEADERS), "parameters": shared.components}


def _identifier(path: str, verb: str) -> str:
    own = path.startswith("/v1")
    words = re.findall(r"[a-z0-9-]+", path.removeprefix("/v1/")) or ["home"]
    words += [] if own else ["page"]
    words += ["root"] if len(path) > 1 and path.endswith("/") else []
    return "-".join(words if verb == "get" else [*words, verb])


@dataclass
class Shared:
    """Parameters that operations share, each written once.

    Parameters
    ----------
    components : dict
        By the key under which they stand.
    """

    components: dict[str, Any] = field(default_factory=dict)

    def reference(self, block: dict[str, Any], owner: str) -> dict[str, Any]:
        """Return the reference to a parameter object; one of another meaning is kept under its owner's name too."""
        for key in (block["name"], f"{block['name']}-{owner}"):
            if self.components.setdefault(key, block) == block:
                return {"$ref": f"#/components/parameters/{key}"}
        raise ValueError(block["name"])


def parameter_object(parameter: Parameter, *, required: bool | None = None) -> dict[str, Any]:
    """Return a query parameter as a plain dictionary.

    Parameters
    ----------
    parameter : Parameter
    required : bool, optional
        In place of the declaration's.
    """
    block: dict[str, Any] = {
        "name": parameter.name,
        "in": "query",
        "required": parameter.required if required is None else required,
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
    parts = [parameter.meaning]
    if parameter.many:
        parts.append("A comma list.")
    bounds = parameter.bounds()
    if bounds:
        shown = [f"{b['value']:.6g} {b['unit']}" if isinstance(b, dict) else f"{b:g}" for b in bounds.values()]
        words = {"low": "at least", "high": "at most"}
        said = "; ".join(f"{words[k]} {text}" for k, text in zip(bounds, shown, strict=True))
        parts.append(said[:1].upper() + said[1:] + ".")
    if parameter.default:
        parts.append(f"Default {parameter.default}.")
    return " ".join(parts)


def schema_of(parameter: Parameter) -> dict[str, Any]:
    """Return the schema of a parameter's text: a pattern for quantities, a list for keys."""
    if parameter.choices:
        one: dict[str, Any] = {"type": "string", "enum": list(parameter.choices)}
        return _listed("|".join(map(re.escape, parameter.choices))) if parameter.many else one
    if parameter.dimension in units.DIMENSIONS:
        quantity = schemas.quantity_text(parameter.dimension)["pattern"][1:-1]
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
    return {"type": "string", "pattern": f"^({pattern})(,({pattern}))*$"}


def _lookup_paths(lookup: Lookup, shared: Shared) -> dict[str, Any]:
    """Return the path of a lookup."""
    own = [shared.reference(parameter_object(p), lookup.key) for p in lookup.parameters]
    looks = [shared.reference(parameter_object(one), "picture") for one in (THEME, VIEW, WIDTH)]
    only = [shared.reference(parameter_object(one), "field") for one in (ONLY, DIGITS)] if lookup.single_values else []
    pictures = looks if set(PICTURES) & set(lookup.formats) else []
    form = parameter_object(replace(FORMAT, choices=lookup.formats))
    operation = _operation(lookup, [*own, *only, *pictures, shared.reference(form, lookup.key)], lookup.formats)
    return {f"/v1/{lookup.key}": {"get": operation}}


def _operation(lookup: Lookup, parameters: list[dict[str, Any]], formats: tuple[str, ...]) -> dict[str, Any]:
    operation: dict[str, Any] = {
        "operationId": lookup.key,
        "summary": lookup.title,
        "description": lookup.summary,
        "tags": ["lookups"],
        "parameters": parameters,
        "responses": responses(lookup.key, formats),
    }
    return operation


def responses(schema: str, formats: tuple[str, ...], *, body: bool = False) -> dict[str, Any]:
    """Return the responses of an operation: the answer in every format, 304, and every problem.

    Parameters
    ----------
    schema : str
        Name of the answer's schema.
    formats : tuple of str
        Formats offered.
    body : bool
        Whether the question comes in a body.
    """
    content: dict[str, Any] = {}
    if "json" in formats:
        content["application/json"] = {"schema": {"$ref": f"#/components/schemas/{schema}-answer"}}
    for name in formats:
        content.setdefault(FORMATS[name].media_type.partition(";")[0], {"schema": {"type": "string"}})
    if not body:
        content.setdefault("text/plain", {"schema": {"type": "string"}})
    headers = {name: {"$ref": f"#/components/headers/{name}"} for name in schemas.HEADERS}
    answer = {"description": "The answer.", "content": content, **({} if body else {"headers": headers})}
    codes = ("400", "404", "405", "406", "413", "415", "422", "500", "503")
    wanted = codes if body else tuple(c for c in codes if c not in ("413", "415"))
    problems = {code: {"$ref": f"#/components/responses/{code}"} for code in wanted}
    unchanged = {} if body else {"304": {"$ref": "#/components/responses/304"}}
    return {"200": answer} | unchanged | problems


def _body_path(lookup: Lookup, suffix: str = "") -> dict[str, Any]:
    assert lookup.body is not None
    body = {"$ref": f"#/components/schemas/{lookup.key}-body"}
    content: dict[str, Any] = {"application/json": {"schema": body}}
    if lookup.from_sheet is not None:
        content["text/csv"] = {"schema": {"type": "string"}}
    answers = responses(lookup.key, lookup.formats, body=True)
    return {
        f"/v1/{lookup.key}": schemas.body_operation(lookup.key + suffix, lookup.title, lookup.summary, content, answers)
    }


def _batch_path() -> dict[str, Any]:
    content = {"application/json": {"schema": schemas.batch_body()}}
    summary = "Many points of one lookup at once; an element without an answer is null with its reason in status."
    return schemas.body_operation("batch", "Many points", summary, content, responses("batch", ("json",), body=True))


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


def _catalogue_paths(kind: str, title: str) -> dict[str, Any]:
    formats = ("json", "txt", "csv", "md", "html")
    listed = {
        "operationId": kind,
        "summary": title,
        "tags": ["catalogues"],
        "responses": responses("catalogue", formats),
    }
    one = {
        "operationId": f"{kind}-entry",
        "summary": f"{title}: one of them",
        "tags": ["catalogues"],
        "parameters": [
            {
                "name": "key",
                "in": "path",
                "required": True,
                "schema": {"type": "string"},
                "description": "Key, or key and suffix.",
            },
            *ENTRY_PARAMETERS.get(kind, ()),
        ],
        "responses": responses("entry", formats),
    }
    return {f"/v1/{kind}": {"get": listed}, f"/v1/{kind}/{{key}}": {"get": one}}


def as_text(document: Mapping[str, Any]) -> str:
    """Return a description as YAML."""
    return yaml.dump(document, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=160, default_flow_style=None)


class _Plain(yaml.SafeDumper):
    """YAML without anchors, which some readers do not follow."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def main() -> None:
    """Write ``openapi.yaml`` beside the package."""
    target = Path(service.__file__).parent.parent / "openapi.yaml"
    target.write_text(as_text(specification(Registry.build())), encoding="utf-8")


if __name__ == "__main__":
    main()
