"""Written expressions: every function by a worked number, names that mean something elsewhere, and what is refused where."""

from __future__ import annotations

import math
import re

import pytest
from written_forms import NAN, faults_of, form_of, score, statuses_of

from scoring.errors import FormulaError, Place
from scoring.expression import FUNCTIONS, STATISTICS, parse_expression
from scoring.form import Expression, Term
from scoring.program.program import OPERATORS
from scoring.texts.source import Spot

OPEN = "formula: trial\nscale: {from: -1000}\n"
MEASURES = 'measures: {x: {unit: "1"}, y: {unit: "1"}}\n'
PLACE, SPOT = Place("form.yaml", 7, 11), Spot(0, 0, 0)


def worked(expression: str, x: float = 3.0, y: float = 4.0) -> float:
    """The value of an expression for one product."""
    text = f"{OPEN}{MEASURES}ratings:\n  r: {{value: '{expression}'}}\n"
    return float(score(text, {"x": [x], "y": [y]}).column("r").value[0])


def parse(text: str, *, condition: bool = False) -> Expression:
    """An expression over the measures x and y, the constant k and the attribute fire."""
    return parse_expression(
        text,
        kinds={"x": "measure", "y": "measure", "k": "constant", "edge": "rating"},
        words={"fire": ("none", "ok", "on file"), "colour": ()},
        condition=condition,
        address="value",
        place=PLACE,
        spot=SPOT,
    )


def refusal(text: str, *, condition: bool = False) -> str:
    """What is said of an expression that is refused."""
    with pytest.raises(FormulaError, match=r"form\.yaml") as caught:
        parse(text, condition=condition)
    return str(caught.value)


# Worked by hand with x = 3 and y = 4.
WORKED = {
    "min": ("min(x, y, 2)", 2.0),
    "max": ("max(x, y, 2)", 4.0),
    "clamp": ("clamp(x * 10, 0, 7)", 7.0),
    "abs": ("abs(x - y)", 1.0),
    "sqrt": ("sqrt(x ** 2 + y ** 2)", 5.0),
    "exp": ("exp(x - 3)", 1.0),
    "log": ("log(exp(y))", 4.0),
    "log10": ("log10(x * 1000 / 3)", 3.0),
    "floor": ("floor(x / -2)", -2.0),
    "ceil": ("ceil(x / -2)", -1.0),
    "round": ("round(x * 1.15, 0.1)", 3.5),  # 3.45, half up, though 3 * 1.15 is 3.4499999999999997 in binary
    "where": ("where(x < y, 5, 6)", 5.0),
    "interp": ("interp(x, 0, 10, 2, 20, 4, 60)", 40.0),  # half way from 20 to 60
}
# Over the population 1, 2, 6 of x.
STATISTICS_WORKED = {
    "mean": ("mean(x)", 3.0),
    "sd": ("sd(x)", math.sqrt(7.0)),  # ((-2)^2 + (-1)^2 + 3^2) / 2 = 7
    "median": ("median(x)", 2.0),
    "percentile": ("percentile(x, 75)", 4.0),  # half way from the second to the third of three
    "minimum": ("minimum(x)", 1.0),
    "maximum": ("maximum(x)", 6.0),
}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_function_gives_its_worked_value(name: str) -> None:
    """One worked value a function; a new function without one fails here."""
    expression, expected = WORKED[name]
    assert worked(expression) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize("name", STATISTICS)
def test_every_statistic_gives_its_worked_value(name: str) -> None:
    """Three products; the statistic is the same for each."""
    expression, expected = STATISTICS_WORKED[name]
    text = f'{OPEN}{MEASURES}ratings:\n  r: {{value: "{expression}"}}\n'
    table = score(text, {"x": [1.0, 2.0, 6.0]})
    assert table.column("r").value == pytest.approx([expected] * 3, rel=1e-14)


def test_every_function_has_its_arithmetic() -> None:
    """The list of names and the table of operations agree."""
    assert set(FUNCTIONS) <= set(OPERATORS)


