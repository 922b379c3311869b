"""Lookups whose question comes in a body: batch and probe-check."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson
from flask import Blueprint, Response, request
from marshmallow import Schema, ValidationError, fields
from werkzeug.exceptions import UnsupportedMediaType

from service.answers.lookup import Answer
from service.errors import BadQuestion, Fault, NotFound, echo
from service.lookups import batch, probe_check
from service.render.formats import FORMATS
from service.render.json_text import OPTIONS
from service.render.page import Page
from service.web.responses import CARD_POLICY, negotiated
from service.web.workshop import workshop

blueprint = Blueprint("bodies", __name__)

CHECK_FORMATS = ("json", "txt", "csv", "md", "html")


class BatchBody(Schema):
    """Shape of a batch; what is in it is read by the batch itself, array by array."""

    lookup = fields.String(required=True)
    given = fields.Dict(keys=fields.String(), load_default=dict)
    columns = fields.Dict(keys=fields.String(), required=True)


@blueprint.post("/v1/batch")
def ask_batch() -> Response:
    """Answer many points of one lookup."""
    refuse_query()
    form = negotiated(("json",), None)
    given = loaded(BatchBody(), json_body())
    shop = workshop()
    document = batch.answer(given, shop.registry, shop.lookups).document(shop.registry)
    response = Response(orjson.dumps(document, option=OPTIONS), content_type=FORMATS[form].media_type)
    response.headers["Cache-Control"] = "no-store"
    return response


@blueprint.post("/v1/probe-check")
@blueprint.post("/v1/probe-check.<suffix>")
def check_probe(suffix: str | None = None) -> Response:
    """Check a probe against sphere-gap readings in a JSON or CSV body."""
    if suffix is not None and suffix not in FORMATS:
        raise NotFound(f"There is no format '.{echo(suffix)}'; there are {', '.join('.' + n for n in CHECK_FORMATS)}.")
    form = negotiated(CHECK_FORMATS, suffix)
    registry = workshop().registry
    if request.mimetype == "text/csv":
        pairs = dict(single_pairs())
        body: Mapping[str, Any] = probe_check.body_from_csv(text_body(), pairs)
    else:
        refuse_query()
        body = json_body()
    return rendered(probe_check.answer(body, registry), form)


def json_body() -> dict[str, Any]:
    """Return the body as a JSON object.

    Raises
    ------
    UnsupportedMediaType
        When it is not declared to be JSON.
    BadQuestion
        When it is not a JSON object.
    """
    if not request.is_json:
        raise UnsupportedMediaType("The body must be application/json.")
    try:
        body = orjson.loads(request.get_data())
    except orjson.JSONDecodeError as error:
        raise BadQuestion(f"The body is not JSON: {error.msg} at line {error.lineno}, column {error.colno}.") from error
    if not isinstance(body, dict):
        raise BadQuestion("The body must be a JSON object.")
    return body


def text_body() -> str:
    """Return the body as UTF-8 text.

    Raises
    ------
    BadQuestion
        When it is not UTF-8.
    """
    try:
        return request.get_data().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadQuestion("The CSV body must be UTF-8.") from error


def single_pairs() -> list[tuple[str, str]]:
    """Return the query pairs, each name once.

    Raises
    ------
    BadQuestion
        When a name is repeated.
    """
    pairs = list(request.args.items(multi=True))
    names = [name for name, _ in pairs]
    repeated = next((name for name in names if names.count(name) > 1), None)
    if repeated is not None:
        raise BadQuestion.about(repeated[:64], f"{repeated[:32]} is given more than once.")
    return pairs


def refuse_query() -> None:
    """Refuse query parameters beside a JSON body.

    Raises
    ------
    BadQuestion
        When there are any.
    """
    for name in request.args:
        raise BadQuestion.about(name[:64], "With a JSON body everything is asked in the body, nothing in the query.")


def loaded(schema: Schema, body: Mapping[str, Any]) -> dict[str, Any]:
    """Return a body checked for its shape.

    Raises
    ------
    BadQuestion
        Naming every member that is missing, unknown or of the wrong type.
    """
    try:
        return dict(schema.load(body))
    except ValidationError as error:
        known = tuple(schema.fields)
        faults = [
            Fault(str(name)[:64], f"{str(name)[:32]}: {words(why)}", known) for name, why in error.messages_dict.items()
        ]
        raise BadQuestion(" ".join(fault.detail for fault in faults), faults) from error


def words(messages: Any) -> str:
    """Return validation messages as one sentence."""
    if isinstance(messages, dict):
        return "; ".join(words(one) for one in messages.values())
    return " ".join(str(one) for one in messages) if isinstance(messages, list) else str(messages)


def rendered(answer: Answer, form: str) -> Response:
    """Return an answer to a body, which is not stored."""
    document = answer.document(workshop().registry)
    page = Page(document, answer.title, None, "auto", "")
    response = Response(FORMATS[form].render(page), content_type=FORMATS[form].media_type)
    response.headers["Cache-Control"] = "no-store"
    if form == "html":
        response.headers["Content-Security-Policy"] = CARD_POLICY.format(ancestors="'none'")
    return response
