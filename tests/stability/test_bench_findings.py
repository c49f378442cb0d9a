"""What the bench's noise says beside the joint sets: the top set, sets alone, the lead and shrunken scores of the laboratory."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.rankings.bench_findings import BenchFindings, bench_findings
from analysis.rankings.distinguishable import bench_of, score_covariance
from analysis.rankings.rank_sets import tau_best
from analysis.rankings.verdict import findings_verdict
from analysis.trials.quantities import Quantities, quantities_of
from scoring.catalogue import read_catalogue
from scoring.reader import read_form
from scoring.table.table import score_catalogue

LABORATORY = Path(__file__).parents[2] / "examples" / "laboratory"
Found = tuple[Quantities, BenchFindings]


@pytest.fixture(scope="module")
def found() -> Found:
    """The first score of the laboratory."""
    form = read_form(LABORATORY / "guest-bed.yaml")
    table = score_catalogue(form, read_catalogue(LABORATORY, form))
    asked = quantities_of(form, table.column("two_abed"), table.catalogue.products, 5, ())
    findings = bench_findings(asked, bench_of(table, 0, draws=4000)["two_abed"], seed=0)
    assert findings is not None
    return asked, findings


@pytest.mark.parametrize("places", [1, 5, 20])
def test_the_top_set_is_that_of_its_own_algorithm(found: Found, places: int) -> None:
    """`tau_best` on the same draws names the same products: the joint sets hold all of these questions at once."""
    asked, findings = found
    bench = findings.bench
    assert bench.errors is not None
    same = tau_best(
        asked.values,
        bench.errors.spread,
        places,
        rng=np.random.default_rng(0),
        errors=bench.errors.errors,
        undecided=bench.undecided,
    )
    assert findings.top_set(places) == tuple(np.flatnonzero(same.members).tolist())


def test_a_question_about_one_product_leaves_it_no_more_places(found: Found) -> None:
    """A set for one product lies within its joint set, but where the simulation leaves a bound open, and mostly is smaller."""
    findings = found[1]
    joint, alone = findings.bench.sets, findings.alone
    sure = ~(joint.low_unsure | joint.high_unsure | alone.low_unsure | alone.high_unsure)
    assert (alone.low >= joint.low)[sure].all()
    assert (alone.high <= joint.high)[sure].all()
    assert (alone.high - alone.low).sum() < 0.9 * (joint.high - joint.low).sum()


def test_the_covariance_is_that_of_the_scores_under_noise(found: Found) -> None:
    """One place hands it out: the lead's standard error is of the first two."""
    findings = found[1]
    covariance = score_covariance(findings.bench)
    assert findings.lead is not None
    expected = np.sqrt(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1])
    assert findings.lead.margin.sd == pytest.approx(expected)
    assert (findings.lead.first, findings.lead.second) == (0, 1)


def test_sentences_carry_the_figures(found: Found) -> None:
    """The lead with its interval, the products of the top set, and what shrinking does to the order."""
    asked, findings = found
    lead, top, shrunken = findings_verdict(asked, findings)
    assert findings.lead is not None
    margin = findings.lead.margin
    assert lead.startswith(
        f"{asked.ids[0]} leads {asked.ids[1]} by {asked.values[0] - asked.values[1]:.2g} points; corrected"
    )
    assert f"(95 % interval {margin.low:.2g} to {margin.high:.2g}): it may be nothing but noise." in lead
    members = findings.top_set(5)
    assert top.startswith(f"{len(members)} products could truly be among the first 5 (joint 95 %): {asked.ids[0]}, ")
    assert f"the noise of a score is {np.median(findings.bench.sd):.2g}" in shrunken


def test_a_flat_field_is_said_to_be_flat(found: Found) -> None:
    """Noise as wide as the scores: the variance between products is put at 0, and the sentence says so."""
    asked, findings = found
    wide = replace(findings.bench, sd=np.full(len(asked.ids), 20.0), errors=None)
    flat = bench_findings(asked, wide, seed=0)
    assert flat is not None
    assert flat.shrunken.is_flat
    said = findings_verdict(asked, flat)[2]
    assert "(the variance between products is put at 0)" in said
    assert f"and one place, {(len(asked.ids) + 1) / 2:g}, is expected of all." in said


def test_a_clear_lead_holds(found: Found) -> None:
    """Noise of a thousandth of it."""
    asked, findings = found
    clear = bench_findings(asked, replace(findings.bench, sd=findings.bench.sd / 1000, errors=None), seed=0)
    assert clear is not None
    assert "it holds against the bench's noise" in findings_verdict(asked, clear)[0]


def test_one_product_has_no_findings(found: Found) -> None:
    """There is no order."""
    asked, findings = found
    alone = replace(asked, ids=asked.ids[:1], values=asked.values[:1])
    assert bench_findings(alone, findings.bench, seed=0) is None
    assert findings_verdict(alone, None) == ()