@pytest.mark.parametrize(
    ("expression", "expected"),
    [
        ("x + y * 2", 11.0),
        ("(x + y) * 2", 14.0),
        ("x - y - 2", -3.0),
        ("x / y / 2", 0.375),
        ("-x ** 2", -9.0),
        ("(-x) ** 2", 9.0),
        ("2 ** -1", 0.5),
        ("+x", 3.0),
        ("- x", -3.0),
        ("1e3 + .5 + 2. + 1E-1", 1002.6),
        ("x\n + \t y", 7.0),
        ("round(x / 2)", 2.0),
        ("round(2.5) + round(-2.5)", 0.0),  # halves go away from 0
        ("interp(9, 0, 10, 2, 20)", 20.0),
        ("interp(x, -4, 1, 4, 9)", 8.0),
        ("where(x < y and not x < 1 or y > 100, 1, 0)", 1.0),
        ("where(1 < x < y <= 4 != 5, 1, 0)", 1.0),
        ("where(1 < x < 2, 1, 0)", 0.0),
        ("where(x == 3 and y != 3 and x >= 3 and x <= 3, 1, 0)", 1.0),
        ("3 + 4", 7.0),
    ],
)
def test_arithmetic_binds_and_compares_as_usual(expression: str, expected: float) -> None:
    """Precedence, signs, chained comparisons, halves; x = 3, y = 4."""
    assert worked(expression) == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    "name", ["E", "I", "N", "S", "Q", "O", "C", "pi", "beta", "gamma", "zeta", "lambda", "oo", "zoo", "nan", "inf", "inverse", "None",
             "True", "if", "import", "class", "mean", "max", "log", "where", "array", "p0", "m0", "s0", "h0", "_", "__class__", "numpy"]
)  # fmt: skip
def test_a_measure_may_be_called_what_something_else_is_called_elsewhere(name: str) -> None:
    """Names of constants, keywords, functions and of our own private symbols mean the measure, and nothing else."""
    text = f'{OPEN}measures: {{{name}: {{unit: "1"}}, other: {{unit: "1"}}}}\nratings:\n  r: {{value: "2 * {name} + other"}}\n'
    assert score(text, {name: [5.0], "other": [1.0]}).column("r").value.tolist() == [11.0]


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        ('fire == "none"', [1, 0, 0]),
        ("fire == none", [1, 0, 0]),
        ("none == fire", [1, 0, 0]),
        ("fire != none", [0, 1, 1]),
        ('fire == "on file"', [0, 0, 1]),
        ("fire == ok or x > 2.5", [0, 1, 1]),
        ('colour == "grün" and x > 0.5', [1, 0, 1]),
        ("not colour == 'grün'", [0, 1, 0]),
    ],
)
def test_an_attribute_is_compared_with_words(condition: str, expected: list[float]) -> None:
    """Bare and quoted words, also beyond ASCII, with numbers to the right of them."""
    text = (
        f"{OPEN}{MEASURES}attributes: {{fire: {{values: [none, ok, on file]}}, colour: {{}}}}\n"
        f"ratings:\n  r:\n    value: >-\n      where({condition}, 1, 0)\n"
    )
    words = {"fire": ["none", "ok", "on file"], "colour": ["grün", "rot", "grün"]}
    assert score(text, {"x": [1.0, 2.0, 3.0]}, words).column("r").value.tolist() == expected


def test_a_product_whose_word_is_not_stated_has_no_value() -> None:
    """Neither == nor != holds of a word that nobody knows."""
    text = f"{OPEN}attributes: {{fire: {{}}}}\n{MEASURES}ratings:\n  r: {{value: 'where(fire != none, 8, 3)'}}\n"
    table = score(text, {"x": [1.0, 1.0]}, {"fire": ["ok", ""]})
    assert table.column("r").value == pytest.approx([8.0, NAN], nan_ok=True)
    assert statuses_of(table, "r") == ["rated", "unrated"]
    assert table.column("r").remarks == {1: ("fire is missing",)}


