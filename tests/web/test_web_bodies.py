"""Bodies are read strictly: every fault has its path, no member is given twice, the list of faults ends."""

import pytest

from service.errors import BadQuestion
from service.parameters import Listed, Members, Parameter, Part
from service.web.bodies import MOST_FAULTS, json_object, read

POINT = Parameter("coordinate", "length", "A coordinate.", low=0.0, high=1.0)
PIECE = Members((Parameter("arc", "length", "An arc."),), (Part("to", "A point.", Listed(POINT, 2, 2)),))
ELECTRODE = Members(
    (Parameter("potential", "fraction", "Its potential.", required=True, example="50percent"),),
    (Part("path", "Its pieces.", Listed(PIECE)),),
)
SHAPE = Members(
    (
        Parameter("gas", "choice", "The gas.", default="air", choices=("air", "nitrogen")),
        Parameter("count", "number", "A plain number."),
    ),
    (
        Part("electrodes", "Both electrodes.", Listed(ELECTRODE, 2, 2), required=True),
        Part("columns", "Taken as they are.", None),
    ),
)
ONE = {"potential": "1percent"}


def named(body):
    with pytest.raises(BadQuestion) as refused:
        read(SHAPE, body)
    return {fault.parameter: fault.detail for fault in refused.value.faults}


def test_a_body_becomes_questions_in_si_with_its_texts_and_its_defaults_named():
    path = [{"arc": "3mm"}, {"to": ["1mm", "2mm"]}]
    given = read(
        SHAPE, {"count": 3, "electrodes": [{"potential": "50percent", "path": path}, ONE], "columns": {"a": [1]}}
    )
    assert (given.question.key("gas"), given.question.assumed, given.question.number("count")) == ("air", {"gas"}, 3.0)
    first = given.parts["electrodes"][0]
    assert (first.where, first.question.typed, first.question.number("potential")) == (
        "electrodes[0].",
        {"potential": "50percent"},
        0.5,
    )
    assert first.parts["path"][0].question.number("arc") == pytest.approx(3e-3)
    assert first.parts["path"][1].parts["to"].values == pytest.approx((1e-3, 2e-3))
    assert first.parts["path"][1].parts["to"].texts == ("1mm", "2mm")
    assert given.parts["columns"] == {"a": [1]}


@pytest.mark.parametrize(
    ("electrodes", "path", "words"),
    [
        ([{"potential": "1kg"}, ONE], "electrodes[0].potential", "not a unit"),
        ([{"potential": None}, ONE], "electrodes[0].potential", "must be text"),
        ([{"potential": True}, ONE], "electrodes[0].potential", "must be text"),
        ([{"potential": 1e300}, ONE], "electrodes[0].potential", "needs"),
        ([ONE, {}], "electrodes[1].potential", "is needed: Its potential. For example potential=50percent"),
        ([ONE, None], "electrodes[1]", "must not be null"),
        ([ONE, {**ONE, "potentia": 3}], "electrodes[1].potentia", "did you mean 'potential'"),
        ([ONE, 3], "electrodes[1]", "must be an object with potential, path"),
        ([ONE], "electrodes", "must be a list of 2 objects; it has 1"),
        ("two", "electrodes", "must be a list. Both electrodes"),
        (None, "electrodes", "must be a list"),
        ([ONE, {**ONE, "path": [{}, {"to": ["1mm", "2m"]}]}], "electrodes[1].path[1].to[1]", "lies outside"),
        ([ONE, {**ONE, "path": [{"to": ["1mm"]}]}], "electrodes[1].path[0].to", "must be a list of 2 values; it has 1"),
        ([ONE, {**ONE, "path": [{"arc": "nanmm"}]}], "electrodes[1].path[0].arc", "cannot read"),
    ],
)
def test_a_fault_is_told_by_its_path(electrodes, path, words):
    found = named({"electrodes": electrodes})
    assert list(found) == [path]
    assert words in found[path]


def test_every_fault_of_a_body_is_told_at_once():
    found = named({"gas": "steam", "colour": "red", "electrodes": [{"potential": "a"}, {"path": [{"arc": "b"}]}]})
    assert set(found) == {
        "gas",
        "colour",
        "electrodes[0].potential",
        "electrodes[1].potential",
        "electrodes[1].path[0].arc",
    }


def test_of_many_faults_twenty_are_told_and_the_rest_counted():
    path = [{"to": ["a", "b"]}] * 300
    with pytest.raises(BadQuestion, match=r"And 580 more\.$") as refused:
        read(SHAPE, {"electrodes": [{**ONE, "path": path}, ONE]})
    assert len(refused.value.faults) == MOST_FAULTS == 20


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b'{"count":1,"count":1}', "count is given more than once"),
        (b'{"electrodes":[{"path":[],"path":[]}]}', "path is given more than once"),
        (b"[1]", "must be a JSON object"),
        (b'{"count":NaN}', "not JSON"),
        (b'{"count":1e999}', "not JSON"),
        (b'{"a":' * 51 + b"1" + b"}" * 51, "nested too deeply"),
        (b'{"a":' + b"[" * 60 + b"]" * 60 + b"}", "nested too deeply"),
        (b'{"a":' * 1000 + b"1" + b"}" * 1000, "nested too deeply"),
        (b'{"a":' * 9000, "not JSON"),
    ],
    ids=range(9),
)
def test_what_is_not_one_object_with_every_member_once_is_refused(raw, words):
    with pytest.raises(BadQuestion, match=words):
        json_object(raw)
