"""What holds of every form: ratings stay on their scale, order moves nothing, weights are shares, gaps earn nothing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from extent import examples
from generated_forms import Drawn, curves, decimals, forms, readings, scored_forms
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from written_forms import NAN, curve_form, form_of, inputs_of_arrays, own_numbers

from scoring.addresses.addresses import addressed
from scoring.blends import BLENDS
from scoring.curves import KINDS
from scoring.form import OTHERWISE
from scoring.numbers.ranks import rank
from scoring.program.kernel import kernel_of
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import Evaluation, evaluate, kernel_for
from scoring.table.missing import Standing

Readings = Mapping[str, Sequence[float]]
DUST = 1e-9


def evaluated(program: Program, held: Readings) -> Evaluation:
    """A program over readings."""
    inputs = inputs_of_arrays(held)
    return evaluate(kernel_for(program, inputs), inputs)


def values(program: Program, held: Readings) -> dict[str, NDArray[np.float64]]:
    """Every output, product by product."""
    return {name: found[0] for name, found in evaluated(program, held).values.items()}


@settings(max_examples=examples(100))
@given(drawn=scored_forms(missing=True), far=st.sampled_from([1.0, 1e-6, 1e6]))
def test_every_output_stays_on_its_scale(drawn: tuple[Drawn, dict[str, list[float]]], far: float) -> None:
    """Held curves, expressions in clamp, means and limits on the scale; also of readings far outside every anchor."""
    form, held = drawn[0].form, {name: np.array(list_) * far for name, list_ in drawn[1].items()}
    assert form.scale.high is not None
    low, high = form.scale.low.value - DUST, form.scale.high.value + DUST
    for name, found in values(compile_form(form), held).items():
        there = found[~np.isnan(found)]
        assert np.all((there >= low) & (there <= high)), name


@settings(max_examples=examples(60))
@given(drawn=scored_forms(missing=True), data=st.data())
def test_the_order_of_the_products_moves_nothing(
    drawn: tuple[Drawn, dict[str, list[float]]], data: st.DataObject
) -> None:
    """Values go with their product, to the last bits of the population's statistics."""
    order = data.draw(st.permutations(range(5)))
    program = compile_form(drawn[0].form)
    assume(
        "where" not in drawn[0].text or "mean(" not in drawn[0].text
    )  # the last bit of a mean may decide a comparison
    plain = values(program, drawn[1])
    moved = values(program, {name: [held[i] for i in order] for name, held in drawn[1].items()})
    for name, found in plain.items():
        np.testing.assert_allclose(moved[name], found[list(order)], rtol=1e-12)


@settings(max_examples=examples(60))
@given(drawn=scored_forms(missing=True), of=st.integers(0, 4))
def test_products_with_the_same_readings_get_the_same_values(
    drawn: tuple[Drawn, dict[str, list[float]]], of: int
) -> None:
    """To the last bit, statuses too; whatever stands between them."""
    twin = {name: [*held, held[of]] for name, held in drawn[1].items()}
    evaluation = evaluated(compile_form(drawn[0].form), twin)
    for name, found in evaluation.values.items():
        np.testing.assert_array_equal(found[0, of], found[0, 5])
        standing = np.broadcast_to(evaluation.presence.standing[name][0], 6)
        assert standing[of] == standing[5]


@settings(max_examples=examples(60))
@given(drawn=scored_forms(missing=True), factor=st.floats(0.01, 100))
def test_weights_that_are_scaled_together_change_no_value_and_no_rank(
    drawn: tuple[Drawn, dict[str, list[float]]], factor: float
) -> None:
    """They are shares: of every output in turn, all its weights times one factor."""
    program = compile_form(drawn[0].form)
    inputs = inputs_of_arrays(drawn[1])
    for output in program.form.outputs:
        weights = {part.weight.address: part.weight.value for part in output.parts if part.weight is not None}
        used = {address: value for address, value in weights.items() if address in program.parameters}
        if not used:
            continue
        kernel = kernel_for(program, inputs, [output.name], varying=used)
        found = evaluate(kernel, inputs, {a: np.array([v, v * factor]) for a, v in used.items()}).values[output.name]
        np.testing.assert_allclose(found[1], found[0], rtol=1e-12)
        np.testing.assert_array_equal(rank(np.round(found[0], 9)), rank(np.round(found[1], 9)))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=examples(25))
@given(data=st.data())
def test_no_kind_of_curve_turns_a_missing_reading_into_points(kind: str, data: st.DataObject) -> None:
    """Of one measure: no value, or the scale's low end where the form says so; by the table of kinds itself."""
    curve = data.draw(curves(kind, "1", "10"))
    held = {"x": [NAN, *data.draw(readings(4, missing=True))]}
    for rule in OTHERWISE:
        text = curve_form(curve).replace("  r: {", f"  r: {{missing: {{otherwise: {rule}}}, ")
        program = compile_form(form_of(text))
        found = evaluated(program, held)
        if rule == "lowest":
            assert found.values["r"][0, 0] == 1.0
        else:
            assert math.isnan(found.values["r"][0, 0])
        inputs = inputs_of_arrays(held)
        symbols = {program.measures["x"]: inputs.values["x"]} | {
            symbol: np.array([members]) for symbol, members in program.populations.values()
        }
        symbols |= dict.fromkeys(program.figures.values(), inputs.values["x"])
        bare = kernel_of(compile_form(form_of(curve_form(curve))), gaps=())
        if set(bare.inputs) <= set(symbols):
            assert np.isnan(bare(symbols, (1, 5))["r"][0, 0])


