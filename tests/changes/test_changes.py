"""Every difference of two forms is said: values by address, and things added, removed, renamed and taken from elsewhere."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import pytest
from extent import is_long, one_of_each
from test_addresses import EVERY, EXAMPLE, FORMS, RICH, another, kind_of
from test_reader_takes import EDITION, TAKES
from written_forms import HEAD, form_of

from analysis.changes.changes import Change, changes
from scoring.addresses.addresses import read, set_address, set_addresses, written
from scoring.curves import KINDS
from scoring.form import Curve, Expression, Form
from scoring.reader import read_form, read_sources

ROOT = Path(__file__).resolve().parents[2]
PUBLISHED = sorted((ROOT / "formulas" / "published").glob("*.yaml"))
GUEST_BED = EXAMPLE.sources[0].text
RATINGS = """\
ratings:
  a: {measure: x, curve: {points: {1: 1, 9: 9}}}
  b: {measure: y, curve: {points: {1: 1, 9: 8}}}
scores:
  s: {label: Sum, weights: {a: 3, b: 1}, limits: [{when: a < 2, at_most: 5}]}
"""


def edited(text: str, *swaps: tuple[str, str]) -> tuple[Change, ...]:
    """The changes that replacing stretches of a text makes; each stretch has to be there."""
    new = text
    for before, after in swaps:
        assert before in new
        new = new.replace(before, after)
    return changes(form_of(text), form_of(new))


def in_short(found: tuple[Change, ...]) -> list[tuple[str, str, str, str]]:
    """Changes without their lines."""
    return [(change.kind, change.at, change.before, change.after) for change in found]


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ("scores.two_abed.weights.quiet=0.26", "Two Abed: weight of quiet 0.20 -> 0.26 (20 % -> 24.5 %)"),
        ("ratings.quiet.curve.line.worst=48", "Quiet: anchor `worst` of noise_dba 46 -> 48 dB"),
        ("ratings.stillness.mix.settle_s.weight=0.65", "Stillness: weight of settle_s 0.35 -> 0.65 (35 % -> 50 %)"),
        ("ratings.quiet.curve.outside=error", "Quiet: outside the anchors of noise_dba held -> error"),
        ("ratings.quiet.curve={log: {worst: 46, best: 22}}", "Quiet: curve of noise_dba {line: {worst: 46, best: 22}} -> {log: {worst: 46, best: 22}}"),
        ("ratings.firm_fit.curve.target.within=0.5", "Firmness fit: curve's `within` of hardness_n_mm 0.0 -> 0.5 N/mm"),
        ("scores.two_abed.blend=geometric mean", "Two Abed: blend weighted mean -> geometric mean"),
        ("scores.two_abed.limits.1.at_most=4.5", "Two Abed: limit `stillness < 3.0`, at most 5.0 -> 4.5 points"),
        ("scores.two_abed.limits.1.when.1=3.5", "Two Abed: the number in the condition of limit 1, `stillness < 3.0`: 3.0 -> 3.5 points"),
        ("scores.two_abed.limits.2.apply=never", "Two Abed: limit 2 applied always -> never"),
        ("scores.two_abed.missing.absent_above=0.3", "Two Abed: share that may be missing 0.2 -> 0.3"),
        ("scores.two_abed.missing.otherwise=lowest", "Two Abed: where parts are missing reweight -> lowest"),
        ("measures.noise_dba.repeatability=1.5", "measure noise_dba: repeatability 1.2 -> 1.5 dB"),
        ("measures.settle_s.repeatability=12", "measure settle_s: repeatability 10% -> 12%"),
        ("measures.noise_dba.repeatability.kind=pooled", "measure noise_dba: repeatability 1.2 -> pooled"),
        ("measures.noise_dba.reporting_limit=23", "measure noise_dba: reporting limit 22.0 -> 23.0 dB"),
        ("measures.noise_dba.below_limit=half", "measure noise_dba: a reading below the reporting limit counts as limit -> half"),
        ("measures.noise_dba.plausible.to=80", "measure noise_dba: plausible to 75 -> 80 dB"),
        ("measures.edge_ratio.plausible.to=2", "measure edge_ratio: plausible to 1.8 -> 2.0"),
        ("bands.strong=7.25", "band `strong`: lower edge 7.00 -> 7.25 points"),
        ("bands_on=unrounded", "bands: figures they stand on shown -> unrounded"),
        ("scale.from=0", "scale: low end 1 -> 0 points"),
        ("scale.show.step=0.5", "scale: what is shown, its rounding step 0.1 -> 0.5 points"),
        ("ranks.ties=dense", "ranks: ties shared-best -> dense"),
        ("gates.emissions.guard=2", "gate `emissions`: guard 1.645 -> 2.000 u"),
        ("gates.emissions.when.1=0.8", "gate `emissions`: the number in the condition, `tvoc_mg_m3 > 1.0`: 1.0 -> 0.8 mg/m3"),
    ],
)  # fmt: skip
def test_a_value_is_said_in_words(setting: str, says: str) -> None:
    """Weights with their shares of the whole old and new sum, anchors in the measure's unit, the rest in a plain phrase."""
    (change,) = changes(EXAMPLE, set_addresses(EXAMPLE, [setting]))
    assert (change.kind, change.says) == ("value", says)


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ("constants.k=3", "constant k 2 -> 3"),
        ("ratings.formula.value.3=3", "Formula: number 3 in the expression, `min(10, 1 + 2 * k) - clamp( x*0.25 ,0, 2.5)`: 2 -> 3"),
        ("ratings.block.curve.points.2.at=13", "Block: anchor 2 of y, rated 7, 12.5 -> 13.0 mm"),
        ("ratings.block.curve.points.2.gives=8", "Block: rating at anchor 2 of y, 12.5 mm, 7 -> 8 points"),
        ("ratings.block.round.step=0.5", "Block: its rounding step 0.1 -> 0.5 points"),
        ("scores.power.exponent=2", "Power: exponent of the blend 0.5 -> 2.0"),
        ("scores.own.scale.to=50", "Own: its scale: high end 100 -> 50 points"),
        ("ratings.z_score.curve.reference.sd=6", "Z score: reference sd of w 5 -> 6 mm"),
        ("ratings.z_score.curve.z.per_sd=3", "Z score: curve's `per_sd` of w 2 -> 3 points"),
    ],
)  # fmt: skip
def test_a_value_of_the_rich_form_is_said_in_words(setting: str, says: str) -> None:
    """Constants, numbers of expressions, anchors, scales and references."""
    (change,) = changes(FORMS["rich"], set_addresses(FORMS["rich"], [setting]))
    assert (change.kind, change.says) == ("value", says)


