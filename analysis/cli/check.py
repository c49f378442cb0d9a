"""`steelyard check`: what is proved of a formula, what is refuted, and what to look at; repeats; lists to copy."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.claims.report import check_report
from analysis.cli.inputs import guard_of, load_form, refuse_where, set_aside
from analysis.cli.lists import show_addresses, show_reference
from analysis.cli.reports import deliver
from analysis.repeats.report import repeatability_report
from analysis.report.endings import check_output, is_one_file
from scoring.catalogue import Catalogue, read_catalogue
from scoring.errors import CatalogueError, FileError, Place, Problem

MORE = "Give a catalogue as well for the warnings that need readings (saturation, what the bench can tell apart)."
ADDRESSES, REFERENCE, REPEATABILITY = "--addresses", "--reference", "--repeatability"


def run(
    formula: Path,
    catalogue: Path | None,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    instead: str,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> bool:
    """Check and show; whether a claim is refuted, or a guess stands that a human must decide.

    Parameters
    ----------
    instead : the option that asks for something else in place of the claims, "" for none
    """
    if out is not None:
        _check_out(out, instead)
    if instead:
        refuse_where(where, instead, f"{instead} alone: it is of the whole catalogue, or of the formula")
    form = load_form(formula, settings)
    if instead == ADDRESSES:
        show_addresses(form, as_json)
        return False
    if instead == REFERENCE:
        show_reference(form, catalogue, as_json)
        return False
    guard = guard_of([form], [catalogue] if catalogue is not None else [], force=force)
    if out is not None:
        check_output(out, guard, by="repeatability" if instead else "check")
    readings = read_catalogue(catalogue, form) if catalogue is not None else None
    if instead == REPEATABILITY:
        report = repeatability_report(form, _needed(readings), settings)
        deliver(report, out=out, as_json=as_json, guard=guard, warned=False)
        return False
    if readings is None:
        refuse_where(where, "a formula alone", "a CATALOGUE beside it, whose products have attributes")
    report = check_report(form, readings, settings, where=where, seed=seed)
    deliver(report, out=out, as_json=as_json, guard=guard, closing=_closing(readings), warned=False)
    return bool(report.found.is_unsettled)


def _check_out(out: Path, instead: str) -> None:
    """Refuse a place that cannot be, and a file of what is printed to be copied."""
    if instead in (ADDRESSES, REFERENCE):
        found = f"`{out}` beside {instead}"
        raise FileError([Problem(Place("--out"), found, f"{instead} alone, which prints a list to copy, or --json")])
    is_one_file(out)


def _needed(readings: Catalogue | None) -> Catalogue:
    if readings is None:
        expected = "a CATALOGUE whose repeats are looked at"
        raise CatalogueError([Problem(Place(REPEATABILITY), "no catalogue", expected)])
    return readings


def _closing(readings: Catalogue | None) -> tuple[str, ...]:
    """What a terminal says at the end: what a catalogue would add, or what of it was set aside."""
    return (MORE,) if readings is None else tuple(set_aside(readings))
