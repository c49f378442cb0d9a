"""Jumps of several things at one reading, through roundings and under limits: no bound is smaller than the jump itself."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from written_forms import inputs_of_arrays

from scoring.catalogue.repeats import summary_of
from scoring.checks import Finding, Jump, check
from scoring.checks.findings import PROVED, REFUTED
from scoring.program.program import Program
from scoring.table.evaluate import evaluate, kernel_for

HEAD = """
formula: invented
scale: {from: 0, to: 10}
measures:
  a: {unit: mm, better: lower, plausible: [0, 100]}
  b: {unit: mm, better: neither, plausible: [0, 100]}
"""
TWO_TABLES = """
ratings:
  r1: {measure: a, curve: {steps: {0: 10, 30: 5, 60: 0}}}
  r2: {measure: a, curve: {steps: {0: 10, 40: 8, 70: 2, 80: 1}}}
scores:
  s: {parts: [r1, r2]}
  sum: {blend: sum, parts: [r1, r2], scale: {from: 0, to: 20}}
  least: {blend: minimum, parts: [r1, r2]}
  by_value: {value: 0.5 * r1 + 0.5 * r2}
"""


def scored(program: Program, **readings: list[float]) -> dict[str, list[float]]:
    """Every output for readings as they stand in a catalogue: rounded where their measures round."""
    taken = {}
    for measure in program.form.measures:
        column = np.array(readings[measure.name], float)[:, None]
        taken[measure.name] = summary_of(measure, column).tolist()
    inputs = inputs_of_arrays(taken)
    return {name: found[0].tolist() for name, found in evaluate(kernel_for(program, inputs), inputs).values.items()}


def test_every_edge_of_two_tables_on_one_measure_is_listed(finding_of: Callable[..., Finding]) -> None:
    """The mean halves each table's step, the sum does not, and an edge that the least part hides is left out."""
    expected = {
        "s": {30: 2.5, 40: 1.0, 60: 2.5, 70: 3.0, 80: 0.5},
        "sum": {30: 5.0, 40: 2.0, 60: 5.0, 70: 6.0, 80: 1.0},
        "by_value": {30: 2.5, 40: 1.0, 60: 2.5, 70: 3.0, 80: 0.5},
        "least": {30: 5.0, 60: 5.0},
    }
    for output, sizes in expected.items():
        finding = finding_of(TWO_TABLES, output, "continuity", head=HEAD)
        assert finding.verdict == PROVED
        told = {jump.where: jump.at_most for jump in finding.jumps}
        assert told == {f"a = {edge}": pytest.approx(size) for edge, size in sizes.items()}


def test_the_jumps_listed_are_those_of_the_scores(program_of: Callable[..., Program]) -> None:
    """Each output, scored just before and at every edge, moves by what is listed there, and by nothing elsewhere."""
    program = program_of(TWO_TABLES, HEAD)
    findings = {f.output: f for f in check(program).findings if f.kind == "continuity"}
    edges = [30.0, 40.0, 50.0, 60.0, 70.0, 80.0]
    before = scored(program, a=[edge - 1e-9 for edge in edges], b=[50.0] * len(edges))
    after = scored(program, a=edges, b=[50.0] * len(edges))
    for output, finding in findings.items():
        told = {jump.where: jump.at_most for jump in finding.jumps}
        for edge, one, other in zip(edges, before[output], after[output], strict=True):
            assert abs(one - other) == pytest.approx(told.get(f"a = {edge:g}", 0.0), abs=1e-8)


def test_tables_with_an_edge_at_one_reading_jump_together(finding_of: Callable[..., Finding]) -> None:
    """Two tables at 40 are one place with one bound, and both addresses."""
    body = """
ratings:
  r1: {measure: a, curve: {steps: {0: 10, 40: 5}}}
  r2: {measure: a, curve: {steps: {0: 10, 40: 2}}}
scores: {s: {parts: [r1, r2], missing: {needs: [r1, r2]}}}
"""
    (jump,) = finding_of(body, "s", "continuity", head=HEAD).jumps
    assert (jump.where, jump.at_most, jump.exact) == ("a = 40", pytest.approx(6.5), True)
    assert jump.address == "ratings.r1, ratings.r2"


