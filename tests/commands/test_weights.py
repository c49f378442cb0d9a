"""`steelyard weights`: the verdict first, the same figures in every face, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from extent import is_long
from laboratory_runs import LaboratoryRuns

ROOT = Path(__file__).parents[2]
PUBLISHED = ROOT / "formulas" / "published"
FORMULA = """\
formula: trial
version: 2.1.0
title: Trial beds
scale: {from: 0, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  noise: {unit: dB, plausible: [0, 100]}
  drop: {unit: mm, plausible: [0, 100]}
  heat: {unit: K, plausible: [0, 100]}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 0, best: 100}}}
  edge: {measure: drop, curve: {line: {worst: 0, best: 100}}}
  cool: {measure: heat, curve: {line: {worst: 0, best: 100}}}
scores:
  plain: {label: Plain, blend: weighted mean, weights: {quiet: 2, edge: 1, cool: 1}, missing: {absent_above: 0.5}}
  held: {label: Held, blend: weighted mean, weights: {quiet: 2, edge: 1, cool: 1}, limits: [{when: edge < 4, at_most: 3}]}
  curved: {label: Curved, blend: geometric mean, weights: {quiet: 2, edge: 1, cool: 1}}
  written: {label: Written, value: quiet + 0 * edge}
"""


def readings(n: int = 24) -> str:
    """Invented readings of n products; the last lacks its heat."""
    rng = np.random.default_rng(5)
    quiet = rng.uniform(20, 90, n)
    edge = np.clip(quiet + rng.normal(0, 12, n), 1, 99)
    rows = np.column_stack([quiet, edge, rng.uniform(20, 90, n)]).round(1)
    lines = [f"T-{i + 1:02d},{a},{b},{c}" for i, (a, b, c) in enumerate(rows)]
    lines[-1] = lines[-1].rsplit(",", 1)[0] + ",missing: probe failed"
    return "\n".join(["product,noise,drop,heat", *lines]) + "\n"


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    """A folder with a formula and readings."""
    (tmp_path / "trial.yaml").write_text(FORMULA, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(readings(), encoding="utf-8")
    return tmp_path


def run(steelyard: Any, folder: Path, *options: object) -> Any:
    """The command on the trial folder, after exit 0 and nothing on standard error."""
    result = steelyard("weights", folder / "trial.yaml", folder / "beds.csv", *options)
    assert (result.exit_code, result.stderr) == (0, ""), result.output
    return result


def document(steelyard: Any, folder: Path, *options: object) -> dict[str, Any]:
    """What `--json` prints."""
    found: dict[str, Any] = json.loads(run(steelyard, folder, "--json", *options).stdout)
    return found


def refused(steelyard: Any, folder: Path, *options: object) -> str:
    """What it says where it must refuse, on standard error only."""
    result = steelyard("weights", folder / "trial.yaml", folder / "beds.csv", *options)
    assert (result.exit_code, result.stdout) == (2, "")
    return str(result.stderr)


#: As the guides ask.
OF_THE_FIRST_SCORE = "weights guest-bed.yaml . --score two_abed"


@pytest.fixture(scope="module")
def demo(laboratory_runs: LaboratoryRuns) -> dict[str, Any]:
    """What the document says of the first score of the invented laboratory; of each score in a long run."""
    found = laboratory_runs.run("weights guest-bed.yaml ." if is_long() else OF_THE_FIRST_SCORE)
    assert (found.exit_code, found.stderr) == (0, "")
    scores: dict[str, Any] = found.document["scores"]
    return scores


@pytest.fixture(scope="module")
def two_abed(laboratory_runs: LaboratoryRuns) -> str:
    """What is printed of its first score."""
    found = laboratory_runs.run(OF_THE_FIRST_SCORE)
    assert (found.exit_code, found.stderr) == (0, "")
    return found.stdout


def test_the_verdict_comes_first_and_is_that_of_the_document(steelyard: Any, trial: Path) -> None:
    """After the heading the sentences of `--json`, word for word, then tables with the same figures."""
    shown = run(steelyard, trial, "--score", "plain").stdout
    found = document(steelyard, trial, "--score", "plain")["scores"]["plain"]
    lines = shown.splitlines()
    assert lines[0] == "Trial beds (trial 2.1.0): what the weights are worth on this catalogue."
    assert lines[2 : 2 + len(found["verdict"])] == found["verdict"]
    effective = found["parts"]["quiet"]["effective"]
    row = next(line.split() for line in lines if line.strip().startswith("quiet "))
    assert row[1:8] == ["2", "50", "%", "66.7", "%", f"{100 * effective['value']:.0f}", "%"]
    assert row[8:12] == [f"{100 * effective['low']:.0f}", "to", f"{100 * effective['high']:.0f}", "%"]


def test_a_part_that_pulls_against_the_score_is_said_in_words(steelyard: Any, trial: Path) -> None:
    """edge runs against quiet and cool: cov(edge, mean) is below 0 by numpy; the verdict, the table and the document say so."""
    rng = np.random.default_rng(8)
    base = rng.uniform(25, 85, 40)
    rows = np.column_stack([base, 110 - base + rng.normal(0, 3, 40), base + rng.normal(0, 3, 40)]).clip(1, 99).round(1)
    lines = ["product,noise,drop,heat", *(f"T-{i + 1:02d},{a},{b},{c}" for i, (a, b, c) in enumerate(rows))]
    (trial / "beds.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert np.cov(rows[:, 1], rows @ [0.5, 0.25, 0.25])[0, 1] < 0
    found = document(steelyard, trial, "--score", "plain")["scores"]["plain"]
    assert {name: part["goes"] for name, part in found["parts"].items()} == {
        "quiet": "with it",
        "edge": "against it",
        "cool": "with it",
    }
    (sentence,) = [line for line in found["verdict"] if "against the score" in line]
    assert sentence.startswith("edge (effective share -")
    assert sentence.endswith(
        "pulls against the score: over these products the weighted mean tends to fall where it rises."
    )
    shown = run(steelyard, trial, "--score", "plain").stdout
    assert sentence in shown
    row = next(line for line in shown.splitlines() if line.strip().startswith("edge  "))
    assert row.rstrip().endswith("against it")


def test_a_part_that_may_pull_either_way_is_said_to_be_open(demo: dict[str, Any]) -> None:
    """bounce in the demonstration: a share below 0 whose interval holds 0."""
    found = demo["two_abed"]
    bounce = found["parts"]["bounce"]
    assert bounce["effective"]["value"] < 0 < bounce["effective"]["high"]
    assert bounce["goes"] == "against it (open)"
    (sentence,) = [line for line in found["verdict"] if "against the score" in line]
    assert sentence.endswith("where it rises, the interval not excluding that it rises.")


def test_the_parts_are_those_of_the_catalogue(steelyard: Any, trial: Path) -> None:
    """Shares worked out from the readings by numpy; the product without a reading is left out, in words."""
    found = document(steelyard, trial, "--score", "plain")["scores"]["plain"]
    frame = pd.read_csv(trial / "beds.csv").iloc[:-1]
    values = frame[["noise", "drop", "heat"]].astype(float).to_numpy() / 10
    weights = np.array([0.5, 0.25, 0.25])
    sigma = np.cov(values.T)
    shares = weights * (sigma @ weights) / (weights @ sigma @ weights)
    assert [part["effective"]["value"] for part in found["parts"].values()] == pytest.approx(shares)
    assert found["left_out"] == "1 product that lacks a part"
    assert len(found["products"]) == 23
    assert found["redundancy"]["pearson"][0][1] == pytest.approx(np.corrcoef(values.T)[0, 1])
    assert found["correlation_with_published"] == pytest.approx(1)
    assert found["besides_the_weighted_mean"] is None


def test_limits_and_other_blends_are_said_and_not_passed_over(steelyard: Any, trial: Path) -> None:
    """Shares are then of the weighted mean; its correlation with the published score is printed; first places may be open."""
    scores = document(steelyard, trial)["scores"]
    held, curved = scores["held"], scores["curved"]
    assert 0.5 < held["correlation_with_published"] < 0.9999
    assert held["besides_the_weighted_mean"].startswith("limits act on ")
    assert any(", limits left aside" in line for line in held["verdict"])
    assert curved["first"] == "not decided"
    assert any("is not decided: a geometric mean is not linear in its weights" in line for line in curved["verdict"])
    assert any(f"{held['correlation_with_published']:.3f}" in line for line in held["verdict"])


def test_an_expression_has_no_weights_and_says_so(steelyard: Any, trial: Path) -> None:
    """No figures are made up for it."""
    found = document(steelyard, trial, "--score", "written")["scores"]["written"]
    assert found["verdict"] == [
        "Written: nothing is said of its weights, as it has no weights to look at: it is an expression."
    ]
    assert "parts" not in found


def test_first_places_carry_certificates_that_hold(steelyard: Any, trial: Path) -> None:
    """From the document and the scores alone: each mixture is better in every part, each weighting puts its product first."""
    found = document(steelyard, trial, "--score", "plain")["scores"]["plain"]
    frame = pd.read_csv(trial / "beds.csv").iloc[:-1].set_index("product").astype(float) / 10
    states = {one["product"]: one for one in found["first"]}
    assert {one["state"] for one in found["first"]} == {"can", "never"}
    for name, one in states.items():
        if one["state"] == "never":
            mixed = sum(share * frame.loc[other] for other, share in one["mixture"].items())
            assert (mixed - frame.loc[name]).min() == pytest.approx(one["better_in_every_part_by"], abs=1e-6)
            assert one["better_in_every_part_by"] > 0
        else:
            scores = frame.to_numpy() @ np.array(one["weights"])
            assert scores.max() == pytest.approx(scores[list(frame.index).index(name)], abs=1e-6)
    for name, others in found["beats"].items():
        assert all((frame.loc[name] >= frame.loc[other]).all() for other in others)


def set_as_found(steelyard: Any, folder: Path, score: str, wanted: dict[str, Any]) -> dict[str, Any]:
    """The parts of a score as the command itself reports them once the weights that it found are set."""
    settings = [word for setting in wanted["published"]["set"] for word in ("--set", setting)]
    found: dict[str, Any] = document(steelyard, folder, "--score", score, *settings)["scores"][score]["parts"]
    return found


def test_a_share_of_the_variance_is_that_share(steelyard: Any, trial: Path) -> None:
    """60 % asked of one part, the others' weights keep their proportions; set and run again, its main effect is 60 %."""
    options = ("--score", "plain", "--want", "cool=60%")
    wanted = document(steelyard, trial, *options)["scores"]["plain"]["wanted"]
    assert (wanted["share_of"], wanted["state"]) == ("variance", "found")
    assert wanted["tried"] == [{"held": "weights of the others", "state": "found"}]
    assert wanted["weights"]["quiet"] == pytest.approx(2 * wanted["weights"]["edge"])
    assert wanted["gives"]["cool"] == pytest.approx(0.6, abs=1e-6)
    linear = {name: part["linear"] for name, part in set_as_found(steelyard, trial, "plain", wanted).items()}
    assert linear["cool"]["value"] == pytest.approx(0.6, abs=5e-4)
    published = {name: part["value"] for name, part in wanted["published"]["parts"].items()}
    assert published == pytest.approx({name: one["value"] for name, one in linear.items()})


