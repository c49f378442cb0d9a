"""Names that the form once called otherwise are still read, wherever they are written, and noted."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML
from typer.testing import CliRunner
from written_forms import faults_of, form_of

from analysis.cli.main import app
from analysis.records.drift import address_drift
from scoring.addresses.addresses import addresses, read, set_address, set_addresses, set_together
from scoring.form import Choice, Number
from scoring.form_reference.schema import formula_schema
from scoring.renamed import remark_today

NEW = """\
formula: t
scale: {from: 1, to: 10}
measures: {noise: {unit: dB, reporting_limit: 22, below_limit: limit}}
ratings: {quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}}
"""
OLD = NEW.replace("reporting_limit", "reporting_floor").replace("below_limit: limit", "below_floor: floor")


def test_old_keys_are_read_as_the_new_ones_and_noted() -> None:
    """The same form, but for its text and what is noted of it."""
    old, new = form_of(OLD), form_of(NEW)
    assert addresses(old).keys() == addresses(new).keys()
    (measure,) = old.measures
    assert measure.reporting_limit is not None
    assert (measure.reporting_limit.value, measure.below_limit.value) == (22, "limit")
    assert [(note.old, note.new) for note in old.renamed] == [
        ("reporting_floor", "reporting_limit"),
        ("below_floor", "below_limit"),
        ("floor", "limit"),
    ]
    assert new.renamed == ()


def test_an_old_key_beside_the_new_one_is_a_fault() -> None:
    """Which of the two is meant, only the author knows."""
    (fault,) = faults_of(NEW.replace("below_limit", "reporting_floor: 20, below_limit"))
    assert "`reporting_floor` in measures.noise, beside `reporting_limit`, as it is called now" in fault


@pytest.mark.parametrize("text", [OLD, NEW], ids=["old text", "new text"])
@pytest.mark.parametrize("names", ["reporting_floor below_floor floor", "reporting_limit below_limit limit"])
def test_either_name_is_an_address(text: str, names: str) -> None:
    """In a text with either."""
    limit, below, word = names.split()
    form = form_of(text)
    assert isinstance(read(form, f"measures.noise.{limit}"), Number)
    changed = set_addresses(form, [f"measures.noise.{limit}=24", f"measures.noise.{below}=half"])
    assert [one.value for one in (changed.measures[0].reporting_limit, changed.measures[0].below_limit) if one] == [
        24,
        "half",
    ]
    back = set_together(changed, {f"measures.noise.{limit}": "22", f"measures.noise.{below}": word})
    assert isinstance(noun := read(back, "measures.noise.below_limit"), Choice)
    assert noun.value == "limit"
    assert set_address(back, f"measures.noise.{below}", word) == back


def test_check_notes_an_old_name(tmp_path: Path) -> None:
    """It is no finding: the formula means what it meant."""
    (tmp_path / "old.yaml").write_text(OLD, encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(tmp_path / "old.yaml")])
    assert result.exit_code == 0
    said = " ".join(result.stdout.split())
    assert (
        "- measures.noise.reporting_limit: `reporting_floor` was renamed `reporting_limit`; the old name is still read"
        in said
    )


def test_an_editor_takes_the_old_keys_and_marks_them() -> None:
    """The schema says that they are deprecated; the page of the form has the new ones alone."""
    held = YAML(typ="safe").load(OLD.replace("below_floor: floor", "below_floor: half"))
    jsonschema.Draft202012Validator(formula_schema()).validate(held)
    assert "reporting_floor" not in Path(__file__).parents[1].joinpath("examples", "form.md").read_text(
        encoding="utf-8"
    )


def test_a_record_of_the_old_names_has_not_drifted() -> None:
    """Addresses and remarks are compared by the names of today; another value is drift under either name."""
    old = {"measures.noise.reporting_floor": "22", "measures.noise.below_floor": "floor"}
    new = {"measures.noise.reporting_limit": "22", "measures.noise.below_limit": "limit"}
    assert address_drift(old, new) == ()
    (finding,) = address_drift(old | {"measures.noise.reporting_floor": "20"}, new)
    assert "measures.noise.reporting_limit: 20 -> 22" in finding.says
    assert (
        remark_today("noise has readings below the reporting floor") == "noise has readings below the reporting limit"
    )


def test_errors_that_there_were_no_keys_for_are_no_drift() -> None:
    """A record of before has no such address; that one is written now is a drift, and so is one that is gone."""
    old, new = {"measures.noise.trim": "0.1"}, {"measures.noise.trim": "0.1", "measures.noise.between_sessions": "none"}
    assert address_drift(old, new) == ()
    (drift,) = address_drift(old, new | {"measures.noise.between_sessions": "pooled"})
    assert drift.says == "measures.noise.between_sessions: none -> pooled"
    assert len(address_drift(new | {"measures.noise.between_sessions": "pooled"}, new)) == 1
