"""The sections on provenance and references: what the appendix was made from, and the works whose methods are used in it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from importlib.metadata import version

import numpy as np

from analysis.languages.facts import Points, Run, Runs, Section
from analysis.languages.writing import code, name, paragraph, runs, table
from analysis.methods_appendix.workings import Workings
from analysis.wording import counted

LIBRARIES = ("numpy", "scipy", "sympy", "pandas", "matplotlib", "jinja2")


def provenance_section(found: Workings) -> Section:
    """Hashes, versions, seed, command."""
    form, asked = found.form, found.asked
    rows: list[tuple[str | Run | Runs, ...]] = [
        ("formula", (name(f"{form.name} {form.version}".strip()),)),
        ("formula, sha256", code(form.sha256)),
        ("catalogue", counted(len(found.table.catalogue.products), "product")),
        ("catalogue, sha256", code(found.table.catalogue.sha256)),
        *(("corrected by the recipe", one.says) for one in found.table.catalogue.published_corrections),
        (
            "values tried on the formula",
            (code("; ".join(asked.settings)),) if asked.settings else "none: the formula as it stands in its file",
        ),
        (
            "study",
            (name(found.study.name), Run(", sha256 "), code(found.study.sha256))
            if found.study.sha256
            else found.study.source,
        ),
    ]
    if found.comparison is not None:
        rows.append(("previous version, sha256", code(found.comparison.old.form.sha256)))
    rows += [
        ("seed of every random draw", str(asked.seed)),
        ("base points of sensitivity", str(asked.draws)),
        ("steelyard", version("steelyard")),
        ("Python", ".".join(map(str, sys.version_info[:3]))),
        *((library, version(library)) for library in LIBRARIES),
    ]
    if asked.command:
        rows.insert(0, ("command", code(asked.command)))
    if asked.date:
        rows.insert(0, ("date, as given", (name(asked.date),)))
    caption = runs("What this appendix was made from. The same files, seed and versions give the same bytes.")
    return Section("provenance", runs("Provenance"), (table("provenance", caption, ("what", "value"), rows),))


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
