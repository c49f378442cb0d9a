"""Reading a study file: every fault with its place, all of them at once, and any text a study or a refusal."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from counted import calls_of
from extent import examples, is_long
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from written_forms import HEAD, form_of
from written_studies import catalogue_of, draws_of, refusal, shape_faults, small_catalogue, study_of

from analysis.study import Study, load_study
from analysis.study.moves import BootstrapMove, ChoiceMove, LeaveOutMove, NoiseMove, NumberMove, WeightsMove
from analysis.study.reader import MOST_ITEMS, read_study
from scoring.errors import StudyError
from scoring.texts.file_limits import FORMULA_CHARACTERS

FORM = form_of(
    HEAD.replace('z: {unit: "1"}', 'z: {unit: "1", reporting_limit: 2}\n  w: {unit: "1"}').replace(
        "measures:", "constants: {k: 2}\nmeasures:"
    )
    + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 20}}}
  b: {measure: y, curve: {points: {0: 1, 10: 4, 20: 10}}}
  m: {mix: [{measure: x, weight: 0.6, curve: {log: {worst: 40, best: 2}}}, {measure: z, weight: 0.4, curve: {target: {low: 2, best: 9, high: 18, within: 1}}}]}
  e: {value: "clamp(k * x - 3, 1, 10)"}
  f: {measure: w, curve: {line: {worst: 0, best: 20}}}
  g: {measure: x, curve: {minmax: {better: lower}, reference: {least: 1, greatest: 20}}}
scores:
  s: {weights: {a: 0.5, b: 0.3, m: 0.2}, limits: [{when: a < 4, at_most: 6}]}
  t: {blend: minimum, weights: {s: 1, m: 1}}
  p: {blend: power mean, exponent: 2, weights: {a: 1, b: 0}}
  o: {scale: {from: 0, to: 100, show: {step: 1}}, value: 10 * a}
gates: [{when: x > 19, withhold: too much}]
"""
)
CATALOGUE = small_catalogue()
RULES = "one of `factor`, `plus_minus`, `dirichlet`, `simplex`, `between`. At vary.1."
SUBJECTS = "one of `weights`, `anchors`, `address`, `blend`, `limits`, `leave_out`, `readings`, `unread`."
OUTPUTS = "`every score`, `every rating`, or names of scores or ratings."
BEST = "address: ratings.a.curve.line.best"
WEIGHT = "address: scores.s.weights.a"
#: What stands under `vary`, and the one fault that it is: its column in line 3, what was found, expected, and the hint.
ITEMS = {
    "weights without a rule": ("{weights: s}", f"5: no rule beside `weights`; expected {RULES}"),
    "two rules": ("{weights: s, factor: [0.7, 1.3], plus_minus: 0.1}", f"5: `factor` and `plus_minus` beside `weights`; expected {RULES}"),
    "weights of nothing": ("{weights: ss, dirichlet: 9}", f"5: `ss` under vary.1.weights; expected {OUTPUTS} Did you mean `s`?"),
    "weights of an expression": ("{weights: e, dirichlet: 9}", "5: `e`, which has no weights; expected two or more weighted parts."),
    "factors that fall": ("{weights: s, factor: [1.3, 0.7]}", "26: vary.1.factor of 1.3, 0.7; expected rising figures."),
    "one factor": ("{weights: s, factor: [0.7]}", "26: 1 numbers for vary.1.factor; expected 2 in a list."),
    "a factor that is no list": ("{weights: s, factor: 0.7}", "26: `0.7`; expected a list of numbers, each after a `-` or inside [ ]. At vary.1.factor."),
    "a negative factor": ("{weights: s, factor: [-1, 1]}", "27: -1 for vary.1.factor; expected a number at least 0."),
    "a percentage as a text": ("{weights: s, plus_minus: '15%'}", '30: the quoted text "15%"; expected a number for vary.1.plus_minus. Write it without quotes.'),
    "a share of nothing": ("{weights: s, plus_minus: 0}", "30: 0 for vary.1.plus_minus; expected a number above 0 and at most 1."),
    "a negative concentration": ("{weights: s, dirichlet: -3}", "29: -3 for vary.1.dirichlet; expected a number above 0."),
    "another simplex": ("{weights: s, simplex: even}", "27: `even` for vary.1.simplex; expected one of uniform."),
    "an order that leaves one out": ("{weights: s, simplex: uniform, order: [a, b]}", "43: the order a, b; expected `stated`, or every part of s once, heaviest first. They are a, b, m."),
    "an order that names one twice": ("{weights: s, simplex: uniform, order: [a, b, b]}", "43: the order a, b, b; expected `stated`, or every part of s once, heaviest first. They are a, b, m."),
    "an order where none is": ("{weights: s, factor: [0.7, 1.3], order: stated}", "5: `order` beside `weights`; expected only `weights`, `factor`, `group`. At vary.1."),
    "intervals below 1": ("{weights: s, between: {a: [10%, 20%], b: [10%, 20%], m: [10%, 20%]}}", "27: lowest shares that add to 0.3, highest to 0.6; expected room for shares that add to 1."),
    "intervals above 1": ("{weights: s, between: {a: [60%, 80%], b: [50%, 60%]}}", "27: lowest shares that add to 1.1, highest to 2.4; expected room for shares that add to 1."),
    "an interval that falls": ("{weights: s, between: {a: [30%, 20%]}}", "31: 0.3, 0.2 for vary.1.between.a; expected two shares that rise, as [10%, 30%]."),
    "an interval with one end": ("{weights: s, between: {a: [30%]}}", "31: 0.3 for vary.1.between.a; expected two shares that rise, as [10%, 30%]."),
    "an interval of no part": ("{weights: s, between: {c: [0, 1]}}", "28: the key `c` in vary.1.between; expected a known key. Known: a, b, m."),
    "a share above 1": ("{weights: s, between: {a: [0.1, 1.5]}}", "37: 1.5 for vary.1.between.a; expected a number at least 0 and at most 1."),
    "anchors without a distance": ("{anchors: every rating}", "5: no `within` in vary.1; expected `within: ...`."),
    "anchors within a word": ("{anchors: every rating, within: x}", "37: `x`; expected a number for vary.1.within."),
    "anchors within more than all": ("{anchors: every rating, within: 120%}", "37: 120% for vary.1.within; expected a number above 0 and at most 1."),
    "anchors of an expression": ("{anchors: e, within: 5%}", "5: `e`, which has no anchors along a measure; expected a rating or score with such a curve."),
    "anchors where there are none": ("{anchors: every score, within: 5%}", "5: vary.1, which moves nothing; expected something that the formula has."),
    "another every": ("{anchors: every ratings, within: 5%}", f"5: `every ratings` under vary.1.anchors; expected {OUTPUTS} Known: a, b, m, e, f, g, s, t, p, o."),
    "a blend without options": ("{blend: s}", "5: no `choose` in vary.1; expected `choose: ...`."),
    "a blend that is left out": ("{blend: s, choose: [minimum, maximum]}", "5: options at scores.s.blend that leave out the stated one; expected `stated` among them (weighted mean stands there)."),
    "a blend twice": ("{blend: s, choose: [weighted mean, stated]}", "5: 1 different options; expected two or more, each once."),
    "a blend that lacks its exponent": ("{blend: s, choose: [stated, power mean]}", "33: `scores.s.blend=power mean` will not do: no `exponent` in scores.s; expected `exponent: ...`."),
    "a blend of no parts": ("{blend: a, choose: [stated, minimum]}", "5: `a`, which has no blend; expected a rating or score with one."),
    "limits where there are none": ("{limits: t}", "5: `t`, which has no limits that apply; expected a rating or score with limits."),
    "other words for limits": ("{limits: s, choose: [on, never]}", "5: `choose: [on, never]` beside `limits`; expected [on, off]."),
    "the one part left out": ("{leave_out: p}", "5: `p`, of which one part has all the weight; expected two or more parts with a weight above 0."),
    "a part left out of none": ("{leave_out: e}", "5: `e`, which has no weights; expected two or more weighted parts."),
    "readings by another word": ("{readings: bootstraps}", "16: `bootstraps` for vary.1.readings; expected one of repeatability, bootstrap. Did you mean `bootstrap`?"),
    "noise of nothing": ("{readings: repeatability}", "5: no repeatability of any measure; expected a measure with a repeatability, stated or pooled from repeats."),
    "a misspelt address": ("{address: ratings.a.curve.line.bset, uniform: [10, 30]}", "5: the address `ratings.a.curve.line.bset`; expected an address of the formula. Did you mean `ratings.a.curve.line.best`?"),
    "an address and no more": (f"{{{BEST}}}", "5: nothing to say how it varies at ratings.a.curve.line.best; expected one of `uniform`, `normal`, `triangular`, `lognormal`, `choose`."),
    "two distributions": (f"{{{BEST}, uniform: [10, 30], normal: {{sd: 1}}}}", "5: `uniform` and `normal` at ratings.a.curve.line.best; expected one of `uniform`, `normal`, `triangular`, `lognormal`, `choose`."),
    "an anchor that can pass the other": (f"{{{BEST}, uniform: [-5, 30]}}", "5: ratings.a.curve.line.worst up to 0 and ratings.a.curve.line.best from -5; expected ranges that do not meet, so that neither passes the other."),
    "a normal anchor whose tail passes the other": (f"{{{BEST}, normal: {{sd: 5}}}}", "5: ratings.a.curve.line.worst up to 0 and ratings.a.curve.line.best from -3.76712; expected ranges that do not meet, so that neither passes the other."),
    "an anchor that passes the next": ("{address: ratings.b.curve.points.2.at, uniform: [5, 25]}", "5: 25 at ratings.b.curve.points.2.at, which uniform, 5 to 25 can draw: `ratings.b.curve.points.2.at=25` will not do: the anchor 20 after 25; expected anchors in rising order, each once. At ratings.b.curve.points."),
    "a target too near its low end": ("{address: ratings.m.mix.z.curve.target.best, uniform: [2.5, 10]}", "5: 2.5 at ratings.m.mix.z.curve.target.best, which uniform, 2.5 to 10 can draw: `ratings.m.mix.z.curve.target.best=2.5` will not do: low 2, best 2.5, high 18, within 1; expected low < best - within and best + within < high. At ratings.m.mix.z.curve."),
    "a logarithm of 0": ("{address: ratings.m.mix.x.curve.log.best, uniform: [0, 3]}", "5: 0 at ratings.m.mix.x.curve.log.best, which uniform, 0 to 3 can draw: `ratings.m.mix.x.curve.log.best=0` will not do: `best: 0`; expected a number above 0 for log."),
    "the least above the greatest": ("{address: ratings.g.curve.reference.least, uniform: [0, 21]}", "5: 21 at ratings.g.curve.reference.least, which uniform, 0 to 21 can draw: `ratings.g.curve.reference.least=21` will not do: least 21 and greatest 20; expected `greatest` above `least`."),
    "a negative sd": (f"{{{BEST}, normal: {{sd: -5}}}}", "55: -5 for vary.1.normal.sd; expected a number above 0."),
    "a normal that is no mapping": (f"{{{BEST}, normal: 5}}", "50: `5`; expected normal as a mapping of keys."),
    "a triangle out of order": (f"{{{BEST}, triangular: [10, 5, 20]}}", "54: vary.1.triangular of 10, 5, 20; expected rising figures."),
    "a uniform of one figure": (f"{{{BEST}, uniform: [10, 10]}}", "51: vary.1.uniform of 10, 10; expected rising figures."),
    "three ends of a uniform": (f"{{{BEST}, uniform: [10, 20, 30]}}", "51: 3 numbers for vary.1.uniform; expected 2 in a list."),
    "a lognormal that divides": (f"{{{BEST}, lognormal: {{factor: 0.5}}}}", "62: 0.5 for vary.1.lognormal.factor; expected a number above 1 and at most 100."),
    "a lognormal about 0": ("{address: ratings.a.curve.line.worst, lognormal: {factor: 1.5}}", "5: a lognormal about 0 at ratings.a.curve.line.worst; expected a `median` above 0."),
    "a negative weight": (f"{{{WEIGHT}, uniform: [-0.1, 0.6]}}", "5: -0.1 at scores.s.weights.a, which uniform, -0.1 to 0.6 can draw: `scores.s.weights.a=-0.1` will not do: -0.1 for scores.s.weights.a; expected a number at least 0."),
    "a weight whose tail is negative": (f"{{{WEIGHT}, normal: {{sd: 0.15}}}}", "5: -0.213014 at scores.s.weights.a, which normal, mean 0.5, sd 0.15 can draw: `scores.s.weights.a=-0.213013646323` will not do: -0.213013646323 for scores.s.weights.a; expected a number at least 0."),
    "options without the stated one": (f"{{{WEIGHT}, choose: [0.3, 0.4]}}", "5: options at scores.s.weights.a that leave out the stated one; expected `stated` among them (0.5 stands there)."),
    "an option in the middle that will not do": (f"{{{WEIGHT}, choose: [stated, -3, 0.6]}}", "5: -3 at scores.s.weights.a, which one of 0.5 | -3 | 0.6, equal chances can draw: `scores.s.weights.a=-3` will not do: -3 for scores.s.weights.a; expected a number at least 0."),
    "an option that is no number": (f"{{{WEIGHT}, choose: [stated, heavy]}}", "52: `heavy`; expected a number for scores.s.weights.a."),
    "one option, written in two ways": (f"{{{WEIGHT}, choose: [stated, 0.50]}}", "5: 1 different options; expected two or more, each once."),
    "one option": (f"{{{WEIGHT}, choose: [stated]}}", "5: 1 different options; expected two or more, each once."),
    "too many options": (f"{{{WEIGHT}, choose: [stated, {', '.join(str(n) for n in range(100))}]}}", "5: 101 options at scores.s.weights.a; expected at most 100."),
    "chances of wrong number": (f"{{{WEIGHT}, choose: [stated, 0.3], chances: [1, 2, 3]}}", "67: 3 chances for 2 options; expected a chance for each."),
    "a negative chance": (f"{{{WEIGHT}, choose: [stated, 0.3], chances: [1, -2]}}", "71: -2 for vary.1.chances; expected a number above 0."),
    "chances in percent that do not add up": (f"{{{WEIGHT}, choose: [stated, 0.3], chances: [50%, 30%]}}", "67: chances that add up to 80 %; expected 100 %. Without the percent signs they are shares, and need not add up."),
    "options that are no list": (f"{{{WEIGHT}, choose: stated}}", "43: `stated`; expected a list of values to choose among, each after a `-` or inside [ ]. Write `[stated]`. At vary.1.choose."),
    "a curve by a distribution": ("{address: ratings.a.curve, uniform: [0, 3]}", "5: `uniform` at ratings.a.curve, which is no number; expected `choose`, with values to choose among."),
    "a curve that is none": ("{address: ratings.a.curve, choose: [stated, {line: {worst: 1}}]}", "49: `ratings.a.curve={line: {worst: 1}}` will not do: no `best` in ratings.a.curve.line; expected `best: ...`."),
    "an expression that breaks off": ("{address: ratings.e.value, choose: [stated, 'x +']}", "49: `ratings.e.value=x +` will not do: `+` where it cannot stand; expected a complete expression. Something must follow it."),
    "a measure's limit by a distribution": ("{address: measures.z.reporting_limit, uniform: [1, 3]}", "5: `uniform` at measures.z.reporting_limit; expected `choose` at repeats, trim, reporting_limit, below_limit, round.step, round.rule of a measure. `readings: repeatability` is the noise."),
    "a measure without readings": ("{address: measures.w.repeats, choose: [mean, median]}", "5: the address measures.w.repeats; expected a measure that the catalogue has readings of."),
    "a summary of repeats that is none": ("{address: measures.x.repeats, choose: [mean, middle]}", "50: `measures.x.repeats=middle`; expected one of mean, median, trimmed, level mean. Known: mean, median, trimmed, level mean."),
    "what ranks stand on": ("{address: ranks.ties, choose: [shared-best, dense]}", "5: the address ranks.ties; expected something that a score is made of."),
    "what is shown": ("{address: scores.o.scale.show.step, choose: [1, 5]}", "5: the address scores.o.scale.show.step; expected something that a score is made of."),
    "a gate": ("{address: gates.1.when.1, uniform: [18, 20]}", "5: the address gates.1.when.1; expected something that a score is made of."),
    "an exponent beyond bounds": ("{address: scores.p.exponent, uniform: [-70, 2]}", "5: -70 at scores.p.exponent, which uniform, -70 to 2 can draw: `scores.p.exponent=-70` will not do: -70 for scores.p.exponent; expected a number at least -64 and at most 64."),
    "a scale upside down": ("{address: scale.to, uniform: [0, 10]}", "5: 0 at scale.to, which uniform, 0 to 10 can draw: `scale.to=0` will not do: a scale from 1 to 0; expected `to` above `from`."),
    "a figure past all figures": ("{address: constants.k, uniform: [0, 1e16]}", "41: `1e16`; expected a plain number for vary.1.uniform."),
    "a word": ("uniform", "5: `uniform`; expected one thing that varies as a mapping of keys."),
    "a list": ("[a, b]", "5: a list; expected one thing that varies as a mapping of keys."),
    "nothing": ("{}", f"5: nothing in vary.1; expected {SUBJECTS}"),
    "two subjects": ("{weights: s, anchors: a}", f"5: `weights` and `anchors` in vary.1; expected {SUBJECTS}"),
    "a group of nothing": ("{group: judgement}", f"5: nothing in vary.1; expected {SUBJECTS}"),
}  # fmt: skip


