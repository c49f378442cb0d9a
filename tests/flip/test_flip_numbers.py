"""Least changes of anchors and bounds: by hand, outward, and nothing nearer where that is said to be proved."""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import score

from analysis.flips.contest import contest_of
from analysis.flips.crossing import crossing, first_reached
from analysis.flips.found import Change, Flip
from analysis.flips.study import flip_of
from analysis.short_figures import outward

FORM = """\
formula: trial
scale: {from: 0, to: 10}
measures:
  x: {unit: mm, plausible: [0, 100]}
  y: {unit: mm, plausible: [0, 100]}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b: {measure: y, curve: {points: {0: 0, 50: 6, 100: 10}}}
scores:
  s:
    blend: weighted mean
    weights: {a: 1, b: 1}
    limits: [{when: b < 3, at_most: 4}]
"""


def flipped(text: str = FORM, subject: str = "p2", rival: str | None = "p1", **readings: list[float]) -> Flip:
    """The changes by which p2 catches p1."""
    return flip_of(score(text, readings), "s", subject, rival, seed=0)


def of(found: Flip, ending: str) -> Change:
    """The change of the number whose address ends so."""
    (change,) = [each for each in found.changes if each.name.endswith(ending)]
    return change


def test_an_anchor_by_hand() -> None:
    """a gives 8 and 7, b 6 and 6.4: with `best` at t below 80, p1 is held at 10, and p2 ties at 700 / t + 6.4 = 10 + 6."""
    found = flipped(x=[80, 70], y=[50, 55])
    assert found.lead == pytest.approx(-0.3)
    best = of(found, "a.curve.line.best")
    assert best.verdict == "proved"
    assert best.exact == pytest.approx(700 / 9.6 - 100, abs=1e-6)
    assert [text for _, _, text in best.settings] == ["72.9"]


def test_a_bound_by_hand() -> None:
    """p1's b of 2.4 holds it at 4, p2 stands at 3.5: the bound has to come down to 3.5."""
    bound = of(flipped(x=[90, 30], y=[20, 100 / 3]), "limits.1.at_most")
    assert bound.exact == pytest.approx(-0.5, abs=1e-6)
    assert [text for _, _, text in bound.settings] == ["3.500"]
    assert bound.verdict == "proved"


def test_what_is_printed_lies_outward_and_turns_the_order() -> None:
    """Every certificate stands, and no printed change is smaller than the one found."""
    found = flipped(x=[80, 70], y=[50, 55])
    there = [change for change in found.changes if change.found]
    assert len(there) >= 3
    for change in there:
        assert change.certificate is not None
        assert change.certificate.after - change.certificate.other_after > -1e-9
        assert abs(change.change) >= abs(change.exact) * (1 - 1e-9)
        assert abs(change.change) <= abs(change.exact) * 1.01


@pytest.mark.parametrize("seed", range(6))
def test_nothing_nearer_turns_the_order_where_that_is_proved(seed: int) -> None:
    """Of 300 random values of each number, none below 99.5 % of the change does, and none at all where it is impossible."""
    rng = np.random.default_rng(seed)
    text = FORM.replace("line: {worst: 0, best: 100}", "log: {worst: 2, best: 90}") if seed % 2 else FORM
    table = score(text, {"x": rng.uniform(10, 90, 2).round(1), "y": rng.uniform(10, 90, 2).round(1)})
    behind = int(np.argmin(table.column("s").value))
    found = flip_of(table, "s", f"p{behind + 1}", f"p{2 - behind}", seed=0)
    contest = contest_of(table, table.column("s"), behind, 1 - behind)
    ways = [change for change in found.changes if change.kind in ("anchor", "limit")]
    assert {change.verdict for change in ways} <= {"proved", "searched", "impossible", "not decided"}
    for change in ways:
        number = contest.program.parameters[change.name][1].value
        if change.verdict == "proved":
            values = number + rng.uniform(-0.995, 0.995, 300) * abs(change.exact)
        elif change.verdict == "impossible":
            low, high = (float(word) for word in change.why.removeprefix("not from ").split(" to "))
            values = rng.uniform(low, high, 300)
        else:
            continue
        assert (contest.margins({change.name: values}) < 0).all(), change


def test_a_curve_with_written_anchors_is_searched_only() -> None:
    """Intervals say nothing of an anchor of a broken line, so no proof is claimed."""
    found = flipped(x=[80, 70], y=[50, 55])
    verdicts = {change.verdict for change in found.changes if ".points." in change.name}
    assert verdicts <= {"searched", "not decided"}
    assert verdicts


def test_a_curve_that_says_error_outside_its_anchors_is_not_confirmed() -> None:
    """A change that leaves a reading outside is refused by the scoring itself."""
    text = FORM.replace("{line: {worst: 0, best: 100}}", "{line: {worst: 0, best: 100}, outside: error}")
    best = of(flipped(text, x=[80, 70], y=[50, 55]), "a.curve.line.best")
    assert best.verdict == "not decided"
    assert "not confirmed" in best.why


def test_a_window_narrower_than_the_range_is_found_where_a_gradient_would_not() -> None:
    """A tie that is reached in the middle only, and lost again: the nearest edge of it."""
    found = first_reached(lambda values: np.abs(values - 3) <= 0.5, 0.0, 10.0)
    assert found == pytest.approx(2.5, abs=1e-9)
    nothing = crossing(lambda values: values > 99, 1.0, (0.0, 2.0), lambda low, high: False)
    assert (nothing.value, nothing.verdict) == (None, "not decided")


@pytest.mark.parametrize(
    ("stated", "needed", "end", "text"),
    [
        (0.26, 0.22895999, 0.0, "0.2289"),
        (2.0, 2.1 + 1e-7, 5.0, "2.101"),
        (5.0, 1234.4, 9e9, "1240"),
        (0.1, 0.0, 0.0, "0.000"),
    ],
    ids=["down", "up", "large", "to nothing"],
)
def test_outward_rounding(stated: float, needed: float, end: float, text: str) -> None:
    """Three digits of the change, away from the stated value."""
    done = outward(stated, needed, end, lambda value: value if abs(value - stated) >= abs(needed - stated) else None)
    assert done is not None
    assert done[0] == text


def test_outward_rounding_stays_within_the_room() -> None:
    """A figure beyond the end is not tried; the exact one is the last resort."""
    done = outward(1.0, 2.00049, 2.0005, lambda value: value)
    assert done is not None
    assert 2.00049 <= float(done[0]) <= 2.0005
