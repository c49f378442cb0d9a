"""`steelyard flip`: what turns the order of two products round, or puts one first, each change confirmed by scoring again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of, scored
from analysis.cli.reports import deliver
from analysis.flips.report import flip_report
from analysis.flips.study import Asked
from analysis.report.endings import check_output, is_one_file


def run(
    formula: Path,
    catalogue: Path,
    asked: Asked,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Look for the smallest changes, and show them."""
    if out is not None:
        is_one_file(out)
    table = scored(formula, catalogue, settings, where)
    guard = guard_of([table.form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="flip")
    deliver(flip_report(table, asked, seed=seed), out=out, as_json=as_json, guard=guard)
