"""`steelyard appendix`: the methods appendix of a formula on a catalogue, into a folder."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from datetime import date as date_of
from pathlib import Path

from analysis.appendix.assembly import facts_of
from analysis.appendix.renderers import NO_PDF, WITH_PDF, render
from analysis.appendix.workings import Asked, work_out
from analysis.cli.inputs import load, load_form
from analysis.cli.studies import is_table, write_folder
from analysis.cli.terminal import say
from analysis.scores.document import cautions
from analysis.wording import counted
from scoring.errors import Place, Problem, StudyError


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    out: Path,
    previous: Path | None,
    study: Path | None,
    draws: int,
    date: str,
    seed: int,
) -> None:
    """Work everything out, render it, and only then write."""
    is_table(out, ())
    check_date(date)
    form, readings = load(formula, catalogue, settings)
    before = load_form(previous, []) if previous is not None else None
    command = typed(formula, catalogue, settings, previous=previous, study=study, draws=draws, date=date, seed=seed)
    asked = Asked(tuple(settings), seed, draws, date, command)
    found = work_out(form, readings, before, catalogue, study, asked)
    files = render(facts_of(found))
    write_folder(out, files)
    pages = [name for name in files if name.startswith("appendix.")]
    rough = [one.quantities.output.label for one in found.sensitivity if not one.converged]
    say(f"Written to {out}: {', '.join(pages)}, and {counted(len(files) - len(pages), 'picture file')}.")
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
    if not text:
        return
    try:
        right = date_of.fromisoformat(text).isoformat() == text
    except ValueError:
        right = False
    if not right:
        raise StudyError([Problem(Place("--date"), f"`{text}`", "a day as YYYY-MM-DD")])


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
