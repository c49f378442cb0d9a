"""How the sections of a document put words, names and figures together."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence

from analysis.languages.facts import Column, Paragraph, Run, Runs, Table
from analysis.wording import significant
from scoring.addresses.number_units import NumberUnit
from scoring.form import Form, Number
from scoring.units.role import unit_behind

#: Characters that change the direction of what follows, or are written from right to left.
TURNING = {"R", "AL", "AN", "RLE", "LRE", "RLO", "LRO", "PDF", "RLI", "LRI", "FSI", "PDI"}
MARKS = "\u200e\u200f\u061c"


def name(text: str) -> Run:
    """Text of a file, set apart."""
    return Run(text, "name")


def code(text: str) -> Run:
    """An address, a hash or arithmetic, letter for letter."""
    return Run(text, "code")


def link(text: str, target: str) -> Run:
    """A link to a section."""
    return Run(text, "link", target)


def runs(*parts: str | Run) -> Runs:
    """Words and runs, one after the other; empty ones left out."""
    made = (Run(part) if isinstance(part, str) else part for part in parts)
    return tuple(run for run in made if run.text)


def with_unit(number: Number, units: Mapping[str, NumberUnit]) -> Runs:
    """A number of the form as it is written, with the unit that its role gives it."""
    unit = unit_behind(number.text, units[number.address].unit)
    return runs(number.text, *((" ", name(unit)) if unit else ()))


def listed_runs(items: Sequence[Run], last: str = " and ") -> Runs:
    """Runs in a sentence: a, b and c."""
    found: list[Run] = []
    for index, item in enumerate(items):
        if index:
            found.append(Run(last if index == len(items) - 1 else ", "))
        found.append(item)
    return tuple(found)


def paragraph(*parts: str | Run) -> Paragraph:
    """A paragraph of words and runs."""
    return Paragraph(runs(*parts))


#: What stands over a column: words (with ` #` where figures stand in it), or the column itself.
Head = str | Column


def columns(*heads: Head) -> tuple[Column, ...]:
    """Columns by their heads; one that ends in `#` holds figures."""
    return tuple(
        head if isinstance(head, Column) else Column(runs(head.removesuffix("#").strip()), head.endswith("#"))
        for head in heads
    )


def figures_of(label: str) -> Column:
    """A column of figures under a file's own label."""
    return Column((name(label),), numeric=True)


def words_of(label: str) -> Column:
    """A column of words under a file's own label."""
    return Column((name(label),), numeric=False)


def table(
    called: str,
    caption: Runs,
    heads: Sequence[Head],
    rows: Iterable[Sequence[str | Run | Runs]],
    note: Runs = (),
) -> Table:
    """A table whose cells are words, runs, or several runs."""
    cells = tuple(tuple(cell if isinstance(cell, tuple) else runs(cell) for cell in row) for row in rows)
    return Table(called, caption, columns(*heads), cells, note)


def figure(value: float | None, digits: int = 4) -> str:
    """A number in so many significant digits at most, "–" where there is none."""
    return significant(value, digits)


def labels(form: Form) -> dict[str, str]:
    """Every name of a form to its label."""
    known = {noun.name: noun.label for noun in form.measures}
    known |= {noun.name: noun.label for noun in form.attributes}
    return known | {noun.name: noun.label for noun in form.outputs}


def turns(text: str) -> bool:
    """Whether a text can turn the direction of what stands after it."""
    return any(letter in MARKS or unicodedata.bidirectional(letter) in TURNING for letter in text)


class Sentences:
    """Turns sentences made elsewhere into runs.

    A file's text in them that can turn the direction is set apart; where `with_code` is asked for, so is what stands between
    backticks (an option, a command, an address), but for a file's text, whose own backticks stay.
    """

    def __init__(self, texts: Iterable[str], *, with_code: bool = False) -> None:
        found = {text for text in texts if text}
        turning = {text for text in found if turns(text)}
        ticked = {text for text in found - turning if with_code and "`" in text}
        self._kinds = dict.fromkeys(ticked, "") | dict.fromkeys(turning, "name")
        longest_first = sorted(self._kinds, key=lambda text: (-len(text), text))
        patterns = [re.escape(text) for text in longest_first] + (["`[^`]+`"] if with_code else [])
        self._pattern = re.compile("|".join(patterns)) if patterns else None

    def runs(self, sentence: str) -> Runs:
        """The sentence as runs."""
        if self._pattern is None:
            return runs(sentence)
        found: list[str | Run] = []
        start = 0
        for match in self._pattern.finditer(sentence):
            found += [sentence[start : match.start()], self._run(match.group())]
            start = match.end()
        return runs(*found, sentence[start:])

    def _run(self, text: str) -> Run:
        return Run(text, self._kinds[text]) if text in self._kinds else code(text.strip("`"))
