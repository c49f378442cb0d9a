"""`steelyard appendix`: the methods appendix of a formula on a catalogue, into a folder or one file."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path

from analysis.asked import day_problem
from analysis.cli.inputs import guard_of, not_given, refuse_where, scored, set_aside
from analysis.cli.reports import deliver
from analysis.languages.renderers import NO_PDF, WITH_PDF
from analysis.methods_appendix.report import appendix_report
from analysis.methods_appendix.workings import Asked, Workings, work_out
from analysis.report.endings import check_output, is_one_file
from scoring.errors import FileError, StudyError

#: Why no part of a catalogue has an appendix.
WHOLE = (
    "the whole publication, from which any figure can be worked out again: places among a part are others under the same name;"
    " with `ranks: {within: ATTRIBUTE}` the formula counts places within each class too, and they are printed beside the others"
)


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    out: Path | None,
    previous: Path | None,
    study: Path | None,
    draws: int,
    date: str,
    seed: int,
    force: bool = False,
) -> None:
    """Work everything out, and only then write."""
    refuse_where(where, "an appendix", WHOLE)
    if out is None:
        raise FileError([not_given("--out", "the folder to write the appendix into, or one file", "appendix")])
    is_one_file(out)
    check_date(date)
    table = scored(formula, catalogue, settings)
    before = scored(previous, catalogue, []) if previous is not None else None
    guard = guard_of([one.form for one in (table, before) if one is not None], [catalogue], [study], force=force)
    check_output(out, guard, by="appendix")
    command = typed(formula, catalogue, settings, previous=previous, study=study, draws=draws, date=date, seed=seed)
    found = work_out(table, before, study, Asked(tuple(settings), seed, draws, date, command))
    report = appendix_report(found)
    deliver(report, out=out, as_json=False, guard=guard, closing=tuple(_closing(found, draws)))


def _closing(found: Workings, draws: int) -> Iterator[str]:
    """What a person at the terminal should know of the document."""
    yield from set_aside(found.table.catalogue)
    if found.nothing_published:
        yield f"! {found.nothing_published}"
    if not WITH_PDF:
        yield NO_PDF
    rough = [one.quantities.output.label for one in found.sensitivity if not one.converged]
    if rough:
        yield (
            f"The indices of sensitivity have not converged at {draws} base points for {', '.join(rough)}; the appendix says so."
            " `--draws` takes more."
        )


def check_date(text: str) -> None:
    """Raise what is wrong with a date, if anything is.

    Raises
    ------
    StudyError : no such day, or not written YYYY-MM-DD
    """
    problem = day_problem(text, "--date", "a day as YYYY-MM-DD") if text else None
    if problem is not None:
        raise StudyError([problem])


def typed(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    previous: Path | None,
    study: Path | None,
    draws: int,
    date: str,
    seed: int,
) -> str:
    """The command that makes this appendix again: files by their names, since where they lie is nobody else's business."""
    words = ["steelyard", "appendix", formula.name, catalogue.resolve().name, "--out", "DIR"]
    for option, file in (("--previous", previous), ("--study", study)):
        words += [option, file.name] if file is not None else []
    for setting in settings:
        words += ["--set", setting]
    words += ["--draws", str(draws), "--seed", str(seed), *(["--date", date] if date else [])]
    return shlex.join(words)
