"""Plates as an arrangement: which method answers where, its band, what it says, and what is refused."""

import numpy as np
import pytest

from service.answers.evaluate import evaluate
from service.answers.situation import gas_parameter
from service.errors import BadQuestion, OutsideValidity
from service.methods import Case


@pytest.fixture
def plates(ask):
    return lambda query: ask("breakdown", f"electrodes=uniform-field&{query}")


@pytest.fixture
def evaluated(registry):
    def at(gas, gaps):
        size = gaps.size
        around = (np.full(size, value) for value in (1e5, 293.15, np.nan, 0.0))
        return evaluate(registry.arrangement("uniform-field"), Case(gaps, *around, gas=gas, waveform="dc"))

    return at


def key(document):
    return document["method"]["key"]


def volts(document, part="value"):
    return document["breakdown_voltage"][part]


def others(document):
    return {one["key"]: one for one in document["also"]}


# --- which method answers -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "method"),
    [
        ("gap=8mm", "quadratic-root-kuffel"),
        ("gap=1m&pressure=500kPa", "quadratic-root-kuffel"),
        ("gap=35um", "townsend-air"),
        ("gap=10mm&pressure=200Pa", "townsend-air"),
        ("gap=4mm&pressure=100Pa", "left-branch-air"),
        ("gap=5um", "micro-gap"),
        ("gas=nitrogen&gap=1cm", "townsend-nitrogen"),
        ("gas=nitrogen&gap=10cm", "streamer-nitrogen"),
        ("gas=oxygen&gap=1mm", "townsend-oxygen"),
        ("gas=oxygen&gap=5cm", "streamer-oxygen"),
        ("gas=hydrogen&gap=5cm", "streamer-hydrogen"),
        ("gas=helium&gap=5cm", "streamer-helium"),
        ("gas=neon&gap=5cm", "streamer-neon"),
        ("gas=krypton&gap=5cm", "square-root-krypton-wide"),
        ("gas=carbon-dioxide&gap=5cm", "streamer-carbon-dioxide-wide"),
        ("gas=sulfur-hexafluoride&gap=0.1mm", "streamer-sulfur-hexafluoride-small-pd"),
        ("gas=argon-methane&fraction=90percent&gap=1cm", "measured-argon-methane"),
        ("gas=argon-carbon-dioxide&fraction=90percent&gap=5mm&pressure=5atm", "measured-argon-carbon-dioxide"),
        ("gas=argon-tetrafluoromethane&fraction=99percent&gap=1mm", "measured-argon-tetrafluoromethane"),
        ("gas=hydrogen-chloride&gap=1mm&pressure=1kPa", "closed-form-hydrogen-chloride"),
        ("gas=water-vapour&gap=1mm&pressure=1kPa", "closed-form-water-vapour"),
        ("gas=hydrogen&gap=1mm", "townsend-hydrogen"),
        ("gas=helium&gap=1cm", "townsend-helium"),
        ("gas=neon&gap=1cm", "townsend-neon"),
        ("gas=argon&gap=1cm", "square-root-argon"),
        ("gas=argon&gap=1mm&pressure=1kPa", "square-root-argon-low-pd"),
        ("gas=xenon&gap=5mm", "square-root-xenon"),
        ("gas=krypton&gap=5mm", "square-root-krypton"),
        ("gas=methane&gap=1cm&pressure=100Pa", "closed-form-methane"),
        ("gas=carbon-dioxide&gap=1cm", "streamer-carbon-dioxide"),
        ("gas=sulfur-hexafluoride&gap=1cm", "linear-sulfur-hexafluoride"),
        ("gas=sulfur-hexafluoride-nitrogen&fraction=20percent&gap=1cm", "power-rule-sulfur-hexafluoride-nitrogen"),
        ("gas=sulfur-hexafluoride-nitrogen&fraction=2percent&gap=1cm", "streamer-sulfur-hexafluoride-nitrogen"),
        (
            "gas=sulfur-hexafluoride-carbon-dioxide&fraction=30percent&gap=1cm",
            "streamer-sulfur-hexafluoride-carbon-dioxide",
        ),
        ("gas=tetrafluoromethane&gap=1mm&pressure=2atm", "measured-tetrafluoromethane"),
        ("gas=vacuum&gap=1mm", "vacuum"),
    ],
)
def test_the_preferred_method_of_each_gas_and_range(query, method, plates):
    found = plates(query)
    assert key(found) == method
    assert volts(found, "low") < volts(found) < volts(found, "high")
    assert found["method"]["source"]["citation"]
    assert found["method"]["validity"]


