"""Reading measures and attributes."""

from __future__ import annotations

from scoring.document import Node, Scalar, Sequence
from scoring.form import Attribute, Choice, Measure, Number, Repeatability, Rounding, Spot
from scoring.reader.fields import Fields, Reader

MEASURE_KEYS = (
    "label",
    "unit",
    "better",
    "plausible",
    "repeats",
    "trim",
    "repeatability",
    "reporting_floor",
    "below_floor",
    "round",
    "note",
)
ATTRIBUTE_KEYS = ("label", "values")
ROUND_KEYS = ("step", "rule")
BETTER = ("unstated", "higher", "lower", "neither")
REPEATS = ("mean", "median", "trimmed", "level mean")
BELOW_FLOOR = ("floor", "half", "zero", "missing")
REPEATABILITY = ("absolute", "relative", "pooled", "pooled relative")
RULES = ("half-up", "half-even", "down", "up")


def read_measures(reader: Reader, node: Node | None) -> tuple[Measure, ...]:
    """Every measure under `measures`."""
    read = []
    for key, body, address in reader.named(node, "measures", "measures"):
        fields = reader.fields(body, address, MEASURE_KEYS, "a measure")
        if fields is not None:
            read.append(_read_measure(reader, fields, key.text))
    return tuple(read)


def _read_measure(reader: Reader, fields: Fields, name: str) -> Measure:
    unit = fields.text("unit")
    if "unit" not in fields:
        fields.required("unit")
    trim = fields.number("trim", default=0.1, least=0, most=0.49)
    return Measure(
        name=name,
        label=fields.text("label", name.replace("_", " ")),
        unit=unit,
        better=fields.choice("better", BETTER),
        plausible=_read_plausible(reader, fields),
        repeats=fields.choice("repeats", REPEATS),
        trim=trim or fields.default_number(0.1, "trim"),
        repeatability=_read_repeatability(reader, fields),
        floor=fields.number("reporting_floor") if _written(fields, "reporting_floor") else None,
        below_floor=fields.choice("below_floor", BELOW_FLOOR),
        round=read_rounding(reader, fields, "round"),
        note=fields.text("note"),
        address=fields.address,
        place=fields.place,
    )


def _written(fields: Fields, key: str) -> bool:
    """Whether `key` holds something; `null` says that nothing is meant."""
    node = fields.node_of(key)
    return node is not None and not (isinstance(node, Scalar) and not node.quoted and node.text in {"null", "~"})


def _read_plausible(reader: Reader, fields: Fields) -> tuple[Number, Number] | None:
    if not _written(fields, "plausible"):
        return None
    address = fields.path("plausible")
    node = fields.node_of("plausible")
    items = reader.items(node, address, "two numbers")
    if isinstance(node, Sequence) and len(items) != 2:
        reader.fault(node.place, f"{len(items)} numbers for {address}", "two: [least, most]")
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


def _read_repeatability(reader: Reader, fields: Fields) -> Repeatability | None:
    if not _written(fields, "repeatability"):
        return None
    node = fields.node_of("repeatability")
    address = fields.path("repeatability")
    if isinstance(node, Scalar) and node.text in REPEATABILITY[2:]:
        spot = Spot(reader.source, node.start, node.end)
        return Repeatability(Choice(node.text, REPEATABILITY[2:], address, node.place, spot), None)
    amount = reader.number(node, address, above=0, percent=True)
    if amount is None or node is None:
        return None
    kind = REPEATABILITY[1] if amount.text.endswith("%") else REPEATABILITY[0]
    spot = Spot(reader.source, node.start, node.end)
    return Repeatability(Choice(kind, (kind, *REPEATABILITY[2:]), f"{address}.kind", node.place, spot), amount)


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
