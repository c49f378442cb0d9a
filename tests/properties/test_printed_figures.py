"""No document prints the dust of a float, a unit behind a plain number, or one behind words; over forms drawn at random."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from extent import examples
from generated_forms import Drawn, scored_forms
from hypothesis import given, settings
from hypothesis import strategies as st
from printed_figures import odd_figures, texts_of

from analysis import check, compare, explain, flip, score_report, weights
from analysis.report.report import Report
from scoring.catalogue import Catalogue, from_arrays
from scoring.door.formula import Formula
from scoring.errors import SteelyardError
from scoring.program.program import compile_form

UNITS = ("1", "%", "mm", "degC", "dB")
MADE: dict[str, Callable[[Formula, Catalogue], Report]] = {
    "score": score_report,
    "check": check,
    "explain": lambda formula, beds: explain(formula, beds, beds.products[0]),
    "compare": lambda formula, beds: compare(formula, formula.set({"scale.show.step": 0.5}), beds),
    "flip": lambda formula, beds: flip(formula, beds, *beds.products[:2]),
    "weights": weights,
}


@given(scored_forms(missing=True), st.sampled_from(UNITS), st.sampled_from(tuple(MADE)))
@settings(max_examples=examples(72))
def test_no_printed_figure_is_one_that_no_person_writes(
    drawn: tuple[Drawn, dict[str, list[float]]], unit: str, name: str
) -> None:
    """Sentences, a terminal's lines and cells of tables, whatever the unit of the measures; and faults."""
    form = Drawn(re.sub(r'unit: "1"', f'unit: "{unit}"', drawn[0].text), drawn[0].measures).form
    formula = Formula(form, compile_form(form))
    products = [f"P{number}" for number in range(len(next(iter(drawn[1].values()))))]
    try:
        texts = list(texts_of(MADE[name](formula, from_arrays(products, drawn[1]))))
    except SteelyardError as fault:
        texts = [str(problem) for problem in fault.problems]
    assert [(text, odd) for text in texts if (odd := odd_figures(text))] == []


@pytest.mark.parametrize(
    ("text", "odd"),
    [
        ("0.5 1 of the mean", ["0.5 1"]),
        ("to 0.5 1, then", ["0.5 1"]),
        ("0.09999999999999999 %", ["0.09999999999999999"]),
        ("96.900000000000006", ["96.900000000000006"]),
        ("a = does not apply %", ["does not apply %"]),
        ("r0 1, place 1 of 5; 0.1 to 1; 123456.789", []),
    ],
)
def test_what_is_looked_for_is_found(text: str, odd: list[str]) -> None:
    """Each kind, and none in a line that a person would write."""
    assert odd_figures(text) == odd