@pytest.mark.parametrize(
    ("query", "low", "high"),
    [
        ("gap=8mm", 3, 3),
        # at 141 kV/cm the surface counts beside the gas: 10 % below becomes 11.5 %
        ("gap=35um", 11.47, 10),
        ("gap=4mm&pressure=100Pa", 40, 40),
        ("gas=nitrogen&gap=1cm", 15, 15),
        ("gas=hydrogen&gap=1cm", 20, 40),  # the textbook figure, 0.65 of air, is 20.4 kV
        ("gas=argon&gap=1cm", 15, 30),  # a point of 0.1 mm lies 27 % above
        ("gas=xenon&gap=5mm", 50, 50),
        ("gas=krypton&gap=5mm", 40, 40),
        ("gas=carbon-dioxide&gap=1cm", 25, 30),
        ("gas=sulfur-hexafluoride&gap=1cm", 5, 5),
        ("gas=sulfur-hexafluoride-nitrogen&fraction=20percent&gap=1cm", 15, 15),
        ("gas=tetrafluoromethane&gap=1mm&pressure=2atm", 15, 15),
        # where nothing is said of conditioning the low end is a fifth; plain copper breaks down from about 15 kV
        ("gas=vacuum&gap=1mm", 80, 100),
        ("gas=vacuum&gap=1mm&conditioned=yes", 50, 100),
        ("gas=vacuum&gap=1mm&conditioned=no", 60, 100),
    ],
)
def test_the_band_is_the_one_that_is_stated(query, low, high, plates):
    found = plates(query)
    assert 1 - volts(found, "low") / volts(found) == pytest.approx(low / 100, rel=1e-3)
    assert volts(found, "high") / volts(found) - 1 == pytest.approx(high / 100, rel=1e-6)
    assert found["method"]["uncertainty_percent"] >= min(low, high)


def test_the_answer_of_the_contract(plates):
    found = plates("gap=8mm")
    assert volts(found) == pytest.approx(25.79, abs=5e-3)
    assert volts(found, "low") == pytest.approx(25.0, abs=0.05)
    assert volts(found, "high") == pytest.approx(26.6, abs=0.05)
    assert found["mean_field"]["value"] == pytest.approx(3.22, abs=5e-3)
    assert found["corrections"]["relative_air_density"] == 1.0


def test_cross_checks_stand_beside_the_answer(plates):
    beside = others(plates("gap=2cm"))
    assert {"schumann-table", "quadratic-root-bruce", "quadratic-root-ritz"} <= set(beside)
    assert abs(beside["quadratic-root-ritz"]["difference_percent"]) < 1
    assert "townsend-air" not in beside  # 7 % low here, and not used


def test_the_closed_form_of_air_is_beside_townsend_s_criterion_within_its_printed_range_only(plates):
    assert "closed-form-air-raizer" in others(plates("gap=10mm&pressure=200Pa"))
    assert "closed-form-air-raizer" not in others(plates("gap=1cm"))


# --- density, humidity, frequency -----------------------------------------------------------------------------------


@pytest.mark.parametrize("gas", ["air", "nitrogen", "argon", "helium", "carbon-dioxide", "sulfur-hexafluoride"])
def test_density_alone_counts_and_not_pressure_or_temperature(gas, plates):
    here = plates(f"gas={gas}&gap=5mm&pressure=100kPa&temperature=20degC")
    warmer = plates(f"gas={gas}&gap=5mm&pressure=125kPa&temperature={293.15 * 1.25}K")
    assert volts(warmer) == pytest.approx(volts(here), rel=1e-9)


def test_air_at_altitude_and_in_the_cold(plates):
    # ISO 2533: 79.50 kPa at 2000 m; by hand 24.36 x 0.795 + 6.72 sqrt(0.795) = 25.36 kV
    assert volts(plates("gap=10mm&altitude=2000m")) == pytest.approx(25.36, rel=1e-3)
    cold = plates("gap=10mm&temperature=-30degC")
    assert volts(cold) > volts(plates("gap=10mm"))
    assert any("no humidity correction" in note for note in cold["notes"])


