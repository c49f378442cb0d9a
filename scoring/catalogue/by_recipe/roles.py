"""What each column of a table holds, as the recipe says it, and the formula where the recipe says nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import count

from scoring.catalogue.by_recipe.header import header_name, one_line
from scoring.catalogue.by_recipe.raw_table import RawTable
from scoring.catalogue.by_recipe.table_rows import row_of_names
from scoring.catalogue.cells import has_number, text_of
from scoring.catalogue.column_names import ID_COLUMNS, few_names, near_name
from scoring.catalogue.long import is_long
from scoring.catalogue.product_columns import SESSIONS
from scoring.errors import Problem, column_letters, nearest
from scoring.form import Form, Measure
from scoring.recipe import ColumnsOfMeasure, Table
from scoring.texts.file_limits import REPEATS

#: The columns of a long table that say something beside each reading, where the recipe does not name them.
BESIDE = ("session", "specimen", "date", "operator")
#: The columns of a long table, which are called so where the recipe does not name them.
LONG_COLUMNS = ("measure", "value", "unit", "repeat", "flag", "reason")


@dataclass(frozen=True, slots=True)
class HeldColumn:
    """A column of a wide table that holds a repeat of a measure, counted from 0, in a unit where one is stated."""

    index: int
    repeat: int
    unit: str | None


@dataclass(slots=True, eq=False)
class Roles:
    """What the columns of a table hold, by their index.

    beside : "session", "specimen", "date", "operator" -> their column
    long : "measure", "value" ... -> their columns; empty for a wide table
    ignored : columns that the recipe passes over by their whole names
    spare : columns that nothing is known of
    """

    product: int
    measures: dict[str, list[HeldColumn]] = field(default_factory=dict)
    attributes: dict[str, int] = field(default_factory=dict)
    beside: dict[str, int] = field(default_factory=dict)
    long: dict[str, int] = field(default_factory=dict)
    ignored: set[int] = field(default_factory=set)
    spare: list[int] = field(default_factory=list)

    def of(self, index: int) -> str:
        """What a column holds: "product", a measure, an attribute, "session", "value" ...; empty for none of them."""
        held = {column.index: name for name, columns in self.measures.items() for column in columns}
        named = {**self.attributes, **self.beside, **self.long, "product": self.product}
        return held.get(index) or {at: name for name, at in named.items()}.get(index, "")

    def taken(self) -> set[int]:
        """Every column that has a role."""
        held = {column.index for columns in self.measures.values() for column in columns}
        return {self.product, *held, *self.attributes.values(), *self.beside.values(), *self.long.values()}


def roles_of(raw: RawTable, form: Form, problems: list[Problem]) -> Roles | None:
    """What the columns hold; None, and a fault, where none names the products."""
    product = _product(raw, form, problems)
    if product is None:
        return None
    roles = Roles(product)
    roles.ignored = {
        i for i, text in enumerate(raw.sheet.header) if text in {one_line(name) for name in raw.table.ignore}
    }
    roles.long = _long(raw, problems)
    roles.beside = _beside(raw, form, roles, problems)
    roles.attributes = _attributes(raw, form)
    if not roles.long:
        for measure in form.measures:
            columns = _columns_of(raw, measure, roles, problems)
            if columns:
                roles.measures[measure.name] = columns
    taken = roles.taken() | roles.ignored | _alike(raw, raw.table.ignore)
    there = (index for index, text in enumerate(raw.sheet.header) if text or _filled(raw, index))
    roles.spare = [index for index in there if index not in taken]
    return roles


def unused_and_left_out(raw: RawTable, roles: Roles) -> tuple[list[str], list[str]]:
    """The columns that have no role: those that hold numbers, by their names, and those of words, or without a name."""
    unused, left_out = [], []
    for index in roles.spare:
        text = raw.sheet.header[index]
        if text and not roles.long and has_number(raw.sheet.columns[index], raw.sheet.rules):
            unused.append(raw.names[index].name)
        else:
            left_out.append(text or _unnamed(raw, index))
    return unused, [*left_out, *raw.beside]


def spec_of(table: Table, measure: Measure) -> ColumnsOfMeasure | None:
    """What the recipe says of the columns of a measure."""
    return table.measures.get(measure.name)


def bare_names(table: Table, measure: Measure) -> set[str]:
    """What a measure is called in the table, without unit and repeat."""
    spec = spec_of(table, measure)
    names = (spec.column,) if spec is not None and spec.column else (measure.heading, measure.name)
    return {header_name(name).name for name in names}


def _product(raw: RawTable, form: Form, problems: list[Problem]) -> int | None:
    """The column that names the products."""
    said = raw.table.product
    wanted = (said,) if said else (form.product_column, *ID_COLUMNS)
    found = next((index for name in wanted if name and (index := raw.find(name)) is not None), None)
    if found is not None:
        return found
    called = f"`{said}`, as the recipe says" if said else f"`{form.product_column or 'product'}` or `id`"
    names = [*wanted, *(name for measure in form.measures for name in bare_names(raw.table, measure))]
    line = row_of_names(raw.grid, names)
    shown = [text for text in raw.sheet.header if text]
    hint = f"Name it in the recipe, as `product: {shown[0] if shown else 'Model'}`. Its columns: {few_names(shown)}."
    if line and line != raw.sheet.header_line:
        hint = f"Is the header in row {line}? Write `header: {line}` in the recipe."
    elif said and nearest(said, shown).startswith("Did"):
        hint = nearest(said, shown)
    problems.append(Problem(raw.header_place(), "no column of products", f"a column called {called}", hint))
    return None


def _long(raw: RawTable, problems: list[Problem]) -> dict[str, int]:
    """The columns of a long table; none where the table is wide."""
    said = raw.table.long
    if said is None and not is_long(raw.sheet.header):
        return {}
    wanted = {name: getattr(said, name) if said is not None else name for name in LONG_COLUMNS}
    wanted = {name: column for name, column in wanted.items() if column}
    found = {name: raw.find(column) for name, column in wanted.items()}
    if said is not None and found["measure"] is None and found["value"] is None and "long" not in raw.table.own:
        return {}  # said of all tables, and this one is wide
    for name, index in found.items():
        if said is not None and index is None:
            problems.append(_no_column(raw, wanted[name], f"`long: {{{name}: ...}}`"))
    there = {name: index for name, index in found.items() if index is not None}
    return there if {"measure", "value"} <= there.keys() else {}


def _beside(raw: RawTable, form: Form, roles: Roles, problems: list[Problem]) -> dict[str, int]:
    """The columns that say something of each row's readings."""
    table = raw.table
    said = {"session": table.sessions, "specimen": table.specimens, "date": table.dates}
    found: dict[str, int] = {}
    for name, where in said.items():
        column = where.column if where is not None else ""
        index = raw.find(column) if column else None
        if index is not None:
            found[name] = index
        elif column and f"{name}s" in table.own:
            problems.append(_no_column(raw, column, f"`{name}s: {{column: ...}}`"))
    taken = {name for measure in form.measures for name in bare_names(table, measure)}
    by_habit = BESIDE if roles.long else ("session",)
    for name in by_habit:
        if said.get(name) is None and name not in taken:
            words = SESSIONS if name == "session" else (name,)
            there = [raw.sheet.header.index(word) for word in words if word in raw.sheet.header]
            if there and there[0] not in (roles.product, *roles.ignored):
                found[name] = there[0]
    return found


