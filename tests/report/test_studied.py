"""A study in a report: as it is asked for, in one line, and as a table of what varies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from written_studies import catalogue_of

from analysis.report.source import source_of, study_document
from analysis.report.studied import AskedOfStudy, resolved_table, studied, study_of, study_section
from analysis.study import default_study
from scoring.addresses.addresses import set_addresses
from scoring.errors import StudyError
from scoring.reader import read_form
from scoring.table.table import ScoreTable, score_catalogue

FORM = """\
formula: trial
version: 1.0.0
title: Trial
scale: {from: 1, to: 10}
measures:
  x: {unit: mm, repeatability: 0.2}
  y: {unit: mm, repeatability: 0.2}
ratings:
  a: {measure: x, curve: {line: {worst: 1, best: 5}}}
  b: {measure: y, curve: {line: {worst: 1, best: 5}}}
scores:
  first: {weights: {a: 2, b: 1}}
  second: {weights: {a: 1, b: 2}}
"""


@pytest.fixture
def table(tmp_path: Path) -> ScoreTable:
    """Three products under two scores."""
    (tmp_path / "trial.yaml").write_text(FORM, encoding="utf-8")
    form = read_form(tmp_path / "trial.yaml")
    return score_catalogue(form, catalogue_of(x=[1.5, 3.0, 4.0], y=[4.5, 2.5, 2.0]))


def test_a_study_is_given_read_or_as_a_path_or_not_at_all(table: ScoreTable, tmp_path: Path) -> None:
    """The derived one is `default_study`; a file is read by path or text; one that is read stays what it is."""
    derived = study_of(None, table, AskedOfStudy())
    assert [factor.name for factor in derived.factors] == [
        factor.name for factor in default_study(table.form, table.catalogue).factors
    ]
    path = tmp_path / "study.yaml"
    path.write_text("study: own\nvary:\n  - {weights: first, factor: [0.5, 2]}\n", encoding="utf-8")
    made = [study_of(given, table, AskedOfStudy()) for given in (path, str(path))]
    assert [one.name for one in made] == ["own", "own"]
    assert made[0].sha256 == made[1].sha256 != ""
    assert study_of(made[0], table, AskedOfStudy()).moves is made[0].moves


def test_a_study_of_another_formula_is_refused(table: ScoreTable) -> None:
    """Its draws would be of that formula's weights, and of no other's."""
    tried = set_addresses(table.form, ["scores.first.weights.a=5"])
    other = default_study(tried, table.catalogue)
    with pytest.raises(StudyError, match="a study made for another formula"):
        study_of(other, table, AskedOfStudy())


def test_what_is_asked_takes_the_place_of_what_the_study_says(table: ScoreTable) -> None:
    """Scores and pairs once each; every fault at once."""
    asked = AskedOfStudy(["second", "second"], [("p1", "p2"), ["p1", "p2"], ("p3", "p1")], 2)
    made = study_of(None, table, asked)
    assert (made.scores, made.pairs, made.top) == (("second",), (("p1", "p2"), ("p3", "p1")), 2)
    with pytest.raises(StudyError) as fault:
        study_of(None, table, AskedOfStudy(["secnd"], [("p1", "p1"), ("p1", "p9"), ("p1",)]))
    said = [str(problem) for problem in fault.value.problems]
    assert len(said) == 4
    assert "Did you mean `second`?" in said[0]


def test_the_table_of_what_varies_is_the_documents(table: ScoreTable) -> None:
    """Field by field, but that a table has "" where JSON has null; a file is shown by its name alone."""
    study = default_study(table.form, table.catalogue)
    held = [{key: value or "" for key, value in row.items()} for row in study_document(study)["factors"]]
    assert resolved_table(study).frame()[list(held[0])].to_dict("records") == held
    here = replace(study.moves[0].factors[0], origin="/somewhere/else/study.yaml:3")
    moved = replace(study, moves=())
    vars(moved)["factors"] = (here,)
    assert next(resolved_table(moved).cells())[-1] == "study.yaml:3"


def test_the_heading_counts_what_varies(table: ScoreTable) -> None:
    """By kind, in the order of the study; nothing of kinds where nothing varies."""
    study = default_study(table.form, table.catalogue)
    said = studied(study, source_of(replace(table, settings=("scores.first.weights.a=5",))))
    assert said.startswith("Trial (trial 1.0.0, with scores.first.weights.a=5), a study derived from the formula (")
    assert said.endswith(": 11 arguments vary (4 anchors, 4 weights, 2 choice of mean, 1 bench noise).")
    assert studied(replace(study, moves=()), source_of(table)).endswith(": 0 arguments vary.")


def test_a_terminal_shows_the_table_where_it_is_asked_for(table: ScoreTable) -> None:
    """A page always has it; what is said of all scores comes first."""
    study = default_study(table.form, table.catalogue)
    plain, whole = (study_section(study, ["Of all."], resolved=resolved) for resolved in (False, True))
    assert (plain.in_full, whole.in_full) == (False, True)
    assert [one.name for one in plain.tables] == ["factors"]
    assert plain.tables[0].on_screen.in_full