def test_a_share_of_the_summed_effects_is_another_question(steelyard: Any, trial: Path) -> None:
    """The same words with --share-of effects: with the others' effects held there are none; with their weights held, some."""
    options = ("--score", "plain", "--want", "cool=60%", "--share-of", "effects")
    found = document(steelyard, trial, *options)["scores"]["plain"]
    wanted = found["wanted"]
    assert wanted["tried"] == [
        {"held": "main effects of the others", "state": "impossible"},
        {"held": "weights of the others", "state": "found"},
    ]
    assert min(wanted["closed_form"]["solution"].values()) < 0
    assert any("main effects of the other parts held" in line and "proved" in line for line in found["verdict"])
    parts = set_as_found(steelyard, trial, "plain", wanted)
    linear = np.array([part["linear"]["value"] for part in parts.values()])
    assert (linear / linear.sum())[2] == pytest.approx(0.6, abs=5e-4)


def test_shares_of_every_part_come_from_the_closed_form(steelyard: Any, trial: Path) -> None:
    """All three asked for: the solution is confirmed by --set."""
    attainable = ("--score", "plain", "--want", "quiet=0.36", "--want", "edge=0.34", "--want", "cool=0.3")
    wanted = document(steelyard, trial, *attainable, "--share-of", "effects")["scores"]["plain"]["wanted"]
    assert (wanted["state"], wanted["closed_form"]["state"]) == ("found", "found")
    assert 0 < wanted["closed_form"]["exists_in_resamples"] <= 1
    parts = set_as_found(steelyard, trial, "plain", wanted)
    linear = np.array([parts[name]["linear"]["value"] for name in ("quiet", "edge", "cool")])
    assert linear / linear.sum() == pytest.approx([0.36, 0.34, 0.3], abs=5e-4)


