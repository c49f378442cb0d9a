"""Reading measures and attributes."""

from __future__ import annotations

from scoring import renamed
from scoring.document import Node, Scalar, Sequence
from scoring.form import Attribute, Choice, Measure, Number, Rounding
from scoring.reader import keys, options
from scoring.reader.error_component import (
    BETWEEN_SESSIONS,
    BETWEEN_SPECIMENS,
    SYSTEMATIC,
    read_repeatability,
    read_shared_error,
)
from scoring.reader.fields import Fields, Reader, is_written
from scoring.reader.wording import clip
from scoring.source import Spot
from scoring.unit_in_name import words_and_unit
from scoring.units import is_offset_unit, same_unit

MEASURE_KEYS = tuple(keys.MEASURE)
ATTRIBUTE_KEYS = tuple(keys.ATTRIBUTE)
ROUND_KEYS = tuple(keys.ROUNDING)
BETTER = tuple(options.BETTER)
REPEATS = tuple(options.REPEATS)
BELOW_LIMIT = tuple(options.BELOW_LIMIT)
RULES = tuple(options.RULES)


def read_measures(reader: Reader, node: Node | None) -> tuple[Measure, ...]:
    """Every measure under `measures`."""
    read = []
    for key, body, address in reader.named(node, "measures", "measures"):
        fields = reader.fields(body, address, MEASURE_KEYS, "a measure", renamed.MEASURE_KEYS)
        if fields is not None:
            read.append(_read_measure(reader, fields, key.text))
    return tuple(read)


def _read_measure(reader: Reader, fields: Fields, name: str) -> Measure:
    unit = fields.text("unit")
    if "unit" not in fields:
        fields.required("unit", "As in `unit: mm`; a plain number has `unit: 1`.")
    column = read_column(reader, fields, "column")
    _check_unit_in_name(reader, fields, column, unit)
    trim = fields.number("trim", default=0.1, least=0, most=0.49)
    return Measure(
        name=name,
        label=fields.text("label", name.replace("_", " ")),
        column=column,
        unit=unit,
        better=fields.choice("better", BETTER),
        plausible=_read_plausible(reader, fields),
        repeats=fields.choice("repeats", REPEATS),
        trim=trim or fields.default_number(0.1, "trim"),
        repeatability=read_repeatability(reader, fields),
        between_sessions=read_shared_error(reader, fields, BETWEEN_SESSIONS),
        between_specimens=read_shared_error(reader, fields, BETWEEN_SPECIMENS),
        systematic=read_shared_error(reader, fields, SYSTEMATIC),
        reporting_limit=fields.number("reporting_limit") if is_written(fields, "reporting_limit") else None,
        below_limit=_read_below_limit(reader, fields),
        round=read_rounding(reader, fields, "round"),
        note=fields.text("note"),
        address=fields.address,
        place=fields.place,
    )


def _check_unit_in_name(reader: Reader, fields: Fields, column: str, unit: str) -> None:
    """A catalogue's column whose words say another unit than the measure: its readings would be taken for what they are not."""
    said = words_and_unit(column)[1] if column else ""
    node = fields.node_of("unit")
    rise = is_offset_unit(said) and unit.startswith("delta_")
    if not said or node is None or rise or same_unit(said, unit):
        return
    found = f"the unit `{clip(unit)}` for the column `{clip(column)}`, which says {said}"
    hint = f"Write `unit: {said}`, and put anchors and ranges in it; or write the unit in the catalogue as `[{said}]`."
    reader.fault(node.place, found, "the unit that the column's readings are in", hint)


def read_column(reader: Reader, fields: Fields, key: str) -> str:
    """A catalogue's column by its name alone; empty where none is written."""
    column = fields.text(key).strip()
    if set(column) & set("[]#"):
        hint = "Leave out `[unit]` and `#repeat`, which stand in the catalogue alone."
        reader.fault((fields.node_of(key) or fields.node).place, f"`{clip(column)}`", "the column's name alone", hint)
        return ""
    return column


def _read_below_limit(reader: Reader, fields: Fields) -> Choice:
    node = fields.node_of("below_limit")
    new = renamed.WORDS["below_limit"].get(node.text) if isinstance(node, Scalar) else None
    if not isinstance(node, Scalar) or new is None:
        return fields.choice("below_limit", BELOW_LIMIT)
    address = fields.path("below_limit")
    reader.renamed.append(renamed.Renamed(node.place, address, node.text, new))
    return Choice(new, BELOW_LIMIT, address, node.place, Spot(reader.source, node.start, node.end))


def _read_plausible(reader: Reader, fields: Fields) -> tuple[Number, Number] | None:
    if not is_written(fields, "plausible"):
        return None
    address = fields.path("plausible")
    node = fields.node_of("plausible")
    items = reader.items(node, address, "two numbers")
    if isinstance(node, Sequence) and len(items) != 2:
        found = f"{len(items)} number{'s' * (len(items) != 1)} for {address}"
        hint = "Write a decimal point, not a comma." if len(items) > 2 else ""
        reader.fault(node.place, found, "two: [least, most]", hint)
    if len(items) != 2:
        return None
    low = reader.number(items[0], f"{address}.from")
    high = reader.number(items[1], f"{address}.to")
    if low is None or high is None:
        return None
    if low.value >= high.value:
        reader.fault(low.place, f"[{low.text}, {high.text}] for {address}", "the lesser number first")
        return None
    return low, high


def read_rounding(reader: Reader, fields: Fields, key: str) -> Rounding | None:
    """The rounding under `key`, if it is written."""
    node = fields.node_of(key)
    if node is None:
        return None
    own = reader.fields(node, fields.path(key), ROUND_KEYS, "a rounding")
    if own is None:
        return None
    step = own.number("step", above=0)
    rule = own.choice("rule", RULES)
    return Rounding(step, rule) if step is not None else None


def read_attributes(reader: Reader, node: Node | None) -> tuple[Attribute, ...]:
    """Every attribute under `attributes`."""
    read = []
    for key, body, address in reader.named(node, "attributes", "attributes"):
        fields = reader.fields(body, address, ATTRIBUTE_KEYS, "an attribute")
        if fields is not None:
            label = fields.text("label", key.text.replace("_", " "))
            read.append(Attribute(key.text, label, fields.words("values"), address, fields.place))
    return tuple(read)
