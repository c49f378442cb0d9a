"""Variance components: worked by hand, by least squares as a second method, and what their intervals cover."""

from __future__ import annotations

import math

import numpy as np
import pytest
from extent import only_long
from numpy.typing import NDArray

from scoring.measurement_error.variance_components import (
    NO_REPEATS,
    NO_SESSIONS,
    NO_SPECIMEN_REPEATS,
    NO_SPECIMENS,
    ONE_SESSION,
    ONE_SESSION_A_SPECIMEN,
    ONE_SPECIMEN,
    VarianceComponents,
    sd_interval,
    variance_components,
)

Array = NDArray[np.float64]
Texts = NDArray[np.object_]
NAN = math.nan


def components(
    rows: object, sessions: object = None, specimens: object = None, *, relative: bool = False
) -> VarianceComponents:
    """The components of readings and names written as lists."""
    texts = [None if names is None else np.array(names, dtype=object) for names in (sessions, specimens)]
    return variance_components(np.array(rows, dtype=float), *texts, relative=relative)


def test_one_product_is_the_analysis_of_variance() -> None:
    """1, 3 and 5, 7: MS_r 2 on two, MS 16 on one, 2 readings a session; s_L^2 = 7, s_R^2 = 9 on 81 / (1 / 2 + 64)."""
    found = components([[1, 3, 5, 7]], [list("aabb")])
    assert found.sessions is not None
    assert found.total is not None
    assert (found.within.sd, found.within.freedom) == (pytest.approx(math.sqrt(2)), 2)
    assert (found.sessions.mean_square, found.sessions.mean_square_freedom) == (pytest.approx(16), 1)
    assert (found.sessions.coefficient, found.sessions.sd) == (pytest.approx(2), pytest.approx(math.sqrt(7)))
    assert (found.total.sd, found.total.freedom) == (pytest.approx(3), pytest.approx(81 / 64.5))


def test_a_shift_that_two_products_share_counts_once() -> None:
    """Both rise by 4 from a to b: SS 2 x 16 on one degree of freedom, not on two, with 4 readings a session."""
    found = components([[1, 3, 5, 7], [11, 13, 15, 17]], [list("aabb")] * 2)
    assert found.sessions is not None
    assert (found.sessions.mean_square, found.sessions.mean_square_freedom) == (pytest.approx(32), 1)
    assert (found.sessions.coefficient, found.sessions.sd) == (pytest.approx(4), pytest.approx(math.sqrt(7.5)))
    assert (found.sessions.n_levels, found.sessions.n_products, found.sessions.n_parts) == (2, 2, 1)


def test_sessions_that_no_product_links_form_parts() -> None:
    """a and b under P0, c and d under P1: two degrees of freedom in two parts, and s_L from both."""
    found = components([[1, 3, 5, 7], [1, 3, 9, 11]], [list("aabb"), list("ccdd")])
    assert found.sessions is not None
    assert (found.sessions.n_parts, found.sessions.mean_square_freedom, found.sessions.n_levels) == (2, 2, 4)
    assert found.sessions.mean_square == pytest.approx((16 + 64) / 2)


def test_specimens_are_told_from_sessions_by_hand() -> None:
    """Specimens 1 and 2, each read twice: MS_r 0.5 on two, MS 25, coefficient 2; sessions are not named."""
    found = components([[1, 2, 6, 7]], None, [list("1122")])
    assert found.specimens is not None
    assert (found.sessions, found.why_no_sessions, found.total) == (None, NO_SESSIONS, None)
    assert (found.within.mean_square, found.specimens.mean_square) == (pytest.approx(0.5), pytest.approx(25))
    assert found.specimens.sd == pytest.approx(math.sqrt(24.5 / 2))


