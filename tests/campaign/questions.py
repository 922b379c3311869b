"""Random requests: mostly nearly right ones, some of nothing. A seed and a number make one, whatever came before."""

from __future__ import annotations

import random
import re
import string
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote

from service import units
from service.parameters import Parameter
from tests.campaign import bodies

NUMBERS = (
    *("0", "1", "-1", "8", "0.5", "1e-320", "1e-30", "1e-9", "1e3", "1e9", "1e155", "1.79e308", "1e999", "nan", "inf"),
    *("0e-99999999", "1e-99999999", "9" * 40, "0." + "0" * 40 + "1", "8.000000000000000000000000000000"),
)
ODD = (
    *("", " ", "8", "8 mm", "8mm ", "5,3mm", "²mm", "8µm", "8%C2%B5m", "٣mm", "<b>", "'; --", "\x00", "\ud7ff", "%"),
    *("+", "a" * 300, "8mm,9mm", ",", "a,,b", "-8mm", "0x8mm", "1_0mm", "∞mm", "８mm", "8mm\u200b", "null", "None"),
)
NAMES = ("depth", "Gap", "gap ", "only", "theme", "view", "width", "digits", "format", "url", "")
MANNERS = {
    "theme": ("light", "dark", "auto", "blue"),
    "view": ("brief", "plot", "full", "all"),
    "width": ("200", "480", "1600", "0", "1e9"),
    "digits": ("1", "3", "17", "99"),
}
FIELDS = (
    *("breakdown_voltage", "breakdown_voltage.low", "gaps", "method.title", "asked.gap", "gaps.holds_above", "gaps.0"),
    *("nothing", "verdict", "²", "sentence", "headline.text", "notes", "cautions.0.text", "service_version", "..", "."),
)
ACCEPTS = (
    *(None, None, "*/*", "application/json", "text/html", "image/png;q=0.1", "text/csv", "nonsense", "text/markdown"),
    *("image/*, text/*;q=0.1", "image/svg+xml", "text/plain;q=0.5, application/json;q=0.4", ";;;", "text/html;q=0"),
)
SUFFIXES = (".json", ".txt", ".csv", ".md", ".html", ".xyz", ".")
METHODS = ("GET", "GET", "GET", "POST", "PUT", "DELETE", "OPTIONS", "PATCH")
PLACES = (
    *("/", "/v1", "/v1/", "/docs", "/wiki?url=", "/oembed?url=", "/v1/tables/", "/v1/gases/", "/v1/methods/"),
    *("/health/ready", "/health/live", "/problems/", "/v1/breakdown/", "/tables", "/static/card.css", "/metrics"),
    *("/openapi.yaml", "/profile", "/probe-check", "/v1/tables/datapackage.json", "/v1/materials/", "/v1/sources/"),
)
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


@dataclass(frozen=True)
class Asked:
    """One request.

    Parameters
    ----------
    kind : str
        Of which sort it is, for the table.
    address : str
    method : str
    headers : mapping of str to str
    body : bytes
    """

    kind: str
    address: str
    method: str = "GET"
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""

    @property
    def suffixed(self) -> bool:
        """Whether the format is named in the address."""
        path = self.address.partition("?")[0]
        return "." in path.rpartition(";")[2].rpartition("/")[2] or "format=" in self.address


