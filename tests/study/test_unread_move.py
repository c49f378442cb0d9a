"""What was not read, filled in under trials: against scoring the catalogue with the drawn readings written into it."""

from __future__ import annotations

import numpy as np
from written_forms import HEAD, NAN, form_of
from written_studies import catalogue_of, draws_of

from analysis.study import Study
from analysis.study.building import Wording, unread_move
from analysis.trials.trials import compile_trials
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.table.table import score_catalogue

TEXT = (
    HEAD.replace('x: {unit: "1"}', 'x: {unit: "1", plausible: [0, 20]}')
    + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 20}}}
  b: {measure: y, curve: {line: {worst: 0, best: 20}}}
  c: {measure: z, curve: {z: {better: higher, centre: 5.5, per_sd: 1.5}, reference: live}}
scores:
  s: {weights: {a: 4, b: 3, c: 3}, missing: {absent_above: 0.5, otherwise: reweight}}
  t: {weights: {a: 1, b: 1}, missing: {absent_above: 0.5, otherwise: lowest}}
"""
)


def readings(n: int = 12) -> dict[str, np.ndarray]:
    """Readings of three measures from 2 to 18, of which x of the first, and z of the second, are not there."""
    rng = np.random.default_rng(3)
    values = {name: np.round(rng.uniform(2, 18, n), 1) for name in "xyz"}
    values["x"][0] = values["z"][1] = NAN
    return values


def filling(form: Form, held: Catalogue, products: list[int]) -> Study:
    """A study that fills in what was not read of some products, and varies nothing else."""
    where = np.isin(np.arange(len(held.products)), products)
    move, _ = unread_move(form, held, where, Wording("trial"))
    assert move is not None
    return Study("trial", "", form, (move,), ("s", "t"), 5, (), (), "")


def test_a_draw_is_the_score_of_the_catalogue_with_its_readings_in_it() -> None:
    """Both scores of every product, the rule for what is missing no longer asked, the live reference with one more reading."""
    form, values = form_of(TEXT), readings()
    held = catalogue_of(**values)
    study = filling(form, held, [0, 1])
    setting = study.setting(draws_of(study, 5, 1))
    found = compile_trials(study, held).scores(setting)
    for draw in range(5):
        written = {name: array.copy() for name, array in values.items()}
        written["x"][0], written["z"][1] = setting.filled["x"][draw, 0], setting.filled["z"][draw, 1]
        table = score_catalogue(form, catalogue_of(**written))
        for name in ("s", "t"):
            np.testing.assert_allclose(found[name][draw], table.column(name).value, rtol=1e-12)


def test_only_the_products_asked_for_are_filled_in() -> None:
    """The others keep their gap, and their score without it; as stated, nothing is filled in."""
    form, held = form_of(TEXT), catalogue_of(**readings())
    study = filling(form, held, [0])
    trials = compile_trials(study, held)
    setting = study.setting(draws_of(study, 50, 2))
    assert np.isfinite(setting.filled["x"][:, 0]).all()
    assert "z" not in setting.filled or np.isnan(setting.filled["z"]).all()
    found = trials.scores(setting)["s"]
    stated = score_catalogue(form, held).column("s").value
    assert found[:, 0].std() > 0.1
    np.testing.assert_allclose(found[:, 1:], np.broadcast_to(stated[1:], (50, 11)), rtol=1e-12)
    np.testing.assert_allclose(trials.scores(study.stated(1))["s"][0], stated, rtol=1e-12)
