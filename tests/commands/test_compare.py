"""`steelyard compare`: verdicts first, panels in time, later catalogues of the laboratory, files, and what it refuses."""

from __future__ import annotations

import csv
import html
import io
import json
import re
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from counted import calls_of
from extent import is_long, only_long
from laboratory_runs import LATER, LaboratoryRuns, write_few_beds
from typer.testing import CliRunner

from analysis.cli.main import app
from analysis.report.endings import ENDINGS

LABORATORY = Path(__file__).parents[2] / "examples" / "laboratory"
FORMULA = LABORATORY / "guest-bed.yaml"
SPEC: dict[str, Any] = json.loads((LABORATORY / "laboratory.json").read_text(encoding="utf-8"))
PANELS: dict[str, dict[str, float]] = SPEC["panel_weights_two_abed"]
SCORES = ("two_abed", "propped_page", "restless_night", "steady_rise", "cool_night")
Rows = list[dict[str, str]]


def compare(*arguments: object) -> Any:
    """The command; nothing may come out on standard error but faults."""
    result = CliRunner().invoke(app, ["compare", *map(str, arguments)])
    assert result.exit_code in (0, 2), result.output
    assert bool(result.stderr) == (result.exit_code == 2)
    assert "Traceback" not in result.output
    return result


def document(*arguments: object) -> dict[str, Any]:
    """What `--json` prints."""
    result = compare(*arguments, "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def refused(*arguments: object) -> str:
    """What it says where it must refuse: on standard error only, exit 2."""
    result = compare(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    return str(result.stderr)


def panel(name: str) -> list[str]:
    """The settings of a panel's weights."""
    return [
        word for part, weight in PANELS[name].items() for word in ("--set", f"scores.two_abed.weights.{part}={weight}")
    ]


def table(name: str, folder: Path = LABORATORY) -> Rows:
    """A table of the laboratory."""
    with (folder / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def later(folder: Path, items: Rows, readings: Rows) -> Path:
    """A catalogue folder of such rows."""
    for name, rows in (("items.csv", items), ("readings.csv", readings)):
        stream = io.StringIO()
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        (folder / name).write_text(stream.getvalue(), encoding="utf-8")
    return folder


def products(found: dict[str, Any], score: str) -> dict[str, dict[str, Any]]:
    """A score's products by id."""
    return {one["id"]: one for one in found["scores"][score]["products"]}


@pytest.mark.parametrize("name", [pytest.param(name, marks=[only_long] * bool(i)) for i, name in enumerate(PANELS)])
def test_a_panels_weights_are_compared_in_few_runs(name: str, tmp_path: Path) -> None:
    """House weights against each panel's, all five scores; shares add up to every move; the rest stands still.

    Mixtures are draws of one program: as many kernels as outputs under each choice, however many causes there are. Nine
    tenths of the runs are of the bench's noise, in pieces that fit the cache: in both editions at once, and in each as its
    published groups have it.
    """
    beds = LABORATORY if is_long() else write_few_beds(tmp_path)
    found, calls = calls_of(lambda: document(FORMULA, FORMULA, beds, *panel(name)))
    assert calls["scoring.program.kernel.compile_kernel"] <= 90
    assert calls["scoring.table.evaluate.evaluate"] <= 2_100
    causes = [cause["name"] for cause in found["causes"]]
    house = next(one for one in SPEC["composites"] if one["key"] == "two_abed")["weights"]
    changed = [part for part, weight in PANELS[name].items() if house[part] != weight]
    assert set(causes) == {f"scores.two_abed.weights.{part}" for part in changed}
    moves = 0
    for one in products(found, "two_abed").values():
        if one["move"] is not None:
            moves += 1
            # The document's figures have 10 digits.
            assert sum(why["score"] for why in one["why"].values()) == pytest.approx(one["move"], abs=1e-8)
            assert sum(why["rank"] for why in one["why"].values()) == pytest.approx(-one["climb"], abs=1e-7)
            assert one["u"] > 0
            assert one["told"] == (abs(one["move"]) > found["scores"]["two_abed"]["critical"] * one["u"])
    assert moves >= (50 if is_long() else 12)
    for other in SCORES[1:]:
        assert found["scores"][other]["verdict"][0].endswith("no score and no place changes.")


def test_the_verdict_comes_after_what_differs(small: Path) -> None:
    """The headline, the edits in words, the verdict of the document, then who moves; cautions last."""
    arguments = (
        small / "beds.yaml",
        small / "beds.yaml",
        small / "beds.csv",
        "--set",
        "scores.reading.weights.quiet=2",
    )
    lines = compare(*arguments).stdout.splitlines()
    assert lines[0] == "beds: beds 1.0.0, against beds 1.0.0, with scores.reading.weights.quiet=2"
    assert lines[2:4] == ["What differs:", "  Reading upright: weight of quiet 1 -> 2 (25 % -> 40 %)"]
    verdict = document(*arguments)["scores"]["reading"]["verdict"]
    assert lines[5 : 5 + len(verdict)] == verdict
    assert any("who moves" in line for line in lines[5 + len(verdict) :])
    assert lines[-1].startswith("! ")


def happened(runs: LaboratoryRuns, event: str, items: Rows, readings: Rows, folder: Path) -> dict[str, Any]:
    """The document of a documented comparison, whose new catalogue holds just such rows."""
    made = later(folder, items, readings)
    for name in ("items.csv", "readings.csv"):
        assert (runs.laboratory / "later" / event / name).read_bytes() == (made / name).read_bytes()
    found = runs.run(LATER[event])
    assert (found.exit_code, found.stderr) == (0, "")
    return found.document


def test_a_correction_moves_one_bed_and_those_it_passes(tmp_path: Path, laboratory_runs: LaboratoryRuns) -> None:
    """QB-021 sinks 11 mm more: only its score moves, by the readings alone, and down; nobody climbs but past it."""
    readings = table("readings.csv")
    for row in readings:
        if (row["id"], row["measure"]) == ("QB-021", "edge_sink_mm") and row["value"]:
            row["value"] = f"{float(row['value']) + 11:g}"
    found = happened(laboratory_runs, "correction", table("items.csv"), readings, tmp_path)
    assert [(cause["kind"], cause["says"]) for cause in found["causes"]] == [
        ("readings", "readings of 1 product differ")
    ]
    assert found["changes"] == []
    for score in SCORES:
        own = products(found, score)
        moved = [name for name, one in own.items() if one["move"]]
        assert moved == ["QB-021"]
        bed = own["QB-021"]
        assert bed["move"] < 0
        assert bed["why"]["readings"]["score"] == pytest.approx(bed["move"], abs=1e-12)
        passed = [one for name, one in own.items() if name != "QB-021" and one["climb"]]
        assert all(one["climb"] == 1 for one in passed)
        assert -bed["climb"] == len(passed)
    # Worked out here: 60 % of edge by a line of 9 points in 95 mm, and 18 % of Two Abed by edge.
    assert products(found, "two_abed")["QB-021"]["move"] == pytest.approx(-11 * 9 / 95 * 0.6 * 0.18, abs=1e-9)


def leaves_the_order_of_the_rest(found: dict[str, Any], left: str) -> None:
    """No score moves, those behind what is gone climb one place, and the causes are the products alone."""
    assert [(cause["kind"], cause["says"]) for cause in found["causes"]] == [("products", f"gone {left}")]
    for score in found["scores"]:
        own = products(found, score)
        gone = own.pop(left)
        assert gone["new"]["status"] == "not in the catalogue"
        assert gone["move"] is None
        ranked = [one for one in own.values() if one["old"]["rank"] is not None]
        assert all(one["move"] == 0 for one in ranked)
        orders = [sorted(ranked, key=lambda one, e=e: (one[e]["rank"], one["id"])) for e in ("old", "new")]
        assert orders[0] == orders[1]
        for one in ranked:
            behind = gone["old"]["rank"] is not None and one["old"]["rank"] > gone["old"]["rank"]
            assert one["climb"] == behind
            assert one["why"]["products"]["rank"] == -one["climb"]


def moves_nobodys_score(found: dict[str, Any], new: str) -> None:
    """The others' scores stand, those behind the new one fall one place."""
    assert [(cause["kind"], cause["says"]) for cause in found["causes"]] == [("products", f"new {new}")]
    for score in found["scores"]:
        own = products(found, score)
        entry = own.pop(new)
        assert entry["old"]["status"] == "not in the catalogue"
        assert entry["new"]["rank"] is not None
        assert {one["move"] for one in own.values()} <= {0.0, None}
        for one in own.values():
            if one["new"]["rank"] is not None:
                assert -one["climb"] == (one["new"]["rank"] > entry["new"]["rank"])


def test_one_more_or_one_less_of_a_few(small: Path) -> None:
    """The best of four goes, and comes back: behind it, both who has a place and who has none."""
    with (small / "beds.csv").open("a", encoding="utf-8") as file:
        file.write("A-04,Vorrlin,25,25,25,45\n")
    whole = (small / "beds.csv").read_text(encoding="utf-8")
    (small / "few.csv").write_text(
        "".join(row for row in whole.splitlines(keepends=True) if not row.startswith("A-04")), encoding="utf-8"
    )
    editions = (small / "beds.yaml", small / "beds.yaml")
    gone = document(*editions, small / "beds.csv", "--catalogue-new", small / "few.csv")
    leaves_the_order_of_the_rest(gone, "A-04")
    assert any(one["climb"] == 1 for one in products(gone, "reading").values())
    came = document(*editions, small / "few.csv", "--catalogue-new", small / "beds.csv")
    moves_nobodys_score(came, "A-04")
    assert any(one["climb"] == -1 for one in products(came, "reading").values())


@only_long
def test_a_withdrawn_bed_leaves_the_order_of_the_rest(tmp_path: Path, laboratory_runs: LaboratoryRuns) -> None:
    """QB-045 goes, under all five scores."""
    items, readings = ([row for row in table(name) if row["id"] != "QB-045"] for name in ("items.csv", "readings.csv"))
    found = happened(laboratory_runs, "withdrawn_item", items, readings, tmp_path)
    assert tuple(found["scores"]) == SCORES
    leaves_the_order_of_the_rest(found, "QB-045")


@only_long
def test_a_late_entry_moves_nobodys_score(tmp_path: Path, laboratory_runs: LaboratoryRuns) -> None:
    """A hybrid of its class's mean true values comes, under all five scores."""
    means = SPEC["self_check"]["class_mean_true_values"]["hybrid"]
    items, readings = table("items.csv"), table("readings.csv")
    like = next(row for row in items if row["class"] == "hybrid" and row["fire_evidence"] == "on_file")
    items.append(like | {"id": "QB-061", "model": "Latecomer"})
    readings += [
        row | {"id": "QB-061", "value": f"{means[row['measure']]:.6g}", "flag": ""}
        for row in readings
        if row["id"] == like["id"]
    ]
    found = happened(laboratory_runs, "late_entry", items, readings, tmp_path)
    assert tuple(found["scores"]) == SCORES
    moves_nobodys_score(found, "QB-061")


def test_formula_readings_and_products_are_told_apart(tmp_path: Path) -> None:
    """All three at once: three causes, and QB-021's share of the readings is what they did by themselves to a linear score."""
    before = write_few_beds(tmp_path / "before")
    items, readings = (
        [row for row in table(name, before) if row["id"] != "QB-045"] for name in ("items.csv", "readings.csv")
    )
    for row in readings:
        if (row["id"], row["measure"]) == ("QB-021", "edge_sink_mm"):
            row["value"] = f"{float(row['value']) + 11:g}"
    later(tmp_path, items, readings)
    found = document(
        FORMULA, FORMULA, before, "--catalogue-new", tmp_path, "--set", "scores.two_abed.weights.bounce=0.06",
        "--score", "two_abed",
    )  # fmt: skip
    assert [cause["kind"] for cause in found["causes"]] == ["edit", "readings", "products"]
    bed = products(found, "two_abed")["QB-021"]
    why = {name: share["score"] for name, share in bed["why"].items()}
    # Two orders: before the edit edge weighs 0.18 of 1, after it of 0.94; the share is the mean (worked out here).
    drop = -11 * 9 / 95 * 0.6
    assert why["readings"] == pytest.approx((drop * 0.18 + drop * 0.18 / 0.94) / 2, abs=1e-9)
    assert why["products"] == 0
    assert sum(why.values()) == pytest.approx(bed["move"], abs=1e-9)


def test_the_same_command_gives_the_same_bytes(small: Path) -> None:
    """Text, JSON and files; another seed gives another u."""
    arguments = (
        small / "beds.yaml",
        small / "beds.yaml",
        small / "beds.csv",
        "--set",
        "scores.reading.weights.quiet=2",
    )
    assert compare(*arguments).stdout == compare(*arguments).stdout
    assert compare(*arguments, "--json").stdout == compare(*arguments, "--json").stdout
    assert compare(*arguments, "--json").stdout != compare(*arguments, "--json", "--seed", "1").stdout
    for name in ("one.xlsx", "two.xlsx"):
        compare(*arguments, "--out", small / name)
    assert (small / "one.xlsx").read_bytes() == (small / "two.xlsx").read_bytes()


def test_the_documents_shape(small: Path) -> None:
    """Editions with their hashes, changes by address and in words, causes, and every product's two standings."""
    found = document(
        small / "beds.yaml", small / "beds.yaml", small / "beds.csv", "--set", "scores.reading.weights.quiet=2"
    )
    assert set(found) >= {"old", "new", "set", "seed", "cautions", "methods", "changes", "causes", "scores"}
    assert re.fullmatch(r"[0-9a-f]{64}", found["old"]["formula"]["sha256"])
    assert found["old"]["formula"]["sha256"] != found["new"]["formula"]["sha256"]
    assert found["old"]["catalogue"] == found["new"]["catalogue"]
    (change,) = found["changes"]
    assert (change["at"], change["before"], change["after"]) == ("scores.reading.weights.quiet", "1", "2")
    (one, *_) = found["scores"]["reading"]["products"]
    assert set(one) >= {"id", "old", "new", "move", "u", "told", "climb", "why"}
    assert set(one["old"]) == {"value", "shown", "band", "status", "rank", "letters"}


@pytest.mark.parametrize("ending", [".csv", ".xlsx", ".json", ".parquet"])
def test_a_file_holds_every_product(small: Path, ending: str) -> None:
    """One row a product, or the document."""
    out = small / f"found{ending}"
    arguments = (
        small / "beds.yaml",
        small / "beds.yaml",
        small / "beds.csv",
        "--set",
        "scores.reading.weights.quiet=2",
    )
    assert f"Written to {out}" in compare(*arguments, "--out", out).stdout
    if ending == ".json":
        assert json.loads(out.read_bytes()) == document(*arguments)
        return
    read = {".csv": pd.read_csv, ".xlsx": pd.read_excel, ".parquet": pd.read_parquet}[ending]
    frame: pd.DataFrame = read(out)  # type: ignore[operator]
    assert frame["product"].tolist() == ["A-01", "A-02", "A-03"]
    assert frame["why scores.reading.weights.quiet"].notna().tolist() == [True, True, False]
    assert frame["seed"].tolist() == [0, 0, 0]


def test_a_folder_holds_document_and_table(small: Path) -> None:
    """Beside whatever figures there are."""
    arguments = (
        small / "beds.yaml",
        small / "beds.yaml",
        small / "beds.csv",
        "--set",
        "scores.reading.weights.quiet=2",
    )
    compare(*arguments, "--out", small / "found")
    found = small / "found"
    assert json.loads((found / "compare.json").read_bytes()) == document(*arguments)
    assert len(pd.read_csv(found / "compare.csv")) == 3
    pictures = {"1-reading-places.png", "1-reading-places.svg"}
    assert {path.name for path in found.iterdir()} >= {"compare.html", "compare.md", *pictures}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["none.yaml", "beds.csv"], r"none\.yaml: No such file"),
        (["beds.yaml", "none.csv"], r"none\.csv: a file that cannot be read"),
        (["beds.yaml", "beds.csv", "--catalogue-new", "none.csv"], r"none\.csv: a file that cannot be read"),
        (["beds.yaml", "beds.csv", "--catalogue-new", "bad.csv"], r"bad\.csv, row 3, column noise: `loud`"),
        (["bad.yaml", "beds.csv"], r"bad\.yaml:\d+:\d+: "),
        (["beds.yaml", "beds.csv", "--score", "readin"], r"--score: `readin`; .*Did you mean `reading`\?"),
        (["other.yaml", "beds.csv"], r"no score in both"),
        (["beds.yaml", "beds.csv", "--set", "scores.reading.weights.noise=1"], r"names nothing"),
        (["beds.yaml", "beds.csv", "--set", "scores.reading.weights.quiet=x"], r"--set: .*expected a plain number"),
        (["beds.yaml", "beds.csv", "--out", "found.docx"], r"the ending `\.docx`"),
        (["beds.yaml", "beds.csv", "--bridge", "noise"], r"--bridge: `noise`; expected MEASURE=FILE"),
    ],
)  # fmt: skip
def test_what_it_refuses(small: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str) -> None:
    """With the file and the line where there is one; nothing is written."""
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    (small / "bad.yaml").write_text(
        text.replace("weights: {edge: 3, quiet: 1}", "weights: {edge: 3, quite: 1}"), encoding="utf-8"
    )
    other = text.replace("  reading:\n", "  sitting:\n").replace("edge: 3, quiet: 1", "edge: 2, quiet: 1")
    (small / "other.yaml").write_text(other, encoding="utf-8")
    (small / "bad.csv").write_text("product,maker,noise,sit_drop\nA-01,V,31,60\nA-02,V,loud,70\n", encoding="utf-8")
    monkeypatch.chdir(small)
    before = sorted(small.iterdir())
    assert re.search(said, " ".join(refused("beds.yaml", *arguments).split()))
    assert sorted(small.iterdir()) == before


