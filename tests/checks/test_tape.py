"""The tape against the kernel: over random boxes every output lies within, and so does every difference quotient."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from scoring.catalogue import State
from scoring.checks.bench import Bench, Setting, bench_of
from scoring.checks.domain import Domain, domain_of
from scoring.checks.nodes import INFINITE, UNDEFINED
from scoring.numbers.intervals import Interval, point
from scoring.program.program import Program, compile_form
from scoring.reader import read_form

ROOT = Path(__file__).parents[2]
BODIES = {
    "expressions": """
ratings:
  a: {value: "clamp(sag*(50 - sag)/62.5 - abs(lift - 20)/10, 0, 10)"}
  b: {value: "10*lift/(lift + sag + 5)"}
  c: {value: "where(sag < 35 and filling == foam, 10 - sag/10, 6.5 - (sag - 35)/20)"}
  d: {value: "sqrt(width)*log(width + 1)/2 + exp(-sag/10)"}
  e: {value: "min(floor(sag/5), max(lift/5, 3)) + 0.3*width**1.5/(1 + width)"}
  f: {value: "where(not (lift > 20 or sag >= 30), 9 - sag/10, lift/10 + interp(width, 1, 0, 4, 3, 9, 1))"}
""",
    "curves and blends": """
ratings:
  a: {measure: sag, curve: {points: {0: 10, 12.5: 7, 40: 1}}}
  b: {measure: lift, curve: {smooth: {5: 1, 20: 6, 45: 10}}}
  c: {measure: width, curve: {target: {low: 1, best: 5, high: 9, within: 1}}}
  d: {measure: sag, curve: {steps: {0: 10, 10: 7, 30: 2}}}
  e: {measure: lift, curve: {power: {worst: 0, best: 40, exponent: 0.6}}}
  f: {measure: width, curve: {log: {worst: 10, best: 0.6}}}
  g: {measure: warmth, curve: {logistic: {middle: 20, spread: 4, better: lower}}}
scores:
  p:
    blend: weighted mean
    weights: {a: 2, b: 1, g: 1}
    limits: [{when: a < 4, at_most: 5}, {on: b, at_least: {points: {0: 0, 10: 4}}}]
    missing: {absent_above: 0.6}
  q: {blend: geometric mean, weights: {a: 2, b: 1, f: 3}, missing: {absent_above: 0.7}}
  r: {blend: harmonic mean, weights: {b: 1, e: 2}, round: {step: 0.5}}
  s: {blend: power mean, exponent: -1.5, weights: {a: 1, g: 2}}
  t: {blend: minimum, weights: {a: 1, b: 1, c: 0}}
  u: {blend: maximum, weights: {p: 1, q: 1}, missing: {otherwise: lowest}}
  v: {blend: sum, weights: {a: 0.3, b: 0.2}, missing: {absent_above: 0.9}}
  w: {blend: product, weights: {a: 0.5, d: 0.25}}
""",
    "live references": """
ratings:
  a: {measure: sag, curve: {minmax: {better: lower}}}
  b: {measure: lift, curve: {z: {centre: 5, per_sd: 2}}}
  c: {measure: width, curve: {ratio: {better: lower}}}
  d: {measure: lift, curve: {standing: {ties: lowest}}}
  e: {value: "clamp(5 + (sag - median(sag))/(percentile(sag, 90) + 1), 0, 10)"}
""",
}


@pytest.fixture(scope="module", params=[*BODIES, "laboratory"])
def program(request: pytest.FixtureRequest, program_of: Callable[..., Program]) -> Program:
    """Each program in turn, the demonstration's among them."""
    if request.param == "laboratory":
        return compile_form(read_form(ROOT / "examples" / "laboratory" / "guest-bed.yaml"))
    return program_of(BODIES[request.param])


def random_box(domain: Domain, bench: Bench, rng: np.random.Generator) -> dict[str, Interval]:
    """A part of each measure's range, often ending at a hint."""
    box = {}
    for name in domain.measures:
        low, high = bench.spans[name]
        ends = np.sort(rng.uniform(low, high, 2))
        if bench.hints[name] and rng.random() < 0.5:
            ends[int(rng.integers(0, 2))] = rng.choice(bench.hints[name])
            ends = np.sort(ends)
        box[name] = Interval(float(ends[0]), float(ends[1]))
    return box


