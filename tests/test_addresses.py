"""Addresses: every number and choice can be read and set, alone, in the text, without disturbing what stands around it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from extent import one_of_each, some
from written_forms import HEAD, form_of

from scoring.addresses.addresses import (
    Edit,
    addressed,
    addresses,
    difference,
    read,
    set_address,
    set_addresses,
    set_together,
    written,
)
from scoring.errors import AddressError
from scoring.form import Choice, Curve, ErrorComponent, Expression, Form, Number
from scoring.reader import read_form, read_sources
from scoring.texts.rewriting import write_value

EXAMPLE = read_form(Path(__file__).resolve().parents[1] / "examples" / "laboratory" / "guest-bed.yaml")
#: Everything that a form can hold, in blocks, in braces and by default, with comments in odd places.
RICH = """\
# before everything
formula: rich   # its name
version: 2.0.0
constants: {k: 2, "q": -0.5}   # two
attributes: {fire: {values: [none, ok]}}
ranks: {on: shown}
bands: {very good: 8, fair: 4}
measures:
  x: {unit: mm, repeatability: 5%, plausible: [0, 50]}   # a share
  y: {unit: mm, repeatability: 7 %, trim: 0.2, round: {step: 0.5}}
  z:
    # what comes first
    unit: mm
    repeatability: 0.2   # a deviation
  w: {unit: mm, repeatability: pooled, between_sessions: 4%, between_specimens: none, systematic: 0.3}
  v: {unit: dB, reporting_limit: 20, below_limit: half}
  u:
    unit: mm
    repeatability:   # from a pilot
      standard_deviation: 0.2
      degrees_of_freedom: 12.5   # not whole
    between_sessions: {standard_deviation: 3 %}
    between_specimens: pooled relative
    systematic: {half_width: 2%, distribution: triangular}
  t: {unit: mm, repeatability: 1, between_sessions: 2, systematic: {standard_uncertainty: 0.2, degrees_of_freedom: 8}}
error_correlations:
  run: {measures: [u, t], component: between_sessions, coefficient: -0.3}
ratings:
  line: {measure: x, curve: {line: {worst: 0, best: 50}}}
  log: {measure: x, curve: {log: {worst: 1, best: 50}, outside: extended}}
  block:
    measure: y
    curve:   # written out
      points:
        0: 10   # the best

        # between
        12.5: 7
        40: 1
    # after the curve
    label: Block
    round: {step: 0.1}
  smooth: {measure: y, curve: {smooth: {0: 10, 20: 6, 40: 1}}}
  steps: {measure: y, curve: {steps: {0: 1, 20: 5, 40: 9}}}
  logistic: {measure: z, curve: {logistic: {middle: 35, spread: 3, better: lower}}}
  bent: {measure: z, curve: {power: {worst: 0, best: 100, exponent: 2}}}
  target: {measure: z, curve: {target: {low: 1, best: 5, high: 9}}}
  standing: {measure: w, curve: {standing: {}}}
  z_score: {measure: w, curve: {z: {centre: 5, per_sd: 2}, reference: {mean: 30, sd: 5}}}
  minmax: {measure: w, curve: {minmax: {better: lower}, reference: {values: [1, 2, 3]}}}
  ratio: {measure: v, curve: {ratio: {}}}
  mixed:
    mix:
    - {measure: x, weight: 2, curve: {line: {worst: 0, best: 50}}}
    -  measure: y
       curve: {line: {worst: 0, best: 50}}
    - {rating: line}
    missing:
      needs: [x]
  formula: {value: "min(10, 1 + 2 * k) - clamp( x*0.25 ,0, 2.5)"}   # spaces as they are
  quoted: {value: 'where(fire == "ok" and x < 3, 8, 3)'}
  folded:
    value: >-
      where(x > 5,
            8, 3)
  piped:
    value: |
      -2 * x
      + 3

  last: {value: '- x + 12'}
