"""Rounding: worked halves, a second method, and the properties that every rule keeps."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from decimal import Decimal, localcontext
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scoring.numbers import rounding
from scoring.numbers.rounding import RULES, cleaned, round_decimal, round_to, show

IN_DECIMAL = {
    "half-up": "ROUND_HALF_UP",
    "half-even": "ROUND_HALF_EVEN",
    "down": "ROUND_DOWN",
    "up": "ROUND_UP",
    "floor": "ROUND_FLOOR",
    "ceiling": "ROUND_CEILING",
}
# Worked by hand. Columns: value, step, then the result by half-up, half-even, down, up, floor, ceiling.
# The two half rules disagree where the value is an exact half and the multiple below it is even: arithmetic.
WORKED = """
    8.25      0.1    8.3    8.2    8.2    8.3    8.2    8.3
    8.35      0.1    8.4    8.4    8.3    8.4    8.3    8.4
    8.3       0.1    8.3    8.3    8.3    8.3    8.3    8.3
    -8.25     0.1   -8.3   -8.2   -8.2   -8.3   -8.3   -8.2
    -8.35     0.1   -8.4   -8.4   -8.3   -8.4   -8.4   -8.3
    0.5       1      1      0      0      1      0      1
    2.5       1      3      2      2      3      2      3
    -0.5      1     -1      0      0     -1     -1      0
    2.675     0.01   2.68   2.68   2.67   2.68   2.67   2.68
    1.005     0.01   1.01   1.00   1.00   1.01   1.00   1.01
    8.25      0.5    8.5    8.0    8.0    8.5    8.0    8.5
    7.125     0.25   7.25   7.00   7.00   7.25   7.00   7.25
    57        5      55     55     55     60     55     60
    57.5      5      60     60     55     60     55     60
    1250      100    1300   1200   1200   1300   1200   1300
    0.45      0.3    0.6    0.6    0.3    0.6    0.3    0.6
    -0.04     0.1    0.0    0.0    0.0   -0.1   -0.1    0.0
    0         0.1    0.0    0.0    0.0    0.0    0.0    0.0
