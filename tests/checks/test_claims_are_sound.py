"""Claims about formulas made by chance: whatever is proved stands up to a fresh search; the same seed gives the same report."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from extent import some

from scoring.checks import Checked, check
from scoring.checks.bench import bench_of
from scoring.checks.breaks import breaks_of
from scoring.checks.domain import domain_of
from scoring.checks.findings import PROVED, REFUTED
from scoring.checks.jumps import jumps_met
from scoring.checks.sizes import sizes_of
from scoring.checks.survey import survey_of
from scoring.program.program import Program, compile_form
from scoring.reader import read_form

ROOT = Path(__file__).parents[2]
BLENDS = ("weighted mean", "geometric mean", "harmonic mean", "minimum", "maximum", "sum", "product")


def curve(rng: np.random.Generator, low: float, high: float) -> str:
    """A curve by chance over a range of readings: often one way, now and then both."""
    places = np.sort(rng.choice(np.linspace(low, high, 200), 4, replace=False)).round(2)
    heights = rng.uniform(0, 10.3 if rng.random() < 0.1 else 10, 4).round(1)
    heights = np.sort(heights) if rng.random() < 0.7 else heights
    anchors = ", ".join(f"{x}: {y}" for x, y in zip(places, heights[:: rng.choice([-1, 1])], strict=True))
    ways = [
        f"points: {{{anchors}}}",
        f"smooth: {{{anchors}}}",
        f"steps: {{{anchors}}}",
        f"line: {{worst: {places[3]}, best: {places[0]}}}",
        f"logistic: {{middle: {places[1]}, spread: {(high - low) / 12:.3g}}}",
        f"power: {{worst: {places[0]}, best: {places[2]}, exponent: {rng.choice([0.4, 1.7, 2])}}}",
        f"target: {{low: {places[0]}, best: {places[1]}, high: {places[3]}}}",
        f"minmax: {{better: {rng.choice(['lower', 'higher'])}}}",
    ]
    return f"{{{ways[int(rng.integers(0, len(ways)))]}}}"


def body_of(rng: np.random.Generator) -> str:
    """Four ratings of curves, mixes and an expression, and three scores with limits, one upon another."""
    spans = {"sag": (0, 50), "lift": (0, 50), "width": (0.5, 10), "warmth": (-10, 60)}
    names = list(spans)
    lines = ["ratings:"]
    for index in range(3):
        parts = rng.choice(names, 2, replace=bool(rng.random() < 0.3))
        mixed = ", ".join(
            f"{{measure: {n}, weight: {rng.integers(1, 5)}, curve: {curve(rng, *spans[n])}}}" for n in parts
        )
        lines.append(f"  r{index}: {{mix: [{mixed}], missing: {{absent_above: {rng.choice([0, 0.5])}}}}}")
    a, b = rng.choice(names, 2, replace=False)
    expressions = [
        f"clamp({a}/6 + abs({b} - 20)/10, 0, 10)",
        f"where({a} < {spans[a][1] / 3}, 7, 3 + {b}/20)",
        f"10*({a} + 11)/({a} + {b} + 40)",
        f"10 - min({a}, {b})**2/1000",
    ]
    lines += [f'  r3: {{value: "{expressions[int(rng.integers(0, 4))]}"}}', "scores:"]
    known = ["r0", "r1", "r2", "r3"]
    for index in range(3):
        chosen = list(rng.choice(known, 3, replace=False))
        weights = ", ".join(f"{name}: {rng.choice([0.2, 0.3, 0.5])}" for name in chosen)
        sign, sense = rng.choice(["<", ">"]), rng.choice(["at_most", "at_least"])
        limit = f"{{when: {chosen[0]} {sign} {rng.integers(2, 8)}, {sense}: {rng.integers(3, 8)}}}"
        blend = BLENDS[int(rng.integers(0, len(BLENDS)))]
        lines.append(
            f"  s{index}: {{blend: {blend}, weights: {{{weights}}}, limits: [{limit}], missing: {{absent_above: 0.5}}}}"
        )
        known.append(f"s{index}")
    return "\n".join(lines)


@pytest.mark.parametrize("seed", some(range(12), 3))
def test_no_fresh_search_contradicts_a_proof(program_of: Callable[..., Program], seed: int) -> None:
    """Scale, direction and the sizes of jumps hold on lines and at crossings that the check never looked at."""
    program = program_of(body_of(np.random.default_rng([seed, 1])))
    report = check(program)
    proved = {(f.output, f.kind, f.measure): f for f in report.findings if f.verdict == PROVED}
    domain = domain_of(program)
    rng = np.random.default_rng([seed, 2])
    breaks = breaks_of(domain)
    bench = bench_of(domain, {each.name: each.state for each in breaks}, None, rng)
    survey = survey_of(bench, rng)
    for (output, kind, measure), finding in proved.items():
        if kind == "scale":
            assert output not in survey.without
            assert survey.least[output].value >= -1e-9
            assert survey.most[output].value <= 10 + 1e-9
        if kind == "direction":
            never = "falls" if finding.detail.startswith(("rises", "never falls")) else "rises"
            assert (output, measure) not in getattr(survey, never), finding
    seen = jumps_met(survey, sizes_of(domain, breaks))
    for (line, output), jump in seen.of_lines.items():
        finding = proved.get((output, "continuity", ""))
        if finding is not None:
            told = {known.where: known.at_most for known in finding.jumps}
            assert line.where in told, (finding, line)
            assert jump.size <= told[line.where] + 1e-6, (finding, line, jump)
    assert len(proved) > 10


@pytest.mark.parametrize("seed", some(range(4), 2))
def test_every_counterexample_is_one(program_of: Callable[..., Program], seed: int) -> None:
    """The values beside a refuted claim of scale or direction contradict it."""
    report = check(program_of(body_of(np.random.default_rng([seed, 1]))))
    refuted = [f for f in report.findings if f.verdict == REFUTED]
    assert refuted
    for finding in refuted:
        values = [case.value for case in finding.counterexample]
        if finding.kind == "scale":
            assert not all(0 <= value <= 10 for value in values)
        if finding.kind == "direction" and len(values) == 4:
            assert values[0] < values[1]
            assert values[2] > values[3]
        if finding.kind == "continuity":
            assert abs(values[0] - values[1]) > 1e-6


def test_the_same_seed_gives_the_same_report(program_of: Callable[..., Program]) -> None:
    """Two checks of one formula are equal to the last digit, seed 0 being a seed like any other."""
    body = body_of(np.random.default_rng([7, 1]))

    def report() -> Checked:
        return check(program_of(body), seed=0)

    assert repr(report()) == repr(report())


def test_the_demonstration_is_proved_throughout() -> None:
    """Every claim about the laboratory's own formula is proved, or is none."""
    program = compile_form(read_form(ROOT / "examples" / "laboratory" / "guest-bed.yaml"))
    report = check(program)
    assert not report.refuted
    assert {f.verdict for f in report.findings} == {PROVED, "not claimed"}
    assert {f.kind for f in report.findings} == {"scale", "continuity", "direction", "bands"}
