"""Reading a formula: what stands in it, what is filled in, and how each kind of figure may be written."""

from __future__ import annotations

from pathlib import Path

import pytest
from written_forms import HEAD, curve_form, faults_of, form_of

from scoring.curves import KINDS
from scoring.errors import FormulaError
from scoring.reader import read_form, read_sources
from scoring.reader.curve import SHAPE
from scoring.texts.source import Source

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "laboratory" / "guest-bed.yaml"
PLAIN = HEAD + "ratings:\n  r: {measure: x, curve: {line: {worst: 1, best: 2}}}\n"


def test_the_invented_laboratorys_formula_is_read_whole() -> None:
    """Fourteen measures, nine ratings, five scores, three gates; its own words kept."""
    form = read_form(EXAMPLE)
    assert (form.name, form.version) == ("guest-bed", "1.0.0")
    assert [len(part) for part in (form.measures, form.ratings, form.scores, form.gates, form.cautions)] == [
        14,
        9,
        5,
        3,
        5,
    ]
    assert [band.name for band in form.bands] == ["weak", "fair", "sound", "strong", "outstanding"]
    assert form.scores[0].missing.needs == ("quiet", "stillness")


def test_what_is_not_written_is_filled_in() -> None:
    """The scale from 1 to 10 in tenths, half-up; ranks unrounded, shared-best, highest; bands on what is shown."""
    form = form_of(PLAIN.replace("scale: {from: 1, to: 10}\n", ""))
    scale, measure, rating = form.scale, form.measures[0], form.ratings[0]
    assert scale.high is not None
    assert (scale.low.value, scale.high.value, scale.show.step.value, scale.show.rule.value) == (1, 10, 0.1, "half-up")
    assert [c.value for c in (form.ranks.on, form.ranks.ties, form.ranks.best)] == [
        "unrounded",
        "shared-best",
        "highest",
    ]
    assert form.bands_on.value == "shown"
    assert [c.value for c in (measure.better, measure.repeats, measure.below_limit)] == ["unstated", "mean", "limit"]
    assert (rating.missing.absent_above.value, rating.missing.otherwise.value) == (0.0, "reweight")
    assert (form.title, rating.label, measure.label) == ("trial", "R", "x")


@pytest.mark.parametrize(
    ("scale", "low", "high", "step"),
    [
        ("{from: 0, to: 100}", 0, 100, 0.1),
        ("{to: 5}", 1, 5, 0.1),
        ("{from: 0}", 0, None, 0.1),
        ("{from: -3, to: 3, show: {step: 1}}", -3, 3, 1),
        ("{show: {step: 0.5, rule: down}}", 1, 10, 0.5),
    ],
)
def test_a_scale_is_closed_or_open_at_the_top(scale: str, low: float, high: float | None, step: float) -> None:
    """`from` without `to` opens it; what is not said is 1 to 10 in tenths."""
    text = PLAIN.replace("{from: 1, to: 10}", scale).replace("line: {worst: 1, best: 2}", "points: {1: 1, 2: 2}")
    found = form_of(text).scale
    assert (found.low.value, found.high and found.high.value, found.show.step.value) == (low, high, step)


def test_an_output_may_have_a_scale_of_its_own_and_inherits_the_rest() -> None:
    """The step of the form's scale is shown for it, too."""
    text = PLAIN.replace("{from: 1, to: 10}", "{from: 1, to: 10, show: {step: 0.25}}").replace(
        "r: {", "r: {scale: {from: 0, to: 100}, "
    )
    scale = form_of(text).ratings[0].scale
    assert scale.high is not None
    assert (scale.low.value, scale.high.value, scale.show.step.value) == (0, 100, 0.25)


