"""`steelyard explain`: a score that can be recomputed, contributions that sum, changes that re-scoring confirms."""

from __future__ import annotations

import itertools
import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from extent import some

from analysis import explain, write_report
from analysis.explanation.explanation import explanation_of
from analysis.shapley import shapley_shares
from scoring.catalogue import read_catalogue
from scoring.program import kernel as kernels
from scoring.program.kernel import compile_kernel
from scoring.reader import read_form
from scoring.table.table import score_catalogue

KEYS = {"log": math.log, "exp": math.exp, "__builtins__": {}}


def calculator(arithmetic: str) -> float:
    """A printed line keyed in: what stands in square brackets is left out."""
    without_words = arithmetic
    while "[" in without_words:
        without_words = re.sub(r"\[[^\[\]]*\]", "", without_words)
    assert re.fullmatch(r"[0-9eE+\-*/(). logexp]*", without_words), without_words
    return float(eval(without_words, KEYS))


def document(result: Any) -> dict[str, Any]:
    """The JSON document on standard output."""
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.mark.parametrize("product", some(["QB-001", "QB-009", "QB-019", "QB-028", "QB-036", "QB-060"], 2))
def test_every_line_recomputes_with_a_calculator(steelyard: Any, laboratory: Path, product: str) -> None:
    """Each printed line, keyed in as it stands, gives the printed value to five digits."""
    found = document(steelyard("explain", laboratory / "guest-bed.yaml", laboratory, product, "--json"))
    lines = [line for output in found["outputs"].values() for line in output["trace"]]
    assert len(lines) > 25
    for line in lines:
        assert calculator(line["arithmetic"]) == pytest.approx(line["value"], rel=2e-6), line


FROZEN = """\
formula: frozen
measures: {x: {unit: mm}}
ratings:
  a: {measure: x, curve: {minmax: {better: lower}, reference: {values: [1, 4, 9]}}}
  b: {measure: x, curve: {z: {centre: 5, per_sd: 1, better: lower}, reference: {values: [1, 4, 9]}}}
  c: {measure: x, curve: {ratio: {better: lower}, reference: {values: [1, 4, 9]}}}
"""


def test_statistics_of_frozen_values_are_explained(steelyard: Any, tmp_path: Path) -> None:
    """The least, the greatest, the mean and the scatter of 1, 4 and 9 stand in the lines as numbers."""
    (tmp_path / "frozen.yaml").write_text(FROZEN, encoding="utf-8")
    (tmp_path / "beds.csv").write_text("product,x\nA,3\nB,5\n", encoding="utf-8")
    found = document(steelyard("explain", tmp_path / "frozen.yaml", tmp_path / "beds.csv", "A", "--json"))
    lines = {output: found["outputs"][output]["trace"][0]["arithmetic"] for output in "abc"}
    assert lines["a"] == "1 + (10 - 1)*(3 - 9)/(1 - 9)"
    assert lines["b"] == "5 - 1*(3 - 4.666667)/4.041452"
    assert lines["c"] == "10*1/3"


BENT = """\
formula: bent
measures:
  x: {unit: mm, plausible: [0, 100]}
  y: {unit: mm, plausible: [0, 100]}
ratings:
  a: {measure: x, curve: {points: {10: 1, 40: 7, 90: 10}}}
  b: {measure: y, curve: {smooth: {10: 10, 40: 7, 90: 1}}}
  c: {measure: x, curve: {logistic: {middle: 50, spread: 10}}}
  d: {measure: y, curve: {power: {worst: 100, best: 0, exponent: 0.7}}}
  e: {measure: x, curve: {steps: {0: 2, 50: 8}}}
  f: {measure: x, curve: {target: {low: 0, best: 60, high: 100}}}
  g: {value: "where(x > y, min(x / 10, 9), 2) + 0.5", round: {step: 0.5}}
scores:
  geometric: {blend: geometric mean, weights: {a: 2, b: 1, c: 1}, limits: [{on: a, at_most: {points: {1: 4, 10: 9}}}]}
  harmonic: {blend: harmonic mean, weights: {a: 2, d: 1, g: 1}}
  powered: {blend: power mean, exponent: -2, weights: {a: 2, d: 1, f: 1}}
  least: {blend: minimum, weights: {a: 2, e: 1, f: 1}}
  product: {blend: product, weights: {a: 0.5, e: 0.4}}
  total: {blend: sum, weights: {a: 0.3, e: 0.4, f: 0.2}, missing: {absent_above: 0.5}}
"""
BENT_READINGS = "product,x,y\nP,35,20\nQ,72.5,80\nR,12,33\n"


