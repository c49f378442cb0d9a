"""`steelyard score`: the table, its documents and files, and what it refuses."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from scoring import read_catalogue, read_formula, score

LIMIT_HINT = "Did you mean `scores.reading.weights.quiet`?"


def document(result: Any) -> dict[str, Any]:
    """The JSON document on standard output."""
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.mark.parametrize(
    ("readings", "missing", "starred"),
    [
        ("A,60,31\nB,62,30\n", "{absent_above: 0.9}", False),
        ("A,60,31\nB,62,\n", "{absent_above: 0.9}", True),
        ("A,60,31\nB,62,\n", "{absent_above: 0.9, otherwise: lowest}", True),
        ("A,60,31\nB,62,\n", "{absent_above: 0}", False),
    ],
)
def test_a_star_is_explained_where_one_stands(
    steelyard: Any, tmp_path: Path, readings: str, missing: str, starred: bool
) -> None:
    """On the terminal and in a notebook; whether the missing weight is shared out or not, a part is missing."""
    form = f"""\
formula: stars
measures: {{drop: {{unit: mm}}, noise: {{unit: dB}}}}
ratings:
  edge: {{measure: drop, curve: {{line: {{worst: 135, best: 40}}}}}}
  quiet: {{measure: noise, curve: {{line: {{worst: 46, best: 22}}}}}}
scores:
  both: {{blend: weighted mean, parts: [edge, quiet], missing: {missing}}}