"""
CASES = [
    pytest.param(float(value), float(step), rule, result, id=f"{value} by {step} {rule}")
    for value, step, *results in (line.split() for line in WORKED.split("\n") if line.strip())
    for rule, result in zip(IN_DECIMAL, results, strict=True)
]
PUBLISHED = [
    # M. F. Cowlishaw, General Decimal Arithmetic, frequently asked questions, "What rounding modes are needed for decimal
    # arithmetic?", from memory: 12.345 and 12.355 to four digits.
    pytest.param(12.345, 0.01, "half-even", 12.34, id="12.345 to even"),
    pytest.param(12.355, 0.01, "half-even", 12.36, id="12.355 to even"),
    pytest.param(12.345, 0.01, "half-up", 12.35, id="12.345 half up"),
    pytest.param(12.355, 0.01, "half-up", 12.36, id="12.355 half up"),
    # EPA-454/B-24-002 (May 2024), Technical Assistance Document for the Reporting of Daily Air Quality, the
    # worked example, from memory: ozone 0.07853333 ppm is cut to 0.078, its index 125.5 is published as 126.
    pytest.param(0.07853333, 0.001, "down", 0.078, id="ozone truncated"),
    pytest.param(125.5, 1.0, "half-up", 126.0, id="air quality index"),
]
STEPS = (0.1, 0.5, 0.25, 0.01, 0.3, 5.0)

rules = st.sampled_from(RULES)
steps = st.sampled_from((*STEPS, 1.0, 0.025, 0.7, 100.0))
readings = st.floats(-1e6, 1e6) | st.decimals(-1000, 1000, places=3).map(float)
any_floats = st.floats(allow_nan=False, allow_infinity=False)
any_steps = st.floats(min_value=0, exclude_min=True, allow_infinity=False)


def by_fractions(value: float, step: float, rule: str) -> Fraction:
    """The definition in whole-number arithmetic: the multiple of the step that the rule picks."""
    exact, unit = Fraction(format(value, ".12e")), Fraction(repr(step))
    low = math.floor(exact / unit)
    rest = exact / unit - low
    away = low + 1 if exact > 0 else low
    nearest = low + 1 if rest > Fraction(1, 2) else low
    chosen = {
        "half-up": away if rest == Fraction(1, 2) else nearest,
        "half-even": round(exact / unit),
        "down": low if exact > 0 else low + 1,
        "up": away,
        "floor": low,
        "ceiling": low + 1,
    }
    return (chosen[rule] if rest else low) * unit


def by_quantize(values: NDArray[np.float64], places: str, rule: str) -> list[float]:
    """The definition by `Decimal.quantize`, for steps that are a power of ten."""
    unit, name = Decimal(places), IN_DECIMAL[rule]
    return [float(Decimal(format(v, ".12e")).quantize(unit, rounding=name)) + 0.0 for v in values.tolist()]


def by_decimal(values: NDArray[np.float64], step: float, rule: str) -> list[float]:
    """The exact path, number by number."""
    return [float(round_decimal(value, step, rule)) for value in values.tolist()]


def readings_at_random(count: int, seed: int) -> NDArray[np.float64]:
    """A quarter each of multiples of 0.01, 0.05 and 0.025, and of any floats; half of all carry dust."""
    rng = np.random.default_rng(seed)
    grid = [rng.integers(-20_000, 20_000, count // 4) * step for step in (0.01, 0.05, 0.025)]
    values = np.concatenate([*grid, rng.uniform(-200, 200, count // 4)])
    dust = rng.integers(-8, 9, count) * rng.integers(0, 2, count)
    return np.asarray(values * (1 + dust * 2.0**-52))


@pytest.mark.parametrize(("value", "step", "rule", "result"), CASES)
def test_worked_cases_round_as_by_hand(value: float, step: float, rule: str, result: str) -> None:
    """Both paths give the multiple found by hand, and the exact one prints the decimals of the step."""
    assert str(round_decimal(value, step, rule)) == result
    assert round_to(value, step, rule) == float(result)


@pytest.mark.parametrize(("value", "step", "rule", "result"), PUBLISHED)
def test_published_cases_round_as_printed(value: float, step: float, rule: str, result: float) -> None:
    """Both paths give the figure that the source prints."""
    assert float(round_decimal(value, step, rule)) == result
    assert round_to(value, step, rule) == result


@pytest.mark.parametrize("sign", [1, -1], ids=["above zero", "below zero"])
@pytest.mark.parametrize("dusty", [8.249999999999998, 0.2 * 7.5 + 0.35 * 8.1 + 0.45 * 8.7, 8.25 + 1e-13])
def test_arithmetic_dust_decides_nothing(dusty: float, sign: int) -> None:
    """A sum whose true value is 8.25 is an exact half whichever way its last bits fell."""
    assert round_to(sign * dusty, 0.1, "half-up") == sign * 8.3
    assert round_to(sign * dusty, 0.1, "half-even") == sign * 8.2


def test_the_thirteenth_digit_still_decides() -> None:
    """A difference of one in the 13th digit is a difference, one of a third of that is none."""
    values = [8.249999999999, 8.2499999999997, 8.2500000000003, 8.250000000001]
    np.testing.assert_array_equal(round_to(values, 0.1, "half-up"), [8.2, 8.3, 8.3, 8.3])
    np.testing.assert_array_equal(round_to(values, 0.1, "half-even"), [8.2, 8.2, 8.2, 8.3])


def test_a_multiple_with_dust_is_no_step_up_or_down() -> None:
    """Directed rules leave 8.3 alone when binary arithmetic made it a little more or less."""
    values = [83 * 0.1, 8.299999999999999, 8.3, 8.300000000000002]
    for rule in RULES:
        np.testing.assert_array_equal(round_to(values, 0.1, rule), np.full(4, 8.3))


def test_a_million_readings_equal_decimal_arithmetic() -> None:
    """Half-up to 0.1 over grids full of halves, dust and random floats equals `Decimal.quantize` exactly."""
    values = readings_at_random(1_000_000, seed=20_240_501)
    np.testing.assert_array_equal(round_to(values, 0.1, "half-up"), by_quantize(values, "0.1", "half-up"))


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_equals_quantize(rule: str) -> None:
    """Each rule equals the rule of the same name in `decimal`, on steps 1 and 0.01."""
    values = readings_at_random(20_000, seed=7)
    for step in ("1", "0.01"):
        np.testing.assert_array_equal(round_to(values, float(step), rule), by_quantize(values, step, rule))


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("step", STEPS)
def test_arrays_equal_the_exact_path(step: float, rule: str) -> None:
    """The fast path equals the exact one on steps that are no power of ten too."""
    values = readings_at_random(8_000, seed=11)
    np.testing.assert_array_equal(round_to(values, step, rule), by_decimal(values, step, rule))


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize("step", [0.1, 0.25, 0.3, 5.0, 1e-6])
def test_values_close_to_a_decision_equal_the_exact_path(step: float, rule: str) -> None:
    """Relative offsets from 1e-17 to 1e-10 around halves and multiples of every size agree on both paths."""
    halves = np.array([1, 2, 3, 7, 19, 20, 165, 199_999, 200_000, 2e9 + 1, 2e11, 2e13 + 3]) * step / 2
    powers = np.array([1e-3, 1.0, 10.0, 1e5, 1e9])
    offsets = np.concatenate([[0], *(sign * np.geomspace(1e-17, 1e-10, 120) for sign in (1, -1))])
    values = np.outer(np.concatenate([halves, powers]), 1 + offsets).ravel()
    np.testing.assert_array_equal(round_to(values, step, rule), by_decimal(values, step, rule))


@settings(deadline=None)
@given(value=readings, step=steps | any_steps, rule=rules)
def test_the_exact_path_equals_fractions(value: float, step: float, rule: str) -> None:
    """The exact path equals the definition worked in fractions, quotients without an end included."""
    assert Fraction(round_decimal(value, step, rule)) == by_fractions(value, step, rule)


@settings(deadline=None)
@given(values=st.lists(any_floats, max_size=8), step=steps | any_steps, rule=rules)
def test_any_float_and_any_step_equal_the_exact_path(values: list[float], step: float, rule: str) -> None:
    """The smallest, the largest and the oddest pairs of value and step agree on both paths."""
    rounded = round_to(values, step, rule)
    np.testing.assert_array_equal(rounded, by_decimal(np.array(values), step, rule))
    assert not np.any(np.signbit(rounded) & (rounded == 0))


@settings(deadline=None)
@given(value=readings, step=steps, rule=rules)
def test_rounding_twice_changes_nothing(value: float, step: float, rule: str) -> None:
    """A rounded value is a multiple already."""
    once = round_to(value, step, rule)
    assert round_to(once, step, rule) == once


@settings(deadline=None)
@given(values=st.lists(readings, min_size=2), step=steps, rule=rules)
def test_a_greater_value_never_rounds_lower(values: list[float], step: float, rule: str) -> None:
    """Rounding keeps order."""
    assert np.all(np.diff(round_to(np.sort(values), step, rule)) >= 0)


@settings(deadline=None)
@given(value=readings, step=steps, rule=rules)
def test_the_error_stays_below_a_step(value: float, step: float, rule: str) -> None:
    """Half rules move a value by half a step at most, directed rules by less than one and to their side."""
    exact, unit = Fraction(format(value, ".12e")), Fraction(repr(step))
    moved = Fraction(round_decimal(value, step, rule)) - exact
    assert abs(moved) * 2 <= unit if rule.startswith("half") else abs(moved) < unit
    side = {"floor": -1, "ceiling": 1, "up": 1 if exact > 0 else -1, "down": -1 if exact > 0 else 1}
    assert moved * side.get(rule, 0) >= 0


@settings(deadline=None)
@given(
    halves=st.integers(-200_000, 200_000),
    step=st.sampled_from(("0.1", "0.5", "0.25", "0.05", "1", "5")),
    ulps=st.integers(-6, 6),
    rule=rules,
)
def test_a_half_with_dust_rounds_as_the_half(halves: int, step: str, ulps: int, rule: str) -> None:
    """A few units in the last place, either way, leave a decimal half or multiple what it is."""
    half = float(Decimal(halves) * Decimal(step) / 2)
    dusty = half + ulps * math.ulp(half) if half else half
    assert round_to(dusty, float(step), rule) == round_to(half, float(step), rule)
    assert round_to(dusty, float(step), rule) == float(by_fractions(half, float(step), rule))


def test_missing_and_infinite_values_stay() -> None:
    """NaN and infinities pass every rule and step, and nothing is raised where numpy is told to raise."""
    values = np.array([np.nan, np.inf, -np.inf])
    for rule, step in itertools.product(RULES, (0.1, 5.0, 1 / 3, 1e300)):
        with np.errstate(all="raise"):
            np.testing.assert_array_equal(round_to(values, step, rule), values)


def test_the_smallest_floats_still_have_a_side() -> None:
    """A value so small that value / step is 0 in floats is still above or below 0."""
    with np.errstate(all="raise"):
        np.testing.assert_array_equal(round_to([5e-324, 0, -5e-324], 5, "up"), [5, 0, -5])
        np.testing.assert_array_equal(round_to([5e-324, 0, -5e-324], 5, "floor"), [0, 0, -5])


def test_a_step_of_many_digits_is_met_exactly() -> None:
    """The smallest value above 0 goes up to the step itself, whatever its digits and its size."""
    odd = np.random.default_rng(5).uniform(0.1, 1, 2000) * 10.0 ** np.arange(-30, 30).repeat(40)[:2000]
    np.testing.assert_array_equal(round_to(odd * 1e-9, odd, "up"), odd)


def test_results_are_the_floats_nearest_to_the_multiples() -> None:
    """Every multiple of 0.1 up to 100 is the float that its decimal reads as."""
    multiples = [float(f"{whole // 10}.{whole % 10}") for whole in range(1000)]
    assert round_to(np.arange(1000) * 0.1, 0.1, "half-even").tolist() == multiples


def test_values_too_large_for_floats_go_through_decimal() -> None:
    """Beyond 13 digits the value is its decimal of 13 digits, and a step that is finer leaves that alone."""
    values = [1234567890123456.0, 2.0**60, -1e300]
    expected = [1234567890123000.0, 1152921504607000000.0, -1e300]
    np.testing.assert_array_equal(round_to(values, 0.1, "half-up"), expected)


def test_steps_broadcast_with_values() -> None:
    """A column of steps, one a draw, rounds each row of values by its own step."""
    values = np.array([8.25, 7.26, np.nan])
    rounded = round_to(values, [[0.1], [0.5], [5.0]], "half-up")
    np.testing.assert_array_equal(rounded, [[8.3, 7.3, np.nan], [8.5, 7.5, np.nan], [10.0, 5.0, np.nan]])


@pytest.mark.parametrize(
    ("shape", "step_shape", "result_shape"),
    [((), (), ()), ((0,), (), (0,)), ((), (2,), (2,)), ((4, 3), (2, 1, 1), (2, 4, 3))],
    ids=["a number", "nothing", "two steps", "draws by steps"],
)
@pytest.mark.parametrize("size", [1.0, 1e15], ids=["fast path", "exact path"])
def test_the_result_has_the_broadcast_shape(
    shape: tuple[int, ...], step_shape: tuple[int, ...], result_shape: tuple[int, ...], size: float
) -> None:
    """The result is a new array of floats even for one number or none."""
    values = np.full(shape, size)
    rounded = round_to(values, np.full(step_shape, 0.1), "half-up")
    assert isinstance(rounded, np.ndarray)
    assert (rounded.shape, rounded.dtype) == (result_shape, np.dtype(np.float64))
    assert not np.shares_memory(rounded, values)


@pytest.mark.parametrize(
    ("values", "most"),
    [
        pytest.param(np.random.default_rng(3).uniform(1, 10, 1_000_000), 5, id="random"),
        pytest.param(np.arange(1_000_000) * 0.1 + 0.05, 0, id="a million different halves"),
        pytest.param((np.arange(1_000_000) * 0.1 + 0.05) * (1 + 2e-15), 0, id="a million halves with dust"),
        pytest.param(np.tile([8.25 + 5e-12, 7.35 - 5e-12], 500_000), 2, id="the same doubtful two"),
    ],
)
def test_few_values_need_the_slow_path(values: NDArray[np.float64], most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a million values hardly any is rounded one by one, even when all are halves: rounding is fast."""
    asked: list[float] = []

    def counted(value: float, step: str | float, rule: str) -> Decimal:
        asked.append(value)
        return round_decimal(value, step, rule)

    monkeypatch.setattr(rounding, "round_decimal", counted)
    round_to(values, 0.1, "half-up")
    assert len(asked) <= most


