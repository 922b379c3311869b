"""Asking the service as its users do, from any test: a registry, its lookups, and their answers."""

from __future__ import annotations

from functools import cached_property
from urllib.parse import parse_qsl

from service import lookups
from service.answers.registry import Registry


class Asking:
    """A registry on the shipped data, with an overlay where one is given; a lookup is told by its key or its module."""

    def __init__(self, overlay=None):
        self.overlay = overlay
        self.keys = {}

    @cached_property
    def registry(self):
        return Registry.build(self.overlay)

    @cached_property
    def found(self):
        """Every lookup by key."""
        return lookups.discover(self.registry)

    def question(self, lookup, query="", **given):
        """Return a question as understood; what is given as ``None`` is not said."""
        if not isinstance(lookup, str):
            module = lookup.__name__
            lookup = self.keys[module] = self.keys.get(module) or lookup.lookup(self.registry).key
        named = [(name, str(value)) for name, value in given.items() if value is not None]
        pairs = [*parse_qsl(query, keep_blank_values=True), *named]
        return self.found[lookup].read(pairs)

    def answer(self, lookup, query="", **given):
        """Return the answer to a question."""
        asked = self.question(lookup, query, **given)
        return self.found[asked.lookup].answer(asked)

    def ask(self, lookup, query="", **given):
        """Return the document of the answer to a question."""
        return self.answer(lookup, query, **given).document(self.registry)


SHIPPED = Asking()
"""What most tests ask; what it keeps from question to question is kept for all of them."""
