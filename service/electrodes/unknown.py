"""Electrodes of unknown shape: the bracket between what sharp points and what a uniform field would do."""

from __future__ import annotations

from service.methods import Arrangement
from service.methods.brackets import air_brackets, gas_brackets
from service.reference import Reference


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    return Arrangement(
        "unknown",
        "Unknown electrodes",
        "Anything: bare wire ends, solder joints, screw heads, plates; the answer is a bracket.",
        (*air_brackets(reference), *gas_brackets(reference)),
        advice="Left of the Paschen minimum, and below 10 um, ask electrodes=uniform-field.",
    )
