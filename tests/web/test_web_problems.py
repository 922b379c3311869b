"""One shape for every refusal, whatever is asked wrongly and of whom (RFC 9457)."""

from __future__ import annotations

from urllib.parse import parse_qsl, urlencode

import pytest

from service.web import create_app, problems
from tests.asking import SHIPPED

LOOKUPS = [one for one in SHIPPED.found.values() if not one.post]
CATALOGUES = ("gases", "electrodes", "methods", "materials", "units", "sources", "tables")
EVERYWHERE = (
    *(f"/v1/{one.key}?{one.example}" for one in LOOKUPS),
    *(f"/v1/{name}" for name in CATALOGUES),
    "/v1/tables/iec-60052-table-2",
    "/v1/tables/datapackage.json",
    "/health/live",
    "/health/ready",
    "/openapi.yaml",
    "/",
    "/docs",
    "/wiki",
    "/oembed?url=/v1/breakdown%3Fgap%3D8mm",
)


def checked(response, status):
    """Return the detail of a problem after looking at its shape and its headers."""
    assert response.status_code == status, response.data[:300]
    assert response.content_type == "application/problem+json"
    assert response.headers["Cache-Control"] == "no-store"
    assert response.headers["Access-Control-Allow-Origin"] == "*"
    assert response.data.endswith(b"}\n")
    assert not set(response.data) & set(b"<>&")
    problem = response.get_json()
    assert list(problem) == ["type", "title", "status", "detail", "errors"]
    assert problem["status"] == status
    assert problem["title"]
    assert problem["detail"]
    for one in problem["errors"]:
        assert set(one) <= {"parameter", "detail", "accepted", "valid"}
        assert one["detail"]
        assert set(one.get("valid", {})) <= {"low", "high"}
    return problem["detail"]


def quantities(lookup):
    """Yield name and text of every quantity in the example of a lookup."""
    declared = {p.name: p for p in lookup.parameters}
    for pair in filter(None, lookup.example.split("&")):
        name, _, text = pair.partition("=")
        if declared[name].dimension not in ("number", "count", "choice", "boolean", "text"):
            yield name, text


BARE = [(one, name) for one in LOOKUPS for name, _ in quantities(one)]


@pytest.mark.parametrize(("lookup", "name"), BARE, ids=lambda x: getattr(x, "key", x))
@pytest.mark.parametrize("text", ["8", "nanmm", "infkV", "5,3mm", "", "-5mm", "0x8mm", "8 mm mm", "9**9**9mm"])
def test_a_quantity_that_cannot_be_read_names_the_parameter(client, lookup, name, text):
    pairs = dict(pair.split("=", 1) for pair in lookup.example.split("&")) | {name: text}
    response = client.get(f"/v1/{lookup.key}", query_string=pairs)
    checked(response, 400)
    fault = next(one for one in response.get_json()["errors"] if one["parameter"] == name)
    assert fault["accepted"]


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_an_unknown_parameter_is_refused_by_every_lookup(client, lookup):
    assert "'depth'" in checked(client.get(f"/v1/{lookup.key}?{lookup.example}&depth=3mm"), 400)


@pytest.mark.parametrize("lookup", [one for one in LOOKUPS if one.example], ids=lambda one: one.key)
def test_a_repeated_parameter_is_refused_by_every_lookup_in_query_and_path(client, lookup):
    first = lookup.example.split("&")[0]
    assert "more than once" in checked(client.get(f"/v1/{lookup.key}?{lookup.example}&{first}"), 400)
    assert "more than once" in checked(client.get(f"/v1/{lookup.key};{first}?{lookup.example}"), 400)


IN_AIR = [one for one in LOOKUPS if {"pressure", "altitude"} <= {p.name for p in one.parameters}]


@pytest.mark.parametrize("lookup", IN_AIR, ids=lambda one: one.key)
def test_pressure_and_altitude_contradict_each_other(client, lookup):
    asked = f"/v1/{lookup.key}?{lookup.example}&pressure=100kPa&altitude=1km"
    assert "contradict" in checked(client.get(asked), 400)