@pytest.fixture
def bent(tmp_path: Path) -> Path:
    """A formula with every other curve and blend, and three products."""
    (tmp_path / "bent.yaml").write_text(BENT, encoding="utf-8")
    (tmp_path / "bent.csv").write_text(BENT_READINGS, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("product", ["P", "Q", "R"])
def test_lines_of_every_curve_and_blend_recompute(steelyard: Any, bent: Path, product: str) -> None:
    """The same for the curves and blends that the laboratory does not use."""
    found = document(steelyard("explain", bent / "bent.yaml", bent / "bent.csv", product, "--json"))
    for output in found["outputs"].values():
        assert output["trace"]
        for line in output["trace"]:
            assert calculator(line["arithmetic"]) == pytest.approx(line["value"], rel=1e-5), line


@pytest.mark.parametrize("product", ["P", "Q", "R"])
def test_contributions_sum_to_the_value(steelyard: Any, bent: Path, product: str) -> None:
    """Start, parts, limits and rounding add up to the value, for means and for blends that do not split."""
    found = document(steelyard("explain", bent / "bent.yaml", bent / "bent.csv", product, "--json"))
    for name in ("geometric", "harmonic", "powered", "least", "product", "total"):
        split = found["outputs"][name]["contributions"]
        total = split["start"] + sum(points for _, points in split["parts"]) + split["limits"] + split["rounding"]
        assert total == pytest.approx(found["outputs"][name]["value"], abs=1e-12)
        assert (split["against"] == "0") == (name == "total")


def test_contributions_of_a_mean_are_its_terms(steelyard: Any, small: Path) -> None:
    """A-01: 3*8/4 = 6 and 6.25/4 = 1.5625."""
    found = document(steelyard("explain", small / "beds.yaml", small / "beds.csv", "A-01", "--json"))
    assert found["outputs"]["reading"]["contributions"]["parts"] == [["edge", 6.0], ["quiet", 1.5625]]


def test_a_missing_part_contributes_nothing(steelyard: Any, small: Path) -> None:
    """A-03 stands on edge alone."""
    found = document(steelyard("explain", small / "beds.yaml", small / "beds.csv", "A-03", "--json"))
    assert found["outputs"]["reading"]["contributions"]["parts"] == [["edge", 6.0], ["quiet", 0.0]]


def test_shapley_shares_equal_the_mean_over_all_orders() -> None:
    """A four-player game with interactions: the shares equal what each adds, averaged over all 24 orders."""
    values = np.random.default_rng(7).normal(size=16)
    by_order = np.zeros(4)
    for order in itertools.permutations(range(4)):
        coalition = 0
        for player in order:
            by_order[player] += values[coalition | 1 << player] - values[coalition]
            coalition |= 1 << player
    assert shapley_shares(values, 4) == pytest.approx(by_order / 24, abs=1e-14)


def test_glove_game() -> None:
    """Two left gloves and one right: 1/6, 1/6, 2/3 (the textbook's glove game, from memory)."""
    worth = [float(bool(c & 4) and bool(c & 3)) for c in range(8)]
    assert shapley_shares(np.array(worth), 3) == pytest.approx([1 / 6, 1 / 6, 2 / 3])


def test_least_change_reaches_the_band_and_no_less_does(laboratory: Path, tmp_path: Path) -> None:
    """Re-scoring with the stated reading gives the next band; a hundredth of the change short of it does not."""
    form = read_form(laboratory / "guest-bed.yaml")
    catalogue = read_catalogue(laboratory, form)
    found = explanation_of(score_catalogue(form, catalogue), "QB-036", only="restless_night", draws=200)
    (note,) = found.outputs
    assert note.next_band == ("strong", 7.0)
    changes = {change.measure: change for change in note.changes if change.change is not None}
    assert len(changes) >= 8
    lines = (laboratory / "readings.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "items.csv").write_bytes((laboratory / "items.csv").read_bytes())
    for measure, change in some(list(changes.items()), 3):
        for share, reached in ((1.0, True), (0.99, False)):
            reading = change.reading - (1 - share) * change.change
            rows = [_with(line, "QB-036", measure, reading) for line in lines]
            (tmp_path / "readings.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
            again = explanation_of(
                score_catalogue(form, read_catalogue(tmp_path, form)), "QB-036", only="restless_night", draws=200
            )
            column = again.outputs[0].column
            assert (column.shown[again.product] >= 7.0) == reached, (measure, share)


def _with(line: str, product: str, measure: str, reading: float) -> str:
    """The line, with every repeat of one product and measure at `reading`."""
    cells = line.split(",")
    if cells[:2] == [product, measure]:
        cells[3], cells[5] = repr(reading), ""
    return ",".join(cells)


STEPPED = """\
formula: stepped
bands: {good: 7, fair: 3, weak: 1}
measures:
  noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1.2}
  rise: {unit: mm, better: higher, plausible: [0, 50], repeatability: 2}
ratings:
  quiet: {measure: noise, curve: {steps: {18: 10, 30: 7, 40: 3}}}
  high: {value: "where(rise > 12, 8, 4)"}
  some: {value: "where(rise > 0, 8, 4)"}
"""


@pytest.mark.parametrize(
    ("output", "measure", "readings", "told", "edge"),
    [
        ("quiet", "noise", "44.233", "-4.233 dB to just below 40 dB, 3.5 repeat sd", 40.0),
        ("quiet", "noise", "40", "to just below 40 dB, at which it stands", 40.0),
        ("high", "rise", "10", "+2 mm to just above 12 mm, 1.0 repeat sd", 12.0),
        ("high", "rise", "12", "to just above 12 mm, at which it stands", 12.0),
        ("some", "rise", "0", "to just above 0 mm, at which it stands", 0.0),
    ],
)
def test_an_edge_that_is_not_in_the_band_is_told_as_one(
    steelyard: Any, tmp_path: Path, output: str, measure: str, readings: str, told: str, edge: float
) -> None:
    """The edge typed in does not reach the band; the reading of the document does."""
    (tmp_path / "stepped.yaml").write_text(STEPPED, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(f"product,{measure}\nA,{readings}\n", encoding="utf-8")
    arguments = ("explain", tmp_path / "stepped.yaml", tmp_path / "beds.csv", "A", "--score", output)
    assert f"{measure} {told}\n" in steelyard(*arguments).stdout
    (change,) = document(steelyard(*arguments, "--json"))["outputs"][output]["next_band"]["changes"]
    assert change["beyond"] == edge
    for reading, reached in ((change["reading"], True), (edge, False)):
        (tmp_path / "beds.csv").write_text(f"product,{measure}\nA,{reading!r}\n", encoding="utf-8")
        again = document(steelyard(*arguments, "--json"))["outputs"][output]
        assert (again["value"] >= 7) == reached, reading


ROUNDED = """\
formula: rounded
bands: {good: 7, fair: 4, weak: 1}
measures:
  noise: {unit: dB, plausible: [18, 75], round: {step: STEP, rule: RULE}}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
"""


@pytest.mark.parametrize("rule", ["half-up", "half-even", "up"])
@pytest.mark.parametrize("step", ["0.1", "2"])
@pytest.mark.parametrize("repeats", [("33.21", "33.28"), ("33.13", "32.99"), ("34.1", "34.1")])
def test_the_least_change_of_a_rounded_measure_starts_at_what_was_read(
    steelyard: Any, tmp_path: Path, repeats: tuple[str, str], step: str, rule: str
) -> None:
    """What is told reaches the band when typed in, and a hundredth less of the change of the unrounded mean does not."""
    text = ROUNDED.replace("STEP", step).replace("RULE", rule)
    (tmp_path / "rounded.yaml").write_text(text, encoding="utf-8")

    def explained(first: str, second: str) -> dict[str, Any]:
        readings = f"product,noise #1,noise #2\nA,{first},{second}\n"
        (tmp_path / "beds.csv").write_text(readings, encoding="utf-8")
        result = steelyard("explain", tmp_path / "rounded.yaml", tmp_path / "beds.csv", "A", "--json")
        return document(result)["outputs"]["quiet"]  # type: ignore[no-any-return]

    found = explained(*repeats)
    assert found["next_band"]["name"] == "good"
    (change,) = found["next_band"]["changes"]
    mean = sum(map(float, repeats)) / 2
    assert change["reading"] == pytest.approx(mean + change["change"], abs=1e-12)
    for share, reached in ((1.0, True), (0.99, False)):
        typed = change["reading"] if share == 1 else mean + share * change["change"]
        assert (explained(repr(typed), repr(typed))["shown"] >= 7) == reached, (typed, change)


def test_the_next_band_goes_by_what_bands_go_by(steelyard: Any, tmp_path: Path) -> None:
    """6.96 is shown as 7.0; on unrounded values it is weak still, and 7 is the next edge."""
    form = (
        "formula: edges\nbands: {good: 7, weak: 1}\nbands_on: unrounded\n"
        'measures: {x: {unit: "1"}}\nratings: {a: {value: x}}\n'
    )
    (tmp_path / "edges.yaml").write_text(form, encoding="utf-8")
    (tmp_path / "beds.csv").write_text("product,x\nA,6.96\n", encoding="utf-8")
    arguments = ("explain", tmp_path / "edges.yaml", tmp_path / "beds.csv", "A", "--json")
    found = document(steelyard(*arguments))["outputs"]["a"]
    assert (found["shown"], found["band"], found["next_band"]["name"]) == (7.0, "weak", "good")
    assert found["next_band"]["changes"][0]["reading"] == 7.0


def test_a_told_reading_is_short_and_reaches_the_band(steelyard: Any, tmp_path: Path) -> None:
    """6.95 lies at 30.133...: what is told is a little beyond, and four digits drawn to the nearest would not reach it."""
    text = ROUNDED.replace(", round: {step: STEP, rule: RULE}", "")
    (tmp_path / "plain.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "beds.csv").write_text("product,noise\nA,33\n", encoding="utf-8")
    result = steelyard("explain", tmp_path / "plain.yaml", tmp_path / "beds.csv", "A")
    assert "noise -2.87 dB to 30.13 dB\n" in result.stdout
    (tmp_path / "beds.csv").write_text("product,noise\nA,30.13\n", encoding="utf-8")
    result = steelyard("explain", tmp_path / "plain.yaml", tmp_path / "beds.csv", "A", "--json")
    assert document(result)["outputs"]["quiet"]["shown"] == 7.0


def test_where_first_order_is_not_defined_nothing_is_said_of_it(steelyard: Any, tmp_path: Path) -> None:
    """At a step: the measure that matters is named, and two figures are not compared where there is one."""
    form = """\
formula: jump
measures:
  noise: {unit: dB, repeatability: 1.2}
  drop: {unit: mm, repeatability: 2.5}
ratings:
  quiet: {measure: noise, curve: {steps: {18: 10, 30: 7, 40: 3}}}
  edge: {measure: drop, curve: {line: {worst: 135, best: 40}}}
scores:
  both: {blend: weighted mean, parts: [quiet, edge]}
"""
    (tmp_path / "jump.yaml").write_text(form, encoding="utf-8")
    (tmp_path / "beds.csv").write_text("product,noise,drop\nA,40,62\nB,35,62\n", encoding="utf-8")
    said = steelyard("explain", tmp_path / "jump.yaml", tmp_path / "beds.csv", "A", "--score", "both")
    (line,) = [line for line in said.stdout.splitlines() if line.startswith("  u: ")]
    assert line.endswith("first order is not defined: a jump or corner at the reading of noise")
    assert "mostly" not in line
    assert "the two differ" not in said.stdout
    found = document(steelyard("explain", tmp_path / "jump.yaml", tmp_path / "beds.csv", "A", "--json"))
    assert found["outputs"]["both"]["uncertainty"]["undefined"] == ["noise"]
    said = steelyard("explain", tmp_path / "jump.yaml", tmp_path / "beds.csv", "B", "--score", "both")
    assert "; mostly drop 0." in said.stdout


def test_first_order_uncertainty_by_hand(steelyard: Any, small: Path) -> None:
    """A-01: u = sqrt((3/4*0.1*2.5)^2 + (1/4*9/24*1.2/sqrt(3))^2); slope 4/40 of edge, 9/24 of quiet."""
    found = document(steelyard("explain", small / "beds.yaml", small / "beds.csv", "A-01", "--json"))
    u = found["outputs"]["reading"]["uncertainty"]
    edge, quiet = 0.75 * 0.1 * 2.5, 0.25 * 9 / 24 * 1.2 / math.sqrt(3)
    assert u["first_order"] == pytest.approx(math.hypot(edge, quiet), rel=1e-6)
    assert u["sd"] == pytest.approx(u["first_order"], rel=0.05)
    assert dict(map(tuple, u["budget"])) == pytest.approx({"sit_drop": edge, "noise": quiet}, rel=1e-6)


def test_a_held_score_has_no_first_order_uncertainty_and_says_so(steelyard: Any, laboratory: Path) -> None:
    """QB-019 is held at 5 by a limit: first order says 0, Monte Carlo does not, and the text names it."""
    arguments = ("explain", laboratory / "guest-bed.yaml", laboratory, "QB-019", "--score", "restless_night")
    u = document(steelyard(*arguments, "--json"))["outputs"]["restless_night"]["uncertainty"]
    assert u["first_order"] == 0
    assert u["sd"] > 0.01
    assert "trust the Monte Carlo figure" in steelyard(*arguments).stdout


def test_challenge_compares_with_and_without(steelyard: Any, laboratory: Path) -> None:
    """Without the wild third noise reading QB-009 gains; noise is then the mean of the other four."""
    arguments = ("explain", laboratory / "guest-bed.yaml", laboratory, "QB-009", "--without", "noise_dba/3", "--json")
    found = document(steelyard(*arguments))
    noise = next(reading for reading in found["readings"] if reading["measure"] == "noise_dba")
    assert noise["value"] == pytest.approx((41.0 + 40.8 + 42.6 + 40.5) / 4)
    quiet = next(challenge for challenge in found["challenges"] if challenge["output"] == "quiet")
    assert quiet["move"] == pytest.approx(9 / 24 * (45.68 - 41.225), rel=1e-9)


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        (("--without", "noise_dba"), "MEASURE/REPEAT"),
        (("--without", "noise_db/3"), "noise_dba"),
        (("--score", "two_bed"), "two_abed"),
    ],
    ids=["no repeat", "misspelt measure", "misspelt score"],
)
def test_what_names_nothing_is_refused(steelyard: Any, laboratory: Path, extra: tuple[str, str], said: str) -> None:
    """Exit 2, with what was expected or the nearest name."""
    result = steelyard("explain", laboratory / "guest-bed.yaml", laboratory, "QB-009", *extra)
    assert result.exit_code == 2
    assert said in result.stderr


def test_unknown_product_names_the_nearest(steelyard: Any, laboratory: Path) -> None:
    """A misspelt id is refused with the nearest id."""
    result = steelyard("explain", laboratory / "guest-bed.yaml", laboratory, "QB-0019")
    assert result.exit_code == 2
    assert "Did you mean `QB-0" in result.stderr


def test_same_seed_same_bytes(steelyard: Any, laboratory: Path) -> None:
    """Seed 0 is a seed: two runs agree to the byte; another seed draws otherwise."""
    arguments = ("explain", laboratory / "guest-bed.yaml", laboratory, "QB-036", "--score", "two_abed", "--json")
    first = steelyard(*arguments, "--seed", "0").stdout
    assert steelyard(*arguments, "--seed", "0").stdout == first
    assert steelyard(*arguments, "--seed", "1").stdout != first


EXTREMES = """\
formula: extremes
measures:
  drop: {unit: mm, better: lower}
  noise: {unit: dB, better: lower}
  heat: {unit: "1", better: lower}
ratings:
  edge: {measure: drop, curve: {line: {worst: 135, best: 40}}}
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  cool: {measure: heat, curve: {line: {worst: 10, best: 1}}}
scores:
  first: {blend: weighted mean, parts: [cool]}
  weakest: {blend: minimum, parts: [edge, quiet], limits: [{when: heat > 3, at_most: 6}], missing: {absent_above: 1}}
  strongest: {blend: maximum, parts: [edge, quiet], round: {step: 1}}
  twice: {blend: minimum, parts: [weakest, strongest]}
"""
GAPS = """\
product,drop,noise,heat
A,60,30,9
B,missing,missing,4
C,n/a,n/a,5
D,missing,30,6
"""


@pytest.fixture
def extremes(tmp_path: Path) -> tuple[Path, Path]:
    """A formula of least and greatest parts, and a catalogue in which products lack all of them."""
    (tmp_path / "extremes.yaml").write_text(EXTREMES, encoding="utf-8")
    (tmp_path / "gaps.csv").write_text(GAPS, encoding="utf-8")
    return tmp_path / "extremes.yaml", tmp_path / "gaps.csv"


@pytest.mark.parametrize(("product", "status"), [("B", "unrated"), ("C", "not applicable")])
def test_the_least_and_the_greatest_of_no_parts_are_no_values(
    steelyard: Any, extremes: tuple[Path, Path], product: str, status: str
) -> None:
    """Nor is what a limit, a rounding or a score on top would make of them: no line says anything."""
    found = document(steelyard("explain", *extremes, product, "--json"))
    for name in ("weakest", "strongest", "twice"):
        output = found["outputs"][name]
        assert (output["trace"], output["status"], output["value"]) == ([], status, None)
    assert found["outputs"]["first"]["trace"] != []


def test_what_can_be_worked_out_of_a_partial_extreme_is_told(steelyard: Any, extremes: tuple[Path, Path]) -> None:
    """D has one of two parts: 7 by hand, held at 6."""
    lines = document(steelyard("explain", *extremes, "D", "--json"))["outputs"]["weakest"]["trace"]
    assert [line["value"] for line in lines] == [7.0, 6.0]


@pytest.mark.usefixtures("pictures_unseen")
def test_an_appendix_works_out_a_product_that_lacks_every_part_of_an_extreme(
    steelyard: Any, extremes: tuple[Path, Path], tmp_path: Path
) -> None:
    """B is first of the first score, and so worked out by hand."""
    done = steelyard("appendix", *extremes, "--draws", "256", "--out", tmp_path / "appendix")
    assert done.exit_code == 0, done.exception
    assert "First of B" in (tmp_path / "appendix" / "appendix.md").read_text(encoding="utf-8")


def test_one_kernel_of_each_output_serves_the_whole_search(monkeypatch: pytest.MonkeyPatch, laboratory: Path) -> None:
    """However many measures and readings are tried: an output's, and eight for all that is told beside; no two alike."""
    compiled = []

    def counted(*given: Any, **options: Any) -> Any:
        compiled.append(given)
        return compile_kernel(*given, **options)

    monkeypatch.setattr(kernels, "compile_kernel", counted)
    form = read_form(laboratory / "guest-bed.yaml")
    found = explanation_of(score_catalogue(form, read_catalogue(laboratory, form)), "QB-009")
    searched = [note for note in found.outputs if note.changes]
    assert sum(len(note.changes) for note in searched) > 50
    assert len(searched) <= len(compiled) <= len(searched) + 8


def test_files_hold_what_the_function_gives_and_are_guarded(steelyard: Any, small: Path, tmp_path: Path) -> None:
    """`--out` writes the report; somebody's file stays unless it is forced; what is read stays in any case."""
    arguments = ("explain", small / "beds.yaml", small / "beds.csv", "A-01", "--out")
    page = tmp_path / "page.html"
    page.write_text("mine", encoding="utf-8")
    assert steelyard(*arguments, page).exit_code == 2
    assert page.read_text(encoding="utf-8") == "mine"
    done = steelyard(*arguments, page, "--force")
    assert done.exit_code == 0, done.stderr
    assert f"Written to {page}." in done.stdout
    straight = explain(small / "beds.yaml", small / "beds.csv", "A-01")
    assert page.read_bytes() == write_report(straight, tmp_path / "again.html").read_bytes()
    before = (small / "beds.csv").read_bytes()
    assert steelyard(*arguments, small / "beds.csv", "--force").exit_code == 2
    assert (small / "beds.csv").read_bytes() == before
    assert steelyard(*arguments, tmp_path / "page.doc").exit_code == 2
    assert "A folder for page, pictures and tables" in " ".join(steelyard("explain", "--help").stdout.split())


def in_inches(small: Path) -> Path:
    """The small catalogue with the sink read twice, in inches."""
    (small / "beds.csv").write_text(
        "product,maker,noise,sit_drop [in] #1,sit_drop [in] #2\nA-01,Vorrlin,31,2.44,2.5\nA-02,Dapquist,22,4.7,< 4\n",
        encoding="utf-8",
    )
    return small / "beds.csv"


def test_what_the_sheet_said_stands_beside_the_value(steelyard: Any, small: Path) -> None:
    """In the table of readings, with the rule of the conversion under it; each step of it in the document."""
    asked = ("explain", small / "beds.yaml", in_inches(small), "A-01")
    said = steelyard(*asked).stdout
    assert "61.976 (2.44 in), 63.5 (2.5 in)" in said
    assert "converted: mm = in * 25.4" in said
    reading = next(one for one in document(steelyard(*asked, "--json"))["readings"] if one["measure"] == "sit_drop")
    assert reading["repeats"] == ["61.976", "63.5"]
    first = reading["converted"][0]
    assert (first["repeat"], first["number"], first["unit"], first["value"]) == (1, 2.44, "in", 61.976)
    assert calculator(first["arithmetic"]) == pytest.approx(61.976)
    assert calculator(reading["arithmetic"]) == pytest.approx(reading["value"])


def test_nothing_is_said_of_a_conversion_where_there_is_none(steelyard: Any, small: Path) -> None:
    """Most catalogues are in the formula's units."""
    assert "converted" not in steelyard("explain", small / "beds.yaml", small / "beds.csv", "A-01").stdout


def test_a_disputed_reading_is_printed_as_it_was_read(steelyard: Any, small: Path) -> None:
    """As its cell has it, and converted; a limit as a limit; in the document too."""
    asked = ("explain", small / "beds.yaml", in_inches(small))
    said = steelyard(*asked, "A-01", "--without", "sit_drop/2", "--without", "noise/1").stdout
    assert "Set aside: sit_drop of A-01, repeat 2, read as 2.5 in, which is 63.5 mm." in said
    assert "Set aside: noise of A-01, repeat 1, read as 31 dB." in said
    assert "Without sit_drop/2, noise/1 (all below is without it):" in said
    (found,) = document(steelyard(*asked, "A-01", "--without", "A-02/sit_drop/2", "--json"))["disputed"]
    assert (found["product"], found["as_read"], found["value"], found["unit"]) == ("A-02", "< 4 in", 101.6, "mm")
