"""Whether a file is read as it stands, by the catalogue's own rules, so that no recipe need be written."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.draft.cell_kinds import is_known_word, unit_of
from analysis.draft.column_roles import Role
from analysis.draft.findings import Findings
from analysis.draft.read_tables import BenchFiles
from analysis.draft.table_extent import Extent
from scoring.catalogue.column_names import ID_COLUMNS, read_column_name
from scoring.catalogue.long import is_long
from scoring.catalogue.product_columns import SESSION


def why_recipe(files: BenchFiles, findings: Findings) -> list[str]:
    """What plain reading does not do; nothing where it is enough, or where no table was found at all."""
    return list(dict.fromkeys(_reasons(files, findings))) if findings.looks else []


def _reasons(files: BenchFiles, findings: Findings) -> Iterator[str]:
    if len(files.tables) > 1:
        yield "several sheets or files"
    if files.text_files:
        yield "separators or letters that are not the usual ones"
    if findings.decimal_comma:
        yield "decimal commas"
    if any(word.gap is not None and not is_known_word(word.word) for word in findings.words):
        yield "words for what was not read"
    if any(second.again or second.usual or second.in_sessions for second in findings.second):
        yield "second rows of a product"
    for number, look in enumerate(findings.looks):
        first = files.tables[0].rows[0][0] if files.tables[0].rows else 0
        yield from _of_extent(look.extent, first)
        header = look.extent.names
        if look.is_long:
            if not is_long(header):
                yield "a row a reading, in columns of other names"
        elif number == 0:
            yield from _of_columns(findings)


def _of_extent(extent: Extent, first: int) -> Iterator[str]:
    if extent.header != (first,) or extent.units:
        yield "a header that is not the first row alone"
    if extent.left_out or extent.end:
        yield "rows that are of no product"


def _of_columns(findings: Findings) -> Iterator[str]:
    look = findings.looks[0]
    sessions, specimens = look.first(Role.SESSION), look.first(Role.SPECIMEN)
    products = look.first(Role.PRODUCT)
    if sessions is not None and sessions.head.text != SESSION:
        yield "a column of sessions"
    if specimens is not None:
        yield "a column of specimens"
    if products is not None and "" in products.texts and products.head.text not in ID_COLUMNS:
        yield "cells that were merged"
    for measure in findings.measures:
        columns = [column for part in measure.parts for column in part.columns]
        heads = [column.head for column in columns]
        if any(unit_of(cell) for column in columns for cell in column.cells):
            yield "units in cells"
        if any(not read_column_name(head.text).is_sound for head in heads):
            yield "names of columns that are written otherwise"
        if len({read_column_name(head.text).name for head in heads}) > 1:
            yield "repeats without a number sign"
