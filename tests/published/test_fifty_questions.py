"""Fifty questions, their answers written down before they were asked: what a specialist expects of a gap.

The expected intervals are from memory of handbooks and standards and from common practice; each row names which. Where
an answer stays apart from what was expected, the row says so and why, and the test holds it to that.
"""

import pytest

from service.errors import OutsideValidity

PLATES = "electrodes=uniform-field"
KUFFEL = "Kuffel, Zaengl, Kuffel"
SPHERES = "IEC 60052 Tables 2 and 3"
PRACTICE = "common practice, no source"

VALUES = [
    # query, least and most expected [kV], source
    (f"{PLATES}&gap=7.5um", 0.327, 0.36, "published minima of air"),
    (f"{PLATES}&gap=50um", 0.58, 0.68, "published Paschen curves of air"),
    (f"{PLATES}&gap=0.1mm", 0.92, 1.0, "published Paschen curves of air"),
    (f"{PLATES}&gap=1mm", 4.4, 4.7, KUFFEL),
    (f"{PLATES}&gap=1cm", 30.3, 31.6, KUFFEL),
    (f"{PLATES}&gap=10cm", 262, 270, KUFFEL),
    (f"{PLATES}&gap=1cm&pressure=10kPa", 4.3, 4.7, KUFFEL),
    (f"{PLATES}&gap=1cm&altitude=2000m", 25, 26.5, "density of ISO 2533"),
    (f"{PLATES}&gap=1cm&altitude=5500m", 16.5, 17.5, "density of ISO 2533"),
    (f"{PLATES}&gap=1cm&temperature=500degC", 13, 14, "density"),
    (f"{PLATES}&gap=1cm&temperature=-60degC", 40.5, 42.5, "density"),
    (f"{PLATES}&gap=1mm&pressure=10bar", 25, 31.5, KUFFEL),
    (f"{PLATES}&gap=1cm&frequency=1MHz", 25, 31.6, "spheres measured 17 to 20 % low at 0.7 to 1.8 MHz"),
    ("electrodes=sphere-gap&sphere_diameter=2cm&gap=0.5mm", 2.75, 2.85, SPHERES),
    ("electrodes=sphere-gap&sphere_diameter=2cm&gap=1mm", 4.65, 4.75, SPHERES),
    ("electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm", 17.3, 17.5, SPHERES),
    ("electrodes=sphere-gap&sphere_diameter=2cm&gap=10mm", 30.6, 30.8, SPHERES),
    ("electrodes=sphere-gap&sphere_diameter=10cm&gap=5cm", 122.5, 123.5, SPHERES),
    ("electrodes=sphere-gap&sphere_diameter=25cm&gap=10cm", 243.5, 244.5, SPHERES),
    (
        "electrodes=sphere-gap&sphere_diameter=25cm&gap=10cm&waveform=lightning-impulse&polarity=positive",
        253,
        255,
        SPHERES,
    ),
    (
        "electrodes=sphere-gap&sphere_diameter=10cm&gap=5cm&waveform=lightning-impulse&polarity=positive",
        129.5,
        131.5,
        SPHERES,
    ),
    ("electrodes=needle-gap&gap=50mm", 48, 50.5, "handbook needle table"),
    ("electrodes=rod-gap&gap=10cm", 60, 81, "AIEE and IEEE rod tables"),
    ("electrodes=rod-gap&gap=30cm&waveform=dc", 150, 165, "IEC 60052, U = 2 + 0.534 d"),
    ("electrodes=rod-gap&gap=1m&waveform=dc", 510, 540, "IEC 60052, U = 2 + 0.534 d"),
    ("electrodes=rod-plane&gap=1m&waveform=switching-impulse", 365, 390, "IEC 60071-2"),
    ("electrodes=rod-plane&gap=3m&waveform=switching-impulse", 900, 970, "IEC 60071-2"),
    ("electrodes=rod-plane&gap=1m&waveform=lightning-impulse", 500, 540, "IEC 60071-2"),
    ("electrodes=rod-plane&gap=1m&waveform=lightning-impulse&polarity=negative", 700, 960, "IEC 60071-2, 950 d^0.8"),
    ("electrodes=rod-plane&gap=3m", 1100, 1300, "IEC 60071-2, power frequency"),
    (f"{PLATES}&gap=1cm&gas=sulfur-hexafluoride&pressure=1bar", 88, 89.5, KUFFEL),
    (f"{PLATES}&gap=1mm&gas=sulfur-hexafluoride", 9.0, 9.7, "Abdel-Salam, example 5.2"),
    (f"{PLATES}&gap=1cm&gas=nitrogen", 30, 34, "published formula, 30.4 kV"),
    (f"{PLATES}&gap=1cm&gas=neon", 2, 5, PRACTICE),
    (f"{PLATES}&gap=1cm&gas=argon", 6, 9, "Norman et al. 2022"),
    (f"{PLATES}&gap=1cm&gas=tetrafluoromethane", 33, 40, "Norman et al. 2022"),
    (f"{PLATES}&gap=4.1mm&pressure=100Pa", 0.6, 1.7, "left branch; 1 kV at 3 to 5 mm"),
]