@pytest.mark.parametrize("name", ITEMS)
def test_a_faulty_item_is_refused_at_its_place(name: str) -> None:
    """Line and column, what was found, what was expected, what to try; and nothing besides."""
    item, says = ITEMS[name]
    assert refusal(f"study: a\nvary:\n  - {item}\n", FORM, CATALOGUE) == [f"study.yaml:3:{says}"]


#: Items that no formula could take: the printed schema refuses them, too.
OF_SHAPE = {
    "weights without a rule",
    "two rules",
    "one factor",
    "a factor that is no list",
    "a negative factor",
    "a share of nothing",
    "a negative concentration",
    "another simplex",
    "an order that names one twice",
    "an order where none is",
    "an interval with one end",
    "a share above 1",
    "anchors without a distance",
    "anchors within a word",
    "a blend without options",
    "other words for limits",
    "readings by another word",
    "an address and no more",
    "two distributions",
    "a negative sd",
    "a normal that is no mapping",
    "three ends of a uniform",
    "a lognormal that divides",
    "one option",
    "too many options",
    "a negative chance",
    "options that are no list",
    "a word",
    "a list",
    "nothing",
    "two subjects",
    "a group of nothing",
}


@pytest.mark.parametrize("name", ITEMS)
def test_the_schema_refuses_what_is_wrong_whatever_the_formula(name: str) -> None:
    """And nothing else: whether a name is one of the formula is not for it to say."""
    assert bool(shape_faults(f"study: a\nvary:\n  - {ITEMS[name][0]}\n")) == (name in OF_SHAPE)


