"""Can a rating be true: the worked figures, and that a spark may refute the voltage."""

import pytest

from service.errors import BadQuestion
from service.lookups import source_check

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
    assert "average-at-voltage: impossible" in document["explanation"]


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
    assert "133 us" in document["readings"][2]["explanation"]


@pytest.mark.parametrize(("repetition", "longest"), [("100Hz", "1.33 ms"), ("0.1Hz", "1.33 s"), ("50kHz", "2.67 us")])
def test_the_time_within_a_pulse_is_told_in_a_unit_of_its_size(ask, repetition, longest):
    # 48 W over 360 W is 13.3 % of the period
    document = ask(source_check, f"{CLAIM}&repetition_frequency={repetition}")
    assert f"{longest} of each pulse" in document["readings"][2]["explanation"]


@pytest.mark.parametrize(("volts", "verdict"), [("60kV", "too-high"), ("4kV", "too-low")])
def test_a_spark_may_refute_the_voltage_whatever_the_current(ask, volts, verdict):
    query = f"input_voltage=24V&input_current=2A&output_voltage={volts}&output_current=0.1mA&spark_length=9mm"
    document = ask(source_check, query)
    assert document["spark"]["verdict"] == verdict
    assert document["verdict"] == "impossible"
    assert {"first-spark", "mean-current"} <= {caution["key"] for caution in document["cautions"]}


def test_a_spark_that_fits_leaves_the_balance_to_decide(ask):
    document = ask(source_check, f"{CLAIM}&spark_length=9mm&output_current_is=average-at-voltage")
    assert document["spark"]["verdict"] == "fits-points"
    assert document["verdict"] == "impossible"
    assert "pressure" in document["asked"]["assumed"]


def test_every_input_of_the_balance_is_required(ask):
    with pytest.raises(BadQuestion) as refused:
        ask(source_check, "input_voltage=24V")
    assert {fault.parameter for fault in refused.value.faults} == {"input_current", "output_voltage", "output_current"}