def test_the_caller_s_decimal_context_changes_nothing() -> None:
    """Neither path looks at the precision or the rounding that a caller has set for `decimal`."""
    with localcontext(prec=2, rounding="ROUND_CEILING"):
        assert str(round_decimal(-1234.565, "0.01", "half-up")) == "-1234.57"
        assert round_to(1234567890123456.0, 0.1, "down") == 1234567890123000.0
        assert show(1234.57, 0.01) == "1234.57"


def test_a_step_may_be_text() -> None:
    """The exact path takes a step as it is written, trailing zeros aside."""
    assert [str(round_decimal(8.25, step, "half-up")) for step in ("0.10", "5")] == ["8.3", "10"]


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [
        (8.3, 0.1, "8.3"),
        (8.0, 0.1, "8.0"),
        (57.0, 1.0, "57"),
        (1200.0, 100.0, "1200"),
        (8.5, 0.25, "8.50"),
        (-0.0, 0.1, "0.0"),
        (0.00001, 0.00001, "0.00001"),
        (1e16, 1.0, "10000000000000000"),
        (83 * 0.1, 0.1, "8.3"),
    ],
)
def test_a_rounded_value_shows_the_decimals_of_its_step(value: float, step: float, text: str) -> None:
    """Fixed text, no exponent, no negative zero, no dust."""
    assert show(value, step) == text


