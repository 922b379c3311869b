"""What every answer promises, whatever was asked: looked at from outside, in what came back."""

from __future__ import annotations

import itertools
import json
import math
import random
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode
from xml.etree import ElementTree

from tests.campaign.questions import MANNERS, Asked

STATUSES = frozenset({200, 304, 400, 404, 405, 406, 413, 415, 422, 501})
"""What a request may be answered with; 501 belongs to oEmbed in another format than JSON."""
SLOW, SLOW_PICTURE, SLOW_BODY = 1.0, 4.0, 25.0
"""Seconds of processor time that no question may take, no PNG, and no batch or drawing."""
LONGEST_REFUSAL = 100_000
BAD_WORD = re.compile(r"\b(?:NaN|nan|Infinity|-?inf|Traceback)\b")
TRY = re.compile(r"Try (/v1/\S+?)\.?$")
ORDER = 1 + 1e-9
ENDS = ("low", "value", "high")


def broken(asked: Asked, response: Any, seconds: float, client: Any, dice: random.Random) -> Iterator[str]:
    """Yield every promise that an answer breaks.

    Parameters
    ----------
    asked : Asked
    response : Response
    seconds : float
        Processor time that it took.
    client : FlaskClient
        Asks what follows from the answer.
    dice : random.Random
        Chooses which answers are asked again.
    """
    status, kind = response.status_code, response.mimetype
    if status not in STATUSES:
        yield f"status {status}"
        return
    most = SLOW_BODY if asked.method == "POST" else SLOW_PICTURE if kind == "image/png" else SLOW
    if seconds > most:
        yield f"{seconds:.1f} s of processor time"
    if asked.method == "HEAD" or status == 304:
        return
    own = asked.address.startswith("/v1/")
    if status >= 400:
        yield from _refusal(response, kind)
        yield from _advice(response, kind, client)
        return
    yield from _content(asked, response, kind) if own else ()
    if asked.method == "POST":
        if response.headers.get("Cache-Control") != "no-store":
            yield "an answer to a body that may be stored"
        if asked.address == "/v1/batch":
            yield from _batch(asked, json.loads(response.data), client, dice)
        return
    if own and asked.method == "GET":
        yield from _negotiated(asked, response, kind)
        if dice.random() < 0.1:
            yield from _again(asked, response, client)


def _content(asked: Asked, response: Any, kind: str) -> Iterator[str]:
    """Yield what is wrong with the numbers, words and marks of an answer."""
    if kind == "application/json":
        yield from numbers(json.loads(response.data, parse_constant=no_constant))
    elif kind in ("text/plain", "text/markdown", "text/csv", "text/html", "image/svg+xml"):
        found = BAD_WORD.search(response.get_data(as_text=True))
        # a device may be called so, in a body or beside a sheet; a number never is, since it would be refused
        echoed = found and (found[0].encode() in asked.body or f"={found[0]}&" in f"{asked.address}&")
        if found and not echoed and "agreement" not in asked.address:
            yield f"the word {found[0]}"
    if kind == "image/svg+xml":
        try:
            ElementTree.fromstring(response.data)
        except ElementTree.ParseError as error:
            yield f"no picture: {error}"


def no_constant(word: str) -> float:
    """Return what no JSON of ours may hold, as a number that is not finite."""
    return float(word.replace("Infinity", "inf"))


def numbers(value: Any, place: str = "") -> Iterator[str]:
    """Yield every number of a document that is not finite, and every band that is not in order."""
    if isinstance(value, float) and not math.isfinite(value):
        yield f"{place} is not finite"
    elif isinstance(value, list):
        for one in value:
            yield from numbers(one, place)
    elif isinstance(value, dict):
        ends = [value.get(name) for name in ENDS]
        if "unit" in value and all(one is None or isinstance(one, int | float) for one in ends) and _disordered(ends):
            yield f"{place} has its band out of order"
        for below, above in (("sparks_below", "holds_above"), ("withstand_estimate", "breakdown_voltage")):
            if _disordered([_least(value.get(below)), _least(value.get(above))]):
                yield f"{place} has {below} above {above}"
        for name, one in value.items():
            yield from numbers(one, f"{place}.{name}")


def _disordered(ends: Sequence[float | None]) -> bool:
    known = [one for one in ends if one is not None]
    return any(first > second * ORDER + 1e-300 for first, second in itertools.pairwise(known))


def _least(value: Any) -> float | None:
    if isinstance(value, dict):
        value = next((value[name] for name in ENDS if value.get(name) is not None), None)
    return float(value) if isinstance(value, int | float) else None


# --- refusals -------------------------------------------------------------------------------------------------------


def _refusal(response: Any, kind: str) -> Iterator[str]:
    if response.headers.get("Cache-Control") != "no-store":
        yield "a refusal that may be stored"
    if kind == "text/html":
        return
    if kind != "application/problem+json":
        yield f"a refusal of type {kind}"
        return
    problem = json.loads(response.data)
    if not {"type", "title", "status", "detail", "errors"} <= set(problem) or problem["status"] != response.status_code:
        yield "a problem without its members"
    if "<" in response.get_data(as_text=True):
        yield "markup in a problem"
    for error in problem["errors"]:
        if set(error) - {"parameter", "detail", "accepted", "valid"} or not error.get("detail"):
            yield "a fault without its members"
        valid = error.get("valid", {})
        ends = [valid[end]["value"] if isinstance(valid.get(end), dict) else valid.get(end) for end in ("low", "high")]
        if None not in ends and ends[0] > ends[1]:
            yield "an empty valid range"
    if len(response.data) > LONGEST_REFUSAL:
        yield "a refusal without end"


