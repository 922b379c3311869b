"""The bench from plan to signed record, over HTTP: planned, read, checked, filed, verified, compared and applied.

The readings are invented: a divider of a community workshop that reads 8.5 % high, and 1 % more a month later.
"""

import csv
import html
import io
import json
import math
from types import SimpleNamespace

import numpy as np
import pytest

from service.bench.probe_record import MOST_BARS, figure, hash_of
from service.lookups import probe_check
from service.web.bodies import json_object

QUERY = "irradiated=yes&attenuation=1000&device=divider%20%3Cb%3E&serial=7&operator=A%20Person&date=2026-10-02"


def filled(text, error, seed=0):
    """The sheet of the plan with invented readings, and the weather of the day in every row."""
    rows = list(csv.DictReader(io.StringIO(text)))
    for i, row in enumerate(rows):
        step = (7 * i + seed) % 10 - 4.5
        row["indicated_kV"] = f"{float(row['expected_kV']) * (1 + error) * (1 + 0.0008 * step):.3f}"
        row.update({"pressure_kPa": "101.30", "temperature_degC": "20.0", "relative_humidity_percent": "49"})
        row["time"] = f"14:{i % 60:02d}" if i % 10 == 0 else ""
    target = io.StringIO()
    writer = csv.DictWriter(target, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    return target.getvalue()


@pytest.fixture(scope="module")
def plan(client):
    query = "voltage_from=8kV&voltage_to=12kV&spheres=2cm&waveform=dc"
    return client.get(f"/v1/probe-plan.csv?{query}").get_data(as_text=True)


@pytest.fixture(scope="module")
def record(client, plan):
    posted = client.post(f"/v1/probe-check?{QUERY}", data=filled(plan, 0.085), content_type="text/csv")
    assert posted.status_code == 200, posted.get_data(as_text=True)
    return posted.get_json()


def test_the_worked_case_from_plan_to_a_corrected_reading(client, plan, record):
    assert record["overall"]["verdict"] == "reads-high"
    assert record["overall"]["scale_factor"] == pytest.approx(1 / 1.085, rel=2e-3)
    assert record["about"] == {"device": "divider <b>", "serial": "7", "operator": "A Person", "date": "2026-10-02"}
    assert len(record["given"]["readings"]) == len(record["settings"]) == 6
    assert record["settings"][0]["time"] == "14:00"
    # printed
    page = client.post("/v1/probe-check.html", json=record["given"]).get_data(as_text=True)
    assert "divider &lt;b&gt;" in page
    assert "<b>;" not in page
    assert page.index("Switch off, discharge and short") < page.index("reads high") < page.index("Checked by")
    assert "size:A4" in page
    # verified
    verified = client.post("/v1/probe-record", json=record).get_json()
    assert (verified["verdict"], verified["same_result"], verified["differences"]) == ("unchanged", True, [])
    # posted back a month later, with a drift of one per cent
    later = client.post(
        f"/v1/probe-check?{QUERY.replace('10-02', '11-02')}",
        data=filled(plan, 1.085 * 1.01 - 1, seed=3),
        content_type="text/csv",
    ).get_json()
    drifted = client.post("/v1/probe-check", json=later["given"] | {"earlier": record}).get_json()["drift"]
    assert drifted["drift_percent"] == pytest.approx(-0.99, abs=0.15)
    assert 0.5 < drifted["drift_uncertainty_percent"] < 2
    assert drifted["earlier_hash_matches"]
    assert drifted["earlier_date"] == "2026-10-02"
    # applied
    shown = {"indicated": "9.30kV", "waveform": "dc", "record": record}
    read = client.post("/v1/reading", json=shown).get_json()
    assert read["true_voltage"]["value"] == pytest.approx(9.30 / 1.085, rel=3e-3)
    unsaid = client.post("/v1/reading", json={"indicated": "9.30kV", "record": record}).get_json()
    for name in ("true_voltage", "for_a_gap", "sentence"):  # what was not said is as the record says
        assert unsaid[name] == read[name]
    assert unsaid["asked"]["waveform"] == "dc"
    assert read["true_voltage"]["low"] < 8.2
    assert read["true_voltage"]["high"] > 8.9
    assert read["for_a_gap"]["holds_above"]["value"] > read["for_a_gap"]["sparks_below"]["value"]


def test_a_record_is_as_it_was_made_after_other_programs_wrote_it_again(client, record):
    # a spreadsheet language writes 3.0 as 3, and orders names as it likes
    again = json.loads(
        json.dumps(record, sort_keys=True),
        parse_float=lambda text: int(float(text)) if float(text).is_integer() else float(text),
    )
    assert client.post("/v1/probe-record", json=again).get_json()["verdict"] == "unchanged"
    assert hash_of(json_object(json.dumps(again).encode())) == record["hash"]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("overall", "scale_factor"), 1.0),
        (("overall", "verdict"), "agrees-within-uncertainty"),
        (("given", "serial"), "8"),
        (("given", "readings", 0, "indicated_voltages", 3), "8.000kV"),
        (("settings", 2, "ratio_error_percent"), 0.0),
        (("data_version",), "2020.01+00000000"),
    ],
)
def test_a_record_that_was_changed_is_told_and_where(client, record, path, value):
    changed = json.loads(json.dumps(record))
    place = changed
    for name in path[:-1]:
        place = place[name]
    place[path[-1]] = value
    found = client.post("/v1/probe-record", json=changed).get_json()
    assert found["verdict"] == "changed"
    # another serial number changes no number of the check
    assert found["differences"] or path == ("given", "serial")