GOOD = "vary:\n  - {weights: s, factor: [0.7, 1.3]}\n"
#: Whole texts, and their one fault.
TEXTS = {
    "empty": ("", "1:1: an empty file; expected a study. Start with `study: NAME`."),
    "a comment": ("# nothing\n", "1:1: an empty file; expected a study. Start with `study: NAME`."),
    "a list": ("[a, b]\n", "1:1: a list; expected a study as a mapping of keys."),
    "a word": ("study\n", "1:1: `study`; expected a study as a mapping of keys."),
    "no vary": ("study: a\n", "1:1: no `vary` in the study; expected `vary: ...`."),
    "no name": (GOOD, "1:1: no `study` in the study; expected `study: ...`."),
    "empty vary": ("study: a\nvary: []\n", "1:1: a study that varies nothing; expected something under `vary`."),
    "vary nothing": ("study: a\nvary:\n", "3:1: nothing; expected a list of things that vary, each after a `-` or inside [ ]. At vary."),
    "vary one thing": ("study: a\nvary: {weights: s}\n", "2:7: a mapping of keys; expected a list of things that vary, each after a `-` or inside [ ]. Set it in [ ]. At vary."),
    "an unknown key": (f"study: a\nscore: [s]\n{GOOD}", "2:1: the key `score` in the study; expected a known key. Did you mean `scores`?"),
    "another formula": (f"study: a\nformula: guest\n{GOOD}", "2:10: a study of `guest`; expected the formula it is run with, `trial`."),
    "a formula that is no name": (f"study: a\nformula: [x]\n{GOOD}", "2:10: a list; expected text of at most 2000 characters for formula."),
    "no place at the top": (f"study: a\ntop: 0\n{GOOD}", "2:6: 0 for top; expected a number at least 1 and at most 6."),
    "half a place": (f"study: a\ntop: 2.5\n{GOOD}", "2:6: `top: 2.5`; expected a whole number of places."),
    "more places than products": (f"study: a\ntop: 7\n{GOOD}", "2:6: 7 for top; expected a number at least 1 and at most 6."),
    "an unknown score": (f"study: a\nscores: [s, tt]\n{GOOD}", "2:9: `tt` under scores; expected the name of a score or rating. Did you mean `t`?"),
    "one score without brackets": (f"study: a\nscores: s\n{GOOD}", "2:9: `s`; expected a list of words, each after a `-` or inside [ ]. Write `[s]`. At scores."),
    "no score": (f"study: a\nscores: []\n{GOOD}", "2:9: 0 names under scores; expected one or more, each once."),
    "a score twice": (f"study: a\nscores: [s, s]\n{GOOD}", "2:9: 2 names under scores; expected one or more, each once."),
    "an unknown product": (f"study: a\nbeats: [[p1, p22]]\n{GOOD}", "2:9: `p22` under beats; expected a product of the catalogue. Did you mean `p2`?"),
    "one product": (f"study: a\nbeats: [[p1]]\n{GOOD}", "2:9: 1 ids under beats; expected two different products, as [A-01, A-02]."),
    "a product against itself": (f"study: a\nbeats: [[p1, p1]]\n{GOOD}", "2:9: 2 ids under beats; expected two different products, as [A-01, A-02]."),
    "a tab": ("study: a\n\tvary: x\n", "2:1: a tab; expected spaces. Indent and separate with spaces, not tabs."),
    "a duplicate key": (f"study: a\nstudy: b\n{GOOD}", "2:1: the key `study` again (first in line 1); expected each key once. Drop one of the two."),
    "a duplicate key in an item": ("study: a\nvary:\n  - {weights: s, factor: [0.7, 1.3], factor: [0.5, 1]}\n", "3:38: the key `factor` again (first in line 3); expected each key once. Drop one of the two."),
    "an anchor of YAML": (f"study: &x a\n{GOOD}", "1:8: the anchor &x; expected no anchors. Write the value where it is used."),
    "brackets left open": ("study: {a: [\n", "2:1: the end of the file inside `{` or `[`; expected a `}` or `]` for it. Count the braces and brackets of the last lines."),
    "correlations that are no list": (f"study: a\n{GOOD}correlations: {{between: [a, b]}}\n", "4:15: a mapping of keys; expected a list of pairs, each after a `-` or inside [ ]. Set it in [ ]. At correlations."),
}  # fmt: skip