@pytest.mark.parametrize(
    ("written", "value"),
    [("4", 4.0), ("4.", 4.0), (".5", 0.5), ("-4.50", -4.5), ("+4", 4.0), ("1e3", 1000.0), ("1.5E-2", 0.015), ("0", 0.0), ("0.10", 0.1)],
)  # fmt: skip
def test_a_number_is_read_as_it_is_written(written: str, value: float) -> None:
    """1e3 is a thousand here, though YAML 1.1 readers take it for a word."""
    number = form_of(PLAIN.replace("worst: 1,", f"worst: {written},")).ratings[0].parts[0].curve
    assert number is not None
    assert (number.number("worst").value, number.number("worst").text) == (value, written)


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("no", "`no`; expected a number"),
        ("off", "`off`; expected a number"),
        ("~", "`~`; expected a number"),
        ("1_000", "Write the digits without underscores."),
        ("12:30", "Write times and ratios as plain numbers"),
        ("010", "Drop the leading zeros."),
        ("00", "Drop the leading zeros."),
        ("0x1F", "`0x1F`; expected a number"),
        ("0o17", "`0o17`; expected a number"),
        ('"5"', "Write it without quotes."),
        ('"2,5"', "Write it without quotes."),
        ("5%", "`5%`; expected a number"),
        (".inf", "`.inf`; expected a number"),
        (".nan", "`.nan`; expected a number"),
        ("1e16", "`1e16`; expected a plain number"),
        ("1e999", "`1e999`; expected a plain number"),
        ("٣", "`٣`; expected a number"),
        ("", "nothing; expected a number"),
        ("[1]", "a list; expected a number"),
        ("{a: 1}", "a mapping of keys; expected a number"),
        ("1 2", "`1 2`; expected a number"),
        ("1" * 31, "expected a plain number"),
    ],
)
def test_what_is_no_plain_number_is_refused_with_a_hint(written: str, says: str) -> None:
    """Each means something else to one YAML reader or another."""
    text = (
        HEAD + f"ratings:\n  r:\n    measure: x\n    curve:\n      line:\n        best: 2\n        worst: {written}\n"
    )
    said = faults_of(text)
    assert len(said) == 1
    assert "form.yaml:" in said[0]
    assert says in said[0]


def test_a_decimal_comma_is_named() -> None:
    """As a laboratory on the continent would write it."""
    text = HEAD + "ratings:\n  r:\n    measure: x\n    curve:\n      line:\n        best: 2\n        worst: 2,5\n"
    assert faults_of(text) == [
        "form.yaml:13:16: `2,5`; expected a number for ratings.r.curve.line.worst. Write a decimal point, not a comma."
    ]


@pytest.mark.parametrize(
    ("written", "kind", "amount"),
    [("0.2", "absolute", 0.2), ("5%", "relative", 0.05), ("7 %", "relative", 0.07), ("pooled", "pooled", None),
     ("pooled relative", "pooled relative", None)],
)  # fmt: skip
def test_repeatability_is_a_deviation_a_share_or_pooled(written: str, kind: str, amount: float | None) -> None:
    """7% is the 0.07 nearest to its decimal, not 7 * 0.01."""
    found = (
        form_of(PLAIN.replace('x: {unit: "1"}', f'x: {{unit: "1", repeatability: {written}}}'))
        .measures[0]
        .repeatability
    )
    assert found is not None
    assert (found.kind.value, found.amount and found.amount.value) == (kind, amount)


@pytest.mark.parametrize("key", ["plausible", "repeatability", "reporting_limit"])
def test_null_says_that_nothing_is_meant(key: str) -> None:
    """As one writes it to show that it was not forgotten."""
    measure = form_of(PLAIN.replace('x: {unit: "1"}', f'x: {{unit: "1", {key}: null}}')).measures[0]
    assert (measure.plausible, measure.repeatability, measure.reporting_limit) == (None, None, None)


@pytest.mark.parametrize(
    ("written", "says"),
    [("[]", "0 numbers"), ("[1]", "1 number for"), ("[1, 2, 3]", "3 numbers"), ("5", "`5`; expected a list"), ("[2, 1]", "the lesser number first"),
     ("[1, 1]", "the lesser number first")],
)  # fmt: skip
def test_a_plausible_range_is_two_numbers_in_order(written: str, says: str) -> None:
    """An empty list is no range, either."""
    (said,) = faults_of(PLAIN.replace('x: {unit: "1"}', f'x: {{unit: "1", plausible: {written}}}'))
    assert says in said


