"""How an answer is put into other pages: the lines for each place, and oEmbed 1.0; nothing is ever fetched."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, unquote, urlsplit

import orjson
from flask import Blueprint, Response, request
from werkzeug.exceptions import NotFound
from werkzeug.exceptions import NotImplemented as NotOffered

from service.answers.lookup import Lookup
from service.errors import BadQuestion, BadReferenceData, ServiceError
from service.parameters import Question
from service.render.formats import FORMATS
from service.render.page import Page
from service.web.asking import THEME, WIDTH, canonical, canonical_path_form, path_form, read_asked
from service.web.forms import known_pairs
from service.web.lookup_routes import answered, find_lookup
from service.web.pages import base_url, page
from service.web.problems import problem_block
from service.web.workshop import workshop

blueprint = Blueprint("embedding", __name__)


@blueprint.get("/wiki")
def wiki() -> Response:
    """Print the lines of a question for each wiki engine."""
    url = request.args.get("url", "").strip()
    theme, width = request.args.get("theme", "light"), request.args.get("width", "480")
    values: dict[str, object] = {"url": url, "theme": theme, "width": int(width) if width.isdecimal() else 0}
    status = 200
    if url:
        try:
            one = embedded(url, str(THEME.read(theme)), int(WIDTH.read(width)))  # type: ignore[arg-type]  # a count
            values |= {"title": one.title, "lines": list(snippets(one)), "picture": one.picture("svg")}
        except ServiceError as error:
            block = problem_block(error)
            values["problem"], status = block, block["status"]
    return page("wiki.html", values, status)


def embedded(url: str, theme: str = "auto", width: int = 0) -> Embedded:
    """Return what is embedded of a question given by any address of this service.

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
    query = canonical(question)
    back = f"{base_url()}/?lookup={lookup.key}" + (f"&{query}" if query else "")
    address = f"{base_url()}/v1/{lookup.key}?{query}"
    shown = Page.of(answer, workshop().registry, lookup.title, drawn=False, theme=theme, address=address)
    markups: tuple[str, ...] = ("md", "wiki", "dokuwiki")
    tables = {one: FORMATS[one].render(shown).decode() for one in markups if one in lookup.formats}
    said = shown.document.get("sentence", shown.title)
    return Embedded(base_url(), f"/v1/{lookup.key}{path_form(query)}", back, said, theme, width, tables)


def question_of(url: str) -> tuple[Lookup, Question]:
    """Return lookup and question of an address of this service, of a page with its answer too.

    Parameters
    ----------
    url : str
        Path and query, or a whole address with our own host, with or without its scheme.

    Raises
    ------
    BadQuestion
        When the address is not one of ours.
    """
    own = urlsplit(base_url())
    try:
        parts = urlsplit(url if "//" in url or url.startswith("/") else f"//{url}")
    except ValueError as error:  # a bracket that is no address of the sixth version
        raise BadQuestion.about("url", "That is no address.") from error
    path = parts.path.removeprefix(own.path) if parts.netloc else parts.path
    if parts.scheme not in ("", "http", "https") or parts.netloc not in ("", own.netloc):
        raise BadQuestion.about("url", f"That is no address of this service, which is at {base_url()}.")
    pairs = parse_qsl(parts.query, keep_blank_values=True)
    if path in ("", "/"):
        lookup = find_lookup(dict(pairs).get("lookup", "breakdown"))
        return lookup, lookup.read(known_pairs(pairs, lookup).items())
    if not path.startswith("/v1/") or "/" in path.removeprefix("/v1/").partition(";")[0].partition(".")[0]:
        raise BadQuestion.about("url", "That address is no question, such as /v1/breakdown?gap=8mm.")
    name = path.removeprefix("/v1/")
    cut = min((name.index(mark) for mark in ";." if mark in name), default=len(name))
    lookup = find_lookup(name[:cut])
    asked = read_asked(unquote(name[cut:]), pairs, lookup)
    return lookup, lookup.read(asked.pairs)


