"""Pages for people: the page that asks and answers, the probe check, the reference, wiki snippets, problems."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from flask import Blueprint, Response, render_template, request
from markupsafe import Markup
from werkzeug.exceptions import NotFound

from service.answers.lookup import Lookup
from service.errors import BadQuestion, BadReferenceData, ServiceError
from service.lookups import probe_check
from service.lookups.batch import MOST_POINTS, MOST_SECONDS, batched
from service.lookups.catalogues import CATALOGUES, table_block
from service.parameters import MOST_FAULTS, MOST_LISTED, Question
from service.render.arrow_stream import DOCUMENT
from service.render.formats import FORMATS
from service.render.html_card import article, style
from service.render.page import Page
from service.web import bodies, forms
from service.web.arrow_body import MEDIA_TYPE, QUESTION
from service.web.asking import THEME, VIEW, WIDTH, canonical, canonical_path_form
from service.web.forms import SURROUNDINGS, UNIT, Input, QuestionForm, form_of, known_pairs, label_of, spoken_fault
from service.web.lookup_routes import answered
from service.web.problems import TITLES, problem_block
from service.web.responses import tag_of
from service.web.workshop import workshop

blueprint = Blueprint("pages", __name__)

PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
TRIED = re.compile(r" ?Try (/v1/([a-z-]+)\?(\S+))$")
"""How a refusal ends that knows a question which is answered."""


@dataclass
class ShownQuestion:
    """What the page shows of a question.

    Parameters
    ----------
    values : dict
        For the template.
    faults : mapping of str to str
        What is wrong with a field, by its name.
    status : int
        Of the response.
    """

    values: dict[str, object] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)
    status: int = 200


@blueprint.get("/")
def home() -> Response:
    """Ask in a form, and answer beside it."""
    pairs = list(request.args.items(multi=True))
    found = workshop().lookups
    key = request.args.get("lookup", "breakdown")
    lookup = found[key] if key in found and not found[key].post else found["breakdown"]
    given = known_pairs(pairs, lookup)
    asked = given and "choose" not in request.args
    return asked_page(lookup, given, ask(lookup, given) if asked else ShownQuestion(), dict(pairs))


def asked_page(lookup: Lookup, given: Mapping[str, str], shown: ShownQuestion, pairs: Mapping[str, str]) -> Response:
    """Return the page of a question with what it shows.

    Parameters
    ----------
    given : mapping
        Texts by parameter name.
    pairs : mapping
        Everything that the form sent, units beside numbers included.
    """
    shop = workshop()
    beside = {name: text for name, text in pairs.items() if name.startswith(UNIT)}
    questions = (one for one in shop.lookups.values() if not one.post)
    values = {
        "lookups": sorted(questions, key=lambda one: (one.place, one.title)),
        "form": form_of(lookup, {**beside, **given}, shown.faults, shop.registry),
        **shown.values,
    }
    return page("home.html", values, shown.status)


def ask(lookup: Lookup, given: Mapping[str, str]) -> ShownQuestion:
    """Return what the page shows of an answer, or of a refusal.

    Parameters
    ----------
    given : mapping
        Non-empty texts by parameter name.
    """
    try:
        question = lookup.read(given.items())
        answer = answered(lookup, question)
    except ServiceError as error:
        return refused(lookup, error)
    path = f"/v1/{lookup.key}{canonical_path_form(question)}"
    address = f"{base_url()}/v1/{lookup.key}?{canonical(question)}"
    whole = Page.of(answer, workshop().registry, lookup.title, address=address)
    picture = picture_of(lookup, question, path)
    return ShownQuestion(
        {
            **card_of(whole),
            "answered": True,
            "drawn": whole.figure is not None and whole.figure.drawing is not None,
            "picture": picture,
            "picture_words": f"{whole.title}: the same over the gap, with the point that was asked" if picture else "",
            "live": [(name, label_of(name)) for name in MOVED] if picture else [],
            "address": address,
            "path": path,
            "base": base_url(),
            "formats": lookup.formats,
            "discovery": f"{base_url()}/oembed?url={address.replace('&', '%26')}",
        }
    )


def card_of(whole: Page) -> dict[str, object]:
    """Return the card of an answer as a template shows it, with what is read first."""
    return {
        "card": Markup(article(whole)),
        "sentence": whole.document.get("sentence", whole.title),
        "headline": whole.document.get("headline", {}).get("text", ""),
    }


MOVED = ("gap", "pressure")
"""Fields that a slider moves where the answer has a curve over the gap."""


def refused(lookup: Lookup, error: ServiceError) -> ShownQuestion:
    """Return what the page shows of a refusal: what is still needed, or what is wrong, in the words of the form."""
    names = [parameter.name for parameter in lookup.parameters]
    block = problem_block(error)
    faults = {fault.parameter: spoken_fault(fault.detail, names) for fault in error.faults}
    if error.faults and all(fault.parameter in names and " is needed" in fault.detail for fault in error.faults):
        block |= {"title": "Still needed", "needed": [label_of(fault.parameter) for fault in error.faults]}
    tried = TRIED.search(block["detail"])
    if tried:
        block |= {"works": f"/?lookup={tried[2]}&{tried[3]}", "works_words": tried[3].replace("&", ", ")}
    block["detail"] = spoken_fault(TRIED.sub("", block["detail"]), names)
    return ShownQuestion({"problem": block, "sentence": block["title"]}, faults, block["status"])


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
    shown, lookup = ShownQuestion(), workshop().lookups["probe-check"]
    if request.method == "POST":
        try:
            shown.values = checked(known_pairs(given.items(), lookup), str(values["readings"]))
        except ServiceError as error:
            shown = refused(lookup, error)
    faults = shown.faults
    values |= {"form": probe_form(lookup, given, faults), "readings_fault": faults.get("readings", "")}
    return page("probe_check.html", values | shown.values, shown.status)


ASKED_OF_A_PROBE = ("sphere_diameter", "waveform", "polarity", "irradiated", "attenuation")
"""What a check of a probe cannot do without, or is much wider without."""


def probe_form(lookup: Lookup, given: Mapping[str, str], faults: Mapping[str, str]) -> QuestionForm:
    """Return the form of a probe check: what it rests on, the surroundings, and what is folded."""
    fields = {
        p.name: Input(
            replace(p, required=p.required or p.name == "sphere_diameter"),
            given.get(p.name, ""),
            faults.get(p.name, ""),
            given.get(UNIT + p.name, ""),
        )
        for p in lookup.parameters
        if p.dimension != "count"
    }
    asked = tuple(fields[name] for name in ASKED_OF_A_PROBE)
    around = tuple(one for name, one in fields.items() if name in SURROUNDINGS)
    return QuestionForm(
        lookup, asked, around, tuple(one for one in fields.values() if one not in asked and one not in around)
    )


def checked(given: Mapping[str, str], rows: str) -> dict[str, object]:
    """Return the card of a probe check from a form, with what is said first."""
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
    return card_of(Page.of(answer, registry, workshop().lookups["probe-check"].title))


@blueprint.get("/docs")
def docs() -> Response:
    """Print the reference, from the declarations; it is one text for an address under which the service is reached."""
    shop = workshop()
    key = tag_of("docs", *shop.registry.versions.values(), base_url(), request.script_root)
    return finished_page(shop.cache.once(key, lambda: printed_reference(shop.lookups).encode()).decode())


def printed_reference(found: Mapping[str, Lookup]) -> str:
    """Return the page of the reference."""
    values = {
        "entries": [forms.entry(lookup) for lookup in found.values()],
        "own": [forms.asked(one) for one in (THEME, VIEW, WIDTH)],
        "forms": FORMATS,
        "lists": forms.long_lists(found),
        "spellings": forms.spellings(),
        "catalogues": CATALOGUES,
        "batched": batched(found),
        "most": MOST_POINTS,
        "seconds": f"{MOST_SECONDS:g}",
        "arrow": MEDIA_TYPE,
        "question": QUESTION,
        "document": DOCUMENT,
        "listed": MOST_LISTED,
        "faults": MOST_FAULTS,
        "problems": TITLES,
        "base": base_url(),
    }
    return rendered("docs.html", values)


@blueprint.get("/tables")
def tables() -> Response:
    """Lead to every table, package by package."""
    reference = workshop().registry.reference
    packages = [
        {
            "title": package.title,
            "citation": "; ".join(dict.fromkeys(str(source.get("title", "")) for source in package.sources)),
            "licences": ", ".join(str(one.get("name", "")) for one in package.licenses),
            "tables": [table_block(reference.table(key)) for key in package.tables],
        }
        for package in reference.packages.values()
    ]
    return page("tables.html", {"packages": packages})


def for_people(error: ServiceError) -> Response | None:
    """Return a refusal as the page with its form filled, where a browser asked for a question by its address.

    Returns
    -------
    Response or None
        ``None`` where a program asked: it gets the problem document.
    """
    accept = request.accept_mimetypes
    people = accept["text/html"] > accept["application/json"] and accept["text/html"] > accept["image/png"]
    name, mark, rest = request.path.removeprefix("/v1/").partition(";")
    shop = workshop()
    if not people or request.method != "GET" or "." in name:
        return None
    if isinstance(error, BadReferenceData):
        status, title, _ = TITLES[error.key]
        response = page(
            "problem.html", {"title": title, "number": status, "text": error.detail, "key": error.key}, status
        )
        response.headers["Cache-Control"] = "no-store"
        response.vary.add("Accept")
        return response
    lookup = shop.lookups.get(name)
    if lookup is None or lookup.post:
        return None
    pairs = [*(tuple(part.partition("=")[::2]) for part in rest.split(";") if mark), *request.args.items(multi=True)]
    given = known_pairs([(str(one), str(text)) for one, text in pairs], lookup)
    response = asked_page(lookup, given, refused(lookup, error), {})
    response.vary.add("Accept")
    return response


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
    return finished_page(rendered(template, values), status)


def rendered(template: str, values: Mapping[str, object]) -> str:
    """Return the text of a page from a template and its values."""
    shop = workshop()
    versions = shop.loaded.versions if shop.loaded is not None else None
    return render_template(template, versions=versions, **values)


def finished_page(text: str, status: int = 200) -> Response:
    """Return a page of a text."""
    response = Response(text, status=status, content_type="text/html; charset=utf-8")
    response.headers["Content-Security-Policy"] = PAGE_POLICY
    response.headers["Cache-Control"] = "no-cache"
    if status == 200 and request.method in ("GET", "HEAD"):
        response.set_etag(tag_of(text))
        response.make_conditional(request)
    return response
