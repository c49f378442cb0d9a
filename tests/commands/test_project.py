"""A project file: what a command line leaves out is taken from it, by one rule, and said; what is given is left as it is."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from ruamel.yaml import YAML

from analysis.cli.main import app
from analysis.cli.project_words import HERE, RULE, ProjectCommand
from analysis.project import NAME, project_schema

PROJECT = """\
project: beds
formula: beds.yaml
readings: readings
study: study.yaml
editions: {"2025": old/beds.yaml, quieter: quieter.yaml}
out: published
"""
STUDY = "study: mine\nvary: [{address: scores.reading.weights.edge, uniform: [1, 5]}]\n"


@pytest.fixture
def project(small: Path) -> Iterator[Path]:
    """A folder with a project file, in which commands are typed."""
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    (small / NAME).write_text(PROJECT, encoding="utf-8")
    (small / "study.yaml").write_text(STUDY, encoding="utf-8")
    (small / "how.yaml").write_text("readings: how\nproduct: product\ntables: [{file: beds.csv}]\n", encoding="utf-8")
    (small / "quieter.yaml").write_text(text.replace("quiet: 1}", "quiet: 3}"), encoding="utf-8")
    for folder in ("old", "readings", "published"):
        (small / folder).mkdir()
    (small / "old" / "beds.yaml").write_text(text.replace("edge: 3", "edge: 9"), encoding="utf-8")
    (small / "readings" / "readings.csv").write_bytes((small / "beds.csv").read_bytes())
    with contextlib.chdir(small):
        yield small


BOTH = "formula `beds.yaml`, readings `readings`"
#: What is typed, what it stands for, and what is said to be taken.
FILLED = [
    ("score", "score beds.yaml readings", BOTH),
    ("score --score reading", "score beds.yaml readings --score reading", BOTH),
    ("score beds.csv", "score beds.yaml beds.csv", "formula `beds.yaml`"),
    ("score quieter.yaml", "score quieter.yaml readings", "readings `readings`"),
    ("score 2025", "score old/beds.yaml readings", "edition 2025 `old/beds.yaml`, readings `readings`"),
    ("score quieter beds.csv", "score quieter.yaml beds.csv", "edition quieter `quieter.yaml`"),
    ("score --set scores.reading.weights.edge=1 quieter.yaml", "score quieter.yaml readings --set scores.reading.weights.edge=1", "readings `readings`"),
    ("check", "check beds.yaml readings", BOTH),
    ("check beds.csv", "check beds.yaml beds.csv", "formula `beds.yaml`"),
    ("score how.yaml", "score beds.yaml how.yaml", "formula `beds.yaml`"),
    ("check how.yaml", "check beds.yaml how.yaml", "formula `beds.yaml`"),
    ("explain A-01", "explain beds.yaml readings A-01", BOTH),
    ("explain --score reading A-01", "explain beds.yaml readings A-01 --score reading", BOTH),
    ("explain quieter A-01", "explain quieter.yaml readings A-01", "edition quieter `quieter.yaml`, readings `readings`"),
    ("explain beds.csv A-01", "explain beds.yaml beds.csv A-01", "formula `beds.yaml`"),
    ("compare quieter.yaml", "compare beds.yaml quieter.yaml readings", BOTH),
    ("compare quieter", "compare beds.yaml quieter.yaml readings", f"edition quieter `quieter.yaml`, {BOTH}"),
    ("compare 2025 quieter", "compare old/beds.yaml quieter.yaml readings", "edition 2025 `old/beds.yaml`, edition quieter `quieter.yaml`, readings `readings`"),
    ("compare 2025 beds.yaml beds.csv", "compare old/beds.yaml beds.yaml beds.csv", "edition 2025 `old/beds.yaml`"),
    ("compare --set scores.reading.weights.edge=1", "compare beds.yaml beds.yaml readings --set scores.reading.weights.edge=1", BOTH),
    ("sensitivity --draws 16", "sensitivity beds.yaml readings --study study.yaml --draws 16", f"{BOTH}, study `study.yaml`"),
    ("sensitivity --draws 16 beds.yaml", "sensitivity beds.yaml readings --draws 16", "readings `readings`"),
    ("stability --draws 100", "stability beds.yaml readings --study study.yaml --draws 100", f"{BOTH}, study `study.yaml`"),
    ("stability --draws=100 --study=study.yaml", "stability beds.yaml readings --study study.yaml --draws 100", BOTH),
    ("weights", "weights beds.yaml readings", BOTH),
    ("flip --first A-02", "flip beds.yaml readings --first A-02", BOTH),
    ("flip A-01 A-02", "flip beds.yaml readings A-01 A-02", BOTH),
    ("flip quieter.yaml A-01 A-02", "flip quieter.yaml readings A-01 A-02", "readings `readings`"),
    ("reread --readings 2", "reread beds.yaml readings --readings 2", BOTH),
    ("explore --force", "explore beds.yaml readings --out published/explore.html --force", f"{BOTH}, out `published/explore.html`"),
    ("explore --out page.html --force", "explore beds.yaml readings --out page.html --force", BOTH),
    ("appendix --draws 256", "appendix beds.yaml readings --study study.yaml --out published/appendix --draws 256", f"{BOTH}, study `study.yaml`, out `published/appendix`"),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "means", "taken"), FILLED, ids=[typed for typed, _, _ in FILLED])
def test_what_is_left_out_is_taken_from_the_project(
    steelyard: Any, project: Path, pictures_unseen: None, typed: str, means: str, taken: str
) -> None:
    """The command does what it does where all is typed, and says on standard error what it took."""
    short, whole = steelyard(*typed.split()), steelyard(*means.split())
    assert (short.exit_code, short.stdout) == (whole.exit_code, whole.stdout)
    assert short.exit_code == 0, short.stderr
    first, _, others = short.stderr.partition("\n")
    assert first == f"Taken from steelyard.yaml: {taken}."
    assert others == whole.stderr


def test_every_command_that_takes_a_formula_takes_the_projects() -> None:
    """A new command does, and is tried above."""
    tried = {typed.split()[0] for typed, _, _ in FILLED} | {"record", "verify"}
    named = {command.callback.__name__ for command in app.registered_commands if command.callback is not None}
    assert named - tried == {"tour", "new", "selftest", "schema"}
    assert all(command.cls is ProjectCommand for command in app.registered_commands)


def test_a_record_is_made_and_held_against_the_project(steelyard: Any, project: Path) -> None:
    """Its file bears the day; a record by itself is held against today's formula and readings."""
    made = steelyard("record", "--date", "2026-11-27")
    assert (made.exit_code, (project / "published" / "record-2026-11-27.json").exists()) == (0, True)
    held = steelyard("verify", "published/record-2026-11-27.json")
    whole = steelyard("verify", "published/record-2026-11-27.json", "beds.yaml", "readings")
    assert (held.exit_code, held.stdout) == (0, whole.stdout)
    assert held.stderr == f"Taken from steelyard.yaml: {BOTH}.\n"
    assert steelyard("record").stderr.startswith(f"Taken from steelyard.yaml: {BOTH}.\n--out: not given")


