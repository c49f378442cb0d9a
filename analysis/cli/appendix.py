"""`steelyard appendix`: the methods appendix of a formula on a catalogue, into a folder."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path

from analysis.cautions import cautions
from analysis.cli.inputs import guard_of, load, load_form, not_given, set_aside
from analysis.cli.studies import is_table
from analysis.cli.terminal import say
from analysis.days import day_problem
from analysis.languages.renderers import NO_PDF, WITH_PDF, render
from analysis.methods_appendix.assembly import facts_of
from analysis.methods_appendix.workings import Asked, work_out
from analysis.methods_appendix.workings_table import NAME, workings_files
from analysis.outputs.whole_folders import check_folder_of_output, write_folder
from analysis.wording import counted
from scoring.errors import FileError, StudyError


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    out: Path | None,
    previous: Path | None,
    study: Path | None,
    draws: int,
    date: str,
    seed: int,
    force: bool = False,
) -> None:
    """Work everything out, render it, and only then write."""
    if out is None:
        raise FileError([not_given("--out", "the folder to write the appendix into", "appendix")])
    is_table(out, ())
    check_date(date)
    form, readings = load(formula, catalogue, settings)
    before = load_form(previous, []) if previous is not None else None
    guard = guard_of([form, *([before] if before is not None else [])], [catalogue], [study], force=force)
    check_folder_of_output(out, guard, by="appendix")
    command = typed(formula, catalogue, settings, previous=previous, study=study, draws=draws, date=date, seed=seed)
    asked = Asked(tuple(settings), seed, draws, date, command)
    found = work_out(form, readings, before, catalogue, study, asked)
    files = render(facts_of(found)) | workings_files(found)
    write_folder(out, files, guard, by="appendix")
    pages = [name for name in files if name.startswith("appendix.") or name == NAME]
    rough = [one.quantities.output.label for one in found.sensitivity if not one.converged]
    pictures = counted(len(files) - len(pages), "picture file")
    say(f"Written to {out}: {', '.join(pages)}, and {pictures}.", *set_aside(readings))
    if found.nothing_published:
        say(f"! {found.nothing_published}")
    if not WITH_PDF:
        say(NO_PDF)
    if rough:
        say(
            f"The indices of sensitivity have not converged at {draws} base points for {', '.join(rough)}; the appendix says so."
            " `--draws` takes more."
        )
    say(*(f"! {caution}" for caution in cautions(form)))


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
