"""Every key of the form: what it is, in a sentence, and one line as it is written. The reader knows no other key."""

from __future__ import annotations

from typing import NamedTuple


class Key(NamedTuple):
    """What a key is, and a line in which it is written."""

    says: str
    example: str


Keys = dict[str, Key]

TOP: Keys = {
    "formula": Key("The name of the formula, in one word; a study names it too.", "formula: guest-bed"),
    "version": Key("The edition, as it is printed with every result.", "version: 1.2.0"),
    "title": Key("The name in full, for headings; the name of the formula by default.", "title: Guest beds, edition 1"),
    "note": Key("A remark, for readers of the file and of the appendix.", "note: First draft."),
    "takes": Key(
        "Sections that stand in a file beside this one, which several formulas share.",
        "takes: {file: edition-7.yaml, sections: [measures]}",
    ),
    "product_column": Key(
        "What the catalogue calls the column of the products' ids, where that is neither `product` nor `id`.",
        "product_column: Model",
    ),
    "scale": Key(
        "The scale that ratings and scores are published on.",
        "scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}",
    ),
    "ranks": Key("How places in the table are given.", "ranks: {on: unrounded, ties: shared-best, best: highest}"),
    "bands": Key(
        "Names for stretches of the scale, each with the figure that it begins at; it goes on up to the next.",
        "bands: {strong: 7, fair: 4, weak: 1}",
    ),
    "bands_on": Key("Which figure decides the band.", "bands_on: shown"),
    "constants": Key("Numbers with a name, for expressions.", "constants: {room_floor: 22}"),
    "attributes": Key(
        "What is known of a product in words, not readings, and may be published beside its scores; each by the name of its "
        "column. Columns of words that are not declared here are left out of every result.",
        "attributes: {fire_evidence: {values: [on_file, pending, none]}}",
    ),
    "measures": Key(
        "What the bench reads; each by a name of your own.",
        "measures: {noise_dba: {unit: dB, better: lower}}",
    ),
    "error_correlations": Key(
        "Which errors of measures that are read in one run go together; each by a name of your own. What is not named is "
        "uncorrelated.",
        "error_correlations: {plate: {measures: [noise_dba, sit_drop], component: repeatability, coefficient: 0.8}}",
    ),
    "ratings": Key(
        "How readings become ratings on the scale; each by a name of your own.",
        "ratings: {quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}}",
    ),
    "scores": Key(
        "How ratings are combined; each by a name of your own.",
        "scores: {reading_upright: {weights: {edge: 4, quiet: 1}}}",
    ),
    "gates": Key(
        "Conditions outside the arithmetic, which withhold a score or put a remark beside it.",
        "gates: [{when: noise_dba > 60, remark: loud}]",
    ),
    "cautions": Key(
        "Sentences that are printed with every table.",
        "cautions: [These scores are no medical advice.]",
    ),
    "checklist": Key(
        "Steps of the methods checklist that are left out, each with the reason.",
        "checklist: {links_to_other_indicators: {waived: no other index is public}}",
    ),
}
TAKES: Keys = {
    "file": Key(
        "The file, in the folder of this one or below; it cannot itself take from a third.", "file: edition-7.yaml"
    ),
    "sections": Key("Which sections are taken; what this file adds to them comes after.", "sections: [measures]"),
}
SCALE: Keys = {
    "from": Key("The low end.", "from: 1"),
    "to": Key(
        "The high end. Where `from` is written without `to`, the scale is open at the top: then only curves with points of "
        "their own can be used.",
        "to: 10",
    ),
    "show": Key(
        "How figures are rounded for show; values keep all their digits.", "show: {step: 0.5, rule: half-even}"
    ),
}
ROUNDING: Keys = {
    "step": Key("To multiples of what.", "step: 0.5"),
    "rule": Key("Which way.", "rule: half-even"),
}
RANKS: Keys = {
    "on": Key("Which figure decides the place.", "on: shown"),
    "ties": Key("What places equal products take.", "ties: dense"),
    "best": Key("Which end of the scale is first.", "best: lowest"),
}
ATTRIBUTE: Keys = {
    "label": Key(
        "Its name in print; its own name with blanks for `_` by default.", "label: Evidence of fire behaviour"
    ),
    "values": Key("The words that it may be; any where none are listed.", "values: [on_file, pending, none]"),
}
MEASURE: Keys = {
    "label": Key(
        "Its name in print; its own name with blanks for `_` by default.", "label: Noise of a scripted roll-over"
    ),
    "column": Key(
        "What the catalogue calls it, where that is not its own name: the column's name without `[unit]` and `#repeat`.",
        'column: "Noise, roll-over (dB)"',
    ),
    "unit": Key(
        "The unit that the formula's numbers are in; readings in other units are converted. A plain number has `1`.",
        "unit: dB",
    ),
    "better": Key("Which way is better; `check` holds curves and scores to it.", "better: lower"),
    "plausible": Key(
        "The least and the greatest reading that can be right: `check` proves its claims over it, and a reading beyond it "
        "is a fault.",
        "plausible: [18, 75]",
    ),
    "repeats": Key("How several readings of one product become one value.", "repeats: median"),
    "trim": Key("The share of the readings that `repeats: trimmed` sets aside at either end.", "trim: 0.2"),
    "repeatability": Key(
        "How closely repeats agree, as the standard deviation of one reading: in the unit, as a share of the reading (`8%`), "
        "or pooled from the catalogue's own repeats. Errors within a run are new with every reading.",
        "repeatability: 8%",
    ),
    "between_sessions": Key(
        "How far sessions differ, as the standard deviation of an error that all readings of the measure in one session "
        "share. It cancels between products of one session, and not between sessions. The catalogue names the sessions.",
        "between_sessions: {standard_deviation: 0.6, degrees_of_freedom: 9}",
    ),
    "between_specimens": Key(
        "How far specimens of one product differ, as the standard deviation of an error that all readings of one specimen "
        "share. Where the catalogue names no specimens, each product is one.",
        "between_specimens: 1.5",
    ),
    "systematic": Key(
        "An error that all readings of the measure share, as of the calibration or the method, by its standard uncertainty or "
        "by a half-width. It moves all products together.",
        "systematic: {half_width: 0.3, distribution: rectangular}",
    ),
    "reporting_limit": Key(
        "The least that the bench can report; a lower reading is marked as below it.", "reporting_limit: 22"
    ),
    "below_limit": Key("What a reading below the reporting limit counts as.", "below_limit: half"),
    "round": Key("Rounds the value of each product, before any curve.", "round: {step: 0.5}"),
    "note": Key("A remark, for readers of the file and of the appendix.", "note: Read twice on each side."),
}
SCATTER: Keys = {
    "standard_deviation": Key(
        "The standard deviation, in the unit or as a share of the reading (`8%`).", "standard_deviation: 0.6"
    ),
    "degrees_of_freedom": Key(
        "The degrees of freedom that it rests on; where they are left out, it is taken as known. They need not be whole.",
        "degrees_of_freedom: 9",
    ),
}
SYSTEMATIC: Keys = {
    "standard_uncertainty": Key(
        "The standard uncertainty of the error, which is then taken as normal, in the unit or as a share of the reading "
        "(`3%`).",
        "standard_uncertainty: 0.2",
    ),
    "half_width": Key(
        "Or how far the error goes at most to either side, in the unit or as a share of the reading.", "half_width: 0.3"
    ),
    "distribution": Key("How the error is spread over the half-width.", "distribution: triangular"),
    "degrees_of_freedom": Key(
        "The degrees of freedom that the standard uncertainty rests on; where they are left out, it is taken as known.",
        "degrees_of_freedom: 8",
    ),
}
ERROR_CORRELATION: Keys = {
    "measures": Key(
        "The measures whose errors go together; each declares the component. With more than two, the coefficient holds for "
        "every pair.",
        "measures: [noise_dba, sit_drop]",
    ),
    "component": Key("Which of their errors go together.", "component: between_sessions"),
    "coefficient": Key(
        "The coefficient of correlation; `pooled` where it is estimated from repeats that were read together, of "
        "`repeatability` alone.",
        "coefficient: 0.8",
    ),
}
OUTPUT: Keys = {
    "label": Key(
        "Its name in print; its own name with a capital and blanks for `_` by default.", "label: Reading upright"
    ),
    "note": Key("A remark, for readers of the file and of the appendix.", "note: Two adults sharing."),
    "neutral": Key("Whether it says what a product is like, and not how good it is.", "neutral: true"),
    "scale": Key("A scale of its own; what is not written there is as in the formula's.", "scale: {from: 0, to: 100}"),
    "value": Key(
        "Worked out by an expression, in place of parts.", 'value: "where(noise_dba < 30, 10, 12 - noise_dba / 15)"'
    ),
    "blend": Key(
        "How the parts are combined. A geometric, harmonic or power mean, and a product, have no value where one of several "
        "parts is below 0.",
        "blend: geometric mean",
    ),
    "exponent": Key(
        "The exponent of `blend: power mean`, which needs one: any number but 0 (1 is the weighted mean, -1 the harmonic).",
        "exponent: 0.5",
    ),
    "missing": Key("What is done where a part is missing.", "missing: {absent_above: 0.2}"),
    "limits": Key(
        "Bounds that hold under a condition, in the order in which they are worked out.",
        "limits: [{when: noise_dba > 40, at_most: 6}]",
    ),
    "round": Key(
        "Rounds the value at this stage, before anything is made of it.", "round: {step: 0.5, rule: half-even}"
    ),
}
RATING: Keys = {
    "measure": Key("The measure that it is a rating of; with `curve`.", "measure: noise_dba"),
    "curve": Key("How a reading becomes a rating; with `measure`.", "curve: {line: {worst: 46, best: 22}}"),
    "mix": Key(
        "Several measures or ratings, each with its curve and weight, in place of one measure.",
        "mix: [{measure: noise_dba, weight: 2, curve: {line: {worst: 46, best: 22}}}, {rating: edge}]",
    ),
    **OUTPUT,
}
SCORE: Keys = {
    "weights": Key(
        "What each rating or score counts for. Weights are shares, and need not add up to 1.",
        "weights: {edge: 4, quiet: 1}",
    ),
    "parts": Key("Ratings or scores that all count alike, in place of `weights`.", "parts: [edge, quiet]"),
    **OUTPUT,
}
MIX: Keys = {
    "measure": Key("The measure that the part takes; it needs a `curve`.", "measure: noise_dba"),
    "rating": Key("Or the rating that it takes; with a curve, or as it is.", "rating: edge"),
    "weight": Key("What the part counts for.", "weight: 2"),
    "curve": Key("How what it takes becomes a rating.", "curve: {log: {worst: 1.6, best: 0.08}}"),
}
MISSING: Keys = {
    "needs": Key("Parts without which there is no rating or score.", "needs: [edge]"),
    "absent_above": Key(
        "The share of the weight that may be missing; where more is, there is no rating or score. With `otherwise: lowest` the "
        "default is 1.",
        "absent_above: 0.2",
    ),
    "otherwise": Key("What is done where less is missing.", "otherwise: lowest"),
}
LIMIT: Keys = {
    "name": Key("A name of its own for its address; its place in the list by default.", "name: weak_edge"),
    "when": Key(
        "The condition under which it holds; there is no rating or score to publish where it has no value.",
        "when: edge < 4",
    ),
    "on": Key("Or the rating, score or measure that the bound goes by, smoothly.", "on: edge"),
    "at_most": Key("The bound from above: a number with `when`, a curve with `on`.", "at_most: 6"),
    "at_least": Key("Or the bound from below.", "at_least: 3"),
    "apply": Key("Whether it holds at all; studies turn it off and on.", "apply: never"),
}
GATE: Keys = {
    "name": Key("A name of its own for its address; its place in the list by default.", "name: emissions"),
    "when": Key(
        "The condition, on readings, ratings, scores or the word of an attribute.", "when: fire_evidence == pending"
    ),
    "guard": Key(
        "How near to the limit of its one measure counts as near, in standard uncertainties `u` of the product's value; it needs "
        "`near`.",
        "guard: 1.645 u",
    ),
    "withhold": Key("Withholds the scores where the condition holds, and says why.", "withhold: over the limit"),
    "remark": Key("Puts a remark beside the scores where the condition holds.", "remark: fire evidence pending"),
    "near": Key("The remark where the condition does not hold, and would within the guard.", "near: near the limit"),
    "missing": Key(
        "The remark where a reading or word that it asks for is missing, or the condition has no value (a division by 0); says "
        "which by default.",
        "missing: not assessed",
    ),
    "unknown": Key("What it does to the scores there, beside that remark.", "unknown: withhold"),
    "scores": Key("The scores that it is about; all by default.", "scores: [reading_upright]"),
}
CURVE: Keys = {
    "outside": Key("What holds beyond the anchors.", "outside: error"),
    "reference": Key(
        "The population that the curve leans on: `live` is the catalogue that is scored; figures of your own are frozen.",
        "reference: {mean: 31.2, sd: 4.8}",
    ),
}
REFERENCE: Keys = {
    "mean": Key("Its mean.", "mean: 31.2"),
    "sd": Key("Its standard deviation, on n - 1.", "sd: 4.8"),
    "least": Key("Its least value.", "least: 23.1"),
    "greatest": Key("Its greatest value.", "greatest: 44"),
    "values": Key("Or the value of every member, of which figures are then worked out.", "values: [23.1, 30.4, 44]"),
}
WAIVER: Keys = {"waived": Key("Why the step is left out.", "waived: no other index of guest beds is public")}