#: One address in six, those of the rich form first; but in a long run, one of each kind of thing.
SET_BACK = one_of_each(sorted(EVERY[::6], key=lambda one: one[0] != "rich"), lambda one: kind_of(one)[1:])


@pytest.mark.parametrize(("form", "address"), SET_BACK, ids=[f"{form}:{address}" for form, address in SET_BACK])
def test_a_setting_is_one_change_that_can_be_set_back(form: str, address: str) -> None:
    """Also `missing.otherwise`, on which a default hangs, and a repeatability that becomes pooled."""
    old = FORMS[form]
    new = set_address(old, address, another(read(old, address)))
    (change,) = changes(old, new)
    if address.endswith(".kind"):
        assert (change.kind, change.at) == ("value", address.removesuffix(".kind"))
        assert (change.before, change.after) == (written(old, read(old, change.at)), another(read(old, address)))
        return
    assert (change.kind, change.at) == ("value", address)
    assert (change.before, change.after) == (written(old, read(old, address)), written(new, read(new, address)))
    assert changes(old, set_address(new, change.at, change.before)) == ()
    assert changes(new, set_address(old, change.at, change.after)) == ()


@pytest.mark.parametrize("form", [EXAMPLE, FORMS["rich"], *map(read_form, PUBLISHED)], ids=lambda form: form.name)
def test_a_form_does_not_differ_from_itself_read_again(form: Form) -> None:
    """All formulas that are kept here."""
    assert changes(form, read_sources(form.sources)) == ()


