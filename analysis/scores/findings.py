"""One sentence to each picture of a score table: what is to be seen on it, for whoever does not see it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.figures.canvas import shortened
from analysis.figures.contribution_bars import Split
from analysis.figures.track import CurveTrack
from analysis.figures.uncertainty import Known, printed_u
from analysis.rankings.distinguishable import Distinguishable
from analysis.scores.curve_track import FAR
from analysis.scores.places import placeless
from analysis.wording import counted
from scoring.numbers.array_types import Array, Indices
from scoring.table.table import Column, ScoreTable

#: So many turns of a curve are told one by one.
MOST_TURNS = 4
#: So many levels of a table of steps are told one by one.
MOST_LEVELS = 6
#: Changes of a curve below this share of its range are the dust of binary arithmetic.
DUST = 1e-9
#: A place nearer to a jump than this share of the track's length is told as lying beside it.
BESIDE = 2 * FAR


def strip_finding(table: ScoreTable, first: Column, placed: list[int], label: str) -> str:
    """How many ratings of how many products, who leads, and how many cells are empty."""
    empty = sum(int(np.isnan(column.value[table.rows]).sum()) for column in table.ratings)
    said = f"{counted(len(table.ratings), 'rating')} of {counted(len(table.rows), 'product')}"
    said += f" in the order of {label}"
    if placed:
        said += f", {shortened(table.catalogue.products[placed[0]])} first with {first.shown_text(placed[0])}"
    if not empty:
        return f"{said}; no cell is empty."
    return f"{said}; {counted(empty, 'cell')} {'is' if empty == 1 else 'are'} empty."


def parts_finding(column: Column, split: Split, label: str) -> str:
    """Which part gives the first product most, and how many scores a limit changes."""
    first = split.shares[0]
    said = f"{counted(len(split.products), 'product')} by {label}: {shortened(split.products[0])} is first"
    said += f" with {split.texts[0]}"
    if not np.isnan(first).all():
        most = int(np.nanargmax(first))
        said += f", {first[most]:.1f} points of it from {split.parts[most]}"
    limited = int((split.limits != 0).sum())
    if any(limit.apply.value == "always" for limit in column.output.limits):
        said += f"; limits change {limited or 'none'} of the scores"
    return f"{said}{_left_out(column, split.marks)}."


def known_finding(column: Column, told: Distinguishable, known: Known, label: str) -> str:
    """The median standard uncertainty, and how many products share a letter with the first."""
    middle = printed_u(float(np.median(told.sd)))
    others = sum(bool(set(row) & set(known.letters[0])) for row in known.letters) - 1
    alone = "it shares no letter with another"
    beside = f"it shares a letter with {counted(others, 'other')}" if others else alone
    return told.noise.at_best(
        f"{counted(len(known.products), 'product')} by {label}: the standard uncertainty is {middle} points at the median;"
        f" {shortened(known.products[0])} is first, and {beside}{_left_out(column, known.marks)}."
    )


def _left_out(column: Column, marks: Sequence[str]) -> str:
    """How many of the scores drawn are partial, and how many products have no place."""
    partial = sum("*" in mark for mark in marks)
    said = ""
    if partial:
        said = f"; {partial} of the scores {'is' if partial == 1 else 'are'} partial"
    absent = placeless(column)
    return said + (f"; {absent} without a place" if absent else "")


def curve_finding(what: str, track: CurveTrack, unit: str) -> str:
    """Where the curve rises and falls, its jumps, and how many readings lie outside its ends."""
    along = "" if unit == "no unit" else f" {unit}"
    said = _levels(track, along)
    if not said:
        said = _course(track, along)
        if len(track.jumps):
            said += f", with {counted(len(track.jumps), 'jump')}"
    said += f"; {counted(len(track.readings) + track.unseen, 'reading')}"
    if track.ends is not None:
        outside = len(track.readings) + track.unseen - int(track.inside.sum())
        said += f", {outside or 'none'} outside {'the reference' if track.leans else 'the anchors'}"
    return f"{what}: {said}."


def _levels(track: CurveTrack, unit: str) -> str:
    """The levels of a table of steps, each from its place on; "" for a curve that moves elsewhere too."""
    if not len(track.jumps):
        return ""
    places, before, here, after = track.jumps.T
    moves = track.y[~np.isnan(track.y)]
    met = np.concatenate([before[:1], after])
    nothing = DUST * max(float(np.ptp(moves)), DUST)
    level = (np.abs(moves[:, None] - met) <= nothing).any(axis=1).all() and (np.abs(before - met[:-1]) <= nothing).all()
    if not level or (np.abs(here - after) > nothing).any():
        return ""
    first = f"{_points(before[0])} below {places[0]:.4g}{unit}"
    told = [f"{value:.3g} from {place:.4g}{unit}" for place, value in zip(places, after, strict=True)]
    if len(met) > MOST_LEVELS:
        left_out = counted(len(told) - 2, "level")
        told = [told[0], f"{left_out} more", told[-1]]
    return ", ".join([first, *told]) + " on"


def _course(track: CurveTrack, unit: str) -> str:
    """From where it starts to move to where it ends, over where it turns."""
    known = np.flatnonzero(~np.isnan(track.y))
    x, y = track.x[known], track.y[known]
    steps = np.diff(y)
    signs = np.where(np.abs(steps) > DUST * max(float(np.ptp(y)), DUST), np.sign(steps), 0.0)
    moving = np.flatnonzero(signs)
    if not len(moving):
        return f"{_points(y[0])} throughout"
    turns = _turns(signs, moving)
    stops = [int(moving[0]), *(turns if len(turns) <= MOST_TURNS else []), int(moving[-1]) + 1]
    words = [f"{_points(y[i])} {_place(track, float(x[i]), unit)}" for i in stops]
    more = f", turning {len(turns)} times" if len(turns) > MOST_TURNS else ""
    return "from " + ", over ".join(words[:-1]) + f" to {words[-1]}{more}"


def _place(track: CurveTrack, x: float, unit: str) -> str:
    """A place along the measure in words; beside a jump, on which side of it."""
    length = float(np.ptp(track.x))
    nothing = DUST * length
    jumps = track.jumps[:, 0]
    near = jumps[np.abs(jumps - x) <= BESIDE * length]
    if len(near):
        jump = float(near[np.abs(near - x).argmin()])
        side = "just below" if x < jump else "just above"
        told = jump if abs(jump) > nothing else 0.0
        return f"{'at' if x == jump else side} {told:.4g}{unit}"
    return f"at {x if abs(x) > nothing else 0:.4g}{unit}"


def _turns(signs: Array, moving: Indices) -> list[int]:
    """Where a curve turns from rising to falling or back: the middle of its level stretch there."""
    pairs = zip(moving[:-1].tolist(), moving[1:].tolist(), strict=True)
    return [(a + 1 + b) // 2 for a, b in pairs if signs[a] != signs[b]]


def _points(value: float) -> str:
    text = f"{value:.3g}"
    return f"{text} point" if text == "1" else f"{text} points"