"""
    (tmp_path / "stars.yaml").write_text(form, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(f"product,drop,noise\n{readings}", encoding="utf-8")
    result = steelyard("score", tmp_path / "stars.yaml", tmp_path / "beds.csv")
    assert result.exit_code == 0
    marks = (
        "# place, best first; * partial: a part is missing; `--score" if starred else "# place, best first; `--score"
    )
    assert marks in result.stdout
    formula = read_formula(tmp_path / "stars.yaml")
    table = score(formula, read_catalogue(tmp_path / "beds.csv", formula))
    assert ("* partial: a part is missing" in table._repr_html_()) == starred


def test_hand_worked_scores(steelyard: Any, small: Path) -> None:
    """A-01: edge 10 - 4*20/40 = 8, quiet 1 + 9*(46-32)/24 = 6.25, (3*8 + 6.25)/4 = 7.5625, shown 7.6."""
    found = document(steelyard("score", small / "beds.yaml", small / "beds.csv", "--json"))
    first, second, third = found["products"]
    assert first["scores"]["reading"] == {
        "value": 7.5625,
        "shown": 7.6,
        "rank": 1,
        "band": "strong",
        "status": "rated",
        "remarks": [],
        "decided_by": [],
    }
    assert first["ratings"]["quiet"] == {"value": 6.25, "shown": 6.3, "status": "rated"}
    # edge 6 - 5*40/55 = 2.3636, quiet 10, (3*2.3636 + 10)/4 = 4.2727: the limit at 6 is met and does not bite
    assert second["scores"]["reading"]["value"] == pytest.approx(4.272727272727273, abs=1e-12)
    # quiet is missing with a quarter of the weight; edge alone stands
    assert third["scores"]["reading"] == {
        "value": 6.0,
        "shown": 6.0,
        "rank": 2,
        "band": "fair",
        "status": "partial",
        "remarks": ["quiet is missing"],
        "decided_by": [],
    }
    assert third["ratings"]["quiet"] == {"value": None, "shown": None, "status": "unrated"}


def test_ratings_of_a_formula_without_any_are_refused(steelyard: Any, tmp_path: Path) -> None:
    """In one line that says what to do; the scores alone are shown."""
    (tmp_path / "f.yaml").write_text(
        'formula: f\nmeasures: {a: {unit: "1"}}\nscores: {s: {value: "clamp(a, 1, 10)"}}\n'
    )
    (tmp_path / "c.csv").write_text("product,a\nx,3\n")
    done = steelyard("score", tmp_path / "f.yaml", tmp_path / "c.csv", "--ratings")
    assert (done.exit_code, done.stdout) == (2, "")
    expected = (
        "--ratings: a formula without ratings; expected one that has some. Leave it out: the scores are shown then."
    )
    assert " ".join(done.stderr.split()).startswith(expected)
    assert steelyard("score", tmp_path / "f.yaml", tmp_path / "c.csv").exit_code == 0


def test_document_names_formula_and_catalogue(steelyard: Any, small: Path) -> None:
    """The document says what it was made from, and carries cautions."""
    found = document(steelyard("score", small / "beds.yaml", small / "beds.csv", "--json"))
    assert found["formula"]["name"] == "beds"
    assert found["formula"]["version"] == "1.0.0"
    assert len(found["formula"]["sha256"]) == 64
    assert found["catalogue"]["products"] == 3
    assert any("no medical advice" in caution for caution in found["cautions"])


def test_set_tries_a_value_and_leaves_the_file(steelyard: Any, small: Path) -> None:
    """--set changes the figures of this run: (3*8 + 3*6.25)/6 = 7.125; the file keeps its bytes."""
    before = (small / "beds.yaml").read_bytes()
    setting = "scores.reading.weights.quiet=3"
    found = document(steelyard("score", small / "beds.yaml", small / "beds.csv", "--set", setting, "--json"))
    assert found["products"][0]["scores"]["reading"]["value"] == 7.125
    assert (small / "beds.yaml").read_bytes() == before


def test_unknown_address_names_the_nearest(steelyard: Any, small: Path) -> None:
    """A misspelt address is refused with exit 2 and the nearest one named."""
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--set", "scores.reading.weights.quit=3")
    assert result.exit_code == 2
    assert LIMIT_HINT in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("ending", ["csv", "parquet", "xlsx", "json"])
def test_files_hold_the_table_and_repeat_to_the_byte(steelyard: Any, small: Path, ending: str) -> None:
    """Each format holds the shown figures, and two runs give the same bytes."""
    out = small / f"scores.{ending}"
    assert steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    first = out.read_bytes()
    assert steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    assert out.read_bytes() == first
    if ending == "json":
        shown = [p["scores"]["reading"]["shown"] for p in json.loads(first)["products"]]
    else:
        readers = {"csv": pd.read_csv, "parquet": pd.read_parquet, "xlsx": pd.read_excel}
        shown = readers[ending](out)["reading.shown"].tolist()
    assert shown == [7.6, 4.3, 6.0]
    assert [path.name for path in small.iterdir() if path.name.startswith(".")] == []


def test_cells_that_a_spreadsheet_would_run_are_neutralised(steelyard: Any, small: Path) -> None:
    """A product called like a formula is text in CSV and XLSX, with an apostrophe before it."""
    evil = '=HYPERLINK("http://example.invalid","x")'
    text = (small / "beds.csv").read_text(encoding="utf-8")
    text = (
        text.replace("A-01", '"' + evil.replace('"', '""') + '"')
        .replace("Vorrlin", "@SUM(A1)")
        .replace("A-02", "+A-02")
    )
    (small / "beds.csv").write_text(text, encoding="utf-8")
    for ending in ("csv", "xlsx"):
        out = small / f"scores.{ending}"
        result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out)
        assert result.exit_code == 0, result.stderr
        frame = pd.read_csv(out) if ending == "csv" else pd.read_excel(out)
        assert frame["product"].tolist() == ["'" + evil, "'+A-02", "A-03"]
        assert frame["maker"].tolist()[0] == "'@SUM(A1)"
    cells = [cell for row in openpyxl.load_workbook(small / "scores.xlsx").active.iter_rows() for cell in row]
    assert [cell.coordinate for cell in cells if cell.data_type == "f"] == []


@pytest.mark.parametrize("name", ["scores.txt", "nowhere/scores.csv"])
def test_a_file_that_cannot_be_written_is_refused(steelyard: Any, small: Path, name: str) -> None:
    """An unknown ending or a folder that is not there: exit 2, one line, nothing written."""
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", small / name)
    assert result.exit_code == 2
    assert name in result.stderr
    assert not (small / name).exists()


def test_a_failed_run_keeps_the_old_file(steelyard: Any, small: Path) -> None:
    """A catalogue with a fault leaves the file of the last good run as it was."""
    out = small / "scores.csv"
    assert steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    before = out.read_bytes()
    (small / "beds.csv").write_text("product,noise,sit_drop\nA-01,3l,60\n", encoding="utf-8")
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out)
    assert result.exit_code == 2
    assert "row 2, column noise" in result.stderr
    assert out.read_bytes() == before


def test_a_value_that_is_no_number_is_a_fault(steelyard: Any, small: Path) -> None:
    """A logarithm of a negative number is named with its product and score; nothing is published."""
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    text = text.replace("{measure: noise, curve: {line: {worst: 46, best: 22}}}", '{value: "log(noise - 25)"}')
    (small / "beds.yaml").write_text(text, encoding="utf-8")
    result = steelyard("score", small / "beds.yaml", small / "beds.csv")
    assert result.exit_code == 2
    assert "quiet of A-02 has no value" in result.stderr
    assert result.stdout == ""


def test_one_score_in_full(steelyard: Any, small: Path) -> None:
    """--score shows band, status, attributes and remarks, in order of place."""
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--score", "reading")
    lines = [line.split() for line in result.stdout.splitlines() if re.match(r" *\d+ +A-0", line)]
    assert [line[1] for line in lines] == ["A-01", "A-03", "A-02"]
    assert "Reading upright: A-01 is first of 3 with 7.6 (strong).\n" in result.stdout
    assert "quiet is missing" in result.stdout
    assert "Vorrlin" in result.stdout


def test_control_characters_cannot_steer_the_terminal(steelyard: Any, small: Path) -> None:
    """An escape sequence in a title is refused by name; a direction mark in a product's name is written out."""
    good = (small / "beds.yaml").read_text(encoding="utf-8")
    (small / "beds.yaml").write_text(good.replace("version:", 'title: "red \\e[31m"\nversion:'), encoding="utf-8")
    result = steelyard("score", small / "beds.yaml", small / "beds.csv")
    assert result.exit_code == 2
    assert "U+001B" in result.stderr
    assert "\x1b" not in result.output
    (small / "beds.yaml").write_text(good, encoding="utf-8")
    marked = (small / "beds.csv").read_text(encoding="utf-8").replace("Vorrlin", "Vor\u202erlin")
    (small / "beds.csv").write_text(marked, encoding="utf-8")
    result = steelyard("score", small / "beds.yaml", small / "beds.csv", "--score", "reading")
    assert "\u202e" not in result.output
    assert "Vor\\u202erlin" in result.output


