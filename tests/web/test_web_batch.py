"""A batch: many points at once are what each would be alone, and one bad element spoils only itself."""

from __future__ import annotations

import re

import pytest

from service import errors
from service.answers.columns import IN_MEMORY
from service.lookups import batch, batch_points
from service.web.problems import TITLES

PLATES = {"gas": "air", "electrodes": "uniform-field"}


def column(unit, *values):
    return {"unit": unit, "values": list(values)}


def posted(client, lookup, given, **columns):
    return client.post("/v1/batch", json={"lookup": lookup, "given": given, "columns": columns})


def answered(client, lookup, given, **columns):
    response = posted(client, lookup, given, **columns)
    assert response.status_code == 200, response.data
    return response.get_json()


def refused(response, status=400):
    assert response.status_code == status, response.data[:300]
    assert response.content_type == "application/problem+json"
    return response.get_json()["detail"]


def test_the_example_of_the_contract_is_answered(client):
    batch = answered(client, "breakdown", PLATES, gap=column("mm", 1, 2, 8))
    volts = batch["columns"]["breakdown_voltage"]
    assert (batch["count"], batch["status"]) == (3, ["ok"] * 3)
    assert (volts["unit"], volts["measure"]) == ("kV", "peak")
    assert len(batch["method"]) == len(volts["values"]) == len(volts["low"]) == len(volts["high"]) == 3
    # Kuffel, Zaengl and Kuffel, eq. 5.107 (from memory): 24.36 x + 6.72 sqrt(x) [kV], x in bar cm
    printed = [24.36 * x + 6.72 * x**0.5 for x in (0.1013, 0.2026, 0.8104)]
    assert volts["values"] == pytest.approx(printed, rel=1e-4)


@pytest.mark.parametrize("gap", ["1mm", "2mm", "8mm"])
def test_a_batched_voltage_is_that_of_the_single_question(client, gap):
    batch = answered(client, "breakdown", PLATES, gap=column("mm", float(gap.removesuffix("mm"))))
    alone = client.get(f"/v1/breakdown?gap={gap}&electrodes=uniform-field").get_json()
    for end in ("low", "high"):
        assert batch["columns"]["breakdown_voltage"][end][0] == pytest.approx(alone["breakdown_voltage"][end])
    assert batch["columns"]["breakdown_voltage"]["values"][0] == pytest.approx(alone["breakdown_voltage"]["value"])
    assert batch["method"] == [alone["method"]["key"]]


@pytest.mark.parametrize(("most", "told", "known"), [(1, True, False), (2, True, True), (3, False, True)])
def test_beyond_so_many_kinds_of_points_a_batch_says_that_others_may_have_more_to_be_told(
    client, monkeypatch, most, told, known
):
    # three kinds: a gap of a few micrometres, where the surface decides; dry air; air near its dew point
    columns = {"gap": column("um", 5, 8000, 8000), "relative_humidity": column("percent", 40, 40, 95)}
    monkeypatch.setattr(batch_points, "MOST_KINDS", most)
    batch = answered(client, "breakdown", PLATES, **columns)
    alone = client.get("/v1/breakdown?gap=8mm&electrodes=uniform-field&relative_humidity=95percent").get_json()
    moist = set(alone["notes"]) - set(answered(client, "breakdown", PLATES, gap=column("mm", 8))["notes"])
    assert any("mois" in note or "dew" in note for note in moist)
    assert (batch_points.MORE_KINDS in batch["notes"]) is told
    assert (moist <= set(batch["notes"])) is known
    assert batch["status"] == ["ok"] * 3


def test_a_bracket_has_null_for_its_value_and_numbers_for_its_ends(client):
    batch = answered(client, "breakdown", {}, gap=column("mm", 8))
    volts = batch["columns"]["breakdown_voltage"]
    assert volts["values"] == [None]
    assert 6.3 < volts["low"][0] < 7.1  # a point over a plane
    assert 25 < volts["high"][0] < 27
    assert batch["status"] == ["ok"]


