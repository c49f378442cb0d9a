"""The columns of a long file of readings: which measure, which repeat, which unit, what flag."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.cells import Fault, Parsed, name_fault, parse_cells, shown, text_fault, text_of, texts_of
from scoring.catalogue.column_names import misspelt
from scoring.catalogue.readings import State
from scoring.catalogue.sheets import UNITS_STALE, Sheet, problem
from scoring.errors import Place, Problem, nearest
from scoring.form import Form
from scoring.texts.file_limits import REPEATS, limits, too_many
from scoring.units.conversion import same_unit

FLAGS = {
    "": State.VALUE,
    "below": State.BELOW,
    "missing": State.MISSING,
    "not_applicable": State.NOT_APPLICABLE,
    "not applicable": State.NOT_APPLICABLE,
}

Codes = NDArray[np.intp]
#: Columns within whose words repeats may be numbered anew.
CONDITIONS = ("session", "specimen")


def measure_codes(sheet: Sheet, form: Form, problems: list[Problem]) -> tuple[Codes, tuple[str, ...]]:
    """The number of each row's measure in the form, -1 for none of it; and the names that the form does not use."""
    texts = texts_of(sheet.column("measure"))
    numbers = {name: i for i, m in enumerate(form.measures) for name in (m.heading, m.name)}
    first: dict[str, int] = {}
    for row, text in enumerate(texts):
        first.setdefault(text, row)
    if len(first) > limits().columns:  # each would be held against every measure of the formula
        place = sheet.place(None, "measure")
        problems.append(too_many("columns", len(first), place, what="different measures"))
        return np.full(len(texts), -1, dtype=np.intp), ()
    unknown = [text for text in first if text not in numbers]
    faulty = {text: fault for text in unknown if (fault := _measure_fault(text))}
    near = misspelt([text for text in unknown if text not in faulty], numbers, first)
    for text in unknown:
        fault = faulty.get(text)
        if text in near:
            found = f"the measure `{text}`, which the formula does not know"
            fault = Fault(
                found,
                "a measure of the formula",
                f"Did you mean `{near[text]}`? Another measure is declared under `measures`.",
            )
        if fault:
            problems.append(problem(sheet.place(first[text], "measure"), fault))
    if numbers and not near and not any(text in numbers for text in first):
        hint = nearest("", numbers)
        problems.append(Problem(Place(sheet.source), "no reading of a measure of the formula", "some", hint))
    codes = np.array([numbers.get(text, -1) for text in texts], dtype=np.intp)
    return codes, tuple(text for text in unknown if text not in near and text not in faulty)


def repeat_indices(sheet: Sheet, column: str, products: Codes, measures: Codes, problems: list[Problem]) -> Codes:
    """The repeat of each row, from 0; -1 where it is faulty. `column` names the products.

    Two readings of one repeat are a problem.

    Without a `repeat` column, the readings of a product are numbered in order. So are those of a product and measure whose
    repeats are numbered anew in each session or specimen: what tells them apart then is all three.
    """
    rows = np.flatnonzero((products >= 0) & (measures >= 0))
    keys = products[rows] * (int(measures.max(initial=0)) + 1) + measures[rows]
    repeats = np.full(len(products), -1, dtype=np.intp)
    if "repeat" not in sheet.header:
        order, first = _grouped(keys)
        repeats[rows[order]] = np.arange(len(rows)) - first
        _report_too_many(sheet, repeats, problems)
        return repeats
    _read_repeats(sheet, np.flatnonzero(measures >= 0), repeats, problems)
    numbered = repeats[rows] >= 0
    rows, keys = rows[numbered], keys[numbered]
    told_apart = [name for name in CONDITIONS if name in sheet.header and name != column]
    _report_seconds(sheet, rows, keys, repeats, told_apart, problems)
    _number_through(sheet, rows, keys, repeats, problems)
    return repeats


