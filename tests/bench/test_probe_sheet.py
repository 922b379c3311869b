"""Sheets as they come from a bench and from spreadsheets, and a hundred that cannot be read, each told by its place."""

import csv
import io

import pytest

from service.bench.probe_sheet import COLUMNS, MOST_ROWS, body_from_csv
from service.errors import BadQuestion
from service.lookups import probe_check, probe_plan
from service.web.bodies import read
from tests.asking import SHIPPED

HEAD = "spacing_mm,indicated_kV\n"
ROWS = "".join(f"3,{volts}\n" for volts in (10.9, 11.0, 10.8, 10.9, 11.1, 10.9, 10.8, 11.0, 10.9, 10.9))
QUERY = {"sphere_diameter": "20mm", "waveform": "dc", "irradiated": "yes"}
QUERY |= {"pressure": "101.3kPa", "temperature": "20.0degC", "relative_humidity": "50percent"}
PLAIN = body_from_csv(HEAD + ROWS, QUERY)

SAME = {
    "a byte order mark": "\ufeff" + HEAD + ROWS,
    "lines of a teletype": (HEAD + ROWS).replace("\n", "\r\n"),
    "lines of an old desktop": (HEAD + ROWS).replace("\n", "\r"),
    "decimal commas and semicolons": (HEAD + ROWS).replace(",", ";").replace(".", ","),
    "decimal points and semicolons": (HEAD + ROWS).replace(",", ";"),
    "tabs and decimal commas": (HEAD + ROWS).replace(",", "\t").replace(".", ","),
    "a line that names the separator": "sep=;\n" + (HEAD + ROWS).replace(",", ";").replace(".", ","),
    "the same, quoted": '"sep=,"\n' + HEAD + ROWS,
    "the same, and tabs": "sep=\t\n" + (HEAD + ROWS).replace(",", "\t"),
    "comments": "# read on a rainy day\n" + HEAD + "# first setting\n" + ROWS,
    "comments that a spreadsheet padded": "# rain,\n" + HEAD + ROWS,
    "empty lines and empty cells": HEAD + "\n,\n" + ROWS + ",,\n",
    "quoted cells": HEAD + ROWS.replace("3,", '"3",'),
    "capitals": HEAD.upper() + ROWS,
    "three and three point nought": HEAD + ROWS.replace("3,10.9", "3.0,10.9"),
    "an empty last column": HEAD.replace("\n", ",\n") + ROWS.replace("\n", ",\n"),
    "a table": "| spacing_mm | indicated_kV |\n|---|---|\n"
    + "".join(f"| {r.replace(',', ' | ')} |\n" for r in ROWS.split()),
}


@pytest.mark.parametrize("text", SAME.values(), ids=SAME)
def test_a_sheet_is_read_however_it_was_written(text):
    found = body_from_csv(text, QUERY)
    found.pop("unfilled_rows", None)
    assert [float(one["spacing"].removesuffix("mm")) for one in found["readings"]] == [3.0]
    assert found["readings"][0]["indicated_voltages"] == PLAIN["readings"][0]["indicated_voltages"]


def test_settings_keep_their_weather_their_time_and_their_remarks(registry):
    head = "spacing_mm,time,pressure_hPa,temperature_degC,relative_humidity_percent,remark,indicated_kV\n"
    rows = "".join(f"3,2026-11-02 14:05,998.2,22.{i % 2},45,windy,{11.0 + 0.01 * i:.2f}\n" for i in range(10))
    rows += "".join(f"4,,1003,19.5,50,,{14.4 + 0.01 * i:.2f}\n" for i in range(10))
    body = body_from_csv(head + rows, {name: QUERY[name] for name in ("sphere_diameter", "waveform", "irradiated")})
    first, second = body["readings"]
    assert (first["pressure"], first["temperature"], first["time"]) == ("998.2hPa", "22.05degC", "2026-11-02 14:05")
    assert (first["remark"], second["relative_humidity"]) == ("windy", "50percent")
    document = probe_check.answer(read(probe_check.BODY, body), registry).document(registry)
    assert document["overall"]["verdict"] == "agrees-within-uncertainty"
    # one weather for both would have been wrong for one: 0.5 % of pressure and 0.9 % of temperature
    alone = [{**one, "pressure": "998.2hPa", "temperature": "22.05degC"} for one in body["readings"]]
    other = probe_check.answer(read(probe_check.BODY, {**body, "readings": alone}), registry).document(registry)
    before, after = (one["settings"][1]["reference_voltage"]["value"] for one in (other, document))
    assert after / before == pytest.approx(1003 / 998.2 * 295.2 / 292.65, rel=4e-3)  # and 1.3 g/m3 of water


