"""A small formula with classes, one of whose ratings leans on the live catalogue, and seven invented beds."""

from __future__ import annotations

from pathlib import Path

FORM = """\
formula: classes
version: 1.0.0
title: Classes
attributes: {class: {}, maker: {}}
measures:
  drop: {unit: mm, better: lower, plausible: [10, 170], repeatability: 2}
  noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1}
ratings:
  edge: {measure: drop, curve: {standing: {better: lower}, reference: live}}
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
scores:
  both: {label: Both, weights: {edge: 1, quiet: 2}, missing: {absent_above: 0.5}}
gates:
  - {when: noise > 44, withhold: too loud}
"""
#: E-05 is alone in its class, F-06 has none, and G-07 is withheld. In the order of `both`: A, D, B, C, F, E.
BEDS = """\
product,drop,noise,class,maker
A-01,40,24,foam,Orvanne
B-02,60,27,hybrid,Orvanne
C-03,55,31,foam,Tesk
D-04,50,26,hybrid,Tesk
E-05,90,40,water,Tesk
F-06,80,33,,Orvanne
G-07,70,45,hybrid,Orvanne
"""


def written(folder: Path, form: str = FORM, beds: str = BEDS) -> tuple[Path, Path]:
    """The two files."""
    formula, catalogue = folder / "classes.yaml", folder / "beds.csv"
    formula.write_text(form, encoding="utf-8")
    catalogue.write_text(beds, encoding="utf-8")
    return formula, catalogue
