"""Humidity against the ASHRAE formulation in the library psychrolib, the IAPWS check values and IEC 60060-1."""

import numpy as np
import psychrolib
import pytest

from service.errors import OutsideValidity
from service.physics.atmosphere import (
    absolute_humidity,
    absolute_humidity_at_dew_point,
    dew_point,
    largest_humidity,
    relative_humidity,
    saturation_vapour_pressure,
)

psychrolib.SetUnitSystem(psychrolib.SI)

CELSIUS = [-60.0, -40.0, -20.0, -5.0, 0.0, 0.01, 5.0, 20.0, 35.0, 60.0, 100.0, 150.0]


@pytest.mark.parametrize("celsius", CELSIUS)
def test_the_saturation_pressure_is_that_of_hyland_and_wexler(celsius):
    # psychrolib: Hyland and Wexler 1983; both state 0.1 % for liquid, ice differs by up to 0.3 % at -60 degC
    assert saturation_vapour_pressure(celsius + 273.15) == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=3e-3)


@pytest.mark.parametrize(
    ("temperature", "pressure", "relative"),
    [
        (230.0, 8.94735, 1e-6),  # IAPWS R14-08(2011), computer-program verification, memory
        (273.16, 611.657, 1e-6),  # triple point
        (373.1243, 101325.0, 1e-6),  # IAPWS SR1-86(1992), table 1, memory
        (647.096, 22.064e6, 1e-9),  # critical point
    ],
)
def test_the_saturation_pressure_gives_the_check_values_of_iapws(temperature, pressure, relative):
    assert saturation_vapour_pressure(temperature) == pytest.approx(pressure, rel=relative)


@pytest.mark.parametrize(
    ("celsius", "share", "expected", "source"),
    [
        (22.0, 0.78, 15.14e-3, "physics exercise on absolute humidity (gap45)"),
        (20.0, 0.60, 10.34e-3, "IEC 60060-1 formula, memory (gap46)"),
    ],
)
def test_the_absolute_humidity_meets_printed_examples(celsius, share, expected, source):
    assert absolute_humidity(share, celsius + 273.15) == pytest.approx(expected, rel=0.01), source


@pytest.mark.parametrize(("celsius", "share"), [(20.0, 0.5), (35.0, 0.9), (5.0, 0.2), (-10.0, 0.7)])
def test_the_dew_point_is_that_of_psychrolib(celsius, share):
    held = absolute_humidity(share, celsius + 273.15)
    assert dew_point(held, celsius + 273.15) - 273.15 == pytest.approx(
        psychrolib.GetTDewPointFromRelHum(celsius, share), abs=0.03
    )


@pytest.mark.parametrize(("celsius", "dew"), [(20.0, 10.0), (25.0, 25.0), (15.0, -8.0)])
def test_the_humidity_of_a_dew_point_is_that_of_psychrolib(celsius, dew):
    expected = psychrolib.GetRelHumFromTDewPoint(celsius, dew)
    held = absolute_humidity_at_dew_point(dew + 273.15, celsius + 273.15)
    assert relative_humidity(held, celsius + 273.15) == pytest.approx(expected, rel=2e-3)


def test_cold_air_cannot_hold_the_reference_humidity_and_warm_air_can():
    # 8.5 g/m3 saturates air at about 8.5 degC
    assert largest_humidity(273.15 + 8.0, 101.3e3) < 8.5e-3 < largest_humidity(273.15 + 9.0, 101.3e3)


def test_thin_air_holds_no_more_vapour_than_its_pressure():
    assert largest_humidity(293.15, 100.0) == pytest.approx(100.0 / (461.5 * 293.15), rel=1e-4)


def test_hot_air_is_bounded_by_vapour_alone_up_to_any_temperature():
    assert largest_humidity(1300.0, 101.3e3) == pytest.approx(101.3e3 / (461.5 * 1300.0), rel=1e-4)


@pytest.mark.parametrize(
    ("relation", "arguments"),
    [
        (saturation_vapour_pressure, (49.0,)),
        (saturation_vapour_pressure, (648.0,)),
        (saturation_vapour_pressure, (np.nan,)),
        (absolute_humidity, (1.01, 293.15)),
        (absolute_humidity, (-0.01, 293.15)),
        (relative_humidity, (-1e-3, 293.15)),
        (absolute_humidity_at_dew_point, (294.0, 293.15)),
        (dew_point, (0.0, 293.15)),
        (largest_humidity, (293.15, 0.0)),
        (largest_humidity, (293.15, 23e6)),
    ],
)
def test_a_value_outside_the_domain_is_refused(relation, arguments):
    with pytest.raises(OutsideValidity):
        relation(*arguments)
