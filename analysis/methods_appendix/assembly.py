"""The whole appendix: every section in its order, from what was worked out."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from analysis.draft.standing import draft_of, draft_sentence
from analysis.languages.facts import Block, Facts, Figure, Runs, Section
from analysis.languages.writing import code, name, runs
from analysis.methods_appendix.bench import bench_section
from analysis.methods_appendix.changed import changed_section
from analysis.methods_appendix.checklist import checklist_section
from analysis.methods_appendix.composites import composites_section
from analysis.methods_appendix.evidence import sensitivity_section, stability_section
from analysis.methods_appendix.measures import measures_section
from analysis.methods_appendix.provenance import provenance_section, references_section
from analysis.methods_appendix.published import published_section
from analysis.methods_appendix.ratings import ratings_section
from analysis.methods_appendix.rules import rules_section
from analysis.methods_appendix.says import cautions_section, says_section
from analysis.methods_appendix.words import words_section
from analysis.methods_appendix.worked import worked_section
from analysis.methods_appendix.workings import Workings
from analysis.wording import counted


def facts_of(found: Workings) -> Facts:
    """Everything that the appendix says, in reading order."""
    body = (
        says_section(found),
        measures_section(found),
        ratings_section(found),
        composites_section(found),
        rules_section(found),
        published_section(found),
        worked_section(found),
        bench_section(found),
        sensitivity_section(found),
        stability_section(found),
        changed_section(found),
    )
    end = (cautions_section(found), provenance_section(found), references_section(found))
    sections = (*body, checklist_section(found, body), *end)
    words = words_section(sections)
    return Facts(
        title=runs("Methods appendix: ", name(found.form.title)),
        lines=_lines(found),
        sections=_each_file_once((*sections, *words), set()),
        date=found.asked.date,
    )


def _each_file_once(sections: tuple[Section, ...], taken: set[str]) -> tuple[Section, ...]:
    """Pictures whose names differ even where a folder does not tell capitals from small letters."""
    return tuple(
        replace(
            section,
            blocks=tuple(_called_once(block, taken) for block in section.blocks),
            sections=_each_file_once(section.sections, taken),
        )
        for section in sections
    )


def _called_once(block: Block, taken: set[str]) -> Block:
    if not isinstance(block, Figure):
        return block
    names = (block.name if n == 1 else f"{block.name}-{n}" for n in count(1))
    called = next(one for one in names if one.lower() not in taken)
    taken.add(called.lower())
    return replace(block, name=called)


def _lines(found: Workings) -> tuple[Runs, ...]:
    """What stands under the title."""
    form = found.form
    lines = [
        runs("Formula ", name(f"{form.name} {form.version}".strip()), ", sha256 ", code(form.sha256[:16]), "…"),
        runs(
            f"Catalogue of {counted(len(found.table.catalogue.products), 'product')}, sha256 ",
            code(found.table.catalogue.sha256[:16]),
            "…",
        ),
    ]
    draft = draft_of(form, found.table.catalogue)
    if draft:
        lines.insert(0, found.sentences.runs(draft_sentence(draft)))
    if found.nothing_published:
        lines.append(runs(found.nothing_published))
    if found.asked.settings:
        lines.append(runs("Tried on it, and not in the file: ", code("; ".join(found.asked.settings))))
    if found.asked.date:
        lines.append(runs("Date: ", name(found.asked.date)))
    return tuple(lines)