def test_a_folder_of_output_is_verified_as_ever(steelyard: Any, project: Path, pictures_unseen: None) -> None:
    """It needs no formula."""
    assert steelyard("weights", "--out", "weights").exit_code == 0
    held = steelyard("verify", "weights")
    assert (held.exit_code, held.stderr) == (0, "")


@pytest.mark.parametrize(
    "typed",
    ["score beds.yaml beds.csv", "check beds.yaml", "check beds.yaml beds.csv", "explain beds.yaml beds.csv A-01",
     "compare beds.yaml quieter.yaml beds.csv", "sensitivity beds.yaml beds.csv --draws 16", "flip beds.yaml beds.csv A-01 A-02",
     "stability beds.yaml beds.csv --draws 100", "weights beds.yaml readings", "score --help", "schema --study"],
)  # fmt: skip
def test_what_is_typed_whole_means_the_same_whatever_the_project_says(
    steelyard: Any, project: Path, typed: str
) -> None:
    """A project file is not even read: here it is none."""
    (project / NAME).write_text("project: [", encoding="utf-8")
    beside = steelyard(*typed.split())
    (project / NAME).unlink()
    alone = steelyard(*typed.split())
    assert (beside.exit_code, beside.stdout, beside.stderr) == (alone.exit_code, alone.stdout, alone.stderr)
    assert alone.exit_code == 0


def test_json_is_alone_on_both_outputs(steelyard: Any, project: Path) -> None:
    """Nothing is said of the project beside it."""
    done = steelyard("score", "--json")
    assert (done.exit_code, done.stderr) == (0, "")
    assert json.loads(done.stdout)["formula"]["name"] == "beds"


def test_another_project_file_is_given_before_the_command(steelyard: Any, project: Path, tmp_path: Path) -> None:
    """Its files lie as seen from its own folder."""
    away = tmp_path / "away"
    away.mkdir()
    with contextlib.chdir(away):
        assert steelyard("score").exit_code == 2
        done = steelyard("--project", f"../{NAME}", "score", "2025")
        assert done.exit_code == 0
        assert done.stderr == f"Taken from ../{NAME}: edition 2025 `../old/beds.yaml`, readings `../readings`.\n"
        missing = steelyard("--project", "nowhere.yaml", "score")
        assert (missing.exit_code, missing.stderr.splitlines()[0]) == (
            2,
            "nowhere.yaml: No such file or directory; expected a project file that can be read.",
        )


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("score beds", "score: the word `beds`; expected a formula (.yaml, or one of 2025, quieter), a table file, a recipe or a folder."),
        ("score beds.csv beds.yaml", "score: the word `beds.yaml`; expected a formula"),
        ("explain A-01 A-02", "explain: the word `A-01`; expected a formula"),
        ("compare", "compare: nothing to compare the project's formula with; expected a formula file, or one of the editions 2025, quieter. Or try"),
        ("score bed.yaml", "bed.yaml: No such file or directory"),
        ("score bed.csv", "bed.csv: "),
        ("explain", "Missing argument"),
    ],
)  # fmt: skip
def test_a_word_that_fits_nowhere_is_a_fault(steelyard: Any, project: Path, typed: str, says: str) -> None:
    """It is not taken for what it is not."""
    done = steelyard(*typed.split())
    assert (done.exit_code, done.stdout) == (2, "")
    assert says in done.stderr