@pytest.mark.parametrize(("written", "flag"), [("true", True), ("false", False)])
def test_a_flag_is_true_or_false(written: str, flag: bool) -> None:
    """A neutral rating says that not every 10 is better."""
    assert form_of(PLAIN.replace("r: {", f"r: {{neutral: {written}, ")).ratings[0].neutral is flag


@pytest.mark.parametrize("written", ["yes", "no", "on", "1", '"true"', "True", "[true]"])
def test_other_words_for_true_and_false_are_refused(written: str) -> None:
    """YAML 1.1 would take some of them, readers differ."""
    (said,) = faults_of(PLAIN.replace("r: {", f"r: {{neutral: {written}, "))
    assert "expected true or false" in said


CURVES = {
    "line": "line: {worst: 1, best: 2}",
    "points": "points: {1: 2, 3: 4}",
    "smooth": "smooth: {1: 2, 3: 4}",
    "steps": "steps: {1: 2, 3: 4}",
    "logistic": "logistic: {middle: 1, spread: 2}",
    "power": "power: {worst: 1, best: 2, exponent: 0.5}",
    "log": "log: {worst: 1, best: 2}",
    "target": "target: {low: 1, best: 2, high: 3}",
    "standing": "standing: {better: lower}",
    "z": "z: {centre: 5, per_sd: 2}",
    "minmax": "minmax: {better: lower}",
    "ratio": "ratio: {better: lower}",
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_curve_is_read_with_its_numbers_and_choices(kind: str) -> None:
    """By the table of kinds itself, so that a new kind is tested."""
    curve = form_of(curve_form(CURVES[kind])).ratings[0].parts[0].curve
    assert curve is not None
    assert curve.kind == kind
    assert [name for name, _ in curve.numbers] == [key.name for key in KINDS[kind].numbers]
    outside = ["outside"] if KINDS[kind].outside else []
    assert [name for name, _ in curve.choices] == [*(key.name for key in KINDS[kind].choices), *outside]
    assert len(curve.anchors) == (2 if KINDS[kind].anchored else 0)


@pytest.mark.parametrize("kind", KINDS)
def test_a_curve_on_a_scale_without_a_top_is_refused_where_it_needs_one(kind: str) -> None:
    """Points, smooth, steps and z say their ratings themselves; `frozen` is written after the kinds that need it."""
    said = faults_of(curve_form(CURVES[kind], scale="{from: 0}"))
    assert bool(said) is KINDS[kind].needs_top
    assert all(f"a {kind} curve on a scale without a top" in one for one in said)


@pytest.mark.parametrize(
    ("curve", "says"),
    [
        ("line: {worst: 1, best: 1}", "`worst` and `best` both 1; expected two different anchors"),
        ("log: {worst: 1, best: 1.0}", "`worst` and `best` both 1; expected two different anchors"),
        ("log: {worst: 0, best: 1}", "`worst: 0`; expected a number above 0 for log"),
        ("power: {worst: 1, best: 2, exponent: 0}", "`exponent: 0`; expected a number above 0 for power"),
        ("logistic: {middle: 1, spread: -1}", "`spread: -1`; expected a number above 0 for logistic"),
        ("target: {low: 1, best: 5, high: 4}", "expected low < best - within and best + within < high"),
        ("target: {low: 1, best: 2, high: 4, within: 1}", "expected low < best - within and best + within < high"),
        ("target: {low: 1, best: 2, high: 4, within: -1}", "`within: -1`; expected 0 or more"),
        ("points: {1: 2}", "1 anchor in ratings.r.curve.points; expected two or more"),
        ("points: {}", "0 anchors in ratings.r.curve.points; expected two or more"),
        ("points: {3: 2, 1: 4}", "the anchor 1 after 3; expected anchors in rising order"),
        ("points: {1: 2, 1.0: 4}", "the anchor 1.0 after 1; expected anchors in rising order"),
        ("points: [1, 2]", "a list; expected anchors `measure: rating`"),
        ("points: {a: 2, 1: 4}", "`a`; expected a number for ratings.r.curve.points.1.at"),
        ("steps: {'<=8': 3, 20: 2}", "Write the reading that each step begins at: it holds from there up to the next, as in"),
        ("steps: {≤8: 3, ≤20: 2}", "`≤20`; expected a number for ratings.r.curve.steps.2.at. Write the reading that each step"),
        ("points: {'< 8': 3, 20: 2}", "Write the reading alone."),
        ("steps: {1: 2, 3: 4}, outside: extended", "`extended` for ratings.r.curve.outside; expected one of held, error"),
        ("logistic: {middle: 1, spread: 2}, outside: held", "`outside` in a logistic curve; expected no such key"),
        ("line: {worst: 1, best: 2}, reference: live", "`reference` in a line curve; expected no such key"),
        ("z: {centre: 5, per_sd: 2}, reference: {mean: 3}", "a frozen reference without `sd`"),
        ("z: {centre: 5, per_sd: 2}, reference: {mean: 3, sd: 0}", "sd 0; expected a standard deviation above 0"),
        ("z: {centre: 5, per_sd: 2}, reference: {values: [3]}", "a reference without two different values"),
        ("minmax: {}, reference: {values: [3, 3.0]}", "a reference without two different values"),
        ("minmax: {}, reference: {least: 3, greatest: 3}", "least 3 and greatest 3; expected `greatest` above `least`"),
        ("minmax: {}, reference: {least: 3}", "a frozen reference without `greatest`"),
        ("standing: {better: lower}, reference: {mean: 3}", "a frozen reference without `values`"),
        ("line: {worst: 1, best: 2}, log: {worst: 1, best: 2}", "several kinds of curve: line, log"),
        ("lines: {worst: 1, best: 2}", "the key `lines` in ratings.r.curve; expected a known key. Did you mean `line`?"),
        ("outside: held", "no kind of curve in ratings.r.curve"),
        ("line: 5", "`5`; expected a line curve as a mapping of keys"),
        ("line: {worst: 1}", "no `best` in ratings.r.curve.line; expected `best: ...`"),
        ("logistic: {middle: 1, spread: 2, better: up}", "`up` for ratings.r.curve.logistic.better; expected one of higher, lower"),
    ],
)  # fmt: skip
def test_a_curve_that_cannot_be_is_refused(curve: str, says: str) -> None:
    """Each fault of each kind; the place is in the line of the curve."""
    said = faults_of(curve_form(curve))
    assert any(says in one for one in said)
    assert all(one.startswith("form.yaml:5:") for one in said)


def test_every_key_of_a_curve_has_its_test() -> None:
    """The kinds, and the two that stand beside them."""
    assert set(CURVES) | {"outside", "reference"} == set(SHAPE.keys)


@pytest.mark.parametrize(
    ("rating", "says"),
    [
        ("{label: hm}", "no value in ratings.r; expected one of `measure` with `curve`, `mix`, or `value`"),
        ("{value: x, measure: x, curve: {line: {worst: 1, best: 2}}}", "several ways to a value (measure, value) in ratings.r"),
        ("{value: x, curve: {line: {worst: 1, best: 2}}}", "`curve` without `measure` in ratings.r"),
        ("{value: x, blend: minimum}", "`blend` without parts in ratings.r"),
        ("{measure: x}", "no `curve` in ratings.r"),
        ("{measure: q, curve: {line: {worst: 1, best: 2}}}", "`q`; expected the name of a measure"),
        ("{measure: r, curve: {line: {worst: 1, best: 2}}}", "`r`, which is a rating; expected the name of a measure"),
        ("{mix: []}", "no weight above 0 in ratings.r"),
        ("{mix: [{measure: x, weight: 0, curve: {line: {worst: 1, best: 2}}}]}", "no weight above 0 in ratings.r"),
        ("{mix: [{measure: x, weight: -1, curve: {line: {worst: 1, best: 2}}}]}", "-1 for ratings.r.mix.x.weight; expected a number at least 0"),
        ("{mix: [{weight: 1}]}", "no measure, rating or score in ratings.r.mix.1; expected one of them"),
        ("{mix: [{measure: x, rating: r}]}", "measure and rating in ratings.r.mix.1; expected one of them"),
        ("{mix: {measure: x}}", "a mapping of keys; expected a list of parts"),
        ("{mix: [{measure: x, curve: {line: {worst: 1, best: 2}}}], blend: average}", "`average` for ratings.r.blend; expected one of weighted mean"),
        ("{mix: [{measure: x, curve: {line: {worst: 1, best: 2}}}], blend: power mean}", "no `exponent` in ratings.r"),
        ("{mix: [{measure: x, curve: {line: {worst: 1, best: 2}}}], blend: power mean, exponent: 0}", "exponent 0 in ratings.r"),
        ("{mix: [{measure: x, curve: {line: {worst: 1, best: 2}}}], blend: power mean, exponent: 65}", "a number at least -64 and at most 64"),
        ("{value: [x]}", "a list; expected an expression for ratings.r.value. Put it in quotes."),
        ("{value: x, round: 0}", "`0`; expected a rounding as a mapping of keys. As in `{step: 0.5, rule: half-up}`."),
        ("{mix: {x: 2}}", "weights by name; expected a list of parts for ratings.r.mix. As in `mix: [{measure: x, weight: 2, curve:"),
        ("{value: x, round: {step: 0}}", "0 for ratings.r.round.step; expected a number above 0"),
        ("{value: x, round: {rule: up}}", "no `step` in ratings.r.round"),
        ("{value: x, missing: {needs: [w]}}", "`w` in ratings.r.missing.needs; expected a part of this output"),
        ("{value: x, missing: {absent_above: 2}}", "2 for ratings.r.missing.absent_above; expected a number at least 0 and at most 1"),
        ("{value: x, missing: {otherwise: zero}}", "`zero` for ratings.r.missing.otherwise; expected one of reweight, lowest"),
        ("{value: x, limits: {when: x < 1, at_most: 5}}", "a mapping of keys; expected a list of limits"),
        ("{value: x, limits: [{when: x < 1}]}", "expected one of at_most and at_least, and one of when and on"),
        ("{value: x, limits: [{when: x < 1, on: x, at_most: 5}]}", "expected one of at_most and at_least, and one of when and on"),
        ("{value: x, limits: [{when: x < 1, at_most: 5, at_least: 5}]}", "expected one of at_most and at_least, and one of when and on"),
        ("{value: x, limits: [{on: x, at_most: 5}]}", "`5`; expected a curve as a mapping of keys"),
        ("{value: x, limits: [{when: x < 1, at_most: {points: {1: 1, 2: 2}}}]}", "a mapping of keys; expected a number for ratings.r.limits.1.at_most"),
        ("{value: x, limits: [{name: a, when: x < 1, at_most: 5}, {name: a, when: x > 2, at_most: 7}]}", "the name `a` again in ratings.r.limits.2"),
        ("{value: x, limits: [{when: x < 1, at_most: 5}, {name: 1, when: x > 2, at_most: 7}]}", "the name `1` again in ratings.r.limits.2"),
        ("{value: x, limits: [{name: a=b, when: x < 1, at_most: 5}]}", "the name `a=b` in ratings.r.limits.1; expected a name without `=`"),
        ("{value: x, limits: [{name: 1.when, when: x < 1, at_most: 5}, {when: x < 1, at_most: 3}, {name: 2.when, when: x < 1, at_most: 5}]}", ""),
        ("{value: x, weights: {r: 1}}", "the key `weights` in ratings.r; expected a known key"),
        ("{value: x, scale: {from: 5, to: 5}}", "a scale from 5 to 5; expected `to` above `from`"),
        ("5", "`5`; expected a rating as a mapping of keys"),
    ],
)  # fmt: skip
def test_a_rating_that_cannot_be_is_refused(rating: str, says: str) -> None:
    """Each with its address; the last limits show that odd names do no harm."""
    said = faults_of(f"{HEAD}ratings:\n  r: {rating}\n")
    assert any(says in one for one in said) if says else not said


@pytest.mark.parametrize(
    ("score", "says"),
    [
        ("{weights: {}}", "no weight above 0 in scores.s"),
        ("{weights: {r: 0}}", "no weight above 0 in scores.s"),
        (
            "{weights: [r]}",
            "a list under weights; expected `weights: {rating: weight, ...}`. For equal weights write `parts: [r]`",
        ),
        (
            "{weights: {x: 1}}",
            "`x`, which is a measure; expected the name of a rating or score. Make a rating of it first, as in"
            " `x_rating: {measure: x, curve: {line: {worst: 46, best: 22}}}` under `ratings`, and name that.",
        ),
        ("{weights: {rr: 1, r: 1}}", "`rr`; expected the name of a rating or score"),
        ("{weights: {r: heavy}}", "`heavy`; expected a number for scores.s.weights.r"),
        ("{}", "no value in scores.s; expected one of `weights`, `parts`, or `value`"),
        ("{mix: []}", "the key `mix` in scores.s; expected a known key"),
    ],
)
def test_a_score_that_cannot_be_is_refused(score: str, says: str) -> None:
    """Weights are over ratings and scores."""
    said = faults_of(f"{PLAIN}scores:\n  s: {score}\n")
    assert any(says in one for one in said)


@pytest.mark.parametrize(
    ("gate", "says"),
    [
        ("{withhold: why}", "no `when` in gates.1"),
        ("{when: x < 1}", "a gate that does nothing (gates.1)"),
        ("{when: x, withhold: why}", "a number; expected a condition"),
        (
            "{when: x < 1, withhold: why, guard: 2}",
            "a guard without its unit; expected a number of standard uncertainties",
        ),
        ("{when: x < 1, withhold: why, guard: '2 u', near: n}", "a guard without its unit"),
        ("{when: x < 1, withhold: why, guard: 0 u, near: n}", "0 for gates.1.guard; expected a number above 0"),
        ("{when: x < 1, withhold: why, guard: 2 u}", "`guard` without `near` in gates.1"),
        (
            "{when: x < y, withhold: why, guard: 2 u, near: n}",
            "`guard` in gates.1; expected a condition on one measure",
        ),
        (
            "{when: r < 5, withhold: why, guard: 2 u, near: n}",
            "`guard` in gates.1; expected a condition on one measure",
        ),
        (
            "{when: x > mean(x), withhold: why, guard: 2 u, near: n}",
            "expected a condition without statistics of the catalogue",
        ),
        ("{when: x < 1, withhold: why, scores: [w]}", "`w` in gates.1.scores; expected a score. Known: s."),
        ("{when: x < 1, withhold: why}, {name: 1, when: x > 1, withhold: why}", "the name `1` again in gates.2"),
        (
            "{name: g, when: x < 1, withhold: why}, {name: g, when: x > 1, withhold: why}",
            "the name `g` again in gates.2",
        ),
        ("{name: a=b, when: x < 1, withhold: why}", "the name `a=b` in gates.1; expected a name without `=`"),
    ],
)
def test_a_gate_that_cannot_be_is_refused(gate: str, says: str) -> None:
    """Two gates of one name would be one gate."""
    said = faults_of(f"{PLAIN}scores:\n  s: {{weights: {{r: 1}}}}\ngates: [{gate}]\n")
    assert any(says in one for one in said)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("constants: {k: 2}\nscores: {k: {weights: {r: 1}}}\n", "the name `k` for a score and a constant"),
        ("attributes: {x: {}}\n", "the name `x` for a measure and an attribute"),
        (
            "scores: {r: {weights: {r: 1}}}\n",
            "the name `r` for a score and a rating; expected a name that means one thing",
        ),
        ("scores: {x: {weights: {r: 1}}}\n", "the name `x` for a score and a measure"),
        ("scores: {2nd: {weights: {r: 1}}}\n", "the name `2nd`; expected letters, digits and _, not a digit first"),
        ("scores: {a-b: {weights: {r: 1}}}\n", "the name `a-b`; expected letters, digits and _, not a digit first"),
        ("constants: {c: two}\n", "`two`; expected a number for constants.c"),
        ("bands: {good: 5, fair: 5}\n", "the bands `good` and `fair` both from 5"),
        ("bands: {a=b: 5}\n", "the name `a=b` of a band; expected a name without `=`"),
        ("bands: [5]\n", "a list; expected bands as a mapping of keys"),
        ("ranks: {ties: random}\n", "`random` for ranks.ties; expected one of shared-best, shared-mean, dense"),
        ("weights: {r: 1}\n", "the key `weights` in the formula; expected a known key"),
        ("mesures: {w: {unit: mm}}\n", "Did you mean `measures`?"),
        ("cautions: take care\n", "`take care`; expected a list of words"),
        ("checklist: {normalization: {waived: no}}\n", "Did you mean `normalisation`?"),
        ("checklist: {normalisation: no}\n", "`no`; expected a step of the checklist as a mapping of keys"),
        ("checklist: {normalisation: {}}\n", "no `waived` in checklist.normalisation"),
        ("checklist: {normalisation: {waived: '  '}}\n", "expected why the step is waived, in words"),
        ("title: [a]\n", "a list; expected text of at most 2000 characters for title"),
        (f"title: {'a' * 2001}\n", "a long text; expected text of at most 2000 characters for title"),
    ],
)
def test_a_section_that_cannot_be_is_refused(lines: str, says: str) -> None:
    """Names mean one thing, and keys are known ones."""
    said = faults_of(PLAIN + lines)
    assert len(said) == 1
    assert says in said[0]


