"""Distributions of one number: quantiles and standard deviations against scipy's, a second implementation."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from analysis.study.distributions import (
    TAIL,
    Distribution,
    Lognormal,
    LogUniform,
    Normal,
    Pick,
    Triangular,
    Uniform,
    normal_scores,
    picked,
)

#: Each beside scipy's own of the same law.
LAWS = {
    "uniform": (Uniform(-2.5, 4), stats.uniform(-2.5, 6.5)),
    "uniform, narrow": (Uniform(1e6, 1e6 + 1e-3), stats.uniform(1e6, 1e-3)),
    "loguniform": (LogUniform(0.08, 1.6), stats.loguniform(0.08, 1.6)),
    "loguniform, wide": (LogUniform(1e-6, 1e4), stats.loguniform(1e-6, 1e4)),
    "normal": (Normal(3, 0.25), stats.norm(3, 0.25)),
    "triangular": (Triangular(1, 2, 5), stats.triang(0.25, 1, 4)),
    "triangular, likeliest at the low end": (Triangular(1, 1, 5), stats.triang(0, 1, 4)),
    "triangular, likeliest at the high end": (Triangular(-4, 3, 3), stats.triang(1, -4, 7)),
    "lognormal": (Lognormal(2, 1.5), stats.lognorm(math.log(1.5), scale=2)),
    "lognormal, wide": (Lognormal(0.01, 3), stats.lognorm(math.log(3), scale=0.01)),
    "lognormal, wider": (Lognormal(5, 20), stats.lognorm(math.log(20), scale=5)),
}
EVERY = [law for law, _ in LAWS.values()] + [Pick((3.0, -1.0, 2.5), (0.2, 0.5, 0.3))]
INNER = np.concatenate([[TAIL, 1e-4], np.linspace(0.001, 0.999, 999), [1 - 1e-4, 1 - TAIL]])


@pytest.mark.parametrize("name", LAWS)
def test_values_are_the_quantiles_of_the_law(name: str) -> None:
    """At a thousand chances, and as far into the tails as is drawn."""
    own, other = LAWS[name]
    np.testing.assert_allclose(own.values(INNER), other.ppf(INNER), rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("name", [name for name in LAWS if name != "lognormal, wider"])
def test_the_standard_deviation_is_that_of_the_law(name: str) -> None:
    """By scipy's formulas; a lognormal's holds take a share of its tail, the more the wider it is."""
    own, other = LAWS[name]
    assert own.sd == pytest.approx(other.std(), rel={"lognormal": 1e-4, "lognormal, wide": 1e-2}.get(name, 1e-6))


@pytest.mark.parametrize("name", LAWS)
def test_the_standard_deviation_is_that_of_what_is_drawn(name: str) -> None:
    """A second way, of the quantile function itself: its variance over the normal scores of the chance, by Simpson's rule."""
    own, _ = LAWS[name]
    scores = np.linspace(-8, 8, 200_001)
    drawn, density = own.values(stats.norm.cdf(scores)), stats.norm.pdf(scores)
    drawn = drawn - own.values(np.array(0.5))
    mean = integrate.simpson(drawn * density, x=scores)
    assert math.sqrt(integrate.simpson((drawn - mean) ** 2 * density, x=scores)) == pytest.approx(own.sd, rel=1e-5)


@pytest.mark.parametrize("ratio", [1 + 1e-9, 1.0001, 1.019, 1.021, 1.5, 1e4])
def test_the_standard_deviation_of_a_narrow_log_uniform_keeps_its_digits(ratio: float) -> None:
    """Differences of squares would lose them all; on both sides of where the series takes over.

    Worked out here in 50 digits: variance = (b**2 - a**2) / (2 ln(b / a)) - ((b - a) / ln(b / a))**2.
    """
    with mpmath.workdps(50):
        a, b = mpmath.mpf(3), mpmath.mpf(3 * ratio)
        width = mpmath.log(b / a)
        exact = mpmath.sqrt((b**2 - a**2) / (2 * width) - ((b - a) / width) ** 2)
    assert LogUniform(3, 3 * ratio).sd == pytest.approx(float(exact), rel=1e-7)


@pytest.mark.parametrize("law", EVERY, ids=lambda law: law.says)
def test_the_ends_are_finite_and_nothing_lies_beyond_them(law: Distribution) -> None:
    """At 0 and 1 exactly, too, which Sobol' points and generators can give."""
    drawn = law.values(np.concatenate([[0.0, 5e-324, 1e-300], INNER, [np.nextafter(1, 0), 1.0]]))
    assert np.isfinite(drawn).all()
    assert drawn.min() == pytest.approx(min(law.ends), rel=1e-12)
    assert drawn.max() == pytest.approx(max(law.ends), rel=1e-12)


