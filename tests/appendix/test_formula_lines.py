"""The printed formula, read back from text, LaTeX and MathML and worked out, gives what the kernel gives."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import formula_text
import numpy as np
import pytest
from extent import examples
from formula_text import Token, latex_tokens, mathml_tokens, plain_tokens, work_out
from generated_forms import Drawn, curves, decimals, expressions, forms, readings, scored_forms
from hypothesis import given, settings
from hypothesis import strategies as st
from test_blends import blend_form
from test_curves import WORKED
from written_forms import curve_form, form_of, inputs_of_arrays

from analysis.languages.latex import latex
from analysis.languages.mathml import mathml
from analysis.languages.plain import plain
from analysis.languages.typst import typst
from analysis.methods_appendix.formulas import formulas_of, names_in
from scoring.blends import BLENDS
from scoring.curves import KINDS
from scoring.form import Form
from scoring.program.program import Program, compile_form
from scoring.program.typesetting import number
from scoring.symbolic.notation import Name, Notation
from scoring.table.evaluate import evaluate, kernel_for

Reader = Callable[[Notation], Iterator[Token]]
READERS: dict[str, Reader] = {
    "plain": lambda notation: plain_tokens(plain(notation)),
    "LaTeX": lambda notation: latex_tokens(latex(notation)),
    "MathML": lambda notation: mathml_tokens(mathml(notation)),
}
#: Of a rating on a scale up to 10 from numbers printed to 10 significant digits: half a unit of the seventh decimal.
PRINTED = 5e-8


def by_hand(program: Program, given: dict[str, list[float]], product: int, reader: Reader) -> dict[str, float]:
    """Every rating and score of one product, worked out from the printed lines alone."""
    called = names_in(program.form)
    values: dict[str, object] = {called[name]: column[product] for name, column in given.items()}
    for of in program.figures:
        measure = called[of.measure]
        population = np.array(given[of.measure])
        if of.statistic == "population":
            values[f"tested {measure}"] = population
        elif of.statistic == "percentile":
            values[f"percentile {of.share:g} of tested {measure}"] = float(np.percentile(population, of.share))
        else:
            assert of.statistic == "mean"
            values[f"mean of tested {measure}"] = float(np.mean(population))
    found = {}
    for name in program.order:
        output = program.form.output(name)
        for line in formulas_of(program, output):
            population = next((c for a, (_, c) in program.populations.items() if _is_of(a, line.address)), ())
            assert isinstance(line.left, Name)
            worked = work_out(reader(line.right), {**values, "reference value": np.array(population)})
            values[line.left.words] = worked
        found[name] = worked
    return found


def _is_of(population: str, address: str) -> bool:
    return population.startswith(address) and population.endswith(".population")


def agree(form: Form, given: dict[str, list[float]], reader: Reader, *, within: float = PRINTED) -> None:
    """The printed lines and the kernel, product by product; a value that the kernel has not got is no concern here."""
    program, inputs = compile_form(form), inputs_of_arrays(given)
    worked = evaluate(kernel_for(program, inputs, list(program.order)), inputs).values
    for product in range(len(next(iter(given.values())))):
        for name, value in by_hand(program, given, product, reader).items():
            assert value == pytest.approx(float(worked[name][0, product]), abs=within, rel=1e-9), name


@pytest.mark.parametrize("reader", READERS.values(), ids=READERS)
@pytest.mark.parametrize(("curve", "ratings"), [case[1:] for case in WORKED], ids=[case[0] for case in WORKED])
def test_a_printed_curve_gives_the_ratings_worked_by_hand(
    curve: str, ratings: dict[float, float], reader: Reader
) -> None:
    """The cases of `test_curves`: at the anchors, inside and outside."""
    agree(form_of(curve_form(curve)), {"x": list(map(float, ratings))}, reader)


@pytest.mark.parametrize("reader", READERS.values(), ids=READERS)
@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=examples(8), deadline=None)
@given(data=st.data())
def test_a_printed_curve_is_the_kernels(kind: str, reader: Reader, data: st.DataObject) -> None:
    """Every kind, drawn at random."""
    written = data.draw(curves(kind, "1", "10"))
    agree(form_of(curve_form(written)), {"x": data.draw(readings(4))}, reader)


@pytest.mark.parametrize("reader", READERS.values(), ids=READERS)
@pytest.mark.parametrize("blend", BLENDS)
@pytest.mark.parametrize("weights", ["{a: 1, b: 2.5, c: 0.75}", "{a: 1, b: 0, c: 2}"], ids=["weights", "a weight of 0"])
@settings(max_examples=examples(5), deadline=None)
@given(data=st.data())
def test_a_printed_blend_is_the_kernels(blend: str, weights: str, reader: Reader, data: st.DataObject) -> None:
    """Every blend with all parts there; a part without weight is not printed."""
    given = {name: data.draw(st.lists(decimals(0.1, 9), min_size=3, max_size=3)) for name in "xyz"}
    agree(form_of(blend_form(blend, weights)), {n: list(map(float, column)) for n, column in given.items()}, reader)


@pytest.mark.parametrize("blend", BLENDS)
def test_parts_without_weights_are_printed_without_weights(blend: str) -> None:
    """`parts:` in place of `weights:`; the mean of three is over 3."""
    text = blend_form(blend).replace("weights: {a: 1, b: 2, c: 1}", "parts: [a, b, c]")
    form = form_of(text)
    line = formulas_of(compile_form(form), form.scores[0])[-1]
    if blend == "weighted mean":
        assert plain(line.right) == "(A + B + C)/3"
    assert "1 ×" not in plain(line.right)
    agree(form, {"x": [2.0], "y": [4.0], "z": [8.5]}, READERS["plain"])


@pytest.mark.parametrize("reader", READERS.values(), ids=READERS)
@settings(max_examples=examples(20), deadline=None)
@given(drawn=scored_forms(count=3))
def test_whole_printed_forms_are_the_kernels(reader: Reader, drawn: tuple) -> None:
    """Mixes, blends, limits, expressions, one upon the other."""
    form, given = drawn
    agree(form.form, given, reader, within=1e-6)


@pytest.mark.parametrize("reader", READERS.values(), ids=READERS)
@settings(max_examples=examples(20), deadline=None)
@given(expression=expressions(("x", "y"), 4), given=st.tuples(readings(3), readings(3)))
def test_a_printed_expression_is_the_kernels(expression: str, given: tuple, reader: Reader) -> None:
    """Every function of the vocabulary, in any nesting."""
    text = "formula: t\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: '1'}, y: {unit: '1'}}\n"
    form = form_of(f"{text}ratings:\n  r: {{value: 'clamp({expression} + 0 * x + 0 * y, 1, 10)'}}\n")
    agree(form, dict(zip("xy", given, strict=True)), reader)


@pytest.mark.parametrize("rule", ["half-up", "half-even", "down", "up"])
@pytest.mark.parametrize("reader", READERS.values(), ids=READERS)
def test_a_printed_rounding_is_the_kernels(rule: str, reader: Reader) -> None:
    """Ties and signs, by every rule, in words that say which."""
    text = (
        "formula: t\nscale: {from: -10, to: 10}\nmeasures: {x: {unit: '1'}}\n"
        f"ratings:\n  r: {{value: x, round: {{step: 0.5, rule: {rule}}}}}\n"
    )
    agree(form_of(text), {"x": [-3.25, -3.2, 0.25, 0.75, 1.1, 3.0]}, reader)
    lines = formulas_of(compile_form(form_of(text)), form_of(text).ratings[0])
    assert [plain(line.left) for line in lines] == ["“R before rounding”", "R"]
    assert [said for said in formula_text.RULES if said in plain(lines[-1].right)] != []


def test_the_digits_of_a_smooth_curve_reproduce_the_shown_figure() -> None:
    """Of 200 ratings of a curve shown in hundredths, worked by hand from the printed coefficients and kept to the decimals it
    says, none differs; of a hundred curves, or a quarter of them."""
    draws = np.random.default_rng(3)
    for _ in range(examples(100)):
        xs = np.round(np.cumsum(draws.uniform(0.3, 20, 5)), 2)
        ys = np.round(draws.uniform(1, 10, 5), 2)
        anchors = ", ".join(f"{x}: {y}" for x, y in zip(xs, ys, strict=True))
        form = form_of(curve_form(f"smooth: {{{anchors}}}", "{from: 1, to: 10, show: {step: 0.01, rule: half-up}}"))
        program = compile_form(form)
        x = [float(v) for v in np.round(np.concatenate([draws.uniform(xs[0] - 1, xs[-1] + 1, 195), xs]), 2)]
        (line,) = formulas_of(program, form.ratings[0])
        tokens = list(plain_tokens(plain(line.right)))
        inputs = inputs_of_arrays({"x": x})
        exact = evaluate(kernel_for(program, inputs, ["r"]), inputs).values["r"][0]
        hand = [work_out(iter(tokens), {"x": value}) for value in x]
        assert np.abs(np.array(hand) - exact).max() < PRINTED
        decimals = int(line.words.split("keep ")[1].split()[0])
        shown = [formula_text._rounded(round(v, decimals), 0.01, "ROUND_HALF_UP") for v in hand]
        assert shown == [formula_text._rounded(v, 0.01, "ROUND_HALF_UP") for v in exact]


@pytest.mark.parametrize(
    ("written", "printed"),
    [
        ("12 - x / 15", "12 − x/15"),
        ("x / 15 + 12 - 3 * x", "x/15 + 12 − 3 × x"),
        ("(12 - x) * 0.50", "(12 − x) × 0.50"),
        ("12 - (x - 1)", "12 − (x − 1)"),
        ("-(x + 1)", "−(x + 1)"),
        ("2 ** -x", "2^(−x)"),
        ("-x ** 2", "−x^2"),
        ("(-x) ** 2", "(−x)^2"),
        ("x * 1e-3", "x × 1 × 10^(−3)"),
        ("x / 2 / 3", "x/(2 × 3)"),
        ("sqrt(x) + log(x) + exp(-x)", "sqrt(x) + ln(x) + exp(−x)"),
        ("where(x < 3 and x > 1, 5, x)", "{5 if x < 3 and x > 1; x otherwise}"),
        ("round(x, 0.1) + 1", "(x, rounded half-up to 0.1) + 1"),
        ("min(x, where(x < 1, 2, 3), 9)", "min(x, ({2 if x < 1; 3 otherwise}), 9)"),
    ],
)
def test_an_expression_is_printed_in_the_order_in_which_it_is_written(written: str, printed: str) -> None:
    """Numbers to the letter, brackets where they are needed."""
    form = form_of(
        f"formula: t\nscale: {{from: 0}}\nmeasures: {{x: {{unit: '1'}}}}\nratings:\n  r: {{value: '{written}'}}\n"
    )
    (line,) = formulas_of(compile_form(form), form.ratings[0])
    assert plain(line.right) == printed


def test_numbers_stand_as_they_are_written() -> None:
    """3.0 is not 3, and a share stays a share."""
    text = (
        "formula: t\nscale: {from: 1, to: 10.0}\nmeasures: {x: {unit: '1'}, y: {unit: '1'}}\nratings:\n"
        "  r: {measure: x, curve: {line: {worst: 3.0, best: -0.250}}}\n  q: {value: y}\n"
        "scores:\n  s: {weights: {r: 0.60, q: 1}, limits: [{when: r < 2.50, at_most: 5.0}]}\n"
    )
    form = form_of(text)
    program = compile_form(form)
    printed = [plain(line.right) for output in form.outputs for line in formulas_of(program, output)]
    assert printed[0] == "min(10.0, max(1, 1 + (10.0 − 1) × (x − 3.0)/(−0.250 − 3.0)))"
    assert printed[-1] == "{min(“S before limits”, 5.0) if R < 2.50; “S before limits” otherwise}"
    assert plain(number("5 %")) == "5%"
    assert plain(number("-1.5E-03")) == "−1.5 × 10^(−3)"
    assert plain(number("+2e6%")) == "2 × 10^6 × 1%"


def test_every_format_prints_every_form() -> None:
    """No notation lacks a rule in any printer."""

    @settings(max_examples=examples(30), deadline=None)
    @given(drawn=forms())
    def printed(drawn: Drawn) -> None:
        form = drawn.form
        for output in form.outputs:
            for line in formulas_of(compile_form(form), output):
                assert all(printer(line.right) for printer in (plain, latex, mathml, typst))

    printed()


def test_names_that_would_read_alike_are_told_apart() -> None:
    """A label that two share, or that is another's name, is not used; names that read alike keep their underscores."""
    text = (
        "formula: t\nscale: {from: 0}\n"
        "measures: {a_b: {unit: '1', label: Noise}, a__b: {unit: '1', label: noise}, c: {unit: '1', label: D}}\n"
        "ratings: {d: {value: a_b}, a_B: {value: c, label: Fine}}\n"
    )
    called = names_in(form_of(text))
    assert len({name.casefold() for name in called.values()}) == len(called)
    assert called["a_B"] == "Fine"


