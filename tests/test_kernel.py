"""Kernels: the compiled function for chosen outputs, numbers that vary, and pieces of any shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from counted import calls_of
from extent import one_of_each
from sympy import Symbol, exp, log, sqrt
from written_forms import HEAD, NAN, form_of, inputs_of_arrays

from scoring.addresses.addresses import addresses, set_address
from scoring.catalogue import read_catalogue
from scoring.errors import AddressError
from scoring.form import Number
from scoring.program import kernel as kernel_module
from scoring.program.kernel import kernel_of
from scoring.program.program import compile_form
from scoring.program.settling import settled as settled_expression
from scoring.reader import read_form
from scoring.table.evaluate import Inputs, evaluate, inputs_of, kernel_for, stages

LABORATORY = Path(__file__).resolve().parents[1] / "examples" / "laboratory"
FORM = read_form(LABORATORY / "guest-bed.yaml")
PROGRAM = compile_form(FORM)
INPUTS = inputs_of(FORM, read_catalogue(LABORATORY, FORM))


def whole_inputs() -> Inputs:
    """The laboratory's products that lack nothing."""
    complete = np.flatnonzero(np.all([state <= 1 for state in INPUTS.states.values()], axis=0))
    return Inputs(
        tuple(INPUTS.products[i] for i in complete),
        {name: values[:, complete] for name, values in INPUTS.values.items()},
        {name: states[complete] for name, states in INPUTS.states.items()},
        {name: tuple(words[i] for i in complete) for name, words in INPUTS.words.items()},
    )


def test_every_number_of_the_invented_formula_that_moves_something_is_an_address_of_it() -> None:
    """The program's numbers are listed among the form's addresses."""
    listed = addresses(FORM)
    assert len(PROGRAM.parameters) > 80
    assert all(listed[address] == number for address, (_, number) in PROGRAM.parameters.items())


def kind_of(address: str) -> tuple[str, str]:
    """The section that an address is of, and what it is called there, without places in lists."""
    words = [word for word in address.split(".") if not word.isdigit()]
    return words[0], ".".join(words[-3:-1] if words[-2] == "weights" else words[-3:])


@pytest.mark.parametrize("address", one_of_each(list(PROGRAM.parameters), kind_of))
def test_a_number_that_varies_gives_what_the_form_gives_with_that_number_written_into_it(address: str) -> None:
    """Every number of the invented formula, or one of each kind, 3 % up and 3 % down: the kernel with an argument against one
    compiled anew.

    Where the form refuses the changed number, the kernel is not asked.
    """
    value = PROGRAM.parameters[address][1].value
    settings = np.array([value * 1.03 if value else 0.03, value * 0.97 if value else 0.01])
    found = evaluate(kernel_for(PROGRAM, INPUTS, varying=[address]), INPUTS, {address: settings}).values
    worked = 0
    for row, setting in enumerate(settings.tolist()):
        try:
            changed = compile_form(set_address(FORM, address, repr(setting)))
        except AddressError:
            continue
        expected = evaluate(kernel_for(changed, INPUTS), INPUTS).values
        worked += 1
        for name, values in expected.items():
            np.testing.assert_allclose(found[name][row], values[0], rtol=1e-12, atol=1e-12, err_msg=name)
    assert worked


def test_many_numbers_vary_at_once_and_draw_by_draw() -> None:
    """Three draws of all weights of a score, each against the form with those weights written into it."""
    names = [address for address in PROGRAM.parameters if address.startswith("scores.two_abed.weights")]
    drawn = {name: np.random.default_rng(7).uniform(0.05, 0.5, 3) for name in names}
    found = evaluate(kernel_for(PROGRAM, INPUTS, ["two_abed"], varying=names), INPUTS, drawn).values["two_abed"]
    for row in range(3):
        form = FORM
        for name in names:
            form = set_address(form, name, repr(float(drawn[name][row])))
        expected = evaluate(kernel_for(compile_form(form), INPUTS, ["two_abed"]), INPUTS).values["two_abed"]
        np.testing.assert_allclose(found[row], expected[0], rtol=1e-12)


def test_the_kernel_for_a_catalogue_without_gaps_gives_what_the_general_one_gives() -> None:
    """Presence is left out of its code, and changes nothing."""
    inputs = whole_inputs()
    assert len(inputs.products) > 20
    plain, general = kernel_for(PROGRAM, inputs), kernel_of(PROGRAM)
    assert len(plain.inputs) < len(general.inputs)
    for name, values in evaluate(general, inputs).values.items():
        np.testing.assert_allclose(evaluate(plain, inputs).values[name], values, rtol=1e-14)


