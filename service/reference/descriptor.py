"""What ``datapackage.json`` must state, read into typed values, and printed numbers to SI by the units stated.

A column in a unit that questions use is converted by `service.units`. Printed tables also use compound units, as
``1/(cm Torr)``: their factor is composed of the same spellings. A unit that is not composed of them is defined in the
data package beside its name (``"unit": "Td", "unit_in": "1e-21 V m2"``). No conversion factor stands here.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from service.units import DIMENSIONS, NUMBER, PLAIN_NUMBER

Converter = Callable[[str], float]

NO_UNIT = ("", "-", "1")
"""Printed marks of a number without a unit."""

COMPOUND = re.compile(rf"(?:(?P<number>{NUMBER}) )?(?P<above>[^/]+)(?:/(?P<below>[^/]+))?", re.ASCII)
GROUP = re.compile(r"\((?P<inside>[^()]+)\)(?:\^(?P<power>[0-9.]+))?", re.ASCII)
FACTOR = re.compile(r"(?P<name>g_m3|[A-Za-z_%]+)(?:\^?(?P<power>[0-9.]+))?", re.ASCII)

_SCALES: dict[str, Decimal] = {
    name: unit.scale
    for kind in reversed(list(DIMENSIONS.values()))
    for name, unit in kind.spellings.items()
    if not unit.offset
}


def is_numeral(text: str) -> bool:
    """Return whether a cell is a decimal numeral; ``nan``, ``inf`` and ``1_000`` are not."""
    return PLAIN_NUMBER.fullmatch(text) is not None


@lru_cache(maxsize=1024)
def scale(unit: str) -> Decimal:
    """Return how many SI units are in one compound unit.

    Parameters
    ----------
    unit : str
        Spellings of `service.units.DIMENSIONS`, side by side, with powers; one solidus; ``1`` stands for no unit.

    Raises
    ------
    ValueError
        When a name in it is not a unit of the service.

    Examples
    --------
    >>> float(scale("kV/(cm bar)"))
    1.0
    >>> float(scale("1e-21 V m2"))
    1e-21
    """
    match = COMPOUND.fullmatch(unit)
    if match is None:
        raise ValueError(f"'{unit}' is not a unit")
    above, below = _product(match["above"]), _product(match["below"] or "1")
    return Decimal(match["number"] or 1) * above / below


def _product(text: str) -> Decimal:
    if text.strip() in NO_UNIT:
        return Decimal(1)
    group = GROUP.fullmatch(text)
    factors = (group["inside"] if group else text).split()
    product = Decimal(1)
    for factor in factors:
        match = FACTOR.fullmatch(factor)
        if match is None or match["name"] not in _SCALES:
            raise ValueError(f"'{factor}' is not a unit of the service")
        product *= _SCALES[match["name"]] ** Decimal(match["power"] or 1)
    return product ** Decimal((group["power"] if group else None) or 1)


def converter(unit: str, dimension: str, definition: str | None = None) -> Converter:
    """Return the function that turns a printed cell into SI.

    Parameters
    ----------
    unit : str
        As printed.
    dimension : str
        Key of `service.units.DIMENSIONS`; ``number`` leaves the cell as it is; ``compound`` composes the factor.
    definition : str, optional
        The compound unit in terms of the service's units, where ``unit`` is a name of its own.

    Raises
    ------
    ValueError
        When the dimension does not know the unit.
    """
    if dimension == "number":
        return float
    if dimension == "compound":
        factor = scale(definition or unit)
        return lambda text: float(Decimal(text) * factor)
    kind = DIMENSIONS.get(dimension)
    if kind is None or unit not in kind.spellings:
        raise ValueError(f"'{unit}' is not a unit of the dimension '{dimension}'")
    return kind.spellings[unit].to_si


@lru_cache(maxsize=1024)
def converter_of_row(unit: str) -> Converter:
    """Return the converter for a unit that stands in the row itself.

    Parameters
    ----------
    unit : str
        As printed in the row: a spelling of any dimension, or a compound unit.

    Raises
    ------
    ValueError
        When no dimension knows the unit and it cannot be composed, or two dimensions spell it alike (``C``).

    Examples
    --------
    >>> converter_of_row("degC")("20")
    293.15
    >>> converter_of_row("kV/mm")("0.534")
    534000.0
    """
    if unit in NO_UNIT:
        return float
    known = {kind.spellings[unit]: name for name, kind in DIMENSIONS.items() if unit in kind.spellings}
    if len(known) > 1:
        raise ValueError(f"'{unit}' is a unit of {' and of '.join(known.values())}; write another spelling")
    return converter(unit, next(iter(known.values()), "compound"))


NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*", re.ASCII)
VERSION = re.compile(r"[0-9]+\.[0-9]+\.[0-9]+", re.ASCII)
CREATED = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{8}Z", re.ASCII)
WHEN = re.compile(r"[0-9]{4}-[0-9]{2}", re.ASCII)
FILE = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*\.csv", re.ASCII)
HASH = re.compile(r"sha256:([0-9a-f]{64})", re.ASCII)


NUMERIC = ("number", "integer")
TYPES = (*NUMERIC, "string")

PROVENANCE_WORDS = ("reproduction+memory", "reproduction", "computed", "derived", "memory")
"""How a number came here, the best supported first; a column ``note`` holds what else is to be said."""


def weakest(words: Iterable[str]) -> str:
    """Return the least supported of several provenance words, which is what a number made of several rows has.

    Examples
    --------
    >>> weakest(["reproduction", "memory", "computed"])
    'memory'
    """
    return max(words, key=PROVENANCE_WORDS.index)


@dataclass(frozen=True)
class Field:
    """One column of a table.

    Parameters
    ----------
    name : str
        Header in the CSV file, with the printed unit.
    title : str
        In words.
    type : str
        ``number``, ``integer`` or ``string``.
    quantity : str
        Name by which programs ask for the column.
    unit : str or None
        Printed unit of a numeric column.
    dimension : str or None
        Key of `service.units.DIMENSIONS`, or ``number``, ``compound``, ``by-row``; of a numeric column.
    description : str or None
        What else is to be known, for instance that the column is derived from a printed cell.
    unit_in : str or None
        Definition of a compound unit that has a name of its own.
    unit_field : str or None
        Header of the column that holds the unit of each row.
    constraints : mapping
        Table Schema constraints: ``required``, ``minimum``, ``maximum``, ``enum``, ``pattern``.
    missing : tuple of str
        Printed marks that mean an empty cell.
    """

    name: str
    title: str
    type: str
    quantity: str
    unit: str | None
    dimension: str | None
    description: str | None
    unit_in: str | None
    unit_field: str | None
    constraints: Mapping[str, object]
    missing: tuple[str, ...]

    @property
    def numeric(self) -> bool:
        """Whether the column is served as numbers."""
        return self.type in NUMERIC

    @property
    def required(self) -> bool:
        """Whether an empty cell is a fault."""
        return bool(self.constraints.get("required", False))

    def converter(self) -> Converter | None:
        """Return the function from cell to SI, or ``None`` where the unit stands in each row."""
        if self.dimension == "by-row":
            return None
        return converter(self.unit or "", self.dimension or "number", self.unit_in)

    def faults(self, cells: Sequence[str]) -> Iterator[tuple[int, str]]:
        """Yield the place and fault of each cell of the column that does not fit.

        Parameters
        ----------
        cells : sequence of str
            As they stand in the file.
        """
        filled = [(place, cell) for place, cell in enumerate(cells) if cell not in self.missing]
        yield from ((place, UNPRINTABLE) for place, cell in filled if not cell.isprintable())
        if self.required and len(filled) < len(cells):
            yield next(place for place, cell in enumerate(cells) if cell in self.missing), "is empty, but required"
        if self.quantity == "provenance":
            yield from ((place, _unknown_word(cell)) for place, cell in filled if cell not in PROVENANCE_WORDS)
        if self.type == "integer":
            yield from ((place, f"is '{cell}', not a whole number") for place, cell in filled if not is_whole(cell))
        if self.numeric:
            wrong = [(place, f"is '{cell}', not a number") for place, cell in filled if not is_numeral(cell)]
            yield from wrong
            if wrong:
                return
        yield from self._broken(filled)

    def _broken(self, filled: Sequence[tuple[int, str]]) -> Iterator[tuple[int, str]]:
        for name, limit in self.constraints.items():
            holds = _CHECKS[name](limit)
            for place, cell in filled:
                if not holds(cell):
                    yield place, f"is '{cell}', against its constraint {name} {limit}"

    def fault_of_unit(self, unit: str) -> str | None:
        """Return what is wrong with the unit that a row states, or ``None``.

        Parameters
        ----------
        unit : str
            Cell of the unit column.
        """
        try:
            converter_of_row(unit)
        except ValueError as fault:
            return str(fault)
        return None


UNPRINTABLE = "holds a character that is not printed: a control, a line break, or one that hides or turns the text"


def is_whole(text: str) -> bool:
    """Return whether a cell is a decimal numeral without a point."""
    return re.fullmatch(r"[+-]?[0-9]+", text, re.ASCII) is not None


def _unknown_word(cell: str) -> str:
    return f"is '{cell}', which is no provenance word; the words are {', '.join(PROVENANCE_WORDS)}; a remark is a note"


_CHECKS: Mapping[str, Callable[[Any], Callable[[str], bool]]] = {
    "required": lambda _limit: lambda _cell: True,
    "minimum": lambda limit: lambda cell: float(cell) >= limit,
    "maximum": lambda limit: lambda cell: float(cell) <= limit,
    "enum": lambda limit: {str(choice) for choice in limit}.__contains__,
    "pattern": lambda limit: lambda cell: re.fullmatch(limit, cell) is not None,
}
"""Table Schema constraints that are checked; another one is refused, so that none is ignored in silence."""


def read_field(descriptor: Mapping[str, Any], missing: tuple[str, ...]) -> Field:
    """Return the field that a Table Schema descriptor states.

    Parameters
    ----------
    descriptor : mapping
        Table Schema field with the further properties ``quantity``, ``unit``, ``dimension``.
    missing : tuple of str
        The schema's ``missingValues``.

    Raises
    ------
    ValueError
        When a property is missing, or the unit is not known.
    """
    absent = [name for name in ("name", "title", "type", "quantity") if not isinstance(descriptor.get(name), str)]
    if absent:
        raise ValueError(f"field {descriptor.get('name', '?')} states no {' and no '.join(absent)}")
    optional = {name: descriptor.get(name) for name in ("unit", "dimension", "description", "unit_in", "unit_field")}
    no_text = [name for name, value in optional.items() if not (value is None or isinstance(value, str))]
    if no_text:
        raise ValueError(f"field {descriptor['name']}: its {no_text[0]} is no text")
    field = Field(
        name=descriptor["name"],
        title=descriptor["title"],
        type=descriptor["type"],
        quantity=descriptor["quantity"],
        constraints=_constraints(descriptor["name"], descriptor.get("constraints", {})),
        missing=missing,
        **optional,
    )
    _check(field)
    return field


def _constraints(field: str, stated: Any) -> Mapping[str, Any]:
    if not isinstance(stated, dict):
        raise ValueError(f"field {field}: its constraints are no object")
    for name, limit in stated.items():
        if name not in _CHECKS:
            raise ValueError(f"field {field} has the constraint '{name}', which is not checked")
        if not _LIMITS[name](limit):
            raise ValueError(f"field {field}: its constraint {name} cannot be {limit!r}")
    return stated


def _is_limit(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_pattern(value: Any) -> bool:
    try:
        return isinstance(value, str) and re.compile(value) is not None
    except re.error:
        return False


_LIMITS: Mapping[str, Callable[[Any], bool]] = {
    "required": lambda limit: isinstance(limit, bool),
    "minimum": _is_limit,
    "maximum": _is_limit,
    "enum": lambda limit: isinstance(limit, list) and all(isinstance(one, str | int | float) for one in limit),
    "pattern": _is_pattern,
}
"""What each constraint may be."""


def _check(field: Field) -> None:
    if field.type not in TYPES:
        raise ValueError(f"field {field.name} is of type '{field.type}'; the types are {', '.join(TYPES)}")
    if not field.numeric:
        return
    if field.dimension is None:
        raise ValueError(f"field {field.name} is numeric and states no dimension")
    if field.dimension == "by-row" and not field.unit_field:
        raise ValueError(f"field {field.name} takes its unit from each row and names no unit_field")
    field.converter()


@dataclass(frozen=True)
class Source:
    """Where numbers come from: what was printed, or who fitted them.

    Parameters
    ----------
    key : str
        Short name, the same wherever the source is cited.
    citation, edition, table : str
        The full citation, the edition, and the number of the table in it; empty where it has none.
    """

    key: str
    citation: str
    edition: str = ""
    table: str = ""

    def block(self) -> dict[str, str]:
        """Return the source as answers show it; empty parts are absent."""
        return {name: text for name, text in vars(self).items() if text}


@dataclass(frozen=True)
class Description:
    """What a table says of itself, each a sentence or ``None``.

    Parameters
    ----------
    unit : str or None
        Unit of the tabulated values in words.
    conditions : str or None
        Reference atmosphere and arrangement.
    accuracy : str or None
        As the source states it, or that it states none.
    validity : str or None
        Where it may be used.
    doubts : str or None
        Rows and columns that are in doubt, and other tables that disagree.
    rules : str or None
        Rounding and interpolation, as the source prescribes.
    """

    unit: str | None
    conditions: str | None
    accuracy: str | None
    validity: str | None
    doubts: str | None
    rules: str | None

    def block(self) -> dict[str, str]:
        """Return what is said, by name."""
        return {name: text for name, text in vars(self).items() if text}


@dataclass(frozen=True)
class Rules:
    """What must hold between the cells of a table, by quantities; a table laid over another keeps its rules too.

    Parameters
    ----------
    rises : tuple of str
        Columns that must rise strictly, so that one may interpolate.
    within : tuple of str
        Columns that split the table into the groups inside which they rise.
    pairs : tuple of (str, str)
        Columns of which the first is nowhere above the second: ends of a range.
    unique : tuple of tuple of str
        Columns that together name a row.
    refers : tuple of (str, str, str)
        Column, table and column there: each filled cell must stand there.
    """

    rises: tuple[str, ...] = ()
    within: tuple[str, ...] = ()
    pairs: tuple[tuple[str, str], ...] = ()
    unique: tuple[tuple[str, ...], ...] = ()
    refers: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class Statement:
    """The package part of a descriptor.

    Parameters
    ----------
    name : str
        Source key, the name of the folder.
    title, version, created : str
        As stated.
    licenses, sources : tuple of mapping
        As stated.
    resources : sequence of mapping
        Not yet read.
    """

    name: str
    title: str
    version: str
    created: str
    licenses: tuple[Mapping[str, str], ...]
    sources: tuple[Mapping[str, str], ...]
    resources: Sequence[Mapping[str, object]]


@dataclass(frozen=True, eq=False)
class Resource:
    """The part of a descriptor that states one table.

    Parameters
    ----------
    key, title, path, sha256 : str
        Name of the table, its title, its file in the folder and the hash of that file.
    source : Source
        Where it was printed.
    description : Description
        Conditions, accuracy, validity, doubts, rules.
    checked_against : tuple of mapping
        ``what`` and ``when``.
    fields : tuple of Field
        The columns.
    primary_key : str or None
        Header of the column that names a row.
    rules : Rules
        What must hold between its cells.
    stated : mapping
        The descriptor itself.
    """

    key: str
    title: str
    path: str
    sha256: str
    source: Source
    description: Description
    checked_against: tuple[Mapping[str, str], ...]
    fields: tuple[Field, ...]
    primary_key: str | None
    rules: Rules
    stated: Mapping[str, Any]

    @property
    def canonical(self) -> bytes:
        """The descriptor in a fixed spelling, for the fingerprint."""
        return json.dumps(dict(self.stated), sort_keys=True).encode()


def read_statement(stated: Mapping[str, object], folder: str) -> Statement:
    """Return the package part of a descriptor.

    Parameters
    ----------
    stated : mapping
        The whole descriptor.
    folder : str
        Name of the folder, which the package must have too.

    Raises
    ------
    ValueError
        When something is missing or malformed.
    """
    name = _text(stated, "name", NAME)
    if name != folder:
        raise ValueError(f"the package is named '{name}', but its folder '{folder}'")
    return Statement(
        name=name,
        title=_text(stated, "title"),
        version=_text(stated, "version", VERSION),
        created=_text(stated, "created", CREATED),
        licenses=_objects(stated, "licenses", ("name", "title")),
        sources=_objects(stated, "sources", ("title",)),
        resources=_objects(stated, "resources", ("name",)),
    )


def read_resource(stated: Mapping[str, object]) -> Resource:
    """Return the statement of one table.

    Parameters
    ----------
    stated : mapping
        Element of ``resources``.

    Raises
    ------
    ValueError
        When something is missing or malformed; the resource is named.
    """
    try:
        return _resource(stated)
    except ValueError as fault:
        raise ValueError(f"resource '{stated['name']}': {fault}") from fault


def _resource(stated: Mapping[str, object]) -> Resource:
    schema = _object(stated, "schema")
    columns = _fields(schema)
    primary_key = schema.get("primaryKey")
    if primary_key is not None and primary_key not in [each.name for each in columns]:
        raise ValueError(f"the primaryKey '{primary_key}' is not the name of a field")
    return Resource(
        key=_text(stated, "name", NAME),
        title=_text(stated, "title"),
        path=_text(stated, "path", FILE),
        sha256=_hash(stated),
        source=_source(stated),
        description=_description(stated),
        checked_against=_checked_against(stated),
        fields=columns,
        primary_key=primary_key,
        rules=_rules(stated, schema, columns),
        stated=stated,
    )


def _fields(schema: Mapping[str, Any]) -> tuple[Field, ...]:
    missing = _texts(schema, "missingValues", ("",))
    columns = tuple(read_field(each, missing) for each in _objects(schema, "fields", ("name",)))
    for attribute in ("name", "quantity"):
        seen = [getattr(each, attribute) for each in columns]
        if len(set(seen)) < len(seen):
            twice = next(each for each in seen if seen.count(each) > 1)
            raise ValueError(f"two fields have the {attribute} '{twice}'")
    if not any(each.quantity == "provenance" and each.required for each in columns):
        raise ValueError("no required field has the quantity 'provenance'")
    strangers = [
        each for each in columns if each.unit_field and each.unit_field not in [other.name for other in columns]
    ]
    if strangers:
        raise ValueError(f"the unit_field '{strangers[0].unit_field}' is not the name of a field")
    return columns


def _rules(stated: Mapping[str, Any], schema: Mapping[str, Any], columns: Sequence[Field]) -> Rules:
    """Return the rules of a table, its headers replaced by quantities.

    ``rises``, ``within``, ``pairs``, ``unique`` and ``refers`` are further properties of the resource; ``foreignKeys``
    is that of Table Schema, for tables of the same package.
    """
    rises = _quantities("rises", _texts(stated, "rises"), columns)
    pairs = tuple(_pair(pair, columns) for pair in _list(stated, "pairs"))
    texts = {column.quantity: column.name for column in columns if not column.numeric}
    wrong = [texts[one] for one in (*rises, *(end for pair in pairs for end in pair)) if one in texts]
    if wrong:
        raise ValueError(f"'{wrong[0]}' is a column of text, but has to rise or to end a range")
    return Rules(
        rises=rises,
        within=_quantities("within", _texts(stated, "within"), columns),
        pairs=pairs,
        unique=tuple(_quantities("unique", names, columns) for names in _list(stated, "unique")),
        refers=tuple(_reference(one, columns) for one in (*_list(schema, "foreignKeys"), *_list(stated, "refers"))),
    )


def _list(stated: Mapping[str, Any], name: str) -> list[Any]:
    """Return a list that may be absent."""
    value = stated.get(name, [])
    if not isinstance(value, list):
        raise ValueError(f"'{name}' is no list")
    return value


def _texts(stated: Mapping[str, Any], name: str, absent: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Return a list of texts, or what stands for an absent one."""
    if name not in stated:
        return absent
    values = _list(stated, name)
    if not all(isinstance(one, str) for one in values):
        raise ValueError(f"'{name}' is no list of texts")
    return tuple(values)


