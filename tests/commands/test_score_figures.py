"""`steelyard score --out DIR`: the tables and the pictures in a folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

PICTURES = ("ratings", "reading-parts", "reading-uncertainty", "quiet-curve", "edge-curve")


def test_a_folder_holds_tables_and_pictures_and_repeats_to_the_byte(steelyard: Any, small: Path) -> None:
    """CSV, JSON, each picture as SVG and PNG, and a sentence for each; two runs give the same bytes."""
    out = small / "scores"
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out)
    assert result.exit_code == 0, result.stderr
    assert f"3 products and {len(PICTURES)} pictures written to" in result.stdout
    first = {path.name: path.read_bytes() for path in out.iterdir()}
    names = {f"{name}.{kind}" for name in PICTURES for kind in ("svg", "png")}
    tables = {"scores.csv", "scores.json", "pictures.json", "manifest.json"}
    assert set(first) == names | tables | {"scores.html", "scores.md"}
    said = json.loads(first["pictures.json"])["pictures"]
    assert [one["name"] for one in said] == list(PICTURES)
    assert (
        said[0]["finding"]
        == "2 ratings of 3 products in the order of Reading upright, A-01 first with 7.6; 1 cell is empty."
    )
    assert steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == first


def test_the_tables_of_a_folder_are_those_of_single_files(steelyard: Any, small: Path) -> None:
    """The same bytes as `--out FILE`, and the same document as `--json`."""
    formula, catalogue = small / "beds.yaml", small / "beds.csv"
    shown = steelyard("score", formula, catalogue, "--json", "--out", small / "all")
    for ending in ("csv", "json"):
        assert steelyard("score", formula, catalogue, "--out", small / f"one.{ending}").exit_code == 0
        assert (small / "all" / f"scores.{ending}").read_bytes() == (small / f"one.{ending}").read_bytes()
    assert shown.stdout == (small / "one.json").read_text(encoding="utf-8")


def test_what_is_tried_is_said_on_the_pictures(steelyard: Any, small: Path) -> None:
    """A picture of other weights cannot be taken for that of the formula."""
    setting = "scores.reading.weights.quiet=3"
    out = small / "tried"
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--set", setting, "--out", out)
    assert result.exit_code == 0, result.stderr
    for path in out.glob("*.svg"):
        assert setting in path.read_text(encoding="utf-8").replace("\n", ""), path.name


@pytest.mark.parametrize("name", ["scores.txt", "beds.csv/inside"])
def test_a_place_that_is_neither_folder_nor_table_is_refused(steelyard: Any, small: Path, name: str) -> None:
    """Before any work: exit 2, one line, nothing written."""
    before = sorted(small.iterdir())
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", small / name)
    assert result.exit_code == 2
    assert name in result.stderr
    assert "a folder, or a file ending in" in result.stderr
    assert sorted(small.iterdir()) == before


def test_a_fault_of_the_catalogue_leaves_no_folder(steelyard: Any, small: Path) -> None:
    """No half of the results is there to be taken for the whole."""
    (small / "beds.csv").write_text("product,noise,sit_drop\nA-01,3l,60\n", encoding="utf-8")
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", small / "scores")
    assert result.exit_code == 2
    assert not (small / "scores").exists()


def test_help_names_the_folder(steelyard: Any) -> None:
    """The option says that a folder will do."""
    assert "A folder for page, pictures and tables" in " ".join(
        steelyard("score", "--help").stdout.replace("│", " ").split()
    )


def test_a_page_is_of_what_is_asked_for_and_figures_are_all(steelyard: Any, small: Path) -> None:
    """`--score` and `--ratings` choose what a page says; a table and a folder hold every rating and score whatever is asked."""
    arguments = ("score", small / "beds.yaml", small / "beds.csv")
    pages = {}
    for name, more in {"all": [], "one": ["--score", "edge"], "ratings": ["--ratings"]}.items():
        for ending in ("md", "csv"):
            done = steelyard(*arguments, *more, "--out", small / f"{name}.{ending}")
            assert done.exit_code == 0, done.stderr
        pages[name] = (small / f"{name}.md").read_text(encoding="utf-8")
    assert (small / "one.csv").read_bytes() == (small / "all.csv").read_bytes()
    leader = "Reading upright: A-01 is first of 3 with 7.6 (strong)."
    assert [leader in pages[name] for name in ("all", "one", "ratings")] == [True, False, False]
    assert "Ratings of every product" in pages["ratings"]
    assert "Scores of every product" not in pages["ratings"]
    assert steelyard(*arguments, "--score", "egde", "--out", small / "none.md").exit_code == 2
    assert not (small / "none.md").exists()
