"""The keys of a study file itself and of its correlations, each declared once."""

from __future__ import annotations

from analysis.study.default import TOP as DEFAULT_TOP
from analysis.study.keys import NAME, Amount, Defined, Keyed, Listed
from scoring.declaration import Key
from scoring.units.role import UnitRole

#: Every item is tried on the formula, which takes its time.
MOST_ITEMS = 500
MOST_CORRELATED = 0.999
#: What the schema calls the definition of an item.
ITEM = "item"

TOP = Amount(UnitRole.COUNT, least=1, default=DEFAULT_TOP, whole=True)
COEFFICIENT = Amount(UnitRole.COEFFICIENT, least=-MOST_CORRELATED, most=MOST_CORRELATED)
PAIR = Listed(NAME, "`[product, product]`", fewest=2, most=2, once=True)
CORRELATION_KEYS = {
    "between": Key(
        Listed(NAME, "two things that vary", fewest=2, most=2, once=True),
        "The two, as `--resolved` calls them: each one number or choice.",
        "{between: [scores.two_abed.weights.edge, scores.two_abed.weights.quiet], correlation: 0.6}",
        required=True,
    ),
    "correlation": Key(
        COEFFICIENT,
        "Of the normal scores behind the two.",
        "{between: [scores.two_abed.weights.edge, scores.two_abed.weights.quiet], correlation: -0.3}",
        required=True,
    ),
}
STUDY_KEYS = {
    "study": Key(NAME, "The name of the study.", "study: judgement-and-bench", required=True),
    "note": Key(NAME, "A remark, for readers of the file.", "note: Ranges that the methods group agreed on."),
    "formula": Key(NAME, "The name of the formula that it is about; another is refused.", "formula: guest-bed"),
    "scores": Key(
        Listed(NAME, "a list of scores or ratings", fewest=1, once=True),
        "Which results are looked at; all scores by default, all ratings where there is no score.",
        "scores: [two_abed]",
    ),
    "top": Key(TOP, "How many places the top are, and no more than there are products.", "top: 3"),
    "beats": Key(
        Listed(PAIR, "a list of `[product, product]`"),
        "Pairs of which is asked whether the first stands above the second.",
        "beats: [[QB-029, QB-039]]",
    ),
    "vary": Key(
        Listed(Defined(ITEM), "a list of items", fewest=1, most=MOST_ITEMS),
        "What varies, and how: the items below.",
        "vary: [{weights: every score, factor: [0.7, 1.3]}]",
        required=True,
    ),
    "correlations": Key(
        Listed(Keyed(CORRELATION_KEYS), "a list of `{between: [...], correlation: ...}`"),
        "Which things that vary go together. What is not named is independent.",
        "correlations: [{between: [scores.two_abed.weights.edge, scores.two_abed.weights.quiet], correlation: 0.6}]",
    ),
}
