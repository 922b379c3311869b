"""What ``datapackage.json`` must state, read into plain values."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Any

from service.reference.fields import Field, read_field
from service.reference.table import Description, Source

NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*", re.ASCII)
VERSION = re.compile(r"[0-9]+\.[0-9]+\.[0-9]+", re.ASCII)
CREATED = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{8}Z", re.ASCII)
WHEN = re.compile(r"[0-9]{4}-[0-9]{2}", re.ASCII)
FILE = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*\.csv", re.ASCII)
HASH = re.compile(r"sha256:([0-9a-f]{64})", re.ASCII)


@dataclass(frozen=True)
class Statement:
    """The package part of a descriptor.

    Parameters
    ----------
    name, title, version, created : str
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
    resources: Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class Resource:
    """The part of a descriptor that states one table.

    Parameters
    ----------
    name, title, path, sha256 : str
        Key of the table, its title, its file in the folder and the hash of that file.
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
    rises : tuple of str
        Headers of columns that must rise strictly, so that one may interpolate.
    within : tuple of str
        Headers of columns that split the table into the groups inside which they rise.
    stated : mapping
        The descriptor itself.
    """

    name: str
    title: str
    path: str
    sha256: str
    source: Source
    description: Description
    checked_against: tuple[Mapping[str, str], ...]
    fields: tuple[Field, ...]
    primary_key: str | None
    rises: tuple[str, ...]
    within: tuple[str, ...]
    stated: Mapping[str, Any]

    @property
    def canonical(self) -> bytes:
        """The descriptor in a fixed spelling, for the fingerprint."""
        return json.dumps(dict(self.stated), sort_keys=True).encode()


def read_statement(stated: Mapping[str, Any], folder: str) -> Statement:
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


def read_resource(stated: Mapping[str, Any]) -> Resource:
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


def _resource(stated: Mapping[str, Any]) -> Resource:
    schema = _object(stated, "schema")
    columns = _fields(schema)
    primary_key = schema.get("primaryKey")
    rises, within = (_headers(stated, name, columns) for name in ("rises", "within"))
    if primary_key is not None and primary_key not in [each.name for each in columns]:
        raise ValueError(f"the primaryKey '{primary_key}' is not the name of a field")
    return Resource(
        name=_text(stated, "name", NAME),
        title=_text(stated, "title"),
        path=_text(stated, "path", FILE),
        sha256=_hash(stated),
        source=_source(stated),
        description=_description(stated),
        checked_against=_checked_against(stated),
        fields=columns,
        primary_key=primary_key,
        rises=rises,
        within=within,
        stated=stated,
    )


def _fields(schema: Mapping[str, Any]) -> tuple[Field, ...]:
    missing = tuple(schema.get("missingValues", [""]))
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


def _headers(stated: Mapping[str, Any], name: str, columns: Sequence[Field]) -> tuple[str, ...]:
    headers = tuple(stated.get(name, ()))
    strangers = [each for each in headers if each not in [column.name for column in columns]]
    if strangers:
        raise ValueError(f"'{name}' names '{strangers[0]}', which is not the name of a field")
    return headers


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


def _object(stated: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    value = stated.get(name)
    if not isinstance(value, dict):
        raise ValueError(f"states no {name}")
    return value


def _objects(stated: Mapping[str, Any], name: str, texts: Sequence[str]) -> tuple[Mapping[str, Any], ...]:
    values = stated.get(name)
    if not isinstance(values, list) or not values or not all(isinstance(each, dict) for each in values):
        raise ValueError(f"states no {name}")
    for each in values:
        for text in texts:
            _text(each, text)
    return tuple(MappingProxyType(each) for each in values)