def test_the_sheet_of_a_plan_says_waveform_polarity_earthing_heights_and_clearances(registry):
    query = "voltage_from=40kV&voltage_to=60kV&spheres=5cm&waveform=lightning-impulse&polarity=negative"
    rows = list(csv.DictReader(io.StringIO(SHIPPED.answer(probe_plan, query).written["csv"])))
    assert tuple(rows[0]) == COLUMNS
    assert (rows[0]["waveform"], rows[0]["polarity"], rows[0]["earthing"]) == (
        "lightning-impulse",
        "negative",
        "one-earthed",
    )
    assert all(float(rows[0][name]) > 0 for name in ("earth_height_from_mm", "earth_height_to_mm", "side_clearance_mm"))
    for row in rows:
        row |= {"indicated_kV": row["expected_kV"], "temperature_degC": "20.0", "pressure_kPa": "101.3"}
    target = io.StringIO()
    writer = csv.DictWriter(target, COLUMNS)
    writer.writeheader()
    writer.writerows(rows)
    body = body_from_csv(target.getvalue(), {})
    assert (body["waveform"], body["polarity"]) == ("lightning-impulse", "negative")
    assert "unfilled_rows" not in body
    read(probe_check.BODY, body)


def test_negative_direct_readings_are_magnitudes_with_a_polarity():
    body = body_from_csv(HEAD + ROWS.replace("3,", "3,-"), QUERY)
    assert body["polarity"] == "negative"
    assert body["readings"] == PLAIN["readings"]


