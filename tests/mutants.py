"""Mutants of the rules that guard a person: code is spoiled on purpose, and the tests have to tell.

``python -m tests.mutants guards`` spoils the rules listed here, each on its unsafe side; ``sample --count 60`` spoils
operators, ends and numbers drawn at random from `FOLDERS`. Both work in a copy, print what survives, and end with
status 1 where something does. A mutant that means the same as the code is listed in `SAME` with its reason.
"""

from __future__ import annotations

import argparse
import ast
import compileall
import copy
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import flask  # noqa: F401
import hypothesis  # noqa: F401
import pytest
import scipy.optimize  # noqa: F401

ROOT = Path(__file__).parent.parent
CARRIED = ("service", "tests", "reference_data", "pyproject.toml", "openapi.yaml", "README.md", "DEVELOPERS.md")
FOLDERS = ("bench", "methods", "answers", "standards", "judgement", "lookups", "electrodes", "render")
"""Folders of the service that mutants are drawn from."""
HOLDING = (
    *("bench", "physics", "judgement", "standards", "published", "properties"),
    *("web/test_first_lines.py", "web/test_web_leads.py", "web/test_web_batch.py", "web/test_web_problems.py"),
    *("web/test_web_manner.py", "web/test_web_units.py", "web/test_web_weather.py", "render/test_render_whole.py"),
    *(f"render/test_render_{one}.py" for one in ("csv", "formats", "html", "layout", "markup", "sheet", "svg")),
    *("render/test_render_table.py", "render/test_render_text.py"),
)
"""Tests that hold a drawn mutant."""
OF_YESTERDAY = "looks_as_it_was_approved"
"""In the name of a test that only compares an answer with itself of yesterday: it holds nothing."""
MAP = ROOT / ".mutants"
EVERY = "every"
LONGEST = 60
"""Most processor time of a mutant [s]."""
HOLDS = (0, 5)
"""How pytest ends where nothing fails, or where no test is there."""
BROKEN = 70


@dataclass(frozen=True)
class Mutant:
    """A spoiled line.

    Parameters
    ----------
    file : str
        Below ``service``.
    old, new : str
        Text that occurs once, and what stands there instead; the whole file of a drawn mutant.
    tests : tuple of str
        The tests that have to tell.
    what : str
        What it would do to a reader.
    line : int
        Of a drawn mutant.
    """

    file: str
    old: str
    new: str
    tests: tuple[str, ...]
    what: str
    line: int = 0