def test_a_choice_inside_a_rounding_is_refuted_in_what_builds_on_it(finding_of: Callable[..., Finding]) -> None:
    """A rounded `where` in a mean jumps by half its size and is declared by nobody: the rounding does not hide it."""
    body = """
ratings:
  line: {measure: b, curve: {points: {0: 0, 100: 10}}, round: {step: 0.1}}
  cond: {value: "where(a < 50, 0, 9)", round: {step: 0.1}}
scores:
  top: {blend: maximum, parts: [line, cond], missing: {needs: [line, cond]}}
  mean: {parts: [line, cond], missing: {needs: [line, cond]}}
"""
    for output, size in (("mean", 4.5), ("top", 9.0)):
        finding = finding_of(body, output, "continuity", head=HEAD)
        assert finding.verdict == REFUTED
        before, after = (case.value for case in finding.counterexample)
        assert abs(after - before) == pytest.approx(size)
        choice = next(jump for jump in finding.jumps if jump.kind == "choice")
        assert choice.met == pytest.approx(size)
        assert size <= choice.at_most + 1e-9


def test_no_bound_is_smaller_than_what_was_met(program_of: Callable[..., Program]) -> None:
    """A choice of 201 in a rounding to 1 jumps by 201; a rounding is not charged with another thing's jump."""
    body = """
scale: {from: 0, to: 300}
ratings:
  line: {measure: b, curve: {points: {0: 0, 100: 200}}, round: {step: 1}}
  cond: {value: "where(a < 50, 0, 201)", round: {step: 1}}
scores:
  top: {blend: maximum, parts: [line, cond]}
  mean: {parts: [line, cond]}
  least: {blend: minimum, parts: [line, cond]}
"""
    head = HEAD.replace("scale: {from: 0, to: 10}\n", "")
    told = [jump for finding in check(program_of(body, head)).findings for jump in finding.jumps]
    assert len(told) > 8
    for jump in told:
        assert jump.met is None or jump.met <= jump.at_most + 1e-9, jump
    assert {round(jump.at_most, 6) for jump in told if jump.kind == "rounding"} == {1.0}
    assert {round(jump.at_most, 6) for jump in told if jump.kind == "choice"} == {201.0}


ROUNDED = """
formula: invented
scale: {from: 0, to: 100}
measures:
  a: {unit: mm, better: higher, plausible: [0, 100], round: {step: 10, rule: RULE}}
"""
ON_ROUNDED = """
ratings:
  plain: {measure: a, curve: {points: {0: 0, 100: 100}}}
  step: {measure: a, curve: {steps: {0: 0, 45: 60}}}
scores: {s: {parts: [plain, step], missing: {needs: [plain, step]}}}
"""


@pytest.mark.parametrize(
    ("rule", "where", "edge"),
    [
        ("down", "a = 50", 50.0),
        ("half-up", "a = 45 (50 after rounding)", 45.0),
        ("half-even", "a = 45 (50 after rounding)", 45.0 + 1e-6),
        ("up", "a = 40 (50 after rounding)", 40.0 + 1e-6),
    ],
)
def test_the_rounding_of_a_measure_is_part_of_the_proof(
    program_of: Callable[..., Program], rule: str, where: str, edge: float
) -> None:
    """The rounding is a declared jump, and an edge stands at the reading from which on the rounded one passes it."""
    program = program_of(ON_ROUNDED, ROUNDED.replace("RULE", rule))
    findings = {f.output: f for f in check(program).findings if f.kind == "continuity"}
    assert {finding.verdict for finding in findings.values()} == {PROVED}
    told = {output: {j.where: j.at_most for j in finding.jumps} for output, finding in findings.items()}
    assert told["plain"] == {"where the rounding of a turns": pytest.approx(10)}
    assert told["step"] == {where: pytest.approx(60)}
    assert told["s"] == {where: pytest.approx(35), "where the rounding of a turns": pytest.approx(5)}
    before, after = scored(program, a=[edge - 1e-6, edge])["s"]
    assert after - before == pytest.approx(35)


def test_a_counterexample_takes_the_rounding_of_its_measure(program_of: Callable[..., Program]) -> None:
    """The values beside an undeclared jump are those that the readings score, rounded first."""
    body = 'ratings: {r: {value: "where(a < 50, a/2, 100)"}}'
    program = program_of(body, ROUNDED.replace("RULE", "down"))
    finding = next(f for f in check(program).findings if f.kind == "continuity")
    assert finding.verdict == REFUTED
    readings = [float(case.inputs[0][1]) for case in finding.counterexample]
    assert scored(program, a=readings)["r"] == [case.value for case in finding.counterexample] == [20.0, 100.0]


def test_rounding_away_from_0_takes_two_steps_at_0(finding_of: Callable[..., Finding]) -> None:
    """Just below 0 it gives -1, just above it 1: at one place it jumps by 2."""
    head = HEAD.replace("plausible: [0, 100]", "plausible: [-5, 5]").replace("from: 0", "from: -10")
    body = "ratings: {r: {value: a, round: {step: 1, rule: up}}}"
    (jump,) = finding_of(body, "r", "continuity", head=head).jumps
    assert (jump.at_most, jump.exact) == (pytest.approx(2), False)


