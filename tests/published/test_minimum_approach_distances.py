"""Table R-7 of 29 CFR 1910.269 from the equation of its Appendix B, which the service does not use.

MAD = 0.3048 (C + a) V T A + M, V phase to ground in kV, M = 0.31 m for inadvertent movement, C = 0.01 and 0.011 with a
tool in the gap, a for saturation, T per unit; the table is printed rounded up to centimetres. All from memory.
"""

import math

import pytest

from service.reference import load

MOVEMENT = 0.31
"""Allowance for inadvertent movement [m]."""


def transient(kilovolts):
    """Return the assumed largest per-unit transient (1910.269 Table R-9, reproduced in 1926 Subpart V)."""
    return 3.5 if kilovolts <= 420 else 3.0 if kilovolts <= 550 else 2.5


def saturation(peak, steps):
    """Return the factor a at a peak voltage [kV]: the first step that reaches it."""
    start, slope = next((start, slope) for end, start, slope in steps if peak <= end)
    return max(0.0, (peak - start) / slope)


TO_GROUND = ((635, 635, 1), (915, 635, 140_000), (1050, 645, 135_000), (math.inf, 675, 125_000))
BETWEEN_PHASES = (
    (630, 630, 1),
    (848, 630, 155_000),
    (1131, 633.6, 152_207),
    (1485, 628, 153_846),
    (math.inf, 350.5, 203_666),
)


def to_ground(kilovolts):
    volts = kilovolts / math.sqrt(3) * transient(kilovolts)
    return 0.3048 * (0.011 + saturation(volts * math.sqrt(2), TO_GROUND)) * volts + MOVEMENT


def between_phases(kilovolts):
    volts = kilovolts / math.sqrt(3) * (1.35 * transient(kilovolts) + 0.45)
    return 0.3048 * (0.01 + saturation(volts * math.sqrt(2), BETWEEN_PHASES)) * volts + MOVEMENT


ROWS = [row for row in load().table("osha-1910-269-table-r6-r7").rows if row["table"] == "R-7"]


def test_the_table_has_eight_rows():
    assert len(ROWS) == 8


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["phase_to_phase_kV"])
def test_a_row_of_table_r_7_is_its_equation_rounded_up(row):
    kilovolts = float(row["voltage_to_V"]) / 1e3
    # never below the equation, and at most 8 mm above it
    assert 0 <= float(row["phase_to_ground_m"]) - to_ground(kilovolts) <= 0.008
    # between phases, where the steps of a are remembered less surely, within one printed centimetre
    assert 0 <= float(row["phase_to_phase_m"]) - between_phases(kilovolts) <= 0.010


def test_the_check_can_fail():
    assert not 0 <= float(ROWS[0]["phase_to_ground_m"]) - 0.05 - to_ground(121) <= 0.008
