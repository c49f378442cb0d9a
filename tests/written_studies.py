"""Studies written in a test: read from text for a form and a catalogue that are written there, too."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
from extent import is_long
from laboratory_runs import write_few_beds
from numpy.typing import ArrayLike, NDArray
from ruamel.yaml import YAML
from written_forms import HEAD, form_of

from analysis.study import Draws, Setting, Study
from analysis.study.moves import ChoiceMove
from analysis.study.reader import read_study
from analysis.study.study_reference import study_schema
from scoring.catalogue import Catalogue, from_arrays, read_catalogue
from scoring.errors import StudyError
from scoring.form import Form
from scoring.reader import read_form

SCHEMA = jsonschema.Draft202012Validator(study_schema())
LABORATORY = Path(__file__).resolve().parents[1] / "examples" / "laboratory"

#: Two ratings of one measure each, one of a mix, two scores, the second over the first.
SMALL = (
    HEAD
    + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 20}}}
  b: {measure: y, curve: {points: {0: 1, 10: 4, 20: 10}}}
  m: {mix: [{measure: x, weight: 0.6, curve: {log: {worst: 40, best: 2}}}, {measure: z, weight: 0.4, curve: {target: {low: 2, best: 9, high: 18}}}]}
scores:
  s: {weights: {a: 0.5, b: 0.3, m: 0.2}, limits: [{when: a < 4, at_most: 6}]}
  t: {blend: minimum, weights: {s: 1, m: 1}}
"""
)


def products(count: int) -> list[str]:
    """p1, p2, ..."""
    return [f"p{index + 1}" for index in range(count)]


def catalogue_of(words: Mapping[str, Sequence[str]] | None = None, **readings: ArrayLike) -> Catalogue:
    """A catalogue of readings given by name: one value or several repeats a product."""
    count = len(np.asarray(next(iter(readings.values()))))
    return from_arrays(products(count), readings, words)


def small_catalogue(count: int = 6, seed: int = 5) -> Catalogue:
    """Readings of x, y and z from 1 to 20."""
    rng = np.random.default_rng(seed)
    return catalogue_of(x=rng.uniform(1, 20, count), y=rng.uniform(1, 20, count), z=rng.uniform(1, 20, count))


def small_form() -> Form:
    """The small form."""
    return form_of(SMALL)


@cache
def demo() -> tuple[Form, Catalogue]:
    """The invented laboratory's formula and readings."""
    form = read_form(LABORATORY / "guest-bed.yaml")
    return form, read_catalogue(LABORATORY, form)


@cache
def few_of_the_demo() -> tuple[Form, Catalogue]:
    """The laboratory's formula and sixteen of its beds."""
    form = read_form(LABORATORY / "guest-bed.yaml")
    with tempfile.TemporaryDirectory() as folder:
        return form, read_catalogue(write_few_beds(Path(folder)), form)


def demo_as_far() -> tuple[Form, Catalogue]:
    """The laboratory in a long run; otherwise its formula with few of its beds."""
    return demo() if is_long() else few_of_the_demo()


def study_of(vary: str, form: Form, catalogue: Catalogue, rest: str = "") -> Study:
    """The study of items that are written one a line, each without its dash."""
    items = "".join(f"  - {line.strip()}\n" for line in vary.strip().splitlines())
    text = f"study: trial\n{rest}vary:\n{items}"
    study = read_study(text, "study.yaml", form, catalogue)
    assert shape_faults(text) == []
    return study


def shape_faults(text: str) -> list[str]:
    """What the printed schema refuses of a study's text: the paths of its faults; none where it fits."""
    return [error.json_path for error in SCHEMA.iter_errors(yaml_of(text))]


def yaml_of(text: str) -> Any:
    """What a text of YAML holds, as JSON would hold it."""
    return json.loads(json.dumps(YAML(typ="safe", pure=True).load(text)))


def refusal(text: str, form: Form, catalogue: Catalogue) -> list[str]:
    """Every fault of a study's text, as it is said; none where it is a study."""
    try:
        read_study(text, "study.yaml", form, catalogue)
    except StudyError as fault:
        return [str(problem) for problem in fault.problems]
    return []


def settings_of(study: Study, setting: Setting, draw: int) -> list[str]:
    """One draw as settings `ADDRESS=VALUE`, choices first: what a person would have to write to get that draw's formula."""
    made = []
    for move in study.moves:
        if isinstance(move, ChoiceMove):
            option = move.options[int(setting.choices[move.factor.name][draw])]
            made += [f"{address}={value}" for address, value in option]
    return made + [f"{address}={float(values[draw])!r}" for address, values in setting.numbers.items()]


def draws_of(study: Study, count: int, seed: int = 0) -> Draws:
    """Draws from a seed of their own."""
    return study.draws(count, np.random.default_rng(seed))


def even_uniforms(count: int, columns: int = 1) -> NDArray[np.float64]:
    """The middles of `count` equal stretches of 0 to 1, in every column."""
    return np.repeat(((np.arange(count) + 0.5) / count)[:, np.newaxis], columns, axis=1)
