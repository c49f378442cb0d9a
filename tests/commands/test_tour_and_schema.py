"""`steelyard tour` and `steelyard schema`."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from extent import is_long
from ruamel.yaml import YAML

from analysis.cli.tour import LABORATORY
from scoring.blends import BLENDS
from scoring.curves import KINDS
from scoring.errors import FormulaError
from scoring.reader import read_form

ROOT = Path(__file__).parents[2]
FORMULAS = [
    ROOT / "examples" / "laboratory" / "guest-bed.yaml",
    *sorted((ROOT / "formulas" / "published").glob("*.yaml")),
]


def shows_the_main_job(lab: Path, printed: str) -> None:
    """Each file as in examples/, each command as typed, everything that is published, and what it says of the beds."""
    for name in LABORATORY:
        assert (lab / name).read_bytes() == (ROOT / "examples" / "laboratory" / name).read_bytes()
    studied = ["check", "score", "explain", "sensitivity", "stability"]
    published = ["appendix", "explore", "record", "verify"]
    assert re.findall(r"^\$ steelyard (\w+)", printed, re.MULTILINE) == studied + published
    assert "invented" in printed
    assert (
        "Published, of 60: two_abed 53, propped_page 55, restless_night 53, steady_rise 57, cool_night 57." in printed
    )
    assert (lab / "page.html").stat().st_size > 100_000
    assert printed.count("What was published holds.") == 1


def test_the_tour_writes_the_laboratory_and_shows_the_main_job(
    steelyard: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With both studies and the appendix asked for only: they have tests of their own, and stand whole in the README's tour.

    A second tour writes over no record.
    """
    from analysis.cli import appendix, check, explain, explore, sensitivity, stability, tour
    from analysis.indices.report import AskedOfIndices

    asked: dict[str, tuple[tuple[Any, ...], dict[str, Any]]] = {}
    for command in (sensitivity, stability, appendix):
        name = command.__name__.rsplit(".", 1)[-1]
        monkeypatch.setattr(
            command, "run", lambda *given, name=name, **options: asked.__setitem__(name, (given, options))
        )
    lab = tmp_path / "lab"
    result = steelyard("tour", lab)
    assert result.exit_code == 0, result.stderr
    shows_the_main_job(lab, result.stdout)
    formula, study = lab / "guest-bed.yaml", lab / "study.yaml"
    assert list(asked) == ["sensitivity", "stability", "appendix"]
    assert asked["sensitivity"] == ((formula, lab, [], study, AskedOfIndices(draws=1024)), {})
    assert asked["stability"][0] == (formula, lab, [], study)
    (given, options) = asked["appendix"]
    assert given == (formula, lab, [])
    assert (options["out"], options["study"], options["date"]) == (lab / "appendix", study, tour.PUBLISHED)
    kept = (lab / "record.json").read_bytes()
    for command in (check, explain, explore):
        monkeypatch.setattr(command, "run", lambda *given, **options: None)
    second = steelyard("tour", lab)
    assert second.exit_code == 0
    assert "no record is written over" in second.stdout
    assert second.stdout.count("What was published holds.") == 1
    assert (lab / "record.json").read_bytes() == kept


@pytest.fixture
def readmes_tour(steelyard: Any, tmp_path: Path) -> tuple[Path, str]:
    """The folder and the words of a whole tour: that of `.ci/run`, or, in a long run, one made here."""
    made = os.environ.get("STEELYARD_TOUR")
    if made is not None:
        return Path(made), Path(made).with_suffix(".printed").read_text(encoding="utf-8")
    if not is_long():
        pytest.skip("a whole tour takes long: with --long, or where STEELYARD_TOUR names the folder of one")
    result = steelyard("tour", tmp_path / "tour")
    assert result.exit_code == 0, result.stderr
    return tmp_path / "tour", result.stdout


def test_the_readmes_tour_makes_everything(readmes_tour: tuple[Path, str]) -> None:
    """Its first command, as it stands: verdicts of both studies, and an appendix in every form."""
    lab, printed = readmes_tour
    shows_the_main_job(lab, printed)
    for command in ("sensitivity", "stability"):
        said = printed.split(f"$ steelyard {command}")[1].split("$ steelyard")[0]
        assert "Two Abed" in said
    for name in ("appendix.html", "appendix.pdf", "appendix.tex", "appendix.md", "workings.csv"):
        assert (lab / "appendix" / name).stat().st_size > 1000, name


