"""Programs: the order of the steps, circles, limits, rounding stages, scores of scores and constants, by hand."""

from __future__ import annotations

import pytest
from written_forms import HEAD, form_of, score, values_of

from scoring.errors import FormulaError
from scoring.program.program import compile_form

RATINGS = HEAD + "ratings:\n  a: {value: x}\n  b: {value: y}\nscores:\n"


def scored(body: str, x: float = 4.0, y: float = 8.0, head: str = RATINGS) -> float:
    """The value of the score s for one product."""
    (value,) = values_of(f"{head}  s: {body}\n", "s", x=[x], y=[y])
    return value


def test_scores_may_stand_in_any_order_and_feed_each_other() -> None:
    """u = (s + a)/2 is written before s = (a + b)/2: (6 + 4)/2."""
    text = RATINGS + "  u: {weights: {s: 1, a: 1}}\n  s: {weights: {a: 1, b: 1}}\n  t: {value: (u + s) / 2}\n"
    assert compile_form(form_of(text)).order == ("a", "b", "s", "u", "t")
    assert [values_of(text, name, x=[4.0], y=[8.0])[0] for name in "ust"] == [5.0, 6.0, 5.5]


def test_a_long_chain_of_scores_is_ordered_without_recursion() -> None:
    """Two thousand links, each after the one it needs."""
    links = "".join(f"  s{i}: {{value: s{i + 1}}}\n" for i in range(2000))
    order = compile_form(form_of(RATINGS + links + "  s2000: {value: a}\n")).order
    assert order[:5] == ("a", "b", "s2000", "s1999", "s1998")


@pytest.mark.parametrize(
    ("scores", "circle"),
    [
        ("  s: {value: s + 1}\n", "s -> s"),
        ("  s: {weights: {t: 1}}\n  t: {weights: {s: 1}}\n", "s -> t -> s"),
        ("  r: {weights: {s: 1}}\n  s: {weights: {a: 1, t: 1}}\n  t: {value: 'where(u > 3, 5, 6)'}\n  u: {weights: {s: 1}}\n", "s -> t -> u -> s"),
        ("  s: {value: a, limits: [{when: t < 3, at_most: 5}]}\n  t: {weights: {s: 1}}\n", "s -> t -> s"),
        ("  s: {value: a, limits: [{on: t, at_most: {points: {1: 1, 2: 2}}}]}\n  t: {weights: {s: 1}}\n", "s -> t -> s"),
    ],
    ids=["itself", "two", "three", "by a limit", "by a smooth limit"],
)  # fmt: skip
def test_outputs_that_need_each_other_in_a_circle_are_refused_with_the_circle(scores: str, circle: str) -> None:
    """By parts, expressions or limits; the place is that of a member."""
    with pytest.raises(FormulaError, match=rf"form\.yaml:\d+:\d+: the circle {circle}; expected outputs that do not"):
        compile_form(form_of(RATINGS + scores))


# The mean of a = 4 and b = 8 is 6.
@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ("{when: a < 5, at_most: 5.5}", 5.5),
        ("{when: a < 4, at_most: 5.5}", 6),
        ("{when: a <= 4, at_most: 5.5}", 5.5),
        ("{when: a < 5, at_most: 7}", 6),
        ("{when: b > 7, at_least: 6.5}", 6.5),
        ("{when: b > 7, at_least: 3}", 6),
        ("{when: x < 5 and y > 7, at_most: 3}", 3),
        ("{when: a < 5, at_most: 5.5, apply: never}", 6),
        ("{on: a, at_most: {points: {1: 2, 5: 10}}}", 6),  # at 4 the bound is 8
        ("{on: a, at_most: {points: {1: 2, 7: 8}}}", 5),  # at 4 the bound is 5
        ("{on: b, at_least: {line: {worst: 0, best: 10}}}", 8.2),  # 1 + 9*8/10
        ("{on: x, at_most: {steps: {0: 3, 3: 4, 5: 9}}}", 4),
        ("{when: a < 5, at_most: 5}, {when: b > 7, at_least: 5.5}", 5.5),  # in the order written
        ("{when: b > 7, at_least: 5.5}, {when: a < 5, at_most: 5}", 5),
        ("{name: low, when: a < 5, at_most: 5}, {name: lower, when: a < 4.5, at_most: 4.5}", 4.5),
    ],
)
def test_a_limit_holds_the_whole_back_or_up(limits: str, expected: float) -> None:
    """Stepped and smooth, on ratings and on readings; one that is met at its edge, one that does not bite, one switched off."""
    assert scored(f"{{weights: {{a: 1, b: 1}}, limits: [{limits}]}}") == pytest.approx(expected, abs=1e-12)