# The column is that of the first character of the fault; the expression starts in column 11.
@pytest.mark.parametrize(
    ("text", "column", "says"),
    [
        ("", 11, "an empty expression"),
        ("x +", 13, "`+` where it cannot stand"),
        ("x y", 13, "`y` where it cannot stand"),
        ("(x", 11, "`(` that is never closed"),
        ("x + w", 15, "`w`, which names nothing here"),
        ("x ^ 2", 13, "Write ** for a power."),
        ("x = 2", 13, "Write == to compare."),
        ("5% of x", 12, "Write a share as 0.05."),
        ("x & y", 13, "Write `and`."),
        ("x | y", 13, "Write `or`."),
        ("!x", 11, "Write `not` or !=."),
        ("x[0]", 12, "`[`; expected + - * /"),
        ("x.real", 12, "`.`; expected + - * /"),
        ("1_000", 11, "`1_000`; expected a plain decimal number"),
        ("010 + x", 11, "`010`; expected a number without leading zeros"),
        ("0x10", 11, "`0x10`; expected a plain decimal number"),
        ("1e16 * x", 11, "`1e16`; expected a number of at most 1e+15"),
        ("x + 1j", 15, "`1j`; expected a plain decimal number"),
        ("٣ + x", 11, "`٣`"),
        ("a\\b", 12, "`\\`"),
        ("x // y", 14, "`/` where it cannot stand"),
        ("x if y else k", 13, "`if` where it cannot stand"),
        ("lambda x: x", 19, "`:`"),
        ("sinn(x)", 11, "the function `sinn`"),
        ("int(x)", 11, "Write floor(x), the next whole number down: of -1.5 that is -2, where cutting off gives -1"),
        ("TRUNC(x)", 11, "the function `TRUNC`; expected a known function. Write floor(x)"),
        ("ceiling(x)", 11, "Write ceil(x)"),
        ("mod(x, 2)", 11, "Write a - b * floor(a / b)."),
        ("squrt(x)", 11, "Did you mean `sqrt`?"),
        ("__import__(x)", 11, "the function `__import__`"),
        ("sqrt(x, y)", 11, "`sqrt` with 2 arguments; expected 1"),
        ("min(x)", 11, "`min` with 1 arguments; expected 2 or more"),
        ("round(x, 1, 2)", 11, "`round` with 3 arguments; expected 1 to 2"),
        ("round(x, y)", 11, "a step of `round` that is not a written number above 0"),
        ("round(x, 0)", 11, "a step of `round` that is not a written number above 0"),
        ("interp(x, 1, 2, 3, 4, 5)", 11, "`interp` with 6 arguments"),
        ("interp(x, 1, 2, y, 4)", 11, "an anchor of `interp` that is not a written number"),
        ("interp(x, 3, 2, 1, 4)", 11, "anchors of `interp` out of order"),
        ("interp(x, 1, 2, 1, 4)", 11, "anchors of `interp` out of order"),
        ("mean(k)", 16, "`mean` of something that has no population; expected the name of a measure or rating or score."),
        ("mean(x + y)", 16, "`mean` of something that has no population"),
        ("mean(x + y)", 16, "A rating of what stands there has a population, too: give it a name."),
        ("percentile(x, 101)", 25, "a percentile that is not a number from 0 to 100"),
        ("percentile(x, y)", 25, "a percentile that is not a number from 0 to 100"),
        ("mean(x, y)", 11, "`mean` with 2 arguments; expected 1"),
        ("(x)(y)", 11, "the function `x`"),
        ("min(x, y)(x)", 11, "a call of something that is no function"),
        ("min(*x, y)", 15, "numbers, names, operators and the known functions"),
        ("x, y", 11, "a comma between two values"),
        ("'word'", 11, "a quoted word"),
        ("fire + 1", 11, "the attribute `fire` as a number"),
        ("x < y", 11, "a condition; expected a number. Wrap it in where(condition, a, b)."),
        ("1 + (x < y)", 16, "a condition; expected a number"),
        ("where(x, 1, 2)", 17, "a number; expected a condition"),
        ("where(fire == wood, 1, 2)", 25, "`wood`; expected one of the words of `fire`"),
        ("where(fire < ok, 1, 2)", 17, "a comparison of the attribute `fire`"),
        ("where(fire == ok == ok, 1, 2)", 17, "a comparison of the attribute `fire`"),
        ("where(fire == x + 1, 1, 2)", 25, "something that is not a word"),
        ("where(fire == 'o' 'k', 1, 2)", 29, "two quoted words in a row"),
        ("x ** 65", 16, "the exponent 65; expected an exponent of at most 64"),
        ("x ** -65", 16, "the exponent 65; expected an exponent of at most 64"),
        ("x ** y ** 2", 16, "a power in an exponent"),
        ("'é' * 0 + w", 11, "a quoted word"),
        ("where(colour == 'é', w, 1)", 32, "`w`, which names nothing here"),
    ],
)  # fmt: skip
def test_what_is_not_on_the_list_is_refused_at_its_column(text: str, column: int, says: str) -> None:
    """Nothing is ever evaluated to find out."""
    said = refusal(text)
    assert said.startswith(f"form.yaml:7:{column}: ")
    assert says in said


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("(" * 31 + "x" + ")" * 31, "brackets deeper than 30"),
        ("-" * 40 + "x", "nesting deeper than 30"),
        ("not " * 40 + "x < 1", "nesting deeper than 30"),
        (" + ".join(["x"] * 201), "401 words and signs; expected at most 400"),
        ("x" * 2001, "an expression of 2001 characters; expected at most 2000"),
        ("1" * 31, "`1111111111111111111111111111111`; expected a number"),
    ],
    ids=["brackets", "signs", "nots", "words", "characters", "digits"],
)
def test_size_is_limited(text: str, says: str) -> None:
    """A stranger's formula cannot hold the machine up."""
    assert says in refusal(text)