def question(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    """Return a random request.

    Parameters
    ----------
    dice : random.Random
    lookups : mapping
        Every lookup by key.
    """
    kinds = ((0.80, _asked), (0.86, _elsewhere), (0.89, _embedded), (1.0, _posted))
    roll = dice.random()
    return next(make for share, make in kinds if roll < share)(dice, lookups)


def _asked(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    lookup = dice.choice([one for one in lookups.values() if not one.post])
    pairs = _pairs(dice, lookup)
    manner = dice.choice(tuple(MANNERS)) if dice.random() < 0.08 else ""
    if manner:
        pairs[manner] = dice.choice(MANNERS[manner])
    if dice.random() < 0.1:
        pairs["only"] = dice.choice((*FIELDS, *lookup.results)) if dice.random() < 0.8 else dice.choice(ODD)
    forms = [form for form in lookup.formats if form != "png" or dice.random() < 0.2]
    suffix = dice.choice(("", "", "", "", *(f".{form}" for form in forms)))
    if suffix and dice.random() < 0.2:
        pairs["format"], suffix = suffix[1:], ""
    accept = dice.choice(ACCEPTS)
    method = "HEAD" if dice.random() < 0.02 else "GET"
    address = _address(dice, lookup.key, pairs, suffix)
    form = pairs.get("format", suffix.removeprefix("."))
    return Asked(f"{lookup.key} {form or 'asked'}", address, method, {"Accept": accept} if accept else {})


def _pairs(dice: random.Random, lookup: Any) -> dict[str, str]:
    """Return a lookup's example or one of its further ones, with some of it changed, added and left out."""
    example = dice.choice((lookup.example, lookup.example, *lookup.more))
    pairs = dict(pair.split("=", 1) for pair in example.split("&") if pair)
    count = min(len(lookup.parameters), dice.choice((0, 0, 1, 1, 2, 3)))
    for parameter in dice.sample(lookup.parameters, k=count):
        pairs[parameter.name] = text(parameter, dice)
    if dice.random() < 0.05:
        pairs[dice.choice(NAMES)] = dice.choice(ODD)
    if dice.random() < 0.05 and pairs:
        pairs.pop(dice.choice(list(pairs)))
    return pairs


def _address(dice: random.Random, key: str, pairs: Mapping[str, str], suffix: str) -> str:
    parts = [f"{quote(name)}={quote(one.encode('utf-8', 'surrogatepass'), safe='')}" for name, one in pairs.items()]
    dice.shuffle(parts)
    if parts and dice.random() < 0.02:
        parts.append(parts[0])
    if dice.random() < 0.15:
        return f"/v1/{key};" + ";".join(parts) + suffix
    return f"/v1/{key}{suffix}?" + "&".join(parts)


def text(parameter: Parameter, dice: random.Random) -> str:
    """Return a value of a parameter as text: mostly one that can be read."""
    if dice.random() < 0.06:
        return dice.choice(ODD)
    if parameter.choices and dice.random() < 0.95:
        count = min(len(parameter.choices), 1 + (parameter.many and dice.randrange(3)))
        return ",".join(dice.sample(parameter.choices, k=count))
    if parameter.dimension not in units.DIMENSIONS:
        return dice.choice((parameter.example or "1", *NUMBERS))
    unit = dice.choice(tuple(units.DIMENSIONS[parameter.dimension].spellings))
    if dice.random() < 0.2:
        return f"{dice.choice(NUMBERS)}{unit}"
    if parameter.example and dice.random() < 0.3:
        return parameter.example
    if parameter.low is not None and parameter.high is not None and dice.random() < 0.1:
        bound = units.shown(dice.choice((parameter.low, parameter.high)), parameter.dimension)
        return f"{bound!r}{units.DIMENSIONS[parameter.dimension].shown}"
    return f"{10 ** dice.uniform(-3, 3):.{dice.choice((1, 3, 17))}g}{unit}"


def _elsewhere(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    """Return a request to a page, a list, an entry or nothing."""
    place = dice.choice(PLACES)
    if dice.random() < 0.5:
        junk = "".join(dice.choices(string.printable[:95], k=dice.randrange(40)))
        address = place + quote(junk, safe="/;=.?&")
        return Asked("elsewhere", re.sub("^/+", "/", address), dice.choice(METHODS))  # two would begin a host
    key = dice.choice(("air", "iec-60052-table-2", "paschen-minima", "polyethylene", "sphere-gap", "x", "²", ""))
    proof = dice.choice(("", "", "?proof=true", "?proof=maybe", "?x=1"))
    accept = dice.choice(ACCEPTS)
    address = f"/v1/{dice.choice(('tables', 'gases', 'electrodes', 'methods', 'materials', 'units', 'sources'))}"
    address += f"/{quote(key)}{dice.choice(('', *SUFFIXES))}{proof}" if dice.random() < 0.8 else dice.choice(SUFFIXES)
    return Asked("lists", address, "GET", {"Accept": accept} if accept else {})


def _embedded(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    """Return a question on the page, in a wiki, or embedded."""
    lookup = dice.choice([one for one in lookups.values() if not one.post])
    pairs = _pairs(dice, lookup)
    if dice.random() < 0.6:
        parts = [f"lookup={lookup.key}", *(f"{quote(name)}={_quoted(one)}" for name, one in pairs.items())]
        return Asked(f"{lookup.key} page", "/?" + "&".join(parts), "GET", {"Accept": BROWSER})
    inner = _address(dice, lookup.key, pairs, dice.choice(("", ".svg", ".html", ".json")))
    place = dice.choice(("/wiki?url=", "/oembed?url=", "/oembed?format=json&url="))
    further = dice.choice(("", "", "&maxwidth=300", "&maxheight=x", "&maxwidth=1e999"))
    return Asked(f"{place[1:7]}", place + quote(inner, safe="") + further)


def _quoted(one: str) -> str:
    return quote(one.encode("utf-8", "surrogatepass"), safe="")


def _posted(dice: random.Random, lookups: Mapping[str, Any]) -> Asked:
    """Return a posted question: a body that is nearly right, a sheet, or nothing that is one."""
    kind, address, media, body = bodies.posted(dice, lookups, text)
    accept = dice.choice(ACCEPTS) if dice.random() < 0.3 else None
    headers = ({"Content-Type": media} if media else {}) | ({"Accept": accept} if accept else {})
    return Asked(kind, address, "POST", headers, body)
