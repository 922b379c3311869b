"""Can a rating be true: the worked figures, and that a spark may refute the voltage."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadQuestion, OutsideValidity
from service.lookups import breakdown, source_check, spark

CLAIM = "input_voltage=24V&input_current=2A&output_voltage=12kV&output_current=30mA"


def verdicts(document):
    return {reading["output_current_is"]: reading["verdict"] for reading in document["readings"]}


def test_the_claim_is_impossible_as_an_average_and_open_as_a_pulse(ask):
    document = ask(source_check, CLAIM)
    assert document["input_power"] == {"value": 48.0, "unit": "W"}
    assert document["claimed_output_power"] == {"value": 360.0, "unit": "W"}
    assert document["largest_output_current"]["value"] == pytest.approx(4.0)
    assert verdicts(document) == {
        "average-at-voltage": "impossible",
        "short-circuit": "cannot-tell",
        "pulse": "cannot-tell",
    }
    assert document["verdict"] == "cannot-tell"
    assert "average at voltage: impossible" in document["explanation"]


def test_where_the_reading_is_told_it_alone_is_judged(ask):
    document = ask(source_check, f"{CLAIM}&output_current_is=average-at-voltage")
    assert verdicts(document) == {"average-at-voltage": "impossible"}
    assert document["verdict"] == "impossible"


def test_a_claim_within_the_balance_is_possible(ask):
    document = ask(source_check, CLAIM.replace("30mA", "3mA"))
    assert document["verdict"] == "possible"


def test_the_energy_of_a_pulse_needs_the_repetition_frequency(ask):
    assert "largest_pulse_energy" not in ask(source_check, CLAIM)
    document = ask(source_check, f"{CLAIM}&repetition_frequency=1kHz")
    assert document["largest_pulse_energy"]["value"] == pytest.approx(0.048)
    assert "133.3 µs" in document["readings"][2]["explanation"]


@pytest.mark.parametrize(
    ("repetition", "longest"), [("100Hz", "1.333 ms"), ("0.1Hz", "1.333 s"), ("50kHz", "2.667 µs")]
)
def test_the_time_within_a_pulse_is_told_in_a_unit_of_its_size(ask, repetition, longest):
    # 48 W over 360 W is 13.3 % of the period
    document = ask(source_check, f"{CLAIM}&repetition_frequency={repetition}")
    assert f"{longest} of each pulse" in document["readings"][2]["explanation"]


SPARK = "input_voltage=24V&input_current=2A&output_current=0.1mA"


@pytest.mark.parametrize(
    ("volts", "verdict", "over_all"),
    [("200kV", "too-high", "impossible"), ("3kV", "more-than-claimed", "more-than-claimed")],
)
def test_a_spark_may_refute_the_voltage_whatever_the_current(ask, volts, verdict, over_all):
    document = ask(source_check, f"{SPARK}&output_voltage={volts}&spark_length=9mm&spark_length_is=widest")
    assert document["spark"]["verdict"] == verdict
    assert document["verdict"] == over_all
    assert document["spark"]["explanation"] in document["explanation"]
    assert {"first-spark", "mean-current"} <= {caution["key"] for caution in document["cautions"]}


def test_a_longer_spark_is_a_hazard_and_never_impossible(ask):
    """3 kV that jump 9 mm were called impossible: they are more than 3 kV, which is a danger and no fraud.

    3 kV, since nobody said peak or rms: 4 kV rms are 5.7 kV peak, and at 2000 m 5 kV may jump 9 mm from a point.
    """
    document = ask(source_check, f"{SPARK}&output_voltage=3kV&spark_length=9mm")
    assert document["verdict"] == "more-than-claimed"
    assert "more dangerous than its label" in document["explanation"]


def test_a_set_gap_refutes_no_source(ask):
    """A 12 kV supply across 2 mm was called impossible: it would also have jumped further."""
    query = f"{SPARK}&output_voltage=12kV&spark_length=2mm&waveform=dc&measure=peak"
    told = ask(source_check, f"{query}&spark_length_is=set")
    assert (told["verdict"], told["spark"]["verdict"]) == ("possible", "cannot-tell")
    silent = ask(source_check, query)
    assert (silent["verdict"], silent["spark"]["verdict"]) == ("cannot-tell", "cannot-tell")
    assert silent["spark"]["depends_on"] == ["length_is"]
    assert "widest" in silent["explanation"]


def test_a_sign_transformer_in_rms_is_no_liar(ask):
    """15 kV rms and a first spark of 20 mm were impossible, since the claim was read as a direct peak."""
    rating = "input_voltage=230V&input_current=2.2A&output_voltage=15kV&output_current=30mA&spark_length=20mm"
    for said in ("", "&measure=rms&waveform=ac", "&measure=rms&waveform=ac&spark_length_is=widest"):
        assert ask(source_check, rating + said)["verdict"] != "impossible"
        assert ask(source_check, rating + said)["spark"]["verdict"] not in ("too-high", "more-than-claimed")


def test_a_supply_on_a_mountain_is_no_liar(ask):
    """12 kV direct jump up to 23 mm at 3600 m; 17 mm there were impossible."""
    rating = f"{SPARK}&output_voltage=12kV&spark_length=17mm&waveform=dc&measure=peak&altitude=3600m"
    for said in ("", "&spark_length_is=widest"):
        assert ask(source_check, rating + said)["spark"]["verdict"] != "more-than-claimed"
        assert ask(source_check, rating + said)["verdict"] != "impossible"


@pytest.mark.parametrize(
    ("current", "verdict"),
    [("4.000mA", "possible"), ("4.004mA", "possible"), ("4.02mA", "possible"), ("7mA", "impossible")],
)
def test_the_digits_of_a_label_are_a_tolerance(ask, current, verdict):
    """48.05 W claimed of 48 W were impossible, 48.00 W possible."""
    rating = f"input_voltage=24V&input_current=2A&output_voltage=12kV&output_current={current}&waveform=dc&measure=peak"
    document = ask(source_check, f"{rating}&output_current_is=average-at-voltage")
    assert document["verdict"] == verdict


def test_what_is_close_wants_more_digits(ask):
    rating = "output_voltage=12.0kV&output_current=4.5mA&waveform=dc&measure=peak&output_current_is=average-at-voltage"
    assert ask(source_check, f"input_voltage=24V&input_current=2A&{rating}")["verdict"] == "cannot-tell"
    assert ask(source_check, f"input_voltage=24.0V&input_current=2.00A&{rating}")["verdict"] == "impossible"


def test_a_claim_that_fits_in_some_measure_only_asks_for_the_measure(ask):
    rating = "input_voltage=24.0V&input_current=2.00A&output_voltage=12.0kV&output_current=5.0mA"
    document = ask(source_check, f"{rating}&output_current_is=average-at-voltage")
    assert document["verdict"] == "cannot-tell"
    assert "say the measure" in document["explanation"]
    told = ask(source_check, f"{rating}&output_current_is=average-at-voltage&measure=rms&waveform=ac")
    assert told["verdict"] == "impossible"
    # 12 kV peak of a sine are 8.49 kV rms: 42 W
    peak = ask(source_check, f"{rating}&output_current_is=average-at-voltage&measure=peak&waveform=ac")
    assert peak["verdict"] == "possible"


@pytest.mark.parametrize(
    "said",
    [
        "",
        "&measure=rms&waveform=ac",
        "&waveform=dc&polarity=negative&measure=peak&pressure=98.2kPa&temperature=27degC",
        "&altitude=1600m&spark_length_is=widest&measure=peak",
        "&waveform=lightning-impulse&spark_length_is=widest",
        "&spark_length_is=set&relative_humidity=40percent&measure=peak-to-peak",
        "&repetition_frequency=1kHz&waveform=pulse-train",
        "&gas=argon&spark_length_is=widest",
    ],
)
@pytest.mark.parametrize(("volts", "length"), [("4kV", "9mm"), ("12.0kV", "9.0mm"), ("30kV", "9mm"), ("100kV", "20mm")])
def test_verdict_and_sentence_are_those_of_the_spark_lookup(ask, volts, length, said):
    document = ask(source_check, f"{SPARK}&output_voltage={volts}&spark_length={length}{said}")
    same = said.replace("spark_length_is", "length_is")
    claim = ask(spark, f"claimed_voltage={volts}&length={length}{same}")["claim"]
    for name in ("verdict", "explanation", "electrodes_that_fit", "electrodes_that_may_fit"):
        assert document["spark"][name] == claim[name]


def test_a_spark_that_fits_leaves_the_balance_to_decide(ask):
    said = "&measure=peak&waveform=ac&pressure=101.3kPa&temperature=20degC"
    document = ask(source_check, f"{CLAIM}&spark_length=9mm&output_current_is=average-at-voltage{said}")
    assert document["spark"]["verdict"] == "fits-points"
    assert document["verdict"] == "impossible"
    assert "absolute_humidity" in document["asked"]["assumed"]


def test_a_claim_without_a_current_is_judged_by_its_spark(ask):
    rating = "input_voltage=3.7V&input_current=2A&output_voltage=400kV"
    document = ask(source_check, f"{rating}&spark_length=20mm&spark_length_is=widest")
    assert document["verdict"] == "impossible"
    assert "claimed_output_power" not in document
    assert "readings" not in document
    assert ask(source_check, rating)["verdict"] == "cannot-tell"
    assert ask(source_check, rating)["largest_output_current"]["value"] == pytest.approx(0.0185)


@pytest.mark.parametrize(
    ("energy", "repetition", "verdict"),
    [
        ("40mJ", "&repetition_frequency=1kHz", "possible"),
        ("90mJ", "&repetition_frequency=1kHz", "impossible"),
        ("90mJ", "", "cannot-tell"),
    ],
)
def test_the_energy_of_pulses_may_be_claimed(ask, energy, repetition, verdict):
    rating = f"input_voltage=24.0V&input_current=2.00A&output_voltage=12kV&pulse_energy={energy}{repetition}"
    assert ask(source_check, rating)["verdict"] == verdict


def test_no_sentence_has_a_power_of_ten(ask):
    rating = (
        "input_voltage=3.70V&input_current=2.00A&output_voltage=400kV&output_current=1.00A&waveform=dc&measure=peak"
    )
    for reading in ask(source_check, rating)["readings"]:
        assert "e+" not in reading["explanation"]


def test_every_input_of_the_balance_is_required(ask):
    with pytest.raises(BadQuestion) as refused:
        ask(source_check, "input_voltage=24V")
    assert {fault.parameter for fault in refused.value.faults} == {"input_current", "output_voltage"}


def test_what_belongs_to_a_spark_wants_a_spark(ask):
    with pytest.raises(BadQuestion, match="spark_length"):
        ask(source_check, f"{CLAIM}&spark_length_is=widest")


ALL = {
    "input_voltage": "24.0V",
    "input_current": "2.00A",
    "output_current": "{}mA",
    "output_voltage": "12.0kV",
    "output_current_is": "average-at-voltage",
    "spark_length": "{}mm",
    "spark_length_is": "widest",
    "measure": "peak",
    "waveform": "dc",
    "polarity": "negative",
    "pressure": "101.3kPa",
    "temperature": "20.0degC",
    "absolute_humidity": "8.5g/m3",
}


@settings(max_examples=40)
@given(
    current=st.floats(0.5, 30.0).map(lambda x: f"{x:.3g}"),
    length=st.floats(1.0, 60.0).map(lambda x: f"{x:.3g}"),
    taken=st.sampled_from([name for name in ALL if not name.startswith(("input", "output_voltage"))]),
)
def test_saying_less_never_makes_a_verdict(ask, current, length, taken):
    said = {**ALL, "output_current": f"{current}mA", "spark_length": f"{length}mm"}

    def verdict(values):
        return ask(source_check, "&".join(f"{name}={value}" for name, value in values.items()))["verdict"]

    whole = verdict(said)
    fewer = {name for name in said if name != taken}
    fewer -= {"spark_length_is"} if taken == "spark_length" else {"polarity"} if taken == "waveform" else set()
    less = verdict({name: said[name] for name in fewer})
    assert less == "cannot-tell" or whole != "cannot-tell" or taken == "spark_length"
    # without any spark there is less evidence, not a value less
    assert {whole, less} != {"possible", "impossible"} or taken == "spark_length"


SHAPES = [
    "electrodes=uniform-field",
    "electrodes=sphere-gap&sphere_diameter=5cm",
    "electrodes=needle-gap",
    "electrodes=rod-gap",
    "electrodes=point-plane&tip_radius=1mm",
    "electrodes=wire-plane&wire_diameter=2mm",
]


@settings(max_examples=40)
@given(
    shape=st.sampled_from(SHAPES),
    waveform=st.sampled_from(["ac", "dc", "lightning-impulse", "pulse-train"]),
    gap=st.floats(1.0, 80.0),
    share=st.floats(0.0, 1.0),
    late=st.floats(1.0, 1.2),
    kilopascals=st.floats(77.0, 104.0),
    celsius=st.floats(5.0, 32.0),
    measure=st.sampled_from(["peak", "rms", "peak-to-peak"]),
    said=st.sets(st.sampled_from(["measure", "waveform", "weather", "shape", "length_is"])),
)
def test_an_honest_seller_is_never_called_a_liar(
    ask, shape, waveform, gap, share, late, kilopascals, celsius, measure, said
):
    """Whatever of the truth is said: the widest spark of a source that gives what it claims refutes nothing."""
    air = f"pressure={kilopascals:.1f}kPa&temperature={celsius:.1f}degC"
    try:
        truth = ask(breakdown, f"gap={gap!r}mm&{shape}&waveform={waveform}&{air}")["breakdown_voltage"]
    except OutsideValidity:
        return
    least = truth["low"]
    if truth["value"] is None:  # of a bracket the low end may be corona; no electrodes spark below the sharpest ones
        least = max(least, ask(breakdown, f"gap={gap!r}mm&waveform={waveform}&{air}")["breakdown_voltage"]["low"])
    peak = least + share * (truth["high"] - least)
    peak *= late if waveform not in ("ac", "dc") else 1.0
    if measure == "rms" and waveform not in ("ac", "dc"):
        return
    claimed = {"peak": peak, "rms": peak / (2**0.5 if waveform == "ac" else 1.0), "peak-to-peak": 2 * peak}[measure]
    if measure == "peak-to-peak" and waveform != "ac":
        claimed = peak  # of one-sided pulses
    facts = {
        "measure": f"measure={measure}",
        "waveform": f"waveform={waveform}",
        "weather": air,
        "shape": shape,
        "length_is": "length_is=widest",
    }
    query = "&".join(
        [f"length={gap:.3g}mm", f"claimed_voltage={claimed:.3g}kV", *(facts[name] for name in sorted(said))]
    )
    claim = ask(spark, query)["claim"]
    assert claim["verdict"] not in ("too-high", "more-than-claimed"), query


@pytest.mark.parametrize("factor", [0.3, 5.0])
@pytest.mark.parametrize("waveform", ["ac", "dc", "pulse-train"])
def test_a_dishonest_seller_is_found_out_where_all_is_said(ask, waveform, factor):
    """A claim of a third or of five times what a uniform field needs, told with everything that it rests on."""
    said = f"waveform={waveform}&pressure=101.3kPa&temperature=20.0degC&electrodes=uniform-field&measure=peak"
    for gap in ("2.00mm", "9.00mm", "40.0mm"):
        volts = ask(breakdown, f"gap={gap}&electrodes=uniform-field&waveform={waveform}")["breakdown_voltage"]["value"]
        claim = ask(spark, f"length={gap}&claimed_voltage={factor * volts:.3g}kV&length_is=widest&{said}")["claim"]
        assert claim["verdict"] == ("too-high" if factor > 1 else "more-than-claimed")
