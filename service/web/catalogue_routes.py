"""Catalogues and reference tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import orjson
from flask import Blueprint, Response, request

from service import __version__
from service.answers.document import document
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import BadQuestion, NotFound, did_you_mean, quoted
from service.lookups.catalogues import CATALOGUES, DETAILS, table_block
from service.reference import Reference, Table
from service.render.formats import FORMATS
from service.render.html_card import ListEntry, listing
from service.render.page import Page
from service.render.records import capital
from service.render.table import PROOF_FORMATS, TABLE_FORMATS
from service.web.forms import pictured
from service.web.responses import CARD_POLICY, negotiated, tag_of, tagged
from service.web.workshop import workshop

blueprint = Blueprint("catalogues", __name__)

LIST_FORMATS = ("json", "txt", "csv", "md", "wiki", "dokuwiki", "html")
ROUTES = f"/v1/<any({', '.join(CATALOGUES)}):kind>"
SUFFIXES = "any(" + ", ".join(f"'.{name}'" for name in FORMATS) + ")"


@blueprint.get("/v1", strict_slashes=False)
def index() -> Response:
    """List the lookups, and how each is asked."""
    every = workshop().lookups.values()
    return respond("Lookups", "lookups", "", lambda _: {"lookups": [_entry(one) for one in every]})


def _entry(one: Lookup) -> dict[str, Any]:
    block = {"key": one.key, "title": one.title, "summary": one.summary, "path": f"/v1/{one.key}"}
    methods = [*([] if one.post else ["GET"]), *(["POST"] if one.body is not None else [])]
    block["asked_with"] = " or ".join(methods)
    return block | ({"example": f"/v1/{one.key}?{one.example}"} if one.example and not one.post else {})


@blueprint.get(ROUTES, defaults={"suffix": ""})
@blueprint.get(f"{ROUTES}<{SUFFIXES}:suffix>")
def catalogue(kind: str, suffix: str) -> Response:
    """List what there is."""
    title, entries = CATALOGUES[kind]
    return respond(title, kind, suffix, lambda registry: {**BESIDE.get(kind, {}), kind: entries(registry)})


@blueprint.get(f"{ROUTES}/<key>")
def entry(kind: str, key: str) -> Response:
    """Return one entry of a catalogue, or a table with its rows."""
    name, suffix = split(key)
    if kind == "tables":
        return table_response(name, suffix)
    title, entries = CATALOGUES[kind]

    def one(registry: Registry) -> dict[str, object]:
        if kind in DETAILS:
            return DETAILS[kind](registry, name)
        known = {str(block["key"]): block for block in entries(registry)}
        if name not in known:
            raise NotFound(f"There is no '{quoted(name)}' among {title.lower()}{did_you_mean(name, known)}.")
        return known[name]

    return respond(f"{title}: {name}", f"{kind}/{name}", suffix, one)


@blueprint.get("/v1/tables/datapackage.json")
def datapackage() -> Response:
    """Return all tables in use as one Frictionless Data Package descriptor."""
    refuse_parameters()
    reference = workshop().registry.reference
    return cached("datapackage", "json", "application/json", lambda: to_json(described(reference)))


def described(reference: Reference) -> dict[str, object]:
    """Return the descriptor of all tables in use."""
    licences = [dict(one) for package in reference.packages.values() for one in package.licenses]
    # the hash belongs to the shipped file, not to what is served
    resources = [
        {name: said for name, said in table.stated.items() if name != "hash"}
        | {"name": table.key, "path": f"{table.key}.csv"}
        for table in reference.tables.values()
    ]
    return {
        "name": "sparkover-reference",
        "title": "Reference tables in use",
        "version": reference.version,
        "licenses": [one for i, one in enumerate(licences) if one not in licences[:i]],
        "resources": resources,
    }


@blueprint.get("/v1/tables/<key>.csv-metadata.json")
def csv_metadata(key: str) -> Response:
    """Return the metadata of a table's CSV (W3C CSV on the Web)."""
    refuse_parameters()
    table = workshop().registry.reference.asked_table(key)
    return cached(f"tables/{key}", "csvw", "application/csvm+json", lambda: to_json(csvw(table)))


DATATYPES = {"number": "number", "integer": "integer", "boolean": "boolean"}
"""CSV on the Web datatype of a field's type; everything else is a string."""


def csvw(table: Table) -> dict[str, object]:
    """Return a table's metadata after CSV on the Web: columns with titles, units and datatypes, and the source."""
    columns = [
        {
            "name": field.name.replace("-", "_"),
            "titles": field.name,
            "datatype": DATATYPES.get(field.type, "string"),
            "dc:description": " ".join(part for part in (field.title, field.unit and f"[{field.unit}]") if part),
        }
        for field in table.fields
    ]
    return {
        "@context": "http://www.w3.org/ns/csvw",
        "url": f"{table.key}.csv",
        "dc:title": table.title,
        "dc:source": table.source.citation,
        "tableSchema": {"columns": columns},
    }