@pytest.mark.parametrize("name", TEXTS)
def test_a_faulty_text_is_refused_at_its_place(name: str) -> None:
    """The study itself, and what is asked of it."""
    text, says = TEXTS[name]
    assert refusal(text, FORM, CATALOGUE) == [f"study.yaml:{says}"]


#: Texts that are no study of any formula and catalogue.
TEXTS_OF_SHAPE = {
    "empty",
    "a comment",
    "a list",
    "a word",
    "no vary",
    "no name",
    "empty vary",
    "vary nothing",
    "vary one thing",
    "an unknown key",
    "a formula that is no name",
    "no place at the top",
    "half a place",
    "one score without brackets",
    "no score",
    "a score twice",
    "one product",
    "a product against itself",
    "correlations that are no list",
}
#: Texts that are no YAML for its readers elsewhere, either.
NO_YAML = {"a tab", "a duplicate key", "a duplicate key in an item", "brackets left open"}


@pytest.mark.parametrize("name", [name for name in TEXTS if name not in NO_YAML])
def test_the_schema_refuses_texts_that_are_no_study_of_anything(name: str) -> None:
    """What is asked of products and scores, it cannot know."""
    assert bool(shape_faults(TEXTS[name][0])) == (name in TEXTS_OF_SHAPE)


