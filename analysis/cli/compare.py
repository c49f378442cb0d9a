"""`steelyard compare`: who moves from one edition to another, why, and whether the bench can tell; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.asked_scores import unknown_scores
from analysis.cautions import cautions
from analysis.changes.changes import changes
from analysis.cli.inputs import guard_of, headed, load_form
from analysis.cli.long_work import announce, share_of
from analysis.cli.studies import TABLE_ENDINGS, check_output, is_table, write_results
from analysis.cli.terminal import print_json, print_table, say
from analysis.comparison.bridging import Bridge, bridged, read_bridge, unlike_the_catalogue
from analysis.comparison.cause_words import short_name
from analysis.comparison.comparison import Comparison, ScoreMoves, compare_tables, renamed_scores
from analysis.comparison.document import comparison_document, comparison_frame
from analysis.comparison.page import comparison_page
from analysis.comparison.verdict import (
    came_or_went,
    changed_place,
    comparison_verdict,
    moved,
    overtaken_in_words,
    span,
    unscored,
)
from analysis.outputs.whole_files import write_whole
from analysis.partial.document import partial_document
from analysis.partial.partial_place import first_places
from scoring.catalogue import Catalogue, read_catalogue
from scoring.errors import AddressError, CatalogueError, Place, Problem, nearest
from scoring.form import Form
from scoring.numbers.ranks import significant
from scoring.table.table import ScoreTable, score_catalogue

ABSENT = "–"
PAGE = ".html"
#: The width of a table where standard output is no terminal, if its words allow.
PIPED = 120
#: How many places the top are, where that is not asked for.
TOP = 5
#: Products that the terminal lists where several scores are shown.
LISTED = 8


def run(
    old: Path,
    new: Path,
    catalogue: Path,
    catalogue_new: Path | None,
    settings: Sequence[str],
    *,
    only: Sequence[str],
    top: int | None,
    bridge: Sequence[str],
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Compare and show."""
    to_page = out is not None and is_table(out, (PAGE, *TABLE_ENDINGS)) and out.suffix.lower() == PAGE
    forms = load_form(old, []), load_form(new, settings)
    readings = _readings(forms, catalogue, catalogue_new or catalogue)
    bridges, unlike = _bridges(bridge, readings, forms)
    mapped = [Path(one.partition("=")[2]) for one in bridge]
    guard = guard_of(forms, [catalogue, catalogue_new or catalogue], mapped, force=force)
    if out is not None:
        check_output(out, guard, by="compare", endings=(PAGE, *TABLE_ENDINGS))
    tables = score_catalogue(forms[0], readings[False, False]), score_catalogue(forms[1], readings[True, True])
    _check_scores(only, *tables)
    announce("compare", len(readings[True, True].products), share_of(only, forms[1]))
    found = compare_tables(*tables, readings, only=only, top=top or TOP, bridges=bridges, seed=seed)
    notes = [*(bridge_in_words(one, found) for one in bridges), *unlike]
    firsts = first_places(tables[1], [tables[1].column(score.name) for score in found.scores])
    notes += [f"In the new edition, {one.says}" for one in firsts]
    document = comparison_document(found, settings, seed, notes)
    document["first_places"] = partial_document(firsts, tables[1].catalogue.products)
    if to_page and out is not None:
        write_whole(out, _page(found, settings, notes), guard)
    elif out is not None:
        frame = comparison_frame(found, settings, seed)
        write_results(out, "compare", document, frame, lambda: _pictures(found, settings, notes), guard)
    if as_json:
        print_json(document)
        return
    show(found, settings)
    say(*notes)
    if out is not None:
        say(f"Written to {out}.")
    say(*(f"! {caution}" for caution in cautions(forms[1])))


def _page(found: Comparison, settings: Sequence[str], notes: Sequence[str]) -> bytes:
    from analysis.comparison.figures import place_figures

    return comparison_page(found, settings, place_figures(found), notes)


