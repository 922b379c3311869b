"""Electrode arrangements: one file per arrangement, discovered, never listed by hand."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from types import MappingProxyType

from service.methods import Arrangement
from service.reference import Reference


def discover(reference: Reference) -> Mapping[str, Arrangement]:
    """Return every arrangement by key, built from the reference data in use.

    Returns
    -------
    mapping
        Read-only, in alphabetical order of the file names.
    """
    found: dict[str, Arrangement] = {}
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda item: item.name):
        arrangement = importlib.import_module(f"{__name__}.{module.name}").arrangement(reference)
        found[arrangement.key] = arrangement
    return MappingProxyType(found)