ONCE = "expected each thing that varies once. It varies already by study.yaml:3:5."
INSIDE = "which stands inside what varies as a whole; expected something that only the stated option of"
APART = "expected ranges that do not meet, so that neither passes the other."
#: Items one after the other, and what does not go together in them.
TOGETHER = {
    "weights by two rules": ("{weights: t, factor: [0.7, 1.3]}\n{weights: t, plus_minus: 0.1}", [f"4:5: scores.t.weights.m twice under vary; {ONCE}", f"4:5: scores.t.weights.s twice under vary; {ONCE}"]),
    "all weights, and one of them": ("{weights: s, simplex: uniform}\n{address: scores.s.weights.a, uniform: [0.4, 0.6]}", [f"4:5: scores.s.weights.a twice under vary; {ONCE}"]),
    "limits, and one of them": ("{limits: s}\n{address: scores.s.limits.1.apply, choose: [stated, never]}", [f"4:5: scores.s.limits.1.apply twice under vary; {ONCE}"]),
    "anchors, and one of them": ("{anchors: every rating, within: 5%}\n{address: ratings.a.curve.line.best, uniform: [15, 25]}", [f"4:5: ratings.a.curve.line.best twice under vary; {ONCE}"]),
    "an address twice": ("{address: constants.k, uniform: [1, 3]}\n{address: constants.k, choose: [stated, 3]}", [f"4:5: constants.k twice under vary; {ONCE}"]),
    "readings twice": ("{readings: bootstrap}\n{readings: bootstrap}", [f"4:5: readings twice under vary; {ONCE}"]),
    "a part left out twice": ("{leave_out: s}\n{leave_out: [s, t]}", [f"4:5: scores.s.leave_out twice under vary; {ONCE}"]),
    "a choice about what is resampled": ("{readings: bootstrap}\n{address: measures.x.repeats, choose: [mean, median]}", ["4:5: measures.x.repeats beside `readings: bootstrap`; expected `readings: repeatability`, or no choice about readings."]),
    "an anchor of a curve that is chosen": ("{address: ratings.a.curve, choose: [stated, {line: {worst: 0, best: 25}}]}\n{address: ratings.a.curve.line.best, uniform: [15, 25]}", [f"4:5: ratings.a.curve.line.best, {INSIDE} ratings.a.curve has."]),
    "a choice within a curve that is chosen": ("{address: ratings.a.curve, choose: [stated, {log: {worst: 1, best: 25}}]}\n{address: ratings.a.curve.outside, choose: [held, error]}", [f"4:5: ratings.a.curve.outside, {INSIDE} ratings.a.curve has."]),
    "a number of an expression that is chosen": ("{address: ratings.e.value.2, uniform: [0.5, 2]}\n{address: ratings.e.value, choose: [stated, 'clamp(x / 3, 1, 10)']}", [f"3:5: ratings.e.value.2, {INSIDE} ratings.e.value has."]),
    "two anchors that can cross": ("{address: ratings.a.curve.line.best, uniform: [8, 30]}\n{address: ratings.a.curve.line.worst, uniform: [-5, 10]}", [f"3:5: ratings.a.curve.line.worst up to 10 and ratings.a.curve.line.best from 8; {APART}"]),
    "two points that can cross": ("{address: ratings.b.curve.points.2.at, uniform: [5, 18]}\n{address: ratings.b.curve.points.3.at, uniform: [17, 28]}", [f"4:5: ratings.b.curve.points.2.at up to 18 and ratings.b.curve.points.3.at from 17; {APART}"]),
    "a target that can be too narrow": ("{address: ratings.m.mix.z.curve.target.best, uniform: [4, 10]}\n{address: ratings.m.mix.z.curve.target.low, uniform: [0, 3.5]}", ["3:5: numbers of ratings.m.mix.z.curve that can be drawn together: low 3.5, best 4, high 18, within 1; expected low < best - within and best + within < high."]),
    "a scale that can be upside down": ("{address: scale.to, uniform: [5, 10]}\n{address: scale.from, uniform: [0, 6]}", [f"3:5: scale.from up to 6 and scale.to from 5; {APART}"]),
    "a population that can be turned round": ("{address: ratings.g.curve.reference.least, uniform: [0, 10]}\n{address: ratings.g.curve.reference.greatest, uniform: [9, 20]}", [f"4:5: ratings.g.curve.reference.least up to 10 and ratings.g.curve.reference.greatest from 9; {APART}"]),
    "weights that can all be 0": ("{address: scores.t.weights.s, choose: [stated, 0]}\n{address: scores.t.weights.m, choose: [0, stated]}", ["4:5: weights of t that can all be 0 in one draw; expected a weight that is left in every draw."]),
    "shares that go down to 0 and a part left out": ("{weights: s, plus_minus: 40%}\n{leave_out: s}", ["3:5: weights of s that can all be 0 in one draw; expected a weight that is left in every draw."]),
    "a weight of 0 and the other left out": ("{address: scores.t.weights.s, choose: [stated, 0]}\n{leave_out: t}", ["3:5: weights of t that can all be 0 in one draw; expected a weight that is left in every draw."]),
}  # fmt: skip


@pytest.mark.parametrize("name", TOGETHER)
def test_what_does_not_go_together_is_refused(name: str) -> None:
    """At the place of the item that is one too many, or that can move too far."""
    items, says = TOGETHER[name]
    text = "study: a\nvary:\n" + "".join(f"  - {item}\n" for item in items.splitlines())
    assert sorted(refusal(text, FORM, CATALOGUE)) == sorted(f"study.yaml:{one}" for one in says)


def test_every_faulty_correlation_is_refused_at_its_place() -> None:
    """Unknown, of a factor that is no single one, with itself, of one, beyond 1, no list, nothing, twice, no mapping."""
    text = (
        "study: a\nvary:\n  - {weights: s, factor: [0.7, 1.3]}\n  - {weights: t, simplex: uniform}\n"
        "  - {address: constants.k, uniform: [1, 3]}\ncorrelations:\n"
        "  - {between: [constants.j, constants.k], correlation: 0.5}\n"
        "  - {between: [scores.t.weights, constants.k], correlation: 0.5}\n"
        "  - {between: [constants.k, constants.k], correlation: 0.5}\n"
        "  - {between: [constants.k], correlation: 0.5}\n"
        "  - {between: [constants.k, scores.s.weights.a], correlation: 1.5}\n"
        "  - {between: constants.k, correlation: 0.5}\n"
        "  - {correlation: 0.5}\n"
        "  - {between: [constants.k, scores.s.weights.a]}\n"
        "  - {between: [constants.k, scores.s.weights.b], correlation: 0.5}\n"
        "  - {between: [scores.s.weights.b, constants.k], correlation: 0.5}\n"
        "  - 5\n"
    )
    assert refusal(text, FORM, CATALOGUE) == [
        "study.yaml:7:15: `constants.j` under correlations; expected something that varies. Did you mean `constants.k`?",
        "study.yaml:8:15: `scores.t.weights` under correlations; expected a factor that is one number or choice.",
        "study.yaml:9:15: one name twice under between; expected two different things that vary.",
        "study.yaml:10:15: 1 names under between; expected two different things that vary.",
        "study.yaml:11:63: 1.5 for correlations.5.correlation; expected a number at least -0.999 and at most 0.999.",
        "study.yaml:12:15: `constants.k`; expected a list of words, each after a `-` or inside [ ]. At correlations.6.between.",
        "study.yaml:13:5: no `between` in correlations.7; expected `between: ...`.",
        "study.yaml:14:5: no `correlation` in correlations.8; expected `correlation: ...`.",
        "study.yaml:16:5: scores.s.weights.b and constants.k correlated twice; expected each pair once.",
        "study.yaml:17:5: `5`; expected a correlation as a mapping of keys.",
    ]