@pytest.mark.parametrize(
    "swap",
    [
        ("0.2, edge: 0.18", "0.20, edge: .180"),
        ("scores:\n", "scores:   # said otherwise\n\n"),
        ("{stillness: 0.26, quiet: 0.2,", "{quiet: 0.2, stillness: 0.26,"),
        ("repeatability: 10%", "repeatability: 10.0 %"),
        ("needs: [quiet, stillness]", "needs: [stillness, quiet]"),
        ("values: [on_file, pending, none]", "values: [none, pending, on_file]"),
        ("when: stillness < 3.0", "when: stillness<3"),
        ("{when: stillness < 3.0, at_most: 5.0}\n      - {when: quiet < 2.5, at_most: 5.5}", "{when: quiet < 2.5, at_most: 5.5}\n      - {when: stillness < 3.0, at_most: 5.0}"),
    ],
    ids=["spelling", "comment", "order of weights", "share", "order of needs", "order of words", "spaces", "limits of one sense"],
)  # fmt: skip
def test_what_means_the_same_is_no_change(swap: tuple[str, str]) -> None:
    """Comments, layout, spelling of numbers, order of parts."""
    assert edited(GUEST_BED, swap) == ()


def test_parts_of_one_source_are_matched_by_what_they_hold() -> None:
    """Their order does not count; a part that is new is the one that is not there before."""
    one, two = "{measure: x, curve: {points: {1: 1, 9: 9}}}", "{measure: x, weight: 2, curve: {points: {1: 1, 5: 9}}}"
    text = HEAD + f"ratings:\n  m: {{mix: [{one}, {two}]}}\n"
    assert edited(text, (f"[{one}, {two}]", f"[{two}, {one}]")) == ()
    (change,) = edited(text, (f"[{one}, {two}]", f"[{two}]"))
    assert (change.kind, change.at, change.before, change.after) == ("rewired", "ratings.m.mix.x", one, "")
    assert change.says == "M: takes x no longer, weight was 1 (33.3 %)"


def test_equal_parts_and_weights_of_one_are_the_same() -> None:
    """`parts: [a, b]` is short for weights of 1 each."""
    assert (
        edited(HEAD + RATINGS.replace("{a: 3, b: 1}", "{a: 1, b: 1}"), ("weights: {a: 1, b: 1}", "parts: [a, b]")) == ()
    )


