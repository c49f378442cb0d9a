"""The graph of outputs: what each stands on, what each name reaches, and in which order they are needed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from written_forms import HEAD, form_of

from scoring.dependencies import Dependencies
from scoring.errors import FormulaError, Place

FORM = form_of(
    HEAD
    + """\
constants: {k: 2}
attributes: {fire: {values: [none, ok]}}
scores:
  whole: {weights: {late: 1, early: 1}, limits: [{when: z > 3 and fire == ok, at_most: 5}]}
ratings:
  late: {value: early + k * x}
  early: {measure: y, curve: {line: {worst: 0, best: 9}}}
  alone: {measure: x, curve: {line: {worst: 0, best: 9}}}
"""
)
GRAPH = FORM.dependencies


def test_what_an_output_stands_on_comes_once_and_the_nearest_first() -> None:
    assert GRAPH.under("whole") == ("late", "early", "z", "fire", "k", "x", "y")
    assert GRAPH.under("late", "alone") == ("early", "k", "x", "y")
    assert GRAPH.inputs_under("whole") == ("z", "fire", "k", "x", "y")
    assert GRAPH.under("x") == ()
    assert GRAPH.with_under("x", "early") == {"x", "early", "y"}


def test_what_a_name_reaches_comes_in_order_of_need() -> None:
    assert GRAPH.order == ("early", "late", "alone", "whole")
    assert GRAPH.reached_from(["y"]) == ("early", "late", "whole")
    assert GRAPH.reached_from(["early"]) == ("early", "late", "whole")
    assert GRAPH.reached_from(["k", "fire"]) == ("late", "whole")
    assert GRAPH.reached_from([]) == ()
    assert GRAPH.takers("x") == ("late", "alone")


@pytest.mark.parametrize(
    ("address", "reached"),
    [
        ("measures.y.reporting_limit", ("early", "late", "whole")),
        ("constants.k", ("late", "whole")),
        ("ratings.alone.curve.line.best", ("alone",)),
        ("scores.whole.weights.late", ("whole",)),
        ("scale.to", ("early", "late", "alone", "whole")),
    ],
)
def test_an_address_reaches_the_outputs_that_it_can_move(address: str, reached: tuple[str, ...]) -> None:
    assert FORM.reached_by(address) == reached


def test_a_circle_names_its_members_and_where_one_stands() -> None:
    places = {"b": Place("form.yaml", 3, 5)}
    graph = Dependencies({"a": ("b",), "b": ("x", "c"), "c": ("b",)}, places)
    with pytest.raises(FormulaError, match=r"form.yaml:3:5: the circle b -> c -> b; .*Break it at one of them"):
        graph.order  # noqa: B018
    assert graph.under("a") == ("b", "x", "c")


@st.composite
def graphs(draw: st.DrawFn) -> Dependencies:
    """A graph without circles, its outputs in any order."""
    count = draw(st.integers(1, 7))
    names = [f"o{number}" for number in range(count)]
    sources = {}
    for number, name in enumerate(names):
        known = ["x", "y", *names[:number]]
        sources[name] = tuple(draw(st.lists(st.sampled_from(known), unique=True, max_size=4)))
    return Dependencies({name: sources[name] for name in draw(st.permutations(names))})


@given(graphs())
def test_reaching_and_standing_on_are_one_relation_seen_from_both_ends(graph: Dependencies) -> None:
    for name in (*graph.sources, "x", "y"):
        reached = set(graph.reached_from([name])) - {name}
        assert reached == {output for output in graph.sources if name in graph.under(output)}
    for output in graph.sources:
        place = graph.order.index(output)
        assert all(graph.order.index(one) < place for one in graph.outputs_of(output))
        assert set(graph.needed_for([output])) == {output, *(n for n in graph.under(output) if n in graph.sources)}
    assert sorted(graph.order) == sorted(graph.sources)