@pytest.mark.parametrize("lookup", IN_AIR, ids=lambda one: one.key)
def test_two_humidities_contradict_each_other(client, lookup):
    asked = f"/v1/{lookup.key}?{lookup.example}&relative_humidity=50percent&dew_point=10degC"
    assert "contradict" in checked(client.get(asked), 400)


@pytest.mark.parametrize("lookup", IN_AIR, ids=lambda one: one.key)
@pytest.mark.parametrize("unit", ["psig", "barg"])
def test_a_gauge_pressure_is_refused_by_name(client, lookup, unit):
    assert "gauge" in checked(client.get(f"/v1/{lookup.key}?{lookup.example}&pressure=3{unit}"), 400)


WITH_GAS = [one for one in LOOKUPS if any(p.name == "gas" for p in one.parameters)]


@pytest.mark.parametrize("lookup", WITH_GAS, ids=lambda one: one.key)
def test_an_unknown_gas_is_refused_with_the_nearest(client, lookup):
    pairs = dict(pair.split("=", 1) for pair in lookup.example.split("&")) | {"gas": "nitrogn"}
    assert "did you mean 'nitrogen'" in checked(client.get(f"/v1/{lookup.key}", query_string=pairs), 400)


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_an_unknown_suffix_is_not_found_and_the_known_ones_are_named(client, lookup):
    assert ".svg" in checked(client.get(f"/v1/{lookup.key}.pdf?{lookup.example}"), 404)


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_an_accept_that_is_not_offered_is_406(client, lookup):
    response = client.get(f"/v1/{lookup.key}?{lookup.example}", headers={"Accept": "application/pdf"})
    assert "application/json" in checked(response, 406)


@pytest.mark.parametrize("address", EVERYWHERE)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_method_that_is_not_allowed_is_405_and_allow_says_which_are(client, address, method):
    both = address.startswith("/v1/reading")  # asked in a query, or posted with a record
    response = client.open(address, method=method)
    if both and method == "POST":
        checked(response, 400)
        return
    checked(response, 405)
    allowed = {"GET", "HEAD", "OPTIONS"} | ({"POST"} if both else set())
    assert {one.strip() for one in response.headers["Allow"].split(",")} == allowed


NOWHERE = (
    "/nothing",
    "/v2/breakdown",
    "/v1/breakdwon?gap=8mm",
    "/v1/breakdown/8mm",
    "/v1/gases/nitrogn",
    "/v1/gases.pdf",
    "/v1/tables/nothing",
    "/v1/tables/nothing.csv",
    "/v1/methods/nothing",
    "/v1/sources/nothing",
    "/problems/nothing",
    "/metrics",
    "/oembed?url=https://example.org/",
    "/v1/<script>alert(1)</script>",
)


@pytest.mark.parametrize("address", NOWHERE)
def test_what_is_not_there_is_a_problem_too(client, address):
    checked(client.get(address), 404)


@pytest.mark.parametrize("name", CATALOGUES)
def test_a_catalogue_refuses_parameters_and_pictures(client, name):
    assert "no parameters" in checked(client.get(f"/v1/{name}?gas=air"), 400)
    checked(client.get(f"/v1/{name}.svg"), 406)
    checked(client.get(f"/v1/{name}", headers={"Accept": "image/png"}), 406)


def test_a_table_refuses_pictures(client):
    checked(client.get("/v1/tables/iec-60052-table-2.png"), 406)


OUTSIDE = (
    "/v1/breakdown?gap=12m&electrodes=sphere-gap&sphere_diameter=2cm",
    "/v1/breakdown?gap=1km",
    "/v1/breakdown?gap=2cm&electrodes=uniform-field&method=closed-form-air-raizer",
    "/v1/gap?voltage=90MV",
    "/v1/pressure?voltage=1MV&gap=1um&electrodes=uniform-field",
    "/v1/spark?length=1km",
    "/v1/sphere-gaps?voltage=90MV",
    "/v1/probe-plan?voltage_from=1MV&voltage_to=20MV&spheres=2cm",
    "/v1/switch-on-sheet?voltage=90MV",
)


