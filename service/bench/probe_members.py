"""Everything that the body of a probe check may hold, declared once."""

from __future__ import annotations

from service.answers.situation import ATMOSPHERE
from service.answers.waveform import WAVEFORM
from service.parameters import Listed, Members, Parameter, Part

MOST_SETTINGS = 200
VOLTAGES = ("indicated_voltages", "instrument_voltages")
VOLTAGE = Parameter("voltage", "voltage", "A reading of the instrument.", high=1e8)

FLAT = (
    Parameter(
        "sphere_diameter",
        "length",
        "Diameter of the spheres; a reading may give its own.",
        low=1e-4,
        high=10.0,
        example="20mm",
    ),
    Parameter(
        "earthing",
        "choice",
        "Whether one sphere is earthed, or both are at half the voltage.",
        default="one-earthed",
        choices=("one-earthed", "symmetrical"),
    ),
    *ATMOSPHERE,
    *WAVEFORM,
    Parameter("attenuation", "number", "Nominal ratio of the divider.", low=1e-3, high=1e9, example="1000"),
    Parameter(
        "measure",
        "choice",
        "How the instrument was read.",
        default="peak",
        choices=("peak", "rms", "peak-to-peak-symmetrical"),
    ),
    Parameter(
        "spacing_uncertainty",
        "length",
        "How far the spacing may be off, to either side; half width of a rectangular distribution.",
        default="0.02mm",
        high=0.1,
    ),
    Parameter(
        "diameter_uncertainty",
        "length",
        "How far the sphere diameter may be off, to either side; 0.1 percent of the diameter where it is not given.",
        high=1.0,
        example="0.05mm",
    ),
    Parameter(
        "density_uncertainty",
        "fraction",
        "How far the air density may be off, to either side, from barometer and thermometer.",
        default="0.5percent",
        high=0.2,
    ),
    Parameter(
        "humidity_uncertainty",
        "humidity",
        "How far the absolute humidity may be off, to either side.",
        default="1g/m3",
        low=0.0,
        high=0.05,
    ),
    Parameter(
        "irradiated",
        "choice",
        "Whether the gap was irradiated.",
        default="unknown",
        choices=("unknown", "yes", "no"),
    ),
    Parameter("unfilled_rows", "count", "Rows of the sheet that were left empty."),
)
READING = Members(
    (
        Parameter("spacing", "length", "Spacing of the spheres.", required=True, low=1e-6, high=10.0),
        Parameter("sphere_diameter", "length", "Diameter of the spheres, where it is another.", low=1e-4, high=10.0),
    ),
    (
        Part("indicated_voltages", "One voltage per sparkover, attenuation applied.", Listed(VOLTAGE)),
        Part("instrument_voltages", "One voltage per sparkover, attenuation not applied.", Listed(VOLTAGE)),
    ),
)
NETWORK = Members(
    (
        Parameter("upper_resistance", "resistance", "Resistance of the upper arm.", required=True, low=1.0, high=1e15),
        Parameter("lower_resistance", "resistance", "Resistance of the lower arm.", required=True, low=1e-3, high=1e12),
        Parameter("upper_capacitance", "capacitance", "Capacitance across the upper arm.", low=1e-16, high=1e-3),
        Parameter("lower_capacitance", "capacitance", "Capacitance across the lower arm.", low=1e-16, high=1e-3),
        Parameter("elements", "count", "Equal elements in series in the upper arm.", low=1, high=1e5, default="1"),
        Parameter("frequency", "frequency", "Frequency for which the divider is wanted.", high=1e10),
    )
)
BODY = Members(
    FLAT,
    (
        Part(
            "readings",
            "One entry per setting: spacing, and one voltage per sparkover.",
            Listed(READING, most=MOST_SETTINGS),
            required=True,
        ),
        Part("network", "The divider, and the frequency that it is wanted for.", NETWORK),
    ),
)