def _quantities(property_name: str, headers: Any, columns: Sequence[Field]) -> tuple[str, ...]:
    by_header = {column.name: column.quantity for column in columns}
    if not isinstance(headers, list | tuple) or not all(isinstance(each, str) for each in headers):
        raise ValueError(f"'{property_name}' does not list fields")
    strangers = [each for each in headers if each not in by_header]
    if strangers:
        raise ValueError(f"'{property_name}' names '{strangers[0]}', which is not the name of a field")
    return tuple(by_header[each] for each in headers)


def _pair(headers: Any, columns: Sequence[Field]) -> tuple[str, str]:
    if not isinstance(headers, list) or len(headers) != 2:
        raise ValueError("'pairs' does not list pairs of fields")
    low, high = _quantities("pairs", headers, columns)
    return low, high


def _reference(stated: Any, columns: Sequence[Field]) -> tuple[str, str, str]:
    """Return column, table and column there of a foreign key of one field."""
    try:
        (header,), target = stated["fields"], stated["reference"]
        (there,) = target["fields"]
        table = str(target["resource"])
    except (TypeError, KeyError, ValueError) as fault:
        raise ValueError("a foreign key does not state one field and a reference with resource and field") from fault
    (quantity,) = _quantities("foreignKeys", [header], columns)
    return quantity, table, str(there)


