"""Entries of the reference: a lookup as the specification describes it, with its example really answered."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson

from service.answers.lookup import Lookup
from service.parameters import read_question
from service.web.lookup_routes import answered
from service.web.workshop import workshop

SHOWN = 2400
"""Most characters of an example's answer that are printed."""


def entry(lookup: Lookup, spec: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the reference says of a lookup.

    Parameters
    ----------
    lookup : Lookup
    spec : mapping
        The OpenAPI description.
    """
    path = f"/v1/{lookup.key}"
    method = "post" if lookup.post else "get"
    operation = spec["paths"].get(path, {}).get(method, {})
    return {
        "key": lookup.key,
        "path": path,
        "method": method.upper(),
        "summary": operation.get("summary", lookup.title),
        "description": operation.get("description", lookup.summary),
        "parameters": operation.get("parameters", []),
        "results": lookup.results,
        "example": None if lookup.post else example(lookup),
    }


def example(lookup: Lookup) -> dict[str, str]:
    """Return the example of a lookup with its answer, shortened in the middle of nothing: whole lines only."""
    pairs = [pair.split("=", 1) for pair in lookup.example.split("&") if pair]
    question = read_question(lookup.key, lookup.parameters, [(name, text) for name, text in pairs])
    document = answered(lookup, question).document(workshop().registry)
    text = orjson.dumps(document, option=orjson.OPT_INDENT_2 | orjson.OPT_SERIALIZE_NUMPY).decode()
    if len(text) > SHOWN:
        text = text[: text.rindex("\n", 0, SHOWN)] + "\n  …"
    query = f"?{lookup.example}" if lookup.example else ""
    return {"address": f"/v1/{lookup.key}{query}", "answer": text}
