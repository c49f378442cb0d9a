"""A comparison as one HTML page: no script, no network; every text of a file shown as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from analysis.comparison.cause_words import short_name
from analysis.comparison.comparison import Comparison, Edition, ScoreMoves
from analysis.comparison.verdict import came_or_went, changed_place, comparison_verdict, moved, span, unscored
from analysis.scores.document import cautions
from analysis.templates import svg_uri

ABSENT = "–"
STYLE = """
body { font: 16px/1.5 Georgia, serif; max-width: 70rem; margin: 2rem auto; padding: 0 1rem; color: #111; background: #fff; }
table { border-collapse: collapse; margin: 1rem 0; font: 14px/1.4 "Helvetica Neue", Arial, sans-serif; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
th, td { padding: .2rem .6rem; border-bottom: 1px solid #999; text-align: left; vertical-align: top; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; }
figure { margin: 1rem 0; }
img { max-width: 100%; height: auto; }
@media print { body { max-width: none; margin: 0; } }
"""
HEADERS = (
    ("product", ""), ("place before", "n"), ("place now", "n"), ("score before", "n"), ("score now", "n"),
    ("move", "n"), ("u of the move", "n"), ("more than the bench can tell", ""), ("shown", ""), ("group", ""),
    ("band", ""), ("why", ""),
)  # fmt: skip
KEY = (
    "group: products that share a letter cannot be told apart on the bench, before and now; why: each cause's share of the move,"
    " in points."
)


def comparison_page(
    found: Comparison, settings: Sequence[str], figures: dict[str, bytes], notes: Sequence[str] = ()
) -> bytes:
    """The page; `figures` are SVG by score name; `notes` say what else the comparison rests on."""
    old, new = found.old.form, found.new.form
    title = f"{old.name} {old.version} against {new.name} {new.version}".strip()
    body = [
        f"<h1>{escape(title)}</h1>",
        f"<p>{escape(new.title)}. Formula {old.sha256[:12]} against {new.sha256[:12]}, catalogue"
        f" {found.old.catalogue.sha256[:12]} against {found.new.catalogue.sha256[:12]}.</p>",
        *([f"<p>Tried on the second: {escape(', '.join(settings))}.</p>"] if settings else []),
        "<h2>What differs</h2>",
        _list([change.says for change in found.changes] or ["The formulas do not differ."]),
        _list([p.says for p in found.players if p.kind in ("readings", "products")]),
        _list(notes),
        *(line for score in found.scores for line in _score(found, score, figures.get(score.name, b""))),
        "<h2>Cautions</h2>",
        _list(list(cautions(new))),
    ]
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    head = (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{STYLE}</style></head><body><main>\n'
    )
    return (head + "\n".join(body) + "\n</main></body></html>\n").encode()


def _list(items: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items) + "</ul>" if items else ""


def _score(found: Comparison, score: ScoreMoves, figure: bytes) -> Iterator[str]:
    verdict = comparison_verdict(score, found.players)
    yield f"<h2>{escape(score.label)}</h2>"
    yield "".join(f"<p>{escape(sentence)}</p>" for sentence in verdict)
    if figure:
        picture = svg_uri(figure)
        yield f'<figure><img src="{picture}" alt="{escape(verdict[0], quote=True)}"></figure>'
    touched = np.flatnonzero(moved(score) | came_or_went(score) | changed_place(score)).tolist()
    if touched:
        cells = "".join(f'<th scope="col" class="{kind}">{name}</th>' for name, kind in HEADERS)
        order = sorted(touched, key=lambda i: (np.nan_to_num(score.new.rank[i], nan=np.inf), i))
        rows = "".join(_row(found, score, i) for i in order)
        caption = f"<caption>{escape(score.label)}: who moves</caption>"
        yield f"<table>{caption}<thead><tr>{cells}</tr></thead><tbody>{rows}</tbody></table>"
        yield f"<p>{escape(KEY)}</p>"
    if unscored(score):
        yield f"<p>{escape(unscored(score))}</p>"


def _row(found: Comparison, score: ScoreMoves, i: int) -> str:
    figures = [
        _number(score.old.rank[i], "g"),
        _number(score.new.rank[i], "g"),
        _number(score.old.value[i], ".3f"),
        _number(score.new.value[i], ".3f"),
        _number(score.move[i], "+.3f"),
        _number(score.u[i], ".3f"),
    ]
    words = [
        "yes" if score.told[i] else "no",
        _both(score, i, "shown"),
        _now(*(span(edition.letters[i]) or ABSENT for edition in (score.old, score.new))),
        _both(score, i, "band"),
        _why(found, score, i),
    ]
    cells = "".join(f'<td class="n">{text}</td>' for text in figures) + "".join(f"<td>{escape(t)}</td>" for t in words)
    return f'<tr><th scope="row">{escape(score.products[i])}</th>{cells}</tr>'


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
    order = [k for k in np.argsort(-np.abs(shares), kind="stable").tolist() if abs(shares[k]) >= 0.0005]
    output = found.new.column(score.name).output
    return "; ".join(f"{short_name(found.players[k].name, output)} {shares[k]:+.3f}" for k in order)