def test_planned_publication_counts_of_the_laboratory(steelyard: Any, laboratory: Path) -> None:
    """The invented laboratory publishes 53, 55, 53, 57 and 57 products in its five composites."""
    found = document(steelyard("score", laboratory / "guest-bed.yaml", laboratory, "--json"))
    names = ("two_abed", "propped_page", "restless_night", "steady_rise", "cool_night")
    published = [sum(p["scores"][name]["value"] is not None for p in found["products"]) for name in names]
    assert published == [53, 55, 53, 57, 57]


def test_withheld_products_of_the_laboratory(steelyard: Any, laboratory: Path) -> None:
    """QB-031 is over the emission limit and QB-058 has no fire evidence: withheld, without value, rank or band."""
    found = document(steelyard("score", laboratory / "guest-bed.yaml", laboratory, "--json"))
    by_id = {p["id"]: p["scores"]["cool_night"] for p in found["products"]}
    for product, remark in (("QB-031", "emissions above the limit"), ("QB-058", "no evidence of fire behaviour")):
        score = by_id[product]
        assert score["status"] == "withheld"
        assert score["remarks"][0] == remark
        assert (score["value"], score["shown"], score["rank"], score["band"]) == (None, None, None, None)
    assert by_id["QB-019"]["remarks"] == ["fire evidence pending"]
    assert by_id["QB-019"]["status"] == "rated"


def test_row_order_moves_no_figure(steelyard: Any, small: Path) -> None:
    """The same rows in another order give the same figures."""
    rows = lines_of(small)
    (small / "turned.csv").write_text("\n".join([rows[0], *rows[:0:-1]]) + "\n", encoding="utf-8")
    straight = document(steelyard("score", small / "beds.yaml", small / "beds.csv", "--json"))["products"]
    turned = document(steelyard("score", small / "beds.yaml", small / "turned.csv", "--json"))["products"]
    assert sorted(turned, key=lambda p: p["id"]) == straight


def lines_of(folder: Path) -> list[str]:
    """The catalogue's lines."""
    return (folder / "beds.csv").read_text(encoding="utf-8").splitlines()
