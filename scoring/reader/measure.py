"""Reading measures and attributes."""

from __future__ import annotations

from scoring.form import ATTRIBUTE, MEASURE, Attribute, Measure
from scoring.reader.declared import made, named_nouns
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip
from scoring.texts.document import Node
from scoring.units.conversion import is_offset_unit, same_unit
from scoring.units.in_name import words_and_unit


def read_measures(reader: Reader, node: Node | None) -> tuple[Measure, ...]:
    """Every measure under `measures`."""
    read = []
    for name, fields in named_nouns(reader, node, "measures", MEASURE):
        measure = made(MEASURE, fields, name=name)
        assert measure is not None  # no key that must be written is left without a value
        _check_unit_in_name(fields, measure)
        read.append(measure)
    return tuple(read)


def _check_unit_in_name(fields: Fields, measure: Measure) -> None:
    """A catalogue's column whose words say another unit than the measure: its readings would be taken for what they are not."""
    said = words_and_unit(measure.column)[1] if measure.column else ""
    node = fields.node_of("unit")
    rise = is_offset_unit(said) and measure.unit.startswith("delta_")
    if not said or node is None or rise or same_unit(said, measure.unit):
        return
    found = f"the unit `{clip(measure.unit)}` for the column `{clip(measure.column)}`, which says {said}"
    hint = f"Write `unit: {said}`, and put anchors and ranges in it; or write the unit in the catalogue as `[{said}]`."
    fields.reader.fault(node.place, found, "the unit that the column's readings are in", hint)


def read_attributes(reader: Reader, node: Node | None) -> tuple[Attribute, ...]:
    """Every attribute under `attributes`."""
    nouns = named_nouns(reader, node, "attributes", ATTRIBUTE)
    return tuple(attribute for name, fields in nouns if (attribute := made(ATTRIBUTE, fields, name=name)))
