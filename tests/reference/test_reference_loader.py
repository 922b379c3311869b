"""The loader refuses what is spoiled, and says in which file, which row and why."""

import json
import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import BadReferenceData
from service.reference.package import LARGEST, read_package

PACKAGE = "iec-60052"
TABLE = "iec_60052_table_2.csv"


def refusal(lab):
    with pytest.raises(BadReferenceData) as caught:
        read_package(lab.folder / PACKAGE)
    return caught.value


@pytest.fixture
def spheres(lab):
    return lab.copy(PACKAGE, "iec-60052-table-2")


def resource(stated):
    return stated["resources"][0]


def field(stated, name):
    return next(each for each in resource(stated)["schema"]["fields"] if each["name"] == name)


def test_an_untouched_copy_loads(spheres):
    assert len(read_package(spheres.folder / PACKAGE).tables["iec-60052-table-2"]) == 389


def test_a_changed_file_with_the_old_hash_is_refused(spheres):
    rows = spheres.rows(PACKAGE, TABLE)
    rows[1][2] = "2.9"
    spheres.write(PACKAGE, TABLE, rows, seal=False)
    fault = refusal(spheres)
    assert fault.file == f"{PACKAGE}/{TABLE}"
    assert "sha256" in fault.reason


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(position=st.integers(min_value=0, max_value=10_000), flip=st.integers(min_value=1, max_value=255))
def test_any_changed_byte_is_refused(spheres, position, flip):
    path = spheres.folder / PACKAGE / TABLE
    content = bytearray(path.read_bytes())
    content[position % len(content)] ^= flip
    whole = path.read_bytes()
    path.write_bytes(bytes(content))
    try:
        assert "sha256" in refusal(spheres).reason
    finally:
        path.write_bytes(whole)


@pytest.mark.parametrize(
    ("column", "cell", "reason"),
    [
        ("voltage_kV_peak", "17,4", "not a number"),
        ("voltage_kV_peak", "nan", "not a number"),
        ("voltage_kV_peak", "inf", "not a number"),
        ("voltage_kV_peak", "1_7", "not a number"),
        ("voltage_kV_peak", "", "empty, but required"),
        ("voltage_kV_peak", "-17.4", "constraint minimum"),
        ("bracketed", "0.5", "not a whole number"),
        ("bracketed", "2", "constraint enum"),
        ("provenance", "", "empty, but required"),
        ("provenance", "printed", "no provenance word"),
        ("spacing_cm", "9", "does not rise"),
        ("voltage_kV_peak", "100", "does not rise"),
    ],
)
def test_a_bad_cell_is_named_by_file_row_and_reason(spheres, column, cell, reason):
    spheres.edit(PACKAGE, TABLE, 8, column, cell)
    fault = refusal(spheres)
    assert (fault.file, fault.row in (8, 9)) == (f"{PACKAGE}/{TABLE}", True)
    assert reason in fault.reason


def test_a_row_of_another_length_is_refused(spheres):
    rows = spheres.rows(PACKAGE, TABLE)
    rows[4].append("more")
    spheres.write(PACKAGE, TABLE, rows)
    assert (refusal(spheres).row, "8 cells" in refusal(spheres).reason) == (5, True)


def test_another_header_is_refused(spheres):
    spheres.edit(PACKAGE, TABLE, 1, "spacing_cm", "spacing_mm")
    assert (refusal(spheres).row, "header" in refusal(spheres).reason) == (1, True)


def test_a_file_without_rows_is_refused(spheres):
    spheres.write(PACKAGE, TABLE, spheres.rows(PACKAGE, TABLE)[:1])
    assert "no rows" in refusal(spheres).reason


@pytest.mark.parametrize("content", [b"\xff\xfe", b'sphere_diameter_cm,"open'])
def test_a_file_that_is_not_csv_in_utf8_is_refused(spheres, content):
    (spheres.folder / PACKAGE / TABLE).write_bytes(content)
    spheres.seal(PACKAGE, TABLE)
    assert "not a CSV file" in refusal(spheres).reason


def test_a_missing_file_is_refused(spheres):
    (spheres.folder / PACKAGE / TABLE).unlink()
    assert "cannot be read" in refusal(spheres).reason