def test_edge_at_thirty_per_cent_exists_in_the_demonstration(laboratory_runs: LaboratoryRuns) -> None:
    """The weights that were said not to exist, and what they give: .300 of the weighted mean, .257 of the published score.

    Worked out apart, by numpy on the published readings: edge at .3091 with the others in proportion.
    """
    done = laboratory_runs.run(f"{OF_THE_FIRST_SCORE} --want edge=30%")
    found = done.document["scores"]["two_abed"]
    wanted = found["wanted"]
    assert list(wanted["weights"].values()) == pytest.approx([0.2191, 0.1685, 0.3091, 0.118, 0.1011, 0.0843], abs=1e-4)
    published = wanted["published"]
    assert (published["products"], published["published_products"]) == (49, 52)
    edge = published["parts"]["edge"]
    assert edge["weighted_mean"] == pytest.approx(0.3, abs=5e-4)
    assert edge["all_published"] == pytest.approx(0.257, abs=1e-3)
    assert edge["low"] < edge["value"] < edge["high"]
    assert not any("no weights do" in line or "forbids" in line for line in found["verdict"])
    (said,) = [line for line in found["verdict"] if line.startswith("Set and scored again")]
    assert f"edge {100 * edge['value']:.0f} %" in said
    assert "26 % over all 52 published: limits act on 2 of 49 products." in said
    assert "To set them: --set scores.two_abed.weights.stillness=0.2191 --set" in done.stdout


