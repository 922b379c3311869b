"""Every lookup: read the question, answer it, pick the format, render, respond."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any
from urllib.parse import parse_qsl
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from flask import Blueprint, Response, request

from service.answers.lookup import Answer, Lookup
from service.errors import BadQuestion, NotFound, OutsideValidity, ServiceError, did_you_mean, quoted
from service.parameters import Question
from service.render.formats import FORMATS, PLAIN
from service.render.page import Page
from service.web.asking import PICTURES, Asked, canonical, path_form, plain_text, reach, read_asked
from service.web.responses import (
    ANYWHERE,
    CARD_POLICY,
    COMMON,
    NOTHING_LOADED,
    PICTURE_POLICY,
    UNCHANGED,
    Finished,
    finished,
    format_of,
    tag_of,
)
from service.web.workshop import Workshop, workshop

blueprint = Blueprint("lookups", __name__)


@blueprint.get("/v1/<name:key>", defaults={"rest": ""})
@blueprint.get("/v1/<name:key><question:rest>")
def ask(key: str, rest: str) -> Response:
    """Answer one lookup where `Directly` did not: to HEAD, and with the refusal that it met."""
    if REFUSED in request.environ:
        raise request.environ[REFUSED]
    status, headers, body = response_to(workshop(), find_lookup(key), rest, request.environ)
    response = Response(body, status, headers)
    if status == UNCHANGED:
        del response.headers["Content-Type"]
    return response


@dataclass(frozen=True)
class Directly:
    """Answers a question of a lookup in front of the framework, which costs as much as a plain answer.

    The framework gets every other request, and those that are refused, since it words refusals.

    Parameters
    ----------
    app : callable
        The framework.
    """

    app: WSGIApplication
    shop: Workshop

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        asked = QUESTION.fullmatch(environ["PATH_INFO"]) if environ["REQUEST_METHOD"] == "GET" else None
        lookup = self.shop.lookups.get(asked[1]) if asked and self.shop.loaded is not None else None
        if asked and lookup is not None and not lookup.post:
            try:
                rest = decoded(asked[2] or "")
                status, headers, body = response_to(self.shop, lookup, rest, environ)
            except Exception as error:  # noqa: BLE001  # whatever it is, the handlers of the framework know it
                environ[REFUSED] = error
            else:
                start_response(status, headers)
                return [body]
        return self.app(environ, start_response)


QUESTION = re.compile(r"/v1/([a-z-]+)((?s:[;.].*))?")
"""Path of a question: the lookup, and what follows its name."""
REFUSED = "service.refused"
"""Where the refusal of a question stands in the environment."""


def response_to(shop: Workshop, lookup: Lookup, rest: str, environ: Mapping[str, Any]) -> Finished:
    """Return status, headers and body of the response to a question.

    Parameters
    ----------
    rest : str
        Of the path, behind the name.
    environ : mapping
        WSGI environment: query and headers.

    Raises
    ------
    ServiceError
        When it is refused.
    NotAcceptable
        When no format is wanted that is offered.
    """
    pairs = parse_qsl(decoded(environ.get("QUERY_STRING", "")), keep_blank_values=True, errors="replace")
    asked = read_asked(rest, pairs, lookup)
    suffix = "txt" if asked.only is not None else asked.suffix
    form = format_of(lookup.formats, suffix, environ.get("HTTP_ACCEPT", ""))
    if form not in PICTURES and (asked.theme != "auto" or asked.view or asked.width):
        raise BadQuestion.about("theme", "theme, view and width belong to pictures and cards.", PICTURES)
    question = lookup.read(asked.pairs)
    query = canonical(question)
    tag = tag_of(*shop.registry.versions.values(), public_url(shop), lookup.key, query, form, *asked.manner)
    media_type = PLAIN if asked.only is not None else FORMATS[form].media_type
    known = environ.get("HTTP_IF_NONE_MATCH", "")
    made = partial(body, shop, lookup, question, query, asked, form)
    status, headers, content = finished(tag, media_type, made, shop.cache, known)
    headers += (
        ("Link", alternates(lookup.key, lookup.formats, form).replace("{}", path_form(query))),
        ("Content-Security-Policy", policy(shop, form)),
        *COMMON,
        *(VARIES if suffix is None else ()),
        *((ANYWHERE,) if media_type.startswith("image/") and content else ()),
    )
    return status, headers, content


VARIES = (("Vary", "Accept"),)


def decoded(text: str) -> str:
    """Return text of the WSGI environment, which holds one character a byte; a unit may come as it is printed: 10µm."""
    return text if text.isascii() else text.encode("latin-1").decode("utf-8", errors="replace")


def find_lookup(key: str) -> Lookup:
    """Return a lookup that is asked with GET.

    Raises
    ------
    NotFound
        When there is none.
    """
    every = workshop().lookups
    if key not in every or every[key].post:
        known = [name for name, lookup in every.items() if not lookup.post]
        raise NotFound(f"There is no /v1/{quoted(key)}{did_you_mean(key, known)}.")
    return every[key]


def body(shop: Workshop, lookup: Lookup, question: Question, query: str, asked: Asked, form: str) -> bytes:
    """Return the finished bytes of an answer."""
    answer = answered(lookup, question)
    if asked.only is not None:
        document = answer.document(shop.registry)
        field = asked.only.partition(".")[0]
        if field in answer.not_alone:
            raise BadQuestion.about("only", f"{field} is not given alone here. {answer.not_alone[field]}")
        if asked.only in lookup.results and asked.only not in document:
            return b""  # a field that does not apply here, not a wrong name
        return plain_text(reach(document, asked.only), asked.digits, asked.only.rpartition(".")[2]).encode()
    if form in answer.written:
        return answer.written[form].encode()
    page = Page.of(
        answer,
        shop.registry,
        lookup.title,
        drawn=form in PICTURES,
        theme=asked.theme,
        address=address(shop, lookup, query),
        view=asked.view,
        width=asked.width,
    )
    return FORMATS[form].render(page)


def answered(lookup: Lookup, question: Question) -> Answer:
    """Return the answer to a question; a refusal ends with a request that works, where one may be named.

    Raises
    ------
    OutsideValidity
        When no method answers; its detail ends with a request that works, where one may be named.
    """
    try:
        return lookup.answer(question)
    except OutsideValidity as error:
        tried = working_request(lookup, question, error)
        if not tried and lookup.keeps_question:
            raise
        words = "Try" if tried else "Nothing near it is answered; of the form of a question there is an example. Try"
        advised = tried or f"/v1/{lookup.key}?{plain_example(lookup)}"
        raise OutsideValidity(f"{error.detail} {words} {advised}", error.faults) from error


def working_request(lookup: Lookup, question: Question, error: OutsideValidity) -> str:
    """Return a request near the refused one that was tried and works, or nothing.

    Where any other question is about a weaker barrier, only the suggestion on top of the whole question is tried.
    """
    given = dict(pair.split("=", 1) for pair in canonical(question).split("&") if pair)
    nearest = [given | dict(error.suggestion)] if error.suggestion else []
    for pairs in nearest if lookup.keeps_question else [*nearest, dict(error.suggestion)]:
        query = "&".join(f"{name}={text}" for name, text in pairs.items() if text)  # an empty one is left out
        if query and works(lookup, query):
            return f"/v1/{lookup.key}?{query}"
    return ""


def plain_example(lookup: Lookup) -> str:
    """Return a lookup's example, of unknown electrodes where it may be asked so: a stranger's plates hold far more."""
    pairs = [pair for pair in lookup.example.split("&") if not pair.startswith("electrodes=")]
    query = "&".join(pairs)
    return query if works(lookup, query) else lookup.example


def works(lookup: Lookup, query: str) -> bool:
    """Return whether a query is answered."""
    try:
        lookup.answer(lookup.read(parse_qsl(query, keep_blank_values=True)))
    except ServiceError:
        return False
    return True


def address(shop: Workshop, lookup: Lookup, query: str) -> str:
    """Return the public URL of a question, in query form without a suffix."""
    return f"{public_url(shop)}/v1/{lookup.key}" + (f"?{query}" if query else "")


def public_url(shop: Workshop) -> str:
    """Return scheme, host and path under which users reach the service."""
    return shop.configuration.public_url


@lru_cache(maxsize=1024)
def alternates(key: str, formats: tuple[str, ...], form: str) -> str:
    """Return links to the other formats of an answer, with ``{}`` where its question goes."""
    media = {name: FORMATS[name].media_type.partition(";")[0] for name in formats if name != form}
    return ", ".join(f'</v1/{key}{{}}.{name}>; rel="alternate"; type="{kind}"' for name, kind in media.items())


def policy(shop: Workshop, form: str) -> str:
    """Return the content security policy of a format."""
    if form == "html":
        return CARD_POLICY.format(ancestors=shop.configuration.frame_ancestors)
    return PICTURE_POLICY if form == "svg" else NOTHING_LOADED