def test_showing_never_rounds() -> None:
    """A value with more decimals than the step is refused, for no rule is stated by which to round it."""
    with pytest.raises(ValueError, match=r"cannot show 8\.25 with the decimals of step 0\.1: round it first"):
        show(8.25, 0.1)


@pytest.mark.parametrize("step", [0.0, -0.1, math.nan, math.inf])
def test_a_step_that_is_not_above_zero_is_refused(step: float) -> None:
    """Every door refuses the step and names it."""
    doors: list[Callable[[], object]] = [
        lambda: round_decimal(1.0, step, "half-up"),
        lambda: round_to([1.0, 2.0], [0.1, step], "half-up"),
        lambda: show(1.0, step),
    ]
    for door in doors:
        with pytest.raises(ValueError, match=rf"rounding step {step} is not a finite number above 0"):
            door()


@pytest.mark.parametrize("step", ["a tenth", "0", "1e-400", "inf"])
def test_a_written_step_that_is_no_number_above_zero_is_refused(step: str) -> None:
    """Text is held to the same bounds as a number."""
    with pytest.raises(ValueError, match=rf"rounding step {step} is not a finite number above 0"):
        round_decimal(1.0, step, "half-up")


@pytest.mark.parametrize("door", [round_decimal, round_to], ids=["one number", "an array"])
def test_an_unknown_rule_is_refused(door: Callable[[float, float, str], object]) -> None:
    """The message names the rules that there are."""
    with pytest.raises(ValueError, match=r"unknown rounding rule 'half-down'; known: half-up, half-even, down"):
        door(1.0, 0.1, "half-down")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_one_number_must_be_finite(value: float) -> None:
    """Missing values are the caller's to handle where a single number is rounded or shown."""
    for door in (lambda: round_decimal(value, 0.1, "half-up"), lambda: show(value, 0.1)):
        with pytest.raises(ValueError, match=rf"cannot round {value}: the value must be finite"):
            door()


