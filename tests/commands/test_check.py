"""`steelyard check`: verdicts, counter-examples that can be typed in again, addresses, a reference to freeze."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from analysis import check
from analysis.claims.verdict import jump_text, jump_texts
from scoring.checks.findings import Jump


def report(result: Any, exit_code: int = 0) -> dict[str, Any]:
    """The JSON document on standard output."""
    assert result.exit_code == exit_code, result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_the_laboratory_has_nothing_refuted(steelyard: Any, laboratory: Path) -> None:
    """Every claim about the laboratory's formula is proved, or not made: exit 0."""
    found = report(steelyard("check", laboratory / "guest-bed.yaml", laboratory, "--json"))
    assert {finding["verdict"] for finding in found["findings"]} == {"proved", "not claimed"}
    assert len(found["findings"]) > 80
    limits = [j for f in found["findings"] if f["output"] == "two_abed" for j in f["jumps"]]
    assert [jump["kind"] for jump in limits] == ["limit", "limit"]


def test_a_contradicted_direction_is_refuted_with_readings_to_retype(steelyard: Any, small: Path) -> None:
    """A curve the wrong way round: exit 1, and the two printed readings show it when they are scored."""
    text = (small / "beds.yaml").read_text(encoding="utf-8").replace("worst: 46, best: 22", "worst: 22, best: 46")
    (small / "beds.yaml").write_text(text, encoding="utf-8")
    found = report(steelyard("check", small / "beds.yaml", "--json"), exit_code=1)
    refuted = [f for f in found["findings"] if f["verdict"] == "refuted" and f["output"] == "quiet"]
    (finding,) = refuted
    cases = finding["counterexample"]
    rows = ["product,maker,noise,sit_drop"]
    for number, case in enumerate(cases):
        readings = {name: value for name, value, _ in case["inputs"]}
        rows.append(f"C-{number},none,{readings['noise']},60")
    (small / "retyped.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    scored = report(steelyard("score", small / "beds.yaml", small / "retyped.csv", "--json"))
    values = [product["ratings"]["quiet"]["value"] for product in scored["products"]]
    assert values == pytest.approx([case["value"] for case in cases], rel=1e-6)
    noise = [float(row.split(",")[2]) for row in rows[1:]]
    assert (noise[1] - noise[0]) * (values[1] - values[0]) > 0


def test_off_scale_is_refuted(steelyard: Any, small: Path) -> None:
    """An expression that leaves the scale: exit 1, with the reading at which it does."""
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    text = text.replace("{measure: noise, curve: {line: {worst: 46, best: 22}}}", '{value: "14 - noise / 10"}')
    (small / "beds.yaml").write_text(text, encoding="utf-8")
    result = steelyard("check", small / "beds.yaml")
    assert result.exit_code == 1
    assert "REFUTED" in result.stdout
    found = re.search(r"with noise = (\S+) dB it is (\S+)", result.stdout)
    assert found is not None
    assert float(found[2]) == pytest.approx(14 - float(found[1]) / 10)
    assert float(found[2]) > 10


def test_every_address_is_listed_with_its_value(steelyard: Any, small: Path) -> None:
    """--addresses lists weights, anchors, thresholds, choices and defaults that are not written."""
    listed = {
        entry["address"]: entry["value"]
        for entry in report(steelyard("check", small / "beds.yaml", "--addresses", "--json"))
    }
    assert listed["scores.reading.weights.edge"] == "3"
    assert listed["ratings.edge.curve.points.2.at"] == "80"
    assert listed["ratings.edge.curve.points.2.gives"] == "6"
    assert listed["scores.reading.limits.1.when.1"] == "4"
    assert listed["scores.reading.blend"] == "weighted mean"
    assert listed["measures.noise.plausible.to"] == "75"
    assert listed["scores.reading.missing.otherwise"] == "reweight"


def test_a_frozen_reference_gives_the_live_figures(steelyard: Any, small: Path) -> None:
    """What --reference prints, pasted in, leaves every figure as it was."""
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    live = text.replace("{line: {worst: 46, best: 22}}", "{z: {better: lower, centre: 5, per_sd: 1}}")
    (small / "beds.yaml").write_text(live, encoding="utf-8")
    before = report(steelyard("score", small / "beds.yaml", small / "beds.csv", "--json"))["products"]
    printed = steelyard("check", small / "beds.yaml", small / "beds.csv", "--reference").stdout
    reference = re.search(r"^reference: (\{.*\})$", printed, re.MULTILINE)
    assert reference is not None
    frozen = live.replace("per_sd: 1}}", f"per_sd: 1}}, reference: {reference[1]}}}")
    (small / "beds.yaml").write_text(frozen, encoding="utf-8")
    after = report(steelyard("score", small / "beds.yaml", small / "beds.csv", "--json"))["products"]
    for old, new in zip(before, after, strict=True):
        assert new["ratings"]["quiet"]["shown"] == old["ratings"]["quiet"]["shown"]
        if old["ratings"]["quiet"]["value"] is not None:
            assert new["ratings"]["quiet"]["value"] == pytest.approx(old["ratings"]["quiet"]["value"], abs=1e-12)


def test_a_reference_is_one_json_document_where_that_is_asked(steelyard: Any, small: Path) -> None:
    """The same figures as the lines to paste, by the address of their curve; an empty list where no curve leans on any."""
    asked = ("check", small / "beds.yaml", small / "beds.csv", "--reference")
    assert report(steelyard(*asked, "--json")) == []
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    live = text.replace("{line: {worst: 46, best: 22}}", "{z: {better: lower, centre: 5, per_sd: 1}}")
    (small / "beds.yaml").write_text(live, encoding="utf-8")
    (found,) = report(steelyard(*asked, "--json"))
    printed = ", ".join(f"{name}: {value!r}" for name, value in found["reference"].items())
    assert f"# {found['address']}\nreference: {{{printed}}}\n" in steelyard(*asked).stdout


TEN_FAULTS = """\
formula: faulty
scale: {from: 1, to: 10, show: {step: 0, rule: half-up}}
measures:
  noise: {unit: dB, plausible: [75, 18]}
  sit_drop: {unit: mm, betr: lower}
ratings:
  quiet: {measure: nois, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit_drop, curve: {points: {40: 10, 30: 6}}}
  cool: {measure: sit_drop, curve: {lin: {worst: 1, best: 2}}}
  odd: {value: "noise +* 2"}
scores:
  total:
    blend: weigted mean
    weights: {edge: 1_000, quiet: -1}
"""


def test_ten_planted_faults_are_all_told_at_once(steelyard: Any, tmp_path: Path) -> None:
    """Each fault comes back with its line and column in one run, exit 2."""
    (tmp_path / "faulty.yaml").write_text(TEN_FAULTS, encoding="utf-8")
    result = steelyard("check", tmp_path / "faulty.yaml")
    assert result.exit_code == 2
    places = re.findall(r"faulty\.yaml:(\d+):(\d+):", result.stderr)
    lines = [int(line) for line, _ in places]
    assert lines == [2, 4, 5, 7, 8, 9, 10, 13, 14, 14]
    for word in (
        "above 0",
        "the lesser number first",
        "`better`",
        "`noise`",
        "rising order",
        "`line`",
        "weighted mean",
    ):
        assert word in result.stderr, word


@pytest.mark.parametrize(
    ("at_most", "met", "said"),
    [
        (2.0, None, "x at 3 by 2 points at most"),
        (2.0, 0.0, "x at 3 by 2 points at most"),
        (2.0, 2.665e-15, "x at 3 by 2 points at most"),
        (2.0, 1.5, "x at 3 by 2 points at most (1.5 met in the search)"),
        (float("inf"), 1.5, "x at 3, without a bound (1.5 met in the search)"),
        (float("inf"), None, "x at 3, without a bound"),
        (0.0, None, "x at 3 by 0 points at most"),
    ],
)
def test_a_jump_is_told_without_dust_and_without_an_infinite_bound(
    at_most: float, met: float | None, said: str
) -> None:
    """What the search met below a billionth of a point is none."""
    assert jump_text(Jump("choice", "ratings.a", "x at 3", at_most, exact=False, met=met, declared=False)) == said


STAIRS = """\
formula: f
scale: {from: 1, to: 10}
measures:
  a: {unit: "%", plausible: [0, 100]}
  n: {unit: "1", plausible: [0, 5]}
ratings:
  stairs: {measure: a, curve: {steps: {0: 1, 10: 2, 20: 3, 30: 4, 40: 5, 50: 6, 60: 7, 70: 8, 80: 9}}}
  hill: {measure: n, curve: {steps: {0: 3, 2: 10, 4: 3}}}
scores:
  both: {parts: [stairs, hill]}
"""


def test_many_jumps_are_folded_on_a_terminal(steelyard: Any, tmp_path: Path) -> None:
    """The first six, how many more, and the largest of those; the document and a page have all of them."""
    (tmp_path / "stairs.yaml").write_text(STAIRS, encoding="utf-8")
    said = steelyard("check", tmp_path / "stairs.yaml").stdout
    part = said[said.index("Stairs (stairs)") : said.index("Hill (hill)")]
    assert part.count("  jumps  ") == 6
    assert "and 2 more, the largest by 1 point at most: `--json` and `--out` list all 8" in part
    document = json.loads(steelyard("check", tmp_path / "stairs.yaml", "--json").stdout)
    counts = [
        len(one["jumps"]) for one in document["findings"] if (one["output"], one["kind"]) == ("stairs", "continuity")
    ]
    assert counts == [8]
    assert steelyard("check", tmp_path / "stairs.yaml", "--out", tmp_path / "page.md").exit_code == 1
    assert all(f"a = {place} by 1 point" in (tmp_path / "page.md").read_text() for place in range(10, 90, 10))


def test_jumps_that_read_alike_say_at_which_address_they_are() -> None:
    """Others stand as they did."""
    jumps = [
        Jump("choice", f"ratings.{name}.value", "where its condition turns", 2.0, False, None, False) for name in "ab"
    ]
    other = Jump("choice", "ratings.c.value", "x = 3", 2.0, False, None, False)
    assert jump_texts([*jumps, other]) == [
        "where its condition turns by 2 points at most [ratings.a.value]",
        "where its condition turns by 2 points at most [ratings.b.value]",
        "x = 3 by 2 points at most",
    ]


def test_what_goes_both_ways_unsaid_is_told_what_to_write(steelyard: Any, tmp_path: Path) -> None:
    """`better: neither`, which then refutes nothing; a measure whose better end is stated is not told so."""
    path = tmp_path / "stairs.yaml"
    path.write_text(STAIRS, encoding="utf-8")
    found = steelyard("check", path)
    assert found.exit_code == 1
    assert "; if that is meant, write `better: neither` under measures.n" in found.stdout
    path.write_text(STAIRS.replace('n: {unit: "1"', 'n: {unit: "1", better: neither'), encoding="utf-8")
    assert steelyard("check", path).exit_code == 0
    path.write_text(STAIRS.replace('n: {unit: "1"', 'n: {unit: "1", better: higher'), encoding="utf-8")
    said = steelyard("check", path).stdout
    assert "REFUTED" in said
    assert "if that is meant" not in said


def test_no_unit_stands_behind_a_plain_number_or_a_word(steelyard: Any, tmp_path: Path) -> None:
    """Counter-examples of a number whose unit is 1, and of a percentage that does not apply."""
    (tmp_path / "stairs.yaml").write_text(STAIRS, encoding="utf-8")
    said = steelyard("check", tmp_path / "stairs.yaml").stdout
    assert "n = " in said
    assert "a = does not apply" in said
    assert not re.search(r"n = [0-9.]+ 1\b|apply %", said)


def test_a_draft_is_said_first_and_is_not_praised(steelyard: Any, small: Path) -> None:
    """With guesses standing the first line says so; without them it counts claims, as it did."""
    formula = small / "beds.yaml"
    assert "a draft" not in steelyard("check", formula).stdout
    text = formula.read_text(encoding="utf-8")
    formula.write_text(text.replace("# the lead's draft", "# guess: all alike"), encoding="utf-8")
    result = steelyard("check", formula)
    first = result.stdout.splitlines()[0]
    assert ": a draft: 1 guess stands (beds.yaml, from line 17 on). Of the guesses as they stand, " in first
    assert result.exit_code == 0
    document = json.loads(steelyard("check", formula, "--json").stdout)
    assert document["draft"] == [{"file": "beds.yaml", "guesses": 1, "decisions": 0, "first": 17}]


def test_a_guess_that_must_be_decided_is_a_finding_that_stands(steelyard: Any, small: Path) -> None:
    """Exit 1, though every claim is proved; and in Python `is_unsettled`."""
    formula = small / "beds.yaml"
    text = formula.read_text(encoding="utf-8").replace("# the lead's draft", "# guess: DECIDE THIS FIRST")
    formula.write_text(text.replace("version: 1.0.0", "version: 1.0.0   # guess: a first one"), encoding="utf-8")
    result = steelyard("check", formula, small / "beds.csv")
    assert result.exit_code == 1
    assert "a draft: 2 guesses stand, 1 of which must be decided first (beds.yaml, from line 17 on)." in result.stdout
    found = check(formula)
    assert (found.found.guesses, found.found.decisions, found.found.is_unsettled) == (2, 1, True)
    assert found.verdict[0].startswith("A draft: 2 guesses stand")


def test_guesses_of_a_recipe_count_too(steelyard: Any, small: Path) -> None:
    """Of the recipe that the catalogue is read by, whether it is named or lies in the folder that is."""
    recipe = "readings: bench\ntables:\n  - {file: beds.csv}   # guess: the only table\n"
    (small / "readings.yaml").write_text(recipe, encoding="utf-8")
    for catalogue in (small / "readings.yaml", small):
        said = steelyard("check", small / "beds.yaml", catalogue)
        assert said.exit_code == 0, said.stderr
        assert "a draft: 1 guess stands (readings.yaml, from line 3 on)." in said.stdout


def test_a_wild_reading_is_named_without_being_asked_for(steelyard: Any, small: Path) -> None:
    """A slip of the pen among five repeats of twelve products; the tests' own report says it is an outlier, too."""
    rows = [
        f"P-{i},m,{30 + i % 3},{30.4 + i % 3},{29.7 + i % 3},{30.1 + i % 3},{30.2 + i % 3},{60 + i}" for i in range(12)
    ]
    rows[4] = rows[4].replace(",30.7,", ",60.7,")
    assert ",60.7," in rows[4]
    header = f"product,maker,{','.join(f'noise #{n}' for n in range(1, 6))},sit_drop\n"
    (small / "beds.csv").write_text(header + "\n".join(rows) + "\n", encoding="utf-8")
    asked = ("check", small / "beds.yaml", small / "beds.csv")
    said = steelyard(*asked).stdout
    assert (
        "1 reading stands out from the repeats beside it (1 %, all of a measure judged at once): noise of P-4" in said
    )
    (wild,) = json.loads(steelyard(*asked, "--json").stdout)["wild_readings"]
    assert (wild["product"], wild["repeat"], wild["value"]) == ("P-4", 3, 60.7)
    findings = json.loads(steelyard(*asked, "--repeatability", "--json").stdout)
    assert "P-4" in json.dumps(findings)
    (small / "beds.csv").write_text(header + "\n".join(rows[:4]) + "\n", encoding="utf-8")
    assert "stand out" not in steelyard(*asked).stdout
