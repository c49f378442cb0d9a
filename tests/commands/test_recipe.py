"""A recipe stands wherever a catalogue does, in whole commands."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from commands.conftest import Steelyard
from recipes import workbook

RECIPE = """\
readings: bench-2026
product: Bed
words: {missing: [TBD]}
ignore: [Notes]
measures: {noise: {column: Noise}}
attributes: {maker: {column: Made by}}
tables:
  - {file: bench.xlsx, sheets: [Spring], header: 3, skip_where: {Bed: [Average]}}
  - {file: edges.csv, separator: ";", decimal: comma}
"""
ROWS = [
    ["Invented readings"],
    [],
    ["Bed", "Made by", "Noise (dB) #1", "Noise (dB) #2", "Noise (dB) #3", "Notes", "Tested by"],
    ["A-01", "Vorrlin", 31, 32, 33, "see mail by K.", "K."],
    ["A-02", "Dapquist", 22, 22, 22, None, "K."],
    ["A-03", "Plumvane", "TBD", None, None, "see mail by K.", None],
    ["Average", None, 28, 28, 28],
]
EDGES = "Bed;sit_drop (mm)\nA-01;60,0\nA-02;120,0\nA-03;80,0\n"


@pytest.fixture
def bench(small: Path) -> Path:
    """The folder of a small formula, with the same readings as a bench left them, and a recipe."""
    workbook(small / "bench.xlsx", {"Spring": ROWS, "Remarks": [["see mail by K."]]})
    (small / "edges.csv").write_text(EDGES, encoding="utf-8")
    (small / "readings.yaml").write_text(RECIPE, encoding="utf-8")
    return small


def test_scores_are_those_of_one_prepared_file(steelyard: Steelyard, bench: Path) -> None:
    """By the recipe, by its folder, and by the file that somebody prepared; what is set aside is named."""
    scores = [
        json.loads(steelyard("score", bench / "beds.yaml", catalogue, "--json").stdout)["products"]
        for catalogue in (bench / "readings.yaml", bench, bench / "beds.csv")
    ]
    assert scores[0] == scores[1]
    for one, prepared in zip(scores[0], scores[2], strict=True):
        assert (one["id"], one["scores"]) == (prepared["id"], prepared["scores"])
    done = steelyard("score", bench / "beds.yaml", bench / "readings.yaml")
    assert "Left out, for the formula does not declare them under `attributes`: Tested by." in done.output


def test_which_comes_first(steelyard: Steelyard, bench: Path) -> None:
    """A recipe is known from a formula, whichever stands in the wrong place."""
    form, recipe = bench / "beds.yaml", bench / "readings.yaml"
    done = steelyard("score", recipe, bench / "beds.csv")
    assert (done.exit_code, done.stdout) == (2, "")
    assert (
        "readings.yaml: a recipe, where the formula belongs; expected a formula file (YAML). Did you swap"
        in done.stderr
    )
    done = steelyard("score", recipe, form)
    assert "a recipe, where the formula belongs" in done.stderr
    assert (
        "beds.yaml: a YAML file, where the readings belong; expected a folder, a recipe (`readings: ...`)"
        in done.stderr
    )
    done = steelyard("check", form, form)
    assert "beds.yaml: a YAML file, where the readings belong" in done.stderr
    assert done.exit_code == 2


@pytest.mark.parametrize("catalogue", ["readings.yaml", "."])
@pytest.mark.parametrize("file", ["bench.xlsx", "edges.csv"])
def test_no_output_overwrites_what_a_recipe_reads(steelyard: Steelyard, bench: Path, catalogue: str, file: str) -> None:
    """Every file of it, and the recipe."""
    before = (bench / file).read_bytes()
    done = steelyard("score", bench / "beds.yaml", bench / catalogue, "--out", bench / file, "--force")
    assert done.exit_code == 2
    assert "it is a file that this command reads" in done.stderr
    assert (bench / file).read_bytes() == before


def test_a_record_of_a_recipe_holds_until_a_file_of_it_changes(steelyard: Steelyard, bench: Path) -> None:
    """And names the reading that changed; the hash is of the recipe and what it reads."""
    form, recipe, record = bench / "beds.yaml", bench / "readings.yaml", bench / "record.json"
    done = steelyard("record", form, recipe, "--date", "2026-01-02", "--out", record)
    assert done.exit_code == 0, done.output
    assert "mail by" not in record.read_text(encoding="utf-8")
    done = steelyard("verify", record, form, recipe)
    assert done.exit_code == 0, done.output
    assert "What was published holds." in done.stdout
    (bench / "edges.csv").write_text(EDGES.replace("60,0", "64,0"), encoding="utf-8")
    done = steelyard("verify", record, form, recipe)
    assert done.exit_code == 1
    assert "sit_drop" in done.output


def test_two_editions_of_a_bench_are_compared(steelyard: Steelyard, bench: Path) -> None:
    """One recipe for each."""
    (bench / "edges-later.csv").write_text(EDGES.replace("60,0", "90,0"), encoding="utf-8")
    later = bench / "later.yaml"
    later.write_text(RECIPE.replace("edges.csv", "edges-later.csv"), encoding="utf-8")
    form = bench / "beds.yaml"
    done = steelyard("compare", form, form, bench / "readings.yaml", "--catalogue-new", later, "--json")
    assert done.exit_code == 0, done.output
    assert "A-01" in done.stdout


def test_explain_and_the_page_take_a_recipe(steelyard: Steelyard, bench: Path) -> None:
    """The word of a gap is its reason; a private word reaches neither."""
    done = steelyard("explain", bench / "beds.yaml", bench / "readings.yaml", "A-03")
    assert done.exit_code == 0, done.output
    assert "missing (TBD)" in done.stdout
    page = bench / "page.html"
    done = steelyard("explore", bench / "beds.yaml", bench / "readings.yaml", "--out", page)
    assert done.exit_code == 0, done.output
    assert "mail by" not in done.output + page.read_text(encoding="utf-8")


def test_every_fault_comes_at_once_and_nothing_is_written(steelyard: Steelyard, bench: Path) -> None:
    """Exit 2, a line each, no traceback."""
    (bench / "readings.yaml").write_text(RECIPE.replace("words: {missing: [TBD]}\n", ""), encoding="utf-8")
    (bench / "edges.csv").write_text(EDGES.replace("60,0", "60.0.0"), encoding="utf-8")
    out = bench / "scores.csv"
    done = steelyard("score", bench / "beds.yaml", bench / "readings.yaml", "--out", out)
    assert (done.exit_code, out.exists()) == (2, False)
    first, second, last = done.stderr.strip().splitlines()
    assert "bench.xlsx, sheet Spring, cell C6 (Noise (dB) #1): `TBD`; expected a number" in first
    assert first.endswith("In a recipe: `words: {missing: [TBD]}`.")
    assert "edges.csv, row 2, column sit_drop (mm): `60.0.0`; expected a number" in second
    assert last == "2 problems; nothing was done."


def test_the_schema_of_a_recipe_is_printed(steelyard: Steelyard) -> None:
    """For editors."""
    schema = json.loads(steelyard("schema", "--recipe").stdout)
    assert schema["title"] == "A steelyard recipe of readings"
    assert {"readings", "tables", "words", "sessions"} <= schema["properties"].keys()
