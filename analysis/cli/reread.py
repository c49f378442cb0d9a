"""`steelyard reread`: which product and measure to read again to settle a question of order; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of, scored
from analysis.cli.reports import deliver
from analysis.next_readings.report import reread_report
from analysis.next_readings.study import asked_of
from analysis.report.endings import check_output, is_one_file


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    settle: str,
    readings: int,
    only: Sequence[str],
    top: int,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Plan the readings and show the plan."""
    if out is not None:
        is_one_file(out)
    table = scored(formula, catalogue, settings, where)
    guard = guard_of([table.form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="reread")
    asked = asked_of(settle, top, table.catalogue)
    report = reread_report(table, asked, only, readings=readings, seed=seed)
    deliver(report, out=out, as_json=as_json, guard=guard)
