"""From the scatter of readings to that of a score: cases of the guides, one where first order is blind, a guard, a chance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from math import exp, floor, inf, sqrt

import numpy as np

from analysis.rankings.stability import rank_stability
from analysis.repeats.repeatability import effective_freedom
from analysis.selftest.closed_case import EXACT, ClosedCase, scored, studied, written
from scoring.catalogue import from_arrays
from scoring.form import Form
from scoring.measurement_error import ErrorModel
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import Inputs, evaluate, inputs_of, kernel_for
from scoring.table.uncertainty import monte_carlo, uncertainty

DRAWS = 200_000
#: Room of an estimate in its standard errors: right code misses one time in 16,000.
ERRORS = 4

GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, H.1, end gauge"
GUM_READ = f"{GUM}: read in the documentation of GTC and the tests of suncal"
GUM_WORKED = f"{GUM}: digits worked out"
SUPPLEMENT = "JCGM 101:2008, Supplement 1, 9.2.2, table 2: read in the tests of suncal"
DISSATISFIED = (
    "ISO 7730:2005, equation 5, of a vote of 0 with a standard uncertainty of 0.3: worked out by numerical quadrature"
)

END_GAUGE = """
formula: end-gauge
scale: {from: 0}
measures:
  standard_length: {unit: nm}
  mean_difference: {unit: nm}
  comparator_random: {unit: nm}
  comparator_systematic: {unit: nm}
  expansion: {unit: 1/degC}
  expansion_difference: {unit: 1/degC}
  mean_temperature: {unit: degC}
  temperature_swing: {unit: degC}
  temperature_difference: {unit: degC}
ratings:
  difference: {value: mean_difference + comparator_random + comparator_systematic}
  temperature: {scale: {from: -10}, value: mean_temperature + temperature_swing}
scores:
  length:
    value: "standard_length + difference
      - standard_length * (expansion_difference * temperature + expansion * temperature_difference)"
"""
#: Estimate and standard uncertainty, of nine readings.
GAUGE = {
    "standard_length": (50_000_623, 25),
    "mean_difference": (215, 5.8),
    "comparator_random": (0, 3.9),
    "comparator_systematic": (0, 6.7),
    "expansion": (11.5e-6, 2e-6 / sqrt(3)),
    "expansion_difference": (0, 1e-6 / sqrt(3)),
    "mean_temperature": (-0.1, 0.2),
    "temperature_swing": (0, 0.5 / sqrt(2)),
    "temperature_difference": (0, 0.05 / sqrt(3)),
}
FOUR = """
formula: sum-of-four
scale: {from: -100}
measures: {a: {unit: "1"}, b: {unit: "1"}, c: {unit: "1"}, d: {unit: "1"}}
scores: {total: {value: a + b + c + d}}
"""
COMFORT = """
formula: dissatisfied
scale: {from: 0, to: 100}
measures: {vote: {unit: "1"}}
scores: {percentage: {value: "100 - 95 * exp(-0.03353 * vote ** 4 - 0.2179 * vote ** 2)"}}
"""
GUARDED = """
formula: guarded
scale: {from: 0, to: 10}
measures: {reading: {unit: "1", repeatability: 0.5}}
scores: {y: {value: reading}}
gates: [{name: limit, when: reading > 5, guard: 1.645 u, withhold: over, near: near}]
"""
TWO_NOISY = """
formula: two-noisy
scale: {from: 0}
measures: {reading: {unit: "1", repeatability: 1}}
scores: {y: {value: reading}}
"""


def prepared(text: str, readings: Mapping[str, float]) -> tuple[Program, Inputs]:
    """A formula compiled, and one product's readings."""
    form = written(text)
    return compile_form(form), inputs_of(
        form, from_arrays(["only"], {name: [value] for name, value in readings.items()})
    )


def errors_of(u: Mapping[str, float]) -> ErrorModel:
    """Independent errors of one product's values, of these standard uncertainties."""
    return ErrorModel.of_values({name: [value] for name, value in u.items()})


