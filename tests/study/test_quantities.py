"""Quantities of a score: asked for in one way by indices, tallies and the command line."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest
from written_forms import NAN
from written_studies import catalogue_of, form_of

from analysis.indices.precision import Precision, quantities_asked, read_precision
from analysis.rankings.tally import Tally
from analysis.trials.quantities import FAMILIES, Quantities, quantities_of
from scoring.table.table import score_catalogue

ROOT = Path(__file__).parents[2]
FORM = """\
formula: trial
scale: {from: 0, to: 100}
measures: {x: {unit: "1", better: higher}}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
scores:
  s: {value: a}
"""


def asked() -> Quantities:
    """Four products, published p2, p4, p1, p3; who of two stands above the other is asked twice."""
    form, catalogue = form_of(FORM), catalogue_of(x=[30.0, 90.0, 10.0, 60.0])
    column = score_catalogue(form, catalogue).column("s")
    return quantities_of(form, column, catalogue.products, 2, [("p2", "p4"), ("p1", "p3")])


def drawn() -> np.ndarray:
    """Scores of p1 to p4 in 200 draws, with ties, and some without a score."""
    rng = np.random.default_rng(4)
    scores = rng.integers(1, 7, (200, 4)).astype(float)
    scores[rng.uniform(size=scores.shape) < 0.1] = NAN
    scores[5] = NAN
    return scores


def test_every_family_stands_where_its_names_say() -> None:
    """Each quantity is in one family, by its key and by what it is called alike; pair after pair, both of a pair together."""
    of = asked()
    places = sorted(place for key in FAMILIES for place in of.places(key))
    assert places == list(range(len(of.names)))
    for key, family in FAMILIES.items():
        assert of.family(family.title(of)) == of.family(key)
        assert {of.names[place][0] for place in of.places(key)} == {family.title(of)}
    assert of.names[-4:] == (("beats", "p2 p4"), ("gap", "p2 p4"), ("beats", "p1 p3"), ("gap", "p1 p3"))
    assert of.names[8:10] == (("in the first 2", "p2"), ("in the first 2", "p4"))


def test_a_tally_counts_the_columns_of_indices() -> None:
    """Firsts, tops, places, shifts and who stands above whom, summed over draws by either."""
    of, scores = asked(), drawn()
    columns, tally = of.of(scores), Tally(of)
    tally.add(scores, np.ones((len(scores), 1)))
    assert tally.first.tolist() == columns[:, of.family("first")].sum(axis=0).tolist()
    assert tally.top.tolist() == columns[:, of.family("top")].sum(axis=0).tolist()
    none = np.isnan(columns[:, of.family("rank")]).all(axis=1)
    assert none.any()
    shift = tally.agreement("mean shift in rank")
    assert shift[~none].tolist() == columns[~none, of.family("shift").start].tolist()
    assert np.isnan(shift[none]).all()
    for (a, b), place in zip(of.pairs, of.places("beats"), strict=True):
        assert tally.beats[a, b] == np.nansum(columns[:, place])
        assert tally.both[a, b] == (~np.isnan(columns[:, place])).sum()


@pytest.mark.parametrize(
    ("named", "which"), [("beats", ["p2 p4", "p1 p3"]), ("gap:p1,p3", ["p1 p3"]), ("top:p4", ["p4"]), ("shift", [""])]
)
def test_what_is_named_is_that_family_alone(named: str, which: list[str]) -> None:
    """Of several pairs `beats` is who stands above whom, and no gap between them."""
    of = asked()
    precision: Precision = read_precision(0.1, [named], ["p1", "p2", "p3", "p4"], [("p2", "p4"), ("p1", "p3")])
    key = named.partition(":")[0]
    found = [of.names[place] for place in quantities_asked(precision, of)]
    assert found == [(FAMILIES[key].title(of), one) for one in which]


def test_nothing_else_ranks_draws() -> None:
    """Places of draws come from one function: nothing else in the studies calls what sorts rows."""
    users = set()
    for path in (ROOT / "analysis").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        if any(isinstance(node, ast.Name) and node.id == "rank_rows" for node in ast.walk(tree)):
            users.add(str(path.relative_to(ROOT)))
    assert users == {"analysis/trials/quantities.py"}
