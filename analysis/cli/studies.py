"""What both study commands share: the study as asked for, its resolved table, and where results go."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from analysis.cli.inputs import load
from analysis.cli.terminal import print_table, say
from analysis.study import Study, default_study, load_study
from analysis.table_files import FileError, write_whole
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.table import ScoreTable, score_catalogue

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
    problems = [
        Problem(Place("--score"), f"`{name}`", "the name of a score or rating", nearest(name, names))
        for name in only
        if name not in names
    ]
    asked = []
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
        scores=tuple(only) or study.scores,
        pairs=tuple(asked) or study.pairs,
        top=top if top is not None else study.top,
    )


def show_resolved(study: Study) -> None:
    """Print the resolved table: what varies, how, in what unit, and where that was said."""
    rows = [[f.name, f.kind, f.stated, f.says, f.unit, f.origin] for f in study.factors]
    print_table(["what varies", "group", "stated", "how", "unit", "from"], rows, title="The study, resolved")
    say(*study.notes)


def headline(study: Study, table: ScoreTable) -> str:
    """Which study of which formula, in one line."""
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
    return f"{form.title} ({form.name} {form.version}), {source}: {len(study.factors)} arguments vary ({counts})."


def is_table(out: Path) -> bool:
    """Whether results go to one file of a table or document; else they go to a folder.

    Raises
    ------
    FileError : an ending that is neither
    """
    if out.suffix.lower() in TABLE_ENDINGS:
        return True
    if out.suffix and not out.is_dir():
        expected = "a folder, or a file ending in " + " ".join(TABLE_ENDINGS)
        raise FileError([Problem(Place(str(out)), f"the ending `{out.suffix}`", expected)])
    return False


def json_bytes(document: dict[str, Any]) -> bytes:
    """A document as a file's bytes."""
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def write_folder(folder: Path, files: dict[str, bytes]) -> None:
    """Write files into a folder, each whole or not at all; the folder is made where it is not there.

    Raises
    ------
    FileError : the folder cannot be made or written into
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        why = fault.strerror or "cannot be made"
        raise FileError([Problem(Place(str(folder)), why, "a folder that can be written")]) from None
    for name, content in files.items():
        write_whole(folder / name, content)
