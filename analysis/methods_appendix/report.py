"""The methods appendix as a report: its page is the document, its verdict the first sentence of each study of each score."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from analysis.draft.standing import called_draft, draft_of
from analysis.importance.verdict import weights_verdict
from analysis.indices.verdict import sensitivity_verdict
from analysis.languages.facts import Facts, Figure, every_section, plain_text
from analysis.languages.facts import Table as TableInWords
from analysis.languages.renderers import render
from analysis.methods_appendix.assembly import facts_of
from analysis.methods_appendix.workings import DRAWS, Asked, Workings, work_out, workings_files, workings_frame
from analysis.rankings.verdict import stability_verdict
from analysis.report.given import Given, Readings, catalogue_of, formula_of
from analysis.report.pictures import Picture
from analysis.report.report import Report, Section
from analysis.report.source import source_of
from analysis.report.tables import Column, OnScreen, Table
from scoring.door.formula import score
from scoring.table.table import Column as ScoreColumn


def appendix(
    formula: Given,
    catalogue: Readings,
    *,
    previous: Given | None = None,
    study: str | Path | None = None,
    draws: int = DRAWS,
    date: str = "",
    seed: int = 0,
) -> Report:
    """The methods appendix: everything that a reader needs to work every published figure out again.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    previous : the version before, to say what changed; where it reads other units or limits, give the catalogue as a path
    study : the path of a study file; derived from the formula by default
    draws : base points of sensitivity at most; stability takes eight times as many draws
    date : the day that it carries, as YYYY-MM-DD

    Returns
    -------
    Report : its page is the appendix; `found` has everything that was worked out

    Raises
    ------
    SteelyardError : a fault of the formula, the catalogue or the study
    """
    made = formula_of(formula)
    table = score(made, catalogue_of(catalogue, made))
    before = None
    if previous is not None:
        older = formula_of(previous)
        before = score(older, catalogue_of(catalogue, older))
    asked = Asked(table.settings, seed, draws, date)
    return appendix_report(work_out(table, before, Path(study) if study is not None else None, asked))


def appendix_report(found: Workings) -> Report:
    """The same of what was worked out."""
    facts = facts_of(found)
    draft = called_draft(draft_of(found.form, found.table.catalogue))
    return Report(
        command="appendix",
        title=plain_text(facts.title),
        heading=f"{plain_text(facts.title)} ({draft})" if draft else plain_text(facts.title),
        source=source_of(found.table, found.asked.seed, found.study),
        sections=(
            *(
                Section(column.output.name, column.output.label, tuple(_says(found, column)))
                for column in found.headline
            ),
            _whole(facts),
        ),
        body=lambda: _body(facts),
        whole=lambda: workings_frame(found),
        found=found,
        own_page=lambda: facts,
        own_files=lambda: render(facts) | workings_files(found),
    )


def _says(found: Workings, column: ScoreColumn) -> Iterator[str]:
    """The first sentence of each study of a score."""
    name = column.output.name
    for firm in found.stability:
        if firm.quantities.output.name == name:
            yield stability_verdict(firm, found.benches.get(name), found.robustness.get(name))[0]
    for moved in found.sensitivity:
        if moved.quantities.output.name == name:
            yield sensitivity_verdict(moved)[0]
    for weighed in found.weights:
        if weighed.name == name:
            yield weights_verdict(weighed)[0]


def _whole(facts: Facts) -> Section:
    """Every table of the document, in words as it stands there, and every picture."""
    blocks = [block for section in every_section(facts.sections) for block in section.blocks]
    figures = [block for block in blocks if isinstance(block, Figure)]
    pictures = tuple(
        Picture.drawn(one.name, plain_text(one.caption), one.finding, svg=one.svg, png=one.png) for one in figures
    )
    tables = tuple(_table(block) for block in blocks if isinstance(block, TableInWords))
    return Section("", plain_text(facts.title), (), tables, pictures=lambda: pictures)


def _table(block: TableInWords) -> Table:
    """A table of the document: a field for each column, by what stands over it."""
    columns: list[Column] = []
    for number, head in enumerate(block.columns):
        heading = plain_text(head.head)
        taken = {key for column in columns for key in column.fields}
        key = heading if heading and heading not in taken else f"{heading} {number + 1}".strip()
        columns.append(Column(heading, {key: [plain_text(row[number]) for row in block.rows]}, numeric=head.numeric))
    note = (plain_text(block.note),) if block.note else ()
    return Table(block.name, plain_text(block.caption), tuple(columns), note, on_screen=OnScreen(in_full=True))


def _body(facts: Facts) -> dict[str, Any]:
    """The document section by section: the tables in words, and the names of the pictures."""
    return {
        "date": facts.date or None,
        "sections": [
            {
                "anchor": section.anchor,
                "title": plain_text(section.title),
                "tables": {
                    block.name: {
                        "caption": plain_text(block.caption),
                        "columns": [plain_text(column.head) for column in block.columns],
                        "rows": [[plain_text(cell) for cell in row] for row in block.rows],
                    }
                    for block in section.blocks
                    if isinstance(block, TableInWords)
                },
                "pictures": {block.name: block.finding for block in section.blocks if isinstance(block, Figure)},
            }
            for section in every_section(facts.sections)
        ],
    }
