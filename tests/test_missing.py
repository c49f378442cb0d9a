"""Missing readings: absent, partial, not applicable, at the low end; each rule by hand, and exactly at its limit."""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import HEAD, NAN, form_of, inputs_of_arrays, score, statuses_of

from scoring.form import Number
from scoring.program.program import compile_form
from scoring.table.evaluate import evaluate, gaps_in, kernel_for
from scoring.table.missing import Standing, presence_of

# Ratings a, b, c are x, y, z as they stand (1 to 10); the mean has weights 0.6, 0.3, 0.1.
PARTS = HEAD + "ratings:\n  a: {value: x}\n  b: {value: y}\n  c: {value: z}\nscores:\n"
MEAN = "  s: {weights: {a: 0.6, b: 0.3, c: 0.1}%s}\n"


def value_and_status(text: str, x: float = 2.0, y: float = 4.0, z: float = 8.0, name: str = "s") -> tuple[float, str]:
    """The value and status of an output for one product."""
    table = score(text, {"x": [x], "y": [y], "z": [z]})
    return float(table.column(name).value[0]), table.column(name).status_text(0)


def with_absent(text: str, name: str, **absent: bool) -> tuple[float, Standing]:
    """The value and standing of an output for one product, some measures not applicable to it."""
    program = compile_form(form_of(text))
    readings = {
        measure: [NAN if absent.get(measure) else value] for measure, value in {"x": 2.0, "y": 4.0, "z": 8.0}.items()
    }
    inputs = inputs_of_arrays(readings, {measure: [True] for measure, flag in absent.items() if flag})
    evaluation = evaluate(kernel_for(program, inputs), inputs)
    return float(evaluation.values[name][0, 0]), Standing(int(evaluation.presence.standing[name][0, 0]))


def test_without_a_rule_a_missing_part_leaves_the_whole_unrated() -> None:
    """The default allows nothing to be missing."""
    assert value_and_status(PARTS + MEAN % "") == (pytest.approx(3.2), "rated")  # 1.2 + 1.2 + 0.8
    assert value_and_status(PARTS + MEAN % "", z=NAN) == (pytest.approx(NAN, nan_ok=True), "unrated")


@pytest.mark.parametrize(
    ("share", "x", "y", "z", "value", "status"),
    [
        (0.1, 2.0, 4.0, NAN, (1.2 + 1.2) / 0.9, "partial"),  # exactly the share that may be missing
        (0.09, 2.0, 4.0, NAN, NAN, "unrated"),
        (0.4, 2.0, NAN, NAN, 2.0, "partial"),  # 0.3 + 0.1 of binary fractions is 0.4 here
        (0.39, 2.0, NAN, NAN, NAN, "unrated"),
        (0.7, NAN, 4.0, NAN, 4.0, "partial"),
        (1, NAN, NAN, 8.0, 8.0, "partial"),
        (1, NAN, NAN, NAN, NAN, "unrated"),  # nothing is left to weigh
        (0, 2.0, 4.0, 8.0, 3.2, "rated"),
    ],
)
def test_a_part_may_be_missing_up_to_its_share_of_the_weight(
    share: float, x: float, y: float, z: float, value: float, status: str
) -> None:
    """The others are weighed anew; exactly at the share it is still rated."""
    found = value_and_status(PARTS + MEAN % f", missing: {{absent_above: {share}}}", x, y, z)
    assert found == (pytest.approx(value, nan_ok=True), status)


def test_a_needed_part_may_not_be_missing_whatever_its_share() -> None:
    """The smallest part is needed here."""
    text = PARTS + MEAN % ", missing: {needs: [c], absent_above: 0.9}"
    assert value_and_status(text, x=NAN) == (pytest.approx((1.2 + 0.8) / 0.4), "partial")
    assert value_and_status(text, z=NAN) == (pytest.approx(NAN, nan_ok=True), "unrated")


def test_otherwise_lowest_puts_the_low_end_in_place_of_a_missing_part() -> None:
    """Every weight counts: 0.6 * 1 + 0.3 * 4 + 0.1 * 8; with nothing there, the low end itself."""
    text = PARTS + MEAN % ", missing: {otherwise: lowest}"
    assert value_and_status(text, x=NAN) == (pytest.approx(2.6), "partial")
    assert value_and_status(text, NAN, NAN, NAN) == (1.0, "partial")


