"""oEmbed 1.0: photo for pictures, rich for cards; only our own addresses, and nothing is ever fetched."""

from __future__ import annotations

import html
import re
from typing import Any

import orjson
from flask import Blueprint, Response, request
from werkzeug.exceptions import NotFound
from werkzeug.exceptions import NotImplemented as NotOffered

from service.answers.lookup import Lookup
from service.errors import BadReferenceData, ServiceError
from service.parameters import Question
from service.web.asking import canonical_path_form
from service.web.lookup_routes import answered
from service.web.pages import base_url, question_of
from service.web.workshop import workshop

blueprint = Blueprint("oembed", __name__)

CARD_SIZE = (640, 480)
NARROWEST = 160


@blueprint.get("/oembed")
def oembed() -> Response:
    """Describe how a question of ours is embedded."""
    if request.args.get("format", "json") != "json":
        raise NotOffered("oEmbed is offered as JSON only.")
    lookup, question, title = asked(request.args.get("url", ""))
    width, height = size(request.args.get("maxwidth", ""), request.args.get("maxheight", ""))
    suffix = re.search(r"\.(svg|png)$", request.args.get("url", "").partition("?")[0])
    path = f"{base_url()}/v1/{lookup.key}{canonical_path_form(question)}"
    block: dict[str, Any] = {"version": "1.0", "title": title, "provider_name": "Spark gaps and breakdown voltages"}
    block |= {"provider_url": f"{base_url()}/", "cache_age": 3600, "width": width, "height": height}
    block |= {"type": "photo", "url": f"{path}.{suffix.group(1)}"} if suffix else rich(path, title, width, height)
    response = Response(orjson.dumps(block, option=orjson.OPT_APPEND_NEWLINE), content_type="application/json")
    # without a public address the links are made of the request's own Host, which no shared cache may hand to others
    known = bool(workshop().configuration.public_url)
    response.headers["Cache-Control"] = "public, max-age=3600" if known else "no-store"
    return response


def asked(url: str) -> tuple[Lookup, Question, str]:
    """Return lookup, question and title of an address of ours.

    Raises
    ------
    NotFound
        When the address is not a question of this service, or is refused: so the standard says.
    """
    try:
        lookup, question = question_of(url)
        answer = answered(lookup, question)
    except BadReferenceData:  # the consumer keeps a 404, and these data may be mended
        raise
    except ServiceError as error:
        raise NotFound(f"There is nothing to embed at that address. {error.detail}") from error
    if workshop().lookups[lookup.key].post:
        raise NotFound("There is nothing to embed at that address.")
    said = answer.lead.sentence if answer.lead else answer.title
    return lookup, question, said or lookup.title


def rich(path: str, title: str, width: int, height: int) -> dict[str, str]:
    """Return the members of a rich answer: a frame with the card."""
    address, words = html.escape(f"{path}.html", quote=True), html.escape(title, quote=True)
    frame = f'<iframe src="{address}" title="{words}" width="{width}" height="{height}" sandbox></iframe>'
    return {"type": "rich", "html": frame}


def size(widest: str, highest: str) -> tuple[int, int]:
    """Return width and height within what the consumer allows; what is not a number is ignored."""
    limits = [int(text) if re.fullmatch(r"[0-9]{1,5}", text) else None for text in (widest, highest)]
    width, height = (
        own if limit is None else max(min(own, limit), min(NARROWEST, limit))
        for own, limit in zip(CARD_SIZE, limits, strict=True)
    )
    return width, height