def test_limits_are_in_what_the_published_score_gives(steelyard: Any, trial: Path) -> None:
    """A limit that acts on much of the table: the share of the weighted mean is as asked, that of the score is another."""
    wanted = document(steelyard, trial, "--score", "held", "--want", "cool=60%")["scores"]["held"]["wanted"]
    cool = wanted["published"]["parts"]["cool"]
    assert cool["weighted_mean"] == pytest.approx(0.6, abs=5e-4)
    assert abs(cool["value"] - 0.6) > 0.05
    assert wanted["published"]["besides_the_weighted_mean"].startswith("limits act on ")
    again = set_as_found(steelyard, trial, "held", wanted)
    assert cool["value"] == pytest.approx(again["cool"]["linear"]["value"])


def test_impossible_is_said_of_what_is_proved_and_what_can_be_had_stands_beside_it(
    steelyard: Any, laboratory: Path
) -> None:
    """cooling at 95 % of the summed main effects: no weights; the greatest share that any give is printed, and the nearest."""
    options = ("--score", "two_abed", "--want", "cooling=95%", "--share-of", "effects")
    done = steelyard("weights", laboratory / "guest-bed.yaml", laboratory, *options, "--json")
    found = json.loads(done.stdout)["scores"]["two_abed"]
    wanted = found["wanted"]
    assert [one["state"] for one in wanted["tried"]] == ["impossible"] * 3
    assert set(wanted["weights"].values()) == {None}
    low, high = wanted["can_be_given"]["cooling"]
    assert low == 0
    assert wanted["nearest_gives"]["cooling"] == pytest.approx(high, abs=1e-4)
    assert any("impossible, whatever is held" in line and "is proved" in line for line in found["verdict"])
    assert f"Weights from 0 up can give cooling 0 to {100 * high:.0f} %, each with the others free." in found["verdict"]


