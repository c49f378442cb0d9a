"""Repeats: summaries worked by hand, pooled scatter against a published analysis, uncertainties against draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from extent import examples, is_long
from forms import form, measure
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scoring.catalogue import Catalogue, Readings, State, from_arrays, without
from scoring.catalogue.repeats import pooled_sd, repeat_sd, summarise, summarise_all
from scoring.errors import ScoringError
from scoring.measurement_error import value_uncertainty

#: NIST, Statistical Reference Datasets, analysis of variance, SiRstv: resistivity of silicon at five instruments, five
#: readings each. The readings are from memory and agree with the certified values, which were read in a public test
#: file of R: residual standard deviation 0.104076068334656, F 1.18046237440255.
SILICON = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
]


def readings_of(values: object, name: str = "sag") -> Readings:
    """The readings of one measure from an array of products by repeats."""
    array = np.asarray(values, dtype=float)
    return from_arrays([f"P{i}" for i in range(len(array))], {name: array}).readings[name]


def held(readings: Readings, name: str = "sag") -> Catalogue:
    """A catalogue of the readings of one measure."""
    return from_arrays([f"P{i}" for i in range(len(readings.values))], {name: readings.values})


def with_states(values: list[list[float]], states: list[list[State]], reasons: dict[tuple[int, int], str]) -> Readings:
    """Readings with stated states."""
    array, marks = np.array(values, dtype=float), np.array(states, dtype=np.uint8)
    rows = np.zeros(array.shape, dtype=np.int64)
    return Readings(array, marks, reasons, array.copy(), marks.copy(), rows, ("",) * array.shape[1], "by hand")


@pytest.mark.parametrize(
    ("repeats", "trim", "readings", "expected"),
    [
        ("mean", 0.0, [3, 4, 8], 5.0),
        ("median", 0.0, [3, 8, 4], 4.0),
        ("median", 0.0, [3, 8, 4, 6], 5.0),
        ("trimmed", 0.2, [34.1, 33.2, 63.5, 33.6, 33.9], (33.6 + 33.9 + 34.1) / 3),
        ("trimmed", 0.2, [1, 2, 6, 7], 4.0),
        ("trimmed", 0.49, [1, 2, 6], 2.0),
        ("trimmed", 0.29, [x * x for x in range(100)], sum(x * x for x in range(29, 71)) / 42),
        ("level mean", 0.0, [30, 40], 10 * math.log10(5500)),
        ("level mean", 0.0, [50, 50], 50.0),
        ("level mean", 0.0, [-5000, 0], 10 * math.log10(0.5)),
        ("mean", 0.0, [7], 7.0),
        ("median", 0.0, [7], 7.0),
        ("trimmed", 0.4, [7], 7.0),
        ("level mean", 0.0, [7], 7.0),
    ],
)
def test_repeats_become_one_value(repeats: str, trim: float, readings: list[float], expected: float) -> None:
    """Each rule, worked by hand."""
    found = summarise(measure("sag", repeats=repeats, trim=trim), readings_of([readings]))
    assert found.values[0] == pytest.approx(expected, rel=1e-12)
    assert (found.states[0], found.counts[0]) == (State.VALUE, len(readings))


@pytest.mark.parametrize(
    ("repeats", "readings", "expected"),
    [
        ("mean", [38.1, 40.2, 41.7], 40.0),
        ("mean", [78.1, 80.3, 81.6], 80.0),
        ("mean", [-0.3, 0.1, 0.2], 0.0),  # the dust of a sum is as large as its readings make it
        ("mean", [-99.9995, 100.0005], 0.0005),
        ("median", [-0.7, 0.1, 0.3, 9.9], 0.2),
        ("trimmed", [1e9, 0.123456789, 0.123456787, -7.0], 0.123456788),  # what is set aside costs no digits
        ("mean", [1, 2, 2], 5 / 3),
        ("mean", [1e-310, 3e-310], 2e-310),
        ("mean", [1e305, 3e305], 2e305),
    ],
)
def test_a_mean_of_repeats_is_the_decimal_that_it_stands_for(
    repeats: str, readings: list[float], expected: float
) -> None:
    """To the last bit: no dust of binary sums is left that could lift it over an edge."""
    found = summarise(measure("sag", repeats=repeats, trim=0.25), readings_of([readings]))
    assert found.values[0] == expected


def test_a_single_reading_stays_as_it_is() -> None:
    """Also with more digits than a mean keeps."""
    assert summarise(measure("sag"), readings_of([[0.30000000000000004]])).values[0] == 0.30000000000000004


@pytest.mark.parametrize("repeats", ["mean", "median", "trimmed", "level mean"])
def test_missing_repeats_do_not_count(repeats: str) -> None:
    """A gap changes nothing but the count, and a product of gaps has no value."""
    using = measure("sag", repeats=repeats, trim=0.2)
    found = summarise(using, readings_of([[3, np.nan, 4, 8, np.nan], [np.nan] * 5]))
    alone = summarise(using, readings_of([[3, 4, 8]]))
    assert found.values[0] == alone.values[0]
    assert np.isnan(found.values[1])
    assert found.counts.tolist() == [3, 0]
    assert found.states.tolist() == [State.VALUE, State.MISSING]
    assert found.reasons == {1: "no reason given"}


def test_states_and_reasons_come_from_the_repeats() -> None:
    """Below where a counted reading is; why there is nothing, each reason once; a product nobody read is not there."""
    v, b, m, a, n = State
    nan = np.nan
    values = [[31, 22], [nan, nan], [nan, nan], [nan, nan], [nan, 31]]
    states = [[v, b], [m, m], [a, m], [n, n], [m, v]]
    reasons = {(1, 0): "mute", (1, 1): "mute", (2, 0): "no motor", (4, 0): "mute"}
    found = summarise(measure("noise"), with_states(values, states, reasons))
    assert found.states.tolist() == [b, m, a, m, v]
    assert found.reasons == {1: "mute", 2: "no motor", 3: "not in the catalogue"}
    np.testing.assert_array_equal(found.values, [26.5, nan, nan, nan, 31])


def test_the_summary_is_rounded_as_the_measure_says() -> None:
    """The mean of 8.2 and 8.3 is 8.25: half up it is 8.3, whatever the binary mean says; gaps stay gaps."""
    found = summarise(measure("sag", step=0.1), readings_of([[8.2, 8.3], [np.nan, np.nan]]))
    assert found.values[0] == 8.3
    assert np.isnan(found.values[1])


def test_a_measure_without_a_column_is_missing_everywhere() -> None:
    """And says so for every product."""
    catalogue = from_arrays(["A", "B"], {"sag": [1, 2]})
    found = summarise_all(form([measure("sag"), measure("noise")]), catalogue)
    assert found["noise"].states.tolist() == [State.MISSING, State.MISSING]
    assert found["noise"].reasons == {0: "not in the catalogue", 1: "not in the catalogue"}
    assert found["sag"].values.tolist() == [1.0, 2.0]


def test_a_reading_set_aside_leaves_the_summary() -> None:
    """A maker challenges the third repeat."""
    catalogue: Catalogue = from_arrays(["A"], {"noise": [[33.0, 34.0, 63.5]]})
    copy = without(catalogue, "A", "noise", 3)
    assert summarise(measure("noise"), copy.readings["noise"]).values[0] == 33.5


@pytest.mark.parametrize("trim", [0.5, 0.7, -0.1])
def test_a_trimmed_mean_that_leaves_nothing_is_refused(trim: float) -> None:
    """Half at each end is everything."""
    with pytest.raises(ScoringError, match=r"measures\.sag\.trim of .* from 0 to below 0\.5"):
        summarise(measure("sag", repeats="trimmed", trim=trim), readings_of([[1, 2, 3]]))


RULES = st.sampled_from(["mean", "median", "trimmed", "level mean"])
ROW = st.lists(st.floats(-50, 80), min_size=1, max_size=12)


@given(rows=st.lists(ROW, min_size=1, max_size=4), rule=RULES, seed=st.integers(0, 99))
@settings(deadline=None, max_examples=examples(150))
def test_neither_order_nor_neighbours_move_a_bit(rows: list[list[float]], rule: str, seed: int) -> None:
    """Shuffled repeats, and a row alone or among longer ones, give the very same float within the repeats' range."""
    using = measure("sag", repeats=rule, trim=0.2)
    table = np.full((len(rows), 12), np.nan)
    for row, values in zip(table, rows, strict=True):
        row[: len(values)] = values
    shuffled = np.random.default_rng(seed).permuted(table, axis=1)
    together = summarise(using, readings_of(table)).values
    np.testing.assert_array_equal(summarise(using, readings_of(shuffled)).values, together)
    for values, value in zip(rows, together, strict=True):
        assert summarise(using, readings_of([values])).values[0] == value
        assert min(values) - 1e-9 <= value <= max(values) + 1e-9


