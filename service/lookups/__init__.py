"""Every lookup of the service, one file a question, discovered from this folder; none is listed by hand."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from service.answers.lookup import Lookup
from service.answers.registry import Registry


def discover(registry: Registry) -> Mapping[str, Lookup]:
    """Return every lookup by key, built on the registry.

    Parameters
    ----------
    registry : Registry

    Returns
    -------
    mapping
        Read-only; a module offers a lookup by having a function ``lookup(registry)``.
    """
    return MappingProxyType({lookup.key: lookup for lookup in _found(registry)})


def _found(registry: Registry) -> Iterator[Lookup]:
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda item: item.name):
        make = getattr(importlib.import_module(f"{__name__}.{module.name}"), "lookup", None)
        if make is not None:
            yield make(registry)