def test_an_element_without_an_answer_is_null_everywhere_with_its_reason(client):
    batch = answered(client, "breakdown", PLATES | {"gas": "nitrogen"}, gap=column("mm", -1, 1, 1e5))
    assert batch["status"] == ["unreadable", "ok", "outside-validity"]
    assert [one is None for one in batch["method"]] == [True, False, True]
    for name in ("values", "low", "high"):
        assert [one is None for one in batch["columns"]["breakdown_voltage"][name]] == [True, False, True]


@pytest.mark.parametrize("bad", [True, False, None, "3", "3mm", [], {}, 0, -5, 2**63, -(2**63), 1e300])
def test_what_is_no_length_is_refused_for_that_element_alone(client, bad):
    batch = answered(client, "breakdown", PLATES, gap=column("mm", 8, bad, 8))
    assert batch["status"][::2] == ["ok", "ok"]
    assert batch["status"][1] in ("unreadable", "outside-validity")
    values = batch["columns"]["breakdown_voltage"]["values"]
    assert values[1] is None
    assert values[0] == values[2] is not None


def test_a_batch_of_gaps_says_where_nothing_breaks_down(client):
    given = {"electrodes": "uniform-field", "pressure": "100Pa"}
    batch = answered(client, "gap", given, voltage=column("V", 200, 1000))
    assert batch["status"] == ["no-breakdown", "ok"]
    assert [one is None for one in batch["method"]] == [True, False]
    alone = client.get("/v1/gap?voltage=1kV&electrodes=uniform-field&pressure=100Pa").get_json()["gaps"][-1]
    assert batch["columns"]["gap"]["values"] == [None, pytest.approx(alone["value"])]
    assert batch["columns"]["holds_above"]["values"] == [None, pytest.approx(alone["holds_above"])]
    assert (batch["asked"]["measure"], batch["asked"]["branch"]) == ("peak", "right")


def test_the_branch_of_a_gap_may_be_chosen(client):
    given = {"electrodes": "uniform-field", "pressure": "100Pa", "branch": "left"}
    batch = answered(client, "gap", given, voltage=column("kV", 1))
    left = client.get("/v1/gap?voltage=1kV&electrodes=uniform-field&pressure=100Pa").get_json()["gaps"][0]
    assert left["branch"] == "left"
    assert batch["columns"]["gap"]["values"] == [pytest.approx(left["value"])]


def test_a_batch_of_pressures_is_the_same_as_one_by_one(client):
    given = {"electrodes": "uniform-field", "gap": "10mm"}
    batch = answered(client, "pressure", given, voltage=column("kV", 0.1, 1, 5, 5e4))
    assert batch["status"] == ["no-breakdown", "ok", "ok", "outside-validity"]
    alone = client.get("/v1/pressure?voltage=5kV&electrodes=uniform-field&gap=10mm").get_json()["pressures"][-1]
    assert batch["columns"]["pressure"]["values"][2] == pytest.approx(alone["value"])
    assert batch["asked"]["gap"] == {"value": 10.0, "unit": "mm"}


GUIDANCE = [
    ("clearance", {"insulation": "basic", "pollution_degree": "2"}, "impulse_voltage", "kV", (2.5, 4), (1.5, 3.0)),
    ("creepage", {"insulation": "basic", "pollution_degree": "2"}, "working_voltage", "V", (250, 400), (2.5, 4.0)),
]


@pytest.mark.parametrize(("lookup", "given", "name", "unit", "asked", "expected"), GUIDANCE, ids=lambda x: str(x)[:20])
def test_a_batch_of_distances_is_that_of_the_printed_table(client, lookup, given, name, unit, asked, expected):
    # IEC 60664-1 Table F.2 case A and Table F.4 group III, pollution degree 2
    batch = answered(client, lookup, given, **{name: column(unit, *asked, None, 1e6)})
    assert batch["columns"][lookup] == {"unit": "mm", "values": [*expected, None, None]}
    assert batch["status"] == ["ok", "ok", "unreadable", "outside-validity"]
    assert batch["asked"]["insulation"] == "basic"
    assert "field" in batch["asked"]["assumed"]


