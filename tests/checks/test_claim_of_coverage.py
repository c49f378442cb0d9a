"""Claims that bands cover the scale, and that a table of steps covers the readings."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scoring.checks import Finding, check
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED
from scoring.program.program import Program

LINE = "ratings: {a: {measure: sag, curve: {line: {worst: 50, best: 0}}}}"


@pytest.mark.parametrize(
    ("bands", "verdict", "detail"),
    [
        ("{good: 7, fair: 4, poor: 0}", PROVED, "3 bands, each from its edge to the next"),
        ("{good: 7, fair: 4, poor: -1}", PROVED, "3 bands, each from its edge to the next"),
        ("{good: 7, fair: 4, poor: 0.5}", REFUTED, "from 0 to below 0.5 there is no band"),
        ("{best: 12, good: 7, poor: 0}", REFUTED, "`best` begins above the scale's high end, and is never reached"),
        (
            "{good: 7, poor: 0, worse: -3}",
            REFUTED,
            "`worse` ends at or below the scale's low end, and is never reached",
        ),
        ("{top: 10, poor: 0}", PROVED, "2 bands, each from its edge to the next"),
    ],
    ids=["whole", "reaching lower", "a gap below", "one above", "one below", "one at the top alone"],
)
def test_bands_must_cover_the_scale(finding_of: Callable[..., Finding], bands: str, verdict: str, detail: str) -> None:
    """Each band reaches from its lower edge to the next; the lowest reaches the scale's low end, none is out of reach."""
    finding = finding_of(f"bands: {bands}\n{LINE}", "", "bands")
    assert (finding.verdict, finding.detail, finding.claim) == (verdict, detail, "bands cover the scale from 0 to 10")


WIDE = """
bands: BANDS
ratings: {r: {measure: sag, curve: {line: {worst: 50, best: 0}}}}
scores:
  total: {value: 2 * r, scale: {from: 0, to: 20}}
  half: {value: r / 2 + 1, scale: {from: 1, to: 6}}
"""


@pytest.mark.parametrize(
    ("bands", "verdict", "detail"),
    [
        ("{low: 0, high: 15}", PROVED, "2 bands, each from its edge to the next"),
        ("{low: 1, high: 15}", REFUTED, "from 0 to below 1 there is no band for total"),
        ("{low: 0, high: 25}", REFUTED, "`high` begins above every scale's high end, and is never reached"),
        ("{less: -1, low: 0.5}", PROVED, "2 bands, each from its edge to the next"),
        ("{less: -1, low: 0}", REFUTED, "`less` ends at or below every scale's low end, and is never reached"),
    ],
    ids=["whole", "a gap below", "one above", "one that is reached by one score", "one below"],
)
def test_bands_are_held_against_each_scores_own_scale(
    finding_of: Callable[..., Finding], bands: str, verdict: str, detail: str
) -> None:
    """A band is reached if some score reaches it, and every score has a band from its own low end on."""
    finding = finding_of(WIDE.replace("BANDS", bands), "", "bands")
    assert (finding.verdict, finding.detail) == (verdict, detail)
    assert finding.claim == "bands cover the scales of total from 0 to 20; half from 1 to 6"


def test_bands_are_held_against_the_one_scale_of_the_scores(finding_of: Callable[..., Finding]) -> None:
    """The formula's own scale plays no part where no score is on it."""
    body = """
bands: {low: 0, high: 15}
ratings: {r: {measure: sag, curve: {line: {worst: 50, best: 0}}}}
scores: {total: {value: 2 * r, scale: {from: 0, to: 20}}}
"""
    finding = finding_of(body, "", "bands")
    assert (finding.verdict, finding.claim) == (PROVED, "bands cover the scale from 0 to 20")


@pytest.mark.parametrize(
    ("curve", "verdict", "counts"),
    [
        ("{steps: {0: 10, 30: 2}}", PROVED, 0),
        ("{steps: {-5: 10, 30: 2}}", PROVED, 0),
        ("{steps: {5: 10, 30: 2}}", REFUTED, 1),
        ("{steps: {5: 10, 30: 2}, outside: held}", PROVED, 0),
        ("{steps: {0: 10, 30: 2}, outside: error}", REFUTED, 1),
        ("{steps: {0: 10, 50: 2}, outside: error}", PROVED, 0),
    ],
    ids=["whole", "from below", "a gap below", "held and said so", "refused above", "refused beyond the range only"],
)
def test_steps_must_cover_the_plausible_range(
    finding_of: Callable[..., Finding], curve: str, verdict: str, counts: int
) -> None:
    """From the first edge on there is a step; below it only where `outside` is written."""
    finding = finding_of(f"ratings: {{a: {{measure: sag, curve: {curve}}}}}", "a", "steps", "sag")
    assert finding.verdict == verdict
    assert len(finding.counterexample) == counts


def test_a_gap_below_the_steps_says_what_to_write(finding_of: Callable[..., Finding]) -> None:
    """The stretch, what is done there now, and how to say that it is meant."""
    finding = finding_of("ratings: {a: {measure: sag, curve: {steps: {5: 10, 30: 2}}}}", "a", "steps", "sag")
    assert finding.detail == (
        "from 0 to below 5 mm no step is written: the first step, 10, is held there; write `outside: held` if that is meant"
    )


def test_steps_of_a_measure_without_a_range_are_left_open(finding_of: Callable[..., Finding]) -> None:
    """Nothing can be covered that is not stated."""
    finding = finding_of("ratings: {a: {measure: noise, curve: {steps: {0: 10, 30: 2}}}}", "a", "steps", "noise")
    assert (finding.verdict, finding.detail) == (NOT_DECIDED, "give the measure `noise` a plausible range")


@pytest.mark.parametrize(
    ("bands", "top", "tried"),
    [
        ("{good: 3, middling: 5, poor: 1}", "middling", "{good: 5, middling: 3, poor: 1}"),
        ("{good: 3, middling: 1, poor: 5}", "poor", "{good: 1, middling: 3, poor: 5}"),
        ("{good: 7, fair: 4, poor: 1}", "", ""),
        ("{poor: 1, fair: 4, good: 7.50}", "", ""),
        ("{fair: 10, good: 9}", "", ""),
        ("{all: 1}", "", ""),
    ],
)
def test_bands_named_in_no_order_are_warned_of(
    program_of: Callable[..., Program], bands: str, top: str, tried: str
) -> None:
    """Of the formula's bands and of those of one score; best first or last are both an order."""
    own = f"scores: {{b: {{value: a, bands: {bands}}}}}"
    for text in (f"bands: {bands}\n{LINE}", f"{LINE}\n{own}"):
        warnings = check(program_of(text), seed=0).warnings
        found = [one for one in warnings if "neither fall nor rise" in one.says]
        assert len(found) == bool(top)
        for one in found:
            assert f"the highest figures are `{top}`" in one.says
            assert one.says.endswith(f"in that order they would be {tried}")
            assert one.place.line