scores:
  mean: {weights: {line: 0.5, block: 0.3, smooth: 0.2}, limits: [{when: line < 4, at_most: 6}, {name: soft, on: block, at_most: {points: {1: 5, 5: 10}}}]}
  power: {blend: power mean, exponent: 0.5, weights: {mean: 1, line: 2}, round: {step: 0.5, rule: down}, band_limits: [{when: line < 4, no_better_than: fair}, {name: dim, when: fire == none, no_better_than: none}]}
  own: {scale: {from: 0, to: 100, show: {step: 1}}, ranks: {best: lowest}, bands: {far: 50, near: 0}, value: 10 * line}
  plain: {blend: minimum, weights: {mean: 1, block: 1}, bands: none, missing: {absent_above: 0.4, otherwise: lowest}}
  total: {blend: sum, weights: {line: 1, smooth: 2}, scale: {from: 0, to: 30}, missing: {not_applicable: left out}}
gates:
- {name: "voc: total", when: z > 1.0, guard: 1.645 u, withhold: too much, near: near it}
- when: fire == none   # an attribute
  withhold: no evidence
"""


def rich() -> Form:
    """The rich form."""
    return form_of(RICH)


FORMS = {"guest-bed": EXAMPLE, "rich": rich()}
EVERY = [(name, address) for name, form in FORMS.items() for address in addresses(form)]


def kind_of(case: tuple[str, str]) -> tuple[str, type, str]:
    """A form, what stands at an address of it, and the last word of the address."""
    form, address = case
    return form, type(read(FORMS[form], address)), address.rsplit(".", 1)[-1]


#: The rich form, which has everything that can be addressed, whole; of the example one address of each kind.
TRIED = [
    *one_of_each([one for one in EVERY if one[0] == "guest-bed"], kind_of),
    *(one for one in EVERY if one[0] == "rich"),
]


def comments(form: Form) -> list[str]:
    """The comments of a form's own text."""
    return [line.split("#", 1)[1] for line in form.sources[0].text.splitlines() if "#" in line]


def another(noun: object) -> str:
    """Another value that fits an address."""
    match noun:
        case Choice(address=address) if address.endswith(".systematic"):
            return "0.17"  # a figure may stand there, and no other word
        case Choice(address=address, options=options) if address.endswith(".kind"):
            return options[-1]
        case Choice(value=value, options=options):
            return next(option for option in options if option != value)
        case ErrorComponent():
            key = "half_width" if noun.address.endswith("systematic") else "standard_deviation"
            freedom = ", degrees_of_freedom: 5" if noun.freedom is None and key != "half_width" else ""
            return f"{{{key}: 17{'%' * (noun.kind.value == 'absolute')}{freedom}}}"
        case Expression(is_condition=condition):
            text = " ".join(noun.text.split())
            return f"({text}) or 1 > 2" if condition else f"1 * ({text})"
        case Curve(kind=kind):
            return "{steps: {-1: 2, 3.5: 4, 77: 9}}" if kind != "steps" else "{smooth: {-1: 2, 3.5: 4}}"
        case Number(value=value, text=text, address=address):
            if address.endswith(".exponent"):
                return "2.5"
            return f"{(value * 100 if text.endswith('%') else value) * 1.02:.10g}" if value else "0.01"
    raise AssertionError(noun)


@pytest.mark.parametrize("form", FORMS)
def test_no_two_things_share_an_address(form: str) -> None:
    """The program keeps its numbers by address: a second one would count as the first."""
    spots: dict[str, set[object]] = {}
    for noun in addressed(FORMS[form]):
        spots.setdefault(noun.address, set()).add(noun.spot)
    assert [address for address, found in spots.items() if len(found) > 1] == []


def test_the_list_of_addresses_covers_every_kind_of_thing() -> None:
    """Numbers, choices, expressions and curves; each once."""
    listed = addresses(rich())
    assert len(listed) > 200
    assert {type(noun) for noun in listed.values()} == {Number, Choice, Expression, Curve, ErrorComponent}
    assert all(noun.address == address for address, noun in listed.items())


