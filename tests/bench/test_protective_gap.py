"""Protective gap: what it holds and where it fires, checked forwards through the breakdown answer."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.answers.evaluate import evaluate
from service.errors import BadQuestion, OutsideValidity
from service.lookups import breakdown, protective_gap

SPHERES = "electrodes=sphere-gap&sphere_diameter=2cm&waveform=dc"
STEADY = (
    "&pressure_from=101.3kPa&pressure_to=101.3kPa&temperature_from=20degC&temperature_to=20degC"
    "&absolute_humidity=8.5g/m3&spacing_uncertainty=1nm"
)
"""Nothing but scatter and time lag is left to allow for."""


def test_a_wide_window_has_a_spacing(ask):
    document = ask(protective_gap, f"hold=12kV&fire_below=30kV&{SPHERES}")
    spacing = document["spacing"]
    assert spacing["value"] is None
    assert 4.0 < spacing["low"] < spacing["high"] < 6.5
    assert "surely" not in document["explanation"]
    assert set(document["allowed_for"]) == {
        "scatter_below",
        "scatter_above",
        "time_lag",
        "spacing_uncertainty",
        "pressure",
        "temperature",
        "absolute_humidity",
    }


def test_an_ordinary_year_leaves_no_spacing_where_one_day_did(ask):
    """12 and 22 kV have 3.84 to 4.73 mm at 20 degC, where plates fire and so any spheres; in a year they have none."""
    document = ask(protective_gap, f"hold=12kV&fire_below=22kV&{SPHERES}")
    assert "spacing" not in document
    assert "97 to 104 kPa and 5 to 32 °C" in document["explanation"]
    day = ask(protective_gap, f"hold=12kV&fire_below=22kV&{SPHERES}{STEADY}")["spacing"]
    assert (day["low"], day["high"]) == (pytest.approx(3.84, abs=5e-3), pytest.approx(4.73, abs=5e-3))


def test_a_window_narrower_than_the_setting_error_is_none(ask):
    """10 and 13 kV, irradiated, had a window of a tenth of a millimetre without a word."""
    query = f"hold=10kV&fire_below=13kV&{SPHERES[:-12]}&irradiated=yes{STEADY}"
    narrow = ask(protective_gap, query)["spacing"]
    assert 0 < narrow["high"] - narrow["low"] < 0.12
    assert "spacing" not in ask(protective_gap, query.replace("1nm", "0.06mm"))


def test_the_low_end_holds_and_the_high_end_fires(ask):
    # common practice, no source: three deviations of 3 %, a fifth for the time lag without irradiation
    spacing = ask(protective_gap, f"hold=12kV&fire_below=22kV&{SPHERES}{STEADY}")["spacing"]
    low = ask(breakdown, f"gap={spacing['low']!r}mm&{SPHERES}")
    high = ask(breakdown, f"gap={spacing['high']!r}mm&{SPHERES}")
    # digits are cut towards caution: less than 0.3 % of a spacing of three digits
    assert 12.0 <= low["breakdown_voltage"]["low"] * 0.91 < 12.0 * 1.005
    assert 12.0 <= low["withstand_estimate"]["value"] < 12.0 * 1.005
    assert 22.0 * 0.995 < high["breakdown_voltage"]["high"] * 1.09 * 1.2 <= 22.0


def test_a_narrow_window_has_none_and_says_which_it_would_need(ask):
    document = ask(protective_gap, f"hold=12kV&fire_below=15kV&{SPHERES}")
    assert "spacing" not in document
    needed = document["window_needed"]
    assert needed["holding"]["hold"]["value"] == pytest.approx(12.0)
    assert needed["holding"]["fire_below"]["value"] > 15.0
    assert needed["firing"]["fire_below"]["value"] == pytest.approx(15.0)
    assert needed["firing"]["hold"]["value"] < 12.0
    assert f"{needed['holding']['fire_below']['value']:g} kV" in document["explanation"]


@pytest.mark.parametrize(
    "shape", [SPHERES, "electrodes=uniform-field", "electrodes=rod-gap&waveform=lightning-impulse"]
)
def test_the_pairs_of_voltages_that_are_named_have_a_spacing(ask, shape):
    needed = ask(protective_gap, f"hold=112kV&fire_below=115kV&{shape}".replace("11", "1" if "2cm" in shape else "11"))
    for pair in needed["window_needed"].values():
        hold, below = (pair[name]["value"] for name in ("hold", "fire_below"))
        # the spacing has four digits
        query = f"hold={hold * 0.999!r}kV&fire_below={below * 1.001!r}kV&{shape}"
        assert "spacing" in ask(protective_gap, query)


WEATHER = [
    (97, 5, 1),
    (97, 32, 1),
    (97, 32, 20),
    (104, 5, 1),
    (104, 5, 6.5),
    (104, 32, 20),
    (100, 18, 9),
    (102, 27, 12),
]


@pytest.mark.parametrize(
    ("shape", "hold", "below"),
    [
        (SPHERES, 12, 30),
        ("electrodes=sphere-gap&sphere_diameter=10cm&waveform=lightning-impulse", 40, 90),
        ("electrodes=uniform-field", 5, 14),
        ("electrodes=unknown", 12, 100),
        ("electrodes=coaxial-cylinders&inner_diameter=2cm&waveform=dc", 12, 30),
        ("electrodes=rod-gap&waveform=lightning-impulse", 150, 450),
    ],
)
def test_every_setting_of_the_window_does_both_in_all_weather_and_wear(ask, shape, hold, below):
    """Forwards, through the breakdown answer, over the year, both polarities and the error of the setting."""
    document = ask(protective_gap, f"hold={hold}kV&fire_below={below}kV&{shape}&spacing_uncertainty=0.1mm")
    spacing = document["spacing"]
    sides = ["", "&polarity=positive", "&polarity=negative"] if "waveform" in shape else [""]
    cut = shape.split("&waveform")[0]
    wave = shape[len(cut) :]
    for kilopascals, celsius, water in WEATHER:
        for side in sides:
            air = f"pressure={kilopascals}kPa&temperature={celsius}degC&absolute_humidity={water}g/m3{wave}{side}"
            for gap in (spacing["low"] - 0.1, (spacing["low"] + spacing["high"]) / 2, spacing["high"] + 0.1):
                size = f"gap={gap!r}mm&{cut}"
                if "coaxial" in cut:
                    size = f"electrodes=coaxial-cylinders&inner_diameter=20mm&outer_diameter={20 + 2 * gap!r}mm"
                there = ask(breakdown, f"{size}&{air}")
                assert there["withstand_estimate"]["value"] >= hold * (1 - 1e-9)
                assert there["breakdown_voltage"]["high"] * 1.09 * 1.2 <= below * (1 + 1e-9)


def test_a_given_range_is_kept(ask):
    query = f"hold=12kV&fire_below=30kV&{SPHERES}&pressure_from=80kPa&pressure_to=90kPa&temperature_from=-10degC"
    document = ask(protective_gap, query)
    assert document["allowed_for"]["pressure"] == {"value": None, "low": 80.0, "high": 90.0, "unit": "kPa"}
    assert document["allowed_for"]["temperature"]["low"] == pytest.approx(-10.0)
    assert "pressure_from" not in document["asked"]["assumed"]
    assert {"temperature_to", "spacing_uncertainty"} <= set(document["asked"]["assumed"])
    for bad in ("pressure_from=104kPa&pressure_to=97kPa", "pressure=90kPa&pressure_from=95kPa"):
        with pytest.raises(BadQuestion):
            ask(protective_gap, f"hold=12kV&fire_below=30kV&{SPHERES}&{bad}")


def test_the_weather_of_a_mountain_is_about_its_own_pressure(ask):
    document = ask(protective_gap, f"hold=12kV&fire_below=30kV&{SPHERES}&altitude=1600m")
    # ISO 2533: 83.5 kPa at 1600 m; the weather moves it in proportion
    assert document["allowed_for"]["pressure"]["low"] == pytest.approx(83.5 * 97 / 101.325, rel=1e-3)
    assert document["allowed_for"]["pressure"]["high"] == pytest.approx(83.5 * 104 / 101.325, rel=1e-3)


def test_irradiation_widens_the_choice(ask):
    query = f"hold=12kV&fire_below=30kV&{SPHERES}"
    dark, lit = (ask(protective_gap, f"{query}&irradiated={key}")["spacing"]["high"] for key in ("no", "yes"))
    assert lit > dark * 1.15


def test_unknown_electrodes_need_a_far_wider_window(ask):
    assert "spacing" not in ask(protective_gap, "hold=12kV&fire_below=22kV")
    # 12 kV is held by any electrodes from 16.5 mm on, where plates fire at up to 64 kV; this and its scatter, 9 %, and
    # the time lag, 20 %: 67 kV at the least
    assert "spacing" not in ask(protective_gap, "hold=12kV&fire_below=60kV")
    assert "spacing" in ask(protective_gap, "hold=12kV&fire_below=80kV")


def test_of_coaxial_cylinders_the_inner_one_is_given_alone(ask):
    query = "hold=12kV&fire_below=30kV&electrodes=coaxial-cylinders&inner_diameter=2cm"
    assert "spacing" in ask(protective_gap, query)
    with pytest.raises(BadQuestion, match="outer"):
        ask(protective_gap, f"{query}&outer_diameter=4cm")


def test_a_gap_that_fires_below_what_it_holds_is_a_contradiction(ask):
    with pytest.raises(BadQuestion):
        ask(protective_gap, f"hold=12kV&fire_below=12kV&{SPHERES}")


@pytest.mark.parametrize(
    "query",
    [
        "hold=12kV&fire_below=24kV&gas=argon",
        "hold=12kV&fire_below=90kV&electrodes=uniform-field&gas=vacuum",
        f"hold=5MV&fire_below=8MV&{SPHERES}",
    ],
)
def test_what_no_method_knows_is_refused(ask, query):
    with pytest.raises(OutsideValidity):
        ask(protective_gap, query)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(hold=st.floats(4.0, 20.0), ratio=st.floats(1.05, 4.0))
def test_a_spacing_exists_exactly_where_the_window_is_wide_enough(ask, hold, ratio):
    document = ask(protective_gap, f"hold={hold!r}kV&fire_below={hold * ratio!r}kV&electrodes=uniform-field{STEADY}")
    # uniform field, 3 %: 1.03 * 1.09 * 1.2 over 0.97 * 0.91, the same at every gap
    enough = 1.03 * 1.09 * 1.2 / (0.97 * 0.91)
    if abs(ratio / enough - 1) > 1e-3:  # settings have four digits
        assert ("spacing" in document) == (ratio >= enough)


def test_all_weather_is_asked_at_once(ask, monkeypatch):
    """Counted, not timed: the corners of the weather are one evaluation for each polarity."""
    sizes = []

    def counted(arrangement, case, **how):
        sizes.append(case.size)
        return evaluate(arrangement, case, **how)

    monkeypatch.setattr(protective_gap, "evaluate", counted)
    ask(protective_gap, "hold=8kV&fire_below=30kV&electrodes=sphere-plane&sphere_diameter=2cm")
    assert 0 < len(sizes) <= protective_gap.ROUNDS + 2
    slow = len(sizes)
    ask(
        protective_gap,
        "hold=8kV&fire_below=36kV&electrodes=sphere-plane&sphere_diameter=2cm&waveform=lightning-impulse",
    )
    assert len(sizes) - slow <= 2 * (protective_gap.ROUNDS + 2)
    sizes.clear()
    with pytest.raises(OutsideValidity):
        ask(protective_gap, "hold=11kV&fire_below=30kV&electrodes=sphere-gap&sphere_diameter=2cm&pressure_from=40Pa")
    assert sum(size > max(sizes) / 2 for size in sizes) == 1


@pytest.mark.parametrize("pressures", [(50, 52), (62, 106), (300, 310)])
@pytest.mark.parametrize("query", ["hold=12kV&fire_below=70kV", "hold=5kV&fire_below=60kV"])
def test_no_setting_is_lost_where_the_weather_differs_widely(ask, monkeypatch, query, pressures):
    """High in the mountains, from there to a cold day at the sea, in a vessel: only what no day needs is left out."""
    asked = f"{query}&electrodes=sphere-gap&sphere_diameter=10cm&waveform=dc&irradiated=yes"
    asked += f"&pressure_from={pressures[0]}kPa&pressure_to={pressures[1]}kPa&absolute_humidity=1g/m3"
    found = ask(protective_gap, asked)
    monkeypatch.setattr(protective_gap, "GENEROUSLY", 1e3)
    assert found["spacing"] == ask(protective_gap, asked)["spacing"]


@pytest.mark.parametrize(("given_", "refused"), [("pressure=90kPa", True), ("pressure=100kPa", False), ("", False)])
def test_weather_that_leaves_out_what_was_measured_is_refused(ask, given_, refused):
    query = f"hold=12kV&fire_below=40kV&{SPHERES}&pressure_from=95kPa&pressure_to=105kPa&{given_}"
    if refused:
        with pytest.raises(BadQuestion, match="leaves out the pressure that was given"):
            ask(protective_gap, query)
    else:
        assert ask(protective_gap, query)["spacing"]
