"""Acceptability of places and typical weights where they can be worked out exactly, through a form and a study.

Method: R. Lahdelma and P. Salminen, SMAA-2: stochastic multicriteria acceptability analysis for group decision making,
Operations Research 49(3), 2001, 444-454 (from memory; no worked table of theirs could be read). The figures are worked out
here, as areas of the triangle of weights.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import ArrayLike
from written_forms import form_of

from analysis.rankings.stability import RankStability, rank_stability
from analysis.study.reader import read_study
from scoring.catalogue import from_arrays
from scoring.table.table import score_catalogue

#: Two and a half standard errors of a chance of a half over the default 16,384 draws.
TOLERANCE = 0.01


def accepted(rule: str, **readings: ArrayLike) -> RankStability:
    """The stability of a mean of ratings that are their measures, under a rule for its weights; products are p1, p2, ..."""
    names = list(readings)
    lines = ["formula: closed", "scale: {from: 0, to: 1}", "measures:"]
    lines += [f'  {name}: {{unit: "1"}}' for name in names]
    lines += ["ratings:"]
    lines += [f"  r_{name}: {{measure: {name}, curve: {{line: {{worst: 0, best: 1}}}}}}" for name in names]
    weights = ", ".join(f"r_{name}: {len(names) - place}" for place, name in enumerate(names))
    lines += ["scores:", f"  s: {{blend: weighted mean, weights: {{{weights}}}}}", ""]
    form = form_of("\n".join(lines))
    catalogue = from_arrays([f"p{i + 1}" for i in range(len(np.asarray(readings[names[0]])))], readings)
    study = read_study(f"study: all weights\nvary:\n  - {{weights: s, {rule}}}\n", "study.yaml", form, catalogue)
    (found,) = rank_stability(study, score_catalogue(form, catalogue))
    assert list(found.by_source) == ["judgement"]
    order = [found.quantities.ids.index(name) for name in sorted(found.quantities.ids)]
    return in_order(found.by_source["judgement"], order)


def in_order(found: RankStability, order: list[int]) -> RankStability:
    """The figures looked at here, product by product as they were read."""
    return replace(
        found, acceptability=found.acceptability[order], typical=found.typical[order], first=found.first[order]
    )


def close(found: ArrayLike, expected: ArrayLike) -> None:
    """Within the error of the draws."""
    np.testing.assert_allclose(found, expected, rtol=0, atol=TOLERANCE)


def test_two_criteria_all_weights_alike() -> None:
    """A = (1, 0), B = (0, 1), C = (0.6, 0.6), weight w on the first, uniform on 0 to 1: A is first above w = 0.6, second
    between 0.5 and 0.6 (it passes B at a half), last below; C is first from 0.4 to 0.6 and never last. The typical weights
    are the middles of 0.6 to 1, 0 to 0.4 and 0.4 to 0.6."""
    found = accepted("simplex: uniform", x=[1, 0, 0.6], y=[0, 1, 0.6])
    close(found.acceptability, [[0.4, 0.1, 0.5], [0.4, 0.1, 0.5], [0.2, 0.8, 0.0]])
    close(found.typical, [[0.8, 0.2], [0.2, 0.8], [0.5, 0.5]])
    assert found.acceptability[2, 2] == 0


def test_two_criteria_in_order_of_weight() -> None:
    """The same three, the first weight the greater: w uniform on 0.5 to 1, so that A is first in 0.8 of it, B never."""
    found = accepted("simplex: uniform, order: stated", x=[1, 0, 0.6], y=[0, 1, 0.6])
    close(found.acceptability, [[0.8, 0.2, 0.0], [0.0, 0.0, 1.0], [0.2, 0.8, 0.0]])
    close(found.typical[[0, 2]], [[0.8, 0.2], [0.55, 0.45]])
    assert np.isnan(found.typical[1]).all()


@pytest.mark.parametrize("d", [0.5, 0.45])
def test_three_criteria_all_weights_alike(d: float) -> None:
    """Three products best in one criterion each, A = (1, 0, 0), B, C, score w1, w2, w3; D = (d, d, d) always scores d.

    Areas of the triangle of weights, whose whole is 1: w1 > d is a triangle of side 1 - d, area (1 - d)^2; w1 > d and w2 > d
    one of side 1 - 2d, area (1 - 2d)^2; all three above d nothing, d being over a third. So D is beaten by exactly two in
    t = 3 (1 - 2d)^2, by exactly one in o = 3 (1 - d)^2 - 2 t, by none in n = 1 - o - t. By symmetry A is the best, the middle
    and the last of the three in a third each. As the best it is first but where D is (n / 3), as the middle it is third but
    where it beats D (t / 3), as the last it is fourth, its score being at most a third.
    """
    two = 3 * (1 - 2 * d) ** 2
    one = 3 * (1 - d) ** 2 - 2 * two
    none = 1 - one - two
    alike = [1 / 3 - none / 3, none / 3 + two / 3, 1 / 3 - two / 3, 1 / 3]
    found = accepted("simplex: uniform", x=[1, 0, 0, d], y=[0, 1, 0, d], z=[0, 0, 1, d])
    close(found.acceptability, [alike, alike, alike, [none, one, two, 0.0]])
    assert found.acceptability[3, 3] == 0


def test_three_criteria_typical_weights() -> None:
    """At d = 1/2 the four regions are triangles of half the side: A's has the corners (1, 0, 0), (1/2, 1/2, 0) and
    (1/2, 0, 1/2), hence the middle (2/3, 1/6, 1/6); D's is the one in between, with the middle of the whole."""
    found = accepted("simplex: uniform", x=[1, 0, 0, 0.5], y=[0, 1, 0, 0.5], z=[0, 0, 1, 0.5])
    close(found.first, [0.25] * 4)
    near, far = 2 / 3, 1 / 6
    close(found.typical, [[near, far, far], [far, near, far], [far, far, near], [1 / 3] * 3])


def test_places_add_to_one_by_product_and_by_place() -> None:
    """Nothing is absent and nothing ties, so that every draw gives each product one place and each place one product."""
    rng = np.random.default_rng(3)
    found = accepted("simplex: uniform", **{name: rng.uniform(size=7) for name in ("x", "y", "z")})
    np.testing.assert_allclose(found.acceptability.sum(axis=0), 1, rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.acceptability.sum(axis=1), 1, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(found.acceptability[:, 0], found.first)