def _attributes(raw: RawTable, form: Form) -> dict[str, int]:
    """The columns of declared attributes."""
    said = raw.table.attributes
    wanted = {one.name: said[one.name].column if one.name in said else one.heading for one in form.attributes}
    found = {name: raw.find(column) for name, column in wanted.items()}
    return {name: index for name, index in found.items() if index is not None}


def _columns_of(raw: RawTable, measure: Measure, roles: Roles, problems: list[Problem]) -> list[HeldColumn]:
    """The columns of a measure in a wide table."""
    spec = spec_of(raw.table, measure)
    stated = spec.unit if spec is not None and spec.unit else None
    if spec is not None and spec.columns:
        return _in_order(raw, measure, spec, problems)
    bare = bare_names(raw.table, measure)
    said = {one_line(spec.column)} if spec is not None and spec.column else set()
    others = {roles.product, *roles.attributes.values(), *roles.beside.values(), *roles.ignored}
    named = ((i, text, raw.names[i].name) for i, text in enumerate(raw.sheet.header) if text and i not in others)
    own = [i for i, text, name in named if name in bare or text in said]
    numbers = count()
    is_said = spec is not None and bool(spec.column)
    held: list[HeldColumn] = []
    for index in own:
        name = raw.names[index]
        if not name.is_sound:
            hint = "A header states one unit and one `#n`."
            problems.append(
                Problem(raw.sheet.place_at(None, index), f"a column of `{measure.name}`", "one of each", hint)
            )
            continue
        unnumbered = next(numbers) if is_said and name.repeat is None else 0
        held.append(HeldColumn(index, unnumbered if name.repeat is None else name.repeat - 1, name.unit or stated))
    return _sound_repeats(raw, measure, held, problems)


