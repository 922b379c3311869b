"""Weather as people have it: a pressure reduced to sea level with the altitude, wherever a pressure is asked."""

import pytest

from tests.asking import SHIPPED

LOOKUPS = ("breakdown", "gap", "spark", "sphere-gaps", "protective-gap", "probe-plan", "switch-on-sheet")
DENVER = "sea_level_pressure=1013hPa&altitude=1609m"


def test_the_pressure_at_the_place_follows_and_is_told(client):
    answer = client.get(f"/v1/breakdown?gap=8mm&electrodes=uniform-field&{DENVER}").get_json()
    assert answer["asked"]["pressure"]["value"] == pytest.approx(83.4, abs=0.05)
    assert answer["asked"]["sea_level_pressure"] == {"value": 101.3, "unit": "kPa"}
    assert any("follows from that at sea level" in note for note in answer["notes"])
    same = client.get("/v1/breakdown?gap=8mm&electrodes=uniform-field&altitude=1609m").get_json()
    assert answer["breakdown_voltage"]["value"] == pytest.approx(same["breakdown_voltage"]["value"], rel=1e-3)


def test_everywhere_where_pressure_is_asked():
    asked = {key: {parameter.name for parameter in one.parameters} for key, one in SHIPPED.found.items()}
    assert set(LOOKUPS) <= {key for key, names in asked.items() if "sea_level_pressure" in names}
    with_altitude = {key for key, names in asked.items() if {"pressure", "altitude"} <= names}
    assert with_altitude == {key for key, names in asked.items() if "sea_level_pressure" in names}


def test_a_station_pressure_given_as_reduced_does_not_fit_and_is_noted(client):
    answer = client.get("/v1/breakdown?gap=8mm&sea_level_pressure=834hPa&altitude=1609m").get_json()
    assert any("does not fit" in note for note in answer["notes"])


def test_a_reduced_pressure_given_as_that_of_the_place_is_caught(client):
    refused = client.get("/v1/breakdown?gap=8mm&pressure=1013hPa&altitude=1609m")
    assert refused.status_code == 400
    detail = refused.get_json()["detail"]
    assert "contradict" in detail
    assert "does not fit 1609 m" in detail
    assert "sea_level_pressure" in detail


@pytest.mark.parametrize("query", ["sea_level_pressure=1013hPa", f"{DENVER}&pressure=83kPa"])
def test_a_reduced_pressure_goes_with_an_altitude_and_nothing_else(client, query):
    assert client.get(f"/v1/breakdown?gap=8mm&{query}").status_code == 400


def test_a_batch_takes_columns_of_it(client):
    given = {"electrodes": "uniform-field", "altitude": "1609m"}
    columns = {"gap": {"unit": "mm", "values": [8, 8]}, "sea_level_pressure": {"unit": "hPa", "values": [1013, 990]}}
    volts = client.post("/v1/batch", json={"lookup": "breakdown", "given": given, "columns": columns}).get_json()
    found = volts["columns"]["breakdown_voltage"]["values"]
    for value, pressure in zip(found, (1013, 990), strict=True):
        query = f"gap=8mm&electrodes=uniform-field&altitude=1609m&sea_level_pressure={pressure}hPa"
        alone = client.get(f"/v1/breakdown?{query}").get_json()
        assert value == pytest.approx(alone["breakdown_voltage"]["value"], rel=1e-12)
    assert volts["asked"]["pressure"] == "column"


def test_a_probe_check_takes_it_for_each_setting(client):
    readings = [
        {"spacing": f"{s}mm", "sea_level_pressure": p, "indicated_voltages": ["10.00kV"] * 10}
        for s, p in ((3, "1013.0hPa"), (3.1, "998.0hPa"))
    ]
    body = {"sphere_diameter": "20mm", "waveform": "ac", "irradiated": "yes", "altitude": "1609m"}
    body |= {"temperature": "20.0degC", "relative_humidity": "50percent", "readings": readings}
    answer = client.post("/v1/probe-check", json=body)
    assert answer.status_code == 200, answer.get_data(as_text=True)