GUARDS = (
    Mutant(
        "physics/corrections.py",
        "(ratio < self.lowest - slack) | (ratio > self.highest + slack)",
        "ratio > self.highest + slack",
        ("tests/physics/test_widened_bands.py",),
        "humidity below the range of its law is neither noted nor widens the band",
    ),
    Mutant(
        "methods/criterion.py",
        'if "impulse" in case.waveform and case.polarity == "positive":',
        'if "impulse" in case.waveform:',
        ("tests/physics/test_widened_bands.py",),
        "negative impulses get the band of positive ones",
    ),
    Mutant(
        "methods/bands.py",
        "low=estimate.low * np.minimum(factor, low_factor)",
        "low=estimate.low * np.maximum(factor, low_factor)",
        ("tests/physics/test_widened_bands.py",),
        "the low end falls less than the value at high frequency",
    ),
    Mutant(
        "methods/gas_rows.py",
        "of.fmax(by_pressure, by_field), 0.0)",
        "by_pressure, 0.0)",
        ("tests/physics/test_uniform_field.py", "tests/properties/test_gas_properties.py"),
        "the low end of a gas at high field is not widened",
    ),
    Mutant(
        "methods/forms.py",
        "return own(case, volts) if case.secondary is None else",
        "return own(case, volts) if case.secondary is None or volts.size else",
        ("tests/physics/test_widened_bands.py",),
        "a given secondary coefficient keeps the band of a known one",
    ),
    Mutant(
        "standards/clearance.py",
        "ReadValue(max(found.value, lowest), found.row",
        "ReadValue(found.value, found.row",
        ("tests/standards/test_creepage.py", "tests/standards/test_hand_overs.py"),
        "printed wiring has no floor of 0.04 mm",
    ),
    Mutant(
        "standards/clearance.py",
        "of.minimum(of.maximum(voltage * factor, below_asks), above_asks)",
        "of.minimum(voltage * factor, above_asks)",
        ("tests/standards/test_hand_overs.py",),
        "between steps reinforced insulation gets less than the step below asks for",
    ),
    Mutant(
        "standards/clearance.py",
        'first_from(preferred, voltage * (1 + ROUNDING), "right")',
        'first_from(preferred, voltage, "right")',
        ("tests/standards/test_at_points.py",),
        "a hair below a step of the series reinforced insulation gets less than the step asks for",
    ),
    Mutant(
        "standards/ladder.py",
        "if 0 < count < self.size:",
        "if self.size < 0:",
        ("tests/standards/test_at_points.py", "tests/standards/test_many_at_once.py"),
        "of a batch, points that a rule decides differently on go the way of one of them",
    ),
    Mutant(
        "standards/ladder.py",
        "for beside in (place, place + 1)",
        "for beside in (place,)",
        ("tests/standards/test_many_at_once.py",),
        "a batch does not tell that a row was doubted between which and the next it read",
    ),
    Mutant(
        "lookups/creepage.py",
        "peak = SINE * working",
        "peak = working",
        ("tests/standards/test_creepage.py",),
        "above 30 kHz the rms value is taken for the peak that was not given",
    ),
    Mutant(
        "standards/limits.py",
        'self.limit * (SINE if self.measure == "rms" else 1.0)',
        "self.limit",
        ("tests/standards/test_hazard.py",),
        "rms limits are sorted as if they were peaks",
    ),
    Mutant(
        "standards/solid.py",
        "low = float(np.fmin(low, starts)) if np.isfinite(starts) else low",
        "low = low if np.isfinite(starts) else low",
        ("tests/standards/test_hand_overs.py",),
        "the low end of a film begins above its corona",
    ),
    Mutant(
        "bench/settings.py",
        "max(float(np.median(np.abs(self.voltages - middle))), LEAST_SPREAD * middle, self.digit)",
        "max(float(np.mean(np.abs(self.voltages - middle))), LEAST_SPREAD * middle, self.digit)",
        ("tests/bench/test_probe_check.py", "tests/bench/test_probe_traps.py", "tests/bench/test_comparison.py"),
        "outliers are judged by a spread that they widen themselves",
    ),
    Mutant(
        "bench/settings.py",
        "chdtri(n - 1, CHANCE_OF_BENT)",
        "chdtri(n - 1, 0.1)",
        ("tests/bench/test_comparison.py", "tests/bench/test_probe_check.py"),
        "settings that chance explains are called not linear",
    ),
    Mutant(
        "lookups/switch_on_sheet.py",
        "steady = peak.high / STEADY.get(here.case.waveform, 1.0)",
        "steady = peak.high",
        ("tests/bench/test_switch_on_sheet.py", "tests/web/test_first_lines.py"),
        "the heat of a bleeder at alternating voltage is doubled",
    ),
    Mutant(
        "lookups/switch_on_sheet.py",
        'return max(steady, peaks_of(question, "dc").high)',
        "return steady",
        ("tests/web/test_first_lines.py",),
        "surfaces of a voltage whose waveform was not said are those of an alternating one",
    ),
    Mutant(
        "answers/situation.py",
        'return "unknown" if waveform == "ac" else "peak"',
        'return "peak"',
        ("tests/bench/test_probe_record.py", "tests/web/test_first_lines.py"),
        "a voltage of which nobody said how it was read is a peak",
    ),
    Mutant(
        "lookups/spectators.py",
        'if "waveform" in question.assumed:\n        kinds',
        "if False:\n        kinds",
        ("tests/bench/test_spectators.py",),
        "people are kept off as from an alternating voltage where nobody said the waveform",
    ),
    Mutant(
        "standards/circuit.py",
        "highest = self.volts(frozenset())",
        "highest = self.direct",
        ("tests/standards/test_hazard.py",),
        "a capacitor is waited for from the lower voltage that it may have",
    ),
    Mutant(
        "lookups/probe_plan.py",
        "(round(places), np.floor(places), np.ceil(places))",
        "(round(places),)",
        ("tests/bench/test_probe_plan.py",),
        "at the edge of the limits no second spacing of the gauge is tried",
    ),
    Mutant(
        "bench/divider.py",
        "squared = highest**2 / (2 if base else 1)",
        "squared = highest**2",
        ("tests/bench/test_divider.py", "tests/bench/test_probe_check.py"),
        "the power of a divider at alternating voltage is doubled",
    ),
    Mutant(
        "lookups/reading.py",
        "for volts in (low, high))",
        "for volts in (low, low))",
        ("tests/bench/test_probe_record.py",),
        "the gap that holds is that of the lowest voltage that a reading may mean",
    ),
    Mutant(
        "lookups/profile.py",
        "told.widened_by(alone, found.error)",
        "told.widened_by(alone, 0.0)",
        ("tests/bench/test_profile.py",),
        "what a drawing may be off is left out of its inception voltage",
    ),
    Mutant(
        "lookups/protective_gap.py",
        "density.max() / density.min()",
        "density.max() / density.max()",
        ("tests/bench/test_protective_gap.py",),
        "settings that only thin air lets fire are never looked at",
    ),
    Mutant(
        "standards/body.py",
        "default=0.0)",
        "default=np.inf)",
        ("tests/standards/test_hazard.py",),
        "X-rays are left out where no row says from which voltage they come",
    ),
    Mutant(
        "judgement.py",
        "one_sided = not said or",
        "one_sided = said and",
        ("tests/judgement/test_judgement.py",),
        "where no waveform was said, impulses of one polarity only are reckoned with",
    ),
    Mutant(
        "bench/settings.py",
        '"initial_simplex": np.eye(3, 2)',
        '"initial_simplex": 1e-14 * np.eye(3, 2)',
        ("tests/bench/test_fifty_percent.py",),
        "the search for a 50 % voltage stays where it begins",
    ),
    Mutant(
        "judgement.py",
        "for step in (half, -half))",
        "for step in (half, half))",
        ("tests/judgement/test_judgement.py",),
        "the digits of an altitude widen the pressure to one side only",
    ),
    Mutant(
        "judgement.py",
        'yield Unsaid("pressure", "the pressure", (low, high))',
        'yield Unsaid("pressure", "the pressure", (high, high))',
        ("tests/judgement/test_judgement.py",),
        "at a known altitude the thin air of bad weather is not reckoned with",
    ),
    Mutant(
        "judgement.py",
        "product((-1, 1), repeat=len(off))",
        "product((1, 1), repeat=len(off))",
        ("tests/judgement/test_judgement.py",),
        "digits and uncertainties of what was said raise a voltage and never lower it",
    ),
    Mutant(
        "judgement.py",
        "if here.case.in_air and not any(",
        "if not here.case.in_air and not any(",
        ("tests/judgement/test_judgement.py",),
        "a humidity that was not said is no reason for cannot-tell",
    ),
    Mutant(
        "judgement.py",
        "np.where(np.isnan(ends[0]), np.nan, take.reduce(ends, axis=0))",
        "take.reduce(ends, axis=0)",
        ("tests/judgement/test_judgement.py",),
        "a gap that has no low end gets that of a smaller one",
    ),
    Mutant(
        "judgement.py",
        "if waveform not in PERIODIC:",
        "if waveform in PERIODIC:",
        ("tests/judgement/test_judgement.py",),
        "a high frequency that was said lowers nothing",
    ),
    Mutant(
        "electrodes/rod_gap.py",
        "BAND + FACTOR_BAND",
        "BAND - FACTOR_BAND",
        ("tests/published/test_needle_and_rod_tables.py",),
        "a table of rods that a law carries on has a narrower band than the law",
    ),
    Mutant(
        "electrodes/rod_plane.py",
        "if len(factors) > 1 else frozenset(factors)",
        "if len(factors) >= 1 else frozenset(factors)",
        ("tests/published/test_needle_and_rod_tables.py",),
        "a negative rod's voltage is told of arrangements that no law covers",
    ),
    Mutant(
        "methods/rods.py",
        "POWER = 45.0, 65.0",
        "POWER = 45.0, 1e3",
        ("tests/published/test_needle_and_rod_tables.py",),
        "tables of power frequency answer at higher ones",
    ),
    Mutant(
        "methods/rods.py",
        "(case.gap <= to * (1 + ROUNDING))",
        "(case.gap <= to * (2 + ROUNDING))",
        ("tests/published/test_needle_and_rod_tables.py",),
        "a table bounds gaps from above that are longer than its last one",
    ),
    Mutant(
        "methods/rods.py",
        "if note != WHY)",
        "if note == WHY)",
        ("tests/published/test_needle_and_rod_tables.py",),
        "cautions about thin and dense air and high frequency are dropped where no law of rods answers",
    ),
    Mutant(
        "methods/brackets.py",
        "absent = case.of.any(case.of.isnan(low))",
        "absent = case.of.any(case.of.isnan(high))",
        ("tests/properties/test_unknown_bracket.py",),
        "that no low end is known is not said",
    ),
    Mutant(
        "answers/inverse.py",
        'HELD = ("low", "withstand")',
        'HELD = ("low",)',
        ("tests/properties/test_safe_ends.py",),
        "a gap is said to hold above it, though beyond the end of a table larger ones are not known to",
    ),
    Mutant(
        "answers/inverse.py",
        'HELD = ("low", "withstand")',
        'HELD = ("withstand",)',
        ("tests/properties/test_safe_ends.py",),
        "the low end is said to be reached where it is lost again beyond the end of a table",
    ),
    Mutant(
        "standards/circuit.py",
        "max(one.high for one in known))",
        "min(one.high for one in known))",
        ("tests/standards/test_hazard.py",),
        "a voltage whose kind was not said is judged as the milder of both",
    ),
    Mutant(
        "standards/circuit.py",
        '"unknown": (0.5, SINE)',
        '"unknown": (0.5, 1.0)',
        ("tests/standards/test_hazard.py",),
        "a voltage whose reading is unknown is never an rms value",
    ),
    Mutant(
        "standards/circuit.py",
        "self.charge.high * self.voltage.high / 2",
        "self.charge.high * self.voltage.low / 2",
        ("tests/standards/test_hazard.py",),
        "the stored energy of a voltage between two ends is that of the lower one",
    ),
    Mutant(
        "standards/circuit.py",
        "self.capacitance, highest.high, left)",
        "self.capacitance, highest.low, left)",
        ("tests/standards/test_hazard.py",),
        "a discharge is waited for from the lower end of a voltage",
    ),
    Mutant(
        "standards/circuit.py",
        "capacitance = charge / at.low",
        "capacitance = charge / at.high",
        ("tests/standards/test_hazard.py",),
        "a charge at a voltage between two ends is that of the smaller capacitor",
    ),
    Mutant(
        "methods/bands.py",
        "(case.reduced_pressure >= pressures[0] * 0.99)",
        "(case.reduced_pressure >= pressures[0] * 0.1)",
        ("tests/physics/test_uniform_field.py",),
        "a withstand estimate is told at pressures at which no scatter was measured",
    ),
    Mutant(
        "methods/bands.py",
        "(case.gap >= gaps[0] * (1 - ROUNDING))",
        "(case.gap >= gaps[0] * 0.1)",
        ("tests/physics/test_uniform_field.py",),
        "a withstand estimate is told of gaps at which no scatter was measured",
    ),
    Mutant(
        "methods/brackets.py",
        "LOWER = 0.9",
        "LOWER = 1.0",
        ("tests/properties/test_unknown_bracket.py",),
        "a bracket begins at an inception voltage as if its model were exact",
    ),
    Mutant(
        "methods/brackets.py",
        'self.voltage * (1 - OF_THE_MINIMUM), "voltage"',
        'self.voltage * (1 + OF_THE_MINIMUM), "voltage"',
        ("tests/properties/test_unknown_bracket.py",),
        "left of the minimum a voltage is told above which only a longer path breaks down",
    ),
    Mutant(
        "lookups/batch_points.py",
        "self._cautions |= dict.fromkeys(found.said.cautions)",
        "pass",
        ("tests/properties/test_batch_properties.py",),
        "of a batch only the first point of a method is asked for its cautions",
    ),
    Mutant(
        "lookups/batch_places.py",
        "np.isnan(rising.high) | (known & np.isnan(rising.holds))",
        "np.isnan(rising.high)",
        ("tests/properties/test_batch_properties.py",),
        "of a batch it is not said that no gap is known to hold one of its voltages",
    ),
    Mutant(
        "lookups/batch_points.py",
        "kept = water <= held * (1 + ROUNDING)",
        "kept = water <= held * (2 + ROUNDING)",
        ("tests/properties/test_batch_properties.py",),
        "a batch answers with more water than its air can hold",
    ),
    Mutant(
        "methods/brackets.py",
        "case.of.minimum(share, 1.0))",
        "case.of.maximum(share, 1.0))",
        ("tests/properties/test_unknown_bracket.py",),
        "in thin air long gaps are credited with what they hold in denser air",
    ),
    Mutant(
        "methods/brackets.py",
        "case.of.minimum(share, 1.0))",
        "case.of.minimum(share, 1.5))",
        ("tests/properties/test_unknown_bracket.py",),
        "in dense air long gaps are credited with more than the laws were measured for",
    ),
    Mutant(
        "answers/results.py",
        "(scatter and ends.holds is None)",
        "(scatter and ends.high is None)",
        ("tests/properties/test_inverse_properties.py",),
        "that no gap is known to hold a voltage is not said",
    ),
    Mutant(
        "answers/results.py",
        "one.high if one.sharp else np.nan, one.low, one.high",
        "one.high if one.sharp else np.nan, one.low, one.low",
        ("tests/properties/test_inverse_properties.py",),
        "of a reading from peak to peak the higher peak is left out",
    ),
    Mutant(
        "answers/evaluate.py",
        'for name, dimension, unit, reach in (\n        ("gap", "length", "mm", (1e-6, 1.0)),',
        'for name, dimension, unit, reach in (\n        ("gap", "length", "mm", (1e-6, 2.0)),',
        ("tests/web/test_web_problems.py",),
        "a refusal proposes a larger gap",
    ),
    Mutant(
        "answers/evaluate.py",
        "case.pressure[0] <= min(NEAR_VACUUM)",
        "case.pressure[0] <= max(NEAR_VACUUM)",
        ("tests/properties/test_limits.py",),
        "a refusal proposes a vacuum where a gas is not thin enough for one",
    ),
    Mutant(
        "standards/limits.py",
        "(found == {NOT_EXCEEDED} and UNKNOWN in stored)",
        "(found == {NOT_EXCEEDED} and EXCEEDED in stored)",
        ("tests/standards/test_hazard.py",),
        "a class is kept though an unknown capacitor may leave it",
    ),
    Mutant(
        "standards/limits.py",
        "if EXCEEDED in stored:",
        "if not stored:",
        ("tests/standards/test_hazard.py",),
        "a charge alone leaves no class",
    ),
    Mutant(
        "standards/limits.py",
        "STATE_OF_SEVERAL = (EXCEEDED, UNKNOWN, NOT_EXCEEDED, DOES_NOT_APPLY)",
        "STATE_OF_SEVERAL = (NOT_EXCEEDED, EXCEEDED, UNKNOWN, DOES_NOT_APPLY)",
        ("tests/standards/test_hazard.py",),
        "of several rows of one value the mildest is told",
    ),
    Mutant(
        "standards/limits.py",
        "Span(time[1], time[1])",
        "Span(time[0], time[0])",
        ("tests/standards/test_hazard.py",),
        "the time of a discharge is judged without the tolerances",
    ),
    Mutant(
        "standards/limits.py",
        "conditions = [above(asked, lowest, reached=reached)]",
        "conditions = [above(asked, lowest)]",
        ("tests/standards/test_hazard.py",),
        "a voltage that reaches a threshold printed as reached lets no limit apply",
    ),
    Mutant(
        "standards/limits.py",
        "circuit.volts(_kinds(kind)) if kind else circuit.voltage",
        "circuit.voltage",
        ("tests/standards/test_hazard.py",),
        "a voltage whose measure was not said is never an rms value where a limit on current begins",
    ),
)
"""Rules that guard a person, each spoiled where an earlier version's tests did not tell."""