def _report_seconds(
    sheet: Sheet, rows: Codes, keys: Codes, repeats: Codes, told_apart: Sequence[str], problems: list[Problem]
) -> None:
    """Two readings of one repeat, in one session and specimen, are a problem; the second one's repeat becomes -1."""
    for name in told_apart:
        texts = texts_of(sheet.column(name)[rows])
        numbers = {text: number for number, text in enumerate(dict.fromkeys(texts))}
        keys = _dense(keys) * len(numbers) + np.array([numbers[text] for text in texts], dtype=np.intp)
    order, first = _grouped(_dense(keys) * REPEATS + repeats[rows])
    expected = f"one reading for a product, a measure{''.join(f', a {name}' for name in told_apart)} and a repeat"
    hint = (
        "" if told_apart else "Repeats that are numbered anew in each session or specimen need a column that names it."
    )
    seconds = np.flatnonzero(first != np.arange(len(rows)))
    for position in seconds.tolist():
        row, other = int(rows[order[position]]), int(rows[order[first[position]]])
        found = f"a second reading of repeat {repeats[row] + 1}, after row {sheet.lines[other]}"
        problems.append(Problem(sheet.place(row, "repeat"), found, expected, hint))
    repeats[rows[order[seconds]]] = -1


def _number_through(sheet: Sheet, rows: Codes, keys: Codes, repeats: Codes, problems: list[Problem]) -> None:
    """Number the readings of a product and measure in order where one repeat stands there more than once."""
    sound = repeats[rows] >= 0
    rows, keys = rows[sound], keys[sound]
    order, first = _grouped(keys * REPEATS + repeats[rows])
    again = np.unique(keys[order[first != np.arange(len(rows))]])
    rows, keys = rows[np.isin(keys, again)], keys[np.isin(keys, again)]
    order, first = _grouped(keys)
    repeats[rows[order]] = np.arange(len(rows)) - first
    _report_too_many(sheet, repeats, problems)


def _report_too_many(sheet: Sheet, repeats: Codes, problems: list[Problem]) -> None:
    for row in np.flatnonzero(repeats == REPEATS).tolist():
        found = f"more than {REPEATS} readings of one measure and product"
        problems.append(Problem(sheet.place(row, "measure"), found, "fewer"))
    repeats[repeats >= REPEATS] = -1


def _dense(keys: Codes) -> Codes:
    """Keys numbered from 0 on, so that what is made of them never outgrows a whole number."""
    return np.unique(keys, return_inverse=True)[1].astype(np.intp)


def check_conditions(sheet: Sheet, column: str, problems: list[Problem]) -> None:
    """Report names of sessions and specimens that are too long to print or do not show; `column` names the products."""
    for name in CONDITIONS:
        if name == column or name not in sheet.header:
            continue
        texts = texts_of(sheet.column(name))
        first = dict(zip(reversed(texts), range(len(texts) - 1, -1, -1), strict=True))
        faults = {row: name_fault(text, f"the {name}") for text, row in first.items()}
        problems += [problem(sheet.place(row, name), fault) for row, fault in sorted(faults.items()) if fault]


def unit_codes(
    sheet: Sheet, measures: Codes, form: Form, problems: list[Problem]
) -> tuple[Codes, tuple[str | None, ...]]:
    """The unit of each row as a number, and the units; None is no unit stated.

    A row that states none has the one that stands beside the table for its measure.

    Parameters
    ----------
    measures : shape (n_rows,), the number of each row's measure in the form, -1 for none of it
    """
    n_rows = len(sheet.lines)
    texts = texts_of(sheet.column("unit")) if "unit" in sheet.header else [""] * n_rows
    for number, measure in enumerate(form.measures):
        beside = sheet.unit_beside(measure.heading, measure.name)
        if beside is not None:
            rows = np.flatnonzero(measures == number).tolist()
            _check_beside(sheet, {texts[row]: row for row in reversed(rows)}, beside, problems)
            for row in rows:
                texts[row] = texts[row] or beside
    numbers = {text: i for i, text in enumerate(dict.fromkeys(texts))}
    return np.array([numbers[text] for text in texts], dtype=np.intp), tuple(text or None for text in numbers)