def test_columns_have_equal_length_or_one_value(client):
    batch = answered(client, "breakdown", PLATES, gap=column("mm", 8, 9), pressure=column("kPa", 100))
    assert batch["count"] == 2
    unequal = posted(client, "breakdown", PLATES, gap=column("mm", 8, 9), pressure=column("kPa", 100, 90, 80))
    assert "equal length" in refused(unequal)


def test_one_point_too_many_is_refused(client, monkeypatch):
    monkeypatch.setattr(batch, "MOST_POINTS", 1000)
    assert "1000" in refused(posted(client, "breakdown", PLATES, gap=column("mm", *[1] * 1001)))


@pytest.mark.parametrize("count", [100_000, IN_MEMORY + 1])
def test_very_many_points_are_answered(client, count):
    batch = answered(client, "breakdown", PLATES, gap=column("mm", *[8] * (count - 2), 9, -1))
    volts = batch["columns"]["breakdown_voltage"]
    assert batch["count"] == len(batch["status"]) == len(batch["method"]) == len(volts["values"]) == count
    assert volts["values"][0] == volts["values"][-3] < volts["values"][-2]
    assert (batch["status"][-2:], volts["low"][-1]) == (["ok", "unreadable"], None)


WHOLE = [
    ({"lookup": "hazard", "given": {}, "columns": {"gap": column("mm", 1)}}, "does not know 'hazard'"),
    ({"lookup": "breakdown", "columns": {"gap": column("kV", 1)}}, "unit of a voltage"),
    ({"lookup": "breakdown", "columns": {"gap": column("", 1)}}, "columns.gap.unit"),
    ({"lookup": "breakdown", "columns": {"gap": column("mm")}}, "equal length"),
    ({"lookup": "breakdown", "columns": {"gap": column("mm", None)}}, "No value"),
    ({"lookup": "breakdown", "columns": {"gap": [1, 2]}}, "unit and values"),
    ({"lookup": "breakdown", "columns": {"gpa": column("mm", 1)}}, "did you mean 'gap'"),
    ({"lookup": "breakdown", "columns": {}}, "columns is needed"),
    ({"lookup": "breakdown", "given": {"gap": "8mm"}, "columns": {"gap": column("mm", 1)}}, "more than once"),
    ({"lookup": "breakdown", "given": {"gas": ["air"]}, "columns": {"gap": column("mm", 1)}}, "must be text"),
    ({"lookup": "breakdown", "given": {"gas": "foo"}, "columns": {"gap": column("mm", 1)}}, "does not know 'foo'"),
    ({"lookup": "gap", "given": {"measure": "unknown"}, "columns": {"voltage": column("kV", 1)}}, "one voltage"),
    ({"lookup": "breakdown", "extra": 1, "columns": {"gap": column("mm", 1)}}, "extra"),
    ({}, "lookup"),
    ([], "object"),
]


@pytest.mark.parametrize(("body", "words"), WHOLE, ids=range(len(WHOLE)))
def test_a_batch_that_cannot_be_read_as_a_whole_is_refused(client, body, words):
    assert words in refused(client.post("/v1/batch", json=body))


BODIES = {
    "empty": b"",
    "not UTF-8": b"\xff\xfe",
    "deep": b'{"lookup":"breakdown","columns":' + b'[{"a":' * 50_000,
    "not a number": b'{"lookup":"breakdown","columns":{"gap":{"unit":"mm","values":[NaN]}}}',
    "beyond any float": b'{"lookup":"breakdown","columns":{"gap":{"unit":"mm","values":[' + b"9" * 400 + b"]}}}",
}


