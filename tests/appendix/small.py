"""Small invented laboratories at the edges of what an appendix can be of: no scores, no repeatability, one or two products."""

from __future__ import annotations

from pathlib import Path

from analysis.cli.inputs import load
from analysis.methods_appendix.workings import Asked, Workings, work_out
from scoring.table.table import score_catalogue

FORM = """\
formula: beds
title: Small beds
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  noise: {label: Sound level, unit: dB, repeatability: 1.2, plausible: [18, 75], reporting_limit: 20}
  drop: {label: Edge sink, unit: mm, repeatability: 2.5}
ratings:
  quiet: {label: Quietness, note: Sleeping, measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {label: Edge hold, measure: drop, curve: {points: {40: 10, 80: 6, 135: 1}}}
"""
SCORES = """\
scores:
  reading:
    label: Reading upright
    blend: weighted mean
    weights: {edge: 3, quiet: 1}
    limits: [{when: edge < 4, at_most: 3}]
    missing: {absent_above: 0.2}
"""
WHOLE = """\
product,noise #1,noise #2,noise #3,drop #1,drop #2
A-01,31,38,24,60,61
A-02,22,29,35,120,119
A-03,missing: probe failed,,,80,81
A-04,40,33,27,98,97
A-05,28,35,42,72,73
A-06,25,19,32,50,missing: jig lost
"""


def worked(folder: Path, *, form: str = FORM + SCORES, products: int = 6, readings: str = WHOLE) -> Workings:
    """Everything worked out of a small laboratory; the first few products of its catalogue."""
    formula, catalogue = folder / "beds.yaml", folder / "beds.csv"
    formula.write_text(form, encoding="utf-8")
    catalogue.write_text("".join(readings.splitlines(keepends=True)[: products + 1]), encoding="utf-8")
    made, read = load(formula, catalogue, [])
    return work_out(score_catalogue(made, read), None, None, Asked((), 0, 32, "", "steelyard appendix x"))
