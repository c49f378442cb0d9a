"""What the cells of a product say in other units, beside what was made of it: in the table of readings, and number by number."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.explanation.explanation import Explanation, ReadingNote
from analysis.explanation.repeats_by_hand import Converted
from analysis.report.tables import OnScreen, Table, computed, words
from analysis.wording import significant
from scoring.units.by_hand import by_hand


def as_said(note: ReadingNote, repeats: Sequence[str]) -> list[str]:
    """Each repeat in the measure's unit, and behind it what its cell says in another."""
    said = {one.repeat: f" ({one.as_read})" for one in note.converted}
    return [text + said.get(repeat, "") for repeat, text in zip(note.numbers, repeats, strict=True)]


def as_read_table(found: Explanation) -> Table:
    """How what the cells say in other units becomes one value: each repeat converted, then all summed up."""
    notes = [note for note in found.readings if note.converted]
    rows = [(note, one) for note in notes for one in (*note.converted, None)]
    rules = {by_hand(one.unit, note.measure.unit).says: None for note in notes for one in note.converted}
    return Table(
        "as_read",
        "Converted, number by number",
        (
            words("measure", "measure", [note.measure.name for note, _ in rows], kind="name"),
            words("what", "what", [_what_is_converted(note, one) for note, one in rows], kind="name"),
            words(
                "arithmetic",
                "arithmetic",
                [one.arithmetic if one else note.arithmetic for note, one in rows],
                kind="code",
            ),
            computed("gives", {"value": [one.value if one else note.value for note, one in rows]}, _to_ten),
            words("unit", "unit", [note.measure.unit for note, _ in rows], kind="name"),
        ),
        on_screen=OnScreen(lines=(f"converted: {'; '.join(rules)}", "")),
    )


def _what_is_converted(note: ReadingNote, one: Converted | None) -> str:
    return f"repeat {one.repeat}, read as {one.as_read}" if one else f"all repeats, {note.measure.repeats.value}"


def _to_ten(value: float) -> str:
    return significant(value, 10)
