"""Paths of the OpenAPI description that are no question: pages, lists and what operators ask."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

PAGE, JSON, TEXT = "text/html", "application/json", "text/plain"
KEY: Mapping[str, Any] = {"$ref": "#/components/parameters/key"}


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
    parameters: tuple[Mapping[str, Any], ...] = ()
    refused: Mapping[str, str] | None = None

    def operation(self) -> dict[str, Any]:
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


def _body(words: str, media: str) -> dict[str, Any]:
    kind = "object" if media in (JSON, "application/csvm+json") else "string"
    return {"description": words, "content": {media: {"schema": {"type": kind}}}}


def _problems(codes: tuple[str, ...]) -> dict[str, Any]:
    return {code: {"$ref": f"#/components/responses/{code}"} for code in codes}


def _text(
    name: str, words: str, *, required: bool = False, kind: str = "string", only: str | None = None
) -> dict[str, Any]:
    schema: dict[str, Any] = {"type": kind} | ({} if only is None else {"enum": [only]})
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
        (KEY,),
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
        parameters=(KEY,),
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

FORM: Mapping[str, Any] = {
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


def fixed_paths() -> dict[str, Any]:
    """Return the path items of everything that is no question."""
    paths: dict[str, Any] = {path: {"get": fixed.operation()} for path, fixed in PATHS.items()}
    paths["/probe-check"]["post"] = dict(FORM)
    return paths