def correlated(ab: float, bm: float, am: float) -> str:
    """Three weights with three correlations."""
    pairs = {"a, scores.s.weights.b": ab, "b, scores.s.weights.m": bm, "a, scores.s.weights.m": am}
    lines = [f"  - {{between: [scores.s.weights.{pair}], correlation: {value}}}\n" for pair, value in pairs.items()]
    return f"study: a\n{GOOD}correlations:\n{''.join(lines)}"


def test_correlations_that_contradict_each_other_are_refused_when_the_study_is_read() -> None:
    """By hand: with r = 0.9, 0.9, -0.9 the eigenvalues are 1 + 0.9 twice and 1 - 2 * 0.9 = -0.8."""
    assert refusal(correlated(0.9, 0.9, -0.9), FORM, CATALOGUE) == [
        "study.yaml:5:3: correlations that contradict each other (the least eigenvalue of their matrix is -0.8); "
        "expected correlations that things can have together, no eigenvalue below 0."
    ]


@pytest.mark.parametrize(("am", "stands"), [(-0.28, True), (-0.281, False), (1.0, False), (0.99, True)])
def test_correlations_on_the_edge_of_what_can_be(am: float, stands: bool) -> None:
    """By hand: with 0.6 and 0.6 the third is at least 0.6^2 - (1 - 0.6^2) = -0.28, where one is the sum of the others.

    1 is refused for another reason: two things that are one.
    """
    said = refusal(correlated(0.6, 0.6, am) if am < 0.5 else correlated(0.99, 0.99, am), FORM, CATALOGUE)
    assert (said == []) is stands


def test_singular_correlations_are_drawn() -> None:
    """The matrix on the edge has an eigenvalue of 0: uniform columns all the same, with the correlations asked for."""
    study = read_study(correlated(0.6, 0.6, -0.28), "study.yaml", FORM, CATALOGUE)
    unit = draws_of(study, 20_000).unit
    assert ((unit >= 0) & (unit <= 1)).all()
    np.testing.assert_allclose(unit.mean(axis=0), 0.5, atol=0.01)
    # of uniform columns from normal ones of correlation r: (6 / pi) arcsin(r / 2), Pearson 1907 (from memory)
    expected = 6 / np.pi * np.arcsin(np.array([0.6, 0.6, -0.28]) / 2)
    found = np.corrcoef(unit.T)
    np.testing.assert_allclose([found[0, 1], found[1, 2], found[0, 2]], expected, atol=0.02)


def test_all_faults_come_at_once_and_in_order() -> None:
    """Eight planted in one text: in keys, items, questions and correlations."""
    text = (
        "study: a\nformula: other\ntop: none\nscore: [s]\nbeats: [[p1, p9]]\nvary:\n"
        "  - {weights: s, factor: [2, 1]}\n  - {adress: constants.k, uniform: [1, 3]}\n"
        "  - {address: constants.kk, uniform: [1, 3]}\n  - {anchors: a, within: 5%}\n"
        "correlations:\n  - {between: [x, y], correlation: 2}\n"
    )
    said = refusal(text, FORM, CATALOGUE)
    assert [one.split(" ")[0] for one in said] == [
        "study.yaml:2:10:",
        "study.yaml:3:6:",
        "study.yaml:4:1:",
        "study.yaml:5:9:",
        "study.yaml:7:26:",
        "study.yaml:8:5:",
        "study.yaml:8:6:",
        "study.yaml:9:5:",
        "study.yaml:12:15:",
        "study.yaml:12:15:",
        "study.yaml:12:36:",
    ]


def test_very_many_items_are_refused() -> None:
    """Each is tried on the formula: a file of ten thousand would never end."""
    text = "study: a\nvary:\n" + "  - {readings: bootstrap}\n" * (MOST_ITEMS + 1)
    assert any(f"{MOST_ITEMS + 1} items under vary; expected at most {MOST_ITEMS}" in one for one in refusal(text, FORM, CATALOGUE))  # fmt: skip


def written(tmp_path: Path, content: bytes) -> Path:
    """A study file."""
    path = tmp_path / "study.yaml"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"study: \xff\xfe\n", "study.yaml: not UTF-8 text; expected a study file (YAML)."),
        ("study: a\n".encode("utf-16"), "study.yaml: not UTF-8 text; expected a study file (YAML)."),
        (
            b"x" * (FORMULA_CHARACTERS + 1),
            f"{FORMULA_CHARACTERS + 1} characters; expected at most {FORMULA_CHARACTERS}.",
        ),
    ],
    ids=["bytes", "utf-16", "huge"],
)
def test_a_file_that_is_no_text_is_refused(content: bytes, says: str, tmp_path: Path) -> None:
    """Before anything is read of it."""
    with pytest.raises(StudyError, match=r"study\.yaml: ") as caught:
        load_study(written(tmp_path, content), FORM, CATALOGUE)
    assert str(caught.value).endswith(says)


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    """Nor one that is a folder."""
    with pytest.raises(StudyError, match=r"none\.yaml: No such file or directory; expected a study file"):
        load_study(tmp_path / "none.yaml", FORM, CATALOGUE)
    with pytest.raises(StudyError, match="a folder, where a file belongs; expected a study file"):
        load_study(tmp_path, FORM, CATALOGUE)


@pytest.mark.parametrize("content", [b"\xef\xbb\xbf", b"", b"# \xc3\xa9\n"], ids=["mark", "plain", "comment"])
def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(content: bytes, tmp_path: Path) -> None:
    """Editors write them."""
    text = f"study: a\n{GOOD}".replace("\n", "\r\n").encode()
    study = load_study(written(tmp_path, content + text), FORM, CATALOGUE)
    assert [factor.name for factor in study.factors] == [f"scores.s.weights.{part}" for part in "abm"]
    assert len(study.sha256) == 64


