"""The OpenAPI 3.1 description, generated from the parameter declarations and the routes.

``python -m service.web.openapi`` writes ``openapi.yaml`` beside the package; a test keeps it in step.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
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
from service.web.openapi_schemas import Node

TAGS = {
    "lookups": "Questions and their answers.",
    "catalogues": "What there is: electrodes, gases, methods, materials, units, sources, tables.",
    "pages": "For people.",
    "operations": "For operators.",
}


def specification(registry: Registry) -> Node:
    """Return the description of the whole interface.

    Parameters
    ----------
    registry : Registry
        Built from the shipped data.
    """
    found = lookups.discover(registry)
    paths: Node = {}
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


def _components(found: Mapping[str, Lookup], registry: Registry, shared: Shared) -> Node:
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

    def __init__(self, asked: Mapping[str, Iterable[Node]]) -> None:
        kinds: dict[str, list[tuple[str, Node]]] = {}
        often: Counter[str] = Counter()
        for owner, blocks in asked.items():
            for block in blocks:
                known = kinds.setdefault(block["name"], [])
                first = next((name for name, kind in known if kind == block), None)
                if first is None:
                    known.append((owner, block))
                often[f"{block['name']} {first or owner}"] += 1
        self.components: Node = {}
        for name, known in kinds.items():
            # the meaning that most have in mind has the plain name, another that of the first lookup that has it
            most = max(known, key=lambda kind: often[f"{name} {kind[0]}"])
            self.components |= {name if kind is most else f"{name}-{kind[0]}": kind[1] for kind in known}

    def reference(self, block: Node) -> Node:
        """Return the reference to a parameter object."""
        name = block["name"]
        key = next(key for key, kind in self.components.items() if kind["name"] == name and kind == block)
        return {"$ref": f"#/components/parameters/{key}"}


def parameter_object(parameter: Parameter) -> Node:
    """Return a query parameter as a plain dictionary; one that need not be given says nothing of it, as is the rule."""
    block: Node = {
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


def schema_of(parameter: Parameter) -> Node:
    """Return the schema of a parameter's text: a pattern for quantities, a list for keys."""
    if parameter.choices:
        one: Node = {"type": "string", "enum": list(parameter.choices)}
        return _listed("|".join(map(schemas.escaped, parameter.choices))) if parameter.many else one
    if parameter.dimension in units.DIMENSIONS:
        quantity = schemas.quantity_schema(parameter.dimension)["pattern"][1:-1]
        return _listed(quantity) if parameter.many else {"$ref": f"#/components/schemas/{parameter.dimension}"}
    plain: dict[str, Node] = {
        "count": {"type": "integer"},
        "number": {"type": "number"},
        "boolean": {"type": "boolean"},
    }
    one = plain.get(parameter.dimension, {"type": "string", "minLength": 1})
    one |= {k: v for k, v in {"minimum": parameter.low, "maximum": parameter.high}.items() if v is not None}
    return _listed("[^,]+") if parameter.many else one


def _listed(pattern: str) -> Node:
    """Return the schema of a comma list as the text that it is: clients repeat the name of an array."""
    return {"type": "string", "pattern": f"^({pattern})(,({pattern})){{0,{MOST_LISTED - 1}}}$"}


def parameter_objects(lookup: Lookup) -> list[Node]:
    """Return everything that a lookup is asked with, its manner included."""
    only = (ONLY, DIGITS) if lookup.single_values else ()
    looks = (THEME, VIEW, WIDTH) if set(PICTURES) & set(lookup.formats) else ()
    return [parameter_object(p) for p in (*lookup.parameters, *only, *looks, replace(FORMAT, choices=lookup.formats))]


def _lookup_path(lookup: Lookup, shared: Shared) -> Node:
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


def responses(answer: Node, *further: str, stored: bool = True) -> Node:
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


def answer_object(schema: str, formats: tuple[str, ...], *, stored: bool = True) -> Node:
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
    content: Node = {}
    if "json" in formats:
        content["application/json"] = {"schema": {"$ref": f"#/components/schemas/{schema}-answer"}}
    for name in (*formats, *(("txt",) if stored else ())):
        content.setdefault(FORMATS[name].media_type.partition(";")[0], {"schema": {"type": "string"}})
    headers = {name: {"$ref": f"#/components/headers/{name}"} for name in schemas.HEADERS}
    return {"description": "The answer.", "content": content, **({"headers": headers} if stored else {})}