def table_response(name: str, suffix: str) -> Response:
    """Return a table: JSON with its rows, or one of the table formats; or its proof sheet."""
    if request.args.to_dict(flat=False) == {"proof": ["true"]}:
        return proof_response(name, suffix)
    refuse_parameters("proof=true, and nothing else, with the suffix .md, .csv or .html gives a sheet to be ticked.")
    table = workshop().registry.reference.asked_table(name)
    form = negotiated(("json", *TABLE_FORMATS), suffix.removeprefix(".") or None)
    if form == "json":
        return cached(f"tables/{name}", form, FORMATS[form].media_type, lambda: to_json(table_document(table)))
    response = cached(f"tables/{name}", form, FORMATS[form].media_type, lambda: TABLE_FORMATS[form](table))
    if form == "csv":
        links = (
            f'</v1/tables/{name}.csv-metadata.json>; rel="describedby"; type="application/csvm+json"',
            '</v1/tables/datapackage.json>; rel="describedby"; type="application/json"',
        )
        response.headers["Link"] = ", ".join(links)
    return response


def proof_response(name: str, suffix: str) -> Response:
    """Return a table as a sheet to be held against the print and ticked."""
    table = workshop().registry.reference.asked_table(name)
    form = negotiated(tuple(PROOF_FORMATS), suffix.removeprefix(".") or None)
    return cached(f"tables/{name}?proof=true", form, FORMATS[form].media_type, lambda: PROOF_FORMATS[form](table))


def table_document(table: Table) -> dict[str, object]:
    """Return a table as JSON: what it says of itself, its fields, and its rows as printed."""
    registry = workshop().registry
    block = table_block(table)
    block["fields"] = [
        {"name": f.name, "quantity": f.quantity, "unit": f.unit or "", "title": f.title or ""} for f in table.fields
    ]
    block["values"] = [dict(row) for row in table.rows]
    return block | registry.versions


def respond(title: str, path: str, suffix: str, make: Callable[[Registry], Mapping[str, object]]) -> Response:
    """Return a catalogue document in the format asked for."""
    refuse_parameters()
    registry = workshop().registry
    form = negotiated(LIST_FORMATS, suffix.removeprefix(".") or None)

    def body() -> bytes:
        made = document(make(registry))
        page = Page({**made, **registry.versions}, title, None, "auto", f"/v1/{path}")
        if form == "html":
            return listing(page, listed(path, made), related(made), _beside(path)).encode()
        return FORMATS[form].render(page)

    return cached(path, form, FORMATS[form].media_type, body)


BESIDE: Mapping[str, Mapping[str, str]] = {
    "sources": {
        "cite_as": f"Spark-gap and breakdown voltage reference, version {__version__}, with the data version and the "
        "address of the answer; and the printed source that the answer names."
    }
}
"""What a catalogue says beside its list."""


def _beside(path: str) -> list[tuple[str, str]]:
    return [(capital(name.replace("_", " ")), text) for name, text in BESIDE.get(path, {}).items()]


LEADS_TO = {name: name for name in ("methods", "electrodes", "tables", "gases")} | {"package": "sources"}
"""Fields that hold keys of a catalogue, and which."""

SAID = ("on_the_bench", "summary", "validity", "group")
"""Fields of which the first that an entry has says in a sentence what it is."""


def listed(path: str, made: Mapping[str, Any]) -> list[ListEntry]:
    """Return the entries of a catalogue, or the lookups, each with the address of its page; nothing of one entry."""
    arrangements = workshop().registry.arrangements if path == "electrodes" else {}
    entries = made.get(path, ())
    return [
        ListEntry(
            one["key"],
            one.get("title", one["key"].replace("-", " ")),
            _said(one),
            f"/?lookup={one['key']}" if path == "lookups" else f"/v1/{path}/{one['key']}.html",
            pictured(arrangements[one["key"]], {}) if one["key"] in arrangements else None,
        )
        for one in entries
    ]


def _said(one: Mapping[str, Any]) -> str:
    sources = "; ".join(str(source.get("title", "")) for source in one.get("sources", ()))
    return next((str(one[name]) for name in SAID if name in one), sources)


def related(made: Mapping[str, Any]) -> list[tuple[str, list[ListEntry]]]:
    """Return what one entry leads to, under labels."""
    found = []
    for name, kind in LEADS_TO.items():
        keys = made.get(name, ())
        keys = [keys] if isinstance(keys, str) else keys
        links = [ListEntry(key, key, "", f"/v1/{kind}/{key}.html") for key in keys if isinstance(key, str)]
        if links:
            found.append((capital(name), links))
    if "on_the_bench" in made:
        address = f"/?lookup=breakdown&electrodes={made['key']}&choose=yes"
        found.append(("Ask", [ListEntry(made["key"], "what such a gap holds", "", address)]))
    return found


def cached(path: str, form: str, media_type: str, make: Callable[[], bytes]) -> Response:
    """Return a tagged response whose body depends on path, format and versions only."""
    shop = workshop()
    tag = tag_of(*shop.registry.versions.values(), shop.configuration.public_url, path, form)
    response = tagged(tag, media_type, make, shop.cache)
    if form == "html":
        response.headers["Content-Security-Policy"] = CARD_POLICY.format(ancestors=shop.configuration.frame_ancestors)
    return response


def split(key: str) -> tuple[str, str]:
    """Return key and suffix (with its dot, or empty)."""
    name, dot, suffix = key.rpartition(".")
    return (name, f".{suffix}") if dot and suffix in FORMATS else (key, "")


def refuse_parameters(instead: str = "a catalogue takes no parameters.") -> None:
    """Refuse a query, since a catalogue knows no parameter.

    Raises
    ------
    BadQuestion
        When there is one.
    """
    for name in request.args:
        raise BadQuestion.about(name[:64], f"'{quoted(name)}' is not known here; {instead}")


def to_json(document: object) -> bytes:
    """Return a document as JSON with a final newline."""
    return orjson.dumps(document, option=orjson.OPT_APPEND_NEWLINE)
