"""What is built from the reference data is built once."""

from __future__ import annotations

from functools import lru_cache

once = lru_cache(maxsize=64)
"""Keeps what a function returns for the same reference and further arguments."""