FULL = """\
study: full
formula: trial
note: Everything that a study can hold.
scores: [s, t]
top: 3
beats: [[p1, p2], [p4, p3]]
vary:
  - {weights: s, factor: [0.7, 1.3]}
  - {weights: m, plus_minus: 15%}
  - {weights: t, simplex: uniform, order: stated, group: shares}
  - {anchors: [a, b], within: 8%}
  - {address: ratings.m.mix.x.curve.log.best, lognormal: {factor: 1.2}}
  - {address: ratings.m.mix.z.curve.target.best, triangular: [7, 9, 11]}
  - {address: constants.k, normal: {mean: 2, sd: 0.1}}
  - {address: scores.s.limits.1.at_most, choose: [stated, 5, 7], chances: [50%, 25%, 25%]}
  - {blend: s, choose: [weighted mean, geometric mean], group: means}
  - {limits: s, choose: [on, off]}
  - {leave_out: s}
  - {address: measures.x.repeats, choose: [mean, median]}
  - {address: ratings.b.missing.otherwise, choose: [stated, lowest]}
correlations:
  - {between: [constants.k, ratings.a.curve.line.best], correlation: 0.4}
"""


def test_a_study_is_read_whole() -> None:
    """Each item becomes its move; a part is left out last, whatever the order it was written in."""
    study = read_study(FULL, "study.yaml", FORM, CATALOGUE)
    assert shape_faults(FULL) == []
    assert (study.name, study.scores, study.top) == ("full", ("s", "t"), 3)
    assert study.pairs == (("p1", "p2"), ("p4", "p3"))
    assert study.correlations == (("constants.k", "ratings.a.curve.line.best", 0.4),)
    assert [type(move) for move in study.moves] == [WeightsMove] * 3 + [NumberMove] * 9 + [ChoiceMove] * 4 + [
        LeaveOutMove
    ]
    assert [factor.columns for factor in study.factors] == [1] * 5 + [2] + [1] * 14
    assert study.n_columns == 21
    groups = {factor.name: factor.kind for factor in study.factors}
    assert (groups["scores.t.weights"], groups["scores.s.blend"], groups["scores.s.weights.a"]) == (
        "shares",
        "means",
        "weights",
    )
    assert (groups["ratings.m.mix.x.weight"], groups["ratings.a.curve.line.best"]) == ("shares of parts", "anchors")


def test_the_resolved_table_says_what_varies_how_and_from_where() -> None:
    """The factors of a few items, as they are printed."""
    study = read_study(FULL, "study.yaml", FORM, CATALOGUE)
    rows = {f.name: (f.stated, f.says, f.unit, f.origin) for f in study.factors}
    assert rows["scores.s.weights.b"] == (
        "0.3 (30 %)",
        "times a factor, uniform 0.7 to 1.3, then rescaled to the stated sum",
        "",
        "study.yaml:8:5",
    )
    assert rows["ratings.a.curve.line.best"] == ("20", "uniform, 18.4 to 21.6", "", "study.yaml:11:5")
    assert rows["ratings.b.curve.points.1.at"] == ("0", "uniform, -1.6 to 1.6", "", "study.yaml:11:5")
    assert rows["constants.k"] == ("2", "normal, mean 2, sd 0.1", "", "study.yaml:14:5")
    assert rows["scores.s.limits.1.at_most"] == (
        "6",
        "one of 6 (50 %) | 5 (25 %) | 7 (25 %)",
        "points",
        "study.yaml:15:5",
    )
    assert rows["scores.s.limits"] == ("1 limit", "one of as stated | off, equal chances", "", "study.yaml:17:5")
    assert rows["scores.s.leave_out"][:2] == ("none", "none, or one of its 3 parts at weight 0, equal chances")
    assert rows["measures.x.repeats"][:2] == ("mean", "one of mean | median, equal chances")


def test_what_is_not_said_is_filled_in() -> None:
    """All scores, the first five, no pairs; all ratings where there are no scores."""
    study = study_of("{leave_out: s}", FORM, CATALOGUE)
    assert (study.scores, study.top, study.pairs) == (("s", "t", "p", "o"), 5, ())
    unscored = form_of(HEAD + "ratings:\n  a: {measure: x, curve: {line: {worst: 0, best: 20}}}\n")
    assert study_of("{anchors: a, within: 5%}", unscored, CATALOGUE).scores == ("a",)


def test_readings_vary_by_repeatability_or_by_their_repeats() -> None:
    """And what is to be said of each: measures without repeatability, and the bootstrap's bias."""
    form = form_of(
        HEAD.replace('x: {unit: "1"}', 'x: {unit: "1", repeatability: 0.2}')
        + "ratings:\n  a: {measure: x, curve: {line: {worst: 0, best: 20}}}\n"
    )
    noisy = study_of("{readings: repeatability}", form, CATALOGUE)
    assert isinstance(noisy.moves[0], NoiseMove)
    assert noisy.moves[0].measures == ("x",)
    assert noisy.notes == ("No repeatability is known of y, z: the bench's noise does not move it.",)
    resampled = study_of("{readings: bootstrap}", form, catalogue_of(x=[[1.0, 2.0], [3.0, 4.0]]))
    assert isinstance(resampled.moves[0], BootstrapMove)
    assert "sqrt((n - 1) / n)" in resampled.notes[0]


def test_parts_of_one_measure_are_told_apart_by_their_number() -> None:
    """The same measure through two curves: x and x_2, in an order, in intervals and in weights."""
    form = form_of(
        HEAD
        + "ratings:\n  a: {mix: [{measure: x, weight: 1, curve: {line: {worst: 0, best: 20}}}, "
        + "{measure: x, weight: 3, curve: {line: {worst: 20, best: 0}}}]}\n"
    )
    ordered = study_of("{weights: a, simplex: uniform, order: [x_2, x]}", form, CATALOGUE)
    setting = ordered.setting(draws_of(ordered, 50))
    assert (setting.numbers["ratings.a.mix.x_2.weight"] >= setting.numbers["ratings.a.mix.x.weight"]).all()
    held = study_of("{weights: a, between: {x_2: [50%, 60%]}}", form, CATALOGUE)
    share = held.setting(draws_of(held, 50)).numbers["ratings.a.mix.x_2.weight"] / 4
    assert ((share >= 0.5) & (share <= 0.6)).all()


