"""The words that a choice of the form may be, each with what it means. The first of a table is its default."""

from __future__ import annotations

RULES = {
    "half-up": "to the nearest; what lies half way goes away from zero (8.25 to 8.3, -8.25 to -8.3)",
    "half-even": "to the nearest; what lies half way goes to the even neighbour (8.25 to 8.2, 8.35 to 8.4)",
    "down": "towards zero",
    "up": "away from zero",
}
BETTER = {
    "unstated": "nothing is claimed here; the direction follows from the curve",
    "higher": "a higher reading is better",
    "lower": "a lower reading is better",
    "neither": "a matter of taste, or best at a target",
}
REPEATS = {
    "mean": "their mean",
    "median": "the middle one; of an even number, the mean of the middle two",
    "trimmed": "their mean, when the share `trim` of them, rounded down to whole readings, is set aside at either end",
    "level mean": "the mean of levels in decibels, taken over the powers behind them: 10 log10 of the mean of 10^(L/10)",
}
BELOW_LIMIT = {
    "limit": "it counts as the reporting limit itself",
    "half": "it counts as half the reporting limit",
    "zero": "it counts as 0",
    "missing": "it is not counted",
}
#: What a component of a measure's errors may be called where no figure stands.
NO_ERROR = {"none": "there is none, or nothing is known of it"}
POOLED = {
    "pooled": "worked out from the catalogue's own repeats, in the unit of the measure",
    "pooled relative": "worked out from the catalogue's own repeats, as a share of the reading",
}
#: How errors that are stated by a half-width are spread; GUM (JCGM 100:2008), 4.3.7 and 4.3.9 (from memory).
DISTRIBUTIONS = {
    "rectangular": "every error within the half-width is as likely as any other: u = half-width / root of 3",
    "triangular": "small errors are likelier than those near the half-width: u = half-width / root of 6",
}
ERROR_COMPONENTS = {
    "repeatability": "errors within a run, new with every reading",
    "between_sessions": "errors that all readings of a measure in one session share",
    "between_specimens": "errors that all readings of one specimen share",
    "systematic": "errors that all readings of a measure share",
}
TAKEN = {
    "constants": "the neighbour's `constants`",
    "attributes": "its `attributes`",
    "measures": "its `measures`",
    "error_correlations": "its `error_correlations`",
    "ratings": "its `ratings`",
}
RANKS_ON = {
    "unrounded": "places go by the value before it is rounded for show",
    "shown": "places go by the shown figure, so that equal figures share a place",
}
TIES = {
    "shared-best": "both take the better place, and the next is left out: 1, 2, 2, 4",
    "shared-mean": "both take the mean of their places: 1, 2.5, 2.5, 4",
    "dense": "both take the better place, and none is left out: 1, 2, 2, 3",
}
BEST = {"highest": "the highest score is first", "lowest": "the lowest score is first"}
BANDS_ON = {
    "shown": "the band goes by the shown figure, so that a reader can check it",
    "unrounded": "the band goes by the value before it is rounded for show",
}
APPLY = {"always": "it holds", "never": "it is written, and does not hold"}
UNKNOWN = {
    "remark": "they stand, with the remark",
    "withhold": "they are withheld, with the remark",
}
OTHERWISE = {
    "reweight": "the weight of what is missing is shared out among the rest, in proportion",
    "lowest": "what is missing counts as the low end of the scale",
}
OUTSIDE = {
    "held": "the rating at the nearest anchor holds",
    "extended": "the line goes on; a value off the scale is a fault when products are scored",
    "error": "a reading there is a fault when products are scored",
}
#: The ten steps of the OECD/JRC Handbook on Constructing Composite Indicators, 2008, in its order; the words are ours.
CHECKLIST = {
    "theoretical_framework": "what the score is meant to say, and of what parts it is made",
    "data_selection": "which measures stand for those parts, and how good they are",
    "imputation_of_missing_data": "what is done where a reading is missing",
    "multivariate_analysis": "how the measures go together over the products",
    "normalisation": "how readings in different units become ratings on one scale",
    "weighting_and_aggregation": "what each part counts for, and how parts are combined",
    "uncertainty_and_sensitivity_analysis": "how far the ranking hangs on choices and on the noise of the bench",
    "back_to_the_data": "what a score is made of, so that it can be taken apart again",
    "links_to_other_indicators": "how the score compares with other scores of the same thing",
    "visualisation_of_the_results": "how the result is shown",
}
