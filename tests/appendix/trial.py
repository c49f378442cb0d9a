"""A small invented laboratory whose names and labels hold everything that a document could choke on."""

from __future__ import annotations

from pathlib import Path

from analysis.cli.inputs import load
from analysis.methods_appendix.workings import Asked, Workings, work_out
from scoring.table.table import score_catalogue

#: Markup, quotes, a template, LaTeX and Markdown signs, a mark from right to left, Arabic, an emoji, and length.
MARKUP = '<script>alert("x")</script> & </title> {{ 7 * 7 }} {% raw %}'
SIGNS = r"50 % of $x_1^2$ \input{y} #1 ~ `tick` | *star* [link](http://invented.invalid)"
TURNED = "سرير \u202eevil\u2066 bed"
LONG = "Quilted " * 37 + "end"
SMILE = "Soft 🛏️ bed"
LABELS = (MARKUP, SIGNS, TURNED, LONG, SMILE)

FORMULA = f"""\
formula: trial
version: 2.0.0
title: 'Trial {MARKUP}'
note: '{SIGNS}'
scale: {{from: 1, to: 10, show: {{step: 0.1, rule: half-up}}}}
bands: {{good: 6, fair: 4, weak: 1}}
measures:
  noise: {{label: '{MARKUP}', unit: dB, better: lower, plausible: [18, 75], repeats: level mean, repeatability: 1.2}}
  drop: {{label: '{SIGNS}', unit: mm, better: lower, plausible: [10, 170], repeats: median, repeatability: 2.5}}
  heat: {{label: '{TURNED}', unit: W/m2, better: higher, plausible: [10, 150], repeats: trimmed, trim: 0.25, repeatability: 5%}}
  firm: {{label: '{SMILE}', unit: N/mm, better: neither, plausible: [1, 20], repeatability: 0.2, round: {{step: 0.05, rule: half-even}}}}
ratings:
  quiet: {{label: '{MARKUP}', note: '{SIGNS}', measure: noise, curve: {{line: {{worst: 46.53, best: 22}}}}}}
  edge: {{label: '{TURNED}', measure: drop, curve: {{points: {{40: 10, 80: 6, 135: 1}}}}}}
  cool: {{label: '{LONG}', measure: heat, curve: {{log: {{worst: 20, best: 110}}}}}}
  fit: {{label: '{SMILE}', neutral: true, mix: [{{measure: firm, weight: 2, curve: {{target: {{low: 3, best: 7, high: 12}}}}}}, {{measure: drop, weight: 1, curve: {{smooth: {{40: 9, 70: 8, 120: 2}}}}}}], missing: {{absent_above: 0.5}}}}
scores:
  resting:
    label: 'Resting {MARKUP}'
    note: '{TURNED}'
    blend: weighted mean
    weights: {{quiet: 0.37, edge: 0.2918, cool: 0.19, fit: 0.15}}
    limits: [{{when: quiet < 3.25, at_most: 5.7531}}]
    missing: {{needs: [quiet], absent_above: 0.35}}
  rising:
    label: 'Rising {SIGNS}'
    blend: geometric mean
    weights: {{edge: 3, fit: 2}}
    round: {{step: 0.05, rule: half-up}}
gates:
  - {{name: 'too "warm"', when: heat > 140, guard: 2 u, withhold: '{MARKUP}', near: 'near & far'}}
cautions: ['Invented. {MARKUP}', 'Nothing here is real. {SIGNS}']
checklist:
  links_to_other_indicators: {{waived: 'no other indicator measures the same {TURNED}'}}
"""

READINGS = """\
product,noise #1,noise #2,noise #3,drop #1,drop #2,drop #3,heat #1,heat #2,heat #3,heat #4,firm #1,firm #2
<b>A</b>,30.5,31.2,31.9,61,58,64,70,74,71,69,6.5,6.9
B|`pipe`,44.1,45.3,44.9,88,93,90,52,50,55,51,4.1,4.4
C $x_1$,25.0,24.1,26.3,120,118,125,90,95,91,97,9.7,9.2
D 🛏️,38.8,39.7,38.2,45,47,44,35,33,36,34,7.1,7.0
سرير,28.2,27.1,29.4,72,77,70,missing: probe failed,,,,5.5,5.8
F-06,33.3,32.5,34.0,101,99,104,61,66,63,64,missing: jig lost,
G-07,22.4,23.1,22.9,52,55,50,114,117,113,121,11.0,10.8
"""


def write(folder: Path) -> tuple[Path, Path]:
    """The formula and its readings, as files."""
    formula, readings = folder / "trial.yaml", folder / "beds.csv"
    formula.write_text(FORMULA, encoding="utf-8")
    readings.write_text(READINGS, encoding="utf-8")
    return formula, readings


def worked(folder: Path, *settings: str) -> Workings:
    """The trial laboratory with some values set."""
    formula, readings = write(folder)
    form, catalogue = load(formula, readings, settings)
    asked = Asked(settings, 3, 256, "2026-02-03", "steelyard appendix x")
    return work_out(score_catalogue(form, catalogue), None, None, asked)
