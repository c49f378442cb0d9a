"""A comparison as one HTML page: no script, no network; every text of a file shown as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from analysis.cautions import cautions
from analysis.comparison.cause_words import short_name
from analysis.comparison.comparison import Comparison, Edition, ScoreMoves
from analysis.comparison.verdict import (
    came_or_went,
    changed_place,
    comparison_verdict,
    moved,
    overtaken_in_words,
    span,
    unscored,
)
from analysis.templates import Markup, content_hash, environment, svg_uri
from scoring.numbers.ranks import significant

ROOM = Path(__file__).parent
ABSENT = "–"
NUMBERS = ("place before", "place now", "score before", "score now", "move", "u of the move")
WORDS = ("more than the bench can tell", "shown", "group", "band", "why")
OVERTAKING = ("product", "place", "overtakes", "told apart", "these")
#: So many of those that a product overtakes are named.
NAMED = 12


@dataclass(frozen=True, slots=True)
class Row:
    """One product that moves: its cells under `NUMBERS` and under `WORDS`."""

    product: str
    numbers: tuple[str, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ScoreSection:
    """What the page says of one score; `figure` is SVG, empty if there is none."""

    label: str
    verdict: tuple[str, ...]
    figure: bytes
    rows: tuple[Row, ...]
    overtaking: tuple[tuple[str, ...], ...]
    unscored: str


def comparison_page(
    found: Comparison, settings: Sequence[str], figures: dict[str, bytes], notes: Sequence[str] = ()
) -> bytes:
    """The page; `figures` are SVG by score name; `notes` say what else the comparison rests on."""
    old, new = found.old.form, found.new.form
    style = (ROOM / "page.css").read_text(encoding="utf-8")
    templates = environment(ROOM, escape=True)
    templates.filters["svg_uri"] = svg_uri
    page = templates.get_template("page.html").render(
        title=f"{old.name} {old.version} against {new.name} {new.version}".strip(),
        style=Markup(style),
        style_hash=content_hash(style),
        old=found.old,
        new=found.new,
        settings=settings,
        changes=[change.says for change in found.changes],
        catalogue_changes=[player.says for player in found.players if player.kind in ("readings", "products")],
        notes=notes,
        numbers=NUMBERS,
        words=WORDS,
        overtaking=OVERTAKING,
        scores=[_section(found, score, figures.get(score.name, b"")) for score in found.scores],
        cautions=list(cautions(new)),
    )
    return page.encode()


def _section(found: Comparison, score: ScoreMoves, figure: bytes) -> ScoreSection:
    verdict = tuple(comparison_verdict(score, found.players))
    overtaking = tuple(overtaken_in_words(score, NAMED))
    return ScoreSection(score.label, verdict, figure, tuple(_rows(found, score)), overtaking, unscored(score))


def _rows(found: Comparison, score: ScoreMoves) -> Iterator[Row]:
    """Who moves, comes, goes or changes place, in the order of the new places."""
    touched = np.flatnonzero(moved(score) | came_or_went(score) | changed_place(score)).tolist()
    for i in sorted(touched, key=lambda i: (np.nan_to_num(score.new.rank[i], nan=np.inf), i)):
        yield Row(score.products[i], _numbers(score, i), _words(found, score, i))


def _numbers(score: ScoreMoves, i: int) -> tuple[str, ...]:
    return (
        _number(score.old.rank[i], "g"),
        _number(score.new.rank[i], "g"),
        _number(score.old.value[i], ".3f"),
        _number(score.new.value[i], ".3f"),
        _number(score.move[i], "+.3f"),
        _number(score.u[i], ".3f"),
    )


def _words(found: Comparison, score: ScoreMoves, i: int) -> tuple[str, ...]:
    return (
        "yes" if score.told[i] else "no",
        _both(score, i, "shown"),
        _now(*(span(edition.letters[i]) or ABSENT for edition in (score.old, score.new))),
        _both(score, i, "band"),
        _why(found, score, i),
    )


def _number(value: float, how: str) -> str:
    return ABSENT if np.isnan(value) else f"{value:{how}}"


def _both(score: ScoreMoves, i: int, what: str) -> str:
    def said(edition: Edition) -> str:
        return str(getattr(edition, what)[i]) or edition.status[i]

    return _now(said(score.old), said(score.new))


def _now(old: str, new: str) -> str:
    return old if old == new else f"{old}, now {new}"


def _why(found: Comparison, score: ScoreMoves, i: int) -> str:
    """Every cause's share of the move, the largest first."""
    shares = score.by_score.shares[:, i] if len(found.players) else np.empty(0)
    if not len(shares) or np.isnan(shares).any():
        return ABSENT
    order = [k for k in np.argsort(-np.abs(significant(shares)), kind="stable").tolist() if abs(shares[k]) >= 0.0005]
    output = found.new.column(score.name).output
    return "; ".join(f"{short_name(found.players[k].name, output)} {shares[k]:+.3f}" for k in order)
