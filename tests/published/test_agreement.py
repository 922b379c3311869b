"""What /v1/agreement reports, and what the relations must reach on the tables."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from service.answers.evaluate import evaluate
from service.lookups import agreement
from service.methods.laws import ionization_fits
from service.physics.criterion import inception
from service.physics.fields import SPHERES_ONE_EARTHED
from tests.asking import SHIPPED

NEAR = "spacing to 0.5 of the diameter"
FAR = "bracketed cells, spacing beyond 0.5 of the diameter"


@pytest.fixture(scope="module")
def found(ask):
    return ask("agreement", "")["comparisons"]


def one(found, method, table, part=None):
    fits = [c for c in found if (c["method"], c["table"], c.get("part")) == (method, table, part)]
    assert len(fits) == 1
    return fits[0]


def test_the_published_quadratic_on_the_earthed_sphere_table(found):
    # IEC 60052 Table 2, nothing fitted: median at most 0.9 %, 93 % of 323 cells within 3 %, all within 5 %
    cells = one(found, "streamer-quadratic", "iec-60052-table-2", NEAR)
    assert cells["cells"] == 323
    assert cells["calibration_cells"] == 0
    assert cells["median_percent"] <= 0.9
    assert cells["within_3_percent"] >= 93
    assert cells["within_5_percent"] == 100
    assert cells["worst_percent"] <= 5
    assert cells["worst_at"] == "sphere diameter 2 cm, spacing 1.0 cm"


def test_the_calibrated_fit_on_the_same_cells_and_without_its_own(found):
    # wanted were 97 % within 3 %; it has 313 of 323 cells, 96.9 %: reported as it is. The misses are spheres of 2 m
    # beyond 0.3 D and of 2 cm beyond 0.4 D, where the shanks and the surroundings of the table are not in the model
    cells = one(found, "streamer-calibrated", "iec-60052-table-2", NEAR)
    assert cells["cells"] == 323
    assert cells["calibration_cells"] == 40
    assert cells["median_percent"] <= 0.7
    assert cells["within_3_percent"] >= 96.9
    others = one(found, "streamer-calibrated", "iec-60052-table-2", f"{NEAR}, calibration cells left out")
    assert others["cells"] == 283
    assert others["calibration_cells"] == 0
    assert others["median_percent"] <= 0.7
    assert others["within_3_percent"] >= 96


def test_the_fit_with_the_linear_branch_is_further_off(found):
    # published constants, nothing fitted: median 2.3 %, worst 6.1 %
    cells = one(found, "streamer-linear-branch", "iec-60052-table-2", NEAR)
    assert cells["median_percent"] <= 2.35
    assert cells["worst_percent"] <= 6.1
    assert cells["within_5_percent"] >= 97.5


def test_the_bracketed_cells_lean_low_within_ten_percent(found):
    cells = one(found, "streamer-quadratic", "iec-60052-table-2", FAR)
    assert cells["cells"] == 66
    assert cells["worst_percent"] < 10
    assert cells["bias_percent"] < 0


def test_positive_impulses_take_more_than_the_criterion_says_and_its_band_covers_them(registry, found):
    # IEC 60052 Table 3: up to 9 % above at a utilization factor from 0.66, up to 21 % down to 0.5
    assert one(found, "streamer-quadratic", "iec-60052-table-3", FAR)["bias_percent"] < -5
    sets = [points for points in agreement.point_sets(registry) if points.table.key == "iec-60052-table-3"]
    for points in sets:
        answer = evaluate(registry.arrangement("sphere-gap"), points.case, only="streamer-quadratic")
        assert np.all(answer.high >= points.voltages)
        assert np.all(answer.low <= points.voltages)


def test_formulas_of_the_uniform_field_on_schumann_s_table(found):
    # independent; physics: within -1.5 to 0 % of 24.36 x + 6.72 sqrt(x)
    assert one(found, "quadratic-root-kuffel", "schumann-table")["worst_percent"] <= 1.5
    assert one(found, "quadratic-root-bruce", "schumann-table")["worst_percent"] <= 3.5


def test_needles_and_rods_by_a_second_table(found):
    assert one(found, "needle-gap-table", "needle-gap-aiee-1914")["worst_percent"] <= 3
    assert one(found, "rod-gap-table-60hz", "osha-appendix-b-rod-gap")["worst_percent"] <= 8


@pytest.mark.parametrize(
    ("method", "gas", "median", "most"),
    [
        ("square-root-argon", "argon", 6, 15),
        ("square-root-xenon", "xenon", 20, 50),
        ("streamer-carbon-dioxide", "carbon dioxide", 8, 30),
    ],
)
def test_gases_on_measured_points_stay_within_their_stated_bands(found, method, gas, median, most):
    # Norman et al. 2022, gaps from 1 mm
    cells = one(found, method, "norman-2022-points", f"{gas}, gap from 1 mm")
    assert cells["median_percent"] <= median
    assert cells["p95_percent"] <= most


def test_no_method_is_held_against_its_own_source(registry, found):
    sources = {key: method.source.key for key, method in registry.methods.items()}
    for cells in found:
        assert sources[cells["method"]] != registry.reference.table(cells["table"]).source.key


def test_a_vacuum_law_within_a_factor_of_two_says_so_in_percent(found):
    cells = one(found, "vacuum", "vacuum-points", "points with one gap and one voltage")
    assert cells["worst_percent"] <= 100


def test_the_figures_are_those_of_the_definition(registry, found):
    points = next(p for p in agreement.point_sets(registry) if p.table.key == "schumann-table")
    size = np.abs(points.deviations(registry, "quadratic-root-ritz"))
    size = 100 * size[np.isfinite(size)]
    cells = one(found, "quadratic-root-ritz", "schumann-table")
    assert cells["cells"] == size.size
    assert cells["median_percent"] == pytest.approx(np.median(size), abs=0.005)
    assert cells["p95_percent"] == pytest.approx(np.percentile(size, 95), abs=0.005)
    assert cells["worst_percent"] == pytest.approx(size.max(), abs=0.005)
    assert cells["within_3_percent"] == pytest.approx(100 * np.mean(size <= 3), abs=0.005)


def test_refitting_the_calibration_cells_gives_the_constants_that_are_used(registry, reference):
    # every second of the 80 cells with spacing to 0.15 D and diameters to 50 cm; 1.93 and 2.44 to their printed digits
    table = reference.table("iec-60052-table-2")
    cells = agreement._calibration_cells(reference, table)
    spacing, radius, volts = table["spacing"][cells], table["sphere_diameter"][cells] / 2, table["voltage"][cells]
    used = ionization_fits(reference)["calibrated"]

    def deviations(constants):
        fit = replace(used, curvature=constants[0] * 1e-4, centre=constants[1] * 10)
        return inception(SPHERES_ONE_EARTHED, spacing, radius, 101.3e3, fit).voltage / volts - 1

    fitted = least_squares(deviations, [1.8, 2.5]).x
    assert fitted[0] == pytest.approx(used.curvature * 1e4, abs=0.005)
    assert fitted[1] == pytest.approx(used.centre / 10, abs=0.005)


def test_the_share_inside_the_stated_band_is_given_and_a_method_below_95_percent_says_why(registry, found):
    sets = {(points.table.key, points.part): points for points in agreement.point_sets(registry)}
    for cells in found:
        points = sets.get((cells["table"], cells.get("part", "")))
        if points is None:  # calibration cells left out
            continue
        answer = evaluate(registry.arrangement(points.electrodes), points.case, only=cells["method"])
        here = np.isfinite(answer.value)
        inside = (answer.low <= points.voltages) & (points.voltages <= answer.high)
        assert cells["inside_band_percent"] == pytest.approx(100 * inside[here].mean(), abs=0.006)
    below = {cells["method"] for cells in found if cells["inside_band_percent"] < 95}
    # argon below 1 mm: the cathode moves the minimum, similarity fails; none of them is preferred there
    assert below <= {"townsend-argon", "closed-form-argon-lieberman-lichtenberg", "closed-form-argon-raizer"}
    notes = SHIPPED.answer("agreement").notes
    assert all(any(method in note for note in notes) for method in below)


def test_it_is_said_that_the_sphere_tables_compare_a_built_gap_with_a_free_pair():
    for said in ("built gap", "no single row is the agreement"):
        assert any(said in note for note in agreement.NOTES)


@pytest.mark.parametrize("pressure", ["3bar", "8bar"])
def test_spheres_in_compressed_air_widen_below_as_plates_do(pressure):
    spheres, plates = (
        SHIPPED.answer("breakdown", f"gap=5mm&pressure={pressure}&electrodes={shape}").results["breakdown_voltage"]
        for shape in ("sphere-gap&sphere_diameter=10cm", "uniform-field")
    )
    assert spheres.low / spheres.value == pytest.approx(plates.low / plates.value, abs=0.02)