def test_pooled_scatter_is_the_mean_square_within() -> None:
    """A published analysis of variance with five groups of five."""
    sd, freedom = pooled_sd(readings_of(SILICON), relative=False)
    assert freedom == 20
    assert sd == pytest.approx(0.104076068334656, rel=1e-11)


def test_pooling_weighs_by_degrees_of_freedom() -> None:
    """Variances 2 (one degree) and 1 (two degrees) pool to 4 / 3; one reading adds nothing."""
    nan = np.nan
    found = pooled_sd(readings_of([[1, 3, nan], [4, 5, 6], [9, nan, nan]]), relative=False)
    assert found == (pytest.approx(math.sqrt(4 / 3)), 3)


def test_relative_scatter_is_pooled_from_shares() -> None:
    """sd 10 at 100 and sd 1 at 10 are 10 % each, also below zero; a mean of zero has no share."""
    root = math.sqrt(0.5)
    rows = [[100 - 10 * root, 100 + 10 * root], [-10 + root, -10 - root], [-1, 1]]
    assert pooled_sd(readings_of(rows), relative=True) == (pytest.approx(0.1), 2)


def test_readings_below_the_floor_have_no_scatter() -> None:
    """Three times 22 because nothing lower could be read is no agreement."""
    v, b = State.VALUE, State.BELOW
    found = pooled_sd(with_states([[22, 22, 22], [30, 32, 22]], [[b, b, b], [v, v, b]], {}), relative=False)
    assert found == (pytest.approx(math.sqrt(2)), 1)