CHECKED = "a cubic that is not the curve is told in the middle of its step, and its places are sought"
SAME: dict[str, str] = {
    "methods/shapes.py: self.corona_first * (1 + ROUNDING) -> self.corona_first / (1 + ROUNDING)": "a billionth",
    "methods/shapes.py: 1 + ROUNDING -> 1 - ROUNDING": "a billionth",
    "bench/probe.py: sparkovers.deviation >= largest -> sparkovers.deviation > largest": "one value of a deviation",
    "bench/probe.py: if mask.any() -> if not mask.any()": "by similarity the diameter's share is the same number",
    "bench/divider.py: 10.0 -> 11.0": "where the search for the largest difference begins; it rises with the frequency",
    "bench/spheres.py: True -> False": "a dashed line of a chart; the answer says that no uncertainty is stated",
    "bench/spheres.py: 2.0 -> 2.2": "how far the searched spacings go; what lies beyond a limit is not answered",
    "methods/forms.py: False -> True": "measured points get the wider band of high pressure: the safe side",
    "answers/crossings.py: apart[2] - apart[1] -> apart[2] + apart[1]": "a first guess, which is refined",
    "answers/crossings.py: apart[0] + apart[1] -> apart[0] - apart[1]": "a first guess, which is refined",
    "answers/inverse.py: PARTS + 1 -> PARTS - 1": "how finely a crossing is sought; it is refined",
    "answers/crossings.py: apart[0] * first -> apart[0] / first": CHECKED,
    "answers/crossings.py: rise[0] - apart[0] * first -> rise[0] + apart[0] * first": CHECKED,
    "answers/crossings.py: apart[0] * apart[1] -> apart[0] / apart[1]": CHECKED,
    "answers/crossings.py: apart[0] * apart[1] * third -> apart[0] * apart[1] / third": CHECKED,
    "judgement.py: base + np.concatenate(shifts) -> base - np.concatenate(shifts)": "corners have both signs",
    "lookups/protective_gap.py: places >= valley -> places > valley": "one place of the grid, where nothing is set",
    "electrodes/point_plane.py: ratio < axis[0] -> ratio <= axis[0]": "there both say the same",
    "judgement.py: 1e-3 -> 0.0011": "how little may be left of a size whose uncertainty is as large as itself",
    "lookups/batch_places.py: code * 2 + found.turning -> code * 2 - found.turning": "kinds are still told apart",
    "lookups/batch_places.py: 8 -> 9": "kinds are still told apart",
    "methods/rods.py: 1e-3 -> 0.0011": "a thousandth of a humidity, to tell a table's own air",
    "methods/brackets.py: True -> False": "the same in arrays, slower",
    "answers/evaluate.py: 99.0 -> 108.9": "any number larger than a logarithm of a share",
    "standards/solid.py: 1.0 -> 1.1": "a factor that all films have in common",
}
"""Drawn mutants, as printed but for the number of the line, that mean the same as the code, and why."""