def told(jump: Jump) -> tuple[str, float]:
    """Where a jump is, and its bound."""
    return jump.where, round(jump.at_most, 6)


def test_a_limit_that_a_table_turns_is_counted_at_the_tables_edge(finding_of: Callable[..., Finding]) -> None:
    """At 40 the table falls from 8 to 2, and takes the limit with it: the score goes from 9 to 3, not by half of 6."""
    body = """
ratings:
  r1: {measure: a, curve: {steps: {0: 8, 40: 2}}}
  r2: {measure: b, curve: {points: {0: 10, 100: 10}}}
scores: {s: {parts: [r1, r2], limits: [{when: r1 < 4, at_most: 3}], missing: {needs: [r1, r2]}}}
"""
    finding = finding_of(body, "s", "continuity", head=HEAD)
    assert finding.verdict == PROVED
    assert told(finding.jumps[0]) == ("a = 40", 6.0)


def test_a_bound_holds_beside_an_edge_where_a_curve_is_infinitely_steep(program_of: Callable[..., Program]) -> None:
    """The limit turns among the doubles that stand for 13.25, where a square root begins: half a unit of its 13th digit counts.

    The power curve falls from 10 to 0 at its worst, 13.25, and the limit holds what lies below at 3.
    """
    body = (
        "ratings:\n  r: {mix: [{measure: sag, weight: 1, curve: {power: {worst: 33.25, best: 25.9, exponent: 0.5}}}, "
        "{measure: lift, weight: 1, curve: {line: {worst: 0, best: 10}}}], limits: [{when: 'sag < 33.25', at_most: 3}]}\n"
    )
    report = check(program_of(body))
    (finding,) = (f for f in report.findings if f.kind == "continuity")
    (jump,) = finding.jumps
    steep = 0.5 * 10 * (33.25 * 5e-13 / (33.25 - 25.9)) ** 0.5
    assert 2 + steep < jump.at_most < 2 + 1e-4


def test_a_jump_at_0_is_bounded_too(program_of: Callable[..., Program]) -> None:
    """An edge at 0 has no digits, and both its sides."""
    report = check(program_of("ratings:\n  r: {value: 'where(lift > 0, 8, 3)'}\n"))
    (finding,) = (f for f in report.findings if f.kind == "continuity")
    assert [jump.at_most for jump in finding.jumps] == [5]


def test_what_is_rounded_may_pass_an_edge_of_its_own_where_it_jumps(program_of: Callable[..., Program]) -> None:
    """Just below 7 the mean of 6.5 and 9 is rounded to 7.5, at 7 that of 7.5 and 9 to 8.5: a step more than the jump."""
    body = (
        "ratings:\n  r: {mix: [{measure: sag, weight: 1, curve: {steps: {1: 6.5, 7: 7.5, 7.5: 8}}}, "
        "{measure: sag, weight: 1, curve: {line: {worst: 2.5, best: 7.5}}}], round: {step: 0.5}}\n"
    )
    program = program_of(body)
    (finding,) = (f for f in check(program).findings if f.kind == "continuity")
    at = next(jump for jump in finding.jumps if jump.where.startswith("sag = 7 ") or jump.where == "sag = 7")
    inputs = inputs_of_arrays({"sag": [6.99999999, 7.0]})
    before, after = evaluate(kernel_for(program, inputs, ["r"]), inputs).values["r"][0]
    assert after - before == 1
    assert at.at_most >= 1


def test_a_jump_of_many_steps_may_pass_one_more(program_of: Callable[..., Program]) -> None:
    """Below 2.5 it is 3 x 2 and 2.49..., rounded down to 8.4; at 2.5, 3 x 3 and 2.5: a tenth more than 30 tenths."""
    body = (
        "ratings:\n  r: {measure: a, curve: {line: {worst: 100, best: 0}}}\n"
        "scores:\n  whole: {blend: maximum, weights: {r: 1}, round: {step: 1, rule: half-up}}\n"
        "  s: {blend: sum, weights: {whole: 3, r: 1}, scale: {from: 0, to: 60}, round: {step: 0.1, rule: down}}\n"
    )
    program = program_of(body, HEAD)
    finding = next(f for f in check(program).findings if f.kind == "continuity" and f.output == "s")
    inputs = inputs_of_arrays({"a": [75 + 1e-6, 75.0]})
    below, at = evaluate(kernel_for(program, inputs, ["s"]), inputs).values["s"][0]
    assert (below, at) == (8.4, 11.5)
    assert max(jump.at_most for jump in finding.jumps) >= 3.1 - 1e-12