def end_gauge(seed: int) -> Iterator[ClosedCase]:
    """The length, its components and its uncertainty, to first order and by draws."""
    program, inputs = prepared(END_GAUGE, {name: value for name, (value, _) in GAUGE.items()})
    stated = errors_of({name: u for name, (_, u) in GAUGE.items()})
    case = partial(ClosedCase, "uncertainty")

    def component(*names: str) -> float:
        return float(uncertainty(program, inputs, stated.of_measures(names))["length"][0])

    length = float(evaluate(kernel_for(program, inputs, ["length"]), inputs).values["length"][0, 0])
    yield case("end gauge, length in nm", GUM_READ, 50_000_838, 0.0, EXACT, length)
    part = component("temperature_difference")
    name = "end gauge, part of the difference of temperatures in nm"
    yield case(name, GUM_WORKED, 16.599, 5e-4, "worked out to 3 decimals", part)
    yield case("end gauge, combined uncertainty in nm", GUM_READ, 32, 0.5, "printed to whole nm", component(*GAUGE))
    freedom = effective_freedom([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2])
    cut = "the guide cuts it off to a whole number"
    yield case("end gauge, effective degrees of freedom", GUM_READ, 16, 0.0, cut, floor(freedom))
    drawn = float(monte_carlo(program, inputs, stated, DRAWS, np.random.default_rng([seed, 11]))["length"].sd[0])
    room = ERRORS * 33.8066 / sqrt(2 * DRAWS)
    why = f"{DRAWS:,} draws: four standard errors"
    name = "end gauge, spread of draws in nm, which the guide has with its second-order terms as 34"
    yield case(name, GUM_WORKED, 33.8066, room, why, drawn)


def sum_of_four(seed: int) -> Iterator[ClosedCase]:
    """Four standard normal quantities: the upper end of the 95 % interval."""
    program, inputs = prepared(FOUR, dict.fromkeys("abcd", 0.0))
    u = errors_of(dict.fromkeys("abcd", 1.0))
    found = monte_carlo(program, inputs, u, DRAWS, np.random.default_rng([seed, 12]))["total"]
    density = exp(-(1.959964**2) / 2) / sqrt(2 * np.pi) / 2
    room = ERRORS * sqrt(0.025 * 0.975 / DRAWS) / density + 0.005
    why = f"{DRAWS:,} draws: four standard errors of the end, and two printed decimals"
    name = "sum of four normals, upper end of 95 %"
    yield ClosedCase("uncertainty", name, SUPPLEMENT, 3.92, room, why, float(found.high[0]))


def blind_first_order(seed: int) -> Iterator[ClosedCase]:
    """Where the slope is 0 first order says 0, and draws say what there is."""
    program, inputs = prepared(COMFORT, {"vote": 0.0})
    u = errors_of({"vote": 0.3})
    case = partial(ClosedCase, "uncertainty", source=DISSATISFIED)
    first = float(uncertainty(program, inputs, u)["percentage"][0])
    yield case(name="dissatisfied at a vote of 0, first order", published=0.0, within=0.0, why=EXACT, ours=first)
    found = monte_carlo(program, inputs, u, DRAWS, np.random.default_rng([seed, 13]))["percentage"]
    why = f"{DRAWS:,} draws: four standard errors"
    room = ERRORS * 2.674853 / sqrt(DRAWS)
    name = "dissatisfied at a vote of 0, mean of draws in %"
    yield case(name=name, published=6.879972, within=room, why=why, ours=float(found.mean[0]))


def guard_band(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """The least reading on a grid that a gate calls near its limit: 5 less 1.645 times 0.5 is 4.1775."""
    readings = np.arange(4000, 5001) / 1000
    products = [f"p{place}" for place in range(len(readings))]
    remarks = scored(written(GUARDED), {"reading": readings}, products).column("y").remarks
    near = [float(readings[place]) for place, said in remarks.items() if said == ("near",)]
    source = "worked out by hand: limit 5, guard 1.645 u, u = 0.5, readings in thousandths"
    name = "least reading within the guard of a limit"
    yield ClosedCase("uncertainty", name, source, 4.178, 0.0, EXACT, min(near, default=-inf))


def told_apart(seed: int) -> Iterator[ClosedCase]:
    """How often the better of two products, one standard deviation of their difference apart, stays the better."""
    ours, draws = chance_of_beating(written(TWO_NOISY), [10 + sqrt(2), 10.0], seed)
    exact = 0.8413447460685429
    source = (
        "worked out in closed form: normal probability of a difference of sqrt(2) whose standard deviation is sqrt(2)"
    )
    room = ERRORS * sqrt(exact * (1 - exact) / draws)
    name = "chance that the better of two noisy products is placed first"
    yield ClosedCase("uncertainty", name, source, exact, room, f"{draws:,} draws: four standard errors", ours)


def chance_of_beating(form: Form, readings: Sequence[float], seed: int) -> tuple[float, int]:
    """The chance that the first of two products is above the second under the bench's noise, and from how many draws."""
    table = scored(form, {"reading": list(readings)}, ["one", "other"])
    study = studied("study: noise\nvary:\n  - {readings: repeatability}\n", table)
    (found,) = rank_stability(study, table, seed=seed)
    bench = found.by_source["bench"]
    return float(bench.beats[0, 1]), bench.n_draws


GROUPS = (end_gauge, sum_of_four, blind_first_order, guard_band, told_apart)
