"""What a curve says its numbers must keep is what its faults hold them to."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from written_forms import curve_form, form_of

from scoring.addresses.addresses import set_together
from scoring.curves import KINDS
from scoring.curves.kind import Keep
from scoring.errors import AddressError
from scoring.form import Curve, Form

WRITTEN = {
    "line": "line: {worst: 46, best: 22}",
    "log": "log: {worst: 1.6, best: 0.08}",
    "logistic": "logistic: {middle: 5, spread: 2, better: lower}",
    "power": "power: {worst: 1, best: 9, exponent: 2}",
    "target": "target: {low: 2, best: 5, high: 9, within: 1}",
    "points": "points: {1: 10, 4: 6, 9: 1}",
    "smooth": "smooth: {1: 10, 4: 6, 9: 1}",
    "steps": "steps: {1: 10, 4: 6, 9: 1}",
}


def curve_of(form: Form) -> Curve:
    curve = form.ratings[0].parts[0].curve
    assert curve is not None
    return curve


def holds(keep: Keep, values: dict[str, float]) -> bool:
    total = keep.constant + sum(factor * values[number.address] for factor, number in keep.terms)
    return {">": total > 0, ">=": total >= 0, "!=": total != 0}[keep.relation]


def test_every_kind_with_faults_says_what_it_keeps() -> None:
    """A kind whose reader refuses some numbers is in the table above, so that the property below looks at it."""
    assert {name for name, kind in KINDS.items() if kind.anchored or kind.ends is not None} <= set(WRITTEN)


@pytest.mark.parametrize("kind", WRITTEN)
@given(data=st.data())
def test_the_reader_refuses_what_is_not_kept(kind: str, data: Any) -> None:
    """Any whole numbers along the measure: the reader takes the curve if and only if every rule is kept."""
    form = form_of(curve_form(WRITTEN[kind]))
    curve = curve_of(form)
    along = [number for _, number in curve.numbers] + [at for at, _ in curve.anchors]
    values = {number.address: float(data.draw(st.integers(-2, 10), label=number.address)) for number in along}
    kept = all(holds(keep, values) for keep in KINDS[kind].kept(curve))
    try:
        set_together(form, {address: f"{value:g}" for address, value in values.items()})
        taken = True
    except AddressError:
        taken = False
    assert taken == kept
