"""The works that a methods appendix rests on: only those whose method is used in it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.languages.facts import Points, Section
from analysis.languages.writing import paragraph, runs
from analysis.methods_appendix.workings import Workings

HANDBOOK = (
    "OECD and Joint Research Centre of the European Commission, Handbook on Constructing Composite Indicators: "
    "Methodology and User Guide, OECD Publishing, 2008: the ten steps of the checklist, and multivariate "
    "analysis."
)
GUM = (
    "JCGM 100:2008, Evaluation of measurement data – Guide to the expression of uncertainty in measurement: "
    "first-order uncertainty."
)
MONTE_CARLO = (
    "JCGM 101:2008, Evaluation of measurement data – Supplement 1: Propagation of distributions using a Monte "
    "Carlo method."
)
REPEATABILITY = (
    "ISO 5725-2:1994, Accuracy (trueness and precision) of measurement methods and results – Part 2: "
    "repeatability standard deviation."
)
IMPORTANCE = (
    "P. Paruolo, M. Saisana and A. Saltelli, Ratings and rankings: voodoo or science?, Journal of the Royal "
    "Statistical Society A 176, 2013, 609–634: effective importance of weights."
)
SHAPLEY = (
    "A. B. Owen and C. Prieur, On Shapley value for measuring importance of dependent inputs, SIAM/ASA Journal on"
    " Uncertainty Quantification 5, 2017: Shapley shares."
)
ALPHA = "L. J. Cronbach, Coefficient alpha and the internal structure of tests, Psychometrika 16, 1951."
INFLATION = (
    "D. W. Marquardt, Generalized inverses, ridge regression, biased linear estimation, and nonlinear estimation,"
    " Technometrics 12, 1970: variance inflation."
)
SOBOL = (
    "I. Azzini, T. A. Mara and R. Rosati, Comparison of two sets of Monte Carlo estimators of Sobol’ indices, "
    "Environmental Modelling & Software 144, 2021: first-order and total indices."
)
ACCEPTABILITY = (
    "R. Lahdelma and P. Salminen, SMAA-2: Stochastic multicriteria acceptability analysis for group decision "
    "making, Operations Research 49(3), 2001: how often a place is held over draws."
)
RANK_SETS = (
    "M. Mogstad, J. P. Romano, A. M. Shaikh and D. Wilhelm, Inference for Ranks with Applications to Mobility "
    "across Neighbourhoods and Academic Achievement across Countries, Review of Economic Studies 91(1), 2024, "
    "476–518: joint confidence sets of places."
)
LETTERS = (
    "H.-P. Piepho, An algorithm for a letter-based representation of all-pairwise comparisons, Journal of "
    "Computational and Graphical Statistics 13(2), 2004: the letters of groups."
)
OVERLAP = (
    "W. Webber, A. Moffat and J. Zobel, A similarity measure for indefinite rankings, ACM Transactions on "
    "Information Systems 28(4), 2010: rank-biased overlap."
)
CAUSES = (
    "L. S. Shapley, A value for n-person games, Contributions to the Theory of Games II, 1953: sharing a move out"
    " among its causes."
)


def references_section(found: Workings) -> Section:
    """The references, in the order in which their methods appear."""
    items = tuple(runs(text) for text in used(found))
    return Section(
        "references",
        runs("References"),
        (paragraph("Only works whose methods are used above."), Points(items, numbered=True)),
    )


def used(found: Workings) -> Iterator[str]:
    """The references of the methods that this appendix uses."""
    yield HANDBOOK
    if any(one.freedom for one in found.precisions):
        yield REPEATABILITY
    if any(one.importance is not None for one in found.weights):
        yield from (IMPORTANCE, SHAPLEY, ALPHA, INFLATION)
    if found.explanation is not None and found.explanation.outputs[0].uncertainty is not None:
        yield from (GUM, MONTE_CARLO)
    if found.benches:
        yield from (RANK_SETS, LETTERS)
    if any(len(one.swaps) for one in found.sensitivity):
        yield SOBOL
    if any(one.by_source for one in found.stability):
        yield from (ACCEPTABILITY, OVERLAP)
    if found.comparison is not None and any(np.size(score.by_score.shares) for score in found.comparison.scores):
        yield CAUSES