def settings_in(
    bench: Bench, box: dict[str, Interval], rng: np.random.Generator, population: int, count: int
) -> list[Setting]:
    """Settings with readings in the box, some missing, with words by chance."""
    found = []
    for _ in range(count):
        values = dict.fromkeys(bench.spans, 0.0)
        values |= {n: float(np.clip(rng.uniform(s.low, s.high), s.low, s.high)) for n, s in box.items()}
        states = {name: State.MISSING for name in box if rng.random() < 0.15}
        words = {name: str(rng.choice(list(known))) for name, known in bench.words.items()}
        found.append(Setting(values, states, words, population))
    return found


def test_outputs_lie_in_their_enclosures(program: Program) -> None:
    """Whatever is published for readings in a box lies in the tape's interval, unless the tape says it may be lost."""
    rng = np.random.default_rng(5)
    domain = domain_of(program)
    bench = bench_of(domain, {}, None, rng)
    seen = 0
    for round_number in range(40):
        box = random_box(domain, bench, rng)
        sides = {domain.measures[name]: side for name, side in box.items()}
        at = domain.tape.run(domain.wide.box | sides, range(len(domain.tape.nodes)))
        answers = bench.ask(settings_in(bench, box, rng, round_number % len(bench.populations), 60))
        for name, slot in domain.outputs.items():
            found = answers.values[name][answers.published[name]]
            if not at.hazards[slot] & (UNDEFINED | INFINITE):
                assert np.all(np.isfinite(found)), (name, box)
            found = found[np.isfinite(found)]
            held = at.values[slot]
            assert np.all((found >= held.low - 1e-9) & (found <= held.high + 1e-9)), (name, box)
            seen += len(found)
    assert seen > 2000


def test_quotients_lie_in_their_slopes(program: Program) -> None:
    """Moving one reading within a box changes each output by no more than the tape's slopes allow."""
    rng = np.random.default_rng(6)
    domain = domain_of(program)
    bench = bench_of(domain, {}, None, rng)
    for round_number in range(40):
        box = random_box(domain, bench, rng)
        moving = str(rng.choice(list(box)))
        seed = domain.measures[moving]
        sides = {domain.measures[name]: side for name, side in box.items()}
        at = domain.tape.run(domain.wide.box | sides, range(len(domain.tape.nodes)))
        slopes = domain.tape.slopes(at, seed, range(len(domain.tape.nodes)))
        first = [
            s for s in settings_in(bench, box, rng, round_number % len(bench.populations), 60) if moving not in s.states
        ]
        readings = rng.uniform(box[moving].low, box[moving].high, len(first))
        second = [setting.moved(moving, float(x)) for setting, x in zip(first, readings, strict=True)]
        before, after = bench.ask(first), bench.ask(second)
        apart = np.array([b.values[moving] - a.values[moving] for a, b in zip(first, second, strict=True)])
        for name, slot in domain.outputs.items():
            use = (
                before.published[name] & (np.abs(apart) > 1e-6) & np.isfinite(before.values[name] + after.values[name])
            )
            quotients = (after.values[name] - before.values[name])[use] / apart[use]
            slope, loose = slopes.at(slot), 1e-9 / np.abs(apart[use])
            assert np.all((quotients >= slope.low - loose) & (quotients <= slope.high + loose)), (name, moving, box)


def test_a_quotient_is_exact_where_its_numbers_are(program_of: Callable[..., Program]) -> None:
    """A line between whole anchors gives exactly its ends at its anchors: nothing is lost to rounding twice."""
    domain = domain_of(program_of("ratings: {a: {measure: sag, curve: {line: {worst: 50, best: 0}}}}"))
    at = domain.tape.run({domain.measures["sag"]: point(0.0)}, range(len(domain.tape.nodes)), domain.wide.root)
    assert at.values[domain.outputs["a"]] == point(10.0)


def test_what_may_have_no_value_is_said(program_of: Callable[..., Program]) -> None:
    """A root below 0, a division by 0 and a logarithm at 0 are hazards; a curve held at its end is not infinite at 0."""
    body = """
ratings:
  root: {value: "sqrt(sag - 10)"}
  zero: {value: "sag/lift"}
  logs: {measure: warmth, curve: {log: {worst: 1, best: 60}}}
  held: {value: "clamp(log(sag), 0, 10)"}
  fine: {measure: sag, curve: {log: {worst: 1, best: 60}}}
"""
    domain = domain_of(program_of(body))
    hazards = {name: domain.wide.root.hazards[slot] for name, slot in domain.outputs.items()}
    assert hazards["root"] & hazards["zero"] & hazards["logs"] & hazards["held"] & UNDEFINED
    assert hazards["fine"] == 0
