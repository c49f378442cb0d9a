"""Blends: each by hand, with and without a part, with weights that vary, and with very many parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from written_forms import NAN, form_of, inputs_of_arrays, own_numbers, score, values_of

from scoring.blends import BLENDS, numbers_of
from scoring.blends.means import PowerMean
from scoring.errors import ScoringError
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import evaluate, kernel_for

# Parts 2, 4 and 8 with weights 1, 2 and 1: all there, then without the 2 (weights 2 and 1 of 4 and 8).
WORKED = {
    "weighted mean": (4.5, 16 / 3),  # (2 + 8 + 8)/4; (8 + 8)/3
    "geometric mean": (4.0, 128 ** (1 / 3)),  # (2 * 16 * 8)^(1/4) = 256^(1/4); (16 * 8)^(1/3)
    "harmonic mean": (32 / 9, 4.8),  # 4/(1/2 + 2/4 + 1/8) = 4/1.125; 3/(2/4 + 1/8) = 3/0.625
    "power mean": (25**0.5, 32**0.5),  # exponent 2: ((4 + 32 + 64)/4)^(1/2); ((32 + 64)/3)^(1/2)
    "minimum": (2.0, 4.0),
    "maximum": (8.0, 8.0),
    "sum": (18.0, 64 / 3),  # 2 + 8 + 8; without a part, the mean of the others times the whole weight: 16/3 * 4
    "product": (256.0, 128 ** (4 / 3)),  # 2 * 4^2 * 8; without, the geometric mean to the power of the whole weight
}
MEASURES = 'measures: {x: {unit: "1"}, y: {unit: "1"}, z: {unit: "1"}}\n'
HEAD = f"formula: trial\nscale: {{from: 0}}\n{MEASURES}"


def blend_form(blend: str, weights: str = "{a: 1, b: 2, c: 1}", missing: str = "{absent_above: 0.5}") -> str:
    """Ratings a, b, c are the readings x, y, z; the score s blends them."""
    blend += own_numbers(blend, exponent="2")
    ratings = "\n".join(f"  {rating}: {{value: {measure}}}" for rating, measure in zip("abc", "xyz", strict=True))
    score_text = f"  s: {{blend: {blend}, weights: {weights}, missing: {missing}}}"
    return f"{HEAD}ratings:\n{ratings}\nscores:\n{score_text}\n"


@pytest.mark.parametrize("blend", BLENDS)
def test_a_blend_gives_its_worked_value_with_and_without_a_part(blend: str) -> None:
    """The first product has every part, the second lacks the 2; a new blend without a case fails here."""
    found = values_of(blend_form(blend), "s", x=[2.0, NAN], y=[4.0, 4.0], z=[8.0, 8.0])
    assert found == pytest.approx(WORKED[blend], rel=1e-13)


@pytest.mark.parametrize("blend", BLENDS)
def test_a_blend_of_parts_that_are_all_there_needs_no_presence(blend: str) -> None:
    """The kernel for a catalogue without gaps is another function, and gives the same."""
    assert values_of(blend_form(blend), "s", x=[2.0], y=[4.0], z=[8.0]) == pytest.approx(WORKED[blend][:1], rel=1e-13)


@pytest.mark.parametrize("gap", [False, True], ids=["whole", "gap"])
@pytest.mark.parametrize("blend", BLENDS)
def test_a_blend_of_weights_that_vary_gives_each_draws_own_value(blend: str, gap: bool) -> None:
    """Draw by draw against the form with those weights written into it; one draw leaves a part out by weight 0."""
    draws = np.array([[1.0, 2.0, 1.0], [0.5, 0.2, 3.0], [0.0, 1.0, 2.0], [2.0, 0.0, 0.0]])
    readings = {"x": [2.0, 3.0], "y": [4.0, NAN if gap else 5.0], "z": [8.0, 0.7]}
    program, inputs = compile_form(form_of(blend_form(blend, missing="{absent_above: 1}"))), inputs_of_arrays(readings)
    names = [f"scores.s.weights.{name}" for name in "abc"]
    kernel = kernel_for(program, inputs, ["s"], varying=names)
    found = evaluate(kernel, inputs, dict(zip(names, draws.T, strict=True))).values["s"]
    for weights, row in zip(draws, found, strict=True):
        written = "{{a: {}, b: {}, c: {}}}".format(*weights)
        expected = values_of(blend_form(blend, written, "{absent_above: 1}"), "s", **readings)
        assert row == pytest.approx(expected, rel=1e-13, nan_ok=True)


@pytest.mark.parametrize("blend", BLENDS)
def test_a_part_of_weight_0_has_no_say_whatever_it_is(blend: str) -> None:
    """A logarithm of 0 times 0 would be no number; a missing part of weight 0 leaves the score whole."""
    text = blend_form(blend, "{a: 0, b: 2, c: 1}")
    expected = values_of(blend_form(blend, "{b: 2, c: 1}"), "s", y=[4.0] * 3, z=[8.0] * 3)
    table = score(text, {"x": [0.0, 100.0, NAN], "y": [4.0] * 3, "z": [8.0] * 3})
    assert table.column("s").value == pytest.approx(expected, rel=1e-13)
    assert [table.column("s").status_text(product) for product in range(3)] == ["rated"] * 3


@pytest.mark.parametrize("blend", BLENDS)
def test_a_draw_that_gives_a_part_the_weight_0_leaves_it_out_even_at_0(blend: str) -> None:
    """The weight is an argument of the kernel here, 0 in the first draw and 1 in the second."""
    program, inputs = compile_form(form_of(blend_form(blend))), inputs_of_arrays({"x": [0.0], "y": [4.0], "z": [8.0]})
    kernel = kernel_for(program, inputs, ["s"], varying=["scores.s.weights.a"])
    found = evaluate(kernel, inputs, {"scores.s.weights.a": np.array([0.0, 1.0])}).values["s"]
    without = values_of(blend_form(blend, "{b: 2, c: 1}"), "s", y=[4.0], z=[8.0])
    assert found[0] == pytest.approx(without, rel=1e-13)
    assert found[1] == pytest.approx(values_of(blend_form(blend), "s", x=[0.0], y=[4.0], z=[8.0]), rel=1e-13)


@pytest.mark.parametrize("blend", BLENDS)
def test_a_part_of_weight_0_has_no_say_where_it_has_no_value(blend: str) -> None:
    """The logarithm of -3 with the weight 0, written and drawn; with the weight 1 there is no value."""
    own = own_numbers(blend, exponent="2")
    parts = "{measure: x, weight: 0, curve: {log: {worst: 40, best: 4}}}, {measure: y, curve: {points: {0: 0, 9: 9}}}"
    text = f"{HEAD.replace('from: 0', 'from: 0, to: 10')}ratings:\n  m: {{blend: {blend}{own}, mix: [{parts}]}}\n"
    assert values_of(text, "m", x=[-3.0], y=[4.0]) == pytest.approx([4.0])
    program, inputs = compile_form(form_of(text)), inputs_of_arrays({"x": [-3.0], "y": [4.0]})
    address = "ratings.m.mix.x.weight"
    drawn = evaluate(kernel_for(program, inputs, varying=[address]), inputs, {address: np.array([0.0, 1.0])})
    np.testing.assert_allclose(drawn.values["m"], [[4.0], [NAN]])


@pytest.mark.parametrize(
    ("blend", "expected"), [("geometric mean", 0), ("harmonic mean", 0), ("product", 0), ("minimum", 0)]
)
def test_a_part_at_0_takes_the_whole_to_0(blend: str, expected: float) -> None:
    """The limit, not an error."""
    assert values_of(blend_form(blend), "s", x=[0.0], y=[4.0], z=[8.0]) == [expected]


@pytest.mark.parametrize("blend", ["geometric mean", "harmonic mean", "power mean", "product"])
def test_a_part_below_0_is_refused_where_the_blend_has_no_meaning(blend: str) -> None:
    """A mean of logarithms or reciprocals of what may be below 0."""
    text = blend_form(blend).replace("{from: 0}", "{from: -10}")
    with pytest.raises(
        ScoringError, match=f"s of p1 has no value: a part at -2 in a {blend}, which takes none below 0"
    ):
        score(text, {"x": [-2.0], "y": [4.0], "z": [8.0]})


@pytest.mark.parametrize(
    ("exponent", "expected"),
    [("1", 4.5), ("-1", 32 / 9), ("2", 5.0), ("3", ((8 + 128 + 512) / 4) ** (1 / 3)), ("0.5", ((2**0.5 + 4 + 8**0.5) / 4) ** 2)],
)  # fmt: skip
def test_a_power_mean_by_exponent(exponent: str, expected: float) -> None:
    """1 is the weighted mean, -1 the harmonic mean."""
    text = blend_form("power mean").replace("exponent: 2", f"exponent: {exponent}")
    assert values_of(text, "s", x=[2.0], y=[4.0], z=[8.0]) == pytest.approx([expected], rel=1e-13)


@pytest.mark.parametrize("blend", [name for name in BLENDS if BLENDS[name].internal])
def test_a_blend_of_one_part_is_that_part(blend: str) -> None:
    """To the last bit, whatever its weight."""
    assert values_of(blend_form(blend, "{a: 0.3}"), "s", x=[0.1, 8.7]) == [0.1, 8.7]


def test_a_sum_and_a_product_of_one_part_use_its_weight() -> None:
    """0.5 * 9; 9^0.5."""
    assert values_of(blend_form("sum", "{a: 0.5}"), "s", x=[9.0]) == pytest.approx([4.5])
    assert values_of(blend_form("product", "{a: 0.5}"), "s", x=[9.0]) == pytest.approx([3.0])


@pytest.fixture(scope="module")
def many_parts() -> Program:
    """1100 ratings, and a score of them by each blend."""
    count = 1100
    ratings = "".join(f"  r{i}: {{value: x}}\n" for i in range(count))
    weights = ", ".join(f"r{i}: 1" for i in range(count))
    scores = "".join(
        f"  {blend.replace(' ', '_')}: {{blend: {blend}{own_numbers(blend, exponent='2')}, weights: {{{weights}}}}}\n"
        for blend in BLENDS
    )
    return compile_form(form_of(f"{HEAD}ratings:\n{ratings}scores:\n{scores}"))


@pytest.mark.parametrize("blend", BLENDS)
def test_a_blend_of_very_many_parts_compiles(blend: str, many_parts: Program) -> None:
    """Nested brackets and long sums have limits in Python, of 1000 at most by itself; 1100 parts of 1 give 1, their sum 1100."""
    inputs, name = inputs_of_arrays({"x": [1.0, NAN]}), blend.replace(" ", "_")
    found = evaluate(kernel_for(many_parts, inputs, [name]), inputs).values[name][0]
    assert found == pytest.approx([1100.0 if blend == "sum" else 1.0, NAN], nan_ok=True)


def test_one_key_has_one_declaration() -> None:
    """Two blends that declare one number differently are refused when they are put together."""

    class Other(PowerMean):
        name = "other mean"
        numbers = (replace(PowerMean.numbers[0], says="something else."),)

    assert numbers_of([PowerMean, PowerMean]) == {number.name: number for number in PowerMean.numbers}
    with pytest.raises(ValueError, match="`exponent` of `other mean` is declared by another blend"):
        numbers_of([PowerMean, Other])
