"""Any text as a formula, an expression or a setting ends in a form or in our own error: no traceback, no hang."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from counted import calls_of
from extent import examples, is_long
from generated_forms import forms
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from written_forms import HEAD, form_of

from scoring.addresses.addresses import addresses, set_addresses
from scoring.errors import AddressError, FormulaError, Place, SteelyardError
from scoring.expression import parse_expression
from scoring.form import Expression, Form
from scoring.program.kernel import kernel_of
from scoring.program.program import compile_form
from scoring.reader import read_form
from scoring.texts.source import Spot

EXAMPLE = (Path(__file__).resolve().parents[2] / "examples" / "laboratory" / "guest-bed.yaml").read_text(
    encoding="utf-8"
)
T = TypeVar("T")
PIECES = (
    "formula: t\n", "measures:\n", "  x: {unit: mm}\n", "ratings: ", "scores: ", "gates: ", "{", "}", "[", "]", ": ", "- ", ", ", "\n", "\n  ",
    "\t", "#", "'", '"', "|\n", ">-\n", "&a ", "*a", "!!str ", "<<: ", "? ", "%YAML 1.1\n", "---\n", "...\n", "x", "5", "1e3", "value: x + 1",
    "\ufeff", "\x00", "\x85", "\u2028", "é", "\\", '"\\uD800"', '"\\UFFFFFFFF"', "null", "~", "@", "`",
)  # fmt: skip
WORDS = (
    "x", "k", "fire", "edge", "none", "1", "2.5", "1e3", "(", ")", ",", "+", "-", "*", "/", "**", "<", "<=", "==", "!=", " and ", " or ", " not ",
    "min(", "where(", "interp(", "mean(", "percentile(", "round(", '"none"', "'é'", "lambda ", " if ", " else ", ":", "=", "[", "]", ".", "é", "\n", "\t",
    "0x1", "1_0", "1j", "__class__", "%", ";", "\\", "٣", "\u00a0", "{", "`", "...", "await ", "*x", "yield ", "x:=1",
)  # fmt: skip


def outcome(work: Callable[[], T], error: type[SteelyardError]) -> T | SteelyardError:
    """What some work gives, or its refusal; nothing else may be raised."""
    try:
        return work()
    except error as refusal:
        return refusal


def read_or_refuse(text: str) -> None:
    """A form that compiles, or a refusal with at least one fault, each with what was found and expected."""
    found = outcome(lambda: kernel_of(compile_form(form_of(text))), FormulaError)
    if isinstance(found, SteelyardError):
        assert found.problems
        assert all(problem.found and problem.expected for problem in found.problems)


@settings(max_examples=examples(300))
@given(text=st.one_of(st.text(max_size=80), st.lists(st.sampled_from(PIECES), max_size=25).map("".join)))
@example(text="a: *a")
@example(text="formula: t\nratings: {r: {value: 1}}\n")
@example(text="formula: t\nmeasures: {x: {unit: mm}}\nratings: {r: {mix: []}}\n")
def test_any_text_as_a_formula_is_a_form_or_refused(text: str) -> None:
    """Random characters, and pieces of YAML put together anyhow."""
    read_or_refuse(text)


@settings(max_examples=examples(200), suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_a_formula_with_a_slip_in_it_is_a_form_or_refused(data: st.DataObject) -> None:
    """A valid text with a span cut out, doubled, moved or replaced: the slips that people make."""
    text = data.draw(st.one_of(st.just(EXAMPLE), forms().map(lambda drawn: drawn.text)))
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 30)))
        new = data.draw(
            st.one_of(
                st.just(""),
                st.just(text[start:end] * 2),
                st.sampled_from(PIECES),
                st.sampled_from(WORDS),
                st.text(max_size=3),
            )
        )
        text = text[:start] + new + text[end:]
    read_or_refuse(text)


@settings(max_examples=examples(100), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    content=st.one_of(
        st.binary(max_size=60),
        st.text(max_size=40).map(lambda text: text.encode("utf-16")),
        st.just(EXAMPLE.encode("utf-16")),
    )
)
def test_any_bytes_in_a_file_are_a_form_or_refused(content: bytes, tmp_path: Path) -> None:
    """Also those of another encoding."""
    path = tmp_path / "any.yaml"
    path.write_bytes(content)
    found = outcome(lambda: read_form(path), FormulaError)
    assert isinstance(found, Form) or str(path) in str(found)


@settings(max_examples=examples(400))
@given(
    text=st.one_of(st.text(max_size=40), st.lists(st.sampled_from(WORDS), max_size=20).map("".join)),
    condition=st.booleans(),
)
@example(text="colour == 'é' and x < 1", condition=True)
@example(text="x " * 300, condition=False)
@example(text="(" * 1000, condition=False)
@example(text="-" * 399 + "x", condition=False)
@example(text="1" * 1999, condition=False)
def test_any_text_as_an_expression_is_read_or_refused(text: str, condition: bool) -> None:
    """Random characters, and pieces of expressions put together anyhow."""

    def read() -> Expression:
        return parse_expression(
            text,
            kinds={"x": "measure", "k": "constant", "edge": "rating"},
            words={"fire": ("none",), "colour": ()},
            condition=condition,
            address="value",
            place=Place("form.yaml", 1, 1),
            spot=Spot(0, 0, 0),
        )

    found = outcome(read, FormulaError)
    if isinstance(found, SteelyardError):
        assert len(found.problems) == 1
    else:
        assert found.is_condition is condition


SMALL = form_of(
    HEAD.replace("measures", "constants: {k: 2}\nmeasures")
    + "ratings:\n  a: {measure: x, curve: {points: {1: 2, 3: 4}}}\n  b: {value: 'k * x + 1'}\n"
    + "scores:\n  s: {weights: {a: 1, b: 2}, limits: [{when: a < 3, at_most: 5}]}\n"
)
LISTED = tuple(addresses(SMALL))


@settings(max_examples=examples(300))
@given(
    address=st.one_of(st.sampled_from(LISTED), st.text(max_size=20)),
    sign=st.sampled_from(["=", " = ", "", "=="]),
    value=st.one_of(
        st.text(max_size=20),
        st.lists(st.sampled_from((*PIECES, *WORDS)), max_size=8).map("".join),
        st.floats().map(repr),
        st.sampled_from(
            ["{steps: {1: 2, 3: 4}}", "{}", "{a", "{points: {1: 2}}, x: 1", "5%", "live", "lowest", "never", "minimum"]
        ),
    ),
)
@example(address="ratings.b.value", sign="=", value="\x00")
@example(address="ratings.b.value", sign="=", value="\ud800")
@example(address="ratings.b.value", sign="=", value="x\r+ 1")
def test_any_setting_is_made_or_refused(address: str, sign: str, value: str) -> None:
    """Known addresses with any value, and any address at all."""
    found = outcome(lambda: set_addresses(SMALL, [f"{address}{sign}{value}"]), AddressError)
    assert isinstance(found, Form) or found.problems


#: Texts are an eighth as long by default, and so is the work that they may take.
SHARE = 1 if is_long() else 8
#: About twice what the worst of these takes; what grows with the square of its text takes thousands of times more.
MOST_CALLS = 40_000_000 // SHARE
HOSTILE = {
    "names that are nearly right": "formula: t\nmeasures: {x: {unit: mm}}\nratings:\n"
    + "".join(f"  rating_{i}: {{value: x}}\n" for i in range(3000 // SHARE))
    + "scores: {s: {weights: {"
    + ", ".join(f"ratin_{i}: 1" for i in range(3000 // SHARE))
    + "}}}\n",
    "repeated keys": "a: 1\n" * (50_000 // SHARE),
    "open brackets": "[" * (100_000 // SHARE),
    "one long word": "a: " + "x" * (400_000 // SHARE),
    "towers of exponentials": HEAD + "ratings: {r: {value: '" + "exp(" * 29 + "x + 99" + ")" * 29 + "'}}\n",
    "towers of constants": HEAD + "ratings: {r: {value: '" + "exp(" * 29 + "99" + ")" * 29 + "'}}\n",
    "powers of powers": HEAD + "ratings: {r: {value: '" + "(" * 29 + "9" + " ** 64)" * 29 + "'}}\n",
}


@pytest.mark.parametrize("case", HOSTILE)
def test_a_text_that_means_harm_is_read_or_refused_in_bounded_work(case: str) -> None:
    """Each of these took minutes, or filled the memory, in some reader."""
    _, calls = calls_of(lambda: read_or_refuse(HOSTILE[case]))
    assert calls.total() <= MOST_CALLS