def test_a_formula_needs_a_name_measures_their_unit_and_something_to_rate() -> None:
    """All in one run."""
    said = faults_of("title: hm\nmeasures: {x: {label: hm}}\n")
    assert said == [
        "form.yaml:1:1: no `formula` in the formula; expected `formula: ...`. Its first line names it, as in `formula: beds`.",
        "form.yaml:2:15: no `unit` in measures.x; expected `unit: ...`. As in `unit: mm`; a plain number has `unit: 1`.",
    ]
    assert faults_of(HEAD) == ["form.yaml:1:1: neither ratings nor scores; expected at least one of them."]
    assert faults_of("[a, b]\n") == [
        "form.yaml:1:1: a list; expected a formula as a mapping of keys. As in `formula: NAME`."
    ]


TEN_FAULTS = """\
formula: trial
scale: {from: 1, to: ten}
mesures: {}
measures:
  x: {unit: "1", plausible: [5, 2]}
  y: {unit: "1", better: down}
ratings:
  edge:
    measure: z
    curve: {line: {worst: 1, best: 2}}
  quiet: {measure: x, curve: {points: {3: 1, 2: 5}}}
  calm: {value: "x + sqroot(y)"}
scores:
  s:
    weights: {edge: -1, quiet: 2}
    limits: [{when: quiet << 2, at_most: 5}]
gates:
  - {when: x > 1_000, withhold: why}
"""