def test_a_sum_keeps_the_scale_of_its_weights(steelyard: Any, trial: Path) -> None:
    """The weights found for a sum add up to what the stated ones do, equal parts included."""
    text = FORMULA + "  added: {label: Added, blend: sum, parts: [quiet, edge, cool], scale: {from: 0, to: 30}}\n"
    (trial / "trial.yaml").write_text(text, encoding="utf-8")
    wanted = document(steelyard, trial, "--score", "added", "--want", "cool=60%")["scores"]["added"]["wanted"]
    weights = [float(setting.split("=")[1]) for setting in wanted["published"]["set"]]
    assert sum(weights) == pytest.approx(3)
    assert wanted["published"]["parts"]["cool"]["value"] == pytest.approx(0.6, abs=5e-4)


def test_what_a_weight_gives_when_squared_stands_beside_it(demo: dict[str, Any], two_abed: str) -> None:
    """26 % stated is 36.7 % by squaring alone: 44 % (33 to 55 %) is not told from that, and not said to be worth more."""
    found = demo["two_abed"]
    stillness = found["parts"]["stillness"]
    weights = np.array([0.26, 0.2, 0.18, 0.14, 0.12, 0.1])
    assert [part["squared"] for part in found["parts"].values()] == pytest.approx(weights**2 / (weights**2).sum())
    assert stillness["effective"]["low"] > stillness["share"]
    assert stillness["effective"]["low"] < stillness["squared"] < stillness["effective"]["high"]
    (more,) = [line for line in found["verdict"] if line.startswith("Worth more")]
    assert "stillness" not in more
    assert "quiet (20 % stated, 21.7 % squared, effective share 44 %" in more
    quiet = found["parts"]["quiet"]
    spread, correlation = (f"{100 * value:+.0f}" for value in (quiet["by_spread"] - quiet["squared"],
                                                              quiet["effective"]["value"] - quiet["by_spread"]))  # fmt: skip
    assert f"; spread {spread}, correlation {correlation})" in more
    assert any("no correlation of the parts would make it 0.25" in line for line in found["verdict"])
    shown = two_abed
    row = next(line.split() for line in shown.splitlines() if line.strip().startswith("stillness "))
    assert row[1:6] == ["0.26", "26", "%", "36.7", "%"]


def test_weights_alone_are_worth_their_squares(steelyard: Any, trial: Path) -> None:
    """Parts of equal spread and no correlation, by design: no part is worth more or less than its weight gives."""
    levels = [20, 40, 60, 80]
    rows = [f"T-{a}{b}{c},{a},{b},{c}" for a in levels for b in levels for c in levels]
    (trial / "beds.csv").write_text("\n".join(["product,noise,drop,heat", *rows]) + "\n", encoding="utf-8")
    found = document(steelyard, trial, "--score", "plain")["scores"]["plain"]
    for part in found["parts"].values():
        assert part["effective"]["value"] == pytest.approx(part["squared"])
        assert part["by_spread"] == pytest.approx(part["squared"])
    assert not any(line.startswith("Worth") for line in found["verdict"])
    assert any(line.startswith("No part's share is told from what its weight gives") for line in found["verdict"])


