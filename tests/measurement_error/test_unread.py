"""Readings that were not made: which are drawn, within what, how that is said, and how often the draws hold what comes."""

from __future__ import annotations

import numpy as np
import pytest
from catalogues import read_text
from extent import only_long
from forms import form, measure
from numpy.typing import NDArray

from scoring.catalogue import Catalogue, from_arrays
from scoring.form import Form
from scoring.measurement_error.unread import Unread, unread_draws, unread_law

Array = NDArray[np.float64]
NAN = float("nan")


def drawn(held: Catalogue, using: Form, n: int = 500, seed: int = 1) -> Unread:
    """Draws of all that was not read."""
    return unread_draws(using, held, n, np.random.default_rng(seed))


def columns(n: int, seed: int = 0) -> dict[str, Array]:
    """Two measures that go together, and a third by itself."""
    rng = np.random.default_rng(seed)
    x = rng.standard_normal(n)
    return {"x": 50 + 10 * x, "y": 20 + 4 * (0.9 * x + np.sqrt(0.19) * rng.standard_normal(n)), "z": rng.random(n)}


def catalogue(n: int, seed: int = 0, **gaps: list[int]) -> Catalogue:
    """A catalogue of the three measures with some readings not made."""
    values = columns(n, seed)
    for name, products in gaps.items():
        values[name][products] = NAN
    return from_arrays([f"p{i}" for i in range(n)], values)


FORM = form([measure("x", plausible=(0, 100)), measure("y"), measure("z", plausible=(0, 1))])


def test_what_is_missing_is_drawn_and_nothing_else() -> None:
    """By measure, with its products; what the product's other readings say of it is in the draws."""
    held = catalogue(60, x=[3, 8])
    found = drawn(held, FORM)
    assert list(found.measures) == ["x"]
    assert found.measures["x"].missing.products.tolist() == [3, 8]
    assert found.measures["x"].missing.values.shape == (500, 2)
    assert not len(found.measures["x"].below.products)
    whole = columns(60)["x"]
    assert found.measures["x"].missing.values.mean(axis=0) == pytest.approx(whole[[3, 8]], abs=3.5 * 4.4)
    assert (found.measures["x"].missing.values.std(axis=0) < 0.75 * whole.std()).all()
    filled = found.filled()["x"]
    assert np.isnan(filled[:, [0, 1, 2]]).all()
    assert np.isfinite(filled[:, [3, 8]]).all()


def test_the_same_generator_gives_the_same_draws() -> None:
    """And another one others."""
    held = catalogue(20, x=[3])
    one, again, other = (drawn(held, FORM, seed=seed).measures["x"].missing.values for seed in (0, 0, 1))
    assert one.tobytes() == again.tobytes() != other.tobytes()


def test_a_draw_stays_within_the_plausible_range_and_is_rounded_as_a_reading_is() -> None:
    """A range that cuts into the readings' own spread, and a step of 5."""
    tight = form([measure("x", plausible=(20, 55), step=5.0), measure("y"), measure("z")])
    values = columns(30)
    values["x"] = np.clip(values["x"], 20, 55)
    values["x"][4] = NAN
    found = drawn(from_arrays([f"p{i}" for i in range(30)], values), tight, 2000).measures["x"].missing.values
    assert found.min() >= 20
    assert found.max() <= 55
    assert (found % 5 == 0).all()
    assert len(np.unique(found)) > 2


def test_what_does_not_apply_is_not_drawn(tmp_path: object) -> None:
    """Only what the bench might have read."""
    lines = "\n".join(f"A-{i},{20 + i},{40 + (i * 7) % 11}" for i in range(12))
    held = read_text(tmp_path, f"product,noise [dB],sag [mm]\n{lines}\nB-1,not applicable,41\nB-2,,44\n", NOISY)  # type: ignore[arg-type]
    assert [held.products[i] for i in drawn(held, NOISY).measures["noise"].missing.products] == ["B-2"]


NOISY = form([measure("sag", unit="mm"), measure("noise", unit="dB", plausible=(18, 75), reporting_limit=22.0)])


def noisy(tmp_path: object, *lines: str, using: Form = NOISY) -> Catalogue:
    """Twelve products with readings of their own, and others by their lines."""
    own = [f"A-{i},{23 + i},{23.5 + i},{24 + i},{40 + (i * 7) % 11}" for i in range(12)]
    text = "\n".join(["product,noise [dB] #1,noise [dB] #2,noise [dB] #3,sag [mm]", *own, *lines])
    return read_text(tmp_path, text + "\n", using)  # type: ignore[arg-type]


