"""Two editions compared, as a report: the comparison itself, and what is said and shown of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from analysis.asked import unknown_scores
from analysis.changes.changes import changes
from analysis.comparison.bridging import bridge_in_words
from analysis.comparison.cause_words import short_name
from analysis.comparison.comparison import DUST, Comparison, Edition, ScoreMoves, compare_tables, renamed_scores
from analysis.comparison.document import comparison_body, comparison_frame
from analysis.comparison.editions import Editions, editions_of, selecting
from analysis.comparison.in_classes import figures_in_words
from analysis.comparison.players import PRODUCTS, READINGS
from analysis.comparison.verdict import comparison_verdict, letters_span, overtaking_in_words, touched, unscored
from analysis.partial.partial_place import first_places
from analysis.records.finding_lists import finding_list
from analysis.report import source
from analysis.report.given import Given, Readings, Scores, formula_of, names_of
from analysis.report.pictures import Picture
from analysis.report.report import Block, Report, Said, Section
from analysis.report.tables import (
    Column,
    OnScreen,
    Table,
    Values,
    and_now,
    changed,
    computed,
    counts,
    figures,
    strongest_first,
    words,
)
from analysis.wording import fixed, place_text, signed, some
from scoring.errors import AddressError
from scoring.numbers.ranks import significant
from scoring.table.selection import Where
from scoring.table.table import ScoreTable

#: How many places the top are, where that is not asked for.
TOP = 5
#: Products that the terminal lists where several scores are shown, and names in a cell; a page names more of them.
LISTED, NAMED = 8, 12
#: Readings that changed, on a terminal, and what stands over them.
MOST_READINGS, READINGS_CHANGED = 20, "Readings that changed:"
#: The width of a table where standard output is no terminal, if its words allow.
PIPED = 120
#: Causes that the terminal names of a move, and the smallest share that is named, in points.
MOST_CAUSES, LEAST_SHARE = 2, 0.0005
BEYOND = "more than the bench can tell"


def compare(
    old: Given,
    new: Given,
    catalogue: Readings,
    *,
    catalogue_new: Readings | None = None,
    scores: Scores = (),
    top: int | None = None,
    bridges: Mapping[str, str | Path] | None = None,
    where: Where = None,
    seed: int = 0,
) -> Report:
    """Who moves from one edition to another, why, and whether the bench can tell.

    Parameters
    ----------
    old, new : a formula each, read, or the path of its file; they may be the same
    catalogue : read, a pandas frame, or the path of its file; what is given as a frame or a path is read for either formula, so
        that the formulas may call a measure otherwise
    catalogue_new : the readings under `new`, where they are others
    scores : which ones, by their old or new names; all that both have by default
    top : how many places the top are, 5 by default
    bridges : a measure whose method is another now -> the file of products that were measured both ways (columns product,
        old, new)
    where : the products looked at, as `score` takes them, by their words in the new catalogue, where that has them

    Returns
    -------
    Report : `found` is a `Comparison`

    Raises
    ------
    SteelyardError : a fault of a formula, a catalogue or a bridge, or a score that is not in both

    Examples
    --------
    >>> from analysis import compare
    >>> from scoring import read_formula
    >>> beds = read_formula("beds.yaml")
    >>> report = compare(beds, beds.set({"scores.reading_upright.weights.quiet": 3}), "beds.csv")
    >>> report.frames["reading_upright.moves"][["product", "old_rank", "new_rank", "move"]].round(3)
      product  old_rank  new_rank   move
    0    A-02       1.0       1.0 -1.012
    1    A-03       3.0       3.0  0.875
    2    A-01       2.0       2.0 -0.308
    """
    editions = editions_of((formula_of(old), formula_of(new)), catalogue, catalogue_new, bridges or {})
    return compare_report(selecting(editions, where), names_of(scores), top=top, seed=seed)


def compare_report(editions: Editions, scores: Sequence[str], *, top: int | None, seed: int) -> Report:
    """The same of two editions that were read.

    Raises
    ------
    SteelyardError : a formula that does not fit its catalogue, or a score that is not in both
    """
    old, new = editions.scored()
    _check_scores(scores, old, new)
    found = compare_tables(
        old, new, editions.readings, only=scores, top=top or TOP, bridges=editions.bridges, seed=seed
    )
    lines = [bridge_in_words(bridge, found.new.form.units[bridge.measure]) for bridge in editions.bridges]
    return comparison_report(found, (*lines, *editions.notes), seed=seed)


def _check_scores(asked: Sequence[str], old: ScoreTable, new: ScoreTable) -> None:
    """Refuse a score that is not in both formulas, under either name."""
    before = renamed_scores(changes(old.form, new.form), new)
    known = [name for name in new.form.outputs_by_name if name in old.form.outputs_by_name or name in before]
    problems = unknown_scores(asked, [*known, *before.values()], "a score or rating of both formulas")
    if problems:
        raise AddressError(problems)


def comparison_report(found: Comparison, notes: Sequence[str] = (), *, seed: int) -> Report:
    """The same of a comparison that was made.

    Parameters
    ----------
    notes : what it rests on besides, in sentences
    """
    old, new = found.old, found.new
    firsts = first_places(new, [new.column(score.name) for score in found.scores])
    closing = (*notes, *(f"In the new edition, {one.says}" for one in firsts))
    editions = {
        "old": source.Edition(old.form, old.catalogue),
        "new": source.Edition(new.form, new.catalogue),
    }
    before = source.Source({"": editions["old"]}, old.settings)
    about = {"set_on_old": old.settings} if old.settings else {}
    made_from = source.Source(editions, new.settings, seed, about=about, selected=new.selected)
    return Report(
        command="compare",
        title=f"{new.form.title}: {before.headed} against {made_from.headed}",
        heading=f"{old.form.title}: {before.headed}, against {made_from.headed}",
        source=made_from,
        sections=(_differences(found), *(_section(found, number) for number in range(len(found.scores)))),
        body=lambda: comparison_body(found, closing, firsts),
        whole=lambda: comparison_frame(found),
        found=found,
        closing=closing,
    )


def _differences(found: Comparison) -> Section:
    """What differs between the editions, and which scores only one of them has."""
    only_one = (("New scores, with nothing to compare", found.added), ("Scores that are gone", found.removed))
    return Section(
        "",
        "What differs",
        () if found.changes else ("The formulas do not differ.",),
        (
            changes_table(found),
            *finding_list("readings_changed", READINGS_CHANGED, found.readings_changed, MOST_READINGS, close=True),
            *(Said((f"{said}: {', '.join(names)}.",)) for said, names in only_one if names),
        ),
        close=True,
    )


def changes_table(found: Comparison) -> Table:
    """Every change of the formula by its address, then what differs in the readings and in who is in the catalogue."""
    said = {change.says for change in found.changes}
    others = [one for one in found.players if one.kind in (READINGS, PRODUCTS) and one.says not in said]
    sentences = [*(change.says for change in found.changes), *(one.says for one in others)]
    none = [""] * len(others)
    return Table(
        "changes",
        "Each change, and the address at which it stands",
        (
            words("says", "what differs", sentences),
            words("at", "address", [*(change.at for change in found.changes), *none], kind="code"),
        ),
        hidden={
            "kind": [*(change.kind for change in found.changes), *(one.kind for one in others)],
            "before": [*(change.before for change in found.changes), *none],
            "after": [*(change.after for change in found.changes), *none],
        },
        on_screen=OnScreen(
            lines=(*(["What differs:"] if found.changes else []), *(f"  {sentence}" for sentence in sentences))
        ),
    )


def _section(found: Comparison, number: int) -> Section:
    """One score of a comparison, by its number."""
    score = found.scores[number]
    blocks: list[Block] = [moves_table(found, score)]
    if unscored(score):
        blocks.append(Said((unscored(score),), in_full=True))
    return Section(
        score.name,
        score.label,
        comparison_verdict(score, found.players),
        (*blocks, overtakings_table(score)),
        pictures=partial(_pictures, found, number),
        in_full=len(found.scores) == 1,
    )


def _pictures(found: Comparison, number: int) -> tuple[Picture, ...]:
    from analysis.comparison.figures import comparison_pictures

    return comparison_pictures(found, number)


def moves_table(found: Comparison, score: ScoreMoves) -> Table:
    """Who moves, comes, goes or changes place, the largest climbs and falls first."""
    old, new, move = score.old, score.new, score.move
    output = found.new.column(score.name).output
    why = _Why(tuple(short_name(player.name, output) for player in found.players))
    order = _largest_first(score)
    several = len(found.scores) > 1
    return Table(
        "moves",
        f"{score.label}: who moves",
        (
            words("product", "product", score.products, kind="name"),
            _places(old, new),
            computed("by", {"climb": score.climb}, _climb, unit="place"),
            *_in_classes(old, new),
            _value("old_value", "score", old),
            _value("new_value", "now", new),
            computed("move", {"move": move}, _move, unit="points"),
            figures("u", "u", score.u, 3, unit="points"),
            Column(BEYOND, {"told": score.told, "u": score.u}, partial(_is_beyond, bool(score.noise.unknown))),
            _both("shown", {"old_shown": old.shown, "new_shown": new.shown}, str),
            _both("group", _letters(old, new), _group),
            _both("band", {"old_band": old.band, "new_band": new.band}, str),
            Column(
                "why",
                _of_why(found, score),
                why.in_full,
                brief=why.in_brief,
            ),
        ),
        notes=(
            "by: places gained. u: standard uncertainty of the move, the same readings under both.",
            _beyond(score),
            _grouped(score),
            "why: each cause's share of the move, in points.",
        ),
        rows=order,
        on_screen=OnScreen(
            most=LISTED if several else None,
            tight=True,
            width=PIPED,
            notes=(_legend(found, score, len(order) if several else 0),),
            without=(BEYOND,),
        ),
    )


def _largest_first(score: ScoreMoves) -> list[int]:
    """Who is touched: who came or went first, then by places, then by points."""
    there = touched(score)
    places = np.where(np.isnan(score.climb), np.inf, np.abs(score.climb))
    points = np.abs(np.nan_to_num(significant(score.move)))
    return [row for row in np.lexsort((-points, -places)).tolist() if there[row]]


def _places(old: Edition, new: Edition, rows: Sequence[int] | None = None) -> Column:
    """Both places of each product, or of some of them."""
    ranks = (old.rank, new.rank) if rows is None else (old.rank[list(rows)], new.rank[list(rows)])
    return Column(
        "place",
        {"old_rank": ranks[0], "new_rank": ranks[1]},
        lambda before, now: and_now(place_text(before), place_text(now)),
        "place",
        unbroken=True,
        brief=lambda before, now: f"{place_text(before)} -> {place_text(now)}",
    )


def _in_classes(old: Edition, new: Edition) -> list[Column]:
    """Both places within the class of each product, where either edition counts them."""
    within = new.within or old.within
    if within is None:
        return []
    fields = {
        "old_in_class": figures_in_words(old.within, len(old.status)),
        "new_in_class": figures_in_words(new.within, len(new.status)),
    }
    return [_both(f"in {within.classes.label}", fields, str)]


def _climb(climb: float) -> str:
    if math.isnan(climb):
        return ""
    return f"{climb:+g}" if climb else "0"


def _value(key: str, heading: str, edition: Edition) -> Column:
    """A score, to two decimals on a terminal: what is shown of it stands beside it."""
    says, brief = partial(fixed, places=3), partial(fixed, places=2)
    return Column(heading, {key: edition.value}, says, "points", numeric=True, brief=brief)


def _move(move: float) -> str:
    return "" if math.isnan(move) else signed(move, 3)


def _letters(old: Edition, new: Edition) -> dict[str, list[str]]:
    return {
        "old_letters": [" ".join(own) for own in old.letters],
        "new_letters": [" ".join(own) for own in new.letters],
    }


def _group(letters: str) -> str:
    return letters_span(letters.split())


def _both(heading: str, fields: Mapping[str, Values], says: Callable[[Any], str]) -> Column:
    """What stood there before and what stands there now."""
    return Column(
        heading,
        fields,
        lambda before, now: and_now(says(before), says(now)),
        unbroken=True,
        brief=lambda before, now: changed(says(before), says(now)),
    )


def _of_why(found: Comparison, score: ScoreMoves) -> dict[str, Values]:
    """What `_Why` goes by: of each move what is known of it, then each cause's share, as files have them."""
    known: dict[str, Values] = {
        "move": score.move,
        "told": score.told,
        "u": score.u,
        "old_status": score.old.status,
        "new_status": score.new.status,
    }
    return known | {f"why {player.name}": score.by_score.shares[k] for k, player in enumerate(found.players)}