def test_humidity_widens_the_band_by_two_tenths_of_a_percent_per_gram(plates):
    found = plates("gap=10mm&absolute_humidity=13.5g/m3")
    assert volts(found) == volts(plates("gap=10mm"))
    assert 1 - volts(found, "low") / volts(found) == pytest.approx(0.03 + 0.01)
    assert volts(found, "high") / volts(found) - 1 == pytest.approx(0.03 + 0.01)


def test_humidity_belongs_to_air(plates):
    with pytest.raises(BadQuestion):
        plates("gas=nitrogen&gap=1cm&absolute_humidity=8.5g/m3")


def test_high_frequency_lowers_value_and_low_end(plates):
    # IEC 60664-4, memory: from 0.2 MHz mm over the gap to 0.8 at 3 MHz; the low end falls from 20 to 60 kHz
    slow, middle, fast = (plates(f"gap=5mm&frequency={f}") for f in ("50Hz", "60kHz", "3MHz"))
    assert volts(fast) == pytest.approx(0.8 * volts(slow), rel=1e-6)
    assert volts(middle, "low") == pytest.approx(0.8 * volts(slow, "low"), rel=0.01)
    assert volts(middle) > 0.99 * volts(slow)
    assert fast["corrections"]["frequency_factor"] == pytest.approx(0.8)
    with pytest.raises(OutsideValidity):
        plates("gap=5mm&frequency=20MHz")


def test_sulfur_hexafluoride_widens_below_at_high_pressure_and_high_field(plates):
    def below(query):
        found = plates(f"gas=sulfur-hexafluoride&{query}")
        return 1 - volts(found, "low") / volts(found)

    assert below("gap=1cm&pressure=2bar") == pytest.approx(0.05)
    assert below("gap=1cm&pressure=5bar") == pytest.approx(0.25)
    assert 0.05 < below("gap=1cm&pressure=3bar") < 0.25
    assert below("gap=0.5mm&pressure=2.2bar") > 0.05


def test_a_mixture_lies_between_its_gases_and_grows_with_the_share(plates):
    query = "gas=sulfur-hexafluoride-nitrogen&gap=1cm&fraction="
    mixed = [volts(plates(f"{query}{share}percent")) for share in (5, 10, 20, 50, 100)]
    assert mixed == sorted(mixed)
    assert mixed[-1] == pytest.approx(volts(plates("gas=sulfur-hexafluoride&gap=1cm")))
    assert mixed[0] > volts(plates("gas=nitrogen&gap=1cm"))


def test_rule_and_computed_mixtures_stand_beside_each_other(plates):
    found = plates("gas=sulfur-hexafluoride-nitrogen&gap=1cm&fraction=20percent")
    beside = others(found)["streamer-sulfur-hexafluoride-nitrogen"]
    assert abs(beside["difference_percent"]) < 8


# --- refusals -------------------------------------------------------------------------------------------------------


def refused(plates, query):
    with pytest.raises(OutsideValidity) as caught:
        plates(query)
    return caught.value


def test_two_centimetres_of_air_by_the_closed_form_are_refused_with_its_range(plates):
    error = refused(plates, "gap=2cm&method=closed-form-air-raizer")
    [fault] = error.faults
    # what an asker changes is the gap, told in its own unit: pd over 101.3 kPa
    assert fault.parameter == "gap"
    assert fault.valid["low"].block()["value"] * 101.3 == pytest.approx(0.647, abs=1e-3)
    assert fault.valid["high"].block()["value"] * 101.3 == pytest.approx(15.78, abs=0.01)
    assert "100 to 800 V/(cm Torr)" in error.detail


@pytest.mark.parametrize("pressure", ["0.02Pa", "1Pa", "1kPa"])
def test_between_vacuum_and_the_left_branch_everything_is_refused(pressure, plates):
    error = refused(plates, f"gas=vacuum&gap=1mm&pressure={pressure}")
    assert error.faults[0].valid["high"].block()["value"] == pytest.approx(1e-5)
    # a pressure more than ten times lower is no suggestion but another question
    assert error.suggestion == ({"pressure": "1e-05kPa"} if pressure == "0.02Pa" else {})
    refused(plates, "gap=1mm&pressure=1Pa")


@pytest.mark.parametrize("query", ["gap=9um&pressure=50kPa", "gap=1um&pressure=200kPa", "gap=0.05um"])
def test_micrometre_gaps_away_from_atmospheric_pressure_are_refused(query, plates):
    refused(plates, query)


