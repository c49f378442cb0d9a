"""What both study commands share: the study as asked for, its resolved table, and where results go."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from analysis.asked_scores import unknown_scores
from analysis.cautions import cautions
from analysis.cli.inputs import headed, load
from analysis.cli.terminal import print_table, say
from analysis.json_text import json_bytes
from analysis.outputs.guard import Guard
from analysis.outputs.table_files import table_bytes
from analysis.outputs.whole_files import write_whole
from analysis.outputs.whole_folders import check_folder_of_output, write_folder
from analysis.study import Study, default_study, load_study
from analysis.wording import counted
from scoring.errors import FileError, Place, Problem, StudyError, nearest
from scoring.table.table import ScoreTable, score_catalogue

TABLE_ENDINGS = (".json", ".csv", ".parquet", ".xlsx")


def load_for_study(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    *,
    only: Sequence[str],
    pairs: Sequence[str],
    top: int | None,
) -> tuple[Study, ScoreTable]:
    """The study as asked for, and the scores as published.

    Raises
    ------
    SteelyardError : anything asked for that is not there
    """
    form, readings, *_ = load(formula, catalogue, settings)
    made = load_study(study, form, readings) if study is not None else default_study(form, readings)
    table = score_catalogue(form, readings)
    return asked_for(made, table, only, pairs, top), table


def asked_for(study: Study, table: ScoreTable, only: Sequence[str], pairs: Sequence[str], top: int | None) -> Study:
    """The study with scores, pairs and the top as the command line asks."""
    names = {column.output.name: column for column in table.scores + table.ratings}
    problems = unknown_scores(only, names)
    asked: list[tuple[str, str]] = []
    for pair in pairs:
        ids = [part.strip() for part in pair.split(",")]
        missing = [name for name in ids if name not in table.catalogue.products]
        if len(ids) != 2 or ids[0] == ids[-1]:
            problems.append(Problem(Place("--beats"), f"`{pair}`", "two different products, as A-01,A-02"))
        elif missing:
            hint = nearest(missing[0], table.catalogue.products)
            problems.append(Problem(Place("--beats"), f"`{missing[0]}`", "a product of the catalogue", hint))
        else:
            asked.append((ids[0], ids[1]))
    problems += [
        Problem(Place("the study"), f"no product is published with {name}", "at least one")
        for name in only or study.scores
        if name in names and not (names[name].rank >= 1).any()
    ]
    if problems:
        raise StudyError(problems)
    return replace(
        study,
        scores=tuple(dict.fromkeys(only)) or study.scores,
        pairs=tuple(dict.fromkeys(asked)) or study.pairs,
        top=top if top is not None else study.top,
    )


def show_resolved(study: Study) -> None:
    """Print the resolved table: what varies, how, in what unit, and where that was said."""
    rows = [
        [f.name, f.kind, f.stated, f.says, f.unit, f.origin.rsplit("/", 1)[-1].rsplit("\\", 1)[-1]]
        for f in study.factors
    ]
    print_table(["what varies", "group", "stated", "how", "unit", "from"], rows, title="The study, resolved")
    say(*study.notes)


def headline(study: Study, table: ScoreTable, settings: Sequence[str]) -> str:
    """Which study of which formula, with which settings, in one line."""
    form = table.form
    source = (
        f"study `{study.name}`"
        if study.sha256
        else "a study derived from the formula (--study FILE for your own ranges)"
    )
    kinds: dict[str, int] = {}
    for factor in study.factors:
        kinds[factor.kind] = kinds.get(factor.kind, 0) + 1
    counts = ", ".join(f"{count} {kind}" for kind, count in kinds.items())
    varies = f"{counted(len(study.factors), 'argument')} {'varies' if len(study.factors) == 1 else 'vary'}"
    return f"{form.title} ({headed(form, settings)}), {source}: {varies}{f' ({counts})' if counts else ''}."


def one_of(word: str, known: Sequence[str], option: str) -> str:
    """An option's word.

    Raises
    ------
    StudyError : a word that is not known
    """
    if word not in known:
        expected = f"one of {', '.join(known)}"
        raise StudyError([Problem(Place(option), f"`{word}`", expected, nearest(word, known))])
    return word


def is_table(out: Path, endings: Sequence[str] = TABLE_ENDINGS) -> bool:
    """Whether results go to one file of a table or document; else they go to a folder. Asked before the work is done.

    Raises
    ------
    FileError : an ending that is neither, or a place where nothing can be written
    """
    expected = "a folder" + (f", or a file ending in {' '.join(endings)}" if endings else "")
    try:
        is_folder = out.is_dir()
        to_table = out.suffix.lower() in endings and not is_folder
        above = out.parent if to_table else next(folder for folder in (out, *out.parents) if folder.exists())
        found = "" if above.is_dir() and os.access(above, os.W_OK) else f"{above} is no folder that can be written"
    except OSError as fault:
        found, to_table, is_folder = fault.strerror or "a path that cannot be", True, False
    if not to_table and out.suffix and not is_folder:
        found = f"the ending `{out.suffix}`"
    if found:
        raise FileError([Problem(Place(str(out)), found, expected)])
    return to_table


def check_output(out: Path, guard: Guard, *, by: str, endings: Sequence[str] = TABLE_ENDINGS) -> None:
    """Refuse a file or folder of results where something stands that must stay. Asked before the work is done.

    Raises
    ------
    FileError : something that must stay
    """
    if is_table(out, endings):
        guard.check(out)
    else:
        check_folder_of_output(out, guard, by=by)


def write_results(
    out: Path,
    name: str,
    document: dict[str, Any],
    frame: pd.DataFrame,
    figures: Callable[[], dict[str, bytes]],
    guard: Guard,
) -> None:
    """One file by its ending, or a folder with the document, the table and what `figures` draws.

    Raises
    ------
    FileError : a file cannot be written, or the folder not made
    """
    if is_table(out):
        ending = out.suffix.lower()
        write_whole(out, json_bytes(document) if ending == ".json" else table_bytes(frame, ending), guard)
        return
    files = {f"{name}.json": json_bytes(document), f"{name}.csv": table_bytes(frame, ".csv")}
    write_folder(out, files | figures(), guard, by=name)


def close(study: Study, table: ScoreTable, out: Path | None, *, resolved: bool) -> None:
    """The last lines of a study: what varies or where that is said, where results went, the cautions."""
    if resolved:
        show_resolved(study)
    else:
        say(*study.notes)
        say(
            "`--resolved` prints what varies and how; `--score NAME` one score in full; `--out DIR` figures and tables."
        )
    if out is not None:
        say(f"Written to {out}.")
    say(*(f"! {caution}" for caution in cautions(table.form)))
