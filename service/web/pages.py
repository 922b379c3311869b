"""Pages for people: the page that asks and answers, the probe check, the reference, wiki snippets, problems."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from urllib.parse import parse_qsl, unquote, urlsplit

import yaml
from flask import Blueprint, Response, render_template, request
from markupsafe import Markup
from werkzeug.exceptions import NotFound

from service.answers.lookup import Lookup
from service.errors import BadQuestion, ServiceError
from service.lookups import probe_check
from service.parameters import Question, read_question
from service.render.html_card import article, style
from service.render.page import Page
from service.web import bodies, examples
from service.web.asking import canonical, canonical_path_form, read_asked, split_suffix
from service.web.forms import UNIT, Field, chosen, form_of, label_of, spoken_fault
from service.web.health import specification_file
from service.web.lookup_routes import answered, find_lookup
from service.web.problems import TITLES, problem_block
from service.web.snippets import snippets
from service.web.workshop import workshop

blueprint = Blueprint("pages", __name__)

PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
TRIED = re.compile(r" ?Try (/v1/([a-z-]+)\?(\S+))$")
"""How a refusal ends that knows a question which is answered."""


@dataclass
class Shown:
    """What the page shows of a question.

    Parameters
    ----------
    values : dict
        For the template.
    status : int
        Of the response.
    """

    values: dict[str, object] = field(default_factory=dict)
    status: int = 200


@blueprint.get("/")
def home() -> Response:
    """Ask in a form, and answer beside it."""
    pairs = list(request.args.items(multi=True))
    found = workshop().lookups
    key = request.args.get("lookup", "breakdown")
    lookup = found[key] if key in found and not found[key].post else found["breakdown"]
    given = chosen(pairs, lookup)
    asked = given and "choose" not in request.args
    return asked_page(lookup, given, ask(lookup, given) if asked else Shown(), dict(pairs))


def asked_page(lookup: Lookup, given: Mapping[str, str], shown: Shown, pairs: Mapping[str, str]) -> Response:
    """Return the page of a question with what it shows.

    Parameters
    ----------
    lookup : Lookup
    given : mapping
        Texts by parameter name.
    shown : Shown
    pairs : mapping
        Everything that the form sent, units beside numbers included.
    """
    shop = workshop()
    faults = shown.values.pop("faults", {})
    assert isinstance(faults, Mapping)
    beside = {name: text for name, text in pairs.items() if name.startswith(UNIT)}
    questions = (one for one in shop.lookups.values() if not one.post)
    values = {
        "lookups": sorted(questions, key=lambda one: (one.place, one.title)),
        "form": form_of(lookup, {**beside, **given}, faults, shop.registry),
        **shown.values,
    }
    return page("home.html", values, shown.status)


def ask(lookup: Lookup, given: Mapping[str, str]) -> Shown:
    """Return what the page shows of an answer, or of a refusal.

    Parameters
    ----------
    lookup : Lookup
    given : mapping
        Non-empty texts by parameter name.
    """
    try:
        question = read_question(lookup.key, lookup.parameters, given.items())
        answer = answered(lookup, question)
    except ServiceError as error:
        return refused(lookup, error)
    document = answer.document(workshop().registry)
    path = f"/v1/{lookup.key}{canonical_path_form(question)}"
    title = answer.title or lookup.title
    address = f"{base_url()}/v1/{lookup.key}?{canonical(question)}"
    figure = answer.figure() if answer.figure is not None else None
    picture = picture_of(lookup, question, path)
    return Shown(
        {
            "answered": True,
            "card": Markup(article(Page(document, title, figure, "auto", address))),
            "picture": picture,
            "picture_words": f"{title}: the same over the gap, with the point that was asked" if picture else "",
            "live": [(name, label_of(name)) for name in MOVED] if picture else [],
            "sentence": document.get("sentence", title),
            "headline": document.get("headline", {}).get("text", ""),
            "address": address,
            "path": path,
            "base": base_url(),
            "formats": lookup.formats,
            "discovery": f"{base_url()}/oembed?url={address.replace('&', '%26')}",
        }
    )


MOVED = ("gap", "pressure")
"""Fields that a slider moves where the answer has a curve over the gap."""


def refused(lookup: Lookup, error: ServiceError) -> Shown:
    """Return what the page shows of a refusal: what is still needed, or what is wrong, in the words of the form.

    Parameters
    ----------
    lookup : Lookup
    error : ServiceError
    """
    names = [parameter.name for parameter in lookup.parameters]
    block = problem_block(error)
    faults = {fault.parameter: spoken_fault(fault.detail, names) for fault in error.faults}
    if error.faults and all(fault.parameter in names and " is needed" in fault.detail for fault in error.faults):
        block |= {"title": "Still needed", "needed": [label_of(fault.parameter) for fault in error.faults]}
    tried = TRIED.search(block["detail"])
    if tried:
        block |= {"works": f"/?lookup={tried[2]}&{tried[3]}", "works_words": tried[3].replace("&", ", ")}
    block["detail"] = spoken_fault(TRIED.sub("", block["detail"]), names)
    return Shown({"problem": block, "faults": faults, "sentence": block["title"]}, block["status"])


def picture_of(lookup: Lookup, question: Question, path: str) -> str:
    """Return the address of the curve over the gap that goes with a single answer; empty where there is none."""
    if lookup.key == "breakdown" and question.given("gap") and "gap_from" not in question:
        gap = question.number("gap")
        return f"{path};gap_from={gap * 100:.6g}mm;gap_to={gap * 5000:.6g}mm.svg?view=plot"
    return ""


@blueprint.get("/static/card.css")
def card_style() -> Response:
    """Return the style of cards, in which the page shows them too."""
    response = Response(style(), content_type="text/css; charset=utf-8")
    response.headers["Cache-Control"] = "public, max-age=3600"
    return response


@blueprint.route("/probe-check", methods=["GET", "POST"])
def check() -> Response:
    """Check a probe in the browser."""
    given = {name: text.strip() for name, text in request.form.items() if text.strip()}
    values: dict[str, object] = {"readings": given.pop("readings", "spacing_mm,indicated_kV\n")}
    status = 200
    if request.method == "POST":
        try:
            values["card"] = checked(given, str(values["readings"]))
        except ServiceError as error:
            block = problem_block(error)
            values["problem"], status = block, block["status"]
    lookup = workshop().lookups["probe-check"]
    fields = [Field(p, given.get(p.name, "")) for p in lookup.parameters]
    return page("probe_check.html", {"fields": fields, **values}, status)


def checked(given: Mapping[str, str], rows: str) -> Markup:
    """Return the card of a probe check from a form."""
    sheet = request.files.get("sheet")
    text = rows
    if sheet is not None and sheet.filename:
        try:
            text = sheet.read().decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise BadQuestion.about("sheet", "The sheet must be UTF-8 text.") from error
    registry = workshop().registry
    body = probe_check.body_from_csv(text, given)
    answer = probe_check.answer(bodies.read(probe_check.BODY, body), registry)
    page = Page(answer.document(registry), answer.title, None, "auto", "")
    return Markup(article(page))


@blueprint.get("/wiki")
def wiki() -> Response:
    """Print the snippet of a question for each wiki engine."""
    url = request.args.get("url", "").strip()
    values: dict[str, object] = {"url": url}
    status = 200
    if url:
        try:
            path, title = embedded(url)
            values |= {"path": path, "title": title, "lines": list(snippets(base_url(), path, title))}
        except ServiceError as error:
            block = problem_block(error)
            values["problem"], status = block, block["status"]
    return page("wiki.html", values, status)


def embedded(url: str) -> tuple[str, str]:
    """Return path form and title of a question given as path or whole address of this service.

    Parameters
    ----------
    url : str
        Untrusted; nothing is fetched.

    Raises
    ------
    ServiceError
        When it is not a question of this service, or is refused.
    """
    lookup, question = question_of(url)
    answer = answered(lookup, question)
    return f"/v1/{lookup.key}{canonical_path_form(question)}", answer.title or lookup.title


def question_of(url: str) -> tuple[Lookup, Question]:
    """Return lookup and question of an address of this service.

    Parameters
    ----------
    url : str
        Path and query, or a whole address with our own base.

    Raises
    ------
    BadQuestion
        When the address is not one of ours.
    """
    local = url.removeprefix(base_url()) if url.startswith(base_url() + "/") else url
    parts = urlsplit(local)
    if parts.scheme or parts.netloc or not parts.path.startswith("/v1/"):
        raise BadQuestion.about("url", "url must be a question of this service, such as /v1/breakdown?gap=8mm.")
    name = parts.path.removeprefix("/v1/")
    cut = min((name.index(mark) for mark in ";." if mark in name), default=len(name))
    lookup = find_lookup(name[:cut])
    rest, query = unquote(name[cut:]), parse_qsl(parts.query, keep_blank_values=True)
    split_suffix(rest)
    asked = read_asked(rest, query, lookup)
    return lookup, read_question(lookup.key, lookup.parameters, asked.pairs)


@blueprint.get("/docs")
def docs() -> Response:
    """Render the reference from the specification, with examples that were really run."""
    shop = workshop()
    spec = read_specification()
    entries = [examples.entry(lookup, spec) for lookup in shop.lookups.values()]
    return page("docs.html", {"spec": spec, "entries": entries, "problems": TITLES, "base": base_url()})


@lru_cache(maxsize=1)
def read_specification() -> dict[str, object]:
    """Return the committed specification, read once."""
    return dict(yaml.safe_load(specification_file().read_text(encoding="utf-8")))


@blueprint.get("/problems/<key>")
def problem_page(key: str) -> Response:
    """Explain a problem type."""
    if key not in TITLES:
        raise NotFound("There is no such problem type.")
    status, title, text = TITLES[key]
    return page("problem.html", {"title": title, "number": status, "text": text, "key": key})


def base_url() -> str:
    """Return scheme, host and path under which users reach the service, without a final slash."""
    return workshop().configuration.public_url or request.url_root.rstrip("/")


def page(template: str, values: Mapping[str, object], status: int = 200) -> Response:
    """Return a page from a template and its values."""
    shop = workshop()
    versions = shop.loaded.versions if shop.loaded is not None else None
    text = render_template(template, versions=versions, **values)
    response = Response(text, status=status, content_type="text/html; charset=utf-8")
    response.headers["Content-Security-Policy"] = PAGE_POLICY
    response.headers["Cache-Control"] = "no-cache"
    return response