def test_hostile_names_do_no_harm(tmp_path: Path) -> None:
    """Formulas of a spreadsheet, markup, brackets and line breaks in names of products stand as they are, or harmless."""
    names = ["=1+1", "<script>alert(1)</script>", "[bold]x[/bold]", 'a,b "c"', "@SUM(A1)", "ürgel·床"]
    text = "formula: t\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: '1', repeatability: 0.1}}\n"
    text += "ratings: {r: {label: '[red]R<b>', measure: x, curve: {line: {worst: 0, best: 9}}}}\n"
    (tmp_path / "f.yaml").write_text(text, encoding="utf-8")
    stream = io.StringIO()
    csv.writer(stream).writerows([["product", "x"], *([name, index + 1] for index, name in enumerate(names))])
    (tmp_path / "c.csv").write_text(stream.getvalue(), encoding="utf-8")
    arguments = (tmp_path / "f.yaml", tmp_path / "f.yaml", tmp_path / "c.csv", "--set", "ratings.r.curve.line.best=8")
    found = document(*arguments)
    assert [one["id"] for one in found["scores"]["r"]["products"]] == names
    shown = compare(*arguments, "--out", tmp_path / "found").stdout
    assert "[bold]x[/bold]" in shown
    assert "[red]R<b>" in shown
    for page in (tmp_path / "found").glob("*.html"):
        assert "<script>alert" not in page.read_text(encoding="utf-8")
    compare(*arguments, "--out", tmp_path / "found.xlsx")
    frame = pd.read_excel(tmp_path / "found.xlsx")
    assert [str(name).lstrip("'") for name in frame["product"]] == names


