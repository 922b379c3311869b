"""How a question arrives: pairs from path and query, the suffix, and the canonical form that tags are made of."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote

from werkzeug.routing import BaseConverter, Map

from service import spoken, units
from service.answers.lookup import FORMATS, Lookup
from service.errors import BadQuestion, NotFound, quoted
from service.lookups import posted
from service.parameters import Parameter, Question, Value
from service.render.page import THEMES, VIEWS

PICTURES = ("html", "svg", "png")
"""Formats that take a theme."""

PLACE = re.compile(r"[0-9]{1,6}", re.ASCII)
"""The place of an entry in a list, in a dotted name."""
THEME = Parameter("theme", "choice", "Colours of a card or picture.", choices=THEMES, default="auto")
VIEW = Parameter(
    "view",
    "choice",
    "How much a card or picture shows: brief is what is read first and why, plot the drawing alone, full everything.",
    choices=VIEWS,
)
WIDTH = Parameter("width", "count", "Width of a picture, in its own units.", low=200, high=1600, example="480")
DIGITS = Parameter("digits", "count", "Significant digits of what only prints.", low=1, high=17, example="3")
ONLY = Parameter(
    "only", "text", "One result field as plain text; dotted names reach into it.", example="breakdown_voltage"
)


FORMAT = Parameter("format", "choice", "Format of the answer, in place of a suffix.", choices=FORMATS, example="svg")
OWN = {one.name: one for one in (THEME, VIEW, WIDTH, DIGITS, ONLY, FORMAT)}
"""What every lookup may be asked beside its own parameters."""
SHOWN = {"theme": PICTURES, "view": PICTURES, "width": ("svg", "png")}
"""Formats that each of them belongs to."""


class QuestionConverter(BaseConverter):
    """The rest of a path-form question: from the first semicolon or dot to the end, slashes included."""

    regex = r"(?s:[;.].*)"
    part_isolating = False


class NameConverter(BaseConverter):
    """The name of a lookup: up to the first semicolon, dot or slash; those asked in a body have routes of their own."""

    regex = rf"(?!(?:{'|'.join(('batch', *posted(only=True)))})(?:[;.]|$))[^/;.]+"


class PostedConverter(BaseConverter):
    """The name of a lookup that is asked in a body."""

    regex = "|".join(posted())


def prepare(url_map: Map) -> None:
    """Let a URL map route path-form questions."""
    url_map.converters["question"] = QuestionConverter
    url_map.converters["name"] = NameConverter
    url_map.converters["posted"] = PostedConverter
    url_map.merge_slashes = False


@dataclass(frozen=True)
class Asked:
    """What arrived.

    Parameters
    ----------
    pairs : list of (str, str)
        From path and query together, the service's own names taken out.
    suffix : str or None
        Format by suffix.
    only : str or None
        The one result field wanted.
    theme, view : str
        Of pictures and cards.
    width : int
        Of pictures; 0 for their own.
    digits : int
        Of what ``only`` prints; 0 for all.
    """

    pairs: list[tuple[str, str]]
    suffix: str | None
    only: str | None
    theme: str = "auto"
    view: str = ""
    width: int = 0
    digits: int = 0

    @property
    def manner(self) -> tuple[str, ...]:
        """What the body depends on beside question and format."""
        return (self.only or "", self.theme, self.view, str(self.width), str(self.digits))


def read_asked(rest: str, query: list[tuple[str, str]], lookup: Lookup) -> Asked:
    """Return what arrived, read from the rest of the path and the query.

    Parameters
    ----------
    rest : str
        Empty, or starting with a semicolon or a dot.
    query : list of (str, str)
        Decoded pairs of the query.
    lookup : Lookup
        Whose parameters may be asked.

    Raises
    ------
    NotFound
        For an unknown suffix.
    BadQuestion
        For a repeated or misplaced name of the service's own.
    """
    body, suffix = split_suffix(rest)
    pairs = [*_path_pairs(body), *query]
    own: dict[str, str] = {}
    for name, text in pairs:
        if name in OWN:
            if name in own:
                raise BadQuestion.about(name, f"{name} is given more than once.")
            own[name] = text
    if "format" in own:
        if suffix is not None:
            raise BadQuestion.about("format", "The format is given by the suffix already.", FORMATS)
        suffix = str(FORMAT.read(own["format"]))
    only = own.get("only")
    for name in ("theme", "view", "width"):
        if name in own and suffix is not None and suffix not in SHOWN[name]:
            raise BadQuestion.about(name, f"{name} belongs to pictures and cards, not to .{suffix}.", SHOWN[name])
    if "digits" in own and only is None:
        raise BadQuestion.about("digits", "digits belongs to only: it cuts what one field prints.", ("only",))
    _check_only(only, suffix, lookup)
    read = {name: parameter.read(own[name]) for name, parameter in OWN.items() if name in own and name != "only"}
    return Asked(
        [pair for pair in pairs if pair[0] not in OWN],
        suffix,
        only,
        str(read.get("theme", "auto")),
        str(read.get("view", "")),
        int(read.get("width", 0)),  # type: ignore[arg-type]  # declared as a count
        int(read.get("digits", 0)),  # type: ignore[arg-type]  # declared as a count
    )


def _check_only(only: str | None, suffix: str | None, lookup: Lookup) -> None:
    if only is None:
        return
    if not lookup.single_values:
        raise BadQuestion.about(
            "only", f"/v1/{lookup.key} is answered whole: its limits and distances belong together."
        )
    if suffix not in (None, "txt"):
        raise BadQuestion.about("only", "only is plain text; it goes without a suffix or with .txt.", (".txt",))


def split_suffix(rest: str) -> tuple[str, str | None]:
    """Return the path pairs and the suffix of the rest of a path.

    Parameters
    ----------
    rest : str
        For example ``;gap=5.5mm.svg``, ``.svg``, ``.svg;gap=8mm`` or empty.

    Raises
    ------
    NotFound
        For a suffix directly after the name that does not exist.

    Examples
    --------
    >>> split_suffix(";gap=5.5mm.svg"), split_suffix(";gap=5.5mm"), split_suffix(".txt")
    ((';gap=5.5mm', 'svg'), (';gap=5.5mm', None), ('', 'txt'))
    """
    if rest.startswith("."):
        suffix, semicolon, body = rest[1:].partition(";")
        if suffix not in FORMATS:
            known = ", ".join(f".{name}" for name in FORMATS)
            raise NotFound(f"There is no format '.{quoted(suffix)}'; there are {known}.")
        return semicolon + body, suffix
    body, dot, suffix = rest.rpartition(".")
    return (body, suffix) if dot and suffix in FORMATS else (rest, None)


def _path_pairs(body: str) -> list[tuple[str, str]]:
    if not body:
        return []
    pairs = []
    for part in body[1:].split(";"):
        name, equals, text = part.partition("=")
        if not equals:
            raise BadQuestion.about(name[:64], f"'{quoted(part)}' in the path is not name=value.")
        pairs.append((name, text))
    return pairs


def query_text(parameter: Parameter, value: Value) -> str:
    """Return a value as query text with up to 17 digits, which reads back to the same value."""
    if isinstance(value, tuple):
        return ",".join(query_text(parameter, one) for one in value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if parameter.dimension not in units.DIMENSIONS or isinstance(value, str):
        return str(value)
    kind = units.DIMENSIONS[parameter.dimension]
    return f"{units.written(value, parameter.dimension)}{kind.shown.replace('/', '_')}"


def canonical(question: Question) -> str:
    """Return the query of the given values, in the order of declaration: one text for all spellings."""
    given = [name for name in question.parameters if question.given(name)]
    pairs = ((name, _as_asked(question, name)) for name in given)
    return "&".join(f"{name}={quote(text, safe=',-._~')}" for name, text in pairs)


def _as_asked(question: Question, name: str) -> str:
    """Return a given value as query text, to the last place typed where that says how well it is known."""
    parameter, value = question.parameters[name], question.values[name]
    half = question.half_digit(name) if parameter.digits else 0.0
    if not half or parameter.dimension not in units.DIMENSIONS or not isinstance(value, float):
        return query_text(parameter, value)
    unit = units.DIMENSIONS[parameter.dimension].shown.replace("/", "_")
    text = f"{units.to_last_place(value, half, parameter.dimension)}{unit}"
    kept = math.isclose(units.half_digit(text, parameter.dimension), half) and parameter.read(text) == value
    return text if kept else question.typed[name].strip()  # an inch has no last place in millimetres


def canonical_path_form(question: Question) -> str:
    """Return the same in path form, as wikis want it; empty when nothing was given."""
    return path_form(canonical(question))


def path_form(query: str) -> str:
    """Return a canonical query in path form."""
    return f";{query.replace('&', ';')}" if query else ""


def reach(document: Mapping[str, object], only: str) -> object:
    """Return one result field of a document by its dotted name.

    Parameters
    ----------
    document : mapping
        Answer document.
    only : str
        For example ``breakdown_voltage.low`` or ``gaps``.

    Raises
    ------
    BadQuestion
        When there is no such field.
    """
    value: object = document
    for part in only.split("."):
        if isinstance(value, list) and PLACE.fullmatch(part) and int(part) < len(value):
            value = value[int(part)]
        elif isinstance(value, list) and any(isinstance(one, dict) and part in one for one in value):
            # an entry without the field keeps its line, so that two fields can be pasted side by side
            value = [one.get(part) if isinstance(one, dict) else None for one in value]
        elif isinstance(value, dict) and part in value:
            value = value[part]
        else:
            names = list(value) if isinstance(value, dict) else []
            raise BadQuestion.about("only", f"The answer has no field '{quoted(only)}'.", names)
    return value


def plain_text(value: object, digits: int = 0, name: str = "") -> str:
    r"""Return a field as plain text for shells: one line each for a list, ``low high`` for a bracket.

    Parameters
    ----------
    value
        Number, text, quantity, estimate, bracket, or a list of them.
    digits : int
        Significant digits; 0 for all.
    name : str
        Of the field: safe ends are rounded towards caution.

    Examples
    --------
    >>> plain_text({"value": 7.21, "unit": "kV"}), plain_text({"value": None, "low": 9.0, "high": 25.8, "unit": "kV"})
    ('7.21\n', '9.0 25.8\n')
    >>> plain_text({"value": None, "low": 8.6192, "high": 26.5646, "unit": "kV"}, 3)
    '8.61 26.6\n'
    >>> plain_text(14.8013, 3, "holds_above")
    '14.9\n'
    """
    if isinstance(value, list):
        return "".join(plain_text(one, digits, name) for one in value)
    if isinstance(value, dict) and "value" in value:
        if value["value"] is not None:
            return f"{cut_text(value['value'], digits, name)}\n"
        return " ".join(cut_text(value.get(end), digits, end) for end in ("low", "high")) + "\n"
    if isinstance(value, dict):
        return "".join(f"{key} {plain_text(one, digits, key)}" for key, one in value.items())
    if isinstance(value, bool):
        return "true\n" if value else "false\n"
    return f"{cut_text(value, digits, name)}\n"


def cut_text(value: object, digits: int, name: str) -> str:
    """Return a number with so many digits, a safe end rounded towards caution; anything else as it is."""
    if value is None:
        return "-"
    if not digits or not isinstance(value, float):
        return str(value)
    return spoken.plain(spoken.rounded(value, digits, spoken.CAUTIOUS.get(name, "")))
