"""Whatever stands on a sheet, what the draft writes can be read."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from extent import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st

from analysis.cli.new import draft_both
from analysis.draft.findings import findings_of
from analysis.draft.raw_tables import raw_table
from analysis.draft.read_tables import BenchFiles
from scoring.errors import CatalogueError
from scoring.expression import LARGEST_NUMBER
from scoring.reader import read_sources
from scoring.recipe import read_recipe
from scoring.texts.source import Source

HEADS = "Bed|Model|Noise (dB) #1|Noise #2 [dB]|Sag, mm|Session|Date|Test|Value|Unit|No|Price (EUR)|Rebound %|Noise|Maker|Notes"
ODD = "Average|N/A|TBD|-|<0.5|n.d.|1,5|31.5*|Total|yes|null|a: b|#1|mm|'|\"|{x}|# guess: x|[y]|not applicable"
WORDS = st.sampled_from([*HEADS.split("|"), *ODD.split("|")])
TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=8)
NUMBERS = st.one_of(st.floats(-1e6, 1e6), st.integers(0, 9).map(float), st.just(380.0))
CELLS = st.one_of(st.none(), WORDS, TEXTS, NUMBERS, NUMBERS, NUMBERS, st.just(datetime.date(2026, 3, 1)))
Sheet = list[list[object]]


@st.composite
def sheets(draw: st.DrawFn) -> Sheet:
    """Rows of anything; mostly with a row of words above rows that begin with a word and go on with numbers."""
    width = draw(st.integers(1, 6))
    rows: Sheet = draw(st.lists(st.lists(CELLS, min_size=width, max_size=width), max_size=5))
    if draw(st.integers(0, 3)):
        head: list[object] = draw(st.lists(st.one_of(WORDS, TEXTS), min_size=width, max_size=width))
        below = st.tuples(TEXTS, st.lists(st.one_of(NUMBERS, NUMBERS, CELLS), min_size=width - 1, max_size=width - 1))
        rows += [head, *([first, *rest] for first, rest in draw(st.lists(below, min_size=1, max_size=6)))]
    return rows


@settings(max_examples=examples(400))
@example([[["Bed", "Noise", "Sag", "Rise"], ["B-1", 0.0, 380.0, 0.0], ["1E100", 30.0, 0.0, 1e100]]])
@given(st.lists(sheets(), min_size=1, max_size=3))
def test_what_is_drafted_of_any_sheet_can_be_read(drawn: list[Sheet]) -> None:
    """Formula and recipe, by their own readers; where no readings are found, nothing is written."""
    tables = tuple(raw_table(cells, "bench.xlsx", f"Sheet {n}") for n, cells in enumerate(drawn, start=1))
    findings = findings_of(tables)
    if not findings.measures:
        return
    values = [abs(value) for measure in findings.measures for part in measure.parts for value in part.values]
    if max(values, default=0.0) > LARGEST_NUMBER:
        with pytest.raises(CatalogueError, match="State them in a larger unit"):
            draft_both(BenchFiles(tables, {}, Path()), findings, "own", "bench.xlsx")
        return
    drafted = draft_both(BenchFiles(tables, {}, Path()), findings, "own", "bench.xlsx")
    assert len(read_sources([Source("own", drafted.formula)]).measures) == len(findings.measures)
    assert read_recipe(drafted.recipe, "readings.yaml").tables
