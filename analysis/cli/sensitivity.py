"""`steelyard sensitivity`: which argument moves a score, a rank, a winner; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of
from analysis.cli.reports import deliver
from analysis.cli.studies import load_for_study
from analysis.cli.terminal import progress_bar
from analysis.indices.report import AskedOfIndices, precision_reached, sensitivity_report
from analysis.report.endings import check_output, is_one_file


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    asked: AskedOfIndices,
    *,
    where: Sequence[str] = (),
    only: Sequence[str] = (),
    pairs: Sequence[str] = (),
    top: int | None = None,
    as_json: bool = False,
    out: Path | None = None,
    force: bool = False,
) -> bool:
    """Run the study and show what it found; gives whether the precision that was asked for is reached."""
    asked.check()
    if out is not None:
        is_one_file(out)
    made, table = load_for_study(formula, catalogue, settings, study, where=where, only=only, pairs=pairs, top=top)
    guard = guard_of([table.form], [catalogue], [study], force=force)
    if out is not None:
        check_output(out, guard, by="sensitivity")
    with progress_bar("sensitivity") as told:
        report = sensitivity_report(made, table, asked, told)
    deliver(report, out=out, as_json=as_json, guard=guard)
    return precision_reached(report)