def test_as_long_an_expression_as_is_allowed_is_read_and_worked() -> None:
    """200 terms: the depth of a sum is not the depth of its nesting."""
    assert worked(" + ".join(["x"] * 200)) == pytest.approx(600.0)
    assert worked(f"min({', '.join(['x'] * 198)})") == 3.0


@pytest.mark.parametrize("condition", [True, False], ids=["condition", "number"])
def test_a_place_that_wants_a_condition_takes_no_number_and_the_other_way_round(condition: bool) -> None:
    """`when:` and `value:` differ."""
    wrong, right = ("x + 1", "x > 1") if condition else ("x > 1", "x + 1")
    assert refusal(wrong, condition=condition).endswith(
        "a number; expected a condition. Compare it with something."
        if condition
        else "a condition; expected a number. Wrap it in where(condition, a, b)."
    )
    assert parse(right, condition=condition).is_condition is condition


def test_numbers_are_kept_in_reading_order_with_their_addresses_and_places() -> None:
    """Each can be varied by itself; the minus sign is not part of it."""
    numbers = parse("2.50 * x - 3 * (y - 1e1)").numbers
    assert [(n.text, n.value, n.address, n.place.column) for n in numbers] == [
        ("2.50", 2.5, "value.1", 11),
        ("3", 3.0, "value.2", 22),
        ("1e1", 10.0, "value.3", 31),
    ]


def test_names_are_kept_once_in_reading_order() -> None:
    """Also those inside statistics and comparisons."""
    assert parse("where(fire == ok, y, mean(x)) + y + k").names == ("fire", "y", "x", "k")


def test_the_tree_holds_no_text_of_python() -> None:
    """Numbers by index, names by name."""
    assert parse("x - 2").term == Term("-", (Term("name", ("x",)), Term("number", (0,))))


def test_a_quote_inside_a_word_stays_a_part_of_it() -> None:
    """Only the outer quotes go."""
    assert parse("where(colour == \"'a'\", 1, 2)").term.args[0] == Term("text==", ("colour", "'a'"))


def test_a_fault_in_a_formula_stands_at_its_own_column_of_the_file() -> None:
    """Counted inside the quotes."""
    text = f'{OPEN}{MEASURES}ratings:\n  r: {{value: "x + w"}}\n'
    assert faults_of(text)[0].startswith("form.yaml:5:19: `w`, which names nothing here")


@pytest.mark.parametrize(
    ("expression", "found"),
    [("sqrt(-1) + x", "has no value: the square root of -1"), ("1 / (k - 2)", "has no value: 1 is divided by 0"),
     ("(0 - 8) ** (1 / 3) + x", "has no value: -8 to the power of 0.333333"), ("exp(exp(exp(exp(100)))) + x", "is infinite"),
     ("log(0 - k) + x", "has no value: the logarithm of -2"), ("0 / 0", "has no value: 0 is divided by 0"),
     ("log(x - 3)", "has no value: the logarithm of 0"), ("sqrt(x - 4)", "has no value: the square root of -1")],
)  # fmt: skip
def test_arithmetic_that_gives_no_number_is_refused_when_it_is_worked(expression: str, found: str) -> None:
    """Never imaginary, never silently real, and no hang; x = 3, k = 2."""
    text = f"{OPEN}constants: {{k: 2}}\n{MEASURES}ratings:\n  r: {{value: '{expression}'}}\n"
    assert form_of(text).name == "trial"
    with pytest.raises(Exception, match=f"r of p1 {re.escape(found)}"):
        score(text, {"x": [3.0]})