@pytest.mark.parametrize("chunk", [1, 7, 60, 64, 1000])
def test_pieces_of_any_size_give_the_same_to_the_last_bit(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Draws and products are cut into pieces that fit the cache; the cuts change nothing."""
    address = "scores.two_abed.weights.quiet"
    kernel = kernel_for(PROGRAM, INPUTS, varying=[address])
    settings = {address: np.linspace(0.1, 0.4, 11)}
    expected = evaluate(kernel, INPUTS, settings).values
    monkeypatch.setattr(kernel_module, "CHUNK", chunk)
    for name, values in evaluate(kernel, INPUTS, settings).values.items():
        np.testing.assert_array_equal(values, expected[name])


def test_results_have_a_row_a_draw_and_a_column_a_product_also_where_nothing_varies_in_them() -> None:
    """An output of constants is a full array, too."""
    form = form_of(HEAD + 'ratings:\n  a: {value: "3 + 4"}\n  b: {value: x}\nscores:\n  s: {weights: {a: 1, b: 2}}\n')
    inputs = inputs_of_arrays({"x": [1.0, 2.0, 3.0]})
    program = compile_form(form)
    kernel = kernel_for(program, inputs, varying=["scores.s.weights.b"])
    values = evaluate(kernel, inputs, {"scores.s.weights.b": np.ones(5)}).values
    assert {name: array.shape for name, array in values.items()} == dict.fromkeys(("a", "b", "s"), (5, 3))
    assert {array.dtype for array in values.values()} == {np.dtype(float)}


def test_no_product_gives_empty_results() -> None:
    """A catalogue may be empty."""
    program = compile_form(form_of(HEAD + "ratings:\n  a: {value: x}\n"))
    inputs = inputs_of_arrays({"x": [], "y": [], "z": []})
    assert evaluate(kernel_for(program, inputs), inputs).values["a"].shape == (1, 0)


def test_readings_may_differ_by_draw() -> None:
    """As when bench noise is drawn: each row by itself."""
    program = compile_form(form_of(HEAD + "ratings:\n  a: {value: x + mean(x) / 10}\n"))
    held = inputs_of_arrays({"x": [1.0, 2.0, 3.0]})
    drawn = Inputs(held.products, {"x": np.array([[1.0, 2.0, 3.0], [2.0, 4.0, 9.0]])}, held.states, {})
    found = evaluate(kernel_for(program, drawn), drawn).values["a"]
    np.testing.assert_allclose(found, [[1.2, 2.2, 3.2], [2.5, 4.5, 9.5]])


def test_only_what_the_chosen_outputs_need_is_worked_out() -> None:
    """The code of `quiet` takes one reading."""
    kernel = kernel_of(PROGRAM, ["quiet"], gaps=())
    assert [symbol.name for symbol in kernel.inputs] == [PROGRAM.measures["noise_dba"].name]
    assert kernel.outputs == ("quiet",)


def test_outputs_may_be_given_from_outside() -> None:
    """The mean of a = 9, which is given, and b = 2."""
    program = compile_form(
        form_of(HEAD + "ratings:\n  a: {value: x}\n  b: {value: y}\nscores:\n  s: {weights: {a: 1, b: 1}}\n")
    )
    kernel = kernel_of(program, ["s"], gaps=(), given=["a"])
    values = {program.outputs["a"]: np.array([[9.0]]), program.measures["y"]: np.array([[2.0]])}
    assert kernel(values, (1, 1))["s"].tolist() == [[5.5]]


def test_an_address_that_the_program_does_not_use_cannot_vary() -> None:
    """A slip would otherwise look like a number without influence."""
    with pytest.raises(KeyError, match=r"scores\.two_abed\.weights\.quite"):
        kernel_of(PROGRAM, varying=["scores.two_abed.weights.quite"])


def test_a_kernel_is_compiled_once_and_kept_with_its_program() -> None:
    """The same words for the same thing give the same kernel; any other question another one."""
    program = compile_form(PROGRAM.form)
    first, calls = calls_of(lambda: kernel_of(program, ["quiet"], gaps=["noise_dba", "sit_drop"]))
    again, none = calls_of(lambda: kernel_of(program, iter(["quiet"]), gaps={"sit_drop", "noise_dba"}))
    assert again is first
    assert (calls["scoring.program.kernel.compile_kernel"], none["scoring.program.kernel.compile_kernel"]) == (1, 0)
    address = "scores.two_abed.weights.quiet"
    asked: list[tuple[Sequence[str] | None, dict[str, Any]]] = [
        (["quiet"], {"gaps": None}),
        (["quiet"], {"gaps": ()}),
        (["two_abed"], {}),
        (["two_abed"], {"varying": [address]}),
        (["two_abed"], {"given": ["quiet"]}),
        (None, {}),
        (None, {"stages": True}),
    ]
    found = [kernel_of(program, outputs, **options) for outputs, options in asked]
    assert len({id(kernel) for kernel in (first, *found)}) == len(asked) + 1
    assert [kernel_of(program, outputs, **options) for outputs, options in asked] == found
    assert len(program.kernels) == len(asked) + 1


def test_another_program_has_kernels_of_its_own() -> None:
    """Nothing is kept beyond a program: not by its form, and not by a copy with other steps."""
    program = compile_form(PROGRAM.form)
    kept = kernel_of(program, ["quiet"])
    assert kernel_of(compile_form(PROGRAM.form), ["quiet"]) is not kept
    changed = replace(program, steps=program.steps[:-1])
    assert changed.kernels == {}
    assert kernel_of(changed, ["quiet"]) is not kept
    assert kernel_of(program, ["quiet"]) is kept


def test_a_kernel_that_cannot_be_compiled_is_not_kept() -> None:
    program = compile_form(PROGRAM.form)
    for _ in range(2):
        with pytest.raises(KeyError):
            kernel_of(program, ["quite"])
    assert program.kernels == {}


def test_the_callers_arrays_stay_as_they_are() -> None:
    """Inputs are read, never written."""
    before = {name: values.copy() for name, values in INPUTS.values.items()}
    evaluate(kernel_for(PROGRAM, INPUTS), INPUTS)
    for name, values in INPUTS.values.items():
        np.testing.assert_array_equal(values, before[name])


def test_stages_give_every_step_and_end_in_the_outputs() -> None:
    """The trace of a score is read from them."""
    found = stages(PROGRAM, INPUTS)
    values = evaluate(kernel_of(PROGRAM), INPUTS).values
    assert list(found) == [step.symbol.name for step in PROGRAM.steps]
    for name, symbol in PROGRAM.outputs.items():
        there = ~np.isnan(values[name])
        np.testing.assert_array_equal(found[symbol.name][there], values[name][there])


X = Symbol("m0", real=True)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("x + 2 * 3", 7.0),
        ("x * sqrt(k - 3)", NAN),
        ("x + 1 / (k - 2)", NAN),
        ("x + exp(exp(exp(exp(100))))", inf),
        ("x - (9 ** 64) ** 64", -inf),
        ("x + log(0)", NAN),
        ("x + 0 * log(0)", NAN),
        ("x + abs(0 - 3)", 4.0),
        ("x + round(1.005, 0.01)", 2.01),  # in decimal, though the binary fraction lies below 1.005
        ("x + clamp(k, 3, 5) + min(k, 7)", 6.0),
        ("x + interp(k, 0, 1, 4, 3)", 3.0),
        ("x + where(round(k / 3, 0.01) == 0.67, 1, 0)", 2.0),
    ],
)
def test_arithmetic_among_numbers_is_done_in_doubles(value: str, expected: float) -> None:
    """Not imaginary, not with millions of digits; k = 2 and x = 1."""
    text = HEAD.replace("measures", "constants: {k: 2}\nmeasures") + f"ratings:\n  a: {{value: '{value}'}}\n"
    inputs = inputs_of_arrays({"x": [1.0]})
    found = evaluate(kernel_for(compile_form(form_of(text)), inputs), inputs).values["a"]
    np.testing.assert_array_equal(found, [[expected]])


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        ("log(0 - k) < 1", NAN),
        ("not log(0 - k) < 1", NAN),
        ("log(0 - k) != 1", NAN),
        ("k < 3", 3.0),
        ("1 / 0 > x", NAN),
        ("k == 2.0", 3.0),
        ("k < 3 or 1 / 0 > x", 3.0),
        ("k > 3 or 1 / 0 > x", NAN),
        ("k > 3 and 1 / 0 > x", 4.0),
        ("k < 3 and 1 / 0 > x", NAN),
        ("not (k > 3 and 1 / 0 > x)", 3.0),
    ],
)
def test_a_condition_on_what_has_no_value_has_none(condition: str, expected: float) -> None:
    """It neither holds nor fails, and what is sure beside it decides (the tables of three values); k = 2."""
    text = (
        HEAD.replace("measures", "constants: {k: 2}\nmeasures")
        + f"ratings:\n  a: {{value: 'where({condition}, 3, 4) + x * 0'}}\n"
    )
    inputs = inputs_of_arrays({"x": [1.0]})
    found = evaluate(kernel_for(compile_form(form_of(text)), inputs), inputs).values["a"]
    np.testing.assert_array_equal(found, [[expected]])


def test_what_sympy_keeps_is_what_numpy_works_out() -> None:
    """A logarithm, a root and an exponential of a reading."""
    expression = log(X) + sqrt(X) + exp(X)
    assert settled_expression(expression, {}) == expression


def test_numbers_of_the_form_reach_the_code_to_the_last_bit() -> None:
    """0.1 + 0.2 and 1/3 of a text with 17 digits."""
    for text in ("0.30000000000000004", "0.3333333333333333", "123456789.12345678"):
        form = form_of(HEAD.replace("{from: 1, to: 10}", "{from: 0}") + f"ratings:\n  a: {{value: x * {text}}}\n")
        inputs = inputs_of_arrays({"x": [1.0, NAN]})
        found = evaluate(kernel_for(compile_form(form), inputs), inputs).values["a"]
        assert found[0, 0] == float(text)
        assert isinstance(addresses(form)["ratings.a.value.1"], Number)
