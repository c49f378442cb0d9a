"""The tables of a first recipe: one entry under `tables` for each table, or for several sheets alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from analysis.draft.column_roles import Column, Role
from analysis.draft.corrections import correction_lines
from analysis.draft.findings import Findings
from analysis.draft.marked import DECIDE, listed, marked, written
from analysis.draft.measured import Look
from analysis.draft.raw_tables import letters_of
from analysis.draft.second_rows import Again
from analysis.draft.table_extent import LeftOut, Why
from analysis.draft.text_files import Written
from analysis.wording import counted

#: Attributes that a draft publishes, by the role of their column.
ATTRIBUTES = {Role.NAME: "name", Role.MAKER: "maker", Role.CLASS: "class"}
#: Roles of columns that nobody reads.
_UNREAD = (Role.PERSON, Role.NOTE, Role.SERIAL, Role.WORDS, Role.REPEAT, Role.DERIVED)


@dataclass(frozen=True, slots=True)
class Draft:
    """What a recipe is written of: the findings, the measures' names in the formula, and how text files are written."""

    findings: Findings
    names: Mapping[int, str]
    text_files: Mapping[str, Written] = field(default_factory=dict)


def product_columns(looks: Sequence[Look]) -> list[str]:
    """The name of the column of products of every table, or where it has none its letters."""
    return [_called(look, column) for look in looks if (column := look.first(Role.PRODUCT))]


def _called(look: Look, column: Column) -> str:
    return column.head.text or f"column {letters_of(column.index) if look.table.is_spreadsheet else column.index + 1}"


def entries(findings: Findings) -> list[int]:
    """The tables that are written: of sheets alike in one file, with the header in the same row, the first."""
    return [number for number in range(len(findings.looks)) if _sheets(findings, number)[0] == number]


def _sheets(findings: Findings, number: int) -> list[int]:
    """The tables that one entry reads."""
    own = _setting(findings, number)
    return [other for other in range(len(findings.looks)) if _setting(findings, other) == own]


def _setting(findings: Findings, number: int) -> tuple[object, ...]:
    look = findings.looks[number]
    extent = look.extent
    rows = tuple(one.row for one in extent.left_out if one.why is not Why.SUMMARY)
    if rows or extent.end or not look.table.sheet:
        return (number,)
    conditions = tuple(
        getattr(look.first(role), "index", -1)
        for role in (Role.PRODUCT, Role.SESSION, Role.SPECIMEN, Role.DATE, Role.TEST, Role.VALUE)
    )
    return look.table.file, findings.alike[number], extent.header, extent.units, extent.names, conditions


def table_lines(draft: Draft, number: int) -> Iterator[str]:
    """One entry under `tables`."""
    findings = draft.findings
    look = findings.looks[number]
    extent, numbers = look.extent, _sheets(findings, number)
    yield f"  - file: {written(look.table.file)}"
    yield from _written(draft.text_files.get(look.table.file, Written()))
    if look.table.sheet:
        sheets = listed(findings.looks[one].table.sheet for one in numbers)
        yield marked(f"    sheets: {sheets}", _why_sheets(findings, number))
    if extent.header != (look.table.rows[0][0],) or len(look.table.rows) == 0:
        rows = listed_rows(extent.header) if len(extent.header) > 1 else str(extent.header[0])
        above = f"{counted(extent.above, 'row')} above it, and " if extent.above else ""
        yield marked(f"    header: {rows}", f"{above}numbers below names")
    if extent.units:
        yield marked(f"    units: {extent.units}", "a row of units below the names")
    decimals = findings.decimals[number]
    if decimals.comma and not all(one.comma for one in findings.decimals if one.commas + one.points):
        yield marked("    decimal: comma", f"{decimals.commas} texts with a comma, {decimals.points} with a point")
    yield from _rows_left_out(findings, numbers)
    yield from correction_lines(findings, numbers)
    if len(set(product_columns(findings.looks))) > 1:
        column = look.first(Role.PRODUCT)
        assert column is not None
        yield marked(f"    product: {written(_called(look, column))}", "its cells name the products")
    yield from _conditions(findings, number)
    yield from _attributes(findings, number)