def test_a_word_of_two_meanings_is_a_fault(steelyard: Any, project: Path) -> None:
    """An edition, and a folder of readings."""
    (project / "2025").mkdir()
    done = steelyard("score", "2025")
    assert done.exit_code == 2
    assert (
        "score: `2025`, an edition of the project and a folder here; expected a word of one meaning. Write `./2025`"
        in done.stderr
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("project: p\nformulae: beds.yaml\n", "steelyard.yaml:2:1: the key `formulae` in the project; expected a known key. Did you mean `formula`?"),
        ("project: p\nformula: bed.yaml\n", "steelyard.yaml:2:10: `bed.yaml` for formula, which is not there; expected a file, as it lies from .. Did you mean `beds.yaml`?"),
        ("project: p\nformula: beds.yaml\nreadings: nowhere.csv\n", "steelyard.yaml:3:11: `nowhere.csv` for readings, which is not there"),
        ("project: p\nformula: beds.yaml\neditions: {a: b.yaml}\n", "steelyard.yaml:3:15: `b.yaml` for editions.a, which is not there"),
        ("project: p\nformula: beds.yaml\neditions: {a.yaml: beds.yaml}\n", "steelyard.yaml:3:12: the name `a.yaml` of an edition; expected a name that is no option and does not end as a file."),
        ("project: p\nformula: beds.yaml\neditions: [beds.yaml]\n", "steelyard.yaml:3:11: a list; expected formula files by name"),
        ("project: p\nreadings: readings\n", "steelyard.yaml: no `formula`; expected the formula of the project. Write FORMULA after the command, or `formula: ...` in the project file."),
        ("project: p\nformula: beds.yaml\n", "steelyard.yaml: no `readings`; expected the readings of the project. Write CATALOGUE"),
        ("formula: beds.yaml\n", "project"),
        ("", "steelyard.yaml"),
        ("project: [", "steelyard.yaml:1:1"),
    ],
)  # fmt: skip
def test_a_fault_of_the_project_file_has_its_place(steelyard: Any, project: Path, text: str, says: str) -> None:
    """Where it is needed, with line and column."""
    (project / NAME).write_text(text, encoding="utf-8")
    done = steelyard("score")
    assert (done.exit_code, done.stdout, says in done.stderr) == (2, "", True), done.stderr


def test_the_laboratory_has_a_project_file(steelyard: Any, laboratory: Path) -> None:
    """In its folder a formula and a folder of readings need not be typed; a line that gives them means the same."""
    with contextlib.chdir(laboratory):
        short = steelyard("explain", "QB-009", "--score", "quiet")
        whole = steelyard("explain", "guest-bed.yaml", ".", "QB-009", "--score", "quiet")
    assert (short.exit_code, short.stdout) == (0, whole.stdout)
    assert short.stderr == "Taken from steelyard.yaml: formula `guest-bed.yaml`, readings `.`.\n"
    assert whole.stderr == ""


def test_optional_words_are_left_out_where_the_project_says_none(steelyard: Any, project: Path) -> None:
    """The check is then of the formula alone."""
    (project / NAME).write_text("project: p\nformula: beds.yaml\n", encoding="utf-8")
    done, alone = steelyard("check"), steelyard("check", "beds.yaml")
    assert (done.exit_code, done.stdout) == (0, alone.stdout)


def test_the_schema_takes_what_the_reader_takes(steelyard: Any) -> None:
    """And is printed."""
    schema = json.loads(steelyard("schema", "--project").stdout)
    assert schema == project_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(YAML(typ="safe").load(PROJECT), schema)
    for wrong in ("formula: beds.yaml", "project: p\nformulae: x", "project: p\neditions: [x]", "project: p\nout: 3"):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(YAML(typ="safe").load(wrong), schema)


def test_the_rule_is_said_in_the_help_and_in_the_guide(steelyard: Any) -> None:
    """In the same words."""
    guide = (Path(__file__).parents[2] / "examples" / "guide" / "README.md").read_text(encoding="utf-8")
    assert RULE.split(": ", 1)[1] in guide.replace("\n", " ")
    assert " ".join(RULE.split()) in " ".join(steelyard("--help").stdout.split())
    assert HERE == NAME