def _advice(response: Any, kind: str, client: Any) -> Iterator[str]:
    """Yield whether what a refusal advises is refused itself."""
    if kind != "application/problem+json":
        return
    found = TRY.search(json.loads(response.data)["detail"])
    if found and client.get(found[1]).status_code != 200:
        yield f"advice that is refused: {found[1]}"


# --- what was agreed on, and what is the same -----------------------------------------------------------------------


def _negotiated(asked: Asked, response: Any, kind: str) -> Iterator[str]:
    """Yield whether the type is another than was asked for, or a cache is not told that it was chosen."""
    if asked.suffixed or "only=" in asked.address:
        return
    if "Accept" not in response.headers.get("Vary", ""):
        yield "a negotiated answer without Vary"
    accept = asked.headers.get("Accept")
    if accept and ";q=" not in accept and accept != ";;;" and not _fits(kind, accept):
        yield f"{kind} where {accept} was asked for"


def _fits(kind: str, accept: str) -> bool:
    main = kind.partition("/")[0]
    return any(one.strip() in (kind, f"{main}/*", "*/*") for one in accept.split(","))


def _again(asked: Asked, response: Any, client: Any) -> Iterator[str]:
    """Yield whether the canonical address, or the tag, tells of another answer."""
    tag, link = response.headers.get("ETag"), response.headers.get("Link", "")
    if tag is None:
        yield "an answer without a tag"
        return
    same = client.get(asked.address, headers={**asked.headers, "If-None-Match": f"W/{tag}"})
    if same.status_code != 304:
        yield f"{same.status_code} for its own tag"
    alternate = re.match(r'<([^>]*)\.[a-z]+>; rel="alternate"', link)  # not what describes a table
    if alternate is None or any(f"{name}=" in asked.address for name in (*MANNERS, "only")):
        return
    forms = re.findall(r'<[^>]*\.([a-z]+)>; rel="alternate"; type="([^"]*)"', link)
    form = {**{media: name for name, media in forms}, "": ""}
    own = next((name for name, media in FORMS.items() if media == response.mimetype and media not in form), None)
    if own is None:
        return
    again = client.get(f"{alternate[1]}.{own}")
    if again.status_code != 200 or again.data != response.data or again.headers.get("ETag") != tag:
        yield f"another answer at its canonical address {alternate[1]}.{own}"


FORMS: Mapping[str, str] = {
    "json": "application/json",
    "csv": "text/csv",
    "md": "text/markdown",
    "html": "text/html",
    "svg": "image/svg+xml",
    "png": "image/png",
}
"""Suffixes whose type no other suffix has."""


# --- batches --------------------------------------------------------------------------------------------------------

ALONE: Mapping[str, tuple[str, str]] = {
    "breakdown": ("breakdown_voltage", "voltage"),
    "clearance": ("clearance", "length"),
}
"""Lookups whose points are asked alone too, with the result that is held against."""


def _batch(asked: Asked, document: Mapping[str, Any], client: Any, dice: random.Random) -> Iterator[str]:
    """Yield columns of another length, bands out of order, answers without one, and points that alone are others."""
    count, status = document["count"], document["status"]
    if len(status) != count or len(document["method"]) != count:
        yield "a status or method that is not of each point"
    for name, column in document["columns"].items():
        ends = [column.get(end) for end in ("low", "values", "high")]
        if any(one is not None and len(one) != count for one in ends):
            yield f"{name} has not one number a point"
            return
        for place in range(count):
            if _disordered([one[place] if one is not None else None for one in ends]):
                yield f"{name} has its band out of order at {place}"
            if status[place] != "ok" and any(one is not None and one[place] is not None for one in ends):
                yield f"{name} has a number at {place}, which is {status[place]}"
    below, above = (document["columns"].get(name, {}).get("values") for name in ("sparks_below", "holds_above"))
    if below and above and any(_disordered(pair) for pair in zip(below, above, strict=True)):
        yield "sparks_below above holds_above"
    key = document["asked"]["lookup"]
    fine = [place for place, one in enumerate(status) if one == "ok"]
    if key in ALONE and fine:
        yield from _alone(json.loads(asked.body), document, dice.choice(fine), client)


def _alone(body: Mapping[str, Any], document: Mapping[str, Any], place: int, client: Any) -> Iterator[str]:
    key = document["asked"]["lookup"]
    name, _ = ALONE[key]
    point = {column: _at(one, place) for column, one in body["columns"].items()}
    single = client.get(f"/v1/{key}?{urlencode({**body.get('given', {}), **point})}")
    if single.status_code != 200:
        yield f"point {place} alone is refused: {single.get_json()['detail'][:100]}"
        return
    block, column = single.get_json().get(name), document["columns"][name]
    for end, many in (("low", "low"), ("value", "values"), ("high", "high")):
        alone = block.get(end) if isinstance(block, dict) else None
        there = column.get(many, [None] * (place + 1))[place]
        if (alone is None) != (there is None) or (alone is not None and not math.isclose(alone, there, rel_tol=1e-8)):
            yield f"point {place} alone has {end} {alone}, in the batch {there}"


def _at(column: Any, place: int) -> str:
    values = column["values"]
    return f"{values[place] if len(values) > 1 else values[0]!r}{column.get('unit') or ''}"