@pytest.mark.parametrize("form", FORMS)
def test_every_address_can_be_set_to_what_stands_there_and_nothing_changes(form: str) -> None:
    """Also defaults that are not written, keys, shares, and numbers inside expressions."""
    for address in [address for name, address in TRIED if name == form]:
        noun = read(FORMS[form], address)
        same = set_address(FORMS[form], address, written(FORMS[form], noun))
        assert difference(FORMS[form], same) == (), address
        assert comments(same) == comments(FORMS[form]) or isinstance(noun, Curve | Expression), address


@pytest.mark.parametrize(("form", "address"), TRIED, ids=[f"{form}:{address}" for form, address in TRIED])
def test_an_address_that_is_set_is_the_one_edit_and_the_rest_of_the_text_stays(form: str, address: str) -> None:
    """Every address of two forms: one edit, at that address; every line that was not replaced is as it was."""
    old = FORMS[form]
    noun = read(old, address)
    value = another(noun)
    new = set_address(old, address, value)
    edit, *others = difference(old, new)
    if address.endswith("missing.otherwise") and others:  # what may be missing by default hangs on it
        edit, *others = sorted((edit, *others), key=lambda one: "absent_above" in one.address)
        assert [(one.address, one.before) for one in others] in (
            [(f"{address.removesuffix('otherwise')}absent_above", b)] for b in "01"
        )
    else:
        assert not others
    if address.endswith(".kind"):  # another kind than a figure's own takes the place of the figure
        assert (edit.address, edit.after) == (address.removesuffix(".kind"), value)
    else:
        assert (edit.address, edit.before) == (address, written(old, noun))
        assert edit.after == written(new, read(new, address)) != edit.before
    before, after = old.sources[0].text.splitlines(), new.sources[0].text.splitlines()
    kept = [line for line in after if line in before]
    assert len(kept) >= len(before) - (
        6
        if isinstance(noun, Curve | ErrorComponent) or address.endswith(".kind")
        else 3
        if isinstance(noun, Expression) or ".value." in address
        else 1
    )


def test_comments_and_layout_stay_in_the_text() -> None:
    """Only the figure changes."""
    new = set_addresses(
        rich(), ["ratings.block.curve.points.2.at=13", "measures.z.repeatability=0.25", "constants.k=3"]
    )
    expected = RICH.replace("12.5: 7", "13: 7").replace("0.2   # a dev", "0.25   # a dev").replace("k: 2, ", "k: 3, ")
    assert new.sources[0].text == expected


def test_windows_line_ends_and_a_byte_order_mark_stay_in_the_text() -> None:
    """Spans are counted in the text as it is."""
    text = "\ufeff" + RICH.replace("\n", "\r\n")
    new = set_addresses(form_of(text), ["ratings.block.curve.points.2.at=13", "scores.mean.weights.block=0.4"])
    assert new.sources[0].text == text.replace("12.5: 7", "13: 7").replace("block: 0.3", "block: 0.4")


@pytest.mark.parametrize(
    ("address", "value", "written_as"),
    [
        ("measures.x.repeatability", "6", "repeatability: 6%,"),
        ("measures.x.repeatability", "6%", "repeatability: 6%,"),
        ("measures.y.repeatability", "6.5", "repeatability: 6.5 %,"),
        ("measures.y.repeatability", "6.5 %", "repeatability: 6.5 %,"),
        ("gates.voc: total.guard", "2", "guard: 2 u,"),
        ("ratings.line.curve.line.best", "-5e1", "best: -5e1}"),
        ("constants.q", ".25", '"q": .25}'),
    ],
)
def test_a_share_and_a_guard_keep_their_signs(address: str, value: str, written_as: str) -> None:
    """5% set to 6 is 6%, and a guard stays in standard uncertainties."""
    new = set_address(rich(), address, value)
    assert written_as in new.sources[0].text
    assert len(difference(rich(), new)) == 1


