"""Every lookup of the service, one file a question, discovered from this folder; none is listed by hand."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from service.answers.lookup import Lookup
from service.answers.registry import Registry


def discover(registry: Registry) -> Mapping[str, Lookup]:
    """Return every lookup by key, built on the registry.

    Returns
    -------
    mapping
        Read-only; a module offers a lookup by having a function ``lookup(registry)``.
    """
    return MappingProxyType({lookup.key: lookup for lookup in _found(registry)})


@cache
def posted(*, only: bool = False) -> tuple[str, ...]:
    """Return the keys of the lookups that are asked in a body: those whose module declares one as ``BODY``.

    Parameters
    ----------
    only : bool
        Leave out those that are asked in a query too, whose module says ``ALSO_ASKED``.
    """
    found = (one for one in _modules() if hasattr(one, "BODY") and not (only and hasattr(one, "ALSO_ASKED")))
    return tuple(module.__name__.rpartition(".")[2].replace("_", "-") for module in found)


def _found(registry: Registry) -> Iterator[Lookup]:
    for module in _modules():
        yield module.lookup(registry)


def _modules() -> Iterator[Any]:
    for found in sorted(pkgutil.iter_modules(__path__), key=lambda item: item.name):
        module = importlib.import_module(f"{__name__}.{found.name}")
        if hasattr(module, "lookup"):
            yield module
