"""What a person is told of a draft: what was found, what to look at, and what to decide first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from analysis.draft.cell_kinds import Kind, kind_of_text
from analysis.draft.column_roles import Role
from analysis.draft.findings import Findings
from analysis.draft.from_findings import told_unit
from analysis.draft.marked import DECIDE, decisions_in
from analysis.draft.measured import Look
from analysis.draft.recipe_tables import ATTRIBUTES, attribute_columns, unread_columns
from analysis.draft.table_extent import Why
from analysis.wording import counted, some

_MOST = 6


def found_lines(findings: Findings) -> list[str]:
    """What was found on each sheet, and of each kind of reading, in aligned lines."""
    pairs: list[tuple[str, str]] = []
    for number, look in enumerate(findings.looks):
        pairs += ((look.table.called, text) for text in _of_table(findings, number, look))
    pairs += ((one.called, f"not read: {one.why}") for one in findings.set_aside)
    return aligned(pairs)


def _of_table(findings: Findings, number: int, look: Look) -> Iterator[str]:
    extent = look.extent
    header = " and ".join(map(str, extent.header))
    products = len(set(look.products) - {""})
    where = f"header in row{'s' if len(extent.header) > 1 else ''} {header}"
    yield f"{where}; {counted(len(extent.body), 'row')} of {counted(products, 'product')}"
    measures = [measure for measure in findings.measures if any(part.look is look for part in measure.parts)]
    for key, is_price in (("readings", False), ("prices", True)):
        told = [_measure(one.words, one.unit, one.repeats) for one in measures if one.is_price is is_price]
        if told:
            yield f"{key}: {some(told, 12)}"
    if findings.decimals[number].comma:
        yield "numbers with a decimal comma"
    read = [column for role in ATTRIBUTES if (column := attribute_columns(findings, role).get(number))]
    if read:
        yield f"words: {', '.join(column.head.text for column in read)}"
    unread = [column.head.text for column in unread_columns(look) if column not in read]
    if unread:
        yield f"columns not read: {some(unread, 2 * _MOST)}"
    sums = [f"row {one.row} ({one.text})" for one in extent.left_out if one.why is Why.SUMMARY]
    others = [f"row {one.row}" for one in extent.left_out if one.why is not Why.SUMMARY]
    if sums or others:
        yield f"left out: {some([*sums, *others], _MOST)}"
    if extent.end:
        yield f"ends above row {extent.end}: {extent.below}"
    sessions = look.first(Role.SESSION)
    if sessions is not None:
        yield f"sessions: {some(list(dict.fromkeys(text for text in sessions.texts if text)), _MOST)}"
    again = findings.second[number].in_sessions
    if again:
        yield f"read in two sessions or more: {some(list(again), _MOST)}"


def _measure(words: str, unit: str, repeats: int) -> str:
    unit = f" {unit}" if unit else ""
    return f"{words}{unit}" + (f" ({repeats} repeats)" if repeats > 1 else "")


def look_lines(findings: Findings) -> list[str]:
    """Readings and units that look like slips, in aligned lines; they stay as they are."""
    pairs: list[tuple[str, str]] = []
    for measure in findings.measures:
        for slip in measure.slips:
            times = "ten times" if slip.times > 1 else "a tenth of"
            told = (
                f"{measure.words} {slip.reading.value:g}, {times} its neighbours ({slip.beside:g}); it stays as it is"
            )
            pairs.append((slip.cell, told))
        other = measure.other_unit
        if other is not None:
            pairs.append((other.cell, f"{measure.words}: {told_unit(measure, other)}; nothing is converted"))
    for word in findings.words:
        if word.gap is None and any(sign.isdigit() for sign in word.word) and kind_of_text(word.word) is Kind.TEXT:
            pairs.append((word.cells[0], f"`{word.word}` is no number that can be read"))
    return aligned(pairs[: 2 * _MOST])


def decide_lines(files: Iterable[tuple[str, str]]) -> list[str]:
    """What a human must decide, by the names and texts of the files that it stands in, in aligned lines."""
    pairs = [(f"{name}:{line}", why) for name, text in files for line, why in decisions_in(text)]
    return aligned(
        [(where, why.replace(f"{DECIDE}: ", "").replace(f": {DECIDE} THIS FIRST", "")) for where, why in pairs]
    )


def aligned(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """Two columns of texts; what is said twice in the first is written once."""
    width = max((len(first) for first, _ in pairs), default=0)
    lines, before = [], ""
    for first, second in pairs:
        lines.append(f"  {'' if first == before else first:<{width}}  {second}")
        before = first
    return lines