@pytest.mark.parametrize("text", ["", "{", "[]", '"text"', "[" * 100_000])
def test_a_descriptor_that_is_no_object_is_refused(spheres, text):
    (spheres.folder / PACKAGE / "datapackage.json").write_text(text, encoding="utf-8")
    fault = refusal(spheres)
    assert fault.file == f"{PACKAGE}/datapackage.json"
    assert "JSON" in fault.reason


@pytest.mark.parametrize("member", ["name", "title", "version", "created", "licenses", "sources", "resources"])
def test_a_package_must_state(spheres, member):
    spheres.describe(PACKAGE, lambda stated: stated.pop(member))
    assert member in refusal(spheres).reason


@pytest.mark.parametrize("member", ["title", "path", "hash", "source", "schema", "checked_against"])
def test_a_table_must_state(spheres, member):
    spheres.describe(PACKAGE, lambda stated: resource(stated).pop(member))
    fault = refusal(spheres)
    assert member in fault.reason
    assert "iec-60052-table-2" in fault.reason


@pytest.mark.parametrize("member", ["name", "title", "type", "quantity"])
def test_a_field_must_state(spheres, member):
    spheres.describe(PACKAGE, lambda stated: field(stated, "spacing_cm").pop(member))
    assert member in refusal(spheres).reason


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (lambda stated: stated.update(name="iec-60053"), "its folder"),
        (lambda stated: stated.update(version="new"), "malformed"),
        (lambda stated: stated.update(created="yesterday"), "malformed"),
        (lambda stated: resource(stated).update(path="../iec-52/table.csv"), "malformed"),
        (lambda stated: resource(stated).update(path="/etc/table.csv"), "malformed"),
        (lambda stated: resource(stated).update(hash="md5:0"), "64 hexadecimal digits"),
        (lambda stated: resource(stated).update(accuracy=3), "not a text"),
        (lambda stated: resource(stated).update(rises=["gap"]), "not the name of a field"),
        (lambda stated: resource(stated)["checked_against"][0].update(when="lately"), "malformed"),
        (lambda stated: resource(stated)["source"].pop("edition"), "edition"),
        (lambda stated: resource(stated)["schema"].update(primaryKey="gap"), "primaryKey"),
        (lambda stated: field(stated, "spacing_cm").update(unit="parsec"), "not a unit"),
        (lambda stated: field(stated, "spacing_cm").update(dimension="voltage"), "not a unit"),
        (lambda stated: field(stated, "spacing_cm").pop("dimension"), "no dimension"),
        (lambda stated: field(stated, "spacing_cm").update(dimension="by-row"), "unit_field"),
        (lambda stated: field(stated, "spacing_cm").update(type="date"), "types are"),
        (lambda stated: field(stated, "spacing_cm")["constraints"].update(unique=True), "not checked"),
        (lambda stated: field(stated, "spacing_cm").update(quantity="voltage"), "two fields"),
        (lambda stated: field(stated, "provenance").update(quantity="origin"), "provenance"),
        (lambda stated: field(stated, "provenance")["constraints"].pop("required"), "provenance"),
        (lambda stated: stated["resources"].append(dict(resource(stated))), "same name"),
    ],
)
def test_a_wrong_statement_is_refused(spheres, change, reason):
    spheres.describe(PACKAGE, change)
    assert reason in refusal(spheres).reason


def test_a_name_that_stands_twice_is_refused(lab):
    lab.copy(PACKAGE, "rod-rod-direct")
    lab.edit(PACKAGE, "rod_rod_direct.csv", 3, "name", "intercept")
    assert (refusal(lab).row, "twice" in refusal(lab).reason) == (3, True)


@pytest.mark.parametrize("unit", ["furlong", "C", "kV//mm", "kV/", "^2"])
def test_a_row_with_an_unknown_unit_is_refused(lab, unit):
    lab.copy(PACKAGE, "rod-rod-direct")
    lab.edit(PACKAGE, "rod_rod_direct.csv", 2, "unit", unit)
    assert (refusal(lab).row, "unit" in refusal(lab).reason) == (2, True)


def test_a_refusal_names_no_folder_of_the_machine(spheres, tmp_path):
    spheres.edit(PACKAGE, TABLE, 8, "voltage_kV_peak", "x")
    assert str(tmp_path) not in json.dumps(refusal(spheres).detail)


def _without_end(path):
    path.unlink()
    os.mkfifo(path)


def _link_to_a_device(path):
    path.unlink()
    path.symlink_to("/dev/zero")