def test_a_name_is_one_session_for_all_products_and_a_specimen_of_one() -> None:
    """The same texts as sessions have one level a name, as specimens one a product and name."""
    rows, names = [[1, 2, 6, 7], [3, 5, 4, 9]], [list("1122")] * 2
    as_sessions, as_specimens = components(rows, names).sessions, components(rows, None, names).specimens
    assert as_sessions is not None
    assert as_specimens is not None
    assert (as_sessions.n_levels, as_specimens.n_levels) == (2, 4)
    assert (as_sessions.mean_square_freedom, as_specimens.mean_square_freedom) == (1, 2)


def test_a_product_without_a_name_is_one_specimen_and_a_reading_without_one_tells_nothing() -> None:
    """P0 names none: its sessions tell of s_L as they would alone; P1's last reading, which alone names none, of nothing."""
    rows, sessions = [[1, 3, 5, 7, NAN], [2, 4, 9, 8, 60]], [list("aabb-"), list("ccddc")]
    found = components(rows, sessions, [["", "", "", "", ""], [*list("1122"), ""]])
    alone = components(rows[:1], sessions[:1])
    assert found.sessions is not None
    assert alone.sessions is not None
    assert (found.sessions.mean_square, found.sessions.n_products) == (pytest.approx(alone.sessions.mean_square), 1)
    assert found.within.mean_square == pytest.approx((2 + 2 + 2 + 0.5) / 4)
    assert found.why_no_specimens == ONE_SPECIMEN


def test_an_estimate_below_nothing_is_put_at_nothing_and_says_so() -> None:
    """1, 5 and 3, 5: MS 1 below MS_r 5. The interval still reaches above 0: one degree of freedom rules little out."""
    found = components([[1, 5, 3, 5]], [list("aabb")])
    assert found.sessions is not None
    assert found.total is not None
    assert (found.sessions.sd, found.sessions.is_zero, found.sessions.low) == (0, True, 0)
    assert found.sessions.high > 1
    assert (found.total.sd, found.total.freedom) == (pytest.approx(math.sqrt(5)), 2)


@pytest.mark.parametrize(
    ("rows", "sessions", "specimens", "why_no_sessions", "why_no_specimens"),
    [
        ([[1, 2, 4]] * 2, None, None, NO_SESSIONS, NO_SPECIMENS),
        ([[1, 2, 4]] * 2, [["", "", ""]] * 2, [["", "", ""]] * 2, NO_SESSIONS, NO_SPECIMENS),
        ([[1, 2, 4]] * 2, [list("aaa"), list("bbb")], [list("111")] * 2, ONE_SESSION, ONE_SPECIMEN),
        ([[1, 2, 4], [3, 5, 8]], [list("abc")] * 2, None, NO_REPEATS, NO_SPECIMENS),
        ([[1, 2, 4], [3, 5, 8]], None, [list("123")] * 2, NO_SESSIONS, NO_SPECIMEN_REPEATS),
        ([[1, 2, 4, 5]], [list("aabb")], [list("1122")], ONE_SESSION_A_SPECIMEN, ONE_SPECIMEN),
        ([[1, 2, 4]], [["a", "", ""]], [["", "1", "1"]], ONE_SESSION, ONE_SPECIMEN),
        ([[NAN, NAN]], [list("aa")], [list("11")], NO_SESSIONS, NO_SPECIMENS),
    ],
    ids=[
        "no names",
        "empty names",
        "one each",
        "once a session",
        "once a specimen",
        "together",
        "never both",
        "nothing read",
    ],
)
def test_what_cannot_be_separated_is_said_in_words(
    rows: object, sessions: object, specimens: object, why_no_sessions: str, why_no_specimens: str
) -> None:
    """Not 0, and the reason."""
    found = components(rows, sessions, specimens)
    assert (found.sessions, found.specimens, found.total) == (None, None, None)
    assert (found.why_no_sessions, found.why_no_specimens) == (why_no_sessions, why_no_specimens)


