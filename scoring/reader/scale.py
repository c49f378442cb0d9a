"""Reading a scale: its ends, and how what lies on it is shown."""

from __future__ import annotations

from dataclasses import replace

from scoring.form import Rounding, Scale
from scoring.reader import keys as form_keys
from scoring.reader.fields import Fields, Reader
from scoring.reader.measure import RULES, read_rounding
from scoring.source import Spot

SCALE_KEYS = tuple(form_keys.SCALE)


def read_scale(reader: Reader, fields: Fields, inherited: Scale | None) -> Scale:
    """The scale under `scale`, what is not written there being inherited (or 1 to 10, shown in tenths, half-up)."""
    node = fields.node_of("scale")
    if node is None and inherited is not None:
        return inherited
    own = reader.fields(node, fields.path("scale"), SCALE_KEYS, "a scale")
    if own is None:
        return _default_scale(fields, "scale")
    default = inherited or _default_scale(own, topped="to" in own)
    low = (own.number("from") if "from" in own else default.low) or default.low
    high = (own.number("to") or default.high) if "to" in own else default.high if "from" not in own else None
    if high is not None and high.value <= low.value:
        reader.fault(high.place, f"a scale from {low.text} to {high.text}", "`to` above `from`")
    show = read_rounding(reader, own, "show") or default.show
    return Scale(low, high, show)


def _default_scale(fields: Fields, *keys: str, topped: bool = False) -> Scale:
    """1 to 10 in tenths, half-up. What would open the scale, or needs a step, is written with its companion."""
    step = fields.default_number(0.1, *keys, "show", "step")
    rule = fields.default_choice(RULES, *keys, "show", "rule")
    rule = replace(rule, spot=_beside(rule.spot, "step: 0.1, ", "rule: "))
    low, high = fields.default_number(1, *keys, "from"), fields.default_number(10, *keys, "to")
    if not topped:
        between = (low.spot.after if not keys else "") or ", "
        low = replace(low, spot=_beside(low.spot, f"to: {high.text}{between}", "from: "))
    return Scale(low, high, Rounding(step, rule))


def _beside(spot: Spot, companion: str, key: str) -> Spot:
    """The spot of a key that is not written yet, with another one before it."""
    return replace(spot, before=spot.before.removesuffix(key) + companion + key)
