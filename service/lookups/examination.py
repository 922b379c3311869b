"""Whether answers can be had from the reference data in use: what only a question would show is found at load."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from urllib.parse import parse_qsl

from service import lookups
from service.answers.lookup import Lookup
from service.answers.registry import Registry
from service.errors import BadQuestion, BadReferenceData, OutsideValidity, ServiceError, UnknownName
from service.parameters import Parameter
from service.reference import Reference, load, shipped_folder
from service.units import ROUNDING


def examined(overlay: Path | None = None) -> tuple[Registry, Mapping[str, Lookup]]:
    """Return the registry and the lookups on it, after every lookup was asked what it is asked for here.

    Parameters
    ----------
    overlay : Path, optional
        Folder of packages laid over the shipped ones.

    Raises
    ------
    BadReferenceData
        When the data do not load, or an answer cannot be had from them, whatever goes wrong.
    """
    registry = registered(overlay)
    found = offered(registry, overlay)
    examine(registry, found, overlay)
    return registry, found


def registered(overlay: Path | None = None) -> Registry:
    """Return the registry on the data in use.

    Raises
    ------
    BadReferenceData
        When the data do not load, or the arrangements cannot be made from them.
    """
    reference = _read(overlay)
    try:
        return Registry.of(reference)
    except BadReferenceData:
        raise
    except Exception as error:
        raise _fault(reference, overlay, f"the arrangements cannot be made: {_words(error)}") from error


def offered(registry: Registry, overlay: Path | None = None) -> Mapping[str, Lookup]:
    """Return every lookup by key.

    Raises
    ------
    BadReferenceData
        When one cannot be made from the data.
    """
    try:
        return lookups.discover(registry)
    except BadReferenceData:
        raise
    except Exception as error:
        raise _fault(registry.reference, overlay, f"the lookups cannot be made: {_words(error)}") from error


def _read(overlay: Path | None) -> Reference:
    try:
        return load(overlay)
    except BadReferenceData:
        raise
    except Exception as error:
        folder = (overlay or shipped_folder()).name
        raise BadReferenceData(folder, None, f"cannot be read: {_words(error)}") from error


def examine(registry: Registry, found: Mapping[str, Lookup], overlay: Path | None = None) -> None:
    """Ask every lookup its own example, and the same with every other choice of each of its parameters.

    An example must be answered; another choice may be refused as a question is, but not for want of data.

    Raises
    ------
    BadReferenceData
        With the question that has no answer and the packages that were laid over.
    """
    varied: set[Parameter] = set()
    for key, lookup in found.items():
        if lookup.post:
            continue
        for query in (lookup.example, *_varied(registry, lookup, varied)):
            fault = _fault_of(registry, lookup, query)
            if fault is not None:
                raise _fault(registry.reference, overlay, f"/v1/{key}?{query} has no answer: {fault}")


def _fault_of(registry: Registry, lookup: Lookup, query: str) -> str | None:
    """Return why a question cannot be answered from the data, if it cannot."""
    try:
        wrong = _wrong(lookup.answer(lookup.read(parse_qsl(query, keep_blank_values=True))).document(registry))
    except (BadQuestion, OutsideValidity) as error:
        asked_rightly = query == lookup.example or isinstance(error, UnknownName)
        return error.detail if asked_rightly else None
    except Exception as error:  # noqa: BLE001  # whatever goes wrong is a fault of the data that were laid over
        return _words(error)
    return wrong or None


def _varied(registry: Registry, lookup: Lookup, varied: set[Parameter]) -> Iterator[str]:
    """Yield the example of a lookup with another choice of one parameter each, an arrangement with its sizes.

    A parameter that several lookups share is varied in the first of them: the others ask the same methods and tables.
    """
    given = dict(part.split("=", 1) for part in lookup.example.split("&") if part)
    for parameter in lookup.parameters:
        if parameter in varied:
            continue
        varied.add(parameter)
        for choice in parameter.choices:
            query = given | {parameter.name: choice}
            if parameter.name == "electrodes":
                sizes = {one.name: one.example for one in registry.arrangement(choice).parameters if one.example}
                query |= {name: text for name, text in sizes.items() if text is not None}
                query = query if "outer_diameter" not in sizes else {n: t for n, t in query.items() if n != "gap"}
            yield "&".join(f"{name}={text}" for name, text in query.items())


def _wrong(value: object, name: str = "") -> str:
    """Return which field holds no finite number where one stands, or ends out of order; empty where none does."""
    if isinstance(value, float):
        return "" if math.isfinite(value) else f"{name} is no number"
    parts: Iterator[tuple[str, object]] = iter(())
    if isinstance(value, Mapping):
        parts = iter(value.items())
        ends = [value[end] for end in ("low", "value", "high") if isinstance(value.get(end), int | float)]
        if any(first > second * (1 + ROUNDING) for first, second in pairwise(ends) if second > 0):
            return f"{name} has its ends out of order"
    elif isinstance(value, list | tuple):
        parts = ((name, one) for one in value)
    return next((wrong for key, one in parts if (wrong := _wrong(one, key))), "")


def _fault(reference: Reference, overlay: Path | None, what: str) -> BadReferenceData:
    """Return the fault of data that were read but give no answer; the packages laid over are named."""
    names = sorted(path.name for path in overlay.iterdir() if path.is_dir()) if overlay else [shipped_folder().name]
    files = ", ".join(f"{name}/datapackage.json" for name in names if name in reference.packages) or names[0]
    return BadReferenceData(files, None, what)


def _words(error: Exception) -> str:
    """Return an error in words, without where in the code it arose."""
    if isinstance(error, ServiceError):
        return error.detail
    return f"{type(error).__name__} {error}".strip()
