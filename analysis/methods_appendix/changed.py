"""The section on changes: what differs from the previous version, and who moved."""

from __future__ import annotations

import numpy as np

from analysis.comparison.comparison import Comparison, ScoreMoves
from analysis.comparison.verdict import came_or_went, changed_place, comparison_verdict, moved
from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import code, name, paragraph, runs, table
from analysis.methods_appendix.pictures import moves_picture
from analysis.methods_appendix.workings import Workings
from analysis.wording import ABSENT, listed, place_text


def changed_section(found: Workings) -> Section:
    """What changed since the previous version, or that none was given."""
    title = runs("What changed since the previous version")
    if found.comparison is None:
        return Section("changed", title, (paragraph("No previous version was given to compare with."),))
    comparison = found.comparison
    old, new = comparison.old.form, comparison.new.form
    blocks: list[Block] = [
        paragraph(
            "Compared: ",
            name(f"{old.name} {old.version}".strip()),
            " (sha256 ",
            code(old.sha256),
            ") before, and ",
            name(f"{new.name} {new.version}".strip()),
            " as it stands here, on the same catalogue.",
        )
    ]
    if comparison.changes:
        blocks.append(Points(tuple(found.sentences.runs(change.says) for change in comparison.changes)))
    else:
        blocks.append(paragraph("The two formulas do not differ."))
    for word, names in (
        ("New scores, with nothing to compare: ", comparison.added),
        ("Scores that are gone: ", comparison.removed),
    ):
        if names:
            blocks.append(paragraph(word, name(listed(names)), "."))
    sections = tuple(_score(found, comparison, score) for score in comparison.scores)
    return Section("changed", title, tuple(blocks), sections)


def _score(found: Workings, comparison: Comparison, score: ScoreMoves) -> Section:
    verdict = comparison_verdict(score, comparison.players)
    blocks: list[Block] = [Points(tuple(found.sentences.runs(sentence) for sentence in verdict))]
    blocks += moves_picture(comparison, score, verdict[0])
    touched = moved(score) | came_or_went(score) | changed_place(score)
    if touched.any():
        blocks.append(_moves(comparison, score, touched))
    return Section(f"changed-{score.name}", (name(score.label),), tuple(blocks))


def _moves(comparison: Comparison, score: ScoreMoves, touched: np.ndarray) -> Table:
    order = sorted(np.flatnonzero(touched).tolist(), key=lambda i: (np.nan_to_num(score.new.rank[i], nan=np.inf), i))
    rows: list[tuple[str | Run | Runs, ...]] = []
    called = comparison.called
    for i in order:
        rows.append(
            (
                name(called.in_words(score.products[i])),
                place_text(score.old.rank[i]),
                place_text(score.new.rank[i]),
                score.old.shown[i] or ABSENT,
                score.new.shown[i] or ABSENT,
                ABSENT if np.isnan(score.move[i]) else f"{score.move[i]:+.3f}",
                ABSENT if np.isnan(score.u[i]) else f"{score.u[i]:.3f}",
                _is_told(score, i),
            )
        )
    heads = (
        "product",
        "place before #",
        "place now #",
        "score before #",
        "score now #",
        "move #",
        "u of the move #",
        "more than the bench's noise",
    )
    caption = runs(name(score.label), ": who moves.")
    note = runs(score.noise.at_best("Moves are held against the bench's noise.")) if score.noise.unknown else ()
    return table(f"moves-{score.name}", caption, heads, rows, note)


def _is_told(score: ScoreMoves, product: int) -> str:
    """Whether a move is more than noise makes of it; where not all noise is known and none of this move is, a dash."""
    if score.noise.unknown and np.isnan(score.u[product]):
        return ABSENT
    return "yes" if score.told[product] else "no"