def test_ten_planted_faults_are_all_reported_in_one_run_each_with_line_and_column() -> None:
    """In the order of the text. `edge` still counts as a rating, so that its own fault brings no second one."""
    said = faults_of(TEN_FAULTS)
    assert [one.split(": ", 1)[0] for one in said] == [
        f"form.yaml:{place}"
        for place in ("2:22", "3:1", "5:30", "6:26", "9:14", "11:46", "12:22", "15:21", "16:28", "18:16")
    ]
    planted = ("`ten`", "`mesures`", "[5, 2]", "`down`", "`z`", "anchor 2 after 3", "`sqroot`", "-1", "`<`", "`1_000`")
    assert all(word in one for word, one in zip(planted, said, strict=True))


def test_a_fault_in_one_output_hides_none_in_another() -> None:
    """Reading goes on after each."""
    many = "".join(f"  r{i}: {{measure: x, curve: {{line: {{worst: a{i}, best: 2}}}}}}\n" for i in range(150))
    assert len(faults_of(f"{HEAD}ratings:\n{many}")) == 150


def test_reading_stops_at_200_faults() -> None:
    """A hostile text could have a hundred thousand, each with its search for a near name."""
    many = "".join(f"  r{i}: {{measure: x, curve: {{line: {{worst: a{i}, best: 2}}}}}}\n" for i in range(999))
    assert len(faults_of(f"{HEAD}ratings:\n{many}")) == 200


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["unix", "dos"])
@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["plain", "marked"])
def test_a_file_is_read_whatever_its_line_ends_and_byte_order_mark(ends: str, mark: str, tmp_path: Path) -> None:
    """As editors on other systems leave it."""
    path = tmp_path / "form.yaml"
    path.write_bytes((mark + PLAIN.replace("\n", ends)).encode())
    assert read_form(path).ratings[0].name == "r"


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"formula: \xff\n", "the byte 0xff, which is not UTF-8"), (b"", "an empty file"), (b"\x00", r"1:1: the control character U\+0000"), (b"a" * 2_000_001, "2 000 001 bytes, and at most 2 000 000 are read")],
    ids=["latin", "empty", "nul", "big"],
)  # fmt: skip
def test_bytes_that_are_no_formula_are_refused(content: bytes, says: str, tmp_path: Path) -> None:
    """With the file's name."""
    path = tmp_path / "form.yaml"
    path.write_bytes(content)
    with pytest.raises(FormulaError, match=says) as caught:
        read_form(path)
    assert str(caught.value).startswith(str(path))


