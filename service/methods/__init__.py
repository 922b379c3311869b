"""How a voltage is found, and where each way of finding it holds: methods, their limits, the case they are asked."""

from __future__ import annotations

from service.methods.method import (
    Arrangement,
    Case,
    Estimate,
    FloatArray,
    Limit,
    Method,
    Validity,
    banded,
)

__all__ = ["Arrangement", "Case", "Estimate", "FloatArray", "Limit", "Method", "Validity", "banded"]
