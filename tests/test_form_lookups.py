"""What is looked up in a form by name or address is found in one way, and kept with the form."""

from __future__ import annotations

from dataclasses import replace

import pytest
from written_forms import HEAD, form_of

FORM = form_of(
    HEAD
    + """\
constants: {k: 2}
attributes: {fire: {values: [none, ok]}}
ratings:
  first: {measure: x, curve: {line: {worst: 0, best: 9}}}
  second:
    mix:
    - {measure: x, weight: 2, curve: {line: {worst: 0, best: 9}}}
    - {rating: first}
scores:
  whole: {weights: {first: 1, second: 2}, limits: [{name: soft, when: x > 3, at_most: 5}]}
"""
)


def test_outputs_measures_and_attributes_are_found_by_name() -> None:
    assert [FORM.output(name).address for name in FORM.outputs_by_name] == [
        "ratings.first",
        "ratings.second",
        "scores.whole",
    ]
    assert [FORM.measure(name).name for name in FORM.measures_by_name] == ["x", "y", "z"]
    assert FORM.attributes_by_name["fire"].values == ("none", "ok")
    assert FORM.units == {"x": "1", "y": "1", "z": "1"}


@pytest.mark.parametrize("name", ["third", "x", "k", ""])
def test_a_name_that_is_no_output_is_a_key_error(name: str) -> None:
    with pytest.raises(KeyError):
        FORM.output(name)


def test_an_address_stands_inside_one_output_or_outside_of_all() -> None:
    for address, name in [
        ("ratings.second.mix.x.weight", "second"),
        ("scores.whole.limits.soft.at_most", "whole"),
        ("ratings.first.curve", "first"),
    ]:
        found = FORM.output_at(address)
        assert found is not None
        assert found.name == name
    for address in ("ratings.first", "scores.first.round", "constants.k", "measures.x.better", "scale.from", "nothing"):
        assert FORM.output_at(address) is None


def test_parts_and_limits_are_found_by_address() -> None:
    whole, second = FORM.output("whole"), FORM.output("second")
    assert whole.limit_at("scores.whole.limits.soft") is whole.limits[0]
    assert whole.limit_at("scores.whole.limits.hard") is None
    assert second.part_at("ratings.second.mix.first") is second.parts[1]
    assert second.part_at("ratings.first") is None


def test_what_is_found_is_found_once_and_another_form_has_its_own() -> None:
    assert FORM.outputs_by_name is FORM.outputs_by_name
    fewer = replace(FORM, scores=())
    assert list(fewer.outputs_by_name) == ["first", "second"]
    assert list(FORM.outputs_by_name) == ["first", "second", "whole"]
    assert fewer != FORM
    assert replace(fewer, scores=FORM.scores) == FORM