def _folder(path):
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize("file", [TABLE, "datapackage.json"])
@pytest.mark.parametrize("spoil", [_without_end, _link_to_a_device, _folder])
def test_what_is_no_regular_file_is_refused_unread(spheres, file, spoil):
    spoil(spheres.folder / PACKAGE / file)
    fault = refusal(spheres)
    assert (fault.file, fault.reason) == (f"{PACKAGE}/{file}", "is no regular file")


def test_a_file_that_is_far_too_large_is_refused_unread(spheres):
    with (spheres.folder / PACKAGE / TABLE).open("ab") as file:
        file.truncate(LARGEST + 1)
    assert f"at most {LARGEST} are read" in refusal(spheres).reason


MALFORMED = [
    ('{"name":"\\ud800"}', "surrogates not allowed"),
    ('{"name":1,"name":2}', "names 'name' twice"),
    ('{"name":NaN}', "NaN is no number"),
    ('{"name":' + "9" * 5000 + "}", "is not JSON"),
    ("[" * 100_000, "is not JSON"),
    ("null", "is not a JSON object"),
]


@pytest.mark.parametrize(("text", "reason"), MALFORMED)
def test_a_descriptor_that_is_no_sound_json_is_refused(spheres, text, reason):
    (spheres.folder / PACKAGE / "datapackage.json").write_text(text, encoding="utf-8")
    fault = refusal(spheres)
    assert fault.file == f"{PACKAGE}/datapackage.json"
    assert reason in fault.reason
    fault.detail.encode()
    assert len(fault.detail) < 2000


ODD_CONSTRAINTS = [
    ({"minimum": "a"}, "its constraint minimum cannot be 'a'"),
    ({"maximum": None}, "its constraint maximum cannot be None"),
    ({"maximum": True}, "its constraint maximum cannot be True"),
    ({"enum": 5}, "its constraint enum cannot be 5"),
    ({"pattern": "("}, "its constraint pattern cannot be '('"),
    ({"required": "yes"}, "its constraint required cannot be 'yes'"),
    ([], "its constraints are no object"),
]


@pytest.mark.parametrize(("constraints", "reason"), ODD_CONSTRAINTS)
def test_a_constraint_of_the_wrong_kind_is_refused_with_its_field(spheres, constraints, reason):
    spheres.describe(PACKAGE, lambda stated: field(stated, "spacing_cm").update(constraints=constraints))
    assert f"field spacing_cm: {reason}" in refusal(spheres).reason


ODD_RULES = [
    ("rises", "spacing_cm", "'rises' is no list"),
    ("rises", [{}], "'rises' is no list of texts"),
    ("within", [5], "'within' is no list of texts"),
    ("unique", [[{}]], "'unique' does not list fields"),
    ("unique", {"a": 1}, "'unique' is no list"),
    ("refers", {"a": 1}, "'refers' is no list"),
    ("pairs", "ab", "'pairs' is no list"),
]


@pytest.mark.parametrize(("name", "rule", "reason"), ODD_RULES)
def test_a_rule_of_the_wrong_kind_is_refused(spheres, name, rule, reason):
    spheres.describe(PACKAGE, lambda stated: resource(stated).update({name: rule}))
    assert reason in refusal(spheres).reason


@pytest.mark.parametrize("value", [None, 5, [], {}, "", True, ["a"], {"a": 1}, -1.5])
def test_no_member_of_a_descriptor_is_believed_to_have_its_kind(spheres, value):
    """Whatever stands in place of any member, the descriptor is refused by name, or loads."""
    path = spheres.folder / PACKAGE / "datapackage.json"
    whole = path.read_text(encoding="utf-8")
    named = set()
    for place in _places(json.loads(whole)):
        stated = json.loads(whole)
        at = stated
        for step in place[:-1]:
            at = at[step]
        at[place[-1]] = value
        path.write_text(json.dumps(stated), encoding="utf-8")
        named.add(_file_at_fault(spheres.folder / PACKAGE))
    assert named <= {None, f"{PACKAGE}/datapackage.json", f"{PACKAGE}/{TABLE}"}


def _file_at_fault(folder):
    try:
        read_package(folder)
    except BadReferenceData as fault:
        return fault.file
    return None


def _places(value, place=()):
    members = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, one in members:
        yield (*place, name)
        yield from _places(one, (*place, name))