def test_otherwise_lowest_keeps_to_its_own_limit_where_one_is_stated() -> None:
    """0.6 of the weight is more than a half."""
    text = PARTS + MEAN % ", missing: {otherwise: lowest, absent_above: 0.5}"
    assert value_and_status(text, y=NAN) == (pytest.approx(2.3), "partial")  # 1.2 + 0.3 + 0.8
    assert value_and_status(text, x=NAN) == (pytest.approx(NAN, nan_ok=True), "unrated")


@pytest.mark.parametrize("rule", ["", ", missing: {otherwise: lowest}", ", missing: {absent_above: 0.1}"])
def test_a_part_that_does_not_apply_is_left_out_and_counts_against_nobody(rule: str) -> None:
    """(1.2 + 0.8)/0.7 under each rule; the status says that it is not the whole."""
    assert with_absent(PARTS + MEAN % rule, "s", y=True) == (pytest.approx(2.0 / 0.7), Standing.PARTIAL)


def test_the_share_that_may_be_missing_is_of_what_applies() -> None:
    """Without b, a missing c is 0.1 of 0.7 of the weight."""
    for share, standing in ((0.143, Standing.PARTIAL), (0.142, Standing.UNRATED)):
        program = compile_form(form_of(PARTS + MEAN % f", missing: {{absent_above: {share}}}"))
        inputs = inputs_of_arrays({"x": [2.0], "y": [NAN], "z": [NAN]}, {"y": [True]})
        found = evaluate(kernel_for(program, inputs), inputs)
        assert found.presence.standing["s"].tolist() == [[standing]]


def test_where_no_part_or_not_a_needed_one_applies_nothing_applies() -> None:
    """A score of an air bed's height loss."""
    assert with_absent(PARTS + MEAN % "", "s", x=True, y=True, z=True)[1] == Standing.NOT_APPLICABLE
    assert with_absent(PARTS + MEAN % ", missing: {needs: [c]}", "s", z=True)[1] == Standing.NOT_APPLICABLE
    assert np.isnan(with_absent(PARTS + MEAN % ", missing: {needs: [c]}", "s", z=True)[0])


def test_missing_and_not_applicable_travel_through_scores_of_scores() -> None:
    """An unrated score is a missing part of the next; one that is partial makes the next partial."""
    text = (
        PARTS + MEAN % ", missing: {absent_above: 0.1}" + "  t: {weights: {s: 1, c: 1}, missing: {absent_above: 0.5}}\n"
    )
    assert value_and_status(text, name="t") == (pytest.approx(5.6), "rated")
    assert value_and_status(text, y=NAN, name="t") == (8.0, "partial")
    table = score(text.replace("weights: {s: 1, c: 1}", "weights: {s: 1, a: 1}"), {"x": [2.0], "y": [4.0], "z": [NAN]})
    assert (statuses_of(table, "t"), table.column("t").remarks) == (["partial"], {0: ("s is itself partial",)})


@pytest.mark.parametrize("rule", ["", ", missing: {absent_above: 0.5}", ", missing: {absent_above: 1}"])
def test_an_expression_without_one_of_its_readings_has_no_value(rule: str) -> None:
    """`where` would take the branch of a comparison that nobody made: no share of the weight excuses that."""
    text = f'{HEAD}ratings:\n  r: {{value: "where(y > 2, 8, 3) + x / 10 + z / 10"{rule}}}\n'
    assert value_and_status(text, name="r") == (pytest.approx(9.0), "rated")
    assert value_and_status(text, y=NAN, name="r") == (pytest.approx(NAN, nan_ok=True), "unrated")


def test_an_expression_with_a_reading_that_does_not_apply_does_not_apply() -> None:
    """Nor can it be worked without."""
    text = f'{HEAD}ratings:\n  r: {{value: "where(y > 2, 8, 3) + x / 10"}}\n'
    assert with_absent(text, "r", y=True)[1] == Standing.NOT_APPLICABLE
    assert np.isnan(with_absent(text, "r", y=True)[0])