@pytest.mark.parametrize(
    ("swap", "expected"),
    [
        (("a: 3, b: 1", "a: 3"), ("rewired", "scores.s.weights.b", "1", "")),
        (("scores:\n", "  c: {value: x}\nscores:\n"), ("added", "ratings.c", "", "{value: x}")),
        (("{measure: x, curve", "{measure: z, curve"), ("rewired", "ratings.a", "x", "z")),
        (("{measure: x, curve: {points: {1: 1, 9: 9}}}", "{value: x}"), ("rewired", "ratings.a", "{measure: x, curve: {points: {1: 1, 9: 9}}}", "{value: x}")),
        (("when: a < 2", "when: b < 2"), ("rewired", "scores.s.limits.1.when", "a < 2", "b < 2")),
        (("{when: a < 2, at_most: 5}", "{when: b < 3, at_most: 4}, {when: a < 2, at_most: 5}"), ("rewired", "scores.s.limits.1", "", "{when: b < 3, at_most: 4}")),
        (("at_most: 5", "at_least: 5"), ("rewired", "scores.s.limits.1", "{when: a < 2, at_most: 5}", "{when: a < 2, at_least: 5}")),
        (("limits: [{when: a < 2, at_most: 5}]", "limits: []"), ("rewired", "scores.s.limits.1", "{when: a < 2, at_most: 5}", "")),
        (("{when:", "{name: soft, when:"), ("renamed", "scores.s.limits.soft", "1", "soft")),
        (("label: Sum", "label: Sum, neutral: true"), ("rewired", "scores.s", "false", "true")),
        (("label: Sum", "label: Sum, missing: {needs: [a]}"), ("rewired", "scores.s", "", "[a]")),
        (("label: Sum", "label: Sum, round: {step: 0.5}"), ("rewired", "scores.s.round", "", "{step: 0.5}")),
        (("label: Sum", "label: Sum, scale: {from: 0, to: 10}"), ("rewired", "scores.s.scale", "", "{from: 0, to: 10}")),
        (("label: Sum", "label: Total"), ("said", "scores.s", "Sum", "Total")),
        (("label: Sum", "label: Sum, note: of two"), ("said", "scores.s", "", "of two")),
        (('x: {unit: "1"}', "x: {unit: mm}"), ("rewired", "measures.x", "1", "mm")),
        (('x: {unit: "1"}', 'x: {unit: "1", plausible: [0, 9]}'), ("rewired", "measures.x.plausible", "", "[0, 9]")),
        (('x: {unit: "1"}', 'x: {unit: "1", repeatability: 5%}'), ("rewired", "measures.x.repeatability", "", "5%")),
        (('x: {unit: "1"}', 'x: {unit: "1", reporting_limit: 2}'), ("rewired", "measures.x.reporting_limit", "", "2")),
        (('z: {unit: "1"}\n', 'z: {unit: "1"}\n  w: {unit: mm}\n'), ("added", "measures.w", "", "{unit: mm}")),
        (("from: 1, to: 10", "from: 1"), ("rewired", "scale.to", "10", "")),
        (("formula: trial", "formula: other"), ("said", "formula", "trial", "other")),
        (("formula: trial", "formula: trial\ntitle: A try"), ("said", "title", "trial", "A try")),
        (("formula: trial", "formula: trial\ncautions: [none of it is real]"), ("said", "cautions", "", "none of it is real")),
        (("formula: trial", "formula: trial\nchecklist: {back_to_the_data: {waived: no time}}"), ("said", "checklist.back_to_the_data", "", "no time")),
        (("formula: trial", "formula: trial\nconstants: {k: 2}"), ("added", "constants.k", "", "2")),
        (("formula: trial", "formula: trial\nbands: {good: 5}"), ("added", "bands.good", "", "5")),
    ],
    ids=lambda value: "" if isinstance(value[0], str) and value[0] in ("rewired", "added", "said", "renamed") else value[1][:40],
)  # fmt: skip
def test_what_has_no_address_in_one_or_both_forms_is_one_change(
    swap: tuple[str, str], expected: tuple[str, str, str, str]
) -> None:
    """With what stood there and what stands there; the same back to front."""
    text = HEAD + RATINGS
    assert in_short(edited(text, swap)) == [expected]
    back = changes(form_of(text.replace(*swap)), form_of(text))
    kind = {"added": "removed"}.get(expected[0], expected[0])
    assert [(change.kind, change.before, change.after) for change in back] == [(kind, expected[3], expected[2])]


