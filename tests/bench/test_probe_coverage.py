"""The expanded uncertainty of a probe check covers the truth in 93 to 97 %, by draws of everything that is uncertain.

The draws are made here with NumPy alone: the printed table straight between its rows, IEC 60052's corrections for
density and humidity, and the readings of a probe at every drawn sparkover voltage. For balls that no table holds the
truth is the service's own model, whose band is what is drawn.
"""

import numpy as np
import pytest

from service.answers.evaluate import evaluate
from service.answers.situation import one, situation
from service.bench.spheres import Spheres
from service.lookups import probe_check
from service.parameters import Question
from service.web.bodies import read

DRAWS = 20_000
TWO = (np.array([1, 2, 3, 4, 5, 6, 7, 8.0]), np.array([4.7, 8.0, 11.2, 14.4, 17.4, 20.4, 23.2, 25.8]))
FIVE = (np.array([5, 10, 15, 20, 25.0]), np.array([17.4, 32.0, 45.5, 57.5, 68.0]))
"""IEC 60052 Table 2: spacing in mm, kV peak of 2 and 5 cm spheres; from memory."""
OWN = 0.01
"""Standard uncertainty that each setting has of its own; judgement-allowances."""
WATER = 8.5

SETS = {
    "one setting": {"spacings": (4,)},
    "three settings": {"spacings": (3, 4, 5)},
    "eight settings, 5 cm": {"diameter": 50, "spacings": (6, 8, 10, 12, 14, 16, 18, 20)},
    "direct voltage": {"waveform": "dc", "band": 0.05, "spacings": (3, 4, 5)},
    "a coarse gauge": {"spacings": (3, 4, 5), "spacing_off": 0.1},
    "a poor barometer": {"spacings": (3, 4, 5), "density_off": 0.02},
    "damp and unsure": {"spacings": (3, 4, 5), "humidity_off": 4.0},
    "much scatter": {"spacings": (3, 4, 5), "scatter": 0.009},
    "a mountain": {"spacings": (3, 4, 5), "pressure": 92.5, "kelvin": 293.15, "band": 0.0474},
    "1600 m": {"spacings": (3, 4, 5), "pressure": 83.5, "band": 0.05, "model": True},
    "a weather of its own for every setting": {
        "spacings": (3, 4, 5),
        "pressures": (98.2, 100.9, 103.1),
        "band": 0.0345,
    },
    "own balls of 25 mm": {"diameter": 25, "spacings": (3, 4, 5), "band": 0.05, "model": True},
}


def body(case, means, scatter):
    sigma = scatter * np.sqrt(9 / 10)
    shape = np.array([-1, 1] * 5) * sigma
    readings = [
        {"spacing": f"{s}mm", "indicated_voltages": [f"{volts * (1 + step):.6f}kV" for step in shape]}
        for s, volts in zip(case["spacings"], means, strict=True)
    ]
    for reading, pressure in zip(readings, case.get("pressures", ()), strict=False):
        reading["pressure"] = f"{pressure}kPa"
    return {
        "sphere_diameter": f"{case.get('diameter', 20)}mm",
        "waveform": case.get("waveform", "ac"),
        "irradiated": "yes",
        "pressure": f"{case.get('pressure', 101.3)}kPa",
        "temperature": f"{case.get('kelvin', 293.15) - 273.15:.2f}degC",
        "absolute_humidity": f"{WATER}g/m3",
        "spacing_uncertainty": f"{case.get('spacing_off', 0.02)}mm",
        "density_uncertainty": f"{100 * case.get('density_off', 0.005)}percent",
        "humidity_uncertainty": f"{case.get('humidity_off', 1.0)}g/m3",
        "readings": readings,
    }


def modelled(registry, case):
    """Spacings and voltages of balls that no table holds, by the model that answers for them."""
    declared = {p.name: p for p in probe_check.BODY.parameters}
    values = {p.name: p.read(p.default) for p in declared.values() if p.default is not None}
    said = values | {"waveform": "ac", "pressure": 1e3 * case.get("pressure", 101.3)}
    here = situation(Question("", said, frozenset(), declared), registry, "uniform-field")
    spheres = Spheres.of(registry, here.case, case.get("diameter", 20) / 1e3)
    spacings = np.linspace(2.5, 5.5, 31)
    volts = [evaluate(spheres.arrangement, spheres.case.with_gap(one(s / 1e3))).value[0] / 1e3 for s in spacings]
    return spacings, np.array(volts)


@pytest.mark.parametrize("name", SETS)
def test_the_uncertainty_covers_the_truth(registry, name):
    case, random = SETS[name], np.random.default_rng(list(SETS).index(name))
    spacings = np.array(case["spacings"], dtype=float)
    table = modelled(registry, case) if case.get("model") else FIVE if case.get("diameter") == 50 else TWO
    pressure = np.array(case.get("pressures", case.get("pressure", 101.3)))
    density = pressure / 101.3 * 293.15 / case.get("kelvin", 293.15)
    if case.get("model"):
        density = np.array(1.0)  # the model was asked at the pressure itself

    def volts(off, dense, water):
        return np.interp(spacings + off, *table) * dense * (1 + 0.002 * (water / dense - 8.5))

    reference, scatter = volts(0.0, density, WATER), case.get("scatter", 0.004)
    overall = probe_check.answer(read(probe_check.BODY, body(case, reference, scatter)), registry).results["overall"]
    assert overall.agreed.word == "agrees-within-uncertainty"

    def spread(half):
        return random.uniform(-half, half, (DRAWS, 1))

    dense = density * (1 + spread(case.get("density_off", 0.005)))
    truth = volts(spread(case.get("spacing_off", 0.02)), dense, WATER + spread(case.get("humidity_off", 1.0)))
    common = np.sqrt((case.get("band", 0.03) / 2) ** 2 - OWN**2)
    size = (DRAWS, spacings.size)
    truth = truth * (1 + common * random.standard_normal((DRAWS, 1))) * (1 + OWN * random.standard_normal(size))
    means = truth * (1 + scatter / np.sqrt(10) * random.standard_normal(size))
    # the line through the origin, every setting by one over the square of its reference voltage
    scale = (means / reference).sum(axis=1) / ((means / reference) ** 2).sum(axis=1)
    covered = np.mean(np.abs(scale - 1) <= overall.uncertainty)
    assert 0.93 <= covered <= 0.97, covered