@pytest.mark.parametrize("law", EVERY[:-1], ids=lambda law: law.says)
def test_a_greater_chance_never_gives_a_lesser_figure(law: Distribution) -> None:
    """A quantile function never falls; that of a continuous law rises wherever it is not held."""
    drawn = law.values(np.linspace(0, 1, 20_001))
    assert (np.diff(drawn) >= 0).all()
    assert (np.diff(law.values(INNER)) > 0).all()


@given(
    low=st.floats(-1e6, 1e6), rise=st.floats(0, 1e6), fall=st.floats(0, 1e6), unit=st.lists(st.floats(0, 1), min_size=2)
)
def test_a_triangular_draw_stays_between_its_ends(low: float, rise: float, fall: float, unit: list[float]) -> None:
    """Also where the likeliest is at an end, and where the ends are far from 0."""
    law = Triangular(low, low + rise, low + rise + fall)
    drawn = law.values(np.sort(np.array(unit)))
    dust = 1e-9 * (1 + abs(low) + rise + fall)
    assert (np.diff(drawn) >= -dust).all()
    assert law.low - dust <= drawn.min() <= drawn.max() <= law.high + dust


def test_normal_draws_are_held_where_they_can_be_checked() -> None:
    """Beyond one in a million the quantile of that stands; its 4.753424 sd is the table's value (from memory)."""
    law = Normal(0, 1)
    assert law.values(np.array([0.0, TAIL / 3, 1.0])) == pytest.approx([-4.753424, -4.753424, 4.753424], abs=1e-6)
    assert law.ends == pytest.approx((-4.753424, 4.753424), abs=1e-6)


def test_normal_scores_are_finite_everywhere() -> None:
    """The copula needs them at 0 and 1."""
    scores = normal_scores(np.array([0.0, 0.5, 1.0]))
    assert scores[1] == 0
    assert scores[2] == pytest.approx(-scores[0])
    assert 8 < scores[2] < 9


def test_options_are_picked_with_their_chances() -> None:
    """A stretch of 0 to 1 for each, as long as its chance; the edge belongs to the next."""
    chances = (0.1, 0.25, 0.65)
    assert picked(np.array([0, 0.0999, 0.1, 0.3499, 0.3501, 1]), chances).tolist() == [0, 0, 1, 1, 2, 2]
    unit = (np.arange(100_000) + 0.5) / 100_000
    assert np.bincount(picked(unit, chances)) / 100_000 == pytest.approx(chances, abs=2e-5)


@pytest.mark.parametrize("count", [2, 3, 7, 10])
def test_equal_chances_reach_every_option_though_they_do_not_add_to_1(count: int) -> None:
    """Ten times 0.1 is less than 1 in binary; the last option takes the rest."""
    found = picked(np.linspace(0, 1, 1001), (1 / count,) * count)
    assert sorted(set(found.tolist())) == list(range(count))


def test_the_standard_deviation_of_a_pick_is_by_its_chances() -> None:
    """By hand: 0 or 10, one in four: sqrt(1/4 * 3/4) * 10."""
    assert Pick((0.0, 10.0), (0.75, 0.25)).sd == pytest.approx(10 * math.sqrt(3) / 4)


@pytest.mark.parametrize(
    ("law", "says"),
    [
        (Uniform(0.2, 9.8), "uniform, 0.2 to 9.8"),
        (LogUniform(0.08, 1.6), "uniform in the logarithm, 0.08 to 1.6"),
        (Normal(3, 0.25), "normal, mean 3, sd 0.25"),
        (Triangular(1, 2, 5), "triangular, 1 to 5, likeliest 2"),
        (Lognormal(2, 1.5), "lognormal, median 2, times or divided by 1.5 at one sd"),
        (Pick((1.0, 2.5), (0.5, 0.5)), "one of 1 | 2.5, equal chances"),
        (Pick((1.0, 2.5, 4.0), (0.5, 0.375, 0.125)), "one of 1 (50 %) | 2.5 (37.5 %) | 4 (12.5 %)"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_says_itself_with_its_figures(law: Distribution, says: str) -> None:
    """The resolved table prints this."""
    assert law.says == says