def test_shares_are_those_of_either_product_alone() -> None:
    """A product ten times as large that scatters ten times as much; one with a mean of 0 is left out."""
    rows, names = [[99, 101, 109, 111], [990, 1010, 1090, 1110], [-1, 1, -1, 1]], [list("aabb")] * 3
    both, alone = components(rows, names, relative=True), components(rows[:1], names[:1], relative=True)
    assert both.sessions is not None
    assert alone.sessions is not None
    assert both.sessions.mean_square == pytest.approx(2 * alone.sessions.mean_square)
    assert both.within.freedom == 4


def drawn(seed: int) -> tuple[Array, Texts, Texts]:
    """Eight products in five sessions on two specimens each, a third of the readings missing, at random."""
    rng = np.random.default_rng(seed)
    sessions = np.array([f"s{place}" for place in rng.integers(0, 5, (8, 12)).ravel()], dtype=object).reshape(8, 12)
    specimens = np.array([str(place) for place in rng.integers(0, 2, (8, 12)).ravel()], dtype=object).reshape(8, 12)
    values = np.where(rng.random((8, 12)) < 0.35, NAN, rng.normal(20, 3, (8, 12)))
    return values, sessions, specimens


def indicators(labels: list[object]) -> Array:
    """One column a label."""
    return np.array([[label == other for other in dict.fromkeys(labels)] for label in labels], dtype=float)


@pytest.mark.parametrize("seed", range(4))
def test_mean_squares_and_coefficients_are_those_of_least_squares(seed: int) -> None:
    """A second method: projections of whole design matrices, and the expectation tr(Z' M Z) of what they leave."""
    values, sessions, specimens = drawn(seed)
    rows, columns = np.nonzero(np.isfinite(values))
    y = values[rows, columns]
    session = indicators([sessions[at] for at in zip(rows, columns, strict=True)])
    products = indicators(list(rows))
    specimen = indicators([(at[0], specimens[at]) for at in zip(rows, columns, strict=True)])
    cell = indicators([(at[0], sessions[at], specimens[at]) for at in zip(rows, columns, strict=True)])

    def left(*blocks: Array) -> Array:
        design = np.hstack(blocks)
        return np.eye(len(y)) - design @ np.linalg.pinv(design)

    found = variance_components(values, sessions, specimens, relative=False)
    inside = left(cell)
    assert found.within.mean_square == pytest.approx(float(y @ inside @ y) / round(np.trace(inside)))
    for part, factor, others in (
        (found.sessions, session, (specimen,)),
        (found.specimens, specimen, (products, session)),
    ):
        assert part is not None
        before, after = left(*others), left(*others, factor)
        rank = round(np.trace(before - after))
        assert part.mean_square_freedom == rank
        assert part.mean_square == pytest.approx(float(y @ (before - after) @ y) / rank)
        assert part.coefficient == pytest.approx(float(np.trace(factor.T @ before @ factor)) / rank)


@pytest.mark.parametrize("part", ["sessions", "specimens"])
def test_a_component_is_not_moved_by_the_other(part: str) -> None:
    """Shifts of sessions, or of specimens, of a thousand: the mean square of the other is as it was."""
    values, sessions, specimens = drawn(9)
    other = specimens if part == "sessions" else sessions
    rows = np.arange(8)[:, np.newaxis] if part == "sessions" else 0
    shifted = values + 1000 * np.vectorize({"0": 0, "1": 1, "s0": 2, "s1": 0, "s2": 3, "s3": 9, "s4": 1}.get)(other) * (
        rows + 1
    )
    before, after = (variance_components(v, sessions, specimens, relative=False) for v in (values, shifted))
    assert getattr(after, part).mean_square == pytest.approx(getattr(before, part).mean_square)
    assert after.within.mean_square == pytest.approx(before.within.mean_square)


def test_the_freedom_of_a_component_reaches_as_high_as_its_interval() -> None:
    """sd times sqrt(freedom / chi-squared) ends where the interval ends; a component far above the scatter has the rank."""
    part = components([[1, 3, 5, 7, 4, 9, 5, 12]], [list("aabbccdd")]).sessions
    assert part is not None
    assert sd_interval(part.sd, part.freedom)[1] == pytest.approx(part.high, rel=1e-6)
    assert part.freedom < 3
    far = components([[1, 1.001, 900, 900.001, 400, 400.001, 700, 700.001]], [list("aabbccdd")]).sessions
    assert far is not None
    assert far.freedom == pytest.approx(3, abs=1e-3)