def test_an_expression_may_stand_at_the_low_end_where_a_reading_is_missing() -> None:
    """If the form says so: the low end itself, whatever the other branch would give."""
    text = f'{HEAD}ratings:\n  r: {{value: "where(y > 2, 3, 8) + x / 10", missing: {{otherwise: lowest}}}}\n'
    assert value_and_status(text, y=NAN, name="r") == (1.0, "partial")


def test_an_expression_of_constants_is_rated_for_every_product() -> None:
    """It names nothing that could be missing."""
    text = (
        HEAD.replace("measures", "constants: {k: 2}\nmeasures") + 'ratings:\n  r: {value: "3 * k"}\n  q: {value: "5"}\n'
    )
    assert value_and_status(text, x=NAN, name="r") == (6.0, "rated")
    assert value_and_status(text, x=NAN, name="q") == (5.0, "rated")


def test_a_limit_on_a_part_that_is_missing_does_not_hold() -> None:
    """Stepped or smooth: nobody knows that the part is poor."""
    for limit in (
        "{when: c < 5, at_most: 2}",
        "{when: not c > 5, at_most: 2}",
        "{on: c, at_most: {points: {1: 1, 9: 2}}}",
    ):
        text = PARTS + MEAN % f", limits: [{limit}], missing: {{absent_above: 0.1}}"
        assert value_and_status(text, z=NAN) == (pytest.approx(2.4 / 0.9), "partial")
        assert value_and_status(text, z=1.0)[0] <= 2.0


def test_a_limit_that_asks_for_an_attribute_does_not_hold_where_the_word_is_not_stated() -> None:
    """`!=` would hold of a blank."""
    text = HEAD.replace("measures", "attributes: {fire: {}}\nmeasures") + (
        "ratings:\n  r: {value: x, limits: [{when: fire != ok, at_most: 2}]}\n"
    )
    table = score(text, {"x": [8.0, 8.0, 8.0]}, {"fire": ["ok", "none", ""]})
    assert table.column("r").value.tolist() == [8, 2, 8]


def test_remarks_say_what_is_missing_and_what_does_not_apply() -> None:
    """By the part's own name."""
    text = PARTS + MEAN % ", missing: {absent_above: 0.5}"
    table = score(text, {"x": [2.0, 2.0], "y": [4.0, NAN], "z": [8.0, NAN]})
    assert table.column("s").remarks == {1: ("b is missing", "c is missing")}
    assert table.column("b").remarks == {1: ("y is missing",)}


def test_gaps_are_the_measures_that_some_product_lacks_and_what_leans_on_them() -> None:
    """No more presence than that is carried through the arithmetic."""
    program = compile_form(form_of(PARTS + MEAN % "" + "  t: {weights: {a: 1}}\n"))
    assert gaps_in(program, inputs_of_arrays({"x": [1.0], "y": [1.0], "z": [1.0]})) == ()
    assert gaps_in(program, inputs_of_arrays({"x": [1.0], "y": [NAN], "z": [1.0]})) == ("b", "s", "y")


def test_presence_follows_the_weights_of_each_draw() -> None:
    """The share that is missing differs by draw, and so may the standing."""
    program = compile_form(form_of(PARTS + MEAN % ", missing: {absent_above: 0.2}"))
    inputs = inputs_of_arrays({"x": [2.0, 2.0], "y": [4.0, 4.0], "z": [8.0, NAN]})
    drawn = {"scores.s.weights.c": np.array([[0.1], [0.5]])}

    def setting(number: Number) -> np.ndarray | float:
        return drawn.get(number.address, number.value)

    presence = presence_of(program, inputs.states, inputs.words, setting)
    assert presence.standing["s"].tolist() == [
        [Standing.RATED, Standing.PARTIAL],
        [Standing.RATED, Standing.UNRATED],
    ]
    kernel = kernel_for(program, inputs, ["s"], varying=list(drawn))
    found = evaluate(kernel, inputs, {name: values[:, 0] for name, values in drawn.items()}).values["s"]
    assert found == pytest.approx(np.array([[3.2, 2.4 / 0.9], [(2.4 + 4) / 1.4, NAN]]), nan_ok=True)
