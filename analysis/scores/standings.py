"""How products stand in a score, as pictures say it: places, marks of partial scores and remarks, and who has no place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.figures.canvas import shortened
from analysis.scores.places import PLACELESS, ranked
from scoring.table.missing import STARRED
from scoring.table.table import Column, ScoreTable

#: A figure space: as wide as a digit.
PAD = "\u2007"
#: Signs of remarks; where there are more remarks than signs, the last one stands for all the rest.
SIGNS = "†‡§¶"
REST = "another remark, told in the score table"
#: A remark with these words says why a score is partial, which its star says already.
REASONS = ("is missing", "is itself partial", "does not apply")
#: What a cell without a rating prints, by status, and what the key says of it.
CELLS = {"unrated": "–", "not applicable": "n/a", "withheld": "w"}
MEANINGS = {"–": "unrated", "n/a": "does not apply", "w": "withheld"}
MOST_NAMED = 6
LONGEST_REMARK = 60


@dataclass(frozen=True, slots=True)
class Marks:
    """What is written beside each place, in the order drawn, "" for nothing; and what each sign means."""

    beside: tuple[str, ...]
    meanings: tuple[str, ...]


def places(column: Column, order: Sequence[int]) -> list[str]:
    """Each product's place as it is printed, numbers filled up to one width; the status in a word where there is none."""
    texts = [_place(column, i) for i in order]
    wide = max((len(text) for i, text in zip(order, texts, strict=True) if not np.isnan(column.rank[i])), default=0)
    return [text.rjust(wide, PAD) for text in texts]


def _place(column: Column, i: int) -> str:
    if np.isnan(column.rank[i]):
        return PLACELESS.get(column.status_text(i), "–")
    return f"{column.rank[i]:g}"


def cell_text(column: Column, i: int) -> str:
    """A figure as it is printed, with the star of a partial one; a mark where there is none."""
    if np.isnan(column.value[i]):
        return CELLS.get(column.status_text(i), "–")
    return column.shown_text(i) + "*" * (column.status_text(i) == "partial")


def marks_of(table: ScoreTable, column: Column, order: Sequence[int]) -> Marks:
    """A star for each partial score, and a sign for each remark that says more than why a score is partial.

    A remark has the same sign in every score of a table; only what is drawn is told.

    Parameters
    ----------
    order : the products drawn
    """
    signs = _signs(table, column)
    partial = [column.status_text(i) == "partial" for i in order]
    said = [_remarks(table, column, i) for i in order]
    beside = tuple("*" * star + _signed(remarks, signs) for star, remarks in zip(partial, said, strict=True))
    drawn = {remark for remarks in said for remark in remarks}
    meanings = {STARRED: None} if any(partial) else {}
    rest = len(signs) > len(SIGNS)
    for remark, sign in signs.items():
        if remark in drawn:
            meanings[f"{sign} {REST if rest and sign == SIGNS[-1] else shortened(remark, LONGEST_REMARK)}"] = None
    return Marks(beside, tuple(meanings))


def _signed(remarks: Sequence[str], signs: Mapping[str, str]) -> str:
    """The signs of some remarks, each once, in the order of signs."""
    told = {signs[remark] for remark in remarks}
    return "".join(sign for sign in SIGNS if sign in told)


def _signs(table: ScoreTable, column: Column) -> dict[str, str]:
    """Each remark of a product with a place, the commonest first, and its sign: the same in all scores, or ratings."""
    alike = table.scores if column in table.scores else table.ratings
    said = (remark for one in alike for i in ranked(one) for remark in _remarks(table, one, i))
    known = [remark for remark, _ in Counter(said).most_common()]
    return {remark: SIGNS[min(number, len(SIGNS) - 1)] for number, remark in enumerate(known)}


def _remarks(table: ScoreTable, column: Column, i: int) -> list[str]:
    """What gates say of a product; and other remarks, but for the reasons of a partial score."""
    gates = {passage.remarks[i] for passage in table.passages}
    partial = column.status_text(i) == "partial"
    return [
        remark
        for remark in column.remarks.get(i, ())
        if remark in gates or not (partial and any(f" {words}" in remark for words in REASONS))
    ]


def without_place(table: ScoreTable, column: Column) -> str:
    """Which products have no place and are not drawn, by status, the first six of each named; "" where there is none."""
    found = []
    for status in PLACELESS:
        there = [i for i in np.flatnonzero(np.isnan(column.rank)).tolist() if column.status_text(i) == status]
        names = [shortened(table.catalogue.products[i]) for i in there[:MOST_NAMED]]
        names += [f"{len(there) - MOST_NAMED} more"] if len(there) > MOST_NAMED else []
        found += [f"{len(there)} {status} ({', '.join(names)})"] if there else []
    return f"not drawn, for want of a place: {', '.join(found)}" if found else ""