def test_a_file_that_is_not_there_or_is_a_folder_is_refused(tmp_path: Path) -> None:
    """In the system's own words."""
    with pytest.raises(FormulaError, match=r"absent\.yaml: No such file"):
        read_form(tmp_path / "absent.yaml")
    with pytest.raises(FormulaError, match="a folder, where a file belongs"):
        read_form(tmp_path)


def test_the_hash_counts_the_texts_and_not_the_names_of_the_files() -> None:
    """One space more is another formula; another folder is not."""
    first, renamed = (read_sources([Source(name, PLAIN)]).sha256 for name in ("a.yaml", "b.yaml"))
    assert first == renamed != form_of(PLAIN + " ").sha256


def test_parts_that_take_one_measure_twice_have_addresses_of_their_own() -> None:
    """Also where another measure happens to be called what the second would be."""
    parts = ", ".join(
        f"{{measure: {m}, weight: {w}, curve: {{line: {{worst: 0, best: 9}}}}}}"
        for m, w in (("x", 1), ("x", 2), ("x_2", 3))
    )
    text = HEAD.replace("y: {", "x_2: {") + f"ratings:\n  r: {{mix: [{parts}]}}\n"
    assert [
        (part.source, part.address, part.weight and part.weight.value) for part in form_of(text).ratings[0].parts
    ] == [
        ("x", "ratings.r.mix.x", 1.0),
        ("x", "ratings.r.mix.x_2", 2.0),
        ("x_2", "ratings.r.mix.x_2_2", 3.0),
    ]


def test_a_waived_step_is_read_with_its_reason() -> None:
    """In the order of the steps, each with its reason; none where nothing is written."""
    assert form_of(PLAIN).checklist == ()
    waived = "checklist:\n  visualisation_of_the_results: {waived: a table will do}\n  normalisation: {waived: 'one: unit'}\n"
    steps = [(waiver.step, waiver.reason) for waiver in form_of(PLAIN + waived).checklist]
    assert steps == [("normalisation", "one: unit"), ("visualisation_of_the_results", "a table will do")]


def test_a_mix_written_as_weights_is_one_fault_with_the_part_as_it_is_written() -> None:
    """Of a rating by that name; nothing is said of weights that are none above 0."""
    text = PLAIN.replace("  r: {", "  q: {mix: {r: 2}}\n  r: {")
    (said,) = faults_of(text)
    assert "As in `mix: [{rating: r, weight: 2}, ...]`." in said