def _body_path(lookup: Lookup, suffix: str = "") -> Node:
    assert lookup.body is not None
    body = {"$ref": f"#/components/schemas/{lookup.key}-body"}
    content: Node = {"application/json": {"schema": body}}
    if lookup.from_sheet is not None:
        content["text/csv"] = {"schema": {"type": "string"}}
    answers = responses(answer_object(lookup.key, lookup.formats, stored=False), *POSTED, stored=False)
    return {
        f"/v1/{lookup.key}": schemas.body_operation(lookup.key + suffix, lookup.title, lookup.summary, content, answers)
    }


def _batch_path(found: Mapping[str, Lookup]) -> Node:
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


ENTRY_PARAMETERS: Mapping[str, tuple[Node, ...]] = {
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
KEY: Mapping[str, object] = {
    "name": "key",
    "in": "path",
    "required": True,
    "schema": {"type": "string"},
    "description": "Key, or key and suffix.",
}


def _catalogue_paths(kind: str, title: str) -> Node:
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
        "parameters": [BY_KEY, *ENTRY_PARAMETERS.get(kind, ())],
        "responses": responses(one, *KEYED),
    }
    return {f"/v1/{kind}": {"get": every}, f"/v1/{kind}/{{key}}": {"get": entry}}


PAGE, JSON, TEXT = "text/html", "application/json", "text/plain"
BY_KEY: Mapping[str, object] = {"$ref": "#/components/parameters/key"}


@dataclass(frozen=True)
class Fixed:
    """A path that is asked with GET.

    Parameters
    ----------
    media : str
        Type of what is answered.
    problems : tuple of str
        Codes of the problems.
    parameters : tuple
        Parameter objects.
    refused : mapping of str to str
        What a page says of a refusal, by code, where it is a page too.
    """

    summary: str
    description: str
    media: str = PAGE
    tag: str = "pages"
    problems: tuple[str, ...] = ("405", "500")
    parameters: tuple[Mapping[str, object], ...] = ()
    refused: Mapping[str, str] | None = None

    def operation(self) -> Node:
        """Return the operation."""
        answers = {"200": self.summary, **(self.refused or {})}
        asked = {"parameters": list(self.parameters)} if self.parameters else {}
        return {
            "summary": self.summary,
            "description": self.description,
            "tags": [self.tag],
            **asked,
            "responses": {code: _body(words, self.media) for code, words in answers.items()} | _problems(self.problems),
        }


def _body(words: str, media: str) -> Node:
    kind = "object" if media in (JSON, "application/csvm+json") else "string"
    return {"description": words, "content": {media: {"schema": {"type": kind}}}}


def _problems(codes: tuple[str, ...]) -> Node:
    return {code: {"$ref": f"#/components/responses/{code}"} for code in codes}


def _text(name: str, words: str, *, required: bool = False, kind: str = "string", only: str | None = None) -> Node:
    schema: Node = {"type": kind} | ({} if only is None else {"enum": [only]})
    return {"name": name, "in": "query", "required": required, "description": words, "schema": schema}


