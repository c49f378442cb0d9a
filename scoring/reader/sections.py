"""Reading the sections that hold one noun many times: measures, attributes, gates, and steps of the checklist."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scoring.errors import nearest
from scoring.expression import STATISTICS
from scoring.form import ATTRIBUTE, CHECKLIST, GATE, MEASURE, WAIVER, Attribute, Gate, Measure, Output, Term, Waiver
from scoring.reader.declared import made, named_nouns, read_key
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip
from scoring.texts.document import Node, Scalar
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
    read: list[Attribute] = []
    for name, fields in named_nouns(reader, node, "attributes", ATTRIBUTE):
        attribute = made(ATTRIBUTE, fields, name=name)
        assert attribute is not None  # no key of it must be written
        _check_role(fields, attribute)
        read.append(attribute)
    return tuple(read)


def _check_role(fields: Fields, attribute: Attribute) -> None:
    """A display name that is not to be printed would be no name."""
    if attribute.shown_as and not attribute.public:
        found = f"`public: no` beside `shown_as: {attribute.shown_as}` in {fields.address}"
        hint = "Take one of the two away: what is shown beside the ids stands in every publication."
        fields.reader.fault(fields.place, found, "an attribute that is published", hint)


def check_roles(reader: Reader, attributes: Sequence[Attribute], measures: Sequence[Measure]) -> None:
    """No two attributes have one role, and no two things one column of the catalogue, wherever they were declared."""
    roles: dict[str, str] = {}
    columns = {measure.heading: measure.address for measure in measures}
    for attribute in attributes:
        written = [("shown_as", attribute.shown_as, roles), ("column", attribute.column, columns)]
        for key, said, taken in written:
            other = taken.setdefault(said, attribute.address) if said else attribute.address
            if other != attribute.address:
                found = f"`{key}: {clip(said)}` in {attribute.address}, which {other} has already"
                reader.fault(attribute.place, found, "each of them once", "Take one of the two away.")
        columns.setdefault(attribute.heading, attribute.address)


def read_gates(reader: Reader, node: Node | None, outputs: Sequence[Output]) -> Iterator[Gate]:
    """Every gate under `gates`; `outputs` are the scores, or the ratings where there are none."""
    taken: set[str] = set()
    for index, written in enumerate(reader.items(node, "gates", "gates"), start=1):
        item = reader.noun(written, f"gates.{index}", GATE)
        if item is not None:
            name = reader.label(item, index, taken)
            item.address = f"gates.{name}"
            scores = read_key(GATE.fields["scores"], item)
            _check_together(item, scores, [output.name for output in outputs])
            gate = made(GATE, item, name=name, scores=scores)
            if gate is not None:
                _check_guard(item, gate)
                yield gate


def _check_together(item: Fields, scores: Sequence[str], outputs: Sequence[str]) -> None:
    """A gate does something, a guard has its remark, and the scores are known."""
    if not {"withhold", "remark"} & {key.text for key, _ in item.node.entries}:
        found = f"a gate that does nothing ({item.address})"
        item.reader.fault(item.place, found, "`withhold: why` or `remark: text`")
    if "guard" in item and "near" not in item:
        item.reader.fault(item.place, f"`guard` without `near` in {item.address}", "`near: what to say`")
    for output in scores:
        if output not in outputs:
            item.reader.fault(item.place, f"`{output}` in {item.path('scores')}", "a score", nearest(output, outputs))


def _check_guard(item: Fields, gate: Gate) -> None:
    """What is guarded is a reading alone."""
    kinds, when = item.reader.names.kinds, gate.when
    if gate.guard is not None and (len(when.names) != 1 or kinds.get(when.names[0]) != "measure"):
        item.reader.fault(item.place, f"`guard` in {item.address}", "a condition on one measure")
    elif gate.guard is not None and _leans(when.term):
        expected = "a condition without statistics of the catalogue"
        item.reader.fault(item.place, f"`guard` in {item.address}", expected)


def _leans(term: Term) -> bool:
    """Whether an expression leans on a statistic of the catalogue."""
    return term.op in STATISTICS or any(_leans(arg) for arg in term.args if isinstance(arg, Term))


def read_checklist(reader: Reader, node: Node | None) -> Iterator[Waiver]:
    """Every step under `checklist`, written `step: {waived: why}`."""
    steps = reader.fields(node, "checklist", CHECKLIST, "a checklist")
    if steps is None:
        return
    for step in CHECKLIST:
        if step not in steps:
            continue
        fields = reader.noun(steps.node_of(step), steps.path(step), WAIVER)
        waiver = made(WAIVER, fields, step=step) if fields is not None else None
        if fields is None or waiver is None:
            continue
        reason = fields.node_of("waived")
        if isinstance(reason, Scalar) and not reason.text.strip():
            reader.fault(reason.place, f"no reason at {fields.path('waived')}", "why the step is waived, in words")
        yield waiver
