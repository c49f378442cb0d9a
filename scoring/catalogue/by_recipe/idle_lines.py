"""Lines of a recipe that met nothing in the tables: slips are faults, and what this month's files lack is told.

A recipe is kept over months. A word or column that stands in no table this time is named and no more, unless something near it
stands there: then it is likely misspelt. A row by its number, and where a table ends, are about just these files.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from itertools import islice

from scoring.catalogue.by_recipe.header import header_name, one_line
from scoring.catalogue.by_recipe.parts import Part
from scoring.catalogue.cell_hints import yaml_word
from scoring.catalogue.cells import shown, text_of, texts_of
from scoring.catalogue.column_names import near_name
from scoring.errors import MOST_COMPARED, Problem
from scoring.form import Form
from scoring.recipe import Recipe, Table

#: How much of two words must agree for one to be a slip of the other.
_NEAR = 0.75
_LONGEST_WORD = 40
_TOLD = 12  # so many lines that met nothing are told by name


@dataclass(slots=True)
class Idle:
    """What met nothing: faults, and lines that may meet something another time."""

    problems: list[Problem] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)

    @property
    def remarks(self) -> tuple[str, ...]:
        """The lines in one sentence; none where there are none."""
        lines = list(dict.fromkeys(self.lines))
        if not lines:
            return ()
        more = f", and {len(lines) - _TOLD} more" if len(lines) > _TOLD else ""
        return (f"Said in the recipe and met in no table: {', '.join(lines[:_TOLD])}{more}.",)


def idle_lines(recipe: Recipe, parts: Sequence[Part], form: Form) -> Idle:
    """The lines of a recipe that met nothing; `parts` are its tables, read without a fault."""
    idle = Idle()
    for table in recipe.tables:
        own = [part for part in parts if part.raw.table is table]
        _rows(table, own, idle)
        _end(table, own, idle)
        _skipped_words(table, own, idle)
        _uncorrected(table, own, idle)
    layouts: tuple[Recipe | Table, ...] = (recipe, *recipe.tables)
    for layout in layouts:
        held = [part for part in parts if layout in (recipe, part.raw.table)]
        _ignored(layout, recipe, held, idle)
        _filled(layout, held, idle)
        _words(layout, recipe, held, idle)
        _measures(layout, recipe, held, form, idle)
        unknown = (name for name in layout.attributes if name not in form.attributes_by_name)
        idle.lines += [f"the attribute `{name}`" for name in unknown]
    return idle


def _rows(table: Table, own: Sequence[Part], idle: Idle) -> None:
    """Rows that are passed over by number, and are none."""
    there = {row for part in own for row in part.raw.below.tolist()}
    for row in table.skip:
        if own and row not in there:
            found = f"row {row} under `skip`, which holds nothing below the header"
            hint = "Rows count as the file does; take the number away."
            idle.problems.append(Problem(table.places["skip"], found, "a row of the table", hint))


def _end(table: Table, own: Sequence[Part], idle: Idle) -> None:
    """Where a table ends, and nothing says so."""
    until = table.until
    if not own or until is None:
        return
    if isinstance(until, int):
        last = max((int(part.raw.below.max(initial=0)) for part in own), default=0)
        if last < until:
            found = f"`until: {until}`, and the last row that holds anything is row {last}"
            hint = "Take the line away: a table ends with its file."
            idle.problems.append(Problem(table.places["until"], found, "the first row after the table", hint))
    elif isinstance(until, Mapping):
        _end_by_word(table, until, own, idle)


def _end_by_word(table: Table, until: Mapping[str, Sequence[str]], own: Sequence[Part], idle: Idle) -> None:
    slips = list(_slips(until, "until", own, table))
    idle.problems += slips
    if slips or any(part.raw.met.get(("until", column)) for part in own for column in until):
        return
    said = " or ".join(shown(word) for words in until.values() for word in words)
    found = f"{said} under `until`, which no cell of {' and '.join(f'`{column}`' for column in until)} says"
    hint = "Take the line away where the table ends with its file."
    idle.problems.append(Problem(table.places["until"], found, "what the first row after the table says", hint))


def _skipped_words(table: Table, own: Sequence[Part], idle: Idle) -> None:
    slips = list(_slips(table.skip_where, "skip_where", own, table))
    idle.problems += slips
    for column, words in table.skip_where.items():
        met = {word for part in own for word in part.raw.met.get(("skip_where", column), ())}
        unmet = [word for word in words if one_line(word).casefold() not in met]
        told = [word for word in unmet if not any(shown(word) in slip.found for slip in slips)]
        idle.lines += [f"`skip_where: {{{column}: {yaml_word(word)}}}`" for word in told]


def _uncorrected(table: Table, own: Sequence[Part], idle: Idle) -> None:
    """Corrections of cells that are not read: on a sheet that is none of the table's, in a row or column passed over."""
    read = set()
    for part in own:
        lines = {*part.raw.sheet.lines.tolist(), *table.header, part.raw.sheet.header_line}
        for cell in part.raw.corrected:
            if cell.place.line in lines and cell.index in part.roles.taken():
                read.add((cell.reads, cell.instead_of, cell.because))
    for one in table.corrections:
        if own and (one.becomes, one.instead_of, one.because) not in read:
            found = f"a correction of {one.cell or f'row {one.row}'}, which is not read"
            idle.problems.append(Problem(one.place, found, "a cell of the table in a column that is read"))


