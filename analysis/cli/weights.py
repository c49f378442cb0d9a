"""`steelyard weights`: what each weight is worth on the actual catalogue; verdicts first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of, scored
from analysis.cli.long_work import announce, share_of
from analysis.cli.reports import deliver
from analysis.importance.attainable import EFFECTS, VARIANCE
from analysis.importance.report import weights_report
from analysis.report.endings import check_output, is_one_file
from scoring.errors import Place, Problem, StudyError


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    only: Sequence[str],
    wanted: Sequence[str],
    wanted_of: str,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Work out what the weights are worth, and show it."""
    wants = wants_of(wanted)
    check_share_of(wanted_of)
    if out is not None:
        is_one_file(out)
    table = scored(formula, catalogue, settings, where)
    guard = guard_of([table.form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="weights")
    announce("weights", len(table.catalogue.products), share_of(only, table.form))
    report = weights_report(table, only, wants, share_of=wanted_of, seed=seed)
    deliver(report, out=out, as_json=as_json, guard=guard)


def wants_of(asked: Sequence[str]) -> dict[str, float]:
    """Part to wanted share, from PART=SHARE; a share is written 0.3 or 30%.

    Raises
    ------
    StudyError : anything else, a share that is not from 0 to 1, or a part that is asked for twice
    """
    found: dict[str, float] = {}
    problems = []
    for text in asked:
        name, equals, written = (piece.strip() for piece in text.partition("="))
        try:
            share = float(written.removesuffix("%")) / (100 if written.endswith("%") else 1)
        except ValueError:
            share = math.nan
        if not (name and equals and 0 <= share <= 1):
            problems.append(
                Problem(Place("--want"), f"`{text}`", "a part and a share from 0 to 1, as edge=0.3 or edge=30%")
            )
        elif name in found:
            problems.append(Problem(Place("--want"), f"`{name}` twice", "each part once"))
        found[name] = share
    if problems:
        raise StudyError(problems)
    return found


def check_share_of(written: str) -> None:
    """Refuse a meaning of a share that there is not.

    Raises
    ------
    StudyError : anything but `variance` and `effects`
    """
    if written not in (VARIANCE, EFFECTS):
        expected = f"`{VARIANCE}` (of the score's variance) or `{EFFECTS}` (of the summed main effects)"
        raise StudyError([Problem(Place("--share-of"), f"`{written}`", expected)])