@dataclass(frozen=True, slots=True)
class _Why:
    """What a move comes of, by the causes' names: what `_of_why` has of one product."""

    causes: tuple[str, ...]

    def in_full(self, move: float, _told: bool, _u: float, before: str, now: str, *shares: float) -> str:
        """Every cause, the largest share first; or why a product was not published, and when."""
        if math.isnan(move):
            return f"not published in both: {before} before, {now} now"
        return self._unknown(move, shares) or "; ".join(self._largest(shares))

    def in_brief(self, move: float, told: bool, u: float, _before: str, _now: str, *shares: float) -> str:
        """The first causes, after a mark where the bench cannot tell the move; the mark alone where there is one cause.

        Without a known u nothing is said of what the bench can tell.
        """
        unknown = self._unknown(move, shares)
        if unknown:
            return unknown
        mark = "" if told or math.isnan(u) or abs(move) < DUST else "= "
        if len(shares) == 1:  # it is all of the move
            return mark.strip()
        return mark + ", ".join(self._largest(shares)[:MOST_CAUSES])

    def _unknown(self, move: float, shares: Sequence[float]) -> str:
        """Why there are no shares, "" where there are."""
        if shares and not any(math.isnan(share) for share in shares):
            return ""
        return "not published in both" if math.isnan(move) else "no score in some mixture"

    def _largest(self, shares: Sequence[float]) -> list[str]:
        order = strongest_first(np.abs(significant(np.array(shares))))
        return [f"{self.causes[k]} {signed(shares[k], 3)}" for k in order if abs(shares[k]) >= LEAST_SHARE]