@pytest.mark.parametrize("address", OUTSIDE)
def test_outside_validity_the_nearest_range_is_named_and_the_request_at_the_end_works(client, address):
    response = client.get(address)
    detail = checked(response, 422)
    assert any(one.get("valid") for one in response.get_json()["errors"])
    advised = detail.rsplit("Try ", 1)[1]
    assert advised.startswith(address.partition("?")[0] + "?")
    assert client.get(advised).status_code == 200


BEYOND_GUIDANCE = (
    "/v1/clearance?impulse_voltage=1MV&pollution_degree=2&insulation=basic",
    "/v1/clearance?recurring_peak_voltage=3kV&frequency=100kHz&pollution_degree=2&insulation=basic",
    "/v1/creepage?working_voltage=1MV&pollution_degree=2&insulation=basic",
    "/v1/creepage?working_voltage=250V&pollution_degree=3&insulation=reinforced&cti=50V",
    "/v1/creepage?working_voltage=12kV&pollution_degree=3&insulation=basic",
    "/v1/barrier?system_voltage=2kV&overvoltage_category=II&pollution_degree=2&insulation=basic",
    "/v1/barrier?recurring_peak_voltage=150kV&pollution_degree=3&insulation=reinforced",
    "/v1/approach?nominal_voltage=10MV",
)


@pytest.mark.parametrize("address", BEYOND_GUIDANCE)
def test_a_refusal_of_guidance_names_the_range_and_never_another_question(client, address):
    response = client.get(address)
    detail = checked(response, 422)
    assert "Try " not in detail
    assert "approach" in address or "Change the design" in detail


def test_a_refusal_of_guidance_may_point_to_the_same_question_with_more_asked_of_it(client):
    address = "/v1/creepage?working_voltage=1001V&pollution_degree=2&insulation=reinforced&surface=printed-wiring"
    advised = checked(client.get(address), 422).rsplit("Try ", 1)[1]
    assert "working_voltage=1.001kV" in advised
    assert "insulation=reinforced" in advised
    assert "pollution_degree=2" in advised
    assert client.get(advised).status_code == 200


LONG = "<script>&" + "y" * 200


@pytest.mark.parametrize(
    "pairs",
    [
        {"gap": LONG},
        {"gap": "8mm", LONG: "1"},
        {"gap": "8mm", "gas": LONG},
        {"gap": "8mm", "only": LONG},
        {"gap": "8mm", "theme": LONG},
        {"gap": "8" + LONG},
        {"gap": "8mm", "sphere_diameter": LONG},
    ],
    ids=lambda pairs: "+".join(name[:12] for name in pairs),
)
def test_at_most_32_characters_are_echoed_and_escaped(client, pairs):
    response = client.get("/v1/breakdown", query_string=pairs)
    assert "y" * 33 not in checked(response, 400)
    assert b"<" not in response.data


def test_the_name_of_a_lookup_that_is_not_there_is_echoed_short(client):
    assert "y" * 33 not in checked(client.get("/v1/" + "y" * 500), 404)
    assert "y" * 33 not in checked(client.get("/v1/breakdown." + "y" * 500), 404)
    assert "y" * 33 not in checked(client.get("/v1/tables/" + "y" * 500), 404)


def test_a_body_of_the_wrong_type_is_415(client):
    checked(client.post("/v1/batch", data="a=1", content_type="application/x-www-form-urlencoded"), 415)
    checked(client.post("/v1/probe-check", data="<a/>", content_type="text/xml"), 415)


