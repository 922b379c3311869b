"""The manner of asking: formats, path form, tags, refusals, batches, pages; the contract is openapi.yaml."""

from __future__ import annotations

import csv
import io
import re

import pytest

from service.render.formats import FORMATS
from service.web import create_app, health

SPELLINGS = [
    "/v1/breakdown?gap=8mm&electrodes=uniform-field&relative_humidity=50percent",
    "/v1/breakdown?relative_humidity=50%25&electrodes=uniform-field&gap=0.8cm",
    "/v1/breakdown?gap=8000um&electrodes=uniform-field&relative_humidity=50+percent",
    "/v1/breakdown?gap=8000%C2%B5m&electrodes=uniform-field&relative_humidity=50percent",
    "/v1/breakdown;gap=8mm;electrodes=uniform-field;relative_humidity=50percent",
    "/v1/breakdown;gap=8000%CE%BCm?electrodes=uniform-field&relative_humidity=50percent",
]


@pytest.mark.parametrize("address", SPELLINGS)
def test_one_question_in_every_spelling_has_one_answer_and_tag(client, address):
    first, here = client.get(SPELLINGS[0]), client.get(address)
    assert here.status_code == 200, here.data
    assert here.data == first.data
    assert here.headers["ETag"] == first.headers["ETag"]
    again = client.get(address, headers={"If-None-Match": here.headers["ETag"]})
    assert again.status_code == 304


def test_path_form_with_a_suffix(client):
    response = client.get("/v1/breakdown;gap=5.5mm;electrodes=needle-gap.txt")
    assert response.content_type == "text/plain; charset=utf-8"
    assert "Vary" not in response.headers
    assert client.get("/v1/breakdown;gap=8mm;absolute_humidity=11g/m3").status_code == 200


PLATES = "electrodes=uniform-field"

PATHS = [
    (";gap=5.5mm;electrodes=needle-gap", "gap=5.5mm&electrodes=needle-gap"),
    (";gap=5.5mm;electrodes=needle-gap.json", "gap=5.5mm&electrodes=needle-gap"),
    (".json;gap=5.5mm;electrodes=needle-gap", "gap=5.5mm&electrodes=needle-gap"),
    (".json?gap=5.5mm&electrodes=needle-gap", "gap=5.5mm&electrodes=needle-gap"),
    (";gap=8mm;absolute_humidity=11g/m3", "gap=8mm&absolute_humidity=11g_m3"),
    (";gap=8mm;absolute_humidity=11g%2Fm3", "gap=8mm&absolute_humidity=11g%2Fm3"),
    (";gap=8mm%3Babsolute_humidity=11g_m3", "gap=8mm&absolute_humidity=11g_m3"),
    (";gap=8mm;relative_humidity=50%25", "gap=8mm&relative_humidity=50percent"),
    (";gap=8mm;relative_humidity=50percent", "gap=8mm&relative_humidity=50%25"),
    (";gap=8000%C2%B5m", "gap=8mm"),
    (";gap=8000%CE%BCm", "gap=8mm"),
    (";gap=8%20mm", "gap=8+mm"),
    (";gap=8e+3um", "gap=8e+3um"),
    (";gap=8e%2B3um", "gap=8e%2B3um"),
]


@pytest.mark.parametrize(("path", "query"), PATHS)
def test_the_path_form_is_the_query_in_another_dress(client, path, query):
    in_path, in_query = client.get(f"/v1/breakdown{path}"), client.get(f"/v1/breakdown?{query}")
    assert in_path.status_code == 200, in_path.data
    assert in_path.data == in_query.data
    assert in_path.headers["ETag"] == in_query.headers["ETag"]


def test_a_name_in_path_and_query_is_a_repetition(client):
    assert "more than once" in client.get("/v1/breakdown;gap=8mm?gap=8mm").get_json()["detail"]


def test_a_pair_without_an_equals_sign_is_refused(client):
    assert client.get("/v1/breakdown;8mm").status_code == 400
    assert client.get("/v1/breakdown;gap=8mm;").status_code == 400


