"""Why a value is not there, in words and with its address: hand-worked, one case for each way to lose one."""

from __future__ import annotations

import pytest
from written_forms import HEAD, form_of, inputs_of_arrays, score

from scoring.errors import ScoringError
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import Inputs
from scoring.table.undefined import Lack, lack_of

READINGS = {"x": [0.0, 4.0], "y": [2.0, 2.0], "z": [-1.0, 5.0]}


def of_value(value: str, rest: str = "") -> tuple[Program, Inputs]:
    """The program of one rating by an expression, and two products: x is 0 and 4, y is 2 and 2, z is -1 and 5."""
    text = HEAD.replace("{from: 1, to: 10}", "{from: -1000, to: 1000}") + f"ratings:\n  a: {{value: '{value}'{rest}}}\n"
    return compile_form(form_of(text)), inputs_of_arrays(READINGS)


@pytest.mark.parametrize(
    ("value", "why"),
    [
        ("y / x", "2 is divided by 0"),
        ("x / x", "0 is divided by 0"),
        ("0 * log(x)", "the logarithm of 0"),
        ("log10(z)", "the logarithm of -1"),
        ("sqrt(z) ** 2", "the square root of -1"),
        ("x ** (0 - y)", "0 to the power of -2"),
        ("z ** 0.5", "-1 to the power of 0.5"),
        ("1 + min(y, 1 / (x * y))", "1 is divided by 0"),
        ("where(1 / x > 2, 3, 4)", "1 is divided by 0"),
        ("clamp(1 / x, 1, 2)", "1 is divided by 0"),
        ("interp(log(x), 0, 1, 2, 5)", "the logarithm of 0"),
        ("where(x < 1, log(x), y / x)", "the logarithm of 0"),  # the branch that is taken
    ],
)
def test_the_first_thing_that_has_no_value_is_named(value: str, why: str) -> None:
    """Of the first product; the second has a value."""
    program, inputs = of_value(value)
    assert lack_of(program, inputs, 0, "a") == Lack("ratings.a.value", why)
    assert str(lack_of(program, inputs, 0, "a")) == f"{why} at ratings.a.value"
    assert lack_of(program, inputs, 1, "a") is None


def test_what_cancels_is_divided_by_as_0() -> None:
    """Once it was complex infinity, and every command crashed."""
    for value, why in (
        ("y / (z - z)", "2 is divided by 0"),
        ("log(z - z)", "the logarithm of 0"),
        ("(z - z) ** (0 - 1)", "0 to the power of -1"),
        ("(z - z) ** -1", "0 to the power of -1"),
        ("where(1 / (z - z) > 0, 1, 2)", "1 is divided by 0"),
    ):
        program, inputs = of_value(value)
        assert lack_of(program, inputs, 1, "a") == Lack("ratings.a.value", why)


def test_the_inner_one_is_named_where_two_are_nested() -> None:
    """1/log(0): the logarithm is what has no value."""
    program, inputs = of_value("1 / log(x)")
    assert lack_of(program, inputs, 0, "a") == Lack("ratings.a.value", "the logarithm of 0")


def test_a_limit_that_cannot_be_worked_out_is_named_by_its_own_address() -> None:
    """Its condition divides 2 by 0."""
    program, inputs = of_value("y", ", limits: [{name: soft, when: y / x < 5, at_most: 3}]")
    assert lack_of(program, inputs, 0, "a") == Lack("ratings.a.limits.soft", "2 is divided by 0")


def test_a_gate_is_named_as_a_gate() -> None:
    """A condition without a value is looked for in the gate's own step."""
    text = HEAD + "ratings:\n  a: {value: y}\ngates: [{name: soft, when: y / x < 5, remark: soft}]\n"
    program, inputs = compile_form(form_of(text)), inputs_of_arrays(READINGS)
    assert lack_of(program, inputs, 0, "gate soft") == Lack("gates.soft", "2 is divided by 0")
    assert lack_of(program, inputs, 1, "gate soft") is None


def test_a_part_below_0_is_named_with_its_blend() -> None:
    """z is -1 for the first product."""
    text = HEAD.replace("{from: 1, to: 10}", "{from: -1000, to: 1000}") + (
        "ratings:\n  a: {value: y}\n  b: {value: z}\nscores:\n  s: {blend: geometric mean, parts: [a, b]}\n"
    )
    program, inputs = compile_form(form_of(text)), inputs_of_arrays(READINGS)
    why = "a part at -1 in a geometric mean, which takes none below 0"
    assert lack_of(program, inputs, 0, "s") == Lack("scores.s", why)


@pytest.mark.parametrize(("curve", "why"), [
    ("z: {centre: 5, per_sd: 1}", "too few products have x for its sd at ratings.a"),
    ("minmax: {better: higher}", "0 is divided by 0 at ratings.a"),
])  # fmt: skip
def test_a_population_without_scatter_is_named(curve: str, why: str) -> None:
    """One product has no standard deviation, and nothing lies between the least and the greatest."""
    with pytest.raises(ScoringError, match=f"a of p1 has no value: {why};"):
        score(HEAD + f"ratings:\n  a: {{measure: x, curve: {{{curve}}}}}\n", {"x": [4.0]})


def test_every_product_that_has_no_value_is_listed_with_its_reason_and_nothing_is_published() -> None:
    """Three products, two of them undefined."""
    text = HEAD.replace("{from: 1, to: 10}", "{from: -1000, to: 1000}") + "ratings:\n  a: {value: y / x}\n"
    with pytest.raises(ScoringError) as fault:
        score(text, {"x": [0.0, 1.0, 0.0], "y": [1.0, 1.0, 3.0]})
    assert [problem.found for problem in fault.value.problems] == [
        "a of p1 has no value: 1 is divided by 0 at ratings.a.value",
        "a of p3 has no value: 3 is divided by 0 at ratings.a.value",
    ]