def test_a_renamed_column_is_read_by_the_formula_that_knows_it(small: Path) -> None:
    """The new catalogue calls noise sound, as the new formula does: no score moves, and no product is lost."""
    text, readings = ((small / name).read_text(encoding="utf-8") for name in ("beds.yaml", "beds.csv"))
    (small / "new.yaml").write_text(
        text.replace("  noise: {", "  sound: {").replace("measure: noise", "measure: sound"), encoding="utf-8"
    )
    (small / "new.csv").write_text(readings.replace("noise #", "sound #"), encoding="utf-8")
    found = document(small / "beds.yaml", small / "new.yaml", small / "beds.csv", "--catalogue-new", small / "new.csv")
    assert [one["move"] for one in found["scores"]["reading"]["products"]] == [0, 0, 0]
    assert any("sound" in change["says"] for change in found["changes"])
    assert {cause["kind"] for cause in found["causes"]} <= {"structure"}


def bridge(folder: Path) -> Path:
    """A bridging file of three beds by their old readings and half of them, one of which the catalogue does not have so."""
    text = "product,old,new\nA-01,32,26\nA-02,22,21\nA-03,40,30\n"
    (folder / "bridge.csv").write_text(text, encoding="utf-8")
    (folder / "beds.csv").write_text(
        "product,maker,noise,sit_drop\nA-01,V,32,60\nA-02,D,22,90\nA-03,P,60,80\nA-04,P,30,70\n", encoding="utf-8"
    )
    return folder / "bridge.csv"