def _check_beside(sheet: Sheet, first: Mapping[str, int], beside: str, problems: list[Problem]) -> None:
    """Report units of one measure that are not the one beside the table; `first` has the first row of each."""
    for unit, row in first.items():
        if unit and not same_unit(unit, beside):
            found = f"the unit `{unit}`, and `{beside}` beside the table"
            problems.append(Problem(sheet.place(row, "unit"), found, "one unit a reading", UNITS_STALE))


def flagged_cells(sheet: Sheet, rows: Codes, problems: list[Problem]) -> Parsed:
    """Read the values of some rows, with what their flags and reasons say of them."""
    cells = sheet.column("value")[rows]
    parsed = parse_cells(cells)
    if "flag" in sheet.header:
        for i, text in enumerate(texts_of(sheet.column("flag")[rows])):
            fault = _flag(parsed, i, text.lower(), not text_of(cells[i])) if text and i not in parsed.faults else None
            if fault:
                problems.append(problem(sheet.place(int(rows[i]), "flag"), fault))
    if "reason" in sheet.header:
        gaps = np.flatnonzero((parsed.states == State.MISSING) | (parsed.states == State.NOT_APPLICABLE))
        for i, reason in zip(gaps.tolist(), texts_of(sheet.column("reason")[rows[gaps]]), strict=True):
            fault = text_fault(reason) or (name_fault(reason, "a reason") if len(reason) > 300 else None)
            if fault:
                problems.append(problem(sheet.place(int(rows[i]), "reason"), fault))
            elif reason:
                parsed.reasons.setdefault(i, reason)
    return parsed


def _grouped(keys: NDArray[np.intp]) -> tuple[Codes, Codes]:
    """Rows in the order of their keys, and for each of them the position at which its key begins."""
    order = np.argsort(keys, kind="stable")
    begins = np.ones(len(keys), dtype=bool)
    begins[1:] = keys[order][1:] != keys[order][:-1]
    return order, np.maximum.accumulate(np.where(begins, np.arange(len(keys)), 0))


def _measure_fault(text: str) -> Fault | None:
    if not text:
        return Fault("no measure", "the name of a measure")
    return name_fault(text, "a measure's name")


def _read_repeats(sheet: Sheet, rows: Codes, repeats: Codes, problems: list[Problem]) -> None:
    """Write the repeats of some rows into `repeats`, and leave the faulty ones at -1."""
    texts = texts_of(sheet.column("repeat")[rows])
    numbers = {text: int(text) - 1 if re.fullmatch(r"[0-9]{1,4}", text) else -1 for text in set(texts)}
    numbers = {text: number if number < REPEATS else -1 for text, number in numbers.items()}
    repeats[rows] = [numbers[text] for text in texts]
    for i in np.flatnonzero(repeats[rows] < 0).tolist():
        expected = f"a whole number from 1 to {REPEATS}"
        problems.append(Problem(sheet.place(int(rows[i]), "repeat"), f"the repeat {shown(texts[i])}", expected))


def _flag(parsed: Parsed, i: int, flag: str, is_empty: bool) -> Fault | None:
    """Let a flag say what a cell is; it must not contradict the cell."""
    if flag not in FLAGS:
        return Fault(f"the flag {shown(flag)}", "`below`, `missing`, `not_applicable` or nothing", "")
    state, written = FLAGS[flag], State(parsed.states[i])
    agrees = is_empty or written == state or (state == State.BELOW and written == State.VALUE)
    if not agrees:
        hint = "Empty the value, or clear the flag."
        return Fault(f"the flag `{flag}` on a value that says otherwise", "a value and a flag that agree", hint)
    parsed.states[i] = state
    return None
