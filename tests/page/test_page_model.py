"""What a page knows: figures of frozen populations under every choice, and the sign of a standing."""

from __future__ import annotations

import pytest
from written_forms import form_of

from analysis.page.model import PageModel, page_model
from scoring.catalogue import from_arrays
from scoring.table.table import score_catalogue


def model_of(curve: str) -> PageModel:
    """The page of one rating of two products through a curve."""
    text = f"formula: small\nmeasures: {{x: {{unit: mm}}}}\nratings:\n  a: {{measure: x, curve: {{{curve}}}}}\n"
    return page_model(score_catalogue(form_of(text), from_arrays(["A", "B"], {"x": [3.0, 5.0]})))


@pytest.mark.parametrize("kind", ["minmax", "ratio"])
def test_a_choice_may_ask_for_another_statistic_of_frozen_values(kind: str) -> None:
    """Of 1, 4 and 9: `better: lower` takes the least where `better: higher` takes the greatest."""
    model = model_of(f"{kind}: {{better: higher}}, reference: {{values: [4, 1, 9]}}")
    assert sorted(model.document["populations"]) == [1, 9]


def test_a_frozen_population_is_listed_whole() -> None:
    """Standing counts its members."""
    assert model_of("standing: {}, reference: {values: [4, 1, 9]}").document["populations"] == [[4, 1, 9]]


@pytest.mark.parametrize("reference", ["live", "{values: [4, 1, 9]}"])
def test_only_where_lower_is_better_the_population_is_turned_round(reference: str) -> None:
    """The other option of `better` is the one code of two that turns the signs."""
    for better in ("higher", "lower"):
        codes = model_of(f"standing: {{better: {better}}}, reference: {reference}").codes
        standings = [code for code in codes if "standing(" in code and "'mean'" in code]
        assert len(standings) == 2
        assert ["opposite(" in code for code in standings] == [better == "lower", better == "higher"]