PEOPLE = HEAD.replace("\n", ",remark,temperature_degC\n")
HOSTILE = {
    # what stands in a cell of readings
    **{
        f"a reading of {text!r}": (HEAD + f"3,{text}\n", 2, "indicated_kV")
        for text in (
            *(
                "abc",
                "10.9kV",
                "1e999",
                "nan",
                "inf",
                "0",
                "0.0",
                "10 9",
                "1.0.9",
                "0x1F",
                "1_000",
                "+",
                "-",
                ".",
            ),
            *(
                "e5",
                "1e",
                "--5",
                "=1+1",
                "@SUM(A1)",
                "<b>",
                "\u0661",
                "1/2",
                "10\u00a09",
                "9" * 80,
                "1e12",
                "\x00",
                "\x1b[2J",
            ),
            *(
                "'10",
                "#N/A",
                "#REF!",
                "TRUE",
                "null",
                "10.9V",
                "~10",
                "10..11",
                "\u221e",
                "&#49;",
                "%31",
                "\\n",
            ),
        )
    },
    **{
        f"a spacing of {text!r}": (HEAD + f"{text},10.9\n", 2, "spacing_mm")
        for text in (
            "abc",
            "3mm",
            "0",
            "-3",
            "1e9",
            "nan",
            "3 mm",
            "",
            "=3",
            "<3",
            "1e-12",
            "\u0663",
            "3'",
            "3e",
            "inf",
        )
    },
    **{
        f"a temperature of {text!r}": (PEOPLE + f"3,10.9,fine,{text}\n", 2, "temperature_degC")
        for text in ("warm", "20C", "-300", "1e6", "nan", "20.0.0", "twenty", "20 \u00b0C", "1e99", "=20")
    },
    # what is wrong with a row
    "a cell too many": (HEAD + "3,10.9,7\n", 2, "column 3"),
    "many cells too many": (HEAD + "3,10.9" + ",1" * 5000 + "\n", 2, "column 3"),
    "a decimal comma between commas": (HEAD + "3,10,9\n", 2, "column 3"),
    "a quote that does not end": (HEAD + '3,"10.9\n', 2, "column 1"),
    "a quote in the middle": (HEAD + '3,"10"9\n', 2, "column 1"),
    "a remark without end": (PEOPLE + f"3,10.9,{'x' * 5000},20\n", 2, "remark"),
    "a bell in a remark": (PEOPLE + "3,10.9,ring\x07,20\n", 2, "remark"),
    "the third row": (HEAD + "3,10.9\n3,11\n3,?\n", 4, "indicated_kV"),
    "below a comment": ("# one\n" + HEAD + "# two\n3,?\n", 4, "indicated_kV"),
    "below a separator": ("sep=;\nspacing_mm;indicated_kV\n3;?\n", 3, "indicated_kV"),
    "mixed signs": (HEAD + "3,10.9\n3,-10.9\n", 3, "indicated_kV"),
    # what is wrong with the heading
    "no heading": ("3,10.9\n", 1, "unknown column"),
    "an unknown column": ("spacing_mm,indicated_kV,colour\n3,10.9,red\n", 1, "colour"),
    "a unit that is none": ("spacing_cm,indicated_kV\n0.3,10.9\n", 1, "spacing_cm"),
    "a column twice": ("spacing_mm,indicated_kV,spacing_mm\n3,10.9,3\n", 1, "spacing_mm"),
    "no spacing": ("setting,indicated_kV\n1,10.9\n", 1, "spacing_mm"),
    "no readings": ("spacing_mm,remark\n3,x\n", 1, "indicated_kV"),
    "two columns of readings": ("spacing_mm,indicated_kV,instrument_V\n3,10.9,10.9\n", 1, "indicated_kV"),
    "a heading with a gap": ("spacing_mm,,indicated_kV\n3,,10.9\n", 1, "column 2"),
    "a separator that is none": ("sep=x\nspacing_mmxindicated_kV\n3x10.9\n", 1, "column 1"),
    "a page of the web": ("<html><body>no</body></html>\n", 1, "unknown column"),
    "an object": ('{"readings": []}\n', 1, "column 1"),
    "a picture": ("\x89PNG\r\n\x1a\n", 1, "unknown column"),
    # what is wrong with the whole
    "nothing": ("", 1, "spacing_mm"),
    "white space": (" \n\t\n  \r\n", 1, "column 1"),
    "comments alone": ("# a\n# b\n", 1, "column 1"),
    "a heading alone": (HEAD, 1, "indicated_kV"),
    "no reading filled in": (HEAD + "3,\n4,\n", 1, "indicated_kV"),
    "rows without end": (HEAD + "3,10.9\n" * (MOST_ROWS + 1), MOST_ROWS + 2, "column 1"),
    "a table with a letter": ("| spacing_mm | indicated_kV |\n|---|---|\n| 3 | x |\n", 3, "indicated_kV"),
    "a waveform that is none": ("spacing_mm,indicated_kV,waveform\n3,10.9,square\n", 2, "waveform"),
    "two waveforms": ("spacing_mm,indicated_kV,waveform\n3,10.9,dc\n4,14,ac\n", 3, "waveform"),
    "an earthing that is none": ("spacing_mm,indicated_kV,earthing\n3,10.9,none\n", 2, "earthing"),
    "a polarity that is none": ("spacing_mm,indicated_kV,polarity\n3,10.9,plus\n", 2, "polarity"),
    "a humidity above all": ("spacing_mm,indicated_kV,relative_humidity_percent\n3,10.9,140\n", 2, "relative_humidity"),
    "a pressure of nought": ("spacing_mm,indicated_kV,pressure_kPa\n3,10.9,0\n", 2, "pressure_kPa"),
    "a sea too deep": ("spacing_mm,indicated_kV,sea_level_pressure_hPa\n3,10.9,9\n", 2, "sea_level_pressure_hPa"),
}


@pytest.mark.parametrize(("text", "row", "column"), HOSTILE.values(), ids=HOSTILE)
def test_what_cannot_be_read_is_told_by_row_and_column(client, text, row, column):
    response = client.post(
        "/v1/probe-check?sphere_diameter=20mm" + ("" if "waveform" in text else "&waveform=dc"),
        data=text.encode(),
        content_type="text/csv",
    )
    assert response.status_code == 400
    detail = response.get_json()["detail"]
    assert f"row {row}" in detail.casefold()
    assert column in detail
    assert "column" in detail
    assert len(detail) < 4000


def test_there_are_a_hundred_kinds():
    assert len(HOSTILE) >= 100


def test_of_many_faults_twenty_are_named():
    with pytest.raises(BadQuestion, match=r"And 380 more\.$") as refused:
        body_from_csv(HEAD + "x,y\n" * 200, QUERY)
    assert len(refused.value.faults) == 20


def test_a_sheet_of_more_than_a_megabyte_is_too_large(client):
    text = HEAD + "3,10.9\n" + "#" * 1_000_001
    assert client.post("/v1/probe-check?sphere_diameter=20mm", data=text, content_type="text/csv").status_code == 413


def test_what_is_not_text_is_refused(client):
    data = HEAD.encode() + b"3,\xff\n"
    response = client.post("/v1/probe-check?sphere_diameter=20mm", data=data, content_type="text/csv")
    assert "UTF-8" in response.get_json()["detail"]
