"""`jumps: stated`: a threshold that an expression states is a declared jump, and no other jump is."""

from __future__ import annotations

from pathlib import Path

import pytest

from scoring.checks import Finding, check
from scoring.errors import FormulaError
from scoring.program.program import compile_form
from scoring.reader import read_form, read_sources
from scoring.texts.source import Source

HEAD = """\
formula: thresholds
scale: {from: 0, to: 12}
constants: {edge: 40}
measures:
  x: {unit: "1", better: neither, plausible: [0, 100]}
  y: {unit: "1", better: neither, plausible: [0, 100]}
ratings:
"""


def continuity(*ratings: str) -> Finding:
    """The finding on the last of some ratings."""
    lines = "".join(f"  r{index}: {{{written}}}\n" for index, written in enumerate(ratings))
    found = check(compile_form(read_sources([Source("f.yaml", HEAD + lines)]))).findings
    return [one for one in found if one.kind == "continuity"][-1]


STATED = {
    "a number": "where(x < 30, 10, 3)",
    "a number first": "where(30 >= x, 10, 3)",
    "a constant": "where(x < edge, 10, 3)",
    "arithmetic of both": "where(x < 2 * edge - 10, 10, 3)",
    "two of them": "where(x < 30 and not y > edge, 10, 3)",
    "between two": "where(10 <= x < 30, 10, 3)",
}
HIDDEN = {
    "two readings": "where(x < y, 10, 3)",
    "arithmetic of readings": "where(x + y < 30, 10, 3)",
    "a threshold beside another": "where(x < 30 or x < y, 10, 3)",
    "a division": "where(x < 30, 5, clamp(1 / (y - 50), 0, 10))",
    "one in a branch": "where(x < 30, where(x < y, 2, 3), 10)",
}


@pytest.mark.parametrize("value", STATED.values(), ids=STATED)
def test_a_threshold_is_declared_where_that_is_stated_and_else_a_fault(value: str) -> None:
    """With its size; without the key it is refuted, with the key to write."""
    declared = continuity(f'value: "{value}", jumps: stated')
    assert declared.verdict == "proved"
    assert [(jump.declared, round(jump.at_most, 6)) for jump in declared.jumps] == [(True, 7)] * len(declared.jumps)
    assert declared.jumps
    hidden = continuity(f'value: "{value}"')
    assert hidden.verdict == "refuted"
    assert hidden.detail.endswith("declares no jump there; if that is meant, write `jumps: stated` under ratings.r0")


@pytest.mark.parametrize("value", HIDDEN.values(), ids=HIDDEN)
def test_a_jump_that_is_at_no_stated_threshold_is_still_found(value: str) -> None:
    """Whatever is stated; and nothing is advised that would not help."""
    found = continuity(f'value: "{value}", jumps: stated')
    assert found.verdict == "refuted"
    assert "jumps: stated" not in found.detail


def test_a_score_that_feels_a_stated_threshold_of_another_has_it_declared() -> None:
    """And where the other does not state it, the advice names the other."""
    rating = 'value: "where(x < 30, 10, 3)"'
    assert continuity(f"{rating}, jumps: stated", 'value: "r0 / 2"').verdict == "proved"
    assert continuity(rating, 'value: "r0 / 2", jumps: stated').detail.endswith("under ratings.r0")
    assert continuity(f"{rating}, jumps: stated", 'value: "where(r0 < 5, 1, 2)", jumps: stated').verdict == "proved"


def test_jumps_are_stated_of_expressions_alone(tmp_path: Path) -> None:
    """A curve says by itself where it jumps; and there is one word."""
    path = tmp_path / "f.yaml"
    for rating, message in (
        ("measure: x, curve: {steps: {0: 1, 30: 5}}, jumps: stated", "`jumps` in ratings.r0, which has no expression"),
        ('value: "x / 10", jumps: allowed', "expected one of stated"),
    ):
        path.write_text(f"{HEAD}  r0: {{{rating}}}\n")
        with pytest.raises(FormulaError, match=message):
            read_form(path)
