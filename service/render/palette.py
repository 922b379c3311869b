"""Colours of cards and pictures, light and dark: ink on paper, one accent, and six for curves.

The colours of curves stay apart for readers who do not see red, green or blue apart, and all of them can be read as
text on the paper. No colour means good or bad.
"""

from __future__ import annotations

from collections.abc import Mapping

LIGHT: dict[str, str] = {
    "paper": "#ffffff",
    "ink": "#1d2226",
    "soft": "#525a61",
    "rule": "#c9c6bd",
    "grid": "#e7e4dc",
    "accent": "#1f4e79",
    "curve-1": "#0f62d0",
    "curve-2": "#6a7311",
    "curve-3": "#78094e",
    "curve-4": "#97539f",
    "curve-5": "#4b2f06",
    "curve-6": "#491284",
}

DARK: dict[str, str] = {
    "paper": "#1d2125",
    "ink": "#e6e3dc",
    "soft": "#a9b0b6",
    "rule": "#4a5157",
    "grid": "#2d3338",
    "accent": "#8fbce6",
    "curve-1": "#5bf1fa",
    "curve-2": "#c68225",
    "curve-3": "#fee887",
    "curve-4": "#ae79e0",
    "curve-5": "#6e9c71",
    "curve-6": "#c4f4c5",
}

PAGE_LIGHT: dict[str, str] = {"ground": "#fbfaf7", "code": "#f1efe9", "fault": "#7a2e0e"}
PAGE_DARK: dict[str, str] = {"ground": "#16191c", "code": "#24292e", "fault": "#f0b48f"}
"""What a page needs beside the colours of a card: its ground, the ground of code, and what is wrong."""

CURVES = tuple(role for role in LIGHT if role.startswith("curve"))

TEXTS = ("ink", "soft", "accent", *CURVES)
"""Roles that letters are set in."""

BASE: Mapping[str, Mapping[str, str]] = {"light": LIGHT, "dark": DARK, "auto": LIGHT}
"""Theme to the colours that stand in the shapes themselves; ``auto`` overrides them by a style sheet."""