@pytest.mark.parametrize(
    ("address", "value", "line"),
    [
        ("ratings.formula.value.3", "3", '  formula: {value: "min(10, 1 + 3 * k) - clamp( x*0.25 ,0, 2.5)"}   # spaces as they are'),
        ("ratings.quoted.value.1", "4", '  quoted: {value: "where(fire == \\"ok\\" and x < 4, 8, 3)"}'),
        ("scores.mean.limits.1.when.1", "4.5", "limits: [{when: line < 4.5, at_most: 6}"),
        ("ratings.last.value.1", "11", '  last: {value: "- x + 11"}'),
        ("gates.2.when", 'fire == "none" or x > 40', '- when: "fire == \\"none\\" or x > 40"   # an attribute'),
    ],
    ids=["spaces", "quotes", "bare", "minus", "whole"],
)  # fmt: skip
def test_a_number_inside_an_expression_is_set_inside_it(address: str, value: str, line: str) -> None:
    """Spaces and quotes of the expression are kept; it is quoted anew where it has to be."""
    new = set_address(rich(), address, value)
    assert line in new.sources[0].text
    assert len(difference(rich(), new)) == 1


@pytest.mark.parametrize(
    ("address", "value", "line"),
    [
        ("ranks.ties", "dense", "ranks: {ties: dense, on: shown}"),
        ("scale.from", "0", "scale: {to: 10, from: 0}\nformula: rich"),
        ("scale.show.rule", "down", "scale: {show: {step: 0.1, rule: down}}\nformula: rich"),
        ("measures.x.trim", "0.2", "  x: {trim: 0.2, unit: mm,"),
        ("measures.z.better", "lower", "    better: lower\n    unit: mm"),
        ("ratings.mixed.mix.y.weight", "3", "    -  weight: 3\n       measure: y"),
        ("ratings.mixed.blend", "geometric mean", "    blend: geometric mean\n    mix:"),
        ("ratings.mixed.missing.absent_above", "0.5", "      absent_above: 0.5\n      needs: [x]"),
        ("ratings.line.missing.absent_above", "0.5", "  line: {missing: {absent_above: 0.5}, measure: x,"),
        ("ratings.standing.curve.standing.ties", "lowest", "standing: {ties: lowest}"),
        ("ratings.target.curve.target.within", "0.5", "target: {within: 0.5, low: 1,"),
        ("ratings.block.round.rule", "down", "    round: {rule: down, step: 0.1}"),
        ("scores.mean.limits.soft.apply", "never", "{apply: never, name: soft,"),
        ("scores.own.scale.show.rule", "up", "show: {rule: up, step: 1}"),
        ("bands_on", "unrounded", "bands_on: unrounded\nformula: rich   # its name"),
    ],
)
def test_a_default_that_is_not_written_is_written_where_it_belongs(address: str, value: str, line: str) -> None:
    """In braces, in a block, in a list item, and whole where its own section is not written, either."""
    new = set_address(rich(), address, value)
    assert line in new.sources[0].text
    assert len(difference(rich(), new)) == 1