def test_draws_have_the_quantiles_of_the_intervals() -> None:
    """40,000 draws: what the intervals are worked out from by quadrature, by chance; a part put at 0 is not 0 in all."""
    values, sessions, specimens = drawn(2)
    found = variance_components(values, sessions, specimens, relative=False)
    inside, *others = found.sampled_variances(40_000, np.random.default_rng(0))
    for draws, part in zip((inside, *others), (found.within, found.sessions, found.specimens), strict=True):
        assert draws is not None
        assert part is not None
        np.testing.assert_allclose(np.sqrt(np.quantile(draws, [0.025, 0.975])), [part.low, part.high], rtol=0.03)
    assert found.total is not None
    assert math.sqrt(np.quantile(inside + others[0], 0.975)) == pytest.approx(found.total.high, rel=0.03)


def test_readings_that_are_all_alike_scatter_by_nothing() -> None:
    """No warning, no infinity; sessions that differ where repeats never do leave s_L on their rank."""
    flat = components([[5, 5, 5, 5]], [list("aabb")])
    assert flat.total is not None
    assert (flat.within.sd, flat.total.low, flat.total.high) == (0, 0, 0)
    apart = components([[5, 5, 6, 6, 9, 9]], [list("aabbcc")])
    assert apart.sessions is not None
    assert apart.sessions.freedom == pytest.approx(2, abs=1e-3)
    assert apart.sessions.low == pytest.approx(sd_interval(apart.sessions.sd, 2)[0], rel=1e-2)


def shared_shifts(rng: np.random.Generator, n_sessions: int, between: float, *, balanced: bool) -> tuple[Array, Texts]:
    """Ten products, two readings a session with s_r 1; unbalanced: half of the visits, a fifth of the readings gone."""
    place = np.repeat(np.arange(n_sessions), 2)
    values = rng.normal(20, 5, (10, 1)) + between * rng.standard_normal(n_sessions)[place]
    values = values + rng.standard_normal((10, len(place)))
    if not balanced:
        visits = rng.random((10, n_sessions)) < 0.5
        visits[np.arange(10), rng.integers(n_sessions, size=10)] = True
        values = np.where(visits[:, place] & (rng.random(values.shape) >= 0.2), values, NAN)
    names = np.array([f"day {day}" for day in place], dtype=object)
    return values, np.broadcast_to(names, values.shape)


@pytest.mark.parametrize(
    ("n_sessions", "between"), [(3, 1.0), pytest.param(5, 2.0, marks=only_long), pytest.param(8, 0.5, marks=only_long)]
)
@pytest.mark.parametrize("balanced", [True, False], ids=["balanced", "unbalanced"])
def test_intervals_cover_the_truth_where_products_share_the_shifts(
    n_sessions: int, between: float, *, balanced: bool
) -> None:
    """300 data sets (seed 6): s_r, s_L and s_R within three standard errors of 95 %. By Satterthwaite's freedom alone s_R of
    three sessions covered 82 to 93 %, and with the shifts of products taken for independent 66 to 68 %."""
    rng = np.random.default_rng(6)
    covered = []
    for _ in range(300):
        found = variance_components(*shared_shifts(rng, n_sessions, between, balanced=balanced), None, relative=False)
        if found.sessions is None or found.total is None:
            continue
        truths = (found.within, 1.0), (found.sessions, between), (found.total, math.hypot(1, between))
        covered.append([part.low <= truth <= part.high for part, truth in truths])
    assert len(covered) > 290
    shares = np.mean(covered, axis=0)
    assert ((shares >= 0.91) & (shares <= 0.99)).all(), shares
