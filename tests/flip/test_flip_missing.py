"""What a missing reading would have to be: by hand, against scoring again, and what is said where none will do."""

from __future__ import annotations

import math

import numpy as np
import pytest
from written_forms import NAN, form_of
from written_studies import catalogue_of

from analysis.flips.document import flip_body
from analysis.flips.found import MISSING, Change
from analysis.flips.study import FlipStudy, flip_of
from analysis.flips.verdict import verdict
from scoring.form import Form
from scoring.table.table import ScoreTable, score_catalogue


def form_with(x: str = "{unit: mm, plausible: [0, 20]}", curve: str = "line: {worst: 0, best: 20}") -> Form:
    """Half the weight on x and half on y, both from 1 at 0 to 10 at 20."""
    return form_of(
        f"""\
formula: trial
scale: {{from: 1, to: 10}}
measures:
  x: {x}
  y: {{unit: mm, plausible: [0, 20]}}
ratings:
  a: {{measure: x, curve: {{{curve}}}}}
  b: {{measure: y, curve: {{line: {{worst: 0, best: 20}}}}}}
scores:
  s: {{weights: {{a: 1, b: 1}}, missing: {{absent_above: 0.5, otherwise: reweight}}}}
"""
    )


def table_of(form: Form, x: list[float], y: list[float]) -> ScoreTable:
    """Their scores."""
    return score_catalogue(form, catalogue_of(x=x, y=y))


def missing_in(table: ScoreTable, subject: str, rival: str | None) -> list[Change]:
    """What was looked for of missing readings."""
    return [change for change in flip_of(table, "s", subject, rival, seed=0).changes if change.kind == MISSING]


def test_the_reading_of_the_product_behind_by_hand() -> None:
    """p1 has 6.4 of y alone, p2 has 7.3: with x it has (1 + 9 x / 20 + 6.4) / 2, 7.3 where 9 x / 20 is 7.2, at x = 16."""
    table = table_of(form_with(), [NAN, 14.0], [12.0, 14.0])
    (change,) = missing_in(table, "p1", "p2")
    assert change.found
    assert change.product == "p1"
    assert change.verdict == "searched"
    assert change.why == "16 mm or more"
    (_, stated, text) = change.settings[0]
    assert math.isnan(stated)
    assert 16 <= float(text) <= 20
    again = table_of(form_with(), [float(text), 14.0], [12.0, 14.0]).column("s").value
    assert change.certificate is not None
    assert change.certificate.after == pytest.approx(again[0], abs=1e-12)
    assert again[0] >= again[1]


def test_the_reading_of_the_product_ahead() -> None:
    """p2 leads with 9.1 of y alone, p1 has 7.3: p2 falls to it where (1 + 9 x / 20 + 9.1) / 2 is 7.3, at x = 10."""
    table = table_of(form_with(), [14.0, NAN], [14.0, 18.0])
    (change,) = missing_in(table, "p1", "p2")
    assert (change.product, change.why) == ("p2", "below 10 mm")
    said = verdict(flip_of(table, "s", "p1", "p2", seed=0), {})
    assert "p2 reads below 10 mm for x, which is missing" in said


def test_a_curve_that_turns_gives_a_stretch() -> None:
    """Best at 10: what is needed lies between two readings."""
    table = table_of(form_with(curve="target: {low: 2, best: 10, high: 18}"), [NAN, 10.0, 6.0], [12.0, 8.2, 8.0])
    (change,) = missing_in(table, "p1", None)
    low, high = (float(figure) for figure in change.why.removesuffix(" mm").split(" to "))
    for x, turned in ((low - 0.01, False), (low + 0.01, True), (high - 0.01, True), (high + 0.01, False)):
        values = table_of(form_with(curve="target: {low: 2, best: 10, high: 18}"), [x, 10.0, 6.0], [12.0, 8.2, 8.0])
        assert (values.column("s").rank[0] == 1) == turned


def test_where_no_reading_will_do_that_is_proved() -> None:
    """p1 has 1.9 of y alone and reaches 5.95 at the most; p2 has 9.1."""
    table = table_of(form_with(), [NAN, 18.0], [2.0, 18.0])
    (change,) = missing_in(table, "p1", "p2")
    assert (change.found, change.verdict, change.why) == (False, "impossible", "at no reading from 0 to 20")


def test_without_a_plausible_range_it_is_named_as_not_looked_at() -> None:
    """With its reason."""
    table = table_of(form_with(x="{unit: mm}"), [NAN, 14.0], [12.0, 14.0])
    found = flip_of(table, "s", "p1", "p2", seed=0)
    (told,) = [one for one in found.unlooked if one.what == "missing readings"]
    assert told.addresses == ("measures.x",)
    assert "no plausible range" in told.why


def test_the_document_has_no_stated_reading() -> None:
    """null, and the reading that was confirmed."""
    table = table_of(form_with(), [NAN, 14.0], [12.0, 14.0])
    found = flip_of(table, "s", "p1", "p2", seed=0)
    document = flip_body(FlipStudy((found,), {}, {}, ()), table.catalogue.products)
    (told,) = [one for one in document["scores"]["s"]["changes"] if one["kind"] == MISSING]
    assert told["set"][0]["stated"] is None
    assert np.isfinite(float(told["set"][0]["needed"]))
    assert told["scored_again"]["after"]["subject"] >= told["scored_again"]["after"]["other"]