@pytest.mark.parametrize(
    ("swap", "expected"),
    [
        (("withhold: emissions above the limit", "withhold: too much"), ("rewired", "gates.emissions", "emissions above the limit", "too much")),
        (("missing: emissions not assessed", "scores: [two_abed]\n    missing: emissions not assessed"), ("rewired", "gates.emissions", "", "[two_abed]")),
        (("    guard: 1.645 u\n", ""), ("rewired", "gates.emissions.guard", "1.645", "")),
        (("values: [on_file, pending, none]", "values: [on_file, pending, none, lost]"), ("rewired", "attributes.fire_evidence", "[on_file, pending, none]", "[on_file, pending, none, lost]")),
        (("strong: 7,", "stout: 7,"), ("renamed", "bands.stout", "strong", "stout")),
        (("name: emissions ", "name: vapours "), ("renamed", "gates.vapours", "emissions", "vapours")),
        (("noise_dba", "noise_level"), ("renamed", "measures.noise_level", "noise_dba", "noise_level")),
        (("fire_evidence", "fire_papers"), ("renamed", "attributes.fire_papers", "fire_evidence", "fire_papers")),
    ],
    ids=["withhold", "scores", "guard", "words", "band", "gate", "measure", "attribute"],
)  # fmt: skip
def test_gates_attributes_and_names_are_one_change(swap: tuple[str, str], expected: tuple[str, str, str, str]) -> None:
    """What refers to a thing under its new name is no further change."""
    text = GUEST_BED.replace("name: no_fire_evidence", "name: no_proof").replace(
        "name: fire_evidence_pending", "name: wait"
    )
    assert in_short(edited(text, swap)) == [expected]


def test_a_renamed_rating_rewires_nothing() -> None:
    """Weights, needs, limits and the rating's own addresses go with it; a value that changed beside it is one more change."""
    swaps = [("  quiet:\n    label: Quiet", "  silence:\n    label: Silence"), ("quiet: 0", "silence: 0")]
    swaps += [("needs: [quiet,", "needs: [silence,"), ("quiet < 2.5", "silence < 2.5")]
    (change,) = edited(GUEST_BED, *swaps)
    assert change == Change("renamed", "ratings.silence", "rating Quiet (`quiet`) is now called Silence (`silence`)", "quiet", "silence")  # fmt: skip
    found = edited(GUEST_BED, *swaps, ("silence: 0.2,", "silence: 0.26,"), ("silence < 2.5", "silence < 3"))
    assert in_short(found)[1:] == [
        ("value", "scores.two_abed.weights.silence", "0.2", "0.26"),
        ("value", "scores.two_abed.limits.2.when.1", "2.5", "3"),
    ]
    assert found[1].says == "Two Abed: weight of silence 0.20 -> 0.26 (20 % -> 24.5 %)"


def test_a_chain_of_renamed_things_is_followed() -> None:
    """The measure, the rating that reads it, the rating that takes that, the constant and the score over them."""
    head = HEAD.replace("  x: {", "  x: {better: higher, ")
    old = (
        head
        + "ratings:\n  a: {value: x * 2}\n  b: {mix: [{rating: a}]}\nscores:\n  s: {value: b + k}\nconstants: {k: 3}\n"
    )
    new = head.replace("  x: {", "  u: {label: U, ")
    new += "ratings:\n  p: {value: u * 2}\n  q: {mix: [{rating: p}]}\nscores:\n  t: {value: q + m}\nconstants: {m: 3}\n"
    found = changes(form_of(old), form_of(new))
    assert {change.kind for change in found} == {"renamed"}
    assert [(change.before, change.after) for change in found] == [("k", "m"), ("x", "u"), ("a", "p"), ("b", "q"), ("s", "t")]  # fmt: skip


def test_two_candidates_are_no_renaming() -> None:
    """Which of the two it would be is not known."""
    found = edited(HEAD + RATINGS, ('  z: {unit: "1"}\n', '  v: {unit: "1"}\n  w: {unit: "1"}\n'))
    assert in_short(found) == [
        ("added", "measures.v", "", "{unit: \"1\"}"),
        ("added", "measures.w", "", "{unit: \"1\"}"),
        ("removed", "measures.z", "{unit: \"1\"}", ""),
    ]  # fmt: skip