@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES)
def test_a_body_that_is_not_json_is_a_clean_refusal(client, body):
    assert "not JSON" in refused(client.post("/v1/batch", data=body, content_type="application/json"))


def test_a_number_of_a_hundred_digits_is_read_as_a_number(client):
    body = (
        b'{"lookup":"breakdown","given":{"electrodes":"uniform-field"},"columns":{"gap":{"unit":"mm","values":[%s,8]}}}'
    )
    response = client.post("/v1/batch", data=body % (b"9" * 100), content_type="application/json")
    assert response.get_json()["status"][1] == "ok"
    assert response.get_json()["status"][0] != "ok"


def test_nothing_is_asked_in_the_query_of_a_batch(client):
    assert "in the body" in refused(client.post("/v1/batch?gap=8mm", json={"lookup": "breakdown", "columns": {}}))


def test_half_a_pollution_degree_is_not_rounded(client):
    given = {"insulation": "basic", "working_voltage": "250V"}
    batch = answered(client, "creepage", given, pollution_degree={"values": [2.5, 2, 7]})
    assert batch["status"] == ["unreadable", "ok", "unreadable"]


def test_a_batch_of_pressures_takes_the_gap_from_two_diameters(client):
    given = {"electrodes": "coaxial-cylinders", "inner_diameter": "5mm", "outer_diameter": "20mm"}
    batch = answered(client, "pressure", given, voltage=column("kV", 5, 12))
    pairs = "&".join(f"{name}={text}" for name, text in given.items())
    alone = client.get(f"/v1/pressure?{pairs}&voltage=12kV").get_json()["pressures"][-1]
    for end in ("low", "high"):
        assert batch["columns"]["pressure"][end][1] == pytest.approx(alone[end])


def test_where_nothing_breaks_down_no_distance_is_told(client):
    """Below the minimum of every curve a single question lists no gap; a batch tells none either."""
    body = {"lookup": "gap", "columns": {"voltage": {"unit": "V", "values": [257.5, 12000]}}}
    answer = client.post("/v1/batch", json=body).get_json()
    assert answer["status"] == ["no-breakdown", "ok"]
    assert answer["columns"]["holds_above"]["values"][0] is None
    assert answer["columns"]["holds_above"]["values"][1] > 10


def test_what_would_take_too_long_is_a_problem_that_says_how_much_may_be_asked(client, monkeypatch):
    monkeypatch.setattr(batch, "TRIAL", 0.0)
    monkeypatch.setattr(batch, "MOST_SECONDS", 1e-4)
    slow = posted(client, "clearance", {"insulation": "basic", "pollution_degree": "2"},
                  impulse_voltage=column("V", *(400 + i for i in range(4000))))  # fmt: skip
    assert re.search(r"Ask at most \d+ of them at once", refused(slow, 413))
    monkeypatch.setattr(batch, "MOST_SECONDS", 0.05)
    pressures = column("kPa", *(60 + 0.05 * i for i in range(600)))
    slow = posted(client, "gap", {"voltage": "12kV"}, pressure=pressures)
    assert re.search(r"Ask at most \d+ of them at once", refused(slow, 413))


def test_every_error_of_the_service_has_a_status():
    def kinds(error):
        return [error, *(one for kind in error.__subclasses__() for one in kinds(kind))]

    for error in kinds(errors.ServiceError):
        assert error is errors.ServiceError or error.key in TITLES or error is errors.BadSetting, error


@pytest.mark.parametrize("column", [{"values": [1]}, {"unit": None, "values": [1]}, {"unit": "", "values": [1]}])
def test_a_column_without_a_unit_is_told_which_would_do(client, column):
    response = client.post("/v1/batch", json={"lookup": "breakdown", "columns": {"gap": column}})
    assert response.status_code == 400
    assert response.get_json()["detail"].startswith("columns.gap.unit is needed, one of km, m, cm, mm,")
