"""Lookups whose question comes in a body: batch, and every one that declares a body."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from flask import Blueprint, Response, g, request
from werkzeug.exceptions import NotAcceptable, UnsupportedMediaType

from service.answers.columns import IN_MEMORY
from service.answers.lookup import Answer, Lookup
from service.errors import BadQuestion, NotFound, quoted
from service.lookups import batch
from service.parameters import Members, Parameter, Part
from service.render import arrow_stream, json_text, record_page
from service.render.formats import FORMATS
from service.render.page import Page
from service.turns import Turns
from service.web import arrow_body, bodies
from service.web.arrow_body import LARGEST, NEEDS, library
from service.web.arrow_body import MEDIA_TYPE as ARROW
from service.web.asking import PICTURES
from service.web.responses import CARD_POLICY, negotiated, type_of
from service.web.workshop import workshop

blueprint = Blueprint("bodies", __name__)

BATCH = Members(
    (Parameter("lookup", "text", "The lookup that is asked.", required=True, example="breakdown"),),
    (
        Part("given", "What is given once, as in a query.", None),
        Part("columns", "Columns of numbers with their units.", None, required=True),
    ),
)
"""Shape of a batch; what is in it is read by the batch itself, array by array."""
PRINTED = {("probe-check", "html"): record_page.render}
"""Answers that have a page of their own for print, by lookup and format."""
SHEETS = ("text/csv", "text/plain", "text/markdown", "text/tab-separated-values")
"""Types of a sheet."""
LARGEST_SHEET = 1_000_000
"""Largest sheet [bytes]."""
BATCHES = Turns("batches", at_work=1, waiting=7, patience=30.0)
"""Together they would only keep small questions waiting."""

BATCH_TYPES = ("application/json", ARROW)
"""Types of an answer to a batch, the default first."""


@blueprint.before_request
def as_it_is() -> None:
    """Refuse a body that was compressed.

    Raises
    ------
    UnsupportedMediaType
        When a coding of its content is named.
    """
    coding = request.headers.get("Content-Encoding", "identity").strip().lower()
    if coding not in ("", "identity"):
        raise UnsupportedMediaType(f"The body is read as it is; it is declared to be {quoted(coding)}.")


@blueprint.post("/v1/batch")
def ask_batch() -> Response:
    """Answer many points of one lookup, asked and answered as JSON or as an Arrow stream."""
    refuse_query()
    g.negotiated = True
    form = type_of(BATCH_TYPES, BATCH_TYPES[0], request.headers.get("Accept", ""))
    if form == ARROW and library() is None:
        raise NotAcceptable(f"An answer as {ARROW} {NEEDS}")
    shop = workshop()
    read = batch_body()
    with BATCHES.taken():
        given = bodies.read(BATCH, read())
        whole = {"given": {}, **given.parts, "lookup": given.question.key("lookup")}
        document = batch.answer(whole, shop.lookups).document(shop.registry)
        body = arrow_stream.pieces(library(), document) if form == ARROW else json_text.pieces(document)
        # what is long is written while it is sent: its columns are kept in a file
        parts = list(body) if document["count"] <= IN_MEMORY else None
    response = Response(body if parts is None else parts, content_type=form)
    if parts is not None:
        response.content_length = sum(map(len, parts))
    response.headers["Cache-Control"] = "no-store"
    return response


def batch_body() -> Callable[[], Mapping[str, object]]:
    """Return what reads the body once it is this batch's turn; the body itself has come in.

    Raises
    ------
    UnsupportedMediaType
        When it is neither JSON nor an Arrow stream, or Arrow cannot be read here.
    """
    if request.mimetype != ARROW:
        raw = declared_json(f"The body must be application/json or {ARROW}.")
        return lambda: bodies.object_of_arrays(raw)
    arrow = library()
    if arrow is None:
        raise UnsupportedMediaType(f"A body as {ARROW} {NEEDS}")
    request.max_content_length = LARGEST
    body = arrow_body.kept(request.stream)
    return lambda: arrow_body.read(arrow, body)


@blueprint.post("/v1/<posted:key>")
@blueprint.post("/v1/<posted:key>.<suffix>")
def ask_in_a_body(key: str, suffix: str | None = None) -> Response:
    """Answer a lookup whose question comes in a JSON body or, where it reads one, in a sheet."""
    lookup = workshop().lookups[key]
    if suffix is not None and suffix not in FORMATS:
        raise NotFound(
            f"There is no format '.{quoted(suffix)}'; there are {', '.join('.' + name for name in lookup.formats)}."
        )
    form = negotiated(lookup.formats, suffix)
    return rendered(answer_to(lookup), lookup, form)


def answer_to(lookup: Lookup) -> Answer:
    """Return the answer to the body that was posted."""
    assert lookup.body is not None
    assert lookup.answer_given is not None
    if request.mimetype in SHEETS and lookup.from_sheet is not None:
        request.max_content_length = min(LARGEST_SHEET, request.max_content_length or LARGEST_SHEET)
        body: Mapping[str, object] = lookup.from_sheet(text_body(), dict(single_pairs()))
    else:
        refuse_query()
        body = json_body()
    return lookup.answer_given(bodies.read(lookup.body, body))


def json_body() -> dict[str, object]:
    """Return the body as a JSON object.

    Raises
    ------
    UnsupportedMediaType
        When it is not declared to be JSON.
    BadQuestion
        When it is not a JSON object.
    """
    return bodies.json_object(declared_json())


def declared_json(wanted: str = "The body must be application/json, or text/csv for a sheet.") -> bytes:
    """Return the body, declared to be JSON.

    Parameters
    ----------
    wanted : str
        Said where it is not.

    Raises
    ------
    UnsupportedMediaType
        When it is not.
    """
    if not request.is_json:
        raise UnsupportedMediaType(wanted)
    return request.get_data()


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


def rendered(answer: Answer, lookup: Lookup, form: str) -> Response:
    """Return an answer to a body, which is not stored."""
    if form in answer.written:
        content = answer.written[form].encode()
    else:
        render = PRINTED.get((lookup.key, form), FORMATS[form].render)
        content = render(Page.of(answer, workshop().registry, lookup.title, drawn=form in PICTURES))
    response = Response(content, content_type=FORMATS[form].media_type)
    response.headers["Cache-Control"] = "no-store"
    if form == "html":
        response.headers["Content-Security-Policy"] = CARD_POLICY.format(ancestors="'none'")
    return response