def test_a_word_that_is_also_a_name_is_not_renamed() -> None:
    """In `fire == x` the x is a word; and `mean(mean)` is a function of a measure."""
    text = (
        HEAD.replace("  x:", "  mean:")
        + "attributes: {fire: {}}\nratings:\n  r: {value: 'where(fire == mean, mean(mean), mean)'}\n"
    )
    new = text.replace("  mean: {unit", "  other: {unit").replace("mean(mean), mean)", "mean(other), other)")
    assert in_short(changes(form_of(text), form_of(new))) == [("renamed", "measures.other", "mean", "other")]


def test_limits_of_two_senses_in_another_order_are_rewired() -> None:
    """At most 5 and then at least 6 is another figure than at least 6 and then at most 5."""
    limits = "{when: a < 2, at_most: 5}", "{when: b < 2, at_least: 6}"
    text = (HEAD + RATINGS).replace(limits[0], ", ".join(limits))
    (change,) = edited(text, (", ".join(limits), ", ".join(limits[::-1])))
    assert (change.kind, change.at) == ("rewired", "scores.s")
    assert change.says == "Sum: limits at most and at least in another order"


def test_unnamed_gates_keep_their_own_when_one_is_put_before_them() -> None:
    """One gate is added, at the first place; the others moved on."""
    gates = "gates:\n- {when: x > 1, withhold: far}\n- {when: y > 1, remark: y}\n"
    found = edited(HEAD + RATINGS + gates, ("gates:\n", "gates:\n- {when: z > 1, withhold: off}\n"))
    assert in_short(found) == [("added", "gates.1", "", "{when: z > 1, withhold: off}")]


def test_a_reference_of_another_make_is_one_change() -> None:
    """Live, by figures, or by members: its numbers are not said one by one."""
    old, frozen = ", reference: {mean: 30, sd: 5}", ", reference: {values: [1, 2, 3]}"
    for swap, texts in ((("", "live")), (frozen, "{values: [1, 2, 3]}")):
        (change,) = edited(RICH, (old, swap))
        at = "ratings.z_score.curve.reference"
        assert in_short((change,)) == [("rewired", at, "{mean: 30, sd: 5}", texts)]


def test_a_share_and_a_deviation_of_the_same_number_differ() -> None:
    """5% of the reading is not 0.05 mm."""
    (change,) = edited(RICH, ("repeatability: 5%", "repeatability: 0.05"))
    assert in_short((change,)) == [("value", "measures.x.repeatability", "5%", "0.05")]
    assert change.says == "measure x: repeatability 5% -> 0.05 mm"


def test_what_is_taken_from_a_neighbour_is_said() -> None:
    """Another file, or the same things written out; their values are compared as ever."""
    old = form_of(TAKES, EDITION)
    assert changes(old, form_of(TAKES, EDITION)) == ()
    other = changes(old, form_of(TAKES.replace("edition-7", "edition-8"), EDITION.replace("best: 10", "best: 11")))
    assert [(c.kind, c.at) for c in other] == [("rewired", "takes"), ("value", "ratings.edge.curve.line.best")]
    own = EDITION.replace("edition-7", "trial").split("scores:")[0] + TAKES.split("\n", 2)[2]
    (change,) = changes(old, form_of(own))
    assert (change.kind, change.at, change.after) == ("rewired", "takes", "")


def test_a_label_of_several_lines_is_said_in_one() -> None:
    """A line of a report is a line."""
    (change,) = edited(HEAD + RATINGS.replace("label: Sum", 'label: "Sum\\nof two"'), ("a: 3,", "a: 1,"))
    assert change.says == "Sum of two: weight of a 3 -> 1 (75 % -> 50 %)"


