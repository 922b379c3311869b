"""Responses: headers, format and entity tag, and a bounded store of finished bytes that are sent again as they are."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import Any, Generic, TypeVar
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from flask import Flask, Response, g, request
from werkzeug.datastructures import MIMEAccept
from werkzeug.exceptions import NotAcceptable
from werkzeug.http import parse_accept_header, parse_etags

from service.render.formats import FORMATS
from service.web.log import CACHE

CACHE_CONTROL = "public, max-age=3600, stale-while-revalidate=86400"
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
CARD_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; frame-ancestors {ancestors}"
ENTITY_HEADERS = "ETag, Link, Retry-After"
RENDERED_BY = tuple(f"{name} {version(name)}" for name in ("numpy", "resvg-py", "jinja2"))
"""Libraries whose version may change the bytes of an answer."""
BY_SUFFIX_ONLY = ("wiki", "dokuwiki")
"""Formats that share text/plain with ``.txt`` and are never negotiated."""
NOTHING_LOADED = "default-src 'none'; frame-ancestors 'none'"
COMMON = (
    ("Access-Control-Allow-Origin", "*"),
    ("Access-Control-Expose-Headers", ENTITY_HEADERS),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
)
"""Headers of every response."""
ANYWHERE = ("Cross-Origin-Resource-Policy", "cross-origin")
"""Header of every picture."""

Kept = TypeVar("Kept")
Headers = list[tuple[str, str]]
Finished = tuple[str, Headers, bytes]
"""Status, headers and body of a response that needs nothing more."""


def register(app: Flask) -> None:
    """Give every response of the application its common headers."""

    @app.after_request
    def common(response: Response) -> Response:
        headers = response.headers
        for name, value in COMMON:
            headers[name] = value
        headers.setdefault("Content-Security-Policy", NOTHING_LOADED)
        if (response.mimetype or "").startswith("image/"):
            headers.set(*ANYWHERE)
        if request.method == "OPTIONS":
            headers["Access-Control-Allow-Methods"] = headers.get("Allow", "GET, HEAD, OPTIONS")
            headers["Access-Control-Allow-Headers"] = "Accept, Content-Type, If-None-Match"
            headers["Access-Control-Max-Age"] = "86400"
        if g.get("negotiated"):
            response.vary.add("Accept")
        if response.status_code >= 400:
            headers["Cache-Control"] = "no-store"
        return response


def negotiated(offered: Iterable[str], suffix: str | None) -> str:
    """Return the format of a response to the current request, as `format_of` does.

    Parameters
    ----------
    offered : iterable of str
        Formats of this resource, JSON first where it has it.
    suffix : str or None
        Format by suffix.

    Raises
    ------
    NotAcceptable
        When the suffix or ``Accept`` asks for what is not offered.
    """
    g.negotiated = suffix is None
    return format_of(tuple(offered), suffix, request.headers.get("Accept", ""))


def format_of(names: tuple[str, ...], suffix: str | None, accept: str) -> str:
    """Return the format of a response: by suffix, else by ``Accept``, else the first one offered.

    Parameters
    ----------
    names : tuple of str
        Formats of this resource.
    suffix : str or None
        Format by suffix.
    accept : str
        The header; empty where there is none.

    Raises
    ------
    NotAcceptable
        When the suffix or ``Accept`` asks for what is not offered.
    """
    if suffix is not None:
        if suffix not in names:
            raise NotAcceptable(
                f"'.{suffix}' is not offered here; there are {', '.join('.' + name for name in names)}."
            )
        return suffix
    media = {FORMATS[name].media_type.partition(";")[0]: name for name in reversed(names) if name not in BY_SUFFIX_ONLY}
    first = FORMATS[names[0]].media_type.partition(";")[0]
    best = type_of(tuple(reversed(media)), first, accept)
    return names[0] if best == first else media[best]


def type_of(offered: tuple[str, ...], first: str, accept: str) -> str:
    """Return the media type that an ``Accept`` asks for; the first where it leaves the choice.

    Raises
    ------
    NotAcceptable
        When it asks for none of those that are offered.
    """
    accepted = parse_accept_header(accept, MIMEAccept) if accept else None
    if not accepted:
        return first
    best = accepted.best_match(list(offered))
    if best is None:
        raise NotAcceptable(f"Accept asks for none of {', '.join(offered)}.")
    return first if accepted[best] == accepted[first] else best


def tag_of(*parts: str) -> str:
    """Return an entity tag of texts that determine a body, with the versions of what makes its bytes."""
    return hashlib.sha256("\x1f".join((*RENDERED_BY, *parts)).encode()).hexdigest()[:32]


def tagged(tag: str, media_type: str, make: Callable[[], bytes], cache: BytesCache) -> Response:
    """Return a cacheable response with a strong tag; an unchanged one is answered 304 without computing.

    Parameters
    ----------
    tag : str
        Determines the body.
    make : callable
        Computes the body.
    """
    status, headers, body = finished(tag, media_type, make, cache, request.headers.get("If-None-Match", ""))
    response = Response(body, status, headers)
    if status == UNCHANGED:
        del response.headers["Content-Type"]
    return response


UNCHANGED = "304 NOT MODIFIED"


def finished(tag: str, media_type: str, make: Callable[[], bytes], cache: BytesCache, known: str) -> Finished:
    """Return the same as status, headers and body, for a request without the framework.

    Parameters
    ----------
    tag, media_type, make, cache
        As in `tagged`.
    known : str
        The header If-None-Match; empty where there is none.
    """
    kept = [("ETag", f'"{tag}"'), ("Cache-Control", CACHE_CONTROL)]
    if known and parse_etags(known).contains_weak(tag):  # RFC 9110, 13.1.2: a proxy that compresses makes the tag weak
        return UNCHANGED, kept, b""
    body = cache.once(tag, make)
    return "200 OK", [("Content-Type", media_type), ("Content-Length", str(len(body))), *kept], body


@dataclass
class Recent(Generic[Kept]):
    """The most recently used of some things, up to a number of bytes; the others make room.

    Parameters
    ----------
    limit : int
        Most bytes kept.
    entry : int
        Bytes counted for the place of each beside its own, so that many small ones are bounded too.
    """

    limit: int = 16 * 1024 * 1024
    entry: int = 512
    kept: OrderedDict[Hashable, tuple[Kept, int]] = field(default_factory=OrderedDict)
    size: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def get(self, key: Hashable) -> Kept | None:
        """Return what belongs to a key, if it is kept."""
        with self.lock:
            found = self.kept.get(key)
            if found is None:
                return None
            self.kept.move_to_end(key)
            return found[0]

    def put(self, key: Hashable, thing: Kept, size: int) -> None:
        """Keep a thing of so many bytes, unless it alone would be an eighth of all."""
        if size > self.limit // 8:
            return
        with self.lock:
            if key not in self.kept:
                self.size += size + self.entry
            self.kept[key] = thing, size
            while self.size > self.limit:
                self.size -= self.kept.popitem(last=False)[1][1] + self.entry


@dataclass
class BytesCache(Recent[bytes]):
    """The most recently used bodies by tag, each computed once."""

    under_way: dict[str, Future[bytes]] = field(default_factory=dict)

    def once(self, tag: str, make: Callable[[], bytes]) -> bytes:
        """Return the body of a tag, computed once however many ask for it at the same time; so is its refusal."""
        body = self.get(tag)
        if body is not None:
            return body
        with self.lock:
            other = self.under_way.get(tag)
            mine = self.under_way[tag] = Future() if other is None else other
        if other is not None:
            return other.result()
        try:
            body = make()
            self.put(tag, body, len(body))
            mine.set_result(body)
        except BaseException as error:
            mine.set_exception(error)
            raise
        finally:
            with self.lock:
                del self.under_way[tag]
        return body


@dataclass
class Repeated:
    """Serves again, word for word, what was asked word for word before; every other request passes through.

    Parameters
    ----------
    app : callable
        The application behind it; its responses with ``Cache-Control: public`` and an entity tag are kept.
    kept : Recent
        These, by what they depend on.
    """

    app: WSGIApplication
    kept: Recent[Finished] = field(default_factory=lambda: Recent(8 * 1024 * 1024, OVERHEAD))

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        if environ["REQUEST_METHOD"] != "GET" or not environ["PATH_INFO"].startswith("/v1/"):
            return self.app(environ, start_response)
        target = tuple(environ.get(name, "") for name in TARGET)
        found = self.kept.get(target)
        if found is None:
            return self._asked(target, environ, start_response)
        status, headers, body = found
        environ[CACHE] = "hit"
        start_response(status, list(headers))
        return [body]

    def _asked(self, target: Hashable, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        started: list[Any] = []

        def start(status: str, headers: Headers, *error: Any) -> Any:
            started[:] = [status, headers]
            return start_response(status, headers, *error)

        body = list(self.app(environ, start))
        status, headers = started
        if status[:3] in ("200", "304") and dict(headers).get("Cache-Control", "").startswith("public"):
            whole = b"".join(body)
            self.kept.put(target, (status, headers, whole), len(whole))
        return body


TARGET = ("SCRIPT_NAME", "PATH_INFO", "QUERY_STRING", "HTTP_ACCEPT", "HTTP_IF_NONE_MATCH")
"""What a response depends on."""
OVERHEAD = 4096
"""Bytes counted for the headers and the target of a response."""