def _source(stated: Mapping[str, Any]) -> Source:
    source = _object(stated, "source")
    texts = {each.name: source.get(each.name) for each in fields(Source)}
    absent = [name for name, text in texts.items() if not isinstance(text, str)]
    if absent or not texts["key"] or not texts["citation"]:
        raise ValueError(f"its source states no {' and no '.join(absent or ['key or citation'])}")
    return Source(**{name: str(text) for name, text in texts.items()})


def _description(stated: Mapping[str, Any]) -> Description:
    texts = {each.name: stated.get(each.name) for each in fields(Description)}
    wrong = [name for name, text in texts.items() if text is not None and not isinstance(text, str)]
    if wrong:
        raise ValueError(f"'{wrong[0]}' is not a text")
    return Description(**texts)


def _checked_against(stated: Mapping[str, Any]) -> tuple[Mapping[str, str], ...]:
    checks = _objects(stated, "checked_against", ("what", "when"))
    for check in checks:
        _text(check, "when", WHEN)
    return checks


def _hash(stated: Mapping[str, Any]) -> str:
    match = HASH.fullmatch(_text(stated, "hash"))
    if match is None:
        raise ValueError("its hash is not 'sha256:' and 64 hexadecimal digits")
    return match[1]


def _text(stated: Mapping[str, Any], name: str, pattern: re.Pattern[str] | None = None) -> str:
    text = stated.get(name)
    if not isinstance(text, str) or not text:
        raise ValueError(f"states no {name}")
    if pattern is not None and pattern.fullmatch(text) is None:
        raise ValueError(f"the {name} '{text}' is malformed")
    return text


def _object(stated: Mapping[str, object], name: str) -> Mapping[str, object]:
    value = stated.get(name)
    if not isinstance(value, dict):
        raise ValueError(f"states no {name}")
    return value


def _objects(stated: Mapping[str, object], name: str, texts: Sequence[str]) -> tuple[Mapping[str, Any], ...]:
    values = stated.get(name)
    if not isinstance(values, list) or not values or not all(isinstance(each, dict) for each in values):
        raise ValueError(f"states no {name}")
    for each in values:
        for text in texts:
            _text(each, text)
    return tuple(MappingProxyType(each) for each in values)