def test_a_reading_below_the_limit_is_drawn_below_it_down_to_the_plausible_end(tmp_path: object) -> None:
    """All repeats below: from 18 to 22. One of three below, the others at 23 and 24: the mean lies from 21.67 to 23."""
    held = noisy(tmp_path, "B-1,<22,<22,<22,41", "B-2,<22,23,24,44")
    found = drawn(held, NOISY, 2000).measures["noise"]
    assert [held.products[i] for i in found.below.products] == ["B-1", "B-2"]
    assert not len(found.missing.products)
    whole, part = found.below.values.T
    assert 18 <= whole.min() < 21
    assert 21.9 < whole.max() <= 22
    assert 65 / 3 <= part.min() < 22
    assert 22.5 < part.max() <= 23
    assert "below the reporting limit" in found.says


def test_a_median_that_one_repeat_below_cannot_move_is_not_drawn(tmp_path: object) -> None:
    """Its lowest repeat of three lies below the limit, wherever that is."""
    using = form([NOISY.measures[0], measure("noise", unit="dB", repeats="median", reporting_limit=22.0)])
    assert drawn(noisy(tmp_path, "B-2,<22,23,24,44", using=using), using).measures == {}


def test_a_reading_that_counts_as_missing_for_lying_below_the_limit_is_drawn_below_it(tmp_path: object) -> None:
    """`below_limit: missing` takes the figure away, not what is known."""
    using = form([NOISY.measures[0], measure("noise", unit="dB", reporting_limit=22.0, below_limit="missing")])
    found = drawn(noisy(tmp_path, "B-1,<22,<22,<22,41", "B-2,,,,44", using=using), using, 2000).measures["noise"]
    assert found.missing.values[:, 0].max() <= 22 < np.median(found.missing.values[:, 1])


def test_few_products_give_wide_draws_and_it_is_said() -> None:
    """Five with it: by itself, t's tails; two: evenly over the plausible range; without one: not at all, and why."""
    held = from_arrays(
        [f"p{i}" for i in range(7)],
        {"x": [40, 45, 50, 55, 60, NAN, NAN], "y": [NAN] * 7, "z": [0.3, 0.4, *[NAN] * 5]},
    )
    law = unread_law(FORM, held, np.random.default_rng(0))
    found = law.draw(4000, np.random.default_rng(1))
    assert "by itself, for they are few" in found.measures["x"].says
    assert np.ptp(np.quantile(found.measures["x"].missing.values[:, 0], [0.025, 0.975])) > 40
    even = found.measures["z"].missing.values
    assert "evenly within 0 to 1" in found.measures["z"].says
    assert np.quantile(even, [0.1, 0.5, 0.9]) == pytest.approx([0.1, 0.5, 0.9], abs=0.02)
    assert list(found.undrawn) == ["y"]
    assert "no `plausible` range is declared" in found.undrawn["y"]
    assert len(law.says) == 3


def test_nothing_missing_draws_nothing() -> None:
    """And says nothing."""
    law = unread_law(FORM, catalogue(12), np.random.default_rng(0))
    assert law.says == ()
    assert law.draw(3, np.random.default_rng(0)).filled() == {}


@pytest.mark.parametrize(("correlation", "skewed"), [(0.0, True), pytest.param(0.8, False, marks=only_long)], ids=str)
def test_what_comes_lies_in_the_95_per_cent_interval_about_as_often_as_it_says(
    correlation: float, skewed: bool
) -> None:
    """200 catalogues of 15 products and 4 measures; three standard errors of 95 % are 4.6 points. `tests/unread_campaign.py`
    has more, by hand."""
    hits = 0
    root = np.linalg.cholesky(np.full((4, 4), correlation) + (1 - correlation) * np.eye(4))
    using = form([measure(name) for name in "abcd"])
    for seed in range(200):
        rng = np.random.default_rng([seed, 77])
        values = rng.standard_normal((15, 4)) @ root.T
        values = np.exp(values) if skewed else values
        true = values[0, 0]
        values[0, 0] = NAN
        held = from_arrays([f"p{i}" for i in range(15)], dict(zip("abcd", values.T, strict=True)))
        low, high = np.quantile(unread_draws(using, held, 256, rng).measures["a"].missing.values[:, 0], [0.025, 0.975])
        hits += int(low <= true <= high)
    assert 0.904 <= hits / 200 <= 0.995