@dataclass(frozen=True)
class Snippet:
    """What to paste into one kind of page.

    Parameters
    ----------
    engine : str
        The wiki engine, or the kind of page.
    what : str
        What is embedded.
    code : str
        To paste as it stands.
    allow : str
        What the administrator must allow; empty for nothing.
    """

    engine: str
    what: str
    code: str
    allow: str = ""


@dataclass(frozen=True)
class Embedded:
    """What is embedded.

    Parameters
    ----------
    base : str
        Scheme, host and path of the service.
    path : str
        The question in path form, without a suffix.
    back : str
        Address of the page that shows it, for a link back.
    title : str
        What is read first, for alternative texts.
    theme : str
        ``auto``, ``light`` or ``dark``.
    width : int
        Of pictures and frames; 0 for their own.
    tables : mapping of str to str
        The answer as a table, by suffix of its markup; empty where it is not offered.
    """

    base: str
    path: str
    back: str
    title: str
    theme: str = "auto"
    width: int = 0
    tables: Mapping[str, str] | None = None

    def picture(self, suffix: str) -> str:
        """Return the address of the picture; its own names are part of the path, which no engine cuts."""
        manner = f";theme={self.theme}" if self.theme != "auto" else ""
        manner += f";width={self.width}" if self.width else ""
        return f"{self.base}{self.path};view=brief{manner}.{suffix}"

    @property
    def card(self) -> str:
        """Address of the card."""
        return f"{self.base}{self.path}" + (f";theme={self.theme}" if self.theme != "auto" else "") + ".html"

    @property
    def plain(self) -> str:
        """The title without what any of the markups reads."""
        return "".join({"[": "(", "]": ")", "|": "/", '"': "", "`": "'"}.get(one, one) for one in self.title)


def snippets(one: Embedded) -> Iterator[Snippet]:
    """Yield the lines for a question."""
    png, svg, text, tables = one.picture("png"), one.picture("svg"), one.plain, one.tables or {}
    linked = f"[![{text}]({png})]({one.back})"
    frame = one.width or 640
    yield Snippet("Plain HTML", "picture", _image(one, svg))
    yield Snippet("GitHub, GitLab, MkDocs", "picture", linked, "GitLab: outside images pass its asset proxy, if any.")
    yield from _table("GitHub, GitLab, MkDocs", tables, "md")
    yield Snippet("Sphinx", "picture", f".. image:: {png}\n   :alt: {text}\n   :target: {one.back}")
    yield Snippet("Jupyter", "picture", f"from IPython.display import Image\n\nImage(url={png!r})")
    yield Snippet(
        "MediaWiki", "picture", png, "External images by $wgAllowExternalImagesFrom with this service's address."
    )
    yield from _table("MediaWiki", tables, "wiki")
    yield Snippet("DokuWiki", "picture", f"[[{one.back}|{{{{{png}?nolink|{text}}}}}]]", "External images.")
    yield from _table("DokuWiki", tables, "dokuwiki")
    yield Snippet("XWiki", "picture", f"{{{{html}}}}{_image(one, svg)}{{{{/html}}}}", "The html macro for the author.")
    yield Snippet("Wiki.js", "picture", f"[![{text}]({svg})]({one.back})", "Frames are taken out by its sanitizer.")
    yield Snippet("Confluence", "picture", png, "Insert the address as an image.")
    yield Snippet(
        "BookStack, any page with frames",
        "card in a frame",
        f'<iframe src="{html.escape(one.card)}" title="{html.escape(text)}" width="{frame}" height="560"></iframe>',
        "BookStack: ALLOWED_IFRAME_SOURCES with this service's address; here SERVICE_FRAME_ANCESTORS with the wiki's.",
    )


def _image(one: Embedded, address: str) -> str:
    width = f' width="{one.width}"' if one.width else ""
    picture = f'<img src="{html.escape(address)}" alt="{html.escape(one.plain)}"{width}>'
    return f'<a href="{html.escape(one.back)}">{picture}</a>'


def _table(engine: str, tables: Mapping[str, str], suffix: str) -> Iterator[Snippet]:
    if suffix in tables:
        yield Snippet(engine, "table", tables[suffix].rstrip())


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
    block: dict[str, object] = {"version": "1.0", "title": title, "provider_name": "Spark gaps and breakdown voltages"}
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