PATHS: Mapping[str, Fixed] = {
    "/health/live": Fixed(
        "Whether the process runs.", "Answers as long as it does; nothing is computed.", JSON, "operations"
    ),
    "/health/ready": Fixed(
        "Whether the data load and a known answer is right.",
        "To be asked before questions are sent: fails where a data package, the fonts or this description is missing.",
        JSON,
        "operations",
        ("405", "500", "503"),
    ),
    "/metrics": Fixed(
        "Metrics, where they are switched on.",
        "Requests, durations and sizes by lookup, of all workers, as text for a collector.",
        TEXT,
        "operations",
        ("404", "500"),
    ),
    "/openapi.yaml": Fixed(
        "This description.",
        "Generated from the declarations that questions are read by.",
        "application/yaml",
        "operations",
    ),
    "/v1": Fixed(
        "Every lookup, and how it is asked.",
        "Key, title and path of every lookup, with an example that works.",
        JSON,
        "catalogues",
        ("400", "406", "500", "503"),
    ),
    "/v1/tables/datapackage.json": Fixed(
        "All tables in use as a data package.",
        "The descriptor of every table that answers rest on, those laid over included.",
        JSON,
        "catalogues",
        ("400", "500", "503"),
    ),
    "/v1/tables/{key}.csv-metadata.json": Fixed(
        "Metadata of a table's CSV (CSV on the Web).",
        "Columns of the table with their types, units and meaning.",
        "application/csvm+json",
        "catalogues",
        ("400", "404", "500", "503"),
        (BY_KEY,),
    ),
    "/": Fixed("The page.", "A question in a form, its answer, and its curve."),
    "/docs": Fixed(
        "The reference for people.", "Every lookup with what it is asked with, and everything that answers may say."
    ),
    "/profile": Fixed(
        "Electrodes chosen from ready shapes, and their field.", "A form for questions to the lookup of the same name."
    ),
    "/tables": Fixed("Every table, with links.", "Where each table comes from and how far it was checked."),
    "/wiki": Fixed(
        "Snippets for wikis.",
        "How a question is put into a wiki page, as a link, a picture or a frame.",
        parameters=(_text("url", "Address of a question of this service."),),
        refused={"400": "What cannot be put into a wiki, and why."},
    ),
    "/static/card.css": Fixed("The style of cards, for a page that shows them.", "A style sheet.", "text/css"),
    "/probe-check": Fixed("The probe check in a form.", "A sheet of readings is filled in or sent."),
    "/problems/{key}": Fixed(
        "A problem type explained.",
        "Where the type of a problem document leads.",
        problems=("404", "500"),
        parameters=(BY_KEY,),
    ),
    "/oembed": Fixed(
        "How a question is embedded (oEmbed 1.0).",
        "The frame that shows a card, for a page into which the address of a question is pasted.",
        JSON,
        problems=("404", "500", "501", "503"),
        parameters=(
            _text("url", "Address of a question of this service.", required=True),
            _text("format", "The one that is offered.", only="json"),
            _text("maxwidth", "Widest, in pixels.", kind="integer"),
            _text("maxheight", "Highest, in pixels.", kind="integer"),
        ),
    ),
}
"""Every path that is no question, by its template."""

FORM: Mapping[str, object] = {
    "summary": "Check from the form.",
    "description": "The fields of the form, or a sheet, are judged as the lookup of the same name does.",
    "tags": ["pages"],
    "requestBody": {"content": {"multipart/form-data": {"schema": {"type": "object"}}}},
    "responses": {
        "200": _body("The result.", PAGE),
        "400": _body("What could not be read.", PAGE),
        "422": _body("What is not covered.", PAGE),
        **_problems(("413", "500")),
    },
}
"""The page that takes its own form."""


def fixed_paths() -> Node:
    """Return the path items of everything that is no question."""
    paths: Node = {path: {"get": fixed.operation()} for path, fixed in PATHS.items()}
    paths["/probe-check"]["post"] = dict(FORM)
    return paths


def as_text(document: Mapping[str, Any]) -> str:
    """Return a description as YAML."""
    return yaml.dump(document, Dumper=_Plain, sort_keys=False, allow_unicode=True, width=LONGEST_LINE)


LONGEST_LINE = 240
"""Length up to which an object or a list stands in one line."""


class _Plain(yaml.SafeDumper):
    """YAML without anchors, which some readers do not follow; what is short stands in one line."""

    def ignore_aliases(self, data: object) -> bool:
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


def main(arguments: Sequence[str] | None = None) -> int:
    """Write ``openapi.yaml`` of a checkout, or another file; an installed package is left as it is."""
    parser = argparse.ArgumentParser(prog="python -m service.web.openapi", description=main.__doc__)
    parser.add_argument("file", nargs="?", type=Path, help="where to write it, in place of that of the checkout")
    chosen = parser.parse_args(arguments).file
    package = Path(service.__file__).parent
    if chosen is None and (package / "openapi.yaml").exists():
        parser.error("an installed package is left as it is: name the file to write")
    target = chosen or package.parent / "openapi.yaml"
    try:
        target.write_text(as_text(specification(Registry.build())), encoding="utf-8")
    except OSError as error:
        parser.error(f"{target} cannot be written: {error.strerror or error}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