def _pictures(found: Comparison, settings: Sequence[str], notes: Sequence[str]) -> dict[str, bytes]:
    """The figures, and the page that holds those of places."""
    from analysis.comparison.figures import comparison_figures, places_among

    files = comparison_figures(found)
    return files | {"compare.html": comparison_page(found, settings, places_among(files, found), notes)}


def _readings(forms: tuple[Form, Form], old: Path, new: Path) -> dict[tuple[bool, bool], Catalogue]:
    """(new readings?, new formula?) to the catalogue as that formula reads it."""
    found = (
        {
            (is_new, by_new): read_catalogue(path, forms[by_new])
            for is_new, path in ((False, old), (True, new))
            for by_new in (False, True)
        }
        if old != new
        else {}
    )
    if not found:
        for by_new in (False, True):
            found[False, by_new] = found[True, by_new] = read_catalogue(old, forms[by_new])
    return found


def _bridges(
    asked: Sequence[str], readings: dict[tuple[bool, bool], Catalogue], forms: tuple[Form, Form]
) -> tuple[tuple[Bridge, ...], tuple[str, ...]]:
    """The bridges asked for, as MEASURE=FILE, and notes of what they do not share with the catalogue's old readings.

    The new readings are mapped by them.
    """
    found: list[Bridge] = []
    notes: list[str] = []
    for text in asked:
        measure, _, path = text.partition("=")
        known = readings[True, True].readings
        if not path or measure not in known:
            expected = "MEASURE=FILE, with a measure of the catalogue"
            hint = nearest(measure, known) if measure not in known else ""
            raise CatalogueError([Problem(Place("--bridge"), f"`{text}`", expected, hint)])
        if any(one.measure == measure for one in found):
            raise CatalogueError([Problem(Place("--bridge"), f"{measure} twice", "one bridge for each measure")])
        plausible = forms[1].measure(measure).plausible
        ends = (plausible[0].value, plausible[1].value) if plausible else (-np.inf, np.inf)
        bridge = read_bridge(Path(path), measure, readings[True, True], ends)
        is_old = measure in forms[0].measures_by_name and measure in readings[False, False].readings
        own = (forms[0], readings[False, False]) if is_old else (forms[1], readings[True, True])
        notes += unlike_the_catalogue(bridge, *own)
        for by_new in (False, True):
            readings[True, by_new] = bridged(readings[True, by_new], bridge)
        found.append(bridge)
    return tuple(found), tuple(notes)


def bridge_in_words(bridge: Bridge, found: Comparison) -> str:
    """A bridge's line, and how well it is known."""
    unit = found.new.form.units[bridge.measure]
    error = np.sqrt(bridge.covariance[1, 1])
    return (
        f"Bridge of {bridge.measure}: new = {bridge.intercept:.4g} + {bridge.slope:.4g} old ({unit}), from {len(bridge.new)}"
        f" products measured both ways (which keep their own new reading); slope give or take {error:.2g}, one product"
        f" {bridge.residual_sd:.2g} {unit} about the line. Its error is in u."
    )


def _check_scores(only: Sequence[str], old: ScoreTable, new: ScoreTable) -> None:
    before = renamed_scores(changes(old.form, new.form), new)
    known = [name for name in new.form.outputs_by_name if name in old.form.outputs_by_name or name in before]
    problems = unknown_scores(only, [*known, *before.values()], "a score or rating of both formulas")
    if problems:
        raise AddressError(problems)


def show(found: Comparison, settings: Sequence[str]) -> None:
    """Print what differs, then each score."""
    old, new = found.old.form, found.new.form
    say(f"{old.title}: {headed(old, [])}, against {headed(new, settings)}", "")
    if found.changes:
        say("What differs:", *(f"  {change.says}" for change in found.changes))
    else:
        say("The formulas do not differ.")
    says = {change.says for change in found.changes}
    say(*(f"  {p.says}" for p in found.players if p.kind not in ("edit", "structure") and p.says not in says), "")
    for word, names in (("New scores, with nothing to compare", found.added), ("Scores that are gone", found.removed)):
        if names:
            say(f"{word}: {', '.join(names)}.", "")
    for score in found.scores:
        say(*comparison_verdict(score, found.players), "")
        show_moves(found, score, in_full=len(found.scores) == 1)
        if len(found.scores) == 1:
            show_overtakings(score)