@pytest.mark.parametrize("coding", ["gzip", "br", "none"])
def test_a_body_in_a_coding_is_415_and_as_it_is_it_is_read(coding, client):
    body = {"lookup": "breakdown", "given": {}, "columns": {"gap": {"unit": "mm", "values": [8]}}}
    checked(client.post("/v1/batch", json=body, headers={"Content-Encoding": coding}), 415)
    assert client.post("/v1/batch", json=body, headers={"Content-Encoding": "identity"}).status_code == 200


def test_a_body_that_is_too_large_is_413():
    small = create_app({"MAX_CONTENT_LENGTH": 1000}).test_client()
    checked(small.post("/v1/batch", data=b"[" * 2000, content_type="application/json"), 413)
    checked(small.post("/v1/probe-check", data=b"a" * 2000, content_type="text/csv"), 413)


def test_a_format_that_a_body_is_not_answered_in_is_406(client):
    checked(client.post("/v1/probe-check.wiki", json={}), 406)
    checked(client.post("/v1/probe-check.pdf", json={}), 404)
    checked(client.post("/v1/batch", json={}, headers={"Accept": "text/csv"}), 406)


def test_a_refusal_by_the_router_is_in_our_words(client):
    assert checked(client.get("/nothing"), 404) == "The path, the key in it, or the suffix does not exist."
    assert "asked with GET" in checked(client.post("/v1/breakdown"), 405)


def test_a_fault_of_the_service_says_nothing_of_itself(monkeypatch):
    def fails(*_):
        raise RuntimeError("the secret of the workshop")

    monkeypatch.setattr("service.answers.lookup.Lookup.read", fails)
    client = create_app({"PROPAGATE_EXCEPTIONS": False}).test_client()
    response = client.get("/v1/breakdown?gap=8mm")
    assert "failed" in checked(response, 500)
    assert b"secret" not in response.data
    assert b"Runtime" not in response.data
    assert client.get("/health/live").status_code == 200


@pytest.mark.parametrize("key", problems.TITLES)
def test_the_type_of_every_problem_is_a_page(client, key):
    response = client.get(f"/problems/{key}")
    assert response.status_code == 200
    assert response.mimetype == "text/html"
    assert problems.TITLES[key][1].split()[-1].encode() in response.data


READINGS = {"spacing": "3mm", "indicated_voltages": ["10.9kV"] * 10}
CHECK = {"sphere_diameter": "20mm", "waveform": "dc", "attenuation": 1000, "readings": [READINGS]}


@pytest.mark.parametrize("bad", ["1e300kV", "0kV", "nankV", "10.9", "10.9mm", "", None, True, 5, [], {}, "<b>" * 20])
def test_a_reading_that_cannot_be_one_is_refused_by_its_place(client, bad):
    assert client.post("/v1/probe-check", json=CHECK).status_code == 200
    readings = READINGS | {"indicated_voltages": ["10.9kV"] * 9 + [bad]}
    checked(client.post("/v1/probe-check", json=CHECK | {"readings": [readings]}), 400)


@pytest.mark.parametrize("bad", [None, True, 5, "x", [], {}, [None], [[]]])
@pytest.mark.parametrize("member", ["sphere_diameter", "waveform", "readings", "network", "measure", "<b>"])
def test_a_member_of_a_body_that_cannot_be_read_is_refused(client, member, bad):
    checked(client.post("/v1/probe-check", json=CHECK | {member: bad}), 400)


def test_where_nothing_near_is_answered_no_stranger_s_plates_are_named(client):
    """Plates hold several times what points do: an example that is no answer to the question must not name them."""
    detail = client.get("/v1/breakdown?gap=8mm&electrodes=uniform-field&pressure=10mTorr").json["detail"]
    assert "Nothing near it is answered" in detail
    assert detail.endswith("Try /v1/breakdown?gap=8mm")