@settings(max_examples=examples(80))
@given(drawn=scored_forms(), measure=st.integers(0, 2))
def test_a_rating_of_readings_that_are_all_gone_has_no_value_or_the_low_end(
    drawn: tuple[Drawn, dict[str, list[float]]], measure: int
) -> None:
    """Whatever the blend, the curve or the expression; and a rating that does not name the measure is not touched."""
    form = drawn[0].form
    program = compile_form(form)
    gone = drawn[0].measures[measure % len(drawn[0].measures)]
    figures = {figure.measure for figure in program.figures}
    before = values(program, drawn[1])
    after = values(program, {**drawn[1], gone: [NAN] * 5})
    for rating in form.ratings:
        if set(rating.sources) == {gone}:
            assert np.all(np.isnan(after[rating.name]) | (after[rating.name] == form.scale.low.value)), rating.name
        elif gone not in rating.sources and gone not in figures:
            np.testing.assert_array_equal(after[rating.name], before[rating.name])


@settings(max_examples=examples(80))
@given(
    blend=st.sampled_from([name for name in BLENDS if BLENDS[name].internal]),
    weights=st.lists(decimals(0.1, 3), min_size=4, max_size=4),
    held=st.lists(decimals(1, 10).map(float), min_size=4, max_size=4),
    gone=st.sets(st.integers(0, 3), max_size=3),
    rule=st.sampled_from(tuple(OTHERWISE)),
)
def test_a_score_without_some_parts_is_the_score_of_the_others_alone(
    blend: str, weights: list[str], held: list[float], gone: set[int], rule: str
) -> None:
    """Reweighted; or, where the form says so, the score with the low end in their place, never above the whole one."""
    names = ("a", "b", "c", "d")
    own = own_numbers(blend, exponent="-1.5")

    def scored(parts: Sequence[int], readings_: Sequence[float], missing: str) -> float:
        measures = ", ".join(f'{name}: {{unit: "1"}}' for name in names)
        ratings = "".join(f"  r{name}: {{value: {name}}}\n" for name in names)
        written = ", ".join(f"r{names[i]}: {weights[i]}" for i in parts)
        text = (
            f"formula: t\nscale: {{from: 1, to: 10}}\nmeasures: {{{measures}}}\nratings:\n{ratings}"
            f"scores:\n  s: {{blend: {blend}{own}, weights: {{{written}}}, missing: {{{missing}}}}}\n"
        )
        held_ = {name: [reading] for name, reading in zip(names, readings_, strict=True)}
        return float(values(compile_form(form_of(text)), held_)["s"][0])

    gaps = [NAN if i in gone else reading for i, reading in enumerate(held)]
    found = scored(range(4), gaps, f"absent_above: 1, otherwise: {rule}")
    whole = scored(range(4), held, "absent_above: 1")
    if rule == "reweight":
        assert found == pytest.approx(scored([i for i in range(4) if i not in gone], held, ""), rel=1e-12)
    else:
        low = [1.0 if i in gone else reading for i, reading in enumerate(held)]
        assert found == pytest.approx(scored(range(4), low, ""), rel=1e-12)
        assert found <= whole + DUST


@settings(max_examples=examples(60))
@given(drawn=scored_forms(missing=True))
def test_a_value_is_there_exactly_where_its_standing_says_so(drawn: tuple[Drawn, dict[str, list[float]]]) -> None:
    """Rated or partial with a number, unrated or not applicable without."""
    evaluation = evaluated(compile_form(drawn[0].form), drawn[1])
    for name, standing in evaluation.presence.standing.items():
        there = np.broadcast_to(standing[0], 5) <= Standing.PARTIAL
        np.testing.assert_array_equal(~np.isnan(evaluation.values[name][0]), there)


@settings(max_examples=examples(60))
@given(drawn=forms())
def test_no_two_things_share_an_address(drawn: Drawn) -> None:
    """Whatever parts, limits and expressions a form has; the program keeps its numbers by address."""
    spots: dict[str, set[object]] = {}
    for noun in addressed(drawn.form):
        spots.setdefault(noun.address, set()).add(noun.spot)
    assert all(len(found) == 1 for found in spots.values())


@settings(max_examples=examples(60))
@given(drawn=scored_forms())
def test_without_a_gap_everything_is_rated(drawn: tuple[Drawn, dict[str, list[float]]]) -> None:
    """No rule withholds anything then."""
    evaluation = evaluated(compile_form(drawn[0].form), drawn[1])
    assert all(np.all(standing == Standing.RATED) for standing in evaluation.presence.standing.values())
