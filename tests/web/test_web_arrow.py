"""A batch as an Arrow stream, both ways: what the JSON says, nothing lost, and every bad stream a problem document."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
from waitress.server import create_server

import service
from service.web import create_app
from service.web.arrow_body import MEDIA_TYPE

if "CI" in os.environ:
    import pyarrow as pa
else:
    pa = pytest.importorskip("pyarrow", reason="the extra 'arrow' is not installed")

QUESTION = {"lookup": "breakdown", "given": {"electrodes": "uniform-field"}}
GAPS = [1.0, 2.0, None, 8.0, -1.0, 1e5]


def table(question=QUESTION, units=(("gap", "mm"),), types=None, **columns):
    """Return a table with the metadata of a question."""
    kinds, units = types or {}, dict(units)
    fields = [
        pa.field(name, kinds.get(name, pa.float64()), metadata={"unit": units[name]} if name in units else None)
        for name in columns
    ]
    metadata = {"question": json.dumps(question)} if question is not None else None
    schema = pa.schema(fields, metadata=metadata)
    return pa.table([pa.array(values, schema.field(name).type) for name, values in columns.items()], schema=schema)


def written(of, size=None, options=None):
    sink = io.BytesIO()
    with pa.ipc.new_stream(sink, of.schema, options=options) as writer:
        writer.write_table(of, max_chunksize=size)
    return sink.getvalue()


def posted(client, body, accept=MEDIA_TYPE):
    return client.post("/v1/batch", data=body, content_type=MEDIA_TYPE, headers={"Accept": accept})


def answered(client, body):
    response = posted(client, body)
    assert response.status_code == 200, response.data[:500]
    assert response.content_type == MEDIA_TYPE
    return pa.ipc.open_stream(response.data).read_all()


def by_json(client, columns, question=QUESTION, accept="application/json"):
    body = {**question, "columns": columns}
    return client.post("/v1/batch", json=body, headers={"Accept": accept})


def refused(response, status=400):
    assert response.status_code == status, response.data[:300]
    assert response.content_type == "application/problem+json"
    return response.get_json()["detail"]


def same(found, document):
    """Check that a table says all that a JSON document does."""
    rest = json.loads(found.schema.metadata[b"document"])
    for name, block in document["columns"].items():
        for end in ("values", "low", "high"):
            if end in block:
                own = name if end == "values" else f"{name}_{end}"
                assert found[own].to_pylist() == block[end]
                metadata = {key.decode(): one.decode() for key, one in found.schema.field(own).metadata.items()}
                assert metadata == {key: block[key] for key in ("unit", "measure") if key in block}
        assert rest["columns"][name] == {key: block[key] for key in ("unit", "measure") if key in block}
    assert found["method"].to_pylist() == document["method"]
    assert found["status"].to_pylist() == document["status"]
    for key, one in document.items():
        assert key in ("columns", "method", "status") or rest[key] == one
    assert rest.keys() == document.keys() - {"method", "status"}


def test_an_arrow_batch_says_what_the_json_says(client):
    found = answered(client, written(table(gap=GAPS)))
    document = by_json(client, {"gap": {"unit": "mm", "values": GAPS}}).get_json()
    same(found, document)
    assert found.num_rows == 6
    assert document["asked"]["assumed"]
    assert document["cautions"]


@pytest.mark.parametrize("lookup", ["gap", "pressure", "clearance", "conductor-spacing"])
def test_every_kind_of_lookup_is_answered_so(client, lookup):
    given = {
        "gap": {"electrodes": "sphere-gap", "sphere_diameter": "5cm"},
        "pressure": {"electrodes": "uniform-field", "gap": "10mm"},
        "clearance": {"insulation": "basic", "pollution_degree": "2"},
        "conductor-spacing": {"place": "internal"},
    }[lookup]
    name = "impulse_voltage" if lookup == "clearance" else "voltage"
    question = {"lookup": lookup, "given": given}
    volts = [0.3, 3.0, 12.0, 40.0, None, 1e6]
    found = answered(client, written(table(question, ((name, "kV"),), **{name: volts})))
    same(found, by_json(client, {name: {"unit": "kV", "values": volts}}, question).get_json())


def test_json_is_answered_as_arrow_and_arrow_as_json(client):
    columns = {"gap": {"unit": "mm", "values": GAPS}}
    document = by_json(client, columns).get_json()
    same(pa.ipc.open_stream(by_json(client, columns, accept=MEDIA_TYPE).data).read_all(), document)
    assert posted(client, written(table(gap=GAPS)), "application/json").get_json() == document
    assert posted(client, written(table(gap=GAPS)), "*/*").content_type == "application/json"


def test_integers_and_small_pieces_are_read(client):
    units, types = (("gap", "mm"), ("pressure", "kPa")), {"gap": pa.int32(), "pressure": pa.float32()}
    sent = table(units=units, types=types, gap=[1, None, 3, 4], pressure=[100, 90, 80, 70])
    columns = {"gap": {"unit": "mm", "values": [1, None, 3, 4]}}
    columns["pressure"] = {"unit": "kPa", "values": [100, 90, 80, 70]}
    same(answered(client, written(sent, 1)), by_json(client, columns).get_json())


def test_many_points_come_in_several_record_batches_and_in_order(client):
    gaps = np.geomspace(0.1, 900, 600_000)
    gaps[::7] = np.nan
    found = answered(client, written(table(gap=gaps), 70_001))
    volts = found["breakdown_voltage"].to_numpy(zero_copy_only=False)
    assert found["breakdown_voltage"].num_chunks > 10
    assert (np.isnan(volts) == np.isnan(gaps)).all()
    assert (np.diff(volts[~np.isnan(volts)]) > 0).all()
    x = gaps[3::7] * 1.013 / 10  # bar cm
    # Kuffel, Zaengl and Kuffel, eq. 5.107 (from memory): 24.36 x + 6.72 sqrt(x) [kV]
    assert volts[3::7][x > 0.1] == pytest.approx((24.36 * x + 6.72 * np.sqrt(x))[x > 0.1], rel=2e-4)


@pytest.mark.parametrize(
    ("of", "words"),
    [
        ({"question": None, "gap": [1.0]}, "needs metadata with the key 'question'"),
        ({"question": {**QUESTION, "columns": {}}, "gap": [1.0]}, "Columns stand in the Arrow stream"),
        ({"question": {"lookup": "hazard"}, "gap": [1.0]}, "does not know 'hazard'"),
        ({"question": {"given": {}}, "gap": [1.0]}, "lookup is needed"),
        ({"units": (), "gap": [1.0]}, "columns.gap.unit"),
        ({"units": (("gap", "kV"),), "gap": [1.0]}, "unit of a voltage"),
        ({"gpa": [1.0]}, "did you mean 'gap'"),
        ({"types": {"gap": "string"}, "gap": ["1mm"]}, "must hold floating-point numbers or integers"),
        ({"types": {"gap": "bool"}, "gap": [True]}, "must hold floating-point numbers or integers"),
        ({"gap": [None, -1.0]}, "No value of columns.gap"),
        ({"gap": []}, "equal length"),
    ],
)
def test_a_question_that_cannot_be_read_is_refused(client, of, words):
    types = {name: getattr(pa, f"{kind}_" if kind == "bool" else kind)() for name, kind in of.pop("types", {}).items()}
    assert words in refused(posted(client, written(table(types=types, **of))))


def test_what_is_no_sound_stream_is_refused(client):
    whole = written(table(gap=[float(i + 1) for i in range(1000)]))
    for body in (b"", b"x", b"{}", b"\xff" * 64, whole[:100], whole[:-3000], b"ARROW1\0\0" + whole):
        refused(posted(client, body))


def test_metadata_that_are_no_text_are_refused(client):
    for unit, question in ((b"\x80", b'{"lookup": "breakdown"}'), (b"mm", b"\x80{")):
        schema = pa.schema([pa.field("gap", pa.float64(), metadata={"unit": unit})], metadata={"question": question})
        refused(posted(client, written(pa.table([[1.0]], schema=schema))))


def test_compressed_and_coded_columns_are_refused(client):
    gaps = table(gap=[float(i + 1) for i in range(1000)])
    for codec in ("lz4", "zstd"):
        options = pa.ipc.IpcWriteOptions(compression=codec)
        assert "compressed" in refused(posted(client, written(gaps, options=options)))
    coded = pa.table({"gap": gaps["gap"].combine_chunks().dictionary_encode()})
    assert "floating-point" in refused(posted(client, written(coded)))


def test_a_spoiled_stream_is_answered_or_refused_and_never_fails(client):
    whole, dice = bytearray(written(table(gap=[float(i + 1) for i in range(40)]), 10)), np.random.default_rng(5)
    for _ in range(400):
        spoiled = bytearray(whole)
        for place in dice.integers(0, len(whole), dice.integers(1, 6)):
            spoiled[place] = dice.integers(0, 256)
        assert posted(client, bytes(spoiled)).status_code in (200, 400, 413, 422)


def test_without_the_extra_it_is_named(client, monkeypatch):
    body = written(table(gap=[1.0]))
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    asked = {"gap": {"unit": "mm", "values": [1]}}
    extra = "pip install 'sparkover-reference[arrow]'"
    assert extra in refused(posted(client, body, "application/json"), 415)
    assert extra in refused(by_json(client, asked, accept=MEDIA_TYPE), 406)
    assert by_json(client, asked).status_code == 200


def test_a_long_body_is_kept_in_a_file_and_is_the_same(client, monkeypatch):
    body = written(table(gap=GAPS * 100))
    short = answered(client, body)
    monkeypatch.setattr("service.web.arrow_body.IN_MEMORY", 1000)
    assert answered(client, body) == short


def test_without_a_folder_for_temporary_files_fewer_points_are_asked_for(client, monkeypatch):
    monkeypatch.setattr("service.web.arrow_body.IN_MEMORY", 1000)
    monkeypatch.setattr("tempfile.tempdir", "/proc/none")
    assert "no folder for temporary files" in refused(posted(client, written(table(gap=GAPS * 100))), 413)
    assert answered(client, written(table(gap=GAPS))).num_rows == len(GAPS)


def test_a_body_beyond_the_limit_is_refused(client, monkeypatch):
    monkeypatch.setattr("service.web.body_routes.LARGEST", 1000)
    refused(posted(client, written(table(gap=[1.0] * 1000))), 413)


def test_the_example_of_the_readme_runs():
    readme = (Path(service.__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    [code] = re.findall(r"<!-- arrow example -->\n```python\n(.*?)```", readme, re.DOTALL)
    server = create_server(create_app(), host="127.0.0.1", port=0)
    threading.Thread(target=server.run, daemon=True).start()
    here = code.replace("127.0.0.1:8000", f"127.0.0.1:{server.effective_port}")
    done = subprocess.run([sys.executable, "-c", here], capture_output=True, text=True, check=False, timeout=60)
    server.close()
    assert "['breakdown_voltage', 'breakdown_voltage_low'" in done.stdout, done.stderr
    assert "b'kV'" in done.stdout