def _grouped(score: ScoreMoves) -> str:
    """What letters say; that there are none, where no noise is known."""
    if score.noise.is_nothing:
        return f"group: none, for {score.noise.not_known}."
    return score.noise.at_best("group: products that share a letter cannot be told apart on the bench, before and now.")


def _is_beyond(is_partly_known: bool, told: bool, u: float) -> str:
    """Whether a move is; where not all noise is known and none of this move is, nothing is said."""
    if is_partly_known and math.isnan(u):
        return "not known"
    return "yes" if told else "no"


def _beyond(score: ScoreMoves) -> str:
    """What is more than the bench can tell; that nothing is, where no noise of a move is known."""
    if score.noise.unknown and not score.is_known:
        return f"{BEYOND}: said of no move, for no noise of any is known; {score.noise.of_nothing}."
    said = f"{BEYOND}: beyond what noise makes of the move, the same readings under both{_critical(score)}."
    return score.noise.at_best(said)


def _critical(score: ScoreMoves) -> str:
    """How far that is, where any noise is known."""
    return "" if math.isnan(score.critical) else f" ({score.critical:.1f} u, all products judged at once)"


def _legend(found: Comparison, score: ScoreMoves, listed_of: int) -> str:
    """What a terminal says under who moves; listed_of: how many there are, of whom it lists a few; 0 where it lists all."""
    parts = ["u: standard uncertainty of the move, the same readings under both"]
    if len(found.players) > 1:
        parts.append("why: the largest shares of the move, in points")
    if score.noise.unknown and not score.is_known:
        parts.append(f"–: no noise of the move is known, and {score.noise.of_nothing}.")
    else:
        parts.append(score.noise.at_best(f"=: less than the bench can tell{_critical(score)}."))
    rest = f" `--score {score.name}` lists all {listed_of}." if listed_of > LISTED else ""
    return "; ".join(parts) + rest