def test_a_measure_twice_in_one_mix_has_two_names() -> None:
    """Each curve's result by itself."""
    parts = ", ".join(f"{{measure: x, curve: {{line: {{worst: 0, best: {best}}}}}}}" for best in (10, 20))
    form = form_of(
        f"formula: t\nscale: {{from: 1, to: 10}}\nmeasures: {{x: {{unit: '1'}}}}\nratings:\n  r: {{mix: [{parts}]}}\n"
    )
    lines = formulas_of(compile_form(form), form.ratings[0])
    assert [plain(line.left) for line in lines] == ["“rating 1 by x”", "“rating 2 by x”", "R"]
    agree(form, {"x": [3.0, 15.0]}, READERS["plain"])


def test_what_is_missing_is_not_printed() -> None:
    """The rule for gaps is said in words elsewhere: the same lines, whatever it is."""
    texts = [
        blend_form("weighted mean", missing=f"{{absent_above: 1, otherwise: {rule}}}")
        for rule in ("reweight", "lowest")
    ]
    printed = []
    for text in texts:
        form = form_of(text)
        printed.append(
            [plain(line.right) for output in form.outputs for line in formulas_of(compile_form(form), output)]
        )
    assert printed[0] == printed[1]


def test_a_measure_called_t_is_not_taken_for_the_distance_along_a_smooth_curve() -> None:
    """The distance has another letter then."""
    form = form_of(
        curve_form("smooth: {1.5: 10, 4: 8, 9: 1}").replace("{x:", "{t:").replace("measure: x", "measure: t")
    )
    (line,) = formulas_of(compile_form(form), form.ratings[0])
    assert "if 1.5 ≤ t < 4 with d = t − 1.5" in plain(line.right)
    agree(form, {"t": [1.0, 2.0, 5.0, 10.0]}, READERS["plain"])