def test_only_the_address_without_a_suffix_varies_by_accept(client):
    assert client.get(f"/v1/breakdown?gap=8mm&{PLATES}").headers["Vary"] == "Accept"
    for suffix in FORMATS:
        assert "Vary" not in client.get(f"/v1/breakdown.{suffix}?gap=8mm&{PLATES}").headers


ACCEPTS = [
    (None, "application/json"),
    ("*/*", "application/json"),
    ("application/*", "application/json"),
    ("text/csv", "text/csv"),
    ("text/html;q=0.2, text/csv", "text/csv"),
    ("text/plain", "text/plain"),
    ("image/svg+xml", "image/svg+xml"),
    ("image/png, */*;q=0.1", "image/png"),
    ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html"),
]


@pytest.mark.parametrize(("accept", "expected"), ACCEPTS)
def test_accept_chooses_the_format_and_json_is_the_default(client, accept, expected):
    headers = {} if accept is None else {"Accept": accept}
    assert client.get("/v1/breakdown?gap=8mm", headers=headers).mimetype == expected


def test_a_suffix_beats_accept(client):
    assert client.get("/v1/breakdown.csv?gap=8mm", headers={"Accept": "image/png"}).mimetype == "text/csv"


def test_every_alternate_that_is_linked_is_there(client):
    links = client.get(f"/v1/breakdown?gap=5.5mm&{PLATES}").headers["Link"].split(", ")
    assert len(links) == len(FORMATS) - 1
    for link in links:
        address, relation, media = link.split("; ")
        assert relation == 'rel="alternate"'
        response = client.get(address[1:-1])
        assert response.status_code == 200
        assert media == f'type="{response.mimetype}"'


def test_tags_differ_by_question_format_and_theme_and_not_by_spelling(client):
    asked = [
        "/v1/breakdown?gap=8mm",
        "/v1/breakdown?gap=9mm",
        "/v1/breakdown.txt?gap=8mm",
        "/v1/breakdown.svg?gap=8mm",
        "/v1/breakdown.svg?gap=8mm&theme=dark",
        "/v1/breakdown?gap=8mm&only=breakdown_voltage",
        "/v1/gap?voltage=8kV",
    ]
    tags = [client.get(address).headers["ETag"] for address in asked]
    assert len(set(tags)) == len(asked)
    assert not any(tag.startswith("W/") for tag in tags)


STORED = ["/v1/breakdown?gap=8mm", "/v1/gases", "/v1/tables/iec-60052-table-2.csv", "/openapi.yaml"]