BRACKETS = [
    # query, interval that the bracket must touch [kV], and the most that its low end may be, source
    ("electrodes=rod-gap&gap=10cm&waveform=dc", 55, 65, 65, "IEC 60052 and rod tables"),
    ("electrodes=rod-plane&gap=10cm&waveform=dc&polarity=positive", 45, 60, 60, "4.5 to 5 kV/cm of positive streamers"),
    ("electrodes=rod-plane&gap=10cm&waveform=dc&polarity=negative", 110, 150, 150, PRACTICE),
    ("electrodes=point-plane&tip_radius=0.1mm&gap=5cm", 30, 40, 38, PRACTICE),
    ("gap=3cm", 20, 25, 25, "a sharp point over a plane at 50 Hz"),
    ("gap=5cm", 30, 38, 38, "a sharp point over a plane at 50 Hz"),
    ("gap=1m&waveform=switching-impulse", 335, 400, 378, "IEC 60071-2, 3400/(1 + 8/d)"),
    ("gap=8mm", 6.3, 27, 7.5, "about 7 kV between a point and a plate, 26 kV between plates"),
    (f"{PLATES}&gap=1cm&pressure=10bar", 200, 260, 210, "compressed air on real plates"),
    (f"{PLATES}&gap=1mm&gas=vacuum", 10, 60, 20, "plain bench electrodes, unconditioned"),
]

APART = [
    # query, expected [kV], why the answer stays apart
    ("electrodes=sphere-gap&sphere_diameter=100cm&gap=50cm", (1030, 1050), "the expectation was of Table 3: 1010 kV"),
    (f"{PLATES}&gap=1cm&gas=hydrogen", (16, 20), "computed table 14.6 kV, relative strength 16.2 to 20"),
    (f"{PLATES}&gap=1cm&gas=oxygen", (28, 30), "33 kV within 20 %; no measured points"),
    (f"{PLATES}&gap=1um", (0.15, 0.35), "between rough and smooth electrodes the middle says little"),
]


def kilovolts(ask, query):
    return ask("breakdown", query)["breakdown_voltage"]


@pytest.mark.parametrize(("query", "least", "most", "source"), VALUES)
def test_the_value_is_the_one_expected(ask, query, least, most, source):
    found = kilovolts(ask, query)
    assert least <= found["value"] <= most, source
    assert found["low"] < found["value"] < found["high"]


@pytest.mark.parametrize(("query", "least", "most", "low", "source"), BRACKETS)
def test_a_bracket_holds_what_is_expected_and_begins_no_higher(ask, query, least, most, low, source):
    found = kilovolts(ask, query)
    assert found["low"] <= most, source
    assert found["high"] >= least, source
    assert found["low"] <= low, source


@pytest.mark.parametrize(("query", "expected", "why"), APART)
def test_what_stays_apart_is_within_its_own_band(ask, query, expected, why):
    found = kilovolts(ask, query)
    assert found["low"] <= expected[1], why
    assert found["high"] >= expected[0], why


@pytest.mark.parametrize(
    ("kilovolts_asked", "least", "most"),
    # handbook needle table, its own air: 14.1 kV about 12 mm, 10 kV 8.5 mm
    [(14.1, 11.8, 12.3), (10.0, 8.3, 8.6)],
)
def test_the_gap_of_needles(ask, kilovolts_asked, least, most):
    air = "temperature=25degC&pressure=760mmHg&absolute_humidity=18.4g/m3"
    found = ask("gap", f"electrodes=needle-gap&voltage={kilovolts_asked}kV&{air}")["gaps"][0]
    assert least <= found["value"] <= most


def test_the_onset_of_corona_in_a_tube(ask):
    # 2 and 20 mm: 14.1 kV expected by the classical formula; the criterion says 14.6
    found = ask("breakdown", "electrodes=coaxial-cylinders&inner_diameter=2mm&outer_diameter=20mm")
    assert found["inception_voltage"]["value"] == pytest.approx(14.1, rel=0.05)


