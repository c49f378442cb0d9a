"""What no person writes: figures with the dust of a float, a unit behind a plain number, a unit behind words."""

from __future__ import annotations

import re
from collections.abc import Iterator

from analysis.report.report import Report, Said
from analysis.report.tables import Table

#: A double holds 15 significant digits of any decimal; more of them is dust, or a bound that the search typed in again.
MOST_DIGITS = 15
_NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?(?![\w])")
_PLAIN_UNIT = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)? 1(?=[,;.)\]]*(?:\s|$))")
_WORDS_WITH_UNIT = re.compile(r"(?:does not apply|missing|not applicable|no value|–) (?:%|mm\b|dB\b|points\b)")


def texts_of(report: Report) -> Iterator[str]:
    """Every text that a reader of a report sees: sentences, lines of a terminal, and cells with their notes."""
    yield from (report.title, report.heading, *report.closing, *report.on_screen)
    for section in report.sections:
        yield from section.verdict
        for block in section.blocks:
            yield from block.lines if isinstance(block, Said) else _of_table(block)


def _of_table(table: Table) -> Iterator[str]:
    yield from (table.title, *table.headings, *table.notes, *(table.on_screen.lines or ()))
    for row in table.cells():
        yield from row


def odd_figures(text: str) -> list[str]:
    """What stands in a text that no person writes.

    Examples
    --------
    >>> odd_figures("0.5 1, and 0.09999999999999999 %"), odd_figures("b = does not apply %"), odd_figures("12.5 mm of 1")
    (['0.09999999999999999', '0.5 1'], ['does not apply %'], [])
    """
    numbers = [number for number in _NUMBER.findall(text) if _digits(number) > MOST_DIGITS]
    return numbers + _PLAIN_UNIT.findall(text) + _WORDS_WITH_UNIT.findall(text)


def _digits(number: str) -> int:
    return len(re.sub(r"[eE].*", "", number).replace(".", "").lstrip("+-0"))