@pytest.mark.parametrize("gas", ["nitrogen", "argon", "sulfur-hexafluoride"])
def test_micrometre_gaps_in_other_gases_are_refused(gas, plates):
    refused(plates, f"gas={gas}&gap=5um")


@pytest.mark.parametrize(
    "query",
    [
        "gas=tetrafluoromethane&gap=2mm",
        "gas=tetrafluoromethane&gap=1mm&pressure=20bar",
        "gas=methane&gap=10cm",
        "gas=methane&gap=1cm&pressure=1kPa",
        "gas=c5f10o&gap=1cm",
        "gas=c4f7n&gap=1cm&pressure=3bar",
        "gas=sulfur-hexafluoride&gap=0.05mm",
        "gas=argon-methane&gap=1cm&fraction=80percent",
        "gas=argon-methane&gap=2cm&fraction=90percent",
        "gas=sulfur-hexafluoride&gap=10um&pressure=10kPa",
        "gas=sulfur-hexafluoride&gap=1cm&pressure=6bar",
        "gas=sulfur-hexafluoride&gap=1cm&temperature=300degC",
        "gas=sulfur-hexafluoride-carbon-dioxide&fraction=60percent&gap=1cm",
        "gas=sulfur-hexafluoride-nitrogen&fraction=0.5percent&gap=1cm",
        "gas=nitrogen&gap=100um&pressure=20bar",
        "gas=oxygen&gap=11cm",
        "gas=nitrogen&gap=21cm",
        "gap=2m",
        "gap=1cm&pressure=20bar",
    ],
)
def test_nothing_is_stretched_beyond_a_range(query, plates):
    error = refused(plates, query)
    assert error.faults
    assert any(fault.valid for fault in error.faults)


def test_measured_points_are_not_moved_to_another_gap(plates):
    error = refused(plates, "gas=tetrafluoromethane&gap=2mm")
    assert "exactly 1 mm" in error.detail
    assert error.suggestion == {"gap": "1mm"}


# --- what an answer says --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("gap=50um", "beyond its printed range"),
        ("gap=10mm&pressure=100Pa", "not its position"),
        ("gap=10mm&pressure=100Pa", "published ones 327 to 352 V"),
        ("gap=10mm&pressure=100Pa", "leaves out the ratio"),
        ("gap=4mm&pressure=100Pa", "longer paths break first"),
        ("gap=5um", "the electrodes decide"),
        ("gap=1mm&waveform=lightning-impulse", "scatters upward"),
        ("gas=nitrogen&gap=1mm", "straight in the logarithm of pd"),
        ("gas=argon&gap=1mm", "Purity"),
        ("gas=argon&gap=1mm", "137 and 265 V"),
        ("gas=helium&gap=1mm", "Secondary coefficient"),
        ("gas=carbon-dioxide&gap=1mm", "above air"),
        ("gas=sulfur-hexafluoride&gap=1mm&pressure=3bar", "roughness"),
        ("gas=sulfur-hexafluoride&gap=1mm&temperature=-40degC", "condenses"),
        ("gas=vacuum&gap=1mm", "conditioning"),
        ("gas=vacuum&gap=1mm", "area"),
        ("gas=vacuum&gap=1mm", "particle"),
        ("gas=vacuum&gap=1mm", "insulator across a vacuum gap"),
        ("gas=vacuum&gap=1mm", "total voltage"),
        ("gas=vacuum&gap=1mm", "X-rays are possible"),
        ("gap=1cm&pressure=3bar", "the surface counts"),
        ("gas=nitrogen&gap=1cm&pressure=3bar", "the surface counts"),
        ("gap=8mm", "flashes over"),
    ],
)
def test_what_an_answer_rests_on_is_said(query, said, plates):
    assert any(said.lower() in note.lower() for note in plates(query)["notes"])