def test_anchors_keep_away_from_each_other_however_far_they_may_move() -> None:
    """Within all of the stretch, 0.45 of the way to the next is the most; a target keeps its width."""
    study = study_of("{anchors: every rating, within: 100%}", FORM, CATALOGUE)
    setting = study.setting(draws_of(study, 2000))
    line = setting.numbers["ratings.a.curve.line.best"] - setting.numbers["ratings.a.curve.line.worst"]
    assert line.min() > 0.1 * 20 - 1e-9
    points = np.stack([setting.numbers[f"ratings.b.curve.points.{n}.at"] for n in (1, 2, 3)])
    assert (np.diff(points, axis=0) > 0.1 * 10 - 1e-9).all()
    low, best, high = (setting.numbers[f"ratings.m.mix.z.curve.target.{n}"] for n in ("low", "best", "high"))
    assert (low < best - 1).all()
    assert (best + 1 < high).all()
    worst, best = (setting.numbers[f"ratings.m.mix.x.curve.log.{n}"] for n in ("worst", "best"))
    assert np.log(worst / best).min() > 0.1 * np.log(20) - 1e-9


def test_a_wide_target_moves_by_less() -> None:
    """`low` 1, `best` 5 within 3.5: half a point is all there is between them, and no draw may use it up."""
    form = form_of(HEAD + "ratings:\n  a: {measure: x, curve: {target: {low: 1, best: 5, high: 9, within: 3.5}}}\n")
    study = study_of("{anchors: a, within: 8%}", form, CATALOGUE)
    setting = study.setting(draws_of(study, 2000))
    low, best, high = (setting.numbers[f"ratings.a.curve.target.{n}"] for n in ("low", "best", "high"))
    assert (low < best - 3.5).all()
    assert (best + 3.5 < high).all()
    assert min(low.std(), best.std(), high.std()) > 0.05


PIECES = (
    "study: a\n", "vary:\n", "  - ", "{", "}", "[", "]", ": ", ", ", "\n", "\t", "#", "'", '"', "|\n", "&a ", "*a", "<<: ", "---\n", "é", "\x00",
    "weights: s", "anchors: every rating", "within: 8%", "address: constants.k", "uniform: [1, 3]", "choose: [stated, 3]", "limits: every score",
    "leave_out: t", "readings: bootstrap", "-1", "0", "1e3", "1e-300", "1e15", "5%", "null", "stated", "every score", "correlation: 0.5", "between: [a, b]",
    "lognormal: {factor: 50}", "normal: {sd: 1e-300}", "dirichlet: 1e-300", "{a: [0, 1e-12]}", "plus_minus: 1e15", "scores.s.weights.a", "order: [a]",
)  # fmt: skip


def read_or_refuse(text: str) -> None:
    """A study that draws, or a refusal with at least one fault; nothing else may be raised."""
    found: Study | StudyError
    try:
        found = read_study(text, "study.yaml", FORM, CATALOGUE)
    except StudyError as refused:
        found = refused
    if isinstance(found, Study):
        setting = found.setting(draws_of(found, 3))
        assert all(np.isfinite(values).all() for values in setting.numbers.values())
    else:
        assert found.problems
        assert all(problem.found and problem.expected for problem in found.problems)


@settings(max_examples=examples(100))
@given(text=st.one_of(st.text(max_size=60), st.lists(st.sampled_from(PIECES), max_size=20).map("".join)))
@example(text="study: a\nvary: [{weights: s, between: {a: [0.2, 0.20000000001], b: [0.3, 0.30000000001]}}]\n")
@example(text="study: a\nvary: [{weights: s, dirichlet: 1e-300}]\n")
@example(text="study: a\nvary: [{weights: s, dirichlet: 1e15}]\n")
@example(text="study: a\nvary: [{address: constants.k, lognormal: {median: 1e-300, factor: 100}}]\n")
@example(text="study: a\nvary: [{address: ratings.a.curve, choose: [stated, [1, 2]]}]\n")
@example(text="study: a\nvary: [{address: ratings.e.value, choose: [stated, {a: b}]}]\n")
@example(text="study: a\nvary: [{address: [a], uniform: {a: b}}]\n")
@example(text="study: a\nvary: [{readings: [a]}]\n")
@example(text="study: a\nvary: [{leave_out: t}]\ncorrelations: [{between: [[a], b], correlation: 0}]\n")
def test_any_text_is_a_study_or_refused(text: str) -> None:
    """Random characters, and pieces of studies put together anyhow."""
    read_or_refuse(text)


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_study_with_a_slip_in_it_is_a_study_or_refused(data: st.DataObject) -> None:
    """A valid text with a span cut out, doubled, moved or replaced: the slips that people make."""
    text = FULL
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 30)))
        new = data.draw(
            st.one_of(st.just(""), st.just(text[start:end] * 2), st.sampled_from(PIECES), st.text(max_size=3))
        )
        text = text[:start] + new + text[end:]
    read_or_refuse(text)


#: About twice what the worst of these takes; what grows with the square of its text takes thousands of times more.
MOST_CALLS = 20_000_000
#: A quarter as long by default, and so is the work that they may take.
SHARE = 1 if is_long() else 4
HOSTILE = {
    "options": "study: a\nvary:\n  - {address: constants.k, choose: ["
    + ", ".join(map(str, range(10_000 // SHARE)))
    + "]}\n",
    "correlations": f"study: a\n{GOOD}correlations:\n" + "  - {between: [a, b], correlation: 0.5}\n" * (3000 // SHARE),
    "pairs": "study: a\nbeats: [" + "[p1, p2], " * (4_000 // SHARE) + "]\n" + GOOD,
    "scores": "study: a\nscores: [" + "s, " * (20_000 // SHARE) + "]\n" + GOOD,
    "near names": "study: a\nscores: [" + ", ".join(f"s{i}" for i in range(10_000 // SHARE)) + "]\n" + GOOD,
}


@pytest.mark.parametrize("case", HOSTILE)
def test_a_text_that_means_harm_is_read_or_refused_in_bounded_work(case: str) -> None:
    """Each repeats one thing until the file is full."""
    _, calls = calls_of(lambda: read_or_refuse(HOSTILE[case]))
    assert calls.total() <= MOST_CALLS // SHARE
