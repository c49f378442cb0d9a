"""`steelyard explain`: one product's figures, number by number."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of, scored
from analysis.cli.reports import deliver
from analysis.explanation.explanation import explanation_of
from analysis.explanation.report import explanation_report
from analysis.report.endings import check_output, is_one_file


def run(
    formula: Path,
    catalogue: Path,
    product: str,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    only: str | None,
    without: Sequence[str],
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Explain and show."""
    if out is not None:
        is_one_file(out)
    table = scored(formula, catalogue, settings, where)
    guard = guard_of([table.form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="explain")
    found = explanation_of(table, product, only=only, set_aside=without, seed=seed)
    deliver(explanation_report(found), out=out, as_json=as_json, guard=guard)