def test_a_difference_shows_what_was_recorded_and_what_is_found_now(client, record):
    changed = json.loads(json.dumps(record))
    true, _ = changed["overall"]["scale_factor"], changed["overall"].pop("verdict")
    changed["overall"]["scale_factor"] = 1.25
    found = {one["what"]: one for one in client.post("/v1/probe-record", json=changed).get_json()["differences"]}
    factor, verdict = found["overall.scale_factor"], found["overall.verdict"]
    assert (float(factor["recorded"]), float(factor["now"])) == pytest.approx((1.25, true), rel=1e-9)
    assert (verdict["recorded"], verdict["now"]) == ("absent", "reads-high")


def test_a_record_without_a_hash_or_without_what_was_given(client, record):
    bare = {name: value for name, value in record.items() if name != "hash"}
    assert client.post("/v1/probe-record", json=bare).get_json()["verdict"] == "no-hash"
    refused = client.post("/v1/probe-record", json={"hash": record["hash"]})
    assert refused.status_code == 400
    assert "given is needed" in refused.get_json()["detail"]
    broken = client.post("/v1/probe-record", json=record | {"given": {**record["given"], "colour": "red"}})
    assert broken.get_json()["errors"][0]["parameter"] == "given.colour"


def test_the_rows_of_the_budget_sum_to_the_expanded_uncertainty(client, record):
    rows = record["budget"]
    total = 2 * math.sqrt(sum(row["contribution_percent"] ** 2 for row in rows))
    assert total == pytest.approx(record["overall"]["expanded_uncertainty_percent"], rel=1e-9)
    for row in rows:
        if "sensitivity" in row:
            expected = row["half_width"]["value"] / row["divisor"] * row["sensitivity"]
            assert row["contribution_percent"] == pytest.approx(expected, rel=1e-9)
    assert next(row for row in rows if "degrees_of_freedom" in row)["degrees_of_freedom"] == 54
    # where something was not said the row of it makes up the rest
    vague = {name: text for name, text in record["given"].items() if name != "irradiated"}
    answer = client.post("/v1/probe-check", json=vague).get_json()
    total = 2 * math.sqrt(sum(row["contribution_percent"] ** 2 for row in answer["budget"]))
    assert total == pytest.approx(answer["overall"]["expanded_uncertainty_percent"], rel=1e-9)
    assert answer["budget"][-1]["quantity"] == "what was not said: irradiated"