def test_what_a_bridge_rests_on_stands_in_text_page_and_document(small: Path) -> None:
    """The line, its error, and the bed whose old reading is not the catalogue's; the method is said to have changed."""
    arguments = [*[small / "beds.yaml"] * 2, small / "beds.csv", "--bridge", f"noise={bridge(small)}"]
    found = document(*arguments)
    assert len(found["notes"]) == 2
    assert found["notes"][0].startswith("Bridge of noise: new = 10 + 0.5 old (dB)")
    assert found["notes"][1].startswith("A-03: the bridge has 40 dB as its old reading of noise, the catalogue 60 dB,")
    says = "a new method for noise (readings of 1 product bridged, of 3 taken anew)"
    assert [cause["says"] for cause in found["causes"]] == [says]
    text = compare(*arguments, "--out", small / "found.html").stdout
    page = html.unescape((small / "found.html").read_text(encoding="utf-8"))
    compare(*arguments, "--out", small / "found.json")
    assert json.loads((small / "found.json").read_bytes()) == found
    for shown in (text, page):
        assert all(note in shown for note in found["notes"])
        assert says in shown
        assert "differ." not in shown.replace("The formulas do not differ.", "")
    assert document(*arguments[:3])["notes"] == []


#: Two weights and an anchor, whose address is long.
LONG_NAMES = (
    "scores.two_abed.weights.quiet=0.3",
    "scores.two_abed.weights.edge=0.1",
    "ratings.quiet.curve.line.worst=48",
)