def _sound_repeats(
    raw: RawTable, measure: Measure, held: list[HeldColumn], problems: list[Problem]
) -> list[HeldColumn]:
    """The columns, each a repeat of its own; a second of one number, or a number too high, is a problem."""
    kept: dict[int, HeldColumn] = {}
    for column in held:
        place = raw.sheet.place_at(None, column.index)
        if not 0 <= column.repeat < REPEATS:
            problems.append(Problem(place, f"repeat {column.repeat + 1}", f"repeats numbered from 1 to {REPEATS}"))
        elif column.repeat in kept:
            other = raw.sheet.header[kept[column.repeat].index]
            found = f"repeat {column.repeat + 1} of `{measure.name}`, which the column `{other}` holds already"
            text = raw.names[column.index].name
            hint = f"Columns that are its repeats in their order: `measures: {{{measure.name}: {{column: {text}}}}}`."
            problems.append(Problem(place, found, "one column a repeat", hint))
        else:
            kept[column.repeat] = column
    return list(kept.values())


def _in_order(raw: RawTable, measure: Measure, spec: ColumnsOfMeasure, problems: list[Problem]) -> list[HeldColumn]:
    """The columns that the recipe lists as the repeats of a measure; none where the table has none of them."""
    found = [raw.find(column) for column in spec.columns]
    if all(index is None for index in found):
        return []
    for index, column in zip(found, spec.columns, strict=True):
        if index is None:
            problems.append(_no_column(raw, column, f"`measures: {{{measure.name}: {{columns: [...]}}}}`"))
    there = [(index, repeat) for repeat, index in enumerate(found) if index is not None]
    return [HeldColumn(index, repeat, raw.names[index].unit or spec.unit or None) for index, repeat in there]


def _no_column(raw: RawTable, column: str, named_by: str) -> Problem:
    shown = [text for text in raw.sheet.header if text]
    return Problem(
        raw.header_place(), f"no column `{column}`", f"one, as {named_by} names it", near_name(column, shown)
    )


def _alike(raw: RawTable, names: Iterable[str]) -> set[int]:
    """Every column of some names, whatever unit and repeat it has."""
    bare = {header_name(name).name for name in names}
    return {i for i, name in enumerate(raw.names) if raw.sheet.header[i] and name.name in bare}


def _filled(raw: RawTable, index: int) -> bool:
    """Whether a column holds anything."""
    return any(text_of(cell) for cell in raw.sheet.columns[index].tolist())


def _unnamed(raw: RawTable, index: int) -> str:
    return f"column {column_letters(index + 1) if raw.sheet.sheet else index + 1}"
