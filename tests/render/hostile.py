"""Answers whose every text tries to become markup, formula or script in some format."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

from service.render.page import Page

from .samples import breakdown, claim, clearance, hazard, paschen

TEXTS = (
    "<script>alert(1)</script>",
    "a|b||c^d",
    "{{7*7}} {% x %} ${7*7}",
    "=cmd|' /C calc'!A0",
    "+1+1",
    "@SUM(A1)",
    "]] [[Special:Login|x]] ]]>",
    "''bold'' '''x''' ~~~~ __NOTOC__ <nowiki>",
    "%%off%% </nowiki> // ** __ \\\\ ::: FIXME :-)",
    "**md** `code` _em_ # - [link](javascript:alert(1)) ![i](x)",
    '"><img src=x onerror=alert(1)> &lt; &amp;',
    "</title></desc></style></svg></td></table>",
    "line\nbreak\r\n| cell\ttab \x00\x1b[31m",
    "\u202eright to left\u202c \u05d0\u05d1\u05d2",
    "\U0001f600 \U0001f9ea",
    "javascript:alert(1) https://evil.example www.evil.example",
)


def spoiled(value: Any, text: str) -> Any:
    """Return a value with every text in it replaced but keys, units and measures."""
    if isinstance(value, str):
        return text
    if isinstance(value, dict):
        kept = ("unit", "measure", "assumed")
        return {
            key: one if key in kept and not isinstance(one, dict) else spoiled(one, text) for key, one in value.items()
        }
    if isinstance(value, list | tuple):
        return type(value)(spoiled(one, text) for one in value)
    if is_dataclass(value):
        names = [field.name for field in fields(value) if field.name not in ("x", "y", "kind")]
        return replace(value, **{name: spoiled(getattr(value, name), text) for name in names})
    return value


def pages(text: str) -> list[Page]:
    """Return several answers full of a text."""
    found = []
    for make in (breakdown, hazard, clearance, claim, paschen):
        page = make()
        found.append(Page(spoiled(page.document, text), text, spoiled(page.figure, text), "auto", text))
    return found