@pytest.mark.parametrize("relative", [False, True])
def test_nothing_to_pool_is_not_a_number(relative: bool) -> None:
    """No product has two readings: that is not a scatter of zero."""
    sd, freedom = pooled_sd(readings_of([[1.0], [2.0]]), relative)
    assert math.isnan(sd)
    assert freedom == 0


@pytest.mark.parametrize(
    ("declared", "expected"),
    [
        (None, None),
        (("absolute", 0.2), 0.2),
        (("relative", 0.05), 0.05),
        (("pooled", None), math.sqrt(2)),
        (("pooled relative", None), math.sqrt(2) / 10),
    ],
)
def test_the_scatter_of_a_reading_is_declared_or_pooled(
    declared: tuple[str, float | None] | None, expected: float | None
) -> None:
    """The five ways of a measure."""
    using = measure("sag", repeatability=declared)
    assert repeat_sd(using, readings_of([[9, 11], [5, np.nan]])) == (
        None if expected is None else pytest.approx(expected)
    )


def test_nothing_pooled_is_no_scatter() -> None:
    """With single readings nothing is known."""
    using = measure("sag", repeatability=("pooled", None))
    readings = readings_of([[9], [5]])
    assert repeat_sd(using, readings) is None
    assert np.isnan(value_uncertainty(using, held(readings))).all()


@pytest.mark.parametrize(
    ("repeats", "declared", "expected"),
    [
        ("mean", ("absolute", 0.6), [0.3, 0.6, np.nan]),
        ("mean", ("relative", 0.1), [0.1 * 5 / 2, 0.8, np.nan]),
        ("level mean", ("absolute", 0.6), [0.3, 0.6, np.nan]),
        ("median", ("absolute", 0.6), [0.6 * math.sqrt(0.2981996), 0.6, np.nan]),
        ("mean", None, [np.nan] * 3),
    ],
)
def test_uncertainty_falls_with_the_root_of_the_count(
    repeats: str, declared: tuple[str, float] | None, expected: list[float]
) -> None:
    """Four repeats, one, none."""
    using = measure("sag", repeats=repeats, repeatability=declared)
    readings = readings_of([[4, 5, 5, 6], [8, *[np.nan] * 3], [np.nan] * 4])
    np.testing.assert_allclose(value_uncertainty(using, held(readings)), expected)


def test_a_median_of_two_is_a_mean() -> None:
    """And as well known as one."""
    using = measure("sag", repeats="median", repeatability=("absolute", 1.0))
    readings = readings_of([[4, 6]])
    assert value_uncertainty(using, held(readings))[0] == pytest.approx(math.sqrt(0.5))


def drawn_spread(repeats: str, trim: float, count: int) -> tuple[float, float]:
    """The spread of summaries of normal draws, and the standard uncertainty stated for them."""
    draws: NDArray[np.float64] = np.random.default_rng(20).standard_normal((100_000 if is_long() else 25_000, count))
    using = measure("sag", repeats=repeats, trim=trim, repeatability=("absolute", 1.0))
    readings = readings_of(draws)
    found = summarise(using, readings)
    return float(found.values.std()), float(value_uncertainty(using, held(readings))[0])


@pytest.mark.parametrize(
    ("repeats", "trim", "count", "tolerance"),
    [
        ("mean", 0.0, 5, 0.01),
        ("trimmed", 0.2, 5, 0.01),
        ("trimmed", 0.25, 8, 0.01),
        ("trimmed", 0.1, 20, 0.01),
        ("trimmed", 0.1, 5, 0.01),
        ("median", 0.0, 3, 0.01),
        ("median", 0.0, 4, 0.01),
        ("median", 0.0, 25, 0.01),
    ],
)
def test_uncertainty_agrees_with_draws(repeats: str, trim: float, count: int, tolerance: float) -> None:
    """100 000 draws (seed 20): four standard errors of a spread are 0.9 %; of 25 000, 1.8 %."""
    spread, stated = drawn_spread(repeats, trim, count)
    assert stated == pytest.approx(spread, rel=tolerance if is_long() else 2 * tolerance)
