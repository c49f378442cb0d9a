"""What is too rare to be put down to anything is said to be, and no share of it is quoted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from written_forms import HEAD, form_of
from written_studies import catalogue_of, study_of

from analysis.indices.sensitivity import ScoreSensitivity, sensitivity_study
from analysis.indices.verdict import sensitivity_verdict
from scoring.table.table import score_catalogue

FORM = (
    HEAD.replace("{from: 1, to: 10}", "{from: -100, to: 100}").replace("measures", "constants: {p: 0, q: 0}\nmeasures")
    + 'scores:\n  total: {value: "x + p * y + q"}\n'
)


@pytest.fixture(scope="module")
def found() -> ScoreSensitivity:
    """Three products, of which p can turn the first two round."""
    form = form_of(FORM)
    catalogue = catalogue_of(x=[3.0, 2.0, 1.0], y=[1.0, 2.5, 1.0], z=[1.0, 1.0, 1.0])
    vary = "{address: constants.p, uniform: [-1, 1]}\n{address: constants.q, uniform: [-1, 1]}"
    study, table = study_of(vary, form, catalogue, ""), score_catalogue(form, catalogue)
    return sensitivity_study(study, table, by="factor", budget=512)[0]


def with_interval(found: ScoreSensitivity, low: float, high: float, mean: float) -> ScoreSensitivity:
    """The same with every total's interval so, and every mean."""
    i = found.indices
    return replace(
        found,
        indices=replace(
            i,
            total=np.full_like(i.total, 0.67),
            total_low=np.full_like(i.total, low),
            total_high=np.full_like(i.total, high),
            mean=np.full_like(i.mean, mean),
        ),
    )


@pytest.mark.parametrize(
    ("low", "high", "mean", "says"),
    [
        (0.0, 1.0, 0.995, "that it is otherwise is too rare in these draws to say what it turns on."),
        (-0.3, 1.4, 0.01, "that is too rare in these draws to say what it turns on."),
        (0.02, 0.99, 0.5, "these draws are too few to say what it turns on."),
    ],
)
def test_an_interval_that_spans_everything_names_no_cause(
    found: ScoreSensitivity, low: float, high: float, mean: float, says: str
) -> None:
    """Neither for the winner nor for a pair."""
    said = sensitivity_verdict(with_interval(found, low, high, mean))
    for start in ("p1, published first", "p1 stands above"):
        (sentence,) = [one for one in said if one.startswith(start)]
        assert sentence.endswith(says)
        assert "turns most on" not in sentence


def test_an_interval_that_says_something_names_its_cause(found: ScoreSensitivity) -> None:
    """As drawn, the pair turns on p alone, with a share near 1."""
    (sentence,) = [one for one in sensitivity_verdict(found) if one.startswith("p1 stands above")]
    assert "; that turns most on constants.p" in sentence
