"""Reading a scale, its ends and how what lies on it is shown; and the ranks of one rating or score."""

from __future__ import annotations

from dataclasses import replace

from scoring.form import RANKS, ROUNDING, SCALE, SHOWN_STEP, Ranks, Rounding, Scale
from scoring.reader.declared import all_unsaid, read_key, unsaid
from scoring.reader.fields import Fields
from scoring.texts.source import Spot


def read_scale(fields: Fields, inherited: Scale | None) -> Scale:
    """The scale under `scale`, what is not written there being inherited (or 1 to 10, shown in tenths, half-up)."""
    node = fields.node_of("scale")
    if node is None and inherited is not None:
        return inherited
    own = fields.reader.noun(node, fields.path("scale"), SCALE)
    if own is None:
        return _default_scale(fields, "scale")
    default = inherited or _default_scale(own, topped="to" in own)
    low = (own.number("from") if "from" in own else default.low) or default.low
    high = default.high
    if "to" in own:
        high = own.number("to") or default.high
    elif "from" in own:
        high = None  # `from` without `to` opens the scale
    if high is not None and high.value <= low.value:
        fields.reader.fault(high.place, f"a scale from {low.text} to {high.text}", "`to` above `from`")
    others = {
        name: (read_key(key, own) if key.name in own else None) or getattr(default, name)
        for name, key in SCALE.fields.items()
    }
    return Scale(**others | {"low": low, "high": high})


def read_ranks(fields: Fields, inherited: Ranks) -> Ranks:
    """The ranks of one rating or score, what is not written under its `ranks` being as in the formula's."""
    own = fields.reader.noun(fields.node_of("ranks"), fields.path("ranks"), RANKS)
    if own is None:
        return inherited
    return replace(inherited, **{name: read_key(key, own) for name, key in RANKS.fields.items() if key.name in own})


def _default_scale(fields: Fields, *keys: str, topped: bool = False) -> Scale:
    """1 to 10 in tenths, half-up. What would open the scale, or needs a step, is written with its companion."""
    values = all_unsaid(SCALE, fields, *keys)
    step = fields.default_number(SHOWN_STEP, *keys, "show", "step")
    rule = unsaid(ROUNDING.fields["rule"].kind, fields, *keys, "show", "rule")
    rule = replace(rule, spot=_beside(rule.spot, f"step: {SHOWN_STEP:g}, ", "rule: "))
    if not topped:
        low, high = values["low"], values["high"]
        between = (low.spot.after if not keys else "") or ", "
        values["low"] = replace(low, spot=_beside(low.spot, f"to: {high.text}{between}", "from: "))
    return Scale(**values | {"show": Rounding(step, rule)})


def _beside(spot: Spot, companion: str, key: str) -> Spot:
    """The spot of a key that is not written yet, with another one before it."""
    return replace(spot, before=spot.before.removesuffix(key) + companion + key)