@pytest.mark.parametrize("suffix", ["txt", "md", "html", "svg", "png", "csv", "json"])
def test_the_record_is_there_in_every_format(client, record, suffix):
    response = client.post(f"/v1/probe-check.{suffix}", json=record["given"])
    assert response.status_code == 200
    assert len(response.data) > 2000
    if suffix in ("txt", "html", "md"):
        text = response.get_data(as_text=True)
        assert record["hash"][7:40] in text.replace("\n", "").replace(" ", "")
        assert "Checked by" in text


def test_a_reading_is_corrected_by_a_stated_scale_factor(client):
    # by hand: 9.30 x 0.922 = 8.575 kV; 5 % and half of the last digit, 0.005 / 9.30 / sqrt 3 x 2 = 0.06 %
    query = "/v1/reading?indicated=9.30kV&waveform=dc&scale_factor=0.922&expanded_uncertainty=5percent"
    answer = client.get(query).get_json()
    volts = answer["true_voltage"]
    assert volts["value"] == pytest.approx(8.5746)
    assert (volts["low"], volts["high"]) == (pytest.approx(8.146, abs=0.002), pytest.approx(9.026, abs=0.002))
    assert answer["headline"]["text"] == "9.03 kV"  # the highest that there may be is the first thing shown
    assert client.get("/v1/reading?indicated=9.30kV").status_code == 400
    # an instrument on alternating voltage mostly shows rms: where nobody says so, the peak of a sine counts
    unsaid = client.get(query.replace("&waveform=dc", "")).get_json()
    rms = client.get(query.replace("waveform=dc", "measure=rms")).get_json()
    assert unsaid["headline"]["text"] == rms["headline"]["text"] == "12.8 kV"
    assert unsaid["true_voltage"]["value"] is None
    assert unsaid["for_a_gap"]["holds_above"] == rms["for_a_gap"]["holds_above"]
    assert unsaid["asked"]["measure"] == "unknown"


def test_a_record_that_gives_no_scale_factor_corrects_nothing(client, record):
    vague = {name: text for name, text in record["given"].items() if name != "irradiated"}
    unsure = client.post("/v1/probe-check", json=vague).get_json()
    refused = client.post("/v1/reading", json={"indicated": "9.30kV", "waveform": "dc", "record": unsure})
    assert refused.status_code == 400
    assert "no scale factor" in refused.get_json()["detail"]


@pytest.mark.parametrize("address", ["/v1", "/v1/"])
def test_the_lookups_are_listed_with_how_each_is_asked(client, address):
    found = {one["key"]: one for one in client.get(address).get_json()["lookups"]}
    assert {"breakdown", "probe-check", "probe-record", "divider", "reading"} <= set(found)
    assert (found["probe-check"]["asked_with"], found["reading"]["asked_with"]) == ("POST", "GET or POST")
    for one in found.values():
        if "example" in one:
            assert client.get(one["example"]).status_code == 200


def test_the_reference_shows_a_body_that_is_answered(client):
    assert client.post("/v1/probe-check", data=probe_check.EXAMPLE, content_type="application/json").status_code == 200
    page = client.get("/docs").get_data(as_text=True)
    assert "indicated_voltages" in page
    assert probe_check.EXAMPLE in html.unescape(page)


@pytest.mark.parametrize("spoiled", ["fine", None, [], {"verdict": {"is": "fine"}}])
def test_a_record_whose_parts_became_something_else_is_told_as_changed(client, record, spoiled):
    found = client.post("/v1/probe-record", json={**record, "overall": spoiled})
    assert found.status_code == 200
    assert found.get_json()["verdict"] == "changed"
    assert any(one["what"].startswith("overall") for one in found.get_json()["differences"])


def pictured(count):
    """The picture of so many settings that read 8.5 % high, each known to 2 % (k = 2); invented."""
    reference = np.linspace(40e3, 20e3, count)
    comparison = SimpleNamespace(
        indicated=1.085 * reference, reference=reference, setting_uncertainty=np.full(count, 0.01)
    )
    check = SimpleNamespace(
        accepted=np.arange(count),
        readings=[SimpleNamespace(spacing=5e-3 + 1e-4 * i, diameter=0.02) for i in range(count)],
    )
    overall = SimpleNamespace(comparison=comparison, explanation="high", ends=(1.07, math.inf), ratio=1.085)
    return figure(check, overall)