def listed_rows(rows: Sequence[int]) -> str:
    """Numbers as a list in one line of YAML."""
    return f"[{', '.join(map(str, rows))}]"


def _written(how: Written) -> Iterator[str]:
    if how.separator:
        sign = "tab" if how.separator == "\t" else f'"{how.separator}"'
        yield marked(f"    separator: {sign}", how.because.rsplit("; ", 1)[-1])
    if how.encoding:
        yield marked(f"    encoding: {how.encoding}", how.because.split("; ", 1)[0])


def _why_sheets(findings: Findings, number: int) -> str:
    look = findings.looks[number]
    kinds = [len(look.of(Role.MEASURE, Role.VALUE)), len(look.of(Role.NAME, Role.MAKER, Role.CLASS, Role.PRICE))]
    holds = "readings" if kinds[0] else "products"
    aside = [one.sheet for one in findings.set_aside if one.sheet]
    unread = f"; not read: {', '.join(aside)}" if aside and number == 0 else ""
    return f"holds {holds}{unread}"


def _rows_left_out(findings: Findings, numbers: Sequence[int]) -> Iterator[str]:
    looks = [findings.looks[number] for number in numbers]
    left_out = [(look, one) for look in looks for one in look.extent.left_out]
    named: dict[str, list[str]] = {}
    rows: list[LeftOut] = []
    for look, one in left_out:
        names = look.extent.names
        if one.why is Why.SUMMARY and one.column < len(names):
            column = names[one.column] or _called(look, look.columns[one.column])
            named.setdefault(column, []).append(one.text)
        else:
            rows.append(one)
    if named:
        columns = ", ".join(f"{written(name)}: {listed(dict.fromkeys(texts))}" for name, texts in named.items())
        yield marked(f"    skip_where: {{{columns}}}", "sums other rows up")
    if rows:
        because = "; ".join(dict.fromkeys(one.why.value for one in rows))
        yield marked(f"    skip: {listed_rows([one.row for one in rows])}", because)
    again = [one for number in numbers for one in findings.second[number].again]
    slips = [one for one in again if one.slips]
    if slips:
        skipped = sorted([*(row for one in slips for row in one.slips), *(one.row for one in rows)])
        told = "; ".join(map(told_of, slips[:3]))
        because = f"{DECIDE}: {told} Take the first `# ` away; or write `duplicates: repeats`, or `specimens`"
        yield marked(f"    # skip: {listed_rows(skipped)}", because)
    end = looks[0].extent.end
    if end:
        yield marked(f"    until: {end}", f"{looks[0].extent.below} stands there")


def _conditions(findings: Findings, number: int) -> Iterator[str]:
    """Sessions, specimens and days, by their columns; or a session each sheet, or each file."""
    look = findings.looks[number]
    sessions = look.first(Role.SESSION)
    fellows = [other for other, first in enumerate(findings.alike) if first == findings.alike[number]]
    if sessions is not None:
        words = len(set(sessions.texts) - {""})
        yield marked(
            f"    sessions: {{column: {written(sessions.head.text)}}}", f"{words} words in {len(look.products)} rows"
        )
    elif len(fellows) > 1:
        files = {findings.looks[other].table.file for other in fellows}
        each = "sheet" if len(files) == 1 else "file"
        yield marked(f"    sessions: {{each: {each}}}", f"{len(fellows)} {each}s have the same columns")
    for key, role in (("specimens", Role.SPECIMEN), ("dates", Role.DATE)):
        column = look.first(role)
        if column is not None and look.of(Role.MEASURE, Role.VALUE):
            yield marked(f"    {key}: {{column: {written(column.head.text)}}}", _why_condition(column))
    if look.is_long:
        yield from _long(look)
    blanks = look.first(Role.PRODUCT)
    if blanks is not None and "" in blanks.texts:
        yield marked(f"    fill: {listed([_called(look, blanks)])}", "empty cells go on with the product above")


