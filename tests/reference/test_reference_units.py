"""Units of the tables, against pint as an oracle from outside."""

import numpy as np
import pint
import pytest

from service.reference.descriptor import converter_of_row, is_numeral, scale
from service.units import DIMENSIONS, shown

OWN_DIMENSIONS = ("number", "compound", "by-row")

REGISTRY = pint.UnitRegistry()
SPELLINGS = {
    "Torr": "torr",
    "percent": "(0.01*dimensionless)",
    "Td": "(1e-21*V*m**2)",
    "inHg": "inch_Hg",
    "degC": "kelvin",
}


def oracle(unit):
    """Return SI units in one unit, by pint: blanks multiply, digits after a name are powers."""
    text = unit.replace("_", " ").replace("^", "**").replace("g m3", "(g/m**3)")
    text = " ".join(text.replace(") ", ")").split()).replace(" ", "*")
    for name in ("m", "V", "kV", "cm"):
        text = text.replace(f"{name}2", f"{name}**2").replace(f"{name}3", f"{name}**3")
    for spelling, word in SPELLINGS.items():
        text = text.replace(spelling, word)
    return REGISTRY.Quantity(text).to_base_units().to_root_units()


def tolerance(unit):
    """Return how close we agree; pint has the conventional mmHg, we have 1 atm over 760, which is 1.4e-7 apart."""
    return 2e-7 if "mmHg" in unit else 1e-9


def si(quantity):
    """Return the number in coherent SI units; pint's base unit of mass is the gram in some systems."""
    return quantity.to_base_units().magnitude


def fields(reference):
    return [(table, field) for table in reference.tables.values() for field in table.fields if field.numeric]


def test_the_dimension_of_every_numeric_field_is_known(reference):
    for table, field in fields(reference):
        assert field.dimension in {*DIMENSIONS, *OWN_DIMENSIONS}, table.key
        assert field.dimension == "by-row" or field.unit, table.key


def test_the_factor_of_every_column_agrees_with_pint(reference):
    for table, field in fields(reference):
        if field.dimension in {*OWN_DIMENSIONS, "temperature"} - {"compound"}:
            continue
        convert = field.converter()
        assert convert("1") == pytest.approx(si(oracle(field.unit)), rel=tolerance(field.unit)), (table.key, field.name)


def test_the_unit_of_every_row_agrees_with_pint(reference):
    units = {
        unit
        for table, field in fields(reference)
        if field.dimension == "by-row"
        for unit, cell in zip(table.text(quantity_of(table, field.unit_field)), table.text(field.quantity), strict=True)
        if cell not in field.missing and unit not in {"", "-", "1", "degC"}
    }
    assert {"kV/mm", "mm bar/kV2", "1/g_m3", "kV/(cm bar)^0.5"} <= units
    for unit in units - {"g/m3"}:
        assert converter_of_row(unit)("1") == pytest.approx(si(oracle(unit)), rel=tolerance(unit)), unit


def quantity_of(table, header):
    return next(field.quantity for field in table.fields if field.name == header)


def test_temperatures_keep_their_offset(reference):
    table = reference.table("handbook-temperature-pressure-factors")
    celsius = [float(cell) for cell in table.text("temperature")]
    assert table["temperature"] == pytest.approx(REGISTRY.Quantity(celsius, "degC").to("K").magnitude, rel=1e-15)
    assert converter_of_row("degC")("25") == 298.15


def test_the_printed_number_comes_back_from_si(reference):
    for table, field in fields(reference):
        if field.dimension not in DIMENSIONS:
            continue
        for cell, value in zip(table.text(field.quantity), table[field.quantity], strict=True):
            if not np.isnan(value):
                back = shown(value, field.dimension, field.unit)
                assert back == pytest.approx(float(cell), rel=1e-12, abs=1e-12), (table.key, field.name)


@pytest.mark.parametrize(
    ("unit", "factor"),
    [("1/(cm Torr)", 100 / (101325 / 760)), ("V/(cm Torr)", 100 / (101325 / 760)), ("m2", 1.0), ("bar um", 0.1)],
)
def test_compound_units_of_the_sheets(unit, factor):
    assert float(scale(unit)) == pytest.approx(factor, rel=1e-12)


def test_the_converted_columns_of_townsend_agree_with_those_of_the_sheet(reference):
    """Source: the sheet's own columns, 1/(cm Torr) x 0.750062 = 1/(m Pa), to their five digits."""
    table = reference.table("townsend-ab")
    assert table["coefficient"] == pytest.approx(table["coefficient_per_m_pa"], rel=1e-4)
    assert table["exponent"] == pytest.approx(table["exponent_per_m_pa"], rel=1e-4)


@pytest.mark.parametrize("text", ["", "1_0", "nan", "inf", "1,5", "0x1", " 1", "1 ", "١"])
def test_what_is_no_number(text):
    assert not is_numeral(text)


@pytest.mark.parametrize("text", ["1", "-1.5", "1e-21", "2.20886e-29", "+3", ".5"])
def test_what_is_a_number(text):
    assert is_numeral(text)