def test_a_plain_answer_in_air_says_nothing_about_the_minimum(plates):
    assert not any("minimum" in note for note in plates("gap=8mm")["notes"])


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("gas=nitrogen&gap=1cm", ["suffocates"]),
        ("gas=hydrogen&gap=1cm", ["suffocates", "explodes"]),
        ("gas=oxygen&gap=1mm", ["burn fiercely"]),
        ("gas=sulfur-hexafluoride&gap=1cm", ["suffocates", "poisonous", "vessels"]),
        ("gas=vacuum&gap=1mm", ["implodes"]),
        ("gas=hydrogen-chloride&gap=1mm&pressure=1kPa", ["poisons", "suffocates"]),
        ("gas=sulfur-dioxide&gap=1cm", ["poisons"]),
        ("gas=nitrous-oxide&gap=1cm", ["feeds fire", "suffocates"]),
        ("gas=methane&gap=1cm", ["explodes"]),
        ("gas=argon-methane&fraction=90percent&gap=1cm", ["explodes", "suffocates"]),
        ("gas=c4f7n&gap=1cm", ["poisons", "by-products", "vessels"]),
        ("gas=water-vapour&gap=1mm&pressure=1kPa", ["scalds"]),
    ],
)
def test_what_the_gas_adds_to_the_cautions(query, words, plates):
    text = " ".join(caution["text"] for caution in plates(query)["cautions"] if caution["key"] == "gases")
    assert all(word in text for word in words)


def test_x_rays_are_a_caution_in_vacuum_above_5_kilovolts(plates):
    keys = [caution["key"] for caution in plates("gas=vacuum&gap=1mm")["cautions"]]
    assert "x-rays" in keys
    assert "gases" not in [caution["key"] for caution in plates("gap=8mm")["cautions"]]


# --- high pressure and field, vacuum, scatter -----------------------------------------------------------------------


def test_ten_bar_of_air_read_as_on_real_plates(plates):
    # expected 200 to 260 kV at 1 cm and 25 to 31 kV at 1 mm (common practice, no source)
    found = plates("gap=1cm&pressure=10bar")
    assert volts(found, "low") == pytest.approx(200, rel=0.01)
    assert volts(found, "high") == pytest.approx(272, rel=0.01)
    assert volts(plates("gap=1mm&pressure=10bar"), "low") <= 25


@pytest.mark.parametrize("gas", ["air", "nitrogen", "argon", "hydrogen", "carbon-dioxide", "sulfur-hexafluoride"])
def test_the_low_end_widens_without_a_step_and_rises_with_pressure(gas, plates):
    lows, shares = [], []
    for bar in (1.9, 1.999, 2.001, 2.2, 3.0, 4.0, 4.9):
        found = plates(f"gas={gas}&gap=2mm&pressure={bar}bar")
        lows.append(volts(found, "low"))
        shares.append(round(volts(found, "low") / volts(found), 9))
    assert lows == sorted(lows)
    assert shares == sorted(shares, reverse=True)
    assert shares[1] == pytest.approx(shares[2], rel=2e-3)


def test_a_vacuum_that_is_not_conditioned_breaks_down_from_a_fifth(plates):
    # Kuffel / Naidu and Kamaraju, 1 mm: 37 kV (copper) to 122 kV (steel), spark-conditioned; gain of conditioning 2
    unknown = plates("gas=vacuum&gap=1mm")
    yes, no = (plates(f"gas=vacuum&gap=1mm&conditioned={one}") for one in ("yes", "no"))
    assert volts(unknown, "low") == pytest.approx(volts(unknown) / 5)
    assert volts(no, "low") == volts(unknown, "low")
    assert volts(no, "high") == volts(yes)
    assert volts(no, "low") < 37 / 2 < volts(no, "high")
    assert volts(yes, "low") <= 37
    assert volts(yes, "high") >= 122
    assert unknown["asked"]["conditioned"] == "unknown"
    assert "conditioned" in unknown["asked"]["assumed"]


def test_vacuum_ends_at_fifty_millimetres_and_has_no_withstand_estimate(plates):
    assert "withstand_estimate" not in plates("gas=vacuum&gap=50mm&conditioned=yes")
    with pytest.raises(OutsideValidity):
        plates("gas=vacuum&gap=51mm")
    with pytest.raises(BadQuestion, match="belongs to gas=vacuum"):
        plates("gap=1mm&conditioned=yes")


