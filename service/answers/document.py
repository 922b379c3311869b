"""The last step of an answer: typed results in SI become the mappings that every format shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.units import Quantity, Series

PLAIN = frozenset({str, int, float, bool, type(None)})


def document(thing: Any) -> Any:
    """Return a result as answers show it: what has a ``block`` becomes that, all the way down.

    Examples
    --------
    >>> document({"gap": Quantity(8e-3, "length"), "branches": [Quantity(None, "pressure", low=2e3)]})
    {'gap': {'value': 8.0, 'unit': 'mm'}, 'branches': [{'value': None, 'low': 2.0, 'unit': 'kPa'}]}
    """
    kind = type(thing)
    if kind is Quantity or kind is Series:
        return thing.block()
    if kind is dict or isinstance(thing, Mapping):
        return {name: one if type(one) in PLAIN else document(one) for name, one in thing.items()}
    if kind is list or kind is tuple:
        return [one if type(one) in PLAIN else document(one) for one in thing]
    block = getattr(thing, "block", None)
    return thing if block is None else document(block())


class Shown:
    """A class of data that answers show as its fields, in order; an absent one, ``None``, is left out."""

    def block(self) -> dict[str, object]:
        """Return the fields that are there."""
        return {name: part for name, part in vars(self).items() if part is not None}