def test_values_of_single_precision_are_rounded_as_doubles() -> None:
    """The float32 nearest to 0.35 is 0.34999999404 and rounds down; what comes out are doubles."""
    found = round_to(np.array([0.35, 0.25, 7.1], np.float32), np.float32(0.5), "half-up")
    assert found.dtype == np.float64
    assert found.tolist() == [0.5, 0.5, 7.0]
    assert round_to(np.float32(0.35), 0.1, "half-up").tolist() == float(
        round_decimal(float(np.float32(0.35)), "0.1", "half-up")
    )


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (40.00000000000001, 40.0),
        (39.99999999999999, 40.0),
        (39.999999999996, 40.0),
        (39.999999999994, 39.99999999999),
        (0.1 + 0.2, 0.3),
        (-(0.1 + 0.2), -0.3),
        (2 / 3, 0.6666666666667),
        (1.0000000000004, 1.0),
        (1.0000000000006, 1.000000000001),
        (123456789012.34, 123456789012.3),
        (9999999999999.4, 9999999999999.0),
        (99999999999996.0, 100000000000000.0),
        (9.9999999999996, 10.0),
        (1.2345678901234e-11, 1.234567890123e-11),
        (5e-324, 5e-324),
        (1.7976931348623157e308, 1.797693134862e308),
        (-0.0, 0.0),
        (math.inf, math.inf),
        (math.nan, math.nan),
    ],
)
def test_a_double_is_cleaned_to_its_decimal_of_13_digits(value: float, expected: float) -> None:
    """By hand, on both sides of where the 13th digit turns; never -0.0."""
    found = cleaned([value, 1.0])
    np.testing.assert_array_equal(found, [expected, 1.0])
    assert not (found[0] == 0 and np.signbit(found[0]))


@given(st.lists(st.floats(), min_size=1, max_size=20))
def test_cleaning_is_what_writing_13_digits_gives(values: list[float]) -> None:
    """Any doubles at all, and once more changes nothing."""
    with np.errstate(over="ignore"):
        written = [float(format(value, ".12e")) for value in values]
        found = cleaned(values)
    np.testing.assert_array_equal(found, written)
    np.testing.assert_array_equal(cleaned(found), found)
