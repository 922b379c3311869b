"""Words for keys and units: what a field is called when a person reads it."""

from __future__ import annotations

import re
from collections.abc import Mapping

from service.spoken import printed

SPELLED: Mapping[str, str] = {
    "ac": "AC",
    "also": "other methods",
    "cti": "CTI",
    "dc": "DC",
    "pd": "pressure times distance",
    "pd_from": "pressure times distance from",
    "pd_to": "pressure times distance to",
    "jumps_at": "even flat plates jump up to",
    "inside_band_percent": "inside the stated band",
    "row": "read at",
    "surface_flashover": "flashover figures for the voltage asked",
    "p95_percent": "95th percentile (%)",
    "uncertainty_percent": "uncertainty (± %)",
    "within_3_percent": "within 3 %",
    "within_5_percent": "within 5 %",
}
"""Fields whose name in words is not their key with spaces."""

SINGULAR: Mapping[str, str] = {"gaps": "gap", "pressures": "pressure", "distances": "distance"}
"""Lists whose elements are themselves quantities, and what one is called."""

TRUTH: Mapping[bool | None, str] = {True: "yes", False: "no", None: "–"}

WORDED = ("electrodes", "verdict", "state", "output_current_is", "governed_by", "place")
"""Fields whose value is a key that reads as words, with a space for each hyphen."""

MEASURES: Mapping[str, str] = {"unknown": ", measure unknown"}
"""Measures of a voltage that do not simply follow its unit."""

PROVENANCE: Mapping[str, str] = {
    "reproduction": "read in a public reproduction",
    "reproduction+memory": "read in a public reproduction, and equal to memory",
    "memory": "from memory, not compared with the printed source",
    "computed": "computed",
    "derived": "derived",
    "mixed": "rows of several provenances",
}
"""How numbers came here, as it is said."""

ABSENT = "–"
"""Cell of a table where a field does not apply."""


def unit(name: str) -> str:
    """Return a unit as it is printed.

    Parameters
    ----------
    name : str
        As answers spell it.
    """
    return printed(name)


def measured_unit(name: str, measure: str | None) -> str:
    """Return a unit with the measure of a voltage: ``kV peak``."""
    return unit(name) + MEASURES.get(measure, f" {measure}") if measure else unit(name)


def plain(key: str) -> str:
    """Return a key in words, in lower case.

    Examples
    --------
    >>> plain("breakdown_voltage"), plain("ratio_error_percent"), plain("uniform-field")
    ('breakdown voltage', 'ratio error (%)', 'uniform-field')
    """
    if key in SPELLED:
        return SPELLED[key]
    words = re.sub(r"_percent$", " (%)", key).replace("_", " ").strip()
    return " ".join(SPELLED.get(word, word) for word in words.split(" "))


def label(key: str) -> str:
    """Return a key in words, with a capital.

    Examples
    --------
    >>> label("breakdown_voltage")
    'Breakdown voltage'
    """
    return capital(plain(key))


def capital(text: str) -> str:
    """Return a text with its first letter as a capital."""
    return text[:1].upper() + text[1:]