# --- drawn mutants --------------------------------------------------------------------------------------------------

SWAPPED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.Lt: ast.GtE,
    ast.GtE: ast.Lt,
    ast.Gt: ast.LtE,
    ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
SHIFTED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
PAIRS = "min max,low high,lower upper,minimum maximum,fmin fmax,nanmin nanmax,argmin argmax,floor ceil,any all"
NAMES = {one: other for pair in PAIRS.split(",") for one, other in (pair.split(), pair.split()[::-1])}


def spoiled(node: ast.AST) -> list[ast.AST]:  # noqa: C901, PLR0912
    """Return nodes that say something else each, none where nothing can be spoiled."""
    found: list[ast.AST] = []

    def add(**changed: object) -> None:
        new = copy.copy(node)
        for name, value in changed.items():
            setattr(new, name, value)
        found.append(new)

    match node:
        case ast.BinOp(op=op) | ast.BoolOp(op=op) if type(op) in SWAPPED:
            add(op=SWAPPED[type(op)]())
        case ast.Compare(ops=[op, *others]):
            for table in (SWAPPED, SHIFTED):
                if type(op) in table:
                    add(ops=[table[type(op)](), *others])
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            found.append(operand)
        case ast.IfExp(body=body, orelse=orelse):
            add(body=orelse, orelse=body)
        case ast.If(test=ast.Name() | ast.Call() | ast.Attribute()):
            add(test=ast.UnaryOp(ast.Not(), node.test))
        case ast.Attribute(attr=name) if name in NAMES:
            add(attr=NAMES[name])
        case ast.Name(id=name, ctx=ast.Load()) if name in NAMES:
            add(id=NAMES[name])
        case ast.Call(keywords=[*words]) if any(one.arg in NAMES for one in words):  # both ends of a band at once
            add(keywords=[ast.keyword(NAMES.get(one.arg or "", one.arg), one.value) for one in words])
        case ast.Constant(value=bool(value)):
            add(value=not value)
        case ast.Constant(value=float(value)):
            add(value=value * 1.1 if value else 1.0)
        case ast.Constant(value=int(value)):
            add(value=value + 1)
        case ast.Constant(value=str(value)) if value in NAMES:
            add(value=NAMES[value])
        case ast.Expr(value=ast.Call()) | ast.AugAssign():  # a note that is not told, a sum without one of its parts
            found.append(ast.Pass())
    return found