@pytest.mark.parametrize("address", STORED)
def test_an_answer_may_be_kept_an_hour_and_asked_again_by_its_tag(client, address):
    response = client.get(address)
    assert response.headers["Cache-Control"] == "public, max-age=3600, stale-while-revalidate=86400"
    again = client.get(address, headers={"If-None-Match": response.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == response.headers["ETag"]
    assert client.get(address, headers={"If-None-Match": '"other"'}).status_code == 200


def test_the_tag_of_the_specification_is_that_of_its_bytes(client, monkeypatch, tmp_path):
    first = client.get("/openapi.yaml")
    assert first.headers["Content-Type"] == "application/yaml"
    weak = client.get("/openapi.yaml", headers={"If-None-Match": f"W/{first.headers['ETag']}"})
    assert (weak.status_code, weak.data) == (304, b"")
    other = tmp_path / "openapi.yaml"
    other.write_bytes(first.data + b"\n")
    monkeypatch.setattr(health, "specification_file", lambda: other)
    again = client.get("/openapi.yaml", headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (200, other.read_bytes())
    assert again.headers["ETag"] != first.headers["ETag"]


@pytest.mark.parametrize("address", ["/", "/?lookup=gap&voltage=12kV", "/docs", "/problems/bad-question"])
def test_a_page_is_confirmed_by_its_tag_each_time(client, address):
    page = client.get(address)
    assert page.headers["Cache-Control"] == "no-cache"
    again = client.get(address, headers={"If-None-Match": page.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert client.get(address, headers={"If-None-Match": '"other"'}).data == page.data
    elsewhere = client.get(address, headers={"Host": "hv.example"})
    assert (elsewhere.data == page.data) == (elsewhere.headers["ETag"] == page.headers["ETag"])


@pytest.mark.parametrize("address", ["/health/live", "/health/ready"])
def test_health_is_never_stored(client, address):
    assert client.get(address).headers["Cache-Control"] == "no-store"


def test_readiness_compiles_what_pages_are_made_of():
    app = create_app()
    app.test_client().get("/health/ready")
    compiled = {name for _, name in app.jinja_env.cache.keys()}  # noqa: SIM118  # it has no iterator of its own
    assert {"home.html", "docs.html", "probe_check.html", "problem.html"} <= compiled


EVERYWHERE = ["/v1/breakdown?gap=8mm", "/v1/gases", "/health/live", "/openapi.yaml", "/", "/v1/breakdown", "/nothing"]


@pytest.mark.parametrize("address", EVERYWHERE)
def test_any_page_of_the_web_may_read_the_answer(client, address):
    headers = client.get(address, headers={"Origin": "https://wiki.example"}).headers
    assert headers["Access-Control-Allow-Origin"] == "*"
    assert "Access-Control-Allow-Credentials" not in headers
    assert {"ETag", "Link", "Retry-After"} <= set(headers["Access-Control-Expose-Headers"].split(", "))
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert "X-Frame-Options" not in headers


def test_a_preflight_is_answered(client):
    headers = {"Origin": "https://wiki.example", "Access-Control-Request-Method": "POST"}
    response = client.options("/v1/batch", headers=headers)
    assert response.status_code == 200
    assert "POST" in response.headers["Access-Control-Allow-Methods"]
    assert "Content-Type" in response.headers["Access-Control-Allow-Headers"]


@pytest.mark.parametrize("address", EVERYWHERE)
def test_head_is_get_without_its_body(client, address):
    head, whole = client.head(address), client.get(address)
    assert head.status_code == whole.status_code
    assert head.data == b""
    assert head.headers.get("ETag") == whole.headers.get("ETag")
    assert head.headers["Content-Type"] == whole.headers["Content-Type"]
    assert head.headers["Content-Length"] == str(len(whole.data))


NEAR_VACUUM = "/v1/gap?pressure=100Pa&electrodes=uniform-field&voltage="

ONLY = [
    (f"{NEAR_VACUUM}200V&only=gaps", 0),
    (f"{NEAR_VACUUM}1kV&only=gaps", 2),
    (f"{NEAR_VACUUM}1kV&only=gaps.branch", 2),
    (f"{NEAR_VACUUM}1kV&only=gaps.1.holds_above", 1),
    ("/v1/breakdown?gap=8mm&only=breakdown_voltage", 1),
    ("/v1/breakdown;gap=8mm;only=breakdown_voltage.high", 1),
    ("/v1/breakdown.txt?gap=8mm&only=asked.pressure", 1),
]


@pytest.mark.parametrize(("address", "lines"), ONLY)
def test_one_field_for_a_shell_is_one_line_each(client, address, lines):
    response = client.get(address)
    assert response.status_code == 200, response.data
    assert response.content_type == "text/plain; charset=utf-8"
    assert len(response.text.splitlines()) == lines
    assert not response.data or response.data.endswith(b"\n")


def test_an_entry_without_the_field_keeps_its_line(client):
    asked = "/v1/spark?length=9mm&only=voltage_by_electrodes"
    names = client.get(f"{asked}.electrodes").text.splitlines()
    diameters = client.get(f"{asked}.sphere_diameter").text.splitlines()
    assert len(names) == len(diameters)
    assert diameters[names.index("needle-gap")] == "-"


def test_a_bracket_in_a_shell_is_its_two_ends(client):
    whole = client.get("/v1/breakdown?gap=8mm").get_json()["breakdown_voltage"]
    low, high = client.get("/v1/breakdown?gap=8mm&only=breakdown_voltage").text.split()
    assert (float(low), float(high)) == (whole["low"], whole["high"])
    argon = client.get("/v1/breakdown?gap=8mm&gas=argon&only=breakdown_voltage").text.split()
    assert argon[0] == "-"


@pytest.mark.parametrize("address", ["/v1/approach?nominal_voltage=12kV", "/v1/hazard?voltage=12kV"])
def test_limits_and_distances_are_answered_whole(client, address):
    assert client.get(f"{address}&only=distances").status_code == 400


@pytest.mark.parametrize("suffix", ["json", "csv", "svg", "html"])
def test_one_field_goes_only_with_text(client, suffix):
    assert client.get(f"/v1/breakdown.{suffix}?gap=8mm&only=breakdown_voltage").status_code == 400


def test_a_theme_belongs_to_pictures(client):
    assert client.get("/v1/breakdown.svg?gap=8mm&theme=dark").status_code == 200
    assert client.get("/v1/breakdown.csv?gap=8mm&theme=dark").status_code == 400
    assert client.get("/v1/breakdown.svg?gap=8mm&theme=sepia").status_code == 400


def test_the_columns_of_csv_carry_their_units_and_the_rows_agree_with_json(client):
    asked = f"gap=8mm&{PLATES}"
    [row] = csv.DictReader(io.StringIO(client.get(f"/v1/breakdown.csv?{asked}").text))
    whole = client.get(f"/v1/breakdown?{asked}").get_json()
    assert float(row["breakdown_voltage_kV"]) == whole["breakdown_voltage"]["value"]
    assert float(row["asked_pressure_kPa"]) == 101.3
    assert row["data_version"] == whole["data_version"]
    [gap] = csv.DictReader(io.StringIO(client.get(f"/v1/gap.csv?voltage=12kV&{PLATES}").text))
    assert float(gap["gap_mm"]) > 0
    assert float(gap["holds_above_mm"]) > float(gap["sparks_below_mm"])


def test_text_begins_with_the_answer_and_then_what_was_assumed(client):
    text = " ".join(client.get("/v1/breakdown.txt?gap=8mm").text.split())
    order = ["Breaks down at: ", "Because", "Assumed, not said", "pressure 101.3 kPa", "Answer"]
    assert [text.index(part) for part in order] == sorted(text.index(part) for part in order)


def test_every_form_begins_with_what_is_read_first(client):
    document = client.get("/v1/breakdown?gap=8mm").json
    headline = document["headline"]["text"]
    for suffix in ("txt", "md", "wiki", "dokuwiki", "html"):
        text = client.get(f"/v1/breakdown.{suffix}?gap=8mm").text
        assert text.index(headline) < text.index("Because")
    for picture in ("/v1/breakdown.svg?gap=8mm", "/v1/breakdown.svg?gap=8mm&view=brief&width=200"):
        assert headline in client.get(picture).text


def test_digits_cut_what_is_printed_towards_caution(client):
    ask = "/v1/breakdown?gap=8mm&only=breakdown_voltage"
    low, high = map(float, client.get(ask).text.split())
    cut_low, cut_high = map(float, client.get(f"{ask}&digits=2").text.split())
    assert low * 0.9 < cut_low <= low
    assert high <= cut_high < high * 1.1
    assert client.get("/v1/breakdown?gap=8mm&digits=2").status_code == 400


def test_a_picture_has_the_width_that_is_asked(client):
    picture = client.get("/v1/breakdown.svg?gap=8mm&width=320").text
    assert 'width="320"' in picture
    assert min(float(size) for size in re.findall(r'font-size="([0-9.]+)"', picture)) >= 11
    assert client.get("/v1/breakdown.svg?gap=8mm&width=50").status_code == 400
    assert client.get("/v1/breakdown.csv?gap=8mm&width=320").status_code == 400


REFUSED = [
    ("gap=8", "bare number"),
    ("gap=8mm&depth=3mm", "not known"),
    ("gap=8mm&gap=9mm", "more than once"),
    ("gap=", "empty"),
    ("gap=5,3mm", "comma"),
    ("gap=nanmm", "cannot read"),
    ("gap=8mm&pressure=3psig", "gauge"),
    ("gap=8mm&pressure=100kPa&altitude=1km", "contradict"),
    ("gap=8mm&gas=foo", "does not know"),
    ("gap=-8mm", "greater than zero"),
    ("gap=1e999mm", "finite"),
    ("gap=8kV", "unit of a voltage"),
    ("", "needed"),
]


@pytest.mark.parametrize(("query", "words"), REFUSED)
def test_what_cannot_be_read_is_a_problem_that_says_why(client, query, words):
    response = client.get(f"/v1/breakdown?{query}")
    assert response.status_code == 400
    assert response.content_type == "application/problem+json"
    problem = response.get_json()
    assert set(problem) == {"type", "title", "status", "detail", "errors"}
    assert words in problem["detail"]
    assert client.get(problem["type"]).status_code == 200


def test_a_refusal_outside_validity_ends_with_a_request_that_works(client):
    response = client.get("/v1/breakdown?gap=2cm&electrodes=uniform-field&method=closed-form-air-raizer")
    problem = response.get_json()
    assert response.status_code == 422
    assert problem["errors"][0]["valid"]
    assert client.get(problem["detail"].split()[-1]).status_code == 200


def test_input_is_echoed_short_and_escaped(client):
    response = client.get("/v1/breakdown?gap=<script>alert(1)</script>" + "x" * 40)
    assert response.status_code == 400
    assert b"<script" not in response.data
    assert b"x" * 33 not in response.data


def test_errors_of_every_kind_are_problems(client):
    wrong = client.post("/v1/breakdown")
    assert wrong.status_code == 405
    assert "GET" in wrong.headers["Allow"]
    cases = {
        404: client.get("/v1/breakdwon?gap=8mm"),
        406: client.get("/v1/breakdown?gap=8mm", headers={"Accept": "application/pdf"}),
        415: client.post("/v1/batch", data="a,b"),
        400: client.post("/v1/batch", data="[" * 100000, content_type="application/json"),
    }
    for status, response in cases.items():
        assert response.status_code == status
        assert response.content_type == "application/problem+json"
        assert response.headers["Access-Control-Allow-Origin"] == "*"


@pytest.mark.parametrize("address", ["/v1/batch", "/v1/probe-check", "/v1/probe-check.txt"])
def test_what_is_asked_in_a_body_is_not_asked_with_get(client, address):
    response = client.get(address)
    assert response.status_code == 405
    assert {one.strip() for one in response.headers["Allow"].split(",")} == {"POST", "OPTIONS"}
    assert client.options(address).headers["Access-Control-Allow-Methods"] == response.headers["Allow"]


def test_a_value_out_of_bounds_is_refused_in_words(client):
    detail = client.get("/v1/gap?voltage=1e9V").get_json()["detail"]
    assert detail == "voltage must be at most 100 MV; '1e9V' lies outside."


def test_head_and_options_work_everywhere(client):
    assert client.head("/v1/breakdown?gap=8mm").status_code == 200
    options = client.options("/v1/breakdown")
    assert options.status_code == 200
    assert "GET" in options.headers["Access-Control-Allow-Methods"]


def test_one_field_as_plain_text(client):
    spheres = "/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm&only="
    assert client.get(spheres + "breakdown_voltage").data == b"17.4\n"  # IEC 60052 Table 2
    assert client.get(spheres + "breakdown_voltage.low").data == b"16.878\n"
    assert client.get(spheres + "nothing").status_code == 400


def test_a_batch_answers_element_by_element(client):
    body = {
        "lookup": "breakdown",
        "given": {"gas": "air", "electrodes": "uniform-field"},
        "columns": {"gap": {"unit": "mm", "values": [1, 2, 8, True, None, "3", -1, 1e9]}},
    }
    document = client.post("/v1/batch", json=body).get_json()
    assert document["status"] == ["ok"] * 3 + ["unreadable"] * 5
    assert document["columns"]["breakdown_voltage"]["values"][2] == pytest.approx(25.79, abs=0.01)
    assert document["columns"]["breakdown_voltage"]["values"][3:] == [None] * 5


def test_a_batch_of_gaps_is_the_same_as_one_by_one(client):
    body = {
        "lookup": "gap",
        "given": {"electrodes": "uniform-field", "pressure": "1kPa"},
        "columns": {"voltage": {"unit": "kV", "values": [0.2, 5, 12, 5e4]}},
    }
    document = client.post("/v1/batch", json=body).get_json()
    assert document["status"] == ["no-breakdown", "ok", "ok", "outside-validity"]
    single = client.get("/v1/gap?voltage=12kV&electrodes=uniform-field&pressure=1kPa").get_json()["gaps"][-1]
    assert document["columns"]["gap"]["values"][2] == pytest.approx(single["value"], rel=1e-9)


PAGES = (
    "/",
    "/?gap=8mm",
    "/?lookup=spark&length=9mm",
    "/docs",
    "/wiki",
    "/wiki?url=/v1/breakdown?gap=8mm",
    "/probe-check",
)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_is_served_without_outside_hosts(client, address):
    response = client.get(address)
    assert response.status_code == 200
    assert b"http://" not in response.data.replace(b"http://localhost", b"").replace(b"http://www.w3.org", b"")


def test_oembed_describes_only_our_own_addresses(client):
    photo = client.get("/oembed?url=/v1/breakdown.svg%3Fgap%3D8mm").get_json()
    assert photo["type"] == "photo"
    assert client.get("/oembed?url=https://example.org/v1/breakdown%3Fgap%3D8mm").status_code == 404
    other = client.get("/oembed?url=/v1/breakdown%3Fgap%3D8mm&format=xml")
    assert (other.status_code, other.get_json()["type"]) == (501, "/problems/not-offered")


@pytest.mark.parametrize(("switch", "shown"), [("on", True), ("off", False)])
def test_questions_are_logged_only_where_it_is_switched_on(caplog, switch, shown):

    asker = create_app({"SERVICE_LOG_QUERIES": switch}).test_client()
    with caplog.at_level("INFO", logger="service.requests"):
        asker.get("/v1/breakdown?gap=8mm")
        asker.get("/v1/breakdown;gap=9mm")
    assert "/v1/breakdown" in caplog.text
    assert ("gap=8mm" in caplog.text, "gap=9mm" in caplog.text) == (shown, shown)


def test_a_table_has_metadata_after_csv_on_the_web(client):
    table = client.get("/v1/tables/needle-gap.csv")
    link = table.headers["Link"]
    address = re.search(r"<([^>]+csv-metadata.json)>", link)[1]
    metadata = client.get(address)
    assert metadata.content_type == "application/csvm+json"
    document = metadata.get_json()
    assert document["@context"] == "http://www.w3.org/ns/csvw"
    header = table.data.decode().splitlines()[0].split(",")
    assert [column["titles"] for column in document["tableSchema"]["columns"]] == header
    assert client.get("/v1/tables/nothing.csv-metadata.json").status_code == 404


def test_a_method_names_each_arrangement_once(client):
    for method in client.get("/v1/methods").get_json()["methods"]:
        assert len(set(method["electrodes"])) == len(method["electrodes"])


def test_a_corona_onset_above_the_uniform_field_is_no_bracket(client):
    document = client.get("/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=4mm").get_json()
    [corona] = [one for one in document["also"] if one["key"] == "corona-onset-spheres"]
    assert corona["inception_voltage"]["value"] > 0
    low, high = (corona.get("breakdown_voltage", {}).get(end) for end in ("low", "high"))
    assert (low is None and high is None) or low < high


def test_a_formula_is_read_as_its_gas_and_the_answer_names_the_key(client):
    for formula, gas in {"Ar": "argon", "SF6": "sulfur-hexafluoride", "n2": "nitrogen"}.items():
        assert client.get(f"/v1/breakdown?gap=1cm&gas={formula}").get_json()["asked"]["gas"] == gas


def test_a_group_that_follows_from_a_material_is_not_listed_as_assumed(client):
    query = "working_voltage=400V&pollution_degree=2&insulation=basic&material=fr-4"
    asked = client.get(f"/v1/creepage?{query}").get_json()["asked"]
    assert "material_group" not in asked["assumed"]
    assert asked["material"] == "fr-4"


@pytest.mark.parametrize("host", ["a, b", "x:y", "a/b", "a b", "<b>", "user@a", ""])
def test_what_names_no_host_or_two_is_refused(client, host):
    """RFC 9112, 3.2: 400 where there is no Host line, more than one, or what is no host."""
    response = client.get("/health/live", headers={"Host": host})
    assert response.status_code == 400
    assert response.mimetype == "application/problem+json"


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8000", "[::1]:8000", "hv.example.org", "my_service:80"])
def test_a_host_is_a_name_or_an_address(client, host):
    assert client.get("/health/live", headers={"Host": host}).status_code == 200
