"""`steelyard score`: the table on the terminal, as JSON, in a file, or with its pictures in a folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.asked_scores import unknown_scores
from analysis.cautions import cautions
from analysis.cli.inputs import guard_of, headed, load, set_aside
from analysis.cli.studies import check_output, is_table
from analysis.cli.terminal import MOST_ROWS, print_json, print_table, progress_bar, say
from analysis.json_text import json_bytes, json_pieces
from analysis.outputs.guard import Guard
from analysis.outputs.table_files import ending_of, table_bytes
from analysis.outputs.whole_files import write_whole
from analysis.outputs.whole_folders import write_folder
from analysis.partial.partial_place import first_places
from analysis.scores.document import score_document, score_frame, score_stream
from scoring.errors import AddressError, FormulaError, Place, Problem
from scoring.table.missing import STARRED
from scoring.table.table import Column, ScoreTable, score_catalogue

ABSENT = "–"
#: Where the rows are that a long table leaves out.
IN_FILES = "`--out scores.csv` (or .parquet, .json) writes all."
NO_RATINGS = Problem(
    Place("--ratings"), "a formula without ratings", "one that has some", "Leave it out: the scores are shown then."
)


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    only: str | None,
    ratings: bool,
    as_json: bool,
    out: Path | None,
    force: bool = False,
) -> None:
    """Score and show."""
    to_table = out is None or is_table(out)
    form, readings = load(formula, catalogue, settings)
    if ratings and not form.ratings:
        raise FormulaError([NO_RATINGS])
    guard = guard_of([form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="score")
    table = score_catalogue(form, readings)
    written = f"{len(table.catalogue.products)} products"
    if out is not None and to_table:
        write_table(table, settings, out, guard)
    elif out is not None:
        written += f" and {write_score_folder(table, settings, out, guard)} pictures"
    if as_json:
        print_json(score_stream(table, settings))
        return
    if out is not None:
        say(f"{written} written to {out}", *set_aside(table.catalogue))
        return
    show(table, only=only, ratings=ratings, settings=settings)


def write_table(table: ScoreTable, settings: Sequence[str], out: Path, guard: Guard) -> None:
    """Write the table to one file, in the format of its ending."""
    ending = ending_of(out)
    if ending == ".json":
        write_whole(out, (piece.encode() for piece in json_pieces(score_stream(table, settings))), guard)
    else:
        write_whole(out, table_bytes(score_frame(table, settings), ending), guard)


def write_score_folder(table: ScoreTable, settings: Sequence[str], folder: Path, guard: Guard) -> int:
    """Write the table as CSV and JSON, its pictures, and what each picture shows; how many pictures there are."""
    from analysis.scores.figures import picture_files, score_pictures

    with progress_bar("pictures") as told:
        pictures = score_pictures(table, tried=", ".join(settings), progress=told)
    said = [{"name": one.name, "title": one.title, "finding": one.finding} for one in pictures]
    files = {
        "scores.json": json_bytes(score_document(table, settings)),
        "scores.csv": table_bytes(score_frame(table, settings), ".csv"),
        "pictures.json": json_bytes({"pictures": said}),
    }
    write_folder(folder, files | picture_files(pictures), guard, by="score")
    return len(pictures)


def show(table: ScoreTable, *, only: str | None, ratings: bool, settings: Sequence[str]) -> None:
    """Print the table: all scores side by side, one score in full, or the ratings."""
    form = table.form
    column = find_column(table, only) if only is not None else None
    count = len(table.catalogue.products)
    say(f"{form.title} ({headed(form, settings)}): {count} product{'s' if count != 1 else ''}", "")
    if column is not None:
        show_one(table, column)
    elif ratings or not table.scores:
        show_side_by_side(table, table.ratings, with_rank=False)
    else:
        show_side_by_side(table, table.scores, with_rank=True)
    shown = table.scores if column is None else (column,)
    say(*(one.says for one in first_places(table, shown)))
    say(*set_aside(table.catalogue), *(f"! {caution}" for caution in cautions(form)))


def find_column(table: ScoreTable, name: str) -> Column:
    """The named rating or score; the nearest known name where there is none."""
    columns = {column.output.name: column for column in table.scores + table.ratings}
    if name not in columns:
        raise AddressError(unknown_scores([name], columns))
    return columns[name]


def show_side_by_side(table: ScoreTable, columns: Sequence[Column], *, with_rank: bool) -> None:
    """Every product with its figures, in the order of the first column's ranks, then of the catalogue."""
    headers = ["product"]
    for column in columns:
        headers += [column.output.name, "#"] if with_rank else [column.output.name]
    order = in_order(columns[0])
    printed = order[:MOST_ROWS]
    rows = (row_of(table, columns, product, with_rank=with_rank) for product in order)
    print_table(headers, rows, right=range(1, len(headers)), more=IN_FILES)
    counts = ", ".join(f"{c.output.name} {int(np.sum(~np.isnan(c.value)))}" for c in columns)
    marks = ["# place, best first"] if with_rank else []
    marks += [STARRED] if any(cell(column, i).endswith("*") for column in columns for i in printed) else []
    marks.append("`--score NAME` gives bands and remarks.")
    say(f"Published, of {len(table.catalogue.products)}: {counts}.", "; ".join(marks))


def row_of(table: ScoreTable, columns: Sequence[Column], product: int, *, with_rank: bool) -> list[str]:
    """A product with its figures, each with its place if asked for."""
    row = [table.catalogue.products[product]]
    for column in columns:
        row.append(cell(column, product))
        if with_rank:
            row.append(place(column, product))
    return row


def show_one(table: ScoreTable, column: Column) -> None:
    """One rating or score in full."""
    attributes = list(table.catalogue.attributes)
    headers = ["#", "product", column.output.name, "band", "status", *attributes, "remarks"]
    rows = (
        [
            place(column, product),
            table.catalogue.products[product],
            column.shown_text(product) or ABSENT,
            table.band_name(column, product),
            column.status_text(product),
            *(table.catalogue.attributes[name][product] for name in attributes),
            "; ".join(column.remarks.get(product, ())),
        ]
        for product in in_order(column)
    )
    print_table(headers, rows, right=(0, 2), title=column.output.label, more=IN_FILES)


def in_order(column: Column) -> list[int]:
    """Products by place, those without one last, each in the order of the catalogue."""
    return [int(i) for i in np.argsort(np.where(np.isnan(column.rank), np.inf, column.rank), kind="stable")]


def cell(column: Column, product: int) -> str:
    """The shown figure, starred where partial; the status where there is none."""
    status = column.status_text(product)
    shown = column.shown_text(product)
    return f"{shown}*" if status == "partial" else shown or status


def place(column: Column, product: int) -> str:
    """The place as text."""
    return "" if np.isnan(column.rank[product]) else f"{column.rank[product]:g}"