def test_rounding_stands_where_the_form_puts_it() -> None:
    """A reading to 0.5, a rating to 0.1, a score to 0.25, in that order, each half-up, and the figure shown to 1."""
    text = (
        "formula: trial\nscale: {from: 1, to: 10, show: {step: 1, rule: half-up}}\n"
        'measures: {x: {unit: "1", round: {step: 0.5, rule: half-up}}, y: {unit: "1"}}\n'
        "ratings:\n"
        "  a: {measure: x, curve: {line: {worst: 0, best: 40}}, round: {step: 0.1, rule: half-up}}\n"
        "  b: {value: y}\n"
        "scores:\n  s: {weights: {a: 1, b: 1}, round: {step: 0.25, rule: down}}\n"
    )
    table = score(text, {"x": [11.3], "y": [5.0]})
    # 11.3 -> 11.5; 1 + 9*11.5/40 = 3.5875 -> 3.6; (3.6 + 5)/2 = 4.3 -> 4.25; shown 4
    assert table.column("a").value.tolist() == [3.6]
    assert table.column("s").value.tolist() == [4.25]
    assert table.column("s").shown_text(0) == "4"


def test_a_limit_comes_before_the_rounding_of_its_score() -> None:
    """At most 5.26, then to 0.1."""
    assert scored("{value: a + 4, limits: [{when: a < 5, at_most: 5.26}], round: {step: 0.1}}") == 5.3


def test_constants_stand_in_expressions_and_keep_their_addresses() -> None:
    """Two constants; one number of the program each, however often it is used."""
    head = RATINGS.replace("measures", "constants: {k: 2, low: 0.5}\nmeasures")
    assert scored("{value: a * k / 2 + low * k}", head=head) == 5.0
    program = compile_form(form_of(head + "  s: {value: a * k / 2 + low * k}\n"))
    assert [address for address in program.parameters if address.startswith("constants")] == [
        "constants.k",
        "constants.low",
    ]


def test_two_limits_and_two_gates_keep_their_own_numbers() -> None:
    """Under names of their own: at most 5 below 3, at most 7 below 6."""
    limits = "[{name: low, when: a < 3, at_most: 5}, {name: middle, when: a < 6, at_most: 7}]"
    text = RATINGS + f"  s: {{value: b, limits: {limits}}}\n"
    assert values_of(text, "s", x=[2.0, 4.0, 7.0], y=[8.0] * 3) == [5, 7, 8]


def test_statistics_of_one_measure_stand_beside_each_other() -> None:
    """Of 1, 2, 6: mean 3, median 2; each product's own reading against them."""
    head = RATINGS.replace("{from: 1, to: 10}", "{from: -10, to: 10}")
    assert values_of(head + "  s: {value: x - mean(x) + median(x)}\n", "s", x=[1.0, 2.0, 6.0], y=[1.0] * 3) == [0, 1, 5]


@pytest.mark.parametrize("scale", ["{from: 0, to: 1}", "{from: 0, to: 100}", "{from: 0}"])
def test_scores_are_worked_on_the_scale_that_the_form_states(scale: str) -> None:
    """An open scale has no top to be held to."""
    text = RATINGS.replace("{from: 1, to: 10}", scale) + "  s: {weights: {a: 1, b: 3}}\n"
    assert values_of(text, "s", x=[0.2], y=[0.6]) == pytest.approx([0.5])


def test_every_step_tells_what_it_is_and_where_it_comes_from() -> None:
    """For the trace of a score."""
    body = "{weights: {a: 1, b: 1}, limits: [{name: low, when: a < 3, at_most: 5}], round: {step: 0.1}}"
    text = RATINGS + f"  s: {body}\ngates: [{{name: g, when: x > 5, withhold: why}}]\n"
    steps = compile_form(form_of(text)).steps
    assert [(step.kind, step.output, step.address) for step in steps] == [
        ("value", "a", "ratings.a.value"),
        ("value", "b", "ratings.b.value"),
        ("blend", "s", "scores.s"),
        ("limit", "s", "scores.s.limits.low"),
        ("round", "s", "scores.s"),
        ("gate", "gate g", "gates.g"),
    ]


def test_no_text_of_a_formula_gets_into_the_name_of_a_symbol() -> None:
    """Symbols are printed into code."""
    text = HEAD.replace("x: {", "evil__x: {") + "ratings:\n  a: {value: evil__x}\n"
    program = compile_form(form_of(text))
    symbols = set().union(*(step.expression.free_symbols for step in program.steps), program.measures.values())
    assert {symbol.name for symbol in symbols} == {"m0"}
