"""The page of words: what the terms that this document uses mean, one sentence each; only those that stand in it."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.languages.facts import (
    Block,
    Equations,
    Figure,
    Paragraph,
    Points,
    Section,
    Steps,
    Table,
    every_section,
)
from analysis.languages.facts import Runs as Said
from analysis.languages.writing import paragraph, runs, table

#: Term, what it stands as in the document, and what it means. Works named here stand among the references.
WORDS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    (
        "alone",
        ("An index alone",),
        "the first-order index: the share of a variance that one argument explains by itself, the others averaged over.",
    ),
    (
        "base points",
        ("base points",),
        "how many points of each of the two samples are drawn, in whose mixtures every argument is exchanged in turn.",
    ),
    (
        "cloned",
        ("cloned", "clone of"),
        "added to the catalogue a second time under another name, every reading the same.",
    ),
    (
        "Cronbach's alpha",
        ("Cronbach's alpha",),
        "how far the parts go together: k / (k - 1) times 1 less the sum of the parts' variances over the variance of their"
        " sum; 1 where all say the same, and below 0 where they go against each other (Cronbach, 1951).",
    ),
    (
        "degrees of freedom",
        ("freedom",),
        "how many independent differences an estimate rests on: of s_r, readings less products (or products and sessions); of"
        " a difference of mean squares, or of several components together, an effective number that need not be whole.",
    ),
    (
        "discrepancy of Paruolo et al.",
        ("discrepancy of Paruolo",),
        "the largest difference between what a part is worth by its main effect and what its weight states, both in units of"
        " one part (Paruolo, Saisana and Saltelli, 2013).",
    ),
    (
        "effective share",
        ("effective share", "Effective and Shapley"),
        "a part's share of the variance of the weighted mean over the catalogue, its correlation with the others included;"
        " below 0 where it goes against the rest.",
    ),
    (
        "first order (GUM)",
        ("first order", "First order", "first-order"),
        "a small change of the result taken as the slope times the change of each reading, so that variances add (JCGM"
        " 100:2008).",
    ),
    ("half-width", ("half-width",), "half the distance from the lower to the upper end of an interval."),
    (
        "joint 95 %",
        ("joint 95 %",),
        "of such tables, 95 in 100 have every set of places right at once, and not only each by itself.",
    ),
    (
        "Kendall's tau-b",
        ("tau-b",),
        "pairs in the same order in two rankings less pairs in the opposite order, over all pairs, ties allowed for; 1 where"
        " the rankings are the same, -1 where one is the other upside down.",
    ),
    (
        "main effect",
        ("Main effects", "main effect"),
        "how much the mean of a score moves with one part, as a share of the score's variance over the products.",
    ),
    (
        "Monte Carlo",
        ("Monte Carlo",),
        "every reading drawn again many times with all components of its error, and the result worked out each time (JCGM"
        " 101:2008).",
    ),
    (
        "pairs turned",
        ("pairs turned",),
        "how many pairs of products stand in the other order than in the published table; a pair tied in one of the two counts"
        " half (Fagin, Kumar, Mahdian, Sivakumar and Vee, 2006).",
    ),
    (
        "rank-biased overlap",
        ("rank-biased overlap",),
        "how far two rankings hold the same products from the top down, the weight falling by a tenth a place; 1 where they"
        " are the same (Webber, Moffat and Zobel, 2010).",
    ),
    (
        "s_r",
        ("s_r",),
        "the repeatability standard deviation: that of readings of one product under the same conditions (ISO 5725-2).",
    ),
    (
        "Shapley share",
        ("Shapley share", "Effective and Shapley"),
        "a part's share of the variance where what parts explain together is shared out evenly over every order in which"
        " they can be taken; never below 0 (Owen and Prieur, 2017).",
    ),
    (
        "Spearman",
        ("Spearman",),
        "the correlation of places: 1 where two orders are the same, -1 where one is the other upside down.",
    ),
    (
        "spread, correlation",
        ("; spread ",),
        "in points of percent, what the parts' own spread makes of a squared share, and what their correlation makes of that;"
        " the effective share is all three added up.",
    ),
    (
        "squared share",
        ("squared share", " squared, "),
        "the square of a weight over the sum of squares: the share of the variance that the part would have if all parts had"
        " equal spread and no correlation.",
    ),
    (
        "u",
        ("u is the standard deviation", "u rests on"),
        "standard uncertainty: one standard deviation of a figure under all declared components of its readings' errors.",
    ),
    (
        "variance inflation",
        ("variance inflation",),
        "1 / (1 - R2), R2 being the share of a part's variance that the other parts explain; 1 where they explain none of it"
        " (Marquardt, 1970).",
    ),
    (
        "with interactions",
        ("with interactions", "interactions included"),
        "the total index: the share of a variance in which an argument has any part, by itself or with others.",
    ),
)


def words_section(sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """The words that stand in the sections, with their meanings; no section where none does."""
    text = "\n".join(texts(sections))
    rows = [(word, means) for word, stands, means in WORDS if any(one in text for one in stands)]
    if not rows:
        return ()
    made = table("words", runs("Terms used above."), ("word", "means"), rows)
    said = "What the terms of this document mean. Works named by author or number stand in full among the references."
    return (Section("words", runs("Words"), (paragraph(said), made)),)


def texts(sections: tuple[Section, ...]) -> Iterator[str]:
    """Every stretch of words of ours in the sections, in reading order; texts of the files are left out."""
    for section in every_section(sections):
        for block in section.blocks:
            for said in _runs_of(block):
                yield "".join(run.text for run in said if not run.kind)


def _runs_of(block: Block) -> Iterator[Said]:
    if isinstance(block, Paragraph):
        yield block.runs
    elif isinstance(block, Points):
        yield from block.items
    elif isinstance(block, Table):
        yield block.caption
        yield from (column.head for column in block.columns)
        yield from (cell for row in block.rows for cell in row)
        yield block.note
    elif isinstance(block, Equations):
        yield from (line.words for line in block.lines)
    elif isinstance(block, Figure):
        yield block.caption
    elif isinstance(block, Steps):
        yield block.caption
        yield from (line.what for line in block.lines)
