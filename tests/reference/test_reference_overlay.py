"""A lab's own packages laid over the shipped ones: the same key replaces, the rest stays."""

import pytest

from service.errors import BadReferenceData
from service.reference import interpolate, load

PACKAGE = "iec-60052"
TABLE = "iec_60052_table_2.csv"
KEY = "iec-60052-table-2"


def five_millimetres(reference):
    spheres = reference.table(KEY).where(sphere_diameter=0.02)
    return float(interpolate(spheres["spacing"], spheres["voltage"], 5e-3))


def test_one_cell_changes_one_value_and_the_version(reference, lab):
    lab.copy(PACKAGE, KEY).edit(PACKAGE, TABLE, 9, "voltage_kV_peak", "17.3")
    own = load(lab.folder)
    assert (five_millimetres(reference), five_millimetres(own)) == (17_400.0, 17_300.0)
    assert own.version != reference.version


def test_the_rest_stays(reference, lab):
    lab.copy(PACKAGE, KEY).edit(PACKAGE, TABLE, 9, "voltage_kV_peak", "17.3")
    own = load(lab.folder)
    assert list(own.tables) == list(reference.tables)
    changed = [key for key, table in own.tables.items() if table.fingerprint != reference.table(key).fingerprint]
    assert changed == [KEY]
    assert own.worked_examples() == reference.worked_examples()


def test_an_overlay_equal_to_the_shipped_data_changes_nothing(reference, lab):
    assert load(lab.copy(PACKAGE).folder).version == reference.version


def test_a_better_source_changes_the_version_too(reference, lab):
    lab.copy(PACKAGE, KEY)
    lab.describe(PACKAGE, lambda stated: stated["resources"][0].update(accuracy="checked against the printed table"))
    assert load(lab.folder).version != reference.version


def test_a_new_table_is_added(reference, lab):
    lab.copy(PACKAGE, KEY)
    lab.describe(PACKAGE, lambda stated: stated["resources"][0].update(name="sphere-gap-of-our-lab"))
    assert set(load(lab.folder).tables) == {*reference.tables, "sphere-gap-of-our-lab"}


def test_the_newest_package_dates_the_version(lab):
    lab.copy(PACKAGE, KEY)
    lab.describe(PACKAGE, lambda stated: stated.update(created="2031-04-01T00:00:00Z"))
    assert load(lab.folder).version.startswith("2031.04+")


def test_a_spoiled_overlay_is_refused_with_file_and_row(lab):
    lab.copy(PACKAGE, KEY).edit(PACKAGE, TABLE, 9, "voltage_kV_peak", "17.4 kV")
    with pytest.raises(BadReferenceData) as caught:
        load(lab.folder)
    assert (caught.value.file, caught.value.row) == (f"{PACKAGE}/{TABLE}", 9)


def test_a_replacement_must_have_every_quantity(lab):
    lab.copy(PACKAGE, KEY)
    rows = lab.rows(PACKAGE, TABLE)
    lab.write(PACKAGE, TABLE, [row[:3] + row[4:] for row in rows])
    lab.describe(PACKAGE, lambda stated: stated["resources"][0]["schema"]["fields"].pop(3))
    with pytest.raises(BadReferenceData, match="bracketed"):
        load(lab.folder)


def test_a_replacement_must_not_change_a_dimension(lab):
    lab.copy(PACKAGE, KEY)
    spacing = {"unit": "kV", "dimension": "voltage"}
    lab.describe(PACKAGE, lambda stated: stated["resources"][0]["schema"]["fields"][1].update(spacing))
    with pytest.raises(BadReferenceData, match="spacing"):
        load(lab.folder)


def test_a_replacement_may_be_printed_in_another_unit(reference, lab):
    lab.copy(PACKAGE, KEY)
    rows = lab.rows(PACKAGE, TABLE)
    lab.write(PACKAGE, TABLE, [rows[0], *([row[0], f"{float(row[1]) * 10:g}", *row[2:]] for row in rows[1:])])
    lab.describe(PACKAGE, lambda stated: stated["resources"][0]["schema"]["fields"][1].update(unit="mm"))
    assert five_millimetres(load(lab.folder)) == five_millimetres(reference)


def test_a_key_in_two_packages_of_one_folder_is_refused(lab):
    lab.copy(PACKAGE, KEY).copy("iec-52")
    lab.describe("iec-52", lambda stated: stated["resources"][0].update(name=KEY))
    with pytest.raises(BadReferenceData, match=f"'{KEY}' stands in the package"):
        load(lab.folder)


def test_an_empty_or_missing_overlay_is_refused(lab):
    with pytest.raises(BadReferenceData, match="no data package"):
        load(lab.folder)
    with pytest.raises(BadReferenceData, match="no such folder"):
        load(lab.folder / "elsewhere")


def test_hidden_folders_are_no_packages(reference, lab):
    lab.copy(PACKAGE, KEY)
    (lab.folder / ".git").mkdir()
    (lab.folder / "__pycache__").mkdir()
    assert load(lab.folder).version != ""


def test_worked_examples_of_an_overlay_replace_those_of_its_package(reference, lab):
    lab.copy(PACKAGE, "worked-examples").edit(PACKAGE, "worked_examples.csv", 2, "expected", "4.75")
    own = load(lab.folder)
    assert own.worked_examples(PACKAGE)[0].expected == "4.75"
    assert set(own.packages[PACKAGE].tables) == set(reference.packages[PACKAGE].tables)