@pytest.mark.parametrize(
    ("query", "deviation"),
    [
        ("gap=1cm", 0.03),  # IEC 60060-1, memory
        ("gap=1cm&waveform=switching-impulse", 0.06),
        # Norman et al. 2022, largest deviation of the shots of that gap
        ("gas=argon&gap=1mm", 0.266),
        ("gas=argon&gap=5mm", 0.0529),
        ("gas=xenon&gap=1mm", 0.1),
        ("gas=carbon-dioxide&gap=1mm", 0.136),
        ("gas=argon&gap=1cm", 0.03),  # 1 % of three shots: not less than in air
        ("gas=nitrogen&gap=1cm", None),
        ("gas=sulfur-hexafluoride&gap=1cm", None),
        ("gas=argon&gap=2cm", None),
        ("gas=argon&gap=1mm&waveform=lightning-impulse", None),
        # measured from 1 to 10 mm and from 0.1 to 10 atm: beyond, the scatter is not known
        ("gas=carbon-dioxide&gap=0.5mm", None),
        ("gas=carbon-dioxide&gap=1mm&pressure=9.9bar", 0.136),
        ("gas=carbon-dioxide&gap=1cm&pressure=11kPa", 0.036),
        ("gas=carbon-dioxide&gap=1cm&pressure=9kPa", None),
        ("gas=vacuum&gap=1mm", None),
    ],
)
def test_the_withstand_estimate_rests_on_the_scatter_that_is_known(query, deviation, plates):
    found = plates(query)
    held = found.get("withstand_estimate", {}).get("value")
    if deviation is None:
        assert held is None
        assert any("No withstand estimate" in note for note in found["notes"])
    else:
        assert held == pytest.approx(volts(found, "low") * (1 - 3 * deviation), rel=1e-6)


# --- gases known by their strength beside another, and ranges beyond the checked one ---------------------------------


@pytest.mark.parametrize(
    ("query", "low", "high"),
    [
        # NIST TN 1425 (1997), Devins 1980 and reviews, memory: times 0.5 + 88.4 x of sulfur hexafluoride
        ("gas=N2O&gap=1cm", 0.44 * 90.0, 0.44 * 90.0),
        ("gas=SO2&gap=1cm", 0.52 * 90.0, 0.68 * 90.0),
        ("gas=C4F7N&gap=1cm", 2.0 * 90.0, 2.74 * 90.0),
        ("gas=CF3I&gap=1cm", 1.21 * 90.0, 1.23 * 90.0),
        ("gas=c-C4F8&gap=1cm", 1.25 * 90.0, 1.31 * 90.0),
        ("gas=CH4&gap=1cm", 30.0, 35.0),  # common practice, no source
    ],
)
def test_a_relative_strength_is_served_as_a_bracket_that_holds_it(query, low, high, plates):
    found = plates(query)
    assert volts(found) is None
    assert found["method"]["kind"] == "bracket"
    assert "uncertainty_percent" not in found["method"] or found["method"]["uncertainty_percent"] is None
    assert volts(found, "low") < low <= high < volts(found, "high")
    assert "withstand_estimate" not in found
    assert any("strength beside sulfur hexafluoride" in note for note in found["notes"])


@pytest.mark.parametrize("gas", ["nitrous-oxide", "c4f7n", "methane", "sulfur-dioxide"])
def test_a_bracket_by_relative_strength_rises_with_the_gap(gas, plates):
    found = [plates(f"gas={gas}&gap={gap}mm") for gap in (1, 2, 4, 4.9, 5.1, 8, 20, 49)]
    for end in ("low", "high"):
        assert [volts(one, end) for one in found] == sorted(volts(one, end) for one in found)


@pytest.mark.parametrize(
    ("query", "low", "high"),
    [
        ("gas=nitrogen&gap=10cm&pressure=1atm", 264, 266),  # air 268; common practice, no source
        ("gas=sulfur-hexafluoride&gap=0.1mm&pressure=1atm", 1.55, 1.6),  # (K + 2460 x) / 27.7
        ("gas=hydrogen&gap=10cm", 100, 165),  # 0.18 of sulfur hexafluoride: 161 kV
        ("gas=helium&gap=10cm", 18, 54),  # 0.02 to 0.06 of it
    ],
)
def test_a_value_beyond_the_checked_range_is_where_it_is_expected(query, low, high, plates):
    assert low <= volts(plates(query)) <= high


def test_nitrogen_at_ten_bar_covers_real_plates(plates):
    found = plates("gas=nitrogen&gap=1cm&pressure=10bar")
    # 200 to 260 kV (common practice, no source)
    assert volts(found, "low") <= 200
    assert volts(found, "high") >= 260


@pytest.mark.parametrize("gas", ["nitrogen", "oxygen", "hydrogen", "helium", "neon", "krypton", "xenon"])
def test_the_value_goes_on_without_a_step_where_the_range_is_extended(gas, plates):
    last = {"nitrogen": 5066.0, "xenon": 1020.0}.get(gas, 1333.0)
    here, there = (plates(f"gas={gas}&gap={last / 1e5 * share * 1e3}mm&pressure=1bar") for share in (0.99999, 1.00001))
    assert key(here) != key(there)
    assert volts(there) == pytest.approx(volts(here), rel=1e-3)
    for end in ("low", "high"):
        assert volts(there, end) == pytest.approx(volts(here, end), rel=1e-3)