@pytest.mark.parametrize(
    ("scale", "address", "value", "line"),
    [
        ("{from: 0, to: 20}", "scale.show.step", "0.5", "scale: {show: {step: 0.5}, from: 0, to: 20}"),
        ("{from: 0, to: 20}", "scale.show.rule", "down", "scale: {show: {step: 0.1, rule: down}, from: 0, to: 20}"),
        ("{to: 5}", "scale.from", "0", "scale: {from: 0, to: 5}"),
        ("{show: {step: 0.5}}", "scale.to", "20", "scale: {to: 20, show: {step: 0.5}}"),
        ("{show: {step: 0.5}}", "scale.from", "0", "scale: {to: 10, from: 0, show: {step: 0.5}}"),
        ("{}", "scale.from", "0", "scale: {to: 10, from: 0}"),
        ("\n  show: {step: 0.5}", "scale.from", "0", "scale: \n  to: 10\n  from: 0\n  show: {step: 0.5}"),
    ],
)
def test_what_a_written_scale_leaves_out_is_written_inside_it(scale: str, address: str, value: str, line: str) -> None:
    """Not in a second `scale`; what would open the scale, or needs a step, comes with its companion."""
    form = form_of(
        HEAD.replace("{from: 1, to: 10}", scale) + "ratings:\n  a: {measure: x, curve: {points: {1: 1, 2: 2}}}\n"
    )
    new = set_address(form, address, value)
    assert line in new.sources[0].text
    assert len(difference(form, new)) == 1


def test_a_weight_is_set_alone() -> None:
    """The others keep their numbers; what each is worth in percent is another matter."""
    new = set_address(EXAMPLE, "scores.two_abed.weights.quiet", "0.3")
    assert difference(EXAMPLE, new) == (Edit("scores.two_abed.weights.quiet", "0.2", "0.3"),)
    weights = {part.source: part.weight.value for part in new.scores[0].parts if part.weight}
    assert weights == {"stillness": 0.26, "quiet": 0.3, "edge": 0.18, "cooling": 0.14, "bounce": 0.12, "pressure": 0.1}


@pytest.mark.parametrize("address", ["ratings.block.curve", "ratings.line.curve", "ratings.mixed.mix.y.curve"])
def test_a_curve_is_replaced_whole_by_one_in_braces(address: str) -> None:
    """Written out in a block or in braces; what follows it stays."""
    new = set_address(rich(), address, "{log: {worst: 40, best: 2}, outside: error}")
    curve = read(new, address)
    assert isinstance(curve, Curve)
    assert (curve.kind, curve.number("best").value, curve.choice("outside")) == ("log", 2.0, "error")
    (edit,) = difference(rich(), new)
    assert (edit.address, edit.after) == (address, "{log: {worst: 40, best: 2}, outside: error}")
    assert "    # after the curve\n    label: Block\n" in new.sources[0].text
    assert comments(new)[-2:] == comments(rich())[-2:]


@pytest.mark.parametrize(
    ("setting", "says"),
    [
        ("scores.mean.weights.lin=0.3", "the address `scores.mean.weights.lin`, which names nothing; expected an address of the formula. Did you mean `scores.mean.weights.line`?"),
        ("weights.block=0.3", "Did you mean `scores.mean.weights.block`?"),
        ("nothing.like.it=0.3", "`steelyard check FORMULA --addresses` lists them."),
        ("scores.mean.weights.line", "`scores.mean.weights.line`; expected ADDRESS=VALUE"),
        ("=3", "`=3`; expected ADDRESS=VALUE"),
        ("", "``; expected ADDRESS=VALUE"),
        ("scores.mean.weights.line=", "expected a plain number (it is 0.5 now)"),
        ("scores.mean.weights.line=heavy", "expected a plain number (it is 0.5 now)"),
        ("scores.mean.weights.line=0x10", "expected a plain number"),
        ("scores.mean.weights.line=0.3, block: 0.9", "expected a plain number"),
        ("scores.mean.weights.line=-1", "will not do: -1 for scores.mean.weights.line; expected a number at least 0"),
        ("scores.mean.weights.line=5%", "will not do"),
        ("scores.mean.weights.line=010", "will not do"),
        ("scores.plain.blend=minimal", "`scores.plain.blend=minimal`; expected one of weighted mean, geometric mean, harmonic mean"),
        ("scores.plain.blend=power mean", "will not do: no `exponent` in scores.plain"),
        ("ratings.block.curve.points.2.at=99", "will not do: the anchor 40 after 99"),
        ("ratings.block.curve=steps", "expected a curve in braces"),
        ("ratings.line.curve={line: {worst: 1, best: 2}}, neutral: true", "expected a curve in braces"),
        ("ratings.line.curve={line: {worst: 1, best: 2}", "expected a curve in braces"),
        ("ratings.line.curve={line: {worst: 1, best: 1}}", "will not do: `worst` and `best` both 1"),
        ("ratings.line.curve=", "expected a value in one line"),
        ("ratings.formula.value=x +", "will not do: `+` where it cannot stand"),
        ("ratings.formula.value=a\nb", "expected a value in one line"),
        ("ratings.formula.value=x < 3", "will not do: a condition; expected a number"),
    ],
)  # fmt: skip
def test_a_setting_that_cannot_be_made_is_refused(setting: str, says: str) -> None:
    """With the nearest address, what fits, and why the formula would not be one."""
    with pytest.raises(AddressError, match=r"--set|form\.yaml") as caught:
        set_addresses(rich(), [setting])
    assert says in str(caught.value)