def show_moves(found: Comparison, score: ScoreMoves, *, in_full: bool) -> None:
    """Print the products that move, the largest climbs and falls first."""
    touched = moved(score) | came_or_went(score) | changed_place(score)
    size = np.where(np.isnan(score.climb), np.inf, np.abs(score.climb))
    order = [i for i in np.lexsort((-np.abs(np.nan_to_num(significant(score.move))), -size)).tolist() if touched[i]]
    shown = order if in_full else order[:LISTED]
    if not shown:
        return
    why = len(found.players) > 1
    headers = ["product", "place", "", "score", "", "move", "u", "shown", "group", "band", "why" if why else ""]
    rows = [_row(found, score, i) for i in shown]
    title = f"{score.label}: who moves"
    print_table(headers, rows, right=(2, 3, 4, 5, 6), unbroken=(1, 7, 8, 9), title=title, piped=PIPED, tight=True)
    rest = f" `--score {score.name}` lists all {len(order)}." if len(shown) < len(order) else ""
    say(
        "u: standard uncertainty of the move, the same readings under both;"
        f"{' why: the largest shares of the move, in points;' if why else ''} =: less than the bench can tell"
        f"{_critical(score)}.{rest}",
        *([unscored(score)] if in_full and unscored(score) else []),
        "",
    )


def _critical(score: ScoreMoves) -> str:
    return "" if np.isnan(score.critical) else f" ({score.critical:.1f} u, all products judged at once)"


def show_overtakings(score: ScoreMoves) -> None:
    """Print who overtakes whom among the pairs that the bench tells apart."""
    rows = [list(row) for row in overtaken_in_words(score, LISTED)]
    if rows:
        title = f"{score.label}: who overtakes whom, of those that the bench tells apart"
        headers = ["product", "place", "overtakes", "told apart", "these"]
        print_table(headers, rows, right=(2, 3), unbroken=(1,), title=title, piped=PIPED, tight=True)
        say("told apart: by the bench, before or now, all pairs of the table at once (95 %).", "")


def _row(found: Comparison, score: ScoreMoves, i: int) -> list[str]:
    return [
        score.products[i],
        f"{_place(score.old.rank[i])} -> {_place(score.new.rank[i])}",
        _climb(score.climb[i]),
        _figure(score.old.value[i]),
        _figure(score.new.value[i]),
        "" if np.isnan(score.move[i]) else f"{score.move[i]:+.3f}",
        _figure(score.u[i], 3),
        _both(score.old.shown[i], score.new.shown[i]),
        _both(span(score.old.letters[i]), span(score.new.letters[i])),
        _both(score.old.band[i], score.new.band[i]),
        _why(found, score, i),
    ]


def _why(found: Comparison, score: ScoreMoves, i: int) -> str:
    shares = score.by_score.shares[:, i] if len(found.players) else np.empty(0)
    if not len(shares) or np.isnan(shares).any():
        return "not published in both" if np.isnan(score.move[i]) else "no score in some mixture"
    mark = "" if score.told[i] or abs(score.move[i]) < 1e-9 else "= "
    if len(shares) == 1:  # it is all of the move
        return mark.strip()
    order = [k for k in np.argsort(-np.abs(significant(shares)), kind="stable").tolist() if abs(shares[k]) >= 0.0005][
        :2
    ]
    output = found.new.column(score.name).output
    return mark + ", ".join(f"{short_name(found.players[k].name, output)} {shares[k]:+.3f}" for k in order)


def _place(rank: float) -> str:
    return ABSENT if np.isnan(rank) else f"{rank:g}"


def _climb(climb: float) -> str:
    return "" if np.isnan(climb) else "0" if climb == 0 else f"{climb:+g}"


def _figure(value: float, digits: int = 2) -> str:
    return ABSENT if np.isnan(value) else f"{value:.{digits}f}"


def _both(old: str, new: str) -> str:
    return old if old == new else f"{old or ABSENT} -> {new or ABSENT}"
