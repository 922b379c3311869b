"""Curves of breakdown voltage over the gap, for one or several arrangements."""

import numpy as np
import pytest

from service.errors import BadQuestion, OutsideValidity
from tests.asking import SHIPPED

RANGE = "gap_from=1mm&gap_to=50mm"


@pytest.fixture
def curves(ask):
    return lambda query: ask("breakdown", f"{RANGE}&{query}")


def volts(curve, name="values"):
    return np.array(curve["breakdown_voltage"][name], dtype=float)


def test_every_arrangement_has_its_curve_and_its_sizes_are_echoed_once(curves):
    found = curves("electrodes=uniform-field,sphere-gap,needle-gap,unknown&sphere_diameter=2cm")
    assert [one["electrodes"] for one in found["curves"]] == ["uniform-field", "sphere-gap", "needle-gap", "unknown"]
    assert found["asked"]["sphere_diameter"] == {"value": 20.0, "unit": "mm"}
    assert found["asked"]["earthing"] == "one-earthed"
    assert {"earthing", "pressure", "points"} <= set(found["asked"]["assumed"])
    assert "gap_from" not in found["asked"]["assumed"]
    for one in found["curves"]:
        assert one["gap"]["unit"] == "mm"
        assert len(one["gap"]["values"]) == len(one["method"]) == len(one["breakdown_voltage"]["values"])


def test_a_curve_is_the_point_answers_one_after_another(curves, ask):
    [one] = curves("electrodes=uniform-field")["curves"]
    for place in (0, 80, 159):
        gap = one["gap"]["values"][place]
        single = ask("breakdown", f"electrodes=uniform-field&gap={gap!r}mm")["breakdown_voltage"]
        for name, part in (("values", "value"), ("low", "low"), ("high", "high")):
            assert one["breakdown_voltage"][name][place] == pytest.approx(single[part], rel=1e-9)


def test_where_no_method_answers_there_is_null_and_a_note(curves):
    # left of the Paschen minimum, 10 mm at 100 Pa, electrodes of unknown shape are refused
    found = curves("electrodes=unknown&pressure=100Pa")
    [one] = found["curves"]
    assert one["breakdown_voltage"]["values"][0] is None
    assert one["method"][0] is None
    assert one["breakdown_voltage"]["high"][0] is None
    assert one["breakdown_voltage"]["high"][-1] is not None
    assert any("the curve is broken" in note for note in found["notes"])


def test_the_bracket_of_unknown_electrodes_has_ends_and_no_value(curves):
    [one] = curves("electrodes=unknown")["curves"]
    assert np.isnan(volts(one)).all()
    assert (volts(one, "low") < volts(one, "high")).all()


@pytest.mark.parametrize(
    "query",
    [
        "electrodes=uniform-field&sphere_diameter=2cm",
        "electrodes=uniform-field,needle-gap&tip_radius=1mm",
        "electrodes=uniform-field,sphere-gap",
        "electrodes=coaxial-cylinders&inner_diameter=5mm&outer_diameter=9mm",
        "electrodes=uniform-field&method=needle-gap-table",
        "electrodes=uniform-field,uniform-field",
    ],
)
def test_what_no_arrangement_uses_or_one_misses_is_refused(query, curves):
    with pytest.raises(BadQuestion):
        curves(query)


def test_the_electrodes_that_are_compared_over_a_range_are_bounded(curves):
    eight = "needle-gap,rod-gap,rod-plane,sphere-gap,sphere-plane,uniform-field,unknown,wire-plane"
    assert len(curves(f"electrodes={eight}&sphere_diameter=2cm&wire_diameter=2mm")["curves"]) == 8
    with pytest.raises(BadQuestion, match=r"9 electrodes are listed; at most 8 .* gap_from to gap_to") as refused:
        curves(f"electrodes={eight},point-plane&sphere_diameter=2cm&wire_diameter=2mm&tip_radius=1mm")
    assert [fault.parameter for fault in refused.value.faults] == ["electrodes"]


def test_a_range_must_be_whole_in_order_and_somewhere_answered(ask):
    for query in ("gap_from=5mm", "gap_to=5mm", "gap_from=5mm&gap_to=1mm"):
        with pytest.raises(BadQuestion):
            ask("breakdown", query)
    with pytest.raises(OutsideValidity):
        ask("breakdown", "gap_from=3m&gap_to=5m&electrodes=uniform-field")


def test_the_outer_diameter_follows_where_the_gap_fixes_it(curves):
    [one] = curves("electrodes=coaxial-cylinders&inner_diameter=20mm")["curves"]
    assert np.isfinite(volts(one, "high")).all()


def test_the_picture_has_bands_and_the_asked_point():
    query = f"{RANGE}&gap=8mm&electrodes=uniform-field,unknown"
    figure = SHIPPED.answer("breakdown", query).figure()
    labels = [curve.label for curve in figure.curves]
    assert labels == ["Uniform field", "Unknown electrodes, low end", "Unknown electrodes, high end"]
    assert figure.curves[0].low is not None
    assert all(curve.dashed for curve in figure.curves[1:])
    assert [mark.x.tolist() for mark in figure.marks] == [[8.0], [8.0, 8.0]]
    assert figure.marks[0].y == pytest.approx([25.79], abs=5e-3)
    # of a bracket both ends: what points hold (IEC 60664-1 Table A.1, case A, 6.6 kV at 8 mm) and 3 % above plates
    assert figure.marks[1].y == pytest.approx([6.63, 25.79 * 1.03], rel=1e-3)


def test_a_curve_ends_where_its_method_does_and_the_hand_over_is_marked():
    query = "gap_from=1mm&gap_to=30mm&electrodes=sphere-gap&sphere_diameter=2cm"
    figure = SHIPPED.answer("breakdown", query).figure()
    [step] = [mark for mark in figure.marks if mark.kind == "hand-over"]
    near = np.abs(np.log(figure.curves[0].x / step.x[-1])) < 0.05
    assert not np.isnan(figure.curves[0].x).all()
    assert near.any()
    assert np.isnan(figure.curves[0].y).any()  # nothing is drawn across the step


def test_cautions_are_those_of_the_highest_voltages(curves):
    keys = [caution["key"] for caution in curves("electrodes=uniform-field&gas=vacuum")["cautions"]]
    assert keys == ["estimate", "not-a-barrier", "x-rays", "gases"]


def test_what_the_methods_of_a_curve_say_stands_beside_it(curves):
    notes = curves("electrodes=uniform-field,unknown")["notes"]
    assert any(one.startswith("Unknown electrodes: The shape of the electrodes decides") for one in notes)
    assert any(one.startswith("Uniform field: Plates with rounded rims") for one in notes)