def _slips(said: Mapping[str, Sequence[str]], key: str, own: Sequence[Part], table: Table) -> Iterator[Problem]:
    """Words that no cell of a column says in one of the tables, where a cell there says nearly the same."""
    for column, words in said.items():
        for part in own:
            index = part.raw.find(column)
            if index is None:
                continue
            wanted = {one_line(word).casefold() for word in words}
            met = part.raw.met.get((key, column), frozenset())
            there = dict.fromkeys(texts_of(part.raw.sheet.columns[index]))
            others = [text for text in there if one_line(text).casefold() not in wanted]
            for word in words:
                near = _near(word, others) if one_line(word).casefold() not in met else ""
                if near:
                    row = texts_of(part.raw.sheet.columns[index]).index(near)
                    where = part.raw.sheet.place_at(row, index)
                    found = f"{shown(word)} under `{key}`, which no cell of `{column}` says"
                    hint = f"Did you mean {shown(near)}, as in {where}?"
                    yield Problem(table.places[key], found, "what a cell of it says", hint)


def _near(word: str, texts: Iterable[str]) -> str:
    """The text that is likely what a word was meant for; numbers in both are the same, for `A-01` is no slip of `A-07`."""
    meant = one_line(word).casefold()
    comparable = (text for text in texts if 0 < len(text) <= _LONGEST_WORD and _digits(text) == _digits(word))
    for text in islice(comparable, MOST_COMPARED):
        if SequenceMatcher(None, meant, one_line(text).casefold()).ratio() >= _NEAR:
            return text
    return ""


def _digits(text: str) -> list[str]:
    return re.findall(r"\d+", text)


def _ignored(layout: Recipe | Table, recipe: Recipe, held: Sequence[Part], idle: Idle) -> None:
    """Columns that nobody need read, and that are not there."""
    above = 0 if layout is recipe else len(recipe.ignore)
    columns = {header_name(text).name for part in held for text in part.raw.sheet.header if text}
    whole = {text for part in held for text in part.raw.sheet.header}
    spare = [part.raw.sheet.header[index] for part in held for index in part.roles.spare]
    for name in layout.ignore[above:]:
        if one_line(name) in whole or header_name(name).name in columns:
            continue
        near = _near(name, filter(None, spare))
        if near:
            found = f"{shown(name)} under `ignore`, which no table has"
            hint = f"Did you mean {shown(near)}?"
            idle.problems.append(Problem(layout.places["ignore"], found, "a column of a table", hint))
        else:
            idle.lines.append(f"`ignore: {yaml_word(name)}`")


def _filled(layout: Recipe | Table, held: Sequence[Part], idle: Idle) -> None:
    """Columns whose empty cells mean what stands above them, and that are not there."""
    for name in layout.fill if "fill" in layout.places else ():
        if held and all(part.raw.find(name) is None for part in held):
            there = [text for part in held for text in part.raw.sheet.header if text]
            found = f"{shown(name)} under `fill`, which no table has"
            idle.problems.append(Problem(layout.places["fill"], found, "a column of a table", near_name(name, there)))


def _words(layout: Recipe | Table, recipe: Recipe, held: Sequence[Part], idle: Idle) -> None:
    """Words that no cell of a measure says."""
    if layout.words is None or "words" not in layout.places:
        return
    listed = [word for of in (layout.words.missing, layout.words.not_applicable, layout.words.below) for word in of]
    above = recipe.words if layout is not recipe else None
    if above is not None:
        listed = [word for word in listed if word not in (*above.missing, *above.not_applicable, *above.below)]
    said = {text.casefold() for part in held for text in _texts_of_readings(part)}
    idle.lines += [f"the word {shown(word)}" for word in listed if word.casefold() not in said]


def _texts_of_readings(part: Part) -> Iterator[str]:
    """What the cells of measures say, each text once a column."""
    columns = {column.index for columns in part.roles.measures.values() for column in columns}
    columns |= {part.roles.long["value"]} if part.roles.long else set()
    for index in columns:
        yield from {text_of(cell) for cell in set(part.raw.sheet.columns[index].tolist())}


def _measures(layout: Recipe | Table, recipe: Recipe, held: Sequence[Part], form: Form, idle: Idle) -> None:
    """Columns that one table says of a measure and does not have; and measures that the formula does not know."""
    declared = {measure.name for measure in form.measures}
    there = [text for part in held for text in part.raw.sheet.header if text]
    for name, said in layout.measures.items():
        if layout is not recipe and recipe.measures.get(name) == said:
            continue
        if name not in declared:
            idle.lines.append(f"the measure `{name}`")
            continue
        columns = [column for column in (said.column, *said.columns) if column]
        if held and columns and not any(name in part.batches for part in held):
            found = f"{' and '.join(map(shown, columns))} for `{name}`, which the table does not have"
            idle.problems.append(Problem(said.place, found, "a column of it", near_name(columns[0], there)))