def _why_condition(column: Column) -> str:
    return "its cells are days" if column.role is Role.DATE else "its name says so"


def _long(look: Look) -> Iterator[str]:
    keys = (("measure", Role.TEST), ("value", Role.VALUE), ("unit", Role.UNIT), ("repeat", Role.REPEAT))
    said = [f"{key}: {written(column.head.text)}" for key, role in keys if (column := look.first(role))]
    yield marked(f"    long: {{{', '.join(said)}}}", "a row a reading")


def _attributes(findings: Findings, number: int) -> Iterator[str]:
    """Columns of names, makers and kinds, and those that are not read."""
    numbers = _sheets(findings, number)
    said, taken, differs = [], set(), []
    for role, name in ATTRIBUTES.items():
        column = next((columns[one] for one in numbers if one in (columns := attribute_columns(findings, role))), None)
        if column is not None:
            said.append(f"{name}: {{column: {written(column.head.text)}}}")
            taken.add(column.index)
            differs += differing(findings, role)
    if said:
        line = f"    attributes: {{{', '.join(said)}}}"
        told = "; ".join(differs[:3])
        because = f"{DECIDE}: {told}. One word a product is read: leave the attribute out here, and out of the formula"
        yield marked(line, because) if differs else line
    unread = {
        column.head.text: column.role is Role.DERIVED
        for one in numbers
        for column in unread_columns(findings.looks[one])
        if column.index not in taken
    }
    if unread:
        because = f"words that nobody publishes{', and what is worked out from other columns' if any(unread.values()) else ''}"
        yield marked(f"    ignore: {listed(unread)}", because)


def attribute_columns(findings: Findings, role: Role) -> dict[int, Column]:
    """The columns that an attribute is read from, by the number of their table.

    That of the table which knows most products, and those of its fellows: other sheets with the same columns.
    """
    best = findings.attribute(role)
    if best is None:
        return {}
    fellows = [number for number, first in enumerate(findings.alike) if first == findings.alike[best[0]]]
    found = {number: findings.looks[number].first(role) for number in fellows}
    return {number: column for number, column in found.items() if column is not None}


def differing(findings: Findings, role: Role) -> list[str]:
    """Products of which two tables say different words, and the words."""
    said: dict[str, dict[str, None]] = {}
    for number, column in attribute_columns(findings, role).items():
        for product, word in zip(findings.looks[number].products, column.texts, strict=True):
            if product and word:
                said.setdefault(product, {})[word] = None
    return [f"{product} is {' and '.join(map(written, words))}" for product, words in said.items() if len(words) > 1]


def unread_columns(look: Look) -> Iterator[Column]:
    """The named columns that nobody reads, and those of names, makers and kinds that another table says."""
    for column in look.columns:
        is_second_day = column.role is Role.DATE and column is not look.first(Role.DATE)
        is_unread = column.role in (*_UNREAD, *ATTRIBUTES) or is_second_day
        is_repeat = look.is_long and column.role is Role.REPEAT
        if column.head.text and is_unread and not is_repeat:
            yield column


def told_of(again: Again) -> str:
    """Where a product has a second row, and what that may be."""
    if len(again.rows) > 4:
        where = f"stands twice in rows {again.rows[0]} to {again.rows[-1]}"
    else:
        where = f"stands in rows {' and '.join(map(str, again.rows))}"
    if not again.slips:
        other = f", which differ in {' and '.join(map(written, again.differs))}" if again.differs else ""
        return f"{again.product} {where}{other}"
    unread = ", which has none" if again.is_unread else ""
    several = len(again.slips) > 1
    rows = f"are rows {again.slips[0]} to {again.slips[-1]}" if several else f"is row {again.slips[0]}"
    return f"{again.product} {where}; {rows} of {again.meant}{unread}?"