def test_the_tour_overwrites_nothing_of_yours(steelyard: Any, tmp_path: Path) -> None:
    """A file of another content in the way: exit 2, and it stays."""
    (tmp_path / "items.csv").write_text("mine\n", encoding="utf-8")
    result = steelyard("tour", tmp_path)
    assert result.exit_code == 2
    assert "items.csv" in result.stderr
    assert (tmp_path / "items.csv").read_text(encoding="utf-8") == "mine\n"
    assert not (tmp_path / "readings.csv").exists()


def schema_of(steelyard: Any) -> dict[str, Any]:
    """The printed schema."""
    found: dict[str, Any] = json.loads(steelyard("schema").stdout)
    return found


@pytest.mark.parametrize("path", FORMULAS, ids=lambda path: path.stem)
def test_every_formula_of_the_project_fits_the_schema(steelyard: Any, path: Path) -> None:
    """What the reader takes, the schema takes."""
    document = json.loads(json.dumps(YAML(typ="safe").load(path)))
    jsonschema.Draft202012Validator(schema_of(steelyard)).validate(document)


def test_the_schema_knows_every_curve_and_blend(steelyard: Any) -> None:
    """A kind that is registered is in the schema: it is made from the registries."""
    definitions = schema_of(steelyard)["$defs"]
    curves = [next(iter(option["required"])) for option in definitions["curve"]["oneOf"]]
    blends = [option["const"] for option in definitions["score"]["properties"]["blend"]["oneOf"]]
    assert (curves, blends) == (list(KINDS), list(BLENDS))


@pytest.mark.parametrize(
    "wrong",
    [
        "formula: a\nscoers: {}\n",
        "formula: a\nratings: {r: {measure: m, curve: {lin: {worst: 1, best: 2}}}}\nmeasures: {m: {unit: mm}}\n",
        "formula: a\nratings: {r: {value: '1'}}\nscores: {s: {blend: mode, weights: {r: 1}}}\n",
        "formula: a\nmeasures: {m: {}}\nratings: {r: {value: '1'}}\n",
    ],
    ids=["unknown section", "unknown curve", "unknown blend", "no unit"],
)
def test_what_the_schema_refuses_the_reader_refuses(steelyard: Any, tmp_path: Path, wrong: str) -> None:
    """An editor and the command agree on what is wrong."""
    path = tmp_path / "wrong.yaml"
    path.write_text(wrong, encoding="utf-8")
    document = json.loads(json.dumps(YAML(typ="safe").load(path)))
    assert list(jsonschema.Draft202012Validator(schema_of(steelyard)).iter_errors(document))
    with pytest.raises(FormulaError, match="expected"):
        read_form(path)


def test_the_laboratorys_record_fits_the_schema_of_records(steelyard: Any, tmp_path: Path) -> None:
    """With a correction in it; a record with a slip fits neither the schema nor `verify`."""
    laboratory, path = ROOT / "examples" / "laboratory", tmp_path / "record.json"
    formula = laboratory / "guest-bed.yaml"
    edited = tmp_path / "edited.yaml"
    edited.write_text(
        formula.read_text(encoding="utf-8").replace("cautions:", "cautions:\n  - Mind the gap.", 1), encoding="utf-8"
    )
    assert steelyard("record", formula, laboratory, "--out", path, "--date", "2026-01-02").exit_code == 0
    options = ("--corrects", path, "--date", "2026-01-03", "--cause", "a caution was left out")
    assert steelyard("record", edited, laboratory, "--out", path, *options).exit_code == 0
    document = json.loads(path.read_text(encoding="utf-8"))
    assert len(document["corrections"]) == 1
    outsider = jsonschema.Draft202012Validator(json.loads(steelyard("schema", "--record").stdout))
    outsider.validate(document)
    document["publication"]["sections"]["figures"][0]["scores"] = None
    assert not outsider.is_valid(document)
    path.write_text(json.dumps(document), encoding="utf-8")
    assert steelyard("verify", path).exit_code == 1


def test_the_laboratorys_study_fits_the_schema_of_studies(steelyard: Any) -> None:
    """As an editor would hold it; a misspelt subject does not fit."""
    text = (ROOT / "examples" / "laboratory" / "study.yaml").read_text(encoding="utf-8")
    outsider = jsonschema.Draft202012Validator(json.loads(steelyard("schema", "--study").stdout))
    for written, fits in ((text, True), (text.replace("anchors:", "anchor:"), False)):
        assert outsider.is_valid(json.loads(json.dumps(YAML(typ="safe").load(written)))) is fits


def test_one_thing_is_printed_at_a_time(steelyard: Any) -> None:
    """Two options that each ask for a text: exit 2, in one line."""
    result = steelyard("schema", "--page", "--record")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "`--page` and `--record`; expected one of --page, --recipe, --study, --project, --record" in result.stderr