@pytest.mark.parametrize(
    "gas", ["nitrogen", "oxygen", "hydrogen", "helium", "neon", "argon", "krypton", "xenon", "carbon-dioxide"]
)
def test_no_end_of_a_band_falls_as_the_gap_grows(gas, evaluated):
    found = evaluated(gas, np.geomspace(2e-3, 0.2, 3000))
    for end in (found.value, found.low, found.high):
        assert np.all(np.diff(end[found.answered]) > 0)


def test_the_extension_below_the_printed_range_carries_the_band_of_its_neighbour(plates):
    for gap, half in (("40um", 0.10), ("90um", 0.10), ("150um", 0.0577), ("200um", 0.03)):
        found = plates(f"gap={gap}")
        assert volts(found, "high") / volts(found) - 1 == pytest.approx(half, abs=5e-4), gap
    beside = others(plates("gap=50um"))["closed-form-air-raizer"]["breakdown_voltage"]["value"]
    assert beside >= volts(plates("gap=50um"), "low")


@pytest.mark.parametrize(
    ("gas", "minimum", "dropped"),
    [
        ("helium", (150, 156), "square-root-helium"),
        ("helium", (150, 156), "closed-form-helium-lieberman-lichtenberg"),
        ("nitrogen", (240, 275), "closed-form-nitrogen-raizer-27-200"),
        ("neon", (244, 245), "closed-form-neon-raizer"),
        ("carbon-dioxide", (420, 420), "closed-form-carbon-dioxide"),
    ],
)
def test_a_form_whose_default_contradicts_the_published_minimum_is_not_valid(gas, minimum, dropped, ask, registry):
    # Naidu and Kamaraju; Kuffel, Zaengl, Kuffel; Cobine: minima of the table paschen-minima
    method = registry.methods[dropped]
    assert method.validity.given_secondary
    assert "only with a given gamma" in method.validity.words
    found = ask("paschen", f"gas={gas}&points=400")
    assert dropped not in found["curve"]["method"]
    assert dropped not in {one["key"] for one in found["also"]}
    given = ask("paschen", f"gas={gas}&gamma=0.05&points=50")["curve"]
    assert set(given["method"]) - {None}
    assert 0.75 * minimum[0] <= found["minimum"]["voltage"]["value"] <= 1.25 * minimum[1]


def test_what_stands_beside_an_answer_meets_its_band(plates):
    # every method that is called valid overlaps the preferred band, in every pure gas at bench gaps
    for gas in ("air", "nitrogen", "oxygen", "hydrogen", "helium", "neon", "argon", "xenon", "carbon-dioxide"):
        for gap in ("0.3mm", "1mm", "3mm", "1cm"):
            found = plates(f"gas={gas}&gap={gap}&pressure=100kPa")
            for beside in found["also"]:
                other = beside["breakdown_voltage"]
                assert other["low"] <= volts(found, "high"), (gas, gap, beside["key"])
                assert other["high"] >= volts(found, "low"), (gas, gap, beside["key"])


@pytest.mark.parametrize("altitude", ["0m", "1000m", "2000m", "2900m"])
def test_micro_gaps_are_answered_where_people_live(altitude, plates):
    assert key(plates(f"gap=5um&altitude={altitude}")) == "micro-gap"


def test_the_linear_branch_is_not_offered_where_it_goes_wrong(ask):
    query = "electrodes=sphere-gap&sphere_diameter=2cm&gap="
    narrow, wide = (ask("breakdown", f"{query}{gap}") for gap in ("60um", "300um"))
    assert "streamer-linear-branch" not in {narrow["method"]["key"], *(one["key"] for one in narrow["also"])}
    assert "streamer-linear-branch" in {wide["method"]["key"], *(one["key"] for one in wide["also"])}


def test_a_formula_names_every_gas_that_has_one(registry):
    table = registry.reference.table("gases")
    gas = gas_parameter(registry)
    for formula, name in zip(table.text("formula"), table.text("key"), strict=True):
        if formula:
            assert gas.read(formula) == gas.read(formula.lower()) == gas.read(name) == name
