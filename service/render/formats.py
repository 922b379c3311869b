"""Every format of an answer by its suffix: media type and renderer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.render import comma_separated, html_card, json_text, markup, png, svg
from service.render.markup import DOKUWIKI, MARKDOWN, MEDIAWIKI
from service.render.page import Page

PLAIN = "text/plain; charset=utf-8"


@dataclass(frozen=True)
class Format:
    """One format.

    Parameters
    ----------
    suffix : str
        After the last dot of a path.
    media_type : str
        Content type.
    render : callable
        From a `Page` to its bytes, the same every time.
    """

    suffix: str
    media_type: str
    render: Callable[[Page], bytes]


FORMATS: Mapping[str, Format] = MappingProxyType(
    {
        one.suffix: one
        for one in (
            Format("json", "application/json", json_text.render),
            Format("txt", PLAIN, markup.render),
            Format("csv", "text/csv; charset=utf-8", comma_separated.render),
            Format("md", "text/markdown; charset=utf-8", MARKDOWN.render),
            Format("wiki", PLAIN, MEDIAWIKI.render),
            Format("dokuwiki", PLAIN, DOKUWIKI.render),
            Format("html", "text/html; charset=utf-8", html_card.render),
            Format("svg", "image/svg+xml", svg.render),
            Format("png", "image/png", png.render),
        )
    }
)
