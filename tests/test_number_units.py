"""The unit of a number is said once: every number of every form has its role, and every face prints the same unit."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from commands.conftest import Steelyard, steelyard  # noqa: F401

from scoring.addresses.addresses import addresses
from scoring.addresses.number_units import number_units
from scoring.curves import KINDS
from scoring.form import REFERENCE, Form, Number
from scoring.reader import read_form, read_sources
from scoring.texts.source import Source
from scoring.units.role import UnitRole

ROOT = Path(__file__).parents[1]
FORMS = [ROOT / "examples" / "laboratory" / "guest-bed.yaml", *sorted((ROOT / "formulas" / "published").glob("*.yaml"))]
ALL_ROLES = """\
formula: roles
constants: {k: 3}
bands: {good: 7, poor: 1}
measures:
  warmth: {unit: degC, plausible: [-40, 60], repeatability: 0.3, reporting_limit: 1, round: {step: 0.5}}
  press: {unit: kPa, plausible: [0, 20], repeatability: 8%}
  ratio: {unit: "1"}
ratings:
  a: {measure: press, curve: {target: {low: 1, best: 4, high: 9, within: 0.5}}}
  b: {measure: warmth, curve: {logistic: {middle: 20, spread: 3, better: lower}}}
  c: {measure: warmth, curve: {z: {better: lower, centre: 5.5, per_sd: 1.5}, reference: {mean: 20, sd: 4}}}
  d: {measure: press, curve: {power: {worst: 1, best: 9, exponent: 0.5}}}
  e: {value: "where(30 < warmth, 2, k + press / 3)"}
  f: {measure: ratio, curve: {points: {0: 1, 1: 10}}}
  g: {measure: warmth, curve: {standing: {better: lower}, reference: {values: [18, 22]}}}
scores:
  s:
    blend: power mean
    exponent: 2
    weights: {a: 1, b: 2}
    limits: [{when: a < 4 and press > 5, at_most: 6}, {on: b, at_most: {points: {1: 4, 10: 10}}}]
    round: {step: 0.5}
    missing: {absent_above: 0.2}
gates: [{name: hot, when: warmth > 40, guard: 1.645 u, withhold: x, near: y, missing: z}]
"""
FORM = read_sources([Source("roles.yaml", ALL_ROLES)])
UNITS = {
    "scale.from": "points",
    "scale.show.step": "points",
    "bands.good": "points",
    "constants.k": "",
    "measures.warmth.plausible.to": "degC",
    "measures.warmth.repeatability": "delta_degC",
    "measures.warmth.reporting_limit": "degC",
    "measures.warmth.round.step": "delta_degC",
    "measures.warmth.trim": "",
    "measures.press.repeatability": "",
    "ratings.a.curve.target.best": "kPa",
    "ratings.a.curve.target.within": "kPa",
    "ratings.b.curve.logistic.middle": "degC",
    "ratings.b.curve.logistic.spread": "delta_degC",
    "ratings.c.curve.z.centre": "points",
    "ratings.c.curve.reference.mean": "degC",
    "ratings.c.curve.reference.sd": "delta_degC",
    "ratings.d.curve.power.exponent": "",
    "ratings.e.value.1": "degC",
    "ratings.e.value.2": "",
    "ratings.f.curve.points.1.at": "",
    "ratings.f.curve.points.1.gives": "points",
    "ratings.g.curve.reference.values.1": "degC",
    "scores.s.exponent": "",
    "scores.s.weights.a": "",
    "scores.s.limits.1.when.1": "points",
    "scores.s.limits.1.when.2": "kPa",
    "scores.s.limits.1.at_most": "points",
    "scores.s.limits.2.at_most.points.1.at": "points",
    "scores.s.round.step": "points",
    "scores.s.missing.absent_above": "",
    "gates.hot.when.1": "degC",
    "gates.hot.guard": "u",
}


@pytest.mark.parametrize("form", [FORM, *map(read_form, FORMS)], ids=lambda form: form.name)
def test_every_number_of_a_form_has_a_role(form: Form) -> None:
    """None more, none less."""
    numbers = {address for address, noun in addresses(form).items() if isinstance(noun, Number)}
    assert set(number_units(form)) == numbers


@pytest.mark.parametrize("address", UNITS)
def test_a_number_has_the_unit_of_its_role(address: str) -> None:
    """A place, a length (of a temperature: a difference), points, or a plain number."""
    assert number_units(FORM)[address].unit == UNITS[address]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_curve_says_what_its_numbers_are(kind: str) -> None:
    """Its own, and the figures of a population that it leans on."""
    curve = KINDS[kind]
    assert set(curve.figures) <= {*REFERENCE.more, "population"}
    assert {key.kind.role for key in curve.numbers}.isdisjoint({UnitRole.PLAIN, None})


TARGET = "ratings.a.curve.target.within"
TARGETED = """\
formula: targeted
bands: {good: 7, poor: 1}
measures:
  press: {unit: kPa, plausible: [0, 20], repeatability: 0.1}
  noise: {unit: dB, plausible: [18, 75], repeatability: 1}
ratings:
  a: {measure: press, curve: {target: {low: 1, best: 4, high: 9, within: 0.5}}}
  q: {measure: noise, curve: {line: {worst: 46, best: 22}}}
scores:
  s: {blend: weighted mean, weights: {a: 3, q: 1}}
"""


@pytest.fixture
def targeted(tmp_path: Path) -> tuple[Path, Path]:
    """A formula with a target in kPa, and two products of which the second can catch the first by it."""
    (tmp_path / "f.yaml").write_text(TARGETED, encoding="utf-8")
    (tmp_path / "c.csv").write_text("product,press,noise\nA,4.2,30\nB,5,29\n", encoding="utf-8")
    return tmp_path / "f.yaml", tmp_path / "c.csv"


@pytest.mark.usefixtures("pictures_unseen")
def test_every_face_prints_the_same_unit(
    steelyard: Steelyard,  # noqa: F811
    targeted: tuple[Path, Path],
    tmp_path: Path,
) -> None:
    """`flip`, a study's resolved table, `compare`, the page and the appendix, of how near a target is near enough."""
    formula, catalogue = targeted

    def document(*words: object) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(steelyard(*words, "--json").stdout)
        return found

    [change] = [one for one in document("flip", *targeted, "A", "B")["scores"]["s"]["changes"] if one["what"] == TARGET]
    assert change["unit"] == "kPa"
    study = tmp_path / "study.yaml"
    study.write_text(
        f"study: t\nformula: targeted\nvary: [{{address: {TARGET}, uniform: [0.4, 0.6]}}]\n", encoding="utf-8"
    )
    factors = document("sensitivity", *targeted, "--study", study, "--draws", "256")["study"]["factors"]
    assert [factor["unit"] for factor in factors] == ["kPa"]
    compared = steelyard("compare", formula, formula, catalogue, "--set", f"{TARGET}=0.7").stdout
    assert "0.5 -> 0.7 kPa" in compared
    steelyard("appendix", *targeted, "--draws", "256", "--out", tmp_path / "appendix")
    assert "| within | 0.5 kPa |" in (tmp_path / "appendix" / "appendix.md").read_text(encoding="utf-8")
    steelyard("explore", *targeted, "--out", tmp_path / "page.html")
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert (
        f'"address":"{TARGET}","value":0.5,"text":"0.5","words":"curve\'s `within` of press","unit":"kPa","along":false'
        in page
    )
