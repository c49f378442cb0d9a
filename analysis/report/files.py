"""A report as files: a document, a table, a page, in the format that a file's ending names; or a folder of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path

from analysis.json_text import json_pieces
from analysis.languages.renderers import RENDERERS
from analysis.outputs.guard import Guard, marked
from analysis.outputs.table_files import TABLES
from analysis.outputs.whole_files import write_whole
from analysis.outputs.whole_folders import write_folder
from analysis.report.endings import is_one_file
from analysis.report.page import facts_of, page_files
from analysis.report.report import Report
from analysis.report.workbook import workbook_bytes


def _document(report: Report) -> Iterator[bytes]:
    """The document in pieces: that of a large catalogue is never held as a whole."""
    return (piece.encode() for piece in json_pieces(report.stream))


def _table(ending: str, report: Report) -> bytes:
    return TABLES[ending](report.frame)


#: The file that each ending stands for, whole or in pieces.
FORMATS: Mapping[str, Callable[[Report], bytes | Iterator[bytes]]] = {
    ".json": _document,
    **{ending: partial(_table, ending) for ending in TABLES},
    ".xlsx": workbook_bytes,  # a workbook has room for every table
    ".html": lambda report: page_files(report, "html")[f"{report.file_name}.html"],
    ".md": lambda report: _alone(report, "md"),
    ".tex": lambda report: _alone(report, "tex"),
    ".typ": lambda report: _alone(report, "typ"),
    ".pdf": lambda report: page_files(report, "pdf")[f"{report.file_name}.pdf"],
}


def _alone(report: Report, language: str) -> bytes:
    """A page whose pictures would have to stand beside it, by itself: without them, as it says."""
    page = page_files(report, language, with_pictures=False)[f"{report.file_name}.{language}"]
    return marked(page, language)


def report_files(report: Report) -> dict[str, bytes]:
    """The files of a report in a folder: document, table, pages, the pictures beside them, and what else belongs there."""
    if report.own_files is not None:
        return report.own_files()
    files = {
        f"{report.file_name}.json": b"".join(_document(report)),
        f"{report.file_name}.csv": _table(".csv", report),
    }
    facts = facts_of(report)
    for language in ("html", "md"):
        files |= RENDERERS[language](facts)
    return files | dict(report.beside())


def write_report(report: Report, path: str | Path, *, force: bool = False, guard: Guard | None = None) -> Path:
    """Write a report: one file in the format that its ending names, or a folder with document, table, pages and pictures.

    A .csv and a .parquet hold the one table of the report; an .xlsx has it on its first sheet, then every table of the report on
    one of its own, and on the last, "about", their titles, units and notes, what they were made from, and the cautions.

    Parameters
    ----------
    path : ends in .json, .csv, .parquet, .xlsx, .html, .md, .tex, .typ or .pdf; a folder where it has no ending
    force : whether a file that steelyard did not write may be written over
    guard : what must stay, where that is known

    Returns
    -------
    Path : where it was written

    Raises
    ------
    FileError : an ending that is none of these, something that must stay, or a place that cannot be written to
    ScoringError : a PDF without the package typst
    """
    place, held = Path(path), guard if guard is not None else Guard(force=force)
    if is_one_file(place):
        write_whole(place, FORMATS[place.suffix.lower()](report), held)
    else:
        write_folder(place, report_files(report), held, by=report.command)
    return place