def nodes_of(tree: ast.AST) -> Iterator[ast.AST]:
    """Yield what may be spoiled of a module: not annotations, texts, sketches, nor what a question may ask at most."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            match child:
                case ast.Call(func=ast.Name("Parameter")) | ast.FunctionDef(name="drawing") | ast.keyword("strict"):
                    continue
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr | ast.Import | ast.ImportFrom):
                yield child
                yield from nodes_of(child)


def drawn(count: int, seed: int, folders: Sequence[str], root: Path = ROOT) -> Iterator[Mutant]:
    """Yield mutants drawn from the folders of a copy, the same ones for the same seed."""
    places = []
    for folder in folders:
        for path in sorted((root / "service" / folder).glob("*.py")):
            if path.stem.endswith("_picture"):
                continue
            text = path.read_text(encoding="utf-8")
            tree = ast.parse(text)
            places += [(folder, path, text, node) for node in nodes_of(tree) if spoiled(node)]
    chance = random.Random(seed)
    for folder, path, text, node in chance.sample(places, min(count, len(places))):
        old = ast.get_source_segment(text, node) or ""
        new = ast.unparse(chance.choice(spoiled(node)))
        changed = new if isinstance(node, ast.stmt) else f"({new})"
        lines = text.splitlines(keepends=True)
        if isinstance(node, ast.stmt):
            changed = changed.replace("\n", "\n" + " " * node.col_offset)
        start = len("".join(lines[: node.lineno - 1]).encode()) + node.col_offset
        whole = text.encode()
        after = (whole[:start] + changed.encode() + whole[start + len(old.encode()) :]).decode()
        says = [" ".join(one.split()) for one in (old, new)]
        if isinstance(node, ast.If):
            says = [f"if {ast.unparse(node.test)}", f"if not {ast.unparse(node.test)}"]
        yield Mutant(
            f"{folder}/{path.name}", text, after, (), f"line {node.lineno}: {says[0]} -> {says[1]}", node.lineno
        )


# --- the tests that run a line ----------------------------------------------------------------------------------------


class Watch:
    """A plugin of pytest that remembers which test runs which line of the service, and how long each test takes."""

    def __init__(self, service: Path) -> None:
        import coverage

        self.service = service
        self.coverage = coverage.Coverage(data_file=None, source=[str(service)], config_file=False)
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        self.coverage.start()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Count what runs for this test."""
        self.coverage.switch_context(item.nodeid)
        yield
        self.coverage.switch_context(EVERY)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef, request: pytest.FixtureRequest) -> Iterator[None]:
        """What many tests share is counted for each of them."""
        shared = fixturedef.scope != "function"
        if shared:
            self.coverage.switch_context(EVERY)
        yield
        if shared:
            self.coverage.switch_context(request.node.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Add the time of a phase of a test; one that fails before anything is spoiled tells nothing."""
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed.add(report.nodeid)

    def written(self, file: Path) -> None:
        """Write the map of what was seen."""
        self.coverage.stop()
        data = self.coverage.get_data()
        lines: dict[str, dict[str, list[str]]] = {}
        for name in sorted(data.measured_files()):
            text = Path(name).read_text(encoding="utf-8").splitlines() or [""]
            here = lines.setdefault(str(Path(name).relative_to(self.service)), {})
            for number, contexts in data.contexts_by_lineno(name).items():
                key = text[number - 1].strip() if number <= len(text) else ""
                tests = {one or EVERY for one in contexts} - self.failed
                here[key] = sorted(tests | set(here.get(key, ())))
        holding = {name for name in self.seconds if name not in self.failed and OF_YESTERDAY not in name}
        tests = {name: one for name, one in self.seconds.items() if name in holding}
        file.write_text(json.dumps({"tests": tests, "lines": lines}), encoding="utf-8")


@cache
def _constants(text: str, line: int) -> tuple[str, ...]:
    """Return the names of a module that a line states, which may take several lines; elsewhere none."""
    for one in ast.parse(text).body:
        if isinstance(one, ast.Assign | ast.AnnAssign) and one.lineno <= line <= (one.end_lineno or 0):
            target = one.targets[0] if isinstance(one, ast.Assign) else one.target
            return tuple(name.id for name in ast.walk(target) if isinstance(name, ast.Name))
    return ()


@cache
def _naming(word: str) -> frozenset[str]:
    """Return the tests whose text has a word, such as the key of an arrangement."""
    found = []
    for file in (ROOT / "tests").rglob("test_*.py"):
        text = file.read_text(encoding="utf-8")
        for one in ast.parse(text).body:
            if isinstance(one, ast.FunctionDef) and word in "\n".join(
                ast.get_source_segment(text, part) or "" for part in (*one.decorator_list, one)
            ):
                found.append(f"{file.relative_to(ROOT)}::{one.name}")
    return frozenset(found)


@dataclass(frozen=True)
class Map:
    """Which test runs which line, by the text of the line, so that a change elsewhere in a file leaves it true.

    Parameters
    ----------
    tests : dict of str to float
        Test to its seconds.
    lines : dict of str to dict
        File below ``service`` to text of a line to tests, `EVERY` where a shared fixture or an import runs it.
    """

    tests: dict[str, float]
    lines: dict[str, dict[str, list[str]]]

    @classmethod
    def read(cls) -> Map:
        """Return what the maps of all files of tests say together."""
        found = cls({}, {})
        for file in sorted(MAP.glob("*.json")):
            one = json.loads(file.read_text(encoding="utf-8"))
            found.tests.update(one["tests"])
            for name, lines in one["lines"].items():
                here = found.lines.setdefault(name, {})
                for line, tests in lines.items():
                    here.setdefault(line, []).extend(tests)
        return found

    def _of(self, file: str) -> dict[str, list[str]]:
        """Return the lines of a file, of all files where it is new: a line that moved keeps its tests."""
        found: dict[str, list[str]] = self.lines.get(file, {})
        if not found:
            for lines in self.lines.values():
                for line, tests in lines.items():
                    found.setdefault(line, []).extend(tests)
        return found

    def tests_of(self, mutant: Mutant, budget: float) -> tuple[str, ...]:
        """Return the tests that run the line, the quickest first, as many as the seconds allow.

        What is made once for whoever asks first is held by those that name the file, such as an arrangement, or run
        anything in it; those that happened to make it come after them, for half as many seconds.
        """
        here, line = self._of(mutant.file), mutant.old.splitlines()[mutant.line - 1]
        found = set(here.get(line.strip(), [EVERY]))
        constants = _constants(mutant.old, mutant.line)
        if constants:
            word = re.compile(rf"\b(?:{'|'.join(constants)})\b")
            found.update(*(tests for file in self.lines.values() for key, tests in file.items() if word.search(key)))
        groups = [(found, budget)]
        if EVERY in found:
            naming = _naming(Path(mutant.file).stem.replace("_", "-"))
            named = {name for name in self.tests if name.partition("[")[0] in naming}
            groups = [(named or set().union(*here.values()), budget), (found, budget / 2)]
        chosen: dict[str, None] = {}
        for group, most in groups:
            spent = 0.0
            for name in sorted((group & self.tests.keys()) - chosen.keys(), key=self.tests.__getitem__):
                spent += self.tests[name]
                if spent > most and group & chosen.keys():
                    break
                chosen[name] = None
        return tuple(chosen)


class Chosen:
    """A plugin of pytest that keeps the tests of a list, in its order; those that are gone are not missed."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.places = {name: place for place, name in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Leave the tests of the list."""
        kept = [one for one in items if one.nodeid in self.places]
        items[:] = sorted(kept, key=lambda one: self.places[one.nodeid])


# --- running --------------------------------------------------------------------------------------------------------


def run(folder: Path, tests: Sequence[str], watch: Path | None = None) -> int:
    """Run pytest in a copy, in a process that has the libraries but nothing of the service; return how it ended."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    status = BROKEN
    try:
        if not watch:  # a spoiled search may never end: that is told, too
            resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, LONGEST + 1))
        os.chdir(folder)
        os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
        sys.path[:] = [str(folder), *(one for one in sys.path if one not in ("", str(ROOT)))]
        for name in [one for one in sys.modules if one.split(".")[0] in ("tests", "service")]:
            del sys.modules[name]
        if not watch:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        plugin: Watch | Chosen = Watch(folder / "service") if watch else Chosen(tests)
        files = sorted({one.partition("::")[0] for one in tests if (folder / one.partition("::")[0]).exists()})
        plugins = [plugin] if watch or any("::" in one for one in tests) else []
        first = [] if watch else ["-x"]
        status = int(pytest.main([*first, "-q", "-p", "no:cacheprovider", *files], plugins)) if files else HOLDS[1]
        if isinstance(plugin, Watch) and watch:
            plugin.written(watch)
    finally:
        os._exit(status)


def survives(mutant: Mutant, folder: Path) -> bool:
    """Return whether the tests pass with a mutant in the copy, which is as before afterwards."""
    file = folder / "service" / mutant.file
    text, times = file.read_text(encoding="utf-8"), file.stat()
    if text.count(mutant.old) != 1:
        raise SystemExit(f"{mutant.file}: this does not occur once:\n{mutant.old[:200]}")
    file.write_text(text.replace(mutant.old, mutant.new), encoding="utf-8")
    os.utime(file, (times.st_atime, times.st_mtime + 10))  # never taken for what was compiled before
    status = run(folder, mutant.tests)
    file.write_text(text, encoding="utf-8")
    os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
    if status not in (*HOLDS, 1, 2, 4, -signal.SIGXCPU, -signal.SIGKILL):
        raise SystemExit(f"{mutant.file}: the tests did not run, status {status}")
    return status in HOLDS


def copied(place: Path) -> None:
    """Copy what the tests need."""
    for name in CARRIED:
        source, target = ROOT / name, place / name
        if source.is_dir():
            shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, target)
    compileall.compile_dir(place / "service", quiet=2)
    sys.dont_write_bytecode = True


def mapped(place: Path, *, again: bool, only: str) -> None:
    """Find out which test runs which line, a file of tests at a time, where that is not known."""
    MAP.mkdir(exist_ok=True)
    for target in HOLDING:
        folder = ROOT / "tests" / target
        for file in sorted(folder.glob("test_*.py")) if folder.is_dir() else [folder]:
            known = MAP / f"{file.stem}.json"
            if (again and only in file.stem) or not known.exists():
                run(place, [str(file.relative_to(ROOT))], known)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the mutants that the command line asks for; return how the process ends."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("which", choices=("guards", "map", "sample"))
    parser.add_argument("--only", default="", help="those whose file or meaning has this (a regular expression)")
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", choices=FOLDERS, action="append", help="draw from this folder only")
    parser.add_argument("--budget", type=float, default=20.0, help="seconds of tests for each mutant that is drawn")
    parser.add_argument("--list", action="store_true", help="show the mutants, run none")
    chosen = parser.parse_args(arguments)
    left = 0
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        copied(place)
        folders = chosen.folder or FOLDERS
        mutants = GUARDS if chosen.which == "guards" else drawn(chosen.count, chosen.seed, folders, place)
        if chosen.which != "guards" and not chosen.list:
            mapped(place, again=chosen.which == "map", only=chosen.only)
        known = Map.read()
        for mutant in mutants if chosen.which != "map" else ():
            words = f"{mutant.file}: {mutant.what}"
            if not re.search(chosen.only, words):
                continue
            if chosen.list:
                print(words)
                continue
            start = time.monotonic()
            one = replace(mutant, tests=known.tests_of(mutant, chosen.budget)) if mutant.line else mutant
            alive = survives(one, place)
            reason = SAME.get(re.sub(r"line \d+: ", "", words), "") if alive else ""
            left += alive and not reason
            print("SURVIVES" if alive else "killed  ", f"{time.monotonic() - start:4.1f} s", words, reason, flush=True)
    print(f"{left} survive without a reason")
    return int(bool(left))


if __name__ == "__main__":
    sys.exit(main())