def test_a_method_that_does_not_take_what_is_asked_says_what_it_takes_and_several_what_any_of_them_does(client):
    query = "electrodes=uniform-field&gap=8mm&gas=nitrogen&method=quadratic-root-kuffel"
    alone = client.get(f"/v1/breakdown?{query}").get_json()
    validity = next(one for one in client.get("/v1/methods").get_json()["methods"] if one["key"] in query)["validity"]
    assert alone["detail"].startswith("This method does not answer with electrodes=uniform-field, gas=nitrogen")
    assert f", but with: {validity}." in alone["detail"]
    assert "Without method=quadratic-root-kuffel these electrodes are answered" in alone["detail"]
    several = client.get("/v1/breakdown?electrodes=rod-plane&gap=8mm&gas=vacuum").get_json()
    assert several["detail"].startswith("No method answers with electrodes=rod-plane, gas=vacuum, waveform=ac")
    assert ", but with: air." in several["detail"]


@pytest.mark.parametrize("gap", ["11m", "900m", "8km", "90km"])
@pytest.mark.parametrize("question", ["breakdown?electrodes=needle-gap&gap=", "breakdown?gap=", "spark?length="])
def test_a_gap_beyond_the_methods_is_told_their_range_however_large_it_is(client, question, gap):
    response = client.get(f"/v1/{question}{gap}")
    problem = response.get_json()
    assert (response.status_code, problem["type"]) == (422, "/problems/outside-validity")
    highs = [fault["valid"]["high"] for fault in problem["errors"] if fault["parameter"] in ("gap", "length")]
    assert {"value": 10_000.0, "unit": "mm"} in highs
    assert "10 µm to 10 m" in problem["detail"]
    assert "Try /v1/" in problem["detail"]


def test_a_bound_is_told_in_the_unit_that_a_person_would_use(client):
    detail = client.get("/v1/breakdown?gap=200km").get_json()["detail"]
    assert detail == "gap must be at most 100 km; '200km' lies outside."


class Broken:
    """A body in which the server finds a fault of its own kind while it is read."""

    def read(self, size=-1):
        raise RuntimeError("Invalid HTTP header name: 'TRAILER'")


@pytest.mark.parametrize("address", ["/v1/batch", "/v1/probe-check", "/v1/profile"])
@pytest.mark.parametrize("media", ["application/json", "application/vnd.apache.arrow.stream"])
def test_a_body_that_the_server_cannot_read_is_the_fault_of_who_sent_it(client, address, media):
    headers = {"Transfer-Encoding": "chunked", "Content-Type": media}
    environ = {"wsgi.input": Broken(), "wsgi.input_terminated": True}
    response = client.post(address, headers=headers, environ_overrides=environ)
    assert response.status_code in (400, 415)
    assert response.content_type == "application/problem+json"


@pytest.mark.parametrize(
    ("question", "tried"),
    [
        ("gap=8mm&electrodes=uniform-field&pressure=20bar", {"pressure": "1000kPa"}),
        ("gap=20m", {"gap": "10000mm"}),
        ("gap=1mm&pressure=5mPa", {"gas": "vacuum"}),
        ("gap=8mm&pressure=9mPa", {"gas": "vacuum"}),
        # between Paschen's left branch and vacuum nothing is known: a vacuum, which holds more, is not proposed
        ("gap=8mm&pressure=5Pa", {}),
        ("gap=8mm&pressure=11mPa", {}),
        # nor is a larger gap, though 10 um would be answered
        ("gap=9um", {}),
    ],
)
def test_what_a_refusal_proposes_is_the_nearest_that_is_answered_and_no_better_insulation(client, question, tried):
    problem = client.get(f"/v1/breakdown?{question}").get_json()
    assert problem["status"] == 422
    proposed = dict(parse_qsl(problem["detail"].partition("Try /v1/breakdown?")[2]))
    asked = dict(parse_qsl(question))
    assert {name: text for name, text in proposed.items() if name in tried} == tried
    assert ("gas" in proposed) is ("gas" in tried)
    assert ("Nothing near it is answered" in problem["detail"]) is (not tried)
    assert not tried or client.get(f"/v1/breakdown?{urlencode(asked | tried)}").status_code == 200
