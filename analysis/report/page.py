"""A report as a document of the languages: the same sentences, tables, pictures and cautions as everywhere else."""

from __future__ import annotations

import re
from collections.abc import Iterator

from analysis.languages import facts
from analysis.languages.renderers import RENDERERS
from analysis.languages.rendering import Files
from analysis.languages.writing import Sentences, name, runs
from analysis.report.pictures import Picture
from analysis.report.report import Block, Report, Said, Section
from analysis.report.tables import Column, Table

#: Rows of a table that a page holds: nobody reads more, and a browser or a typesetter takes minutes over it.
MOST_ROWS = 5_000
WHOLE_TABLES = "a .csv, .parquet or .json of the same results has every figure."
NO_PICTURES = "Pictures are left out of this file: where there are any, they stand beside it in a folder."


def page_files(report: Report, language: str, *, with_pictures: bool = True) -> Files:
    """The report in a language ("html", "md", "tex", "typ" or "pdf"), and what stands beside it.

    Raises
    ------
    ScoringError : a PDF without the package typst
    """
    return RENDERERS[language](facts_of(report, with_pictures=with_pictures))


def facts_of(report: Report, *, with_pictures: bool = True) -> facts.Facts:
    """The report as a document."""
    if report.own_page is not None:
        return report.own_page()
    sentences = Sentences(report.source.texts(), with_code=True)
    lines = [sentences.runs(line) for line in report.source.lines()]
    if any(len(table) > MOST_ROWS for table in report.tables.values()):
        lines.append(runs(f"Tables are cut after {MOST_ROWS:,} rows: {WHOLE_TABLES}"))
    if not with_pictures:  # whether there are any would have to be worked out, of a large catalogue for minutes
        lines.append(runs(NO_PICTURES))
    cautions = facts.Points(tuple(sentences.runs(caution) for caution in report.source.cautions))
    closing = tuple(facts.Paragraph(sentences.runs(line)) for line in report.closing)
    return facts.Facts(
        title=sentences.runs(report.title),
        lines=tuple(lines),
        sections=(
            *(_section(section, sentences, with_pictures=with_pictures) for section in report.sections),
            facts.Section("cautions", runs("Cautions"), (*closing, cautions)),
        ),
        name=report.file_name,
    )


def _section(section: Section, sentences: Sentences, *, with_pictures: bool) -> facts.Section:
    blocks: list[facts.Block] = [facts.Paragraph(sentences.runs(sentence)) for sentence in section.verdict]
    if with_pictures:
        blocks += [_picture(picture) for picture in section.pictures()]
    blocks += [made for block in section.blocks for made in _blocks(block, section, sentences)]
    return facts.Section(f"about-{anchor(section.name)}", (name(section.title),), tuple(blocks))


def anchor(text: str) -> str:
    """A text as a part of an anchor: ASCII letters, digits, `_` and `-`, and nothing else; the whole has one that no name has."""
    return re.sub(r"[^A-Za-z0-9_-]", lambda letter: f"-{ord(letter.group()):x}-", text) or "-whole"


def _picture(picture: Picture) -> facts.Figure:
    return facts.Figure(picture.name, (name(picture.title),), picture.finding, picture.svg, picture.png)


def _blocks(block: Block, section: Section, sentences: Sentences) -> Iterator[facts.Block]:
    if isinstance(block, Table):
        if len(block):
            yield _table(block, section, sentences)
    elif isinstance(block, Said) and not block.screen_only:
        kind = "code" if block.copied else ""
        for line in block.lines:
            text = line.strip()  # how far it is set in is the terminal's
            yield facts.Paragraph((facts.Run(text, kind),) if kind else sentences.runs(text))


def _table(block: Table, section: Section, sentences: Sentences) -> facts.Table:
    """The table in words: every row, or the first of a great many, which it says."""
    notes = list(block.notes)
    if len(block) > MOST_ROWS:
        notes.insert(0, f"The first {MOST_ROWS:,} of {len(block):,} rows: {WHOLE_TABLES}")
    return facts.Table(
        f"{anchor(section.name)}-{block.name}",
        sentences.runs(block.title),
        tuple(facts.Column(sentences.runs(column.heading), column.numeric) for column in block.columns),
        tuple(
            tuple(_cell(column, text, sentences) for column, text in zip(block.columns, row, strict=True))
            for row in block.cells(MOST_ROWS)
        ),
        sentences.runs(" ".join(notes)),
    )


def _cell(column: Column, text: str, sentences: Sentences) -> facts.Runs:
    if not text:
        return ()
    return (facts.Run(text, column.kind),) if column.kind else sentences.runs(text)
