"""Density and standard atmosphere against ISO 2533 by the library ambiance, CODATA and printed spot values."""

import numpy as np
import pytest
from ambiance import Atmosphere
from scipy import constants

from service.errors import OutsideValidity
from service.physics.atmosphere import relative_density, standard_pressure, station_pressure

ALTITUDES = [0.0, 250.0, 1000.0, 2000.0, 5000.0, 8848.0, 11000.0, 11019.0, 15000.0, 20000.0, -400.0, -4000.0]


@pytest.mark.parametrize("altitude", ALTITUDES)
def test_the_standard_pressure_is_that_of_an_independent_iso_2533(altitude):
    # the library starts the layer above 11 km from a rounded pressure, 2e-6 off
    assert standard_pressure(altitude) == pytest.approx(Atmosphere(altitude).pressure[0], rel=5e-6)


@pytest.mark.parametrize(
    ("geopotential_altitude", "pressure", "source"),
    [
        (10000.0, 26436.0, "ISO 2533, worked example of an engineering toolbox page, read"),
        (11000.0, 22632.1, "ISO 2533, a secondary page, read"),
        (5000.0, 54019.9, "ISO 2533 formula, computed"),
        (20000.0, 5474.9, "ISO 2533 formula, computed"),
    ],
)
def test_the_standard_pressure_meets_printed_values_by_geopotential_altitude(geopotential_altitude, pressure, source):
    radius = 6356766.0
    geometric = radius * geopotential_altitude / (radius - geopotential_altitude)
    assert standard_pressure(geometric) == pytest.approx(pressure, rel=2e-5), source


def test_the_geometric_altitude_6000_m_gives_the_ratio_of_the_us_standard_atmosphere_1976():
    assert standard_pressure(6000.0) / 101325.0 == pytest.approx(0.4660, abs=5e-5)


@pytest.mark.parametrize("altitude", [-5100.0, 20100.0, np.nan, np.inf])
def test_an_altitude_beyond_the_two_lower_layers_is_refused(altitude):
    with pytest.raises(OutsideValidity):
        standard_pressure(altitude)


def test_the_relative_density_is_one_at_20_degrees_and_101_3_kilopascal():
    assert relative_density(101.3e3, 293.15) == 1.0


@pytest.mark.parametrize(("millimetres", "celsius", "factor"), [(760.0, 30.0, 0.968), (740.0, 30.0, 0.9419)])
def test_the_relative_density_is_the_printed_form_with_celsius_degrees(millimetres, celsius, factor):
    # IEC 60052: delta = (p / 101.3) (293 / (273 + t)), evaluated by hand
    assert relative_density(millimetres * constants.mmHg, 273.15 + celsius) == pytest.approx(factor, rel=1e-3)


@pytest.mark.parametrize("wrong", [0.0, -1.0, np.nan, np.inf])
def test_a_pressure_or_temperature_that_is_no_positive_number_is_refused(wrong):
    with pytest.raises(OutsideValidity):
        relative_density(wrong, 293.15)
    with pytest.raises(OutsideValidity):
        relative_density([101.3e3, 101.3e3], [293.15, wrong])


def test_a_pressure_reduced_to_sea_level_is_that_of_the_place_again():
    # WMO-No. 8, annex 3.A (memory): ln(p_sea / p) = g H / (R (T + 6.5 K/km H / 2)), the mean temperature of the column
    for altitude, kelvin in ((540.0, 283.15), (1609.0, 293.15), (2240.0, 303.15)):
        mean = kelvin + 6.5e-3 * altitude / 2
        printed = 101325.0 * np.exp(-9.80665 * altitude / (287.05 * mean))
        assert station_pressure(101325.0, altitude, kelvin) == pytest.approx(printed, rel=1e-3)


def test_without_a_temperature_the_standard_atmosphere_is_taken():
    assert station_pressure(101325.0, 1609.0) == pytest.approx(standard_pressure(1609.0), rel=1e-12)
    # ISO 2533: at the standard temperature of the altitude both ways are one
    assert station_pressure(99e3, 1500.0, 288.15 - 9.75) == pytest.approx(station_pressure(99e3, 1500.0), rel=2e-5)