def test_the_title_of_a_table_says_what_stands_in_it(two_abed: str) -> None:
    """Who beats whom has a title of its own; mixtures of others are named over the table of mixtures alone."""
    shown = two_abed
    first, second = shown.index("First under no weights: "), shown.index("Who beats whom: ")
    assert "mixture" in shown[first:second]
    assert "mixture" not in shown[second:]
    assert "beats: is at least as good in every part, and better in one." in shown[second:]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--score", "plain", "--want", "cool"], "`cool`; expected a part and a share from 0 to 1"),
        (["--score", "plain", "--want", "cool=140%"], "`cool=140%`; expected a part and a share"),
        (["--score", "plain", "--want", "cool=nan"], "`cool=nan`; expected a part and a share"),
        (["--score", "plain", "--want", "cole=0.2"], "Did you mean `cool`?"),
        (["--score", "plain", "--want", "cool=0.2", "--want", "cool=0.3"], "`cool` twice"),
        (
            ["--score", "plain", "--want", "cool=0.8", "--want", "edge=0.4", "--share-of", "effects"],
            "add to 120 %; expected shares that add to 100 %",
        ),
        (["--want", "cool=0.2"], "4 scores: plain, held, curved, written; expected one score"),
        (["--score", "written", "--want", "cool=0.2"], "`written`, which has no weights"),
        (["--score", "plain", "--want", "cool=0.2", "--share-of", "sum"], "`sum`; expected `variance`"),
        (["--score", "plane"], "Did you mean `plain`?"),
        (["--out", "weights.doc"], "the ending `.doc`"),
    ],
    ids=[
        "no share",
        "above 1",
        "not a number",
        "no part",
        "twice",
        "too much",
        "which score",
        "no weights",
        "no meaning",
        "no score",
        "ending",
    ],
)
def test_what_it_refuses(steelyard: Any, trial: Path, options: list[str], says: str) -> None:
    """Each fault in one line on standard error, exit 2."""
    assert says in refused(steelyard, trial, *options)


def test_the_same_seed_gives_the_same_bytes_and_another_does_not(steelyard: Any, trial: Path) -> None:
    """A folder with figures, a table and the document, twice; and once with another seed."""
    for folder in ("one", "two"):
        run(steelyard, trial, "--score", "plain", "--out", trial / folder)
    run(steelyard, trial, "--score", "plain", "--out", trial / "three.csv", "--seed", 1)
    names = sorted(path.name for path in (trial / "one").iterdir())
    assert names == [
        "manifest.json",
        *(f"plain-{what}.{kind}" for what in ("spearman", "worth") for kind in ("png", "svg")),
        "weights.csv",
        "weights.html",
        "weights.json",
        "weights.md",
    ]
    for name in names:
        assert (trial / "one" / name).read_bytes() == (trial / "two" / name).read_bytes()
    assert (trial / "one" / "weights.csv").read_bytes() != (trial / "three.csv").read_bytes()


def test_a_table_carries_its_provenance_and_the_same_figures(steelyard: Any, trial: Path) -> None:
    """One row a score and part."""
    run(steelyard, trial, "--out", trial / "weights.csv")
    table = pd.read_csv(trial / "weights.csv")
    found = document(steelyard, trial)["scores"]
    assert list(table["score"]) == [name for name in ("plain", "held", "curved") for _ in range(3)]
    assert list(table["formula"].unique()) == ["trial 2.1.0"]
    row = table.iloc[4]
    assert row["effective_low"] == pytest.approx(found["held"]["parts"]["edge"]["effective"]["low"])


@pytest.mark.parametrize(
    ("n", "says"), [(3, "2 of its products have every part"), (8, "Under 10 products no interval")]
)
def test_few_products_are_said_to_be_few(steelyard: Any, trial: Path, n: int, says: str) -> None:
    """Nothing from two complete products, no interval from seven; exit 0 either way."""
    (trial / "beds.csv").write_text(readings(n), encoding="utf-8")
    assert says in run(steelyard, trial, "--score", "plain").stdout