@pytest.fixture(scope="module")
def few_beds(tmp_path_factory: pytest.TempPathFactory) -> list[object]:
    """The command line that sets them, on a few beds, or on all in a long run."""
    beds = LABORATORY if is_long() else write_few_beds(tmp_path_factory.mktemp("few"))
    settings = [word for setting in LONG_NAMES for word in ("--set", setting)]
    return [FORMULA, FORMULA, beds, *settings, "--score", "two_abed"]


@pytest.fixture(scope="module")
def text_and_page(few_beds: list[object], tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """What is printed there, and the page that is written besides."""
    out = tmp_path_factory.mktemp("page") / "found.html"
    text = compare(*few_beds, "--out", out).stdout
    return text, out.read_text(encoding="utf-8")


def test_the_page_has_the_groups_and_short_names_and_who_has_no_score(
    few_beds: list[object], text_and_page: tuple[str, str]
) -> None:
    """A column with a key; a cause of the score itself by its part; products without a score in a line."""
    page = html.unescape(text_and_page[1])
    moves = re.findall(r'<table id="t-two_abed-moves">(.*?)</table>', page, re.DOTALL)[0]
    headers = re.findall(r'<th scope="col"[^>]*>([^<]*)</th>', moves)
    own = products(document(*few_beds), "two_abed")
    lines = re.findall(r'<tr><th scope="row"><bdi>(.*?)</bdi></th>(.*?)</tr>', moves)
    rows = {name: dict(zip(headers[1:], re.findall(r"<td[^>]*>(.*?)</td>", line), strict=True)) for name, line in lines}
    assert len(rows) > 5
    for name, cells in rows.items():
        ends = [own[name][side]["letters"].split() for side in ("old", "new")]
        before, now = (one[0] if len(one) == 1 else f"{one[0]}-{one[-1]}" for one in ends)
        assert cells["group"] == (before if before == now else f"{before}, now {now}")
        assert cells["more than the bench can tell"] == ("yes" if own[name]["told"] else "no")
        assert float(cells["score"]) == pytest.approx(own[name]["old"]["value"], abs=0.0006)
        assert float(cells["now"]) == pytest.approx(own[name]["new"]["value"], abs=0.0006)
        assert re.search(r"(^|; )weights\.(quiet|edge) [+-]", cells["why"]) or "quiet.curve.line.worst" in cells["why"]
        assert "scores.two_abed" not in cells["why"]
    assert "group: products that share a letter cannot be told apart" in page
    neither = [name for name, one in own.items() if one["old"]["rank"] is None and one["new"]["rank"] is None]
    line = re.findall(r"<p>Without a score in either edition: (.*?)</p>", page)
    assert len(line) == 1
    assert re.findall(r"QB-\d+", line[0]) == neither != []


@pytest.mark.parametrize("name", ["reading", "sitting"])
def test_a_renamed_score_may_be_asked_for_by_either_name(small: Path, name: str) -> None:
    """Reading is called sitting in the new formula."""
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    (small / "new.yaml").write_text(text.replace("  reading:\n", "  sitting:\n"), encoding="utf-8")
    found = document(
        small / "beds.yaml", small / "new.yaml", small / "beds.csv", "--set", "ratings.quiet.curve.line.best=20", "--score", name
    )  # fmt: skip
    assert list(found["scores"]) == ["sitting"]
    assert (found["scores_added"], found["scores_removed"]) == ([], [])
    assert any(one["move"] for one in found["scores"]["sitting"]["products"])


def test_an_ending_that_is_none_names_every_one_that_is(small: Path) -> None:
    """In the message and in `--help`; and a page is refused before the work where it cannot be written."""
    arguments = (small / "beds.yaml", small / "beds.yaml", small / "beds.csv", "--out")
    said, told = refused(*arguments, small / "found.docx"), " ".join(compare("--help").stdout.split())
    for ending in ENDINGS:
        assert ending in said
        assert ending in told
    assert "is no folder" in refused(*arguments, small / "none" / "found.html")


def test_a_piped_table_is_at_most_120_columns_and_cuts_no_word(text_and_page: tuple[str, str]) -> None:
    """Though the address of an anchor is long."""
    lines = text_and_page[0].splitlines()
    start = next(i for i, line in enumerate(lines) if "who moves" in line)
    rows = lines[start : next(i for i, line in enumerate(lines) if line.startswith("u: "))]
    assert len(rows) > (50 if is_long() else 12)
    assert max(map(len, rows)) <= 124  # no word is cut, names stand beside ids, and letters of groups may be two
    assert "…" not in "".join(rows)
    assert sum("quiet.curve.line.worst" in row for row in rows) > 5


def corrected_catalogues(folder: Path) -> tuple[Path, Path]:
    """A catalogue in inches, and the same with a reading and a gap corrected."""
    text = "product,maker,noise #1,noise #2,noise #3,sit_drop [in]\nA-01,Vorrlin,31,32,33,2.44\nA-02,Dapquist,22,22,22,4.7\n"
    before, after = folder / "before.csv", folder / "after.csv"
    before.write_text(f"{text}A-03,Plumvane,missing: probe failed,,,3.1\n", encoding="utf-8")
    changed = text.replace("2.44", "2.24").replace("Dapquist", "Orsk")
    after.write_text(f"{changed}A-03,Plumvane,30,,,3.1\n", encoding="utf-8")
    return before, after


def test_each_reading_that_changed_is_named_as_a_correction_names_it(steelyard: Any, small: Path) -> None:
    """By product and measure, in both units, and in the very words of `record --corrects`."""
    before, after = corrected_catalogues(small)
    formula = small / "beds.yaml"
    found = document(formula, formula, before, "--catalogue-new", after)["readings_changed"]
    says = [one["says"] for one in found]
    assert says == [
        "A-01, sit_drop: 61.976 mm -> 56.896 mm (repeat #1 61.976 (2.44 in) -> 56.896 (2.24 in))",
        "A-02, maker: Dapquist -> Orsk",
        "A-03, noise: missing -> 30 dB (repeat #1 missing -> 30)",
    ]
    assert (found[0]["before"]["value"], found[0]["after"]["value"]) == (61.976, 56.896)
    published = small / "published.json"
    dated = ("--date", "2026-11-27")
    assert steelyard("record", formula, before, "--out", published, *dated).exit_code == 0
    asked = ("--corrects", published, "--cause", "read again", "--out", small / "corrected.json", *dated)
    lines = steelyard("record", formula, after, *asked).stdout.splitlines()
    assert {f"  {one}" for one in says} <= set(lines)


def test_nothing_is_listed_where_no_reading_changed(small: Path) -> None:
    """One catalogue, and two formulas."""
    asked = (small / "beds.yaml", small / "beds.yaml", small / "beds.csv", "--set", "scores.reading.weights.quiet=2")
    assert "Readings that changed" not in compare(*asked).stdout
    assert document(*asked)["readings_changed"] == []


def test_many_readings_that_changed_are_folded_on_a_terminal(small: Path) -> None:
    """The first twenty of 25 stand there; the document has them all."""
    for name, more in (("old.csv", 0), ("new.csv", 1)):
        rows = "".join(f"P-{i},m,{30 + more},,,{40 + i}\n" for i in range(25))
        (small / name).write_text(f"product,maker,noise #1,noise #2,noise #3,sit_drop\n{rows}", encoding="utf-8")
    asked = (small / "beds.yaml", small / "beds.yaml", small / "old.csv", "--catalogue-new", small / "new.csv")
    said = compare(*asked).stdout
    assert said.count("noise: 30 dB -> 31 dB") == 20
    assert "  and 5 more: `--json` lists all." in said
    assert len(document(*asked)["readings_changed"]) == 25