def test_settings_are_made_in_turn() -> None:
    """A choice that is set may bring new addresses, and a later setting of one address wins."""
    new = set_addresses(
        rich(), ["scores.plain.blend=weighted mean", "scores.plain.weights.mean = 4", "scores.plain.weights.mean=5"]
    )
    assert difference(rich(), new) == (
        Edit("scores.plain.blend", "minimum", "weighted mean"),
        Edit("scores.plain.weights.mean", "1", "5"),
    )


def test_an_address_with_spaces_is_set_like_any_other() -> None:
    """Bands, gates and limits may have names of several words."""
    new = set_addresses(rich(), ["bands.very good=8.5", "gates.voc: total.when.1=2"])
    assert [str(edit) for edit in difference(rich(), new)] == [
        "bands.very good: 8 -> 8.5",
        "gates.voc: total.when.1: 1.0 -> 2",
    ]


def test_a_difference_names_what_came_and_what_went() -> None:
    """Parts added and removed; a figure written otherwise is no edit."""
    new = form_of(RICH.replace("line: 0.5, block: 0.3,", "line: 0.50, steps: 1,").replace("trim: 0.2", "trim: 0.20"))
    assert [str(edit) for edit in difference(rich(), new)] == [
        "scores.mean.weights.steps: added, 1",
        "scores.mean.weights.block: removed, was 0.3",
    ]


def test_a_change_is_named_once_at_its_narrowest_address() -> None:
    """A number in an expression, an anchor in a curve; the wider one where the shape changed."""

    def edits(old: str, new: str) -> list[str]:
        assert old in RICH
        return [str(edit) for edit in difference(rich(), form_of(RICH.replace(old, new)))]

    assert edits("1 + 2 * k", "1 + 3 * k") == ["ratings.formula.value.3: 2 -> 3"]
    assert edits("12.5: 7", "13: 7") == ["ratings.block.curve.points.2.at: 12.5 -> 13"]
    assert edits("1 + 2 * k", "1 + 2 / k")[0].startswith("ratings.formula.value: min(10, 1 + 2 * k)")
    assert edits("        12.5: 7\n", "") == [
        "ratings.block.curve: {points: {0: 10, 12.5: 7, 40: 1}} -> {points: {0: 10, 40: 1}}"
    ]


def test_reading_back_a_text_that_was_set_gives_the_same_form() -> None:
    """The new text is a formula file like any other."""
    new = set_address(rich(), "ratings.block.curve.points.2.at", "13")
    again = read_sources(new.sources)
    assert (again, again.sha256) == (new, new.sha256)
    assert new.sha256 != rich().sha256


def test_writing_replaces_the_span_and_nothing_else() -> None:
    """Here a 2 becomes a 7."""
    form = rich()
    noun = read(form, "constants.k")
    (changed,) = write_value(form.sources, noun.spot, "7")
    start, end = noun.spot.start, noun.spot.end
    assert changed.text[:start] + changed.text[start + 1 :] == form.sources[0].text[:start] + form.sources[0].text[end:]
    assert changed.text[start] == "7"