def test_what_the_sharpest_electrode_holds_is_never_more_than_the_table_printed_for_it(ask):
    # IEC 60664-1 Table A.1, case A, 50/60 Hz peak, 80 kPa: 7.0, 17.9, 27.7, 50.0 kV at 10, 30, 50, 100 mm
    for millimetres, volts in ((10, 7.0), (30, 17.9), (50, 27.7), (100, 50.0)):
        assert kilovolts(ask, f"gap={millimetres}mm&pressure=80kPa")["low"] <= volts * (1 + 1e-9)


def test_what_cannot_be_asked_is_refused(ask):
    for query in ("gap=12m", f"{PLATES}&gap=1cm&gas=sulfur-hexafluoride&pressure=100bar"):
        with pytest.raises(OutsideValidity):
            ask("breakdown", query)


@pytest.mark.parametrize("name", ["conductor-plane", "conductor-window", "conductor-crossarm"])
@pytest.mark.parametrize("gap", ["3m", "5m"])
def test_gap_factors_of_slow_and_fast_voltages_follow_that_of_slow_fronts(client, name, gap):
    """IEC 60071-2 annex, from memory: power frequency 1.35 K - 0.35 K^2, lightning 0.74 + 0.26 K over rod and plane."""

    def ratio(query):
        configured, plain = (
            client.get(f"/v1/breakdown?electrodes=rod-plane&gap={gap}&{query}{more}").get_json()["breakdown_voltage"]
            for more in (f"&configuration={name}", "")
        )
        return configured["value"] / plain["value"]

    slow = ratio("waveform=switching-impulse&polarity=positive")
    assert ratio("waveform=ac") == pytest.approx(1.35 * slow - 0.35 * slow**2, rel=0.01)
    lightning = ratio("waveform=lightning-impulse&polarity=positive")
    assert lightning == pytest.approx(0.74 + 0.26 * slow, rel=0.01)


@pytest.mark.parametrize(
    ("method", "table"),
    [("rod-plane-direct-negative", "rod-plane-direct"), ("rod-plane-alternating", "rod-plane-formulas")],
)
def test_a_law_of_rods_names_the_table_that_its_numbers_are_of(client, method, table):
    listed = {one["key"]: one["source"] for one in client.get("/v1/methods").get_json()["methods"]}
    tables = {one["key"]: one["source"] for one in client.get("/v1/tables").get_json()["tables"]}
    assert listed[method]["citation"] == tables[table]["citation"]


@pytest.mark.parametrize(("polarity", "low", "high"), [("positive", 0.45, 0.5), ("negative", 0.75, 1.35)])
def test_a_long_gap_at_direct_voltage_has_the_gradients_of_the_handbooks(client, polarity, low, high):
    """Mean gradients of rod and plane, kV/mm, dry air; handbook values, from memory."""
    query = f"electrodes=rod-plane&gap=2m&waveform=dc&polarity={polarity}&method=rod-plane-direct-{polarity}"
    found = client.get(f"/v1/breakdown?{query}").get_json()["breakdown_voltage"]
    assert found["low"] <= 2000 * low * (1 + 1e-9)
    assert found["high"] >= 2000 * high * (1 - 1e-9)
    assert (found["low"], found["high"]) == pytest.approx((2000 * low, 2000 * high), rel=0.1)
    other = "negative" if polarity == "positive" else "positive"
    refused = client.get(f"/v1/breakdown?{query.replace(f'polarity={polarity}', f'polarity={other}')}")
    assert (refused.status_code, refused.get_json()["errors"][0]["parameter"]) == (422, "polarity")


def test_two_wires_spark_before_corona_up_to_585_hundredths_of_their_radius(client):
    """Peek 1929, from memory: axes 5.85 radii apart, so 3.85 radii of air; beyond, corona comes first."""
    near, far = (
        client.get(f"/v1/breakdown?electrodes=parallel-wires&wire_diameter=10mm&gap={gap}mm").get_json()
        for gap in (19.24, 19.26)
    )
    assert near["breakdown_voltage"]["value"] is not None
    assert far["breakdown_voltage"]["value"] is None


def test_needles_are_known_to_a_tenth(client):
    """The table states no uncertainty; a tenth is common practice, no source."""
    volts = client.get("/v1/breakdown?electrodes=needle-gap&gap=10mm").get_json()["breakdown_voltage"]
    assert (volts["low"] / volts["value"], volts["high"] / volts["value"]) == pytest.approx((0.9, 1.1))
