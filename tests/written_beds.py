"""A small formula and catalogue whose texts mean something to every language."""

from __future__ import annotations

import re
from pathlib import Path

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10}
measures:
  heat: {label: Heat <b>, unit: delta_degC, repeatability: 0.4}
  drop: {label: Drop, unit: mm, repeatability: 6}
ratings:
  cool: {measure: heat, curve: {line: {worst: 9, best: 1}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}}
  resting: {label: At *rest*, weights: {cool: 1, edge: 3}}
"""
BEDS = "product,heat,drop\nA<1>,1.5,60\nB_2,1.9,40\nC*3,6.5,90\nD#4,2.5,120\nE$5,8.5,40\n"
STUDY = "study: ours\nformula: trial\nvary:\n  - {weights: every score, factor: [0.6, 1.4]}\n  - {readings: repeatability}\n"


def write_trial(folder: Path) -> Path:
    """The formula, the catalogue and the study in a folder."""
    for name, text in (("beds.yaml", FORM), ("beds.csv", BEDS), ("study.yaml", STUDY)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def plain(page: bytes | str) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    text = page if isinstance(page, str) else page.decode()
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"<[^>]+>|&[a-z]+;|#\d+;", "", text).lower())