def overtakings_table(score: ScoreMoves) -> Table:
    """Who overtakes whom among the pairs that the bench tells apart: a row a product that overtakes one."""
    swaps = score.overtakings
    passed, _ = swaps.counts(len(score.products))
    told, _ = swaps.counts(len(score.products), told=True)
    rows = list(dict.fromkeys(swaps.above[swaps.told].tolist()))
    return Table(
        "overtakings",
        score.noise.marked(f"{score.label}: who overtakes whom, of those that the bench tells apart"),
        (
            words("product", "product", [score.products[row] for row in rows], kind="name"),
            _places(score.old, score.new, rows),
            counts("overtakes", "overtakes", passed[rows].tolist()),
            counts("overtakes_told", "told apart", told[rows].tolist()),
            Column(
                "these",
                {"these": [_overtaken(score, row) for row in rows]},
                partial(some, most=NAMED),
                brief=partial(some, most=LISTED),
            ),
        ),
        notes=(score.noise.at_best("told apart: by the bench, before or now, all pairs of the table at once (95 %)."),),
        on_screen=OnScreen(in_full=True, tight=True, width=PIPED),
    )


def _overtaken(score: ScoreMoves, product: int) -> tuple[str, ...]:
    """Those whom a product overtakes and who are told apart from it, each with when."""
    swaps = score.overtakings
    own = np.flatnonzero(swaps.told & (swaps.above == product)).tolist()
    return tuple(overtaking_in_words(score, swap).removeprefix(f"{score.products[product]} past ") for swap in own)
