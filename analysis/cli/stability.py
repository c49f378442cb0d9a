"""`steelyard stability`: what becomes of the ranking under judgement, bench noise, and both; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of
from analysis.cli.long_work import announce, share_of, share_of_draws
from analysis.cli.reports import deliver
from analysis.cli.studies import load_for_study
from analysis.cli.terminal import progress_bar
from analysis.rankings.report import stability_report
from analysis.rankings.study import AskedOfRankings
from analysis.report.endings import check_output, is_one_file


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    *,
    where: Sequence[str] = (),
    only: Sequence[str],
    top: int | None,
    draws: int,
    coverage: float,
    at_once: bool,
    resolved: bool,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Run the study and show what it found."""
    if out is not None:
        is_one_file(out)
    made, table = load_for_study(formula, catalogue, settings, study, where=where, only=only, pairs=(), top=top)
    guard = guard_of([table.form], [catalogue], [study], force=force)
    if out is not None:
        check_output(out, guard, by="stability")
    share = share_of(only, table.form) * share_of_draws(draws)
    announce("stability", len(table.catalogue.products), share)
    asked = AskedOfRankings(draws, coverage, at_once, seed)
    with progress_bar("stability") as told:
        report = stability_report(made, table, asked, progress=told, resolved=resolved)
    deliver(report, out=out, as_json=as_json, guard=guard)