def test_few_settings_are_bars_beside_one_and_many_a_curve_beside_it():
    few, many = pictured(MOST_BARS), pictured(MOST_BARS + 1)
    assert MOST_BARS == 24  # what a page holds; ours
    assert (len(few.bars), few.lines, few.curves) == (25, (("1.00", 1.0),), ())
    assert not few.x.logarithmic
    one, together = few.bars[0], few.bars[-1]
    assert (one.low, one.high, one.value) == pytest.approx((1.085 * 0.98, 1.085 * 1.02, 1.085))
    assert (together.low, together.value) == (1.07, 1.085)
    assert math.isnan(together.high)  # a limit that is not known is not drawn
    curve, beside = many.curves
    assert many.bars == ()
    assert not many.x.logarithmic
    assert not many.y.logarithmic
    assert curve.x.tolist() == sorted(curve.x.tolist())
    assert curve.low == pytest.approx(1.085 * 0.98)
    assert curve.high == pytest.approx(1.085 * 1.02)
    # the line of a probe that reads true goes over the whole range, and is told from what was measured
    assert (beside.x.tolist(), beside.y.tolist()) == ([20.0, 40.0], [1.0, 1.0])
    assert beside.dashed
    assert not curve.dashed


def test_the_budget_names_the_whole_range_of_the_air(client, plan):
    """20 degC: the relative density is the pressure over 101.3 kPa (IEC 60052)."""
    rows = list(csv.DictReader(io.StringIO(filled(plan, 0.085))))
    for i, row in enumerate(rows):
        row["pressure_kPa"] = ("95.0", "101.3", "98.0")[i // 10 % 3]
    target = io.StringIO()
    writer = csv.DictWriter(target, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    answer = client.post(f"/v1/probe-check?{QUERY}", data=target.getvalue(), content_type="text/csv").get_json()
    density = next(one for one in answer["budget"] if one["quantity"] == "relative air density")
    assert density["value"] == pytest.approx({"low": 95 / 101.3, "high": 1.0}, rel=1e-3)


def test_the_gap_of_a_reading_holds_the_highest_voltage_and_sparks_at_the_lowest_that_there_may_be(client):
    query = "electrodes=uniform-field&waveform=dc"
    reading = "/v1/reading?indicated=12kV&measure=peak&scale_factor=0.92&expanded_uncertainty=4percent"
    answer = client.get(f"{reading}&{query}").get_json()
    volts, found = answer["true_voltage"], answer["for_a_gap"]
    low, high = (
        client.get(f"/v1/gap?voltage={volts[end]!r}kV&measure=peak&{query}").get_json()["gaps"][-1]
        for end in ("low", "high")
    )
    assert found["sparks_below"]["value"] == pytest.approx(low["sparks_below"], rel=1e-3)
    assert found["holds_above"]["value"] == pytest.approx(high["holds_above"], rel=1e-3)
    assert found["electrodes"] == "uniform-field"
    assert not any("nothing is said of a gap" in one for one in answer["notes"])
    beyond = client.get(f"{reading.replace('12kV', '40MV')}&{query}").get_json()
    assert "for_a_gap" not in beyond
    assert any("nothing is said of a gap" in one for one in beyond["notes"])


def test_a_record_by_other_data_says_the_same_where_only_the_version_differs(client, record):
    other = {**json.loads(json.dumps(record)), "data_version": "2020.01+00000000"}
    other["hash"] = hash_of(other)
    found = client.post("/v1/probe-record", json=other).get_json()
    assert (found["verdict"], found["same_result"]) == ("unchanged", True)
    assert [one["what"] for one in found["differences"]] == ["data_version"]
    assert any("other reference data" in one for one in found["notes"])
    other["overall"]["scale_factor"] *= 1.01
    other["hash"] = hash_of(other)
    found = client.post("/v1/probe-record", json=other).get_json()
    assert (found["verdict"], found["same_result"]) == ("unchanged", False)
    assert "Done again, the check says otherwise in 1 places" in found["sentence"]