def test_changes_stand_in_a_settled_order() -> None:
    """Things, then values in the order of the new form, then words."""
    swaps = [("  y: {", "  v: {better: lower, "), ("measure: y", "measure: v"), ("a: 3, b: 1", "a: 2, b: 2")]
    swaps += [("label: Sum", "label: Total, neutral: true"), ("from: 1,", "from: 0,"), ("9: 8", "9: 7")]
    found = edited(HEAD + RATINGS, *swaps)
    assert [(change.kind, change.at) for change in found] == [
        ("added", "measures.v"),
        ("removed", "measures.y"),
        ("rewired", "ratings.b"),
        ("rewired", "scores.s"),
        ("value", "scale.from"),
        ("value", "ratings.b.curve.points.2.gives"),
        ("value", "scores.s.weights.a"),
        ("value", "scores.s.weights.b"),
        ("said", "scores.s"),
    ]


#: Fields that say where something stands or how it is spelt, and what follows from others.
SILENT = {"address", "place", "spot", "text", "sources", "sha256", "options", "section", "names", "is_condition"}


def leaves(noun: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The way to every word, number and flag inside a noun that says something."""
    if isinstance(noun, tuple):
        return [way for index, item in enumerate(noun) for way in leaves(item, (*path, index))]
    if is_dataclass(noun):
        names = [field.name for field in fields(noun) if field.name not in SILENT]
        return [way for name in names for way in leaves(getattr(noun, name), (*path, name))]
    return [] if noun is None or "term" in path else [path]


def altered(noun: object, path: tuple[str | int, ...]) -> object:
    """The noun with another leaf at the end of a way."""
    if not path:
        if noun in KINDS:
            return next(kind for kind in KINDS if kind != noun)
        return not noun if isinstance(noun, bool) else noun + 1 if isinstance(noun, float) else f"{noun}_other"
    inner = noun[path[0]] if isinstance(noun, tuple) else getattr(noun, path[0])
    new = altered(inner, path[1:])
    if isinstance(noun, tuple):
        return (*noun[: path[0]], new, *noun[path[0] + 1 :])
    return replace(noun, **{path[0]: new})


def says_something(way: tuple[str | int, ...]) -> bool:
    """Whether a leaf is one of its own: no name of a curve's number, nothing that an output has from the form, and nothing
    of an error that follows from the key under which its figure stands."""
    named = len(way) > 2 and way[-3] in ("numbers", "choices", "figures") and way[-1] == 0
    if way[-1] == "is_half_width" or "distribution" in way:
        return False
    return not named and not (way[0] in ("ratings", "scores") and way[2] in ("scale", "ranks", "bands"))


def field_of(way: tuple[str | int, ...]) -> tuple[str, ...]:
    """The field that a way leads to, in whichever of its nouns: its own name, and that of the field that holds the noun."""
    return tuple(step for step in way if isinstance(step, str))[-2:]


def ways_of(form: str) -> list[tuple[str | int, ...]]:
    """The way to every leaf of a form that says something of its own."""
    return [way for way in leaves(FORMS[form]) if says_something(way)]


def ways_tried(form: str) -> list[tuple[str | int, ...]]:
    """Many of every field in a long run; otherwise one of each, and of the example those that the rich form does not have."""
    ways = ways_of(form)
    if is_long():
        return ways[:: 3 if form == "guest-bed" else 2]
    known = {field_of(way) for way in ways_of("rich")} if form != "rich" else set()
    return list(one_of_each([way for way in ways if field_of(way) not in known], field_of))


@pytest.mark.parametrize("form", FORMS)
def test_no_field_of_a_form_is_overlooked(form: str) -> None:
    """Every field of the nouns of two forms, altered in place, whatever comes of it, is a change."""
    assert len(ways_of(form)) > 300
    for way in ways_tried(form):
        assert changes(FORMS[form], altered(FORMS[form], way)) != (), way


def test_the_kinds_of_setting_cover_curves_and_expressions() -> None:
    """So that what is set back above is of all sorts."""
    kinds = {type(read(FORMS[form], address)) for form, address in SET_BACK}
    assert {Curve, Expression} <= kinds
