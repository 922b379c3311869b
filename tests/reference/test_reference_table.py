"""A table: frozen SI columns, printed cells, rows chosen by value, named constants."""

from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from service.errors import BadReferenceData, NotFound, UnknownName


@pytest.fixture
def spheres(reference):
    return reference.table("iec-60052-table-2")


def test_columns_are_in_si(spheres):
    first = spheres.where(sphere_diameter=0.02)
    assert first["spacing"][:3].tolist() == [0.0005, 0.001, 0.0015]
    assert first["voltage"][:3].tolist() == [2800.0, 4700.0, 6400.0]


def test_printed_cells_keep_their_digits(spheres):
    assert spheres.rows[1]["spacing_cm"] == "0.10"
    assert spheres.text("spacing")[:2] == ("0.05", "0.10")


def test_columns_cannot_be_changed(spheres):
    with pytest.raises(ValueError, match="read-only"):
        spheres["voltage"][0] = 0.0
    with pytest.raises(FrozenInstanceError):
        spheres.title = "another"
    with pytest.raises(TypeError):
        spheres.rows[0]["spacing_cm"] = "1"


def test_every_numeric_column_of_every_table_is_read_only_and_float64(reference):
    for table in reference.tables.values():
        for field in table.fields:
            if field.numeric:
                column = table[field.quantity]
                assert (column.dtype, column.flags.writeable) == (np.float64, False)


def test_not_a_number_stands_only_for_an_empty_cell(reference):
    for table in reference.tables.values():
        for field in table.fields:
            if field.numeric:
                empty = [cell in field.missing for cell in table.text(field.quantity)]
                assert np.isnan(table[field.quantity]).tolist() == empty
                assert not (field.required and any(empty))


def test_rows_are_chosen_by_number_and_by_text(reference):
    table = reference.table("ionization-alpha-over-n")
    hayashi = table.where(gas_key="carbon-dioxide", cross_sections="Hayashi (LXCat)")
    assert 0 < len(hayashi) < len(table.where(gas_key="carbon-dioxide"))
    mixture = table.where(gas_key="sulfur-hexafluoride-nitrogen", fraction=0.2)
    assert set(mixture.text("gas")) == {"SF6 20 % nitrogen 80 %"}


def test_no_row_is_an_empty_table(spheres):
    nothing = spheres.where(sphere_diameter=0.03)
    assert (len(nothing), nothing["voltage"].shape) == (0, (0,))


def test_a_chosen_part_keeps_what_the_table_says_of_itself(spheres):
    part = spheres.where(sphere_diameter=0.25)
    assert (part.source, part.description, part.key) == (spheres.source, spheres.description, spheres.key)
    assert len(part.provenance) == len(part)


def test_flags_and_doubts(spheres, reference):
    ratio = spheres["spacing"] / spheres["sphere_diameter"]
    assert np.array_equal(spheres.flag("bracketed"), ratio > 0.5 + 1e-9)
    assert not spheres.doubtful.any()
    doubted = reference.table("iec-60052-table-3").where(doubtful=1).text("sphere_diameter")
    assert {size: doubted.count(size) for size in doubted} == {
        "5": 3,
        "6.25": 9,
        "10": 10,
        "12.5": 11,
        "15": 12,
        "25": 1,
    }
    assert not reference.table("needle-gap").doubtful.any()


def test_provenance_words_come_best_first(spheres):
    assert spheres.provenance_words == ("reproduction+memory", "memory")


def test_named_constants_are_in_si(reference):
    rod = reference.table("rod-rod-direct")
    assert (rod.constant("intercept"), rod.constant("slope")) == (2000.0, 534_000.0)
    assert rod.row("slope")["unit"] == "kV/mm"
    assert reference.table("peek-constants").constant("reference-temperature") == 298.15


def test_marks_of_a_printed_table_are_empty_numbers_and_kept_texts(reference):
    table = reference.table("osha-1910-269-table-r6-r7")
    assert table.text("phase_to_ground")[0] == "avoid contact"
    assert np.isnan(table["phase_to_ground"][0])


@pytest.mark.parametrize(
    "ask",
    [
        lambda table: table["spacings"],
        lambda table: table["provenance"],
        lambda table: table.text("spacings"),
        lambda table: table.where(spacings=1.0),
        lambda table: table.row("one"),
    ],
)
def test_an_unknown_column_or_row_is_refused(spheres, ask):
    with pytest.raises(UnknownName):
        ask(spheres)


def test_an_unknown_constant_is_refused_with_the_nearest(reference):
    with pytest.raises(UnknownName, match="did you mean 'slope'"):
        reference.table("rod-rod-direct").constant("slop")


def test_an_unknown_table_or_package_is_not_found(reference):
    with pytest.raises(NotFound, match="did you mean 'needle-gap'"):
        reference.asked_table("needle-gab")
    # what an answer needs and no package holds is a fault of the data, not of the question
    with pytest.raises(BadReferenceData, match="needle-gab"):
        reference.table("needle-gab")
    with pytest.raises(NotFound, match="did you mean 'iec-60052'"):
        reference.worked_examples("iec-6052")


def test_a_table_can_be_passed_on_as_its_package_describes_it(spheres):
    assert spheres.stated["name"] == spheres.key
    assert [field["name"] for field in spheres.stated["schema"]["fields"]] == list(spheres.rows[0])
    assert spheres.stated["hash"].startswith("sha256:")
