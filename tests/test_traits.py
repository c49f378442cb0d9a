"""The traits that blends and curves state of themselves are true of what the kernel works out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from written_forms import curve_form, own_numbers, values_of

from scoring.blends import BLENDS, NUMBERS, Blend, Weights
from scoring.curves import KINDS
from scoring.curves.kind import HIGH, LOW
from scoring.form_reference.curves import example_curve

Array = NDArray[np.float64]
HEAD = 'formula: trial\nscale: {from: -1000}\nmeasures: {x: {unit: "1"}, y: {unit: "1"}, z: {unit: "1"}}\n'
RATINGS = "ratings:\n  a: {value: x}\n  b: {value: y}\n  c: {value: z}\n"
WEIGHTS = (1.0, 2.5, 0.5)
RNG = np.random.default_rng(11)
#: Parts of forty products, all above 1.
PARTS = RNG.uniform(1.5, 9.5, (3, 40))


def blended(blend: str, parts: Array, weights: Sequence[float] = WEIGHTS) -> Array:
    """The blend of three parts, shape (3, n), product by product, shape (n,)."""
    written = ", ".join(f"{name}: {weight!r}" for name, weight in zip("abc", weights, strict=True))
    text = f"{HEAD}{RATINGS}scores:\n  s: {{blend: {blend}{own_numbers(blend)}, weights: {{{written}}}}}\n"
    return np.array(values_of(text, "s", **dict(zip("xyz", parts, strict=True))))


def multiplied(blend: type[Blend]) -> bool:
    """Whether a blend stays as it is where all weights are multiplied by the same."""
    return bool(
        np.allclose(blended(blend.name, PARTS, [0.5 * w for w in WEIGHTS]), blended(blend.name, PARTS), rtol=1e-12)
    )


@pytest.mark.parametrize("name", BLENDS)
def test_a_blend_says_what_its_weights_are(name: str) -> None:
    """Shares stay if all are multiplied by the same, multipliers do not, and marks stay whatever is above 0."""
    blend = BLENDS[name]
    assert multiplied(blend) == (blend.weights is not Weights.MULTIPLIERS)
    others = np.allclose(blended(name, PARTS, [3.0, 0.2, 1.0]), blended(name, PARTS), rtol=1e-12)
    assert others == (blend.weights is Weights.MARKS)


@pytest.mark.parametrize("name", BLENDS)
def test_a_blend_is_a_sum_of_its_parts_if_it_says_so(name: str) -> None:
    """Of weighted parts, or of their shares; no other gives that sum."""
    blend = BLENDS[name]
    factors = np.array(WEIGHTS) / (1.0 if blend.weights is Weights.MULTIPLIERS else sum(WEIGHTS))
    assert np.allclose(blended(name, PARTS), factors @ PARTS, rtol=1e-12) == blend.additive


@pytest.mark.parametrize("name", BLENDS)
def test_a_blend_lies_between_its_parts_if_it_says_so(name: str) -> None:
    """Between the least and the greatest, for every product; one that is not said to leaves them."""
    found = blended(name, PARTS)
    inside = (found >= PARTS.min(axis=0) - 1e-12) & (found <= PARTS.max(axis=0) + 1e-12)
    assert bool(inside.all()) == BLENDS[name].internal


@pytest.mark.parametrize("name", BLENDS)
def test_a_blend_goes_up_by_what_is_added_to_all_parts_if_it_says_so(name: str) -> None:
    """And then it falls with none of them."""
    goes_along = np.allclose(blended(name, PARTS + 3.25), blended(name, PARTS) + 3.25, rtol=1e-12)
    assert goes_along == BLENDS[name].equivariant
    if goes_along:
        raised = [blended(name, PARTS + np.eye(3)[[k]].T) for k in range(3)]
        assert all((found >= blended(name, PARTS) - 1e-12).all() for found in raised)


@pytest.mark.parametrize("name", BLENDS)
def test_a_blend_takes_no_part_below_its_least(name: str) -> None:
    """One at it has a value, and so has any where it names none."""
    least = BLENDS[name].least_value
    parts = PARTS.copy()
    parts[0, 0] = least if np.isfinite(least) else -50.0
    assert np.isfinite(blended(name, parts)).all()


def test_blends_that_share_a_key_share_its_declaration() -> None:
    """A key is said once, whichever blend takes it."""
    for blend in BLENDS.values():
        assert [NUMBERS[key.name] for key in blend.numbers] == list(blend.numbers)


@pytest.mark.parametrize("name", [name for name, kind in KINDS.items() if kind.anchored])
def test_a_curve_is_constant_from_anchor_to_anchor_if_it_says_so(name: str) -> None:
    """Between two anchors of unlike ratings, the same as at the first of them."""
    kind = KINDS[name]
    (start, before), (end, after) = ((at.value, gives.value) for at, gives in example_curve(kind).anchors[:2])
    assert before != after
    inside = np.linspace(start, end, 9)[:-1]
    found = np.array(values_of(curve_form(kind.example, "{from: 0}"), "r", x=inside))
    assert bool((found == before).all()) == kind.stepped


@pytest.mark.parametrize("name", [name for name, kind in KINDS.items() if kind.clamped])
def test_a_curve_is_cut_off_at_the_ends_of_the_scale_that_it_names(name: str) -> None:
    """Far from a frozen population, readings that differ get the same end."""
    reference = (
        "reference: {mean: 30, sd: 5}" if "mean" in KINDS[name].figures else "reference: {least: 20, greatest: 40}"
    )
    example = KINDS[name].example
    text = curve_form(f"{example}, {reference}")
    found = np.array(values_of(text, "r", x=[0.5, 1.0, 2.0, 1e4, 2e4]))
    ends = {1.0: LOW, 10.0: HIGH}
    met = {ends[value] for value in found.tolist() if value in ends and (found == value).sum() > 1}
    assert set(KINDS[name].clamped) <= met
