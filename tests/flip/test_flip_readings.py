"""Least changes of one reading: by hand, across bands, beside the bench's repeatability, and nothing nearer."""

from __future__ import annotations

import numpy as np
import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from written_forms import score

from analysis.flips.contest import contest_of
from analysis.flips.found import READING, Change, Flip, Repeats
from analysis.flips.single import with_reading
from analysis.flips.study import flip_of
from analysis.flips.verdict import reading_in_words, verdict
from scoring.table.table import score_catalogue

FORM = """\
formula: trial
scale: {from: 0, to: 10}
measures:
  x: {unit: mm, better: lower, plausible: [0, 100], repeatability: 2.5}
  y: {unit: dB, plausible: [0, 50], repeatability: 10%}
ratings:
  a: {measure: x, curve: {line: {worst: 100, best: 0}}}
  b: {measure: y, curve: {steps: {0: 1, 20: 5, 40: 9}}}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 1}}
"""


def flipped(text: str = FORM, subject: str = "p2", rival: str | None = "p1", **readings: list[float]) -> Flip:
    """The changes by which p2 catches p1."""
    return flip_of(score(text, readings), "s", subject, rival, seed=0)


def of(found: Flip, measure: str, product: str) -> Change:
    """The change of one reading."""
    (change,) = [each for each in found.changes if (each.kind, each.name, each.product) == (READING, measure, product)]
    return change


def test_a_reading_by_hand() -> None:
    """a gives 7 and 5, b gives 5 to both: p2 has to read 20 mm less, or p1 20 mm more."""
    found = flipped(x=[30, 50], y=[25, 25])
    own, other = of(found, "x", "p2"), of(found, "x", "p1")
    assert (own.exact, other.exact) == (pytest.approx(-20, abs=1e-6), pytest.approx(20, abs=1e-6))
    assert own.verdict == other.verdict == "proved"
    assert own.u == 2.5


@pytest.mark.parametrize("read", [50.4, 49.7])
def test_a_rounded_measure_is_stated_as_it_was_read(read: float) -> None:
    """Of 50.4 mm and of 49.7 mm the formula takes 50: 30 is reached from just below 30.5 mm, and the change starts at the reading."""
    text = FORM.replace("x: {unit: mm,", "x: {unit: mm, round: {step: 1},")
    change = of(flipped(text, x=[30, read], y=[25, 25]), "x", "p2")
    ((_, stated, needed),) = change.settings
    assert stated == read
    assert change.exact == pytest.approx(30.5 - read, abs=1e-6)
    assert change.change == pytest.approx(float(needed) - read)
    assert change.certificate is not None


def test_a_jump_is_found_where_no_slope_points_to_it() -> None:
    """b is flat but for its steps: from 25 dB the step at 40 is 15 away, and a gradient would see nothing."""
    change = of(flipped(x=[30, 50], y=[25, 25]), "y", "p2")
    assert change.exact == pytest.approx(15, abs=1e-9)
    assert change.certificate is not None
    assert change.certificate.after == pytest.approx(7)


def test_a_reading_that_no_value_helps_is_proved_to_be_so() -> None:
    """p1 leads by 4.5: neither a's whole range for p2 nor b's next step is enough."""
    found = flipped(x=[0, 80], y=[45, 5])
    change = of(found, "y", "p2")
    assert (change.verdict, change.why) == ("impossible", "not from 0 to 50")


@settings(max_examples=examples(8))
@given(st.integers(0, 2**32 - 1))
def test_nothing_nearer_turns_the_order(seed: int) -> None:
    """Random readings nearer than what was found leave the order, and what is printed turns it on scoring again."""
    rng = np.random.default_rng(seed)
    table = score(FORM, {"x": rng.uniform(0, 100, 2).round(1), "y": rng.uniform(0, 50, 2).round(1)})
    column = table.column("s")
    behind = int(np.argmin(column.value))
    found = flip_of(table, "s", f"p{behind + 1}", f"p{2 - behind}", seed=0)
    contest = contest_of(table, column, behind, 1 - behind)
    for change in found.changes:
        if change.kind != READING:
            continue
        at = contest.inputs.products.index(change.product)
        stated = contest.inputs.values[change.name][0]
        if change.found:
            ends = stated[at] + 0.995 * abs(change.exact) * np.array([-1, 1])
            again = with_reading(table.catalogue, change.product, change.name, float(change.settings[0][2]))
            values = score_catalogue(table.form, again).column("s").value
            assert values[behind] >= values[1 - behind] - 1e-9
            if abs(change.exact) < 1e-9:  # the reading stands on a step's edge: nothing nearer can be told from it
                continue
        elif change.verdict == "impossible":
            ends = np.array([0.0, 100.0 if change.name == "x" else 50.0])
        else:
            continue
        moved = np.repeat(stated[None], 300, axis=0)
        low, high = np.clip(ends, 0, 100 if change.name == "x" else 50)
        moved[:, at] = rng.uniform(low, high, 300)
        assert (contest.margins(readings={change.name: moved}) < 0).all(), change


def test_a_live_reference_moves_with_the_reading() -> None:
    """On the best of the catalogue, p1's own reading moves every rating; scoring again confirms it, and no proof is claimed."""
    text = FORM.replace("{line: {worst: 100, best: 0}}", "{minmax: {better: lower}}")
    found = flipped(text, x=[30, 50, 90], y=[25, 25, 25])
    change = of(found, "x", "p1")
    assert change.verdict == "searched"
    assert change.exact == pytest.approx(20, abs=1e-6)


def test_a_measure_that_is_rounded_is_searched_in_its_steps() -> None:
    """Readings count in whole 10 mm: from 30 against 50, p2 has to read 34.9... and counts as 30."""
    text = FORM.replace("repeatability: 2.5}", "repeatability: 2.5, round: {step: 10, rule: half-up}}")
    change = of(flipped(text, x=[30, 50], y=[25, 25]), "x", "p2")
    assert change.verdict == "searched"
    assert change.exact == pytest.approx(-15, abs=0.1)
    assert change.certificate is not None


def test_first_place_moves_the_leader_only_where_it_stands_alone() -> None:
    """With two products above, no reading of one of them is enough to speak of."""
    alone = flipped(rival=None, x=[30, 50, 60], y=[25, 25, 25])
    two = flipped(subject="p3", rival=None, x=[30, 50, 60], y=[25, 25, 25])
    assert {c.product for c in alone.changes if c.kind == READING} == {"p2", "p1"}
    assert {c.product for c in two.changes if c.kind == READING} == {"p3"}


def test_a_reading_is_said_beside_what_the_bench_repeats_to() -> None:
    """The unit, the repeatability (a share of the reading turned into the unit) and the standard uncertainty."""
    found = flipped(x=[30, 50], y=[25, 25])
    known = {"x": Repeats(2.5, False), "y": Repeats(0.1, True)}
    assert reading_in_words(of(found, "x", "p2"), known) == (
        "p2 reads 20 mm less x (the bench repeats to 2.5 mm, the value is known to 2.5 mm)"
    )
    assert "the bench repeats to 2.5" in reading_in_words(of(found, "y", "p2"), known)
    assert "catches p1" in verdict(found, known)
