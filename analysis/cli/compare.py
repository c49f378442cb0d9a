"""`steelyard compare`: who moves from one edition to another, why, and whether the bench can tell; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of, load_form
from analysis.cli.long_work import announce, share_of
from analysis.cli.reports import deliver
from analysis.comparison.editions import editions_of, selecting
from analysis.comparison.report import compare_report
from analysis.report.endings import check_output, is_one_file
from scoring.door.formula import Formula
from scoring.errors import CatalogueError, Place, Problem
from scoring.program.program import compile_form


def run(
    old: Path,
    new: Path,
    catalogue: Path,
    catalogue_new: Path | None,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    only: Sequence[str],
    top: int | None,
    bridge: Sequence[str],
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Compare and show."""
    if out is not None:
        is_one_file(out)
    formulas = formula_at(old, ()), formula_at(new, settings)
    bridges = bridges_asked(bridge)
    another = catalogue_new if catalogue_new != catalogue else None
    editions = selecting(editions_of(formulas, catalogue, another, bridges), where)
    forms = [formula.form for formula in formulas]
    guard = guard_of(forms, [catalogue, another or catalogue], bridges.values(), force=force)
    if out is not None:
        check_output(out, guard, by="compare")
    announce("compare", len(editions.readings[True, True].products), share_of(only, forms[1]))
    deliver(compare_report(editions, only, top=top, seed=seed), out=out, as_json=as_json, guard=guard)


def formula_at(path: Path, settings: Sequence[str]) -> Formula:
    """A formula with what is tried on it."""
    form = load_form(path, settings)
    return Formula(form, compile_form(form), tuple(settings))


def bridges_asked(asked: Sequence[str]) -> dict[str, Path]:
    """Measure to file, from MEASURE=FILE.

    Raises
    ------
    CatalogueError : anything else, or a measure twice
    """
    found: dict[str, Path] = {}
    for text in asked:
        measure, _, path = text.partition("=")
        if not path:
            expected = "MEASURE=FILE, with a measure of the catalogue"
            raise CatalogueError([Problem(Place("--bridge"), f"`{text}`", expected)])
        if measure in found:
            raise CatalogueError([Problem(Place("--bridge"), f"{measure} twice", "one bridge for each measure")])
        found[measure] = Path(path)
    return found
