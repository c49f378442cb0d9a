"""A record as a report: what was published, its places score by score, and the record itself as the document."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analysis.draft.standing import called_draft, draft_of, draft_sentence, undecided
from analysis.records.corrections import check_words, corrected, first_publication
from analysis.records.document import RecordError, read_record, states_of
from analysis.records.record import Record, State
from analysis.records.sections import sections_of
from analysis.records.verification import recomputed_findings
from analysis.report.given import Given, Readings, scored
from analysis.report.report import Report, Section
from analysis.report.source import source_of
from analysis.report.tables import Column, Table, computed, ranks, words
from analysis.scores.document import score_frame
from analysis.scores.in_class import in_class_column
from analysis.wording import ABSENT, counted
from scoring.errors import Place, Problem
from scoring.numbers.rounding import show
from scoring.table.classes import in_class_text
from scoring.table.table import Column as Scored
from scoring.table.table import ScoreTable


def record(
    formula: Given,
    catalogue: Readings,
    *,
    date: str,
    corrects: str | Path | None = None,
    cause: str | None = None,
) -> Report:
    """Freeze a publication: figures, formula, readings and rules in one document with its fingerprint.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    date : the day of publication, as YYYY-MM-DD
    corrects : the path of the record that is corrected; cause : what was wrong, in a correction's own words

    Returns
    -------
    Report : `document` is the record, which `write_report` writes to a new file in .json; `found` is the `Record`

    Raises
    ------
    RecordError : no such day, a correction without a cause or that changes nothing, a record that cannot be read
    SteelyardError : a fault of the formula or the catalogue
    """
    check_words(date, cause, correcting=corrects is not None)
    before = read_record(Path(corrects)) if corrects is not None else None
    table = scored(formula, catalogue)
    place = Place(str(corrects) if corrects is not None else "the record")
    return record_report(recorded(table, date, before, cause or "", place), table)


def recorded(table: ScoreTable, date: str, before: Record | None, cause: str, place: Place) -> Record:
    """What is published, as a record: the first state, or a correction of the record `before`.

    Every figure is worked out again from what the record keeps, before anything is written.

    Raises
    ------
    RecordError : a guess that a human must decide; a correction that changes nothing or goes back in time; or a figure that does
        not follow, which is a fault of steelyard and must not become a published record
    """
    check_decided(table)
    sections = sections_of(table, table.program, table.settings)
    document = (
        first_publication(sections, date) if before is None else corrected(before, sections, date, cause, place.source)
    )
    made = Record(document, states_of([document["publication"], *document["corrections"]]))
    check_follows(made.latest, place)
    return made


def check_decided(table: ScoreTable) -> None:
    """Refuse what nobody has decided: a guess may be published as one, but what a human must say first is no publication.

    Raises
    ------
    RecordError : a guess that says DECIDE stands in the formula, or in the recipe of its readings
    """
    problems = undecided(table.form, table.catalogue)
    if problems:
        raise RecordError(problems)


def check_follows(state: State, place: Place) -> None:
    """Work every figure of a state out again from what it keeps.

    Raises
    ------
    RecordError : a figure that does not follow
    """
    hint = "This is a fault of steelyard: please report it with the formula and the catalogue."
    problems = [
        Problem(place, f"{one.says}, from what the record keeps", "the figure that is published", hint)
        for one in recomputed_findings([state])
    ]
    if problems:
        raise RecordError(problems)


def record_report(made: Record, table: ScoreTable) -> Report:
    """The report on a record of a score table."""
    latest, title = made.latest, table.form.title or table.form.name
    called, draft = f"{table.form.name} {table.form.version}".strip(), draft_of(table.form, table.catalogue)
    counts = [int((~np.isnan(column.shown)).sum()) for column in table.ratings + table.scores]
    published = f"{counted(len(table.catalogue.products), 'product')}, {counted(sum(counts), 'published figure')}"
    said = (
        f"Correction {latest.number} of {latest.date}: {latest.cause}" if latest.number else f"Published {latest.date}."
    )
    return Report(
        command="record",
        title=f"{title}: record of {latest.date}",
        heading=f"{title} ({', '.join(one for one in (called, called_draft(draft)) if one)}): {published}.",
        source=source_of(table),
        sections=(
            Section(
                "",
                title,
                (
                    f"{published}.",
                    *([draft_sentence(draft)] if draft else []),
                    said,
                    f"Fingerprint: {made.fingerprint}",
                ),
            ),
            *(_section(table, column) for column in table.scores or table.ratings),
        ),
        body=lambda: made.document,
        whole=lambda: score_frame(table, table.settings),
        found=made,
        has_head=False,
    )


def _section(table: ScoreTable, column: Scored) -> Section:
    """The places of a score, best first."""
    products, step = range(len(table.catalogue.products)), column.output.scale.show.step.value
    columns: tuple[Column, ...] = (
        ranks("rank", "#", column.rank),
        *in_class_column(column, "", in_class_text),
        words("product", "product", table.catalogue.products, kind="name"),
        computed("shown", {"shown": column.shown}, lambda shown: _as_shown(shown, step), unit="points"),
        words("band", "band", [table.band_name(column, product) for product in products], kind="name"),
        words("status", "status", [column.status_text(product) for product in products]),
    )
    order = np.argsort(np.where(np.isnan(column.rank), np.inf, column.rank), kind="stable").tolist()
    name = column.output.name
    return Section(name, column.output.label, (), (Table("places", column.output.label, columns, rows=order),))


def _as_shown(shown: float, step: float) -> str:
    return ABSENT if np.isnan(shown) else show(shown, step)