def test_the_lowest_score_may_be_the_best(steelyard: Any, trial: Path) -> None:
    """First places and dominance turn round with the ranks."""
    high = document(steelyard, trial, "--score", "plain")["scores"]["plain"]["beats"]
    text = FORMULA.replace("measures:", "ranks: {best: lowest}\nmeasures:", 1)
    (trial / "trial.yaml").write_text(text, encoding="utf-8")
    low = document(steelyard, trial, "--score", "plain")["scores"]["plain"]["beats"]
    assert {(a, b) for a, own in high.items() for b in own} == {(b, a) for a, own in low.items() for b in own} != set()


def test_a_part_that_says_what_another_says_is_named(steelyard: Any, trial: Path) -> None:
    """The same readings twice: no weights are worked out, and the condition number says why."""
    rows = [line.split(",") for line in readings().splitlines()[1:-1]]
    text = "product,noise,drop,heat\n" + "\n".join(f"{p},{a},{a},{c}" for p, a, _, c in rows) + "\n"
    (trial / "beds.csv").write_text(text, encoding="utf-8")
    found = document(steelyard, trial, "--score", "plain")["scores"]["plain"]
    assert found["wanted"]["state"] == "refused"
    assert any("the parts all but determine each other (condition number" in line for line in found["verdict"])
    assert found["redundancy"]["follows_from_the_others"] == ["quiet", "edge"]
    assert run(steelyard, trial, "--score", "plain").stdout.count("wholly") >= 2


def test_a_rating_of_several_measures_can_be_asked_for(steelyard: Any, laboratory: Path) -> None:
    """Its parts are the curves' values; in words where its limits or rounding do nothing."""
    result = steelyard("weights", laboratory / "guest-bed.yaml", laboratory, "--score", "edge", "--json")
    found = json.loads(result.stdout)["scores"]["edge"]
    assert list(found["parts"]) == ["edge_sink_mm", "edge_ratio"]
    assert found["correlation_with_published"] == pytest.approx(1)


def test_published_scores_of_eight_parts(steelyard: Any) -> None:
    """The Technology Achievement Index under two sets of weights, and a geometric mean that is an expression."""
    result = steelyard(
        "weights",
        PUBLISHED / "technology-achievement.yaml",
        PUBLISHED / "data" / "technology-23-countries.csv",
        *("--score", "equal", "--score", "hierarchy", "--score", "geometric", "--json"),
    )
    scores = json.loads(result.stdout)["scores"]
    assert list(scores) == ["equal", "hierarchy", "geometric"]
    for name in ("equal", "hierarchy"):
        shares = [part["effective"]["value"] for part in scores[name]["parts"].values()]
        assert sum(shares) == pytest.approx(1)
    assert "and 4 more share the largest stated weight (12.5 % each)" in scores["equal"]["verdict"][0]


def test_the_verdict_claims_only_what_intervals_carry(demo: dict[str, Any]) -> None:
    """On the laboratory's scores: who is worth more or less than its weight alone, and who leads, are as the intervals say."""
    said = 0
    for score in demo.values():
        parts = {name: (part["squared"], part["effective"]) for name, part in score["parts"].items()}
        for word, there in (
            ("more", {name for name, (alone, one) in parts.items() if one["low"] > alone}),
            ("less", {name for name, (alone, one) in parts.items() if one["high"] < alone}),
        ):
            lines = [line for line in score["verdict"] if line.startswith(f"Worth {word} than with equal spread")]
            assert len(lines) == bool(there)
            assert {name for name in parts if any(f" {name} (" in line for line in lines)} == there
            said += len(there)
        top = max(parts, key=lambda name: parts[name][1]["value"])
        rivals = [name for name in parts if name != top and parts[name][1]["high"] >= parts[top][1]["low"]]
        assert ("more than any other part" in score["verdict"][0]) == (not rivals)
        assert ("is open between" in score["verdict"][0]) == bool(rivals)
    assert said > (5 if is_long() else 1)