def apart(form: Form, count: int, seed: int) -> dict[str, str]:
    """New values at some addresses that are written at places of their own, none inside another."""
    known = addresses(form)
    picked: dict[str, str] = {}
    for address in np.random.default_rng(seed).permutation(list(known)).tolist():
        spot = known[address].spot
        others = [known[other].spot for other in picked if known[other].spot.source == spot.source]
        clear = all((spot.start >= o.end or spot.end <= o.start) and spot.start != o.start for o in others)
        if clear and ".repeatability" not in address and len(picked) < count:
            picked[address] = another(known[address])
    return picked


@pytest.mark.parametrize("seed", some(range(6), 3))
@pytest.mark.parametrize("form", FORMS)
def test_settings_made_together_are_those_made_one_after_the_other(form: str, seed: int) -> None:
    """Six at a time, of all kinds: the same text to the letter, or, where each in turn is refused, a refusal."""
    settings = apart(FORMS[form], 6, seed)
    try:
        in_turn = set_addresses(FORMS[form], [f"{address}={value}" for address, value in settings.items()])
    except AddressError:
        with pytest.raises(AddressError, match="expected"):
            set_together(FORMS[form], settings)
        return
    together = set_together(FORMS[form], settings)
    assert together.sources[0].text == in_turn.sources[0].text
    assert difference(together, in_turn) == ()
    assert len(difference(FORMS[form], together)) >= len(settings)


def test_settings_made_together_may_only_fit_together() -> None:
    """Both anchors past where the other stood: one by one the first would be refused, at once they are a curve."""
    settings = {"ratings.block.curve.points.2.at": "50", "ratings.block.curve.points.3.at": "60"}
    with pytest.raises(AddressError, match="the anchor 40 after 50"):
        set_addresses(rich(), [f"{address}={value}" for address, value in settings.items()])
    assert [str(edit) for edit in difference(rich(), set_together(rich(), settings))] == [
        "ratings.block.curve.points.2.at: 12.5 -> 50",
        "ratings.block.curve.points.3.at: 40 -> 60",
    ]


def test_a_default_that_is_not_written_is_set_together_with_others_of_its_section() -> None:
    """Both are written before the first key, where neither has a place yet."""
    settings = {
        "ratings.line.missing.absent_above": "0.5",
        "ratings.line.curve.outside": "error",
        "measures.x.trim": "0.2",
    }
    new = set_together(rich(), settings)
    assert {address: written(new, read(new, address)) for address in settings} == settings
    assert len(difference(rich(), new)) == 3


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ({"scores.mean.weights.lin": "0.3"}, "Did you mean `scores.mean.weights.line`?"),
        ({"scores.mean.weights.line": "heavy", "constants.k": "3"}, "expected a plain number"),
        ({"scores.plain.blend": "minimal"}, "expected one of weighted mean, geometric mean"),
        ({"ratings.line.curve.line.best": "0", "constants.k": "3"}, "`worst` and `best` both 0"),
    ],
    ids=["nothing there", "no number", "no option", "no curve"],
)
def test_settings_together_that_cannot_be_made_are_refused(settings: dict[str, str], says: str) -> None:
    """As each would be alone."""
    with pytest.raises(AddressError, match="expected") as caught:
        set_together(rich(), settings)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    "settings",
    [
        {"ratings.line.curve": "{line: {worst: 30, best: 40}}", "ratings.line.curve.line.best": "25"},
        {"ratings.last.value.1": "11", "ratings.last.value": "- x + 13"},
    ],
    ids=["a curve and its number", "an expression and its number"],
)
def test_settings_at_one_place_are_refused_together(settings: dict[str, str]) -> None:
    """They are made one after the other, by `set_addresses`, or not at all; none is lost without a word."""
    with pytest.raises(AddressError, match="expected"):
        set_together(rich(), settings)
