"""Gates: withheld, remarked, near the limit, and not assessed; each for the outputs that it names."""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import HEAD, NAN, score, statuses_of

from scoring.errors import CatalogueError

FORM = HEAD.replace("x: {", "x: {repeatability: 0.5, ").replace(
    "measures", "attributes: {fire: {values: [ok, none]}}\nmeasures"
) + (
    "ratings:\n  a: {value: x}\n  b: {value: y}\nscores:\n  s: {weights: {a: 1, b: 1}, missing: {absent_above: 0.5}}\n"
    "  t: {weights: {a: 1}}\n"
)


def gated(gate: str) -> str:
    """The form with one gate."""
    return f"{FORM}gates: [{gate}]\n"


def test_a_gate_withholds_the_scores_of_what_meets_its_condition_and_says_why() -> None:
    """Values, ranks and bands are gone; the ratings stay; the others' ranks close up."""
    table = score(gated("{when: x > 5, withhold: too much}"), {"x": [6.0, 5.0, 4.0], "y": [6.0, 5.0, 4.0]})
    column = table.column("s")
    assert statuses_of(table, "s") == ["withheld", "rated", "rated"]
    np.testing.assert_array_equal(column.value, [NAN, 5, 4])
    np.testing.assert_array_equal(column.rank, [NAN, 1, 2])
    assert column.shown_text(0) == ""
    assert column.remarks == {0: ("too much",)}
    assert table.column("a").value.tolist() == [6, 5, 4]


def test_a_gate_without_withholding_only_remarks() -> None:
    """The score is published beside it."""
    table = score(
        gated("{when: fire == none, remark: see the label}"),
        {"x": [6.0, 6.0], "y": [6.0, 6.0]},
        {"fire": ["none", "ok"]},
    )
    assert statuses_of(table, "s") == ["rated", "rated"]
    assert table.column("s").remarks == {0: ("see the label",)}


def test_a_gate_closes_only_the_scores_that_it_names() -> None:
    """All of them where it names none."""
    table = score(gated("{when: x > 5, withhold: why, scores: [t]}"), {"x": [6.0], "y": [6.0]})
    assert (statuses_of(table, "s"), statuses_of(table, "t")) == (["rated"], ["withheld"])
    assert table.column("s").remarks == {}


def test_a_form_of_ratings_alone_has_its_ratings_withheld() -> None:
    """There is nothing else that a gate could stand before."""
    text = HEAD + "ratings:\n  a: {value: x}\n  b: {value: x}\ngates: [{when: x > 5, withhold: why, scores: [a]}]\n"
    table = score(text, {"x": [6.0, 4.0]})
    assert (statuses_of(table, "a"), statuses_of(table, "b")) == (["withheld", "rated"], ["rated", "rated"])


# x has the standard uncertainty 0.5 for one reading: a guard of 2 u reaches 1 to either side.
@pytest.mark.parametrize(
    ("x", "status", "remark"),
    [(3.9, "rated", ()), (4.0, "rated", ()), (4.1, "rated", ("near it",)), (5.0, "rated", ("near it",)), (5.1, "withheld", ("why",)), (7.0, "withheld", ("why",))],
)  # fmt: skip
def test_within_its_guard_band_a_gate_says_that_it_is_near(x: float, status: str, remark: tuple[str, ...]) -> None:
    """Where the gate would close if the reading lay the band further on."""
    table = score(gated("{when: x > 5, guard: 2 u, withhold: why, near: near it}"), {"x": [x], "y": [6.0]})
    assert (statuses_of(table, "s"), table.column("s").remarks.get(0, ())) == ([status], remark)


def test_a_guard_band_narrows_with_more_repeats() -> None:
    """Four repeats halve the standard uncertainty: 0.5 to either side; 4.4 is no longer near 5."""
    gate = gated("{when: x > 5, guard: 2 u, withhold: why, near: near it}")
    table = score(gate, {"x": [[4.4] * 4, [4.6] * 4], "y": [6.0, 6.0]})
    assert table.column("s").remarks == {1: ("near it",)}


def test_a_guard_band_reaches_to_both_sides() -> None:
    """A gate against too little."""
    table = score(gated("{when: x < 5, guard: 2 u, withhold: why, near: near it}"), {"x": [5.9, 6.1], "y": [6.0, 6.0]})
    assert table.column("s").remarks == {0: ("near it",)}


def test_a_gate_whose_reading_is_missing_says_so_and_withholds_nothing() -> None:
    """Nobody knows; the remark stands beside whatever is published."""
    table = score(
        gated("{when: x > 5, guard: 2 u, withhold: why, near: near it, missing: not assessed}"),
        {"x": [NAN], "y": [6.0]},
    )
    assert statuses_of(table, "s") == ["partial"]
    assert table.column("s").remarks == {0: ("not assessed", "a is missing")}


def test_a_gate_that_has_no_word_for_what_is_missing_still_says_that_it_was_not_assessed() -> None:
    """Silence would look like a pass."""
    table = score(gated("{name: limit, when: x > 5 and y > 5, withhold: why}"), {"x": [NAN], "y": [6.0]})
    assert table.column("s").remarks == {0: ("x, y not known: gate limit not assessed", "a is missing")}


@pytest.mark.parametrize("condition", ["fire == none", "fire != ok", "not fire == ok"])
def test_a_gate_on_a_word_that_is_not_stated_is_not_assessed(condition: str) -> None:
    """Also where the comparison is turned round."""
    table = score(
        gated(f"{{when: {condition}, withhold: why, missing: not assessed}}"),
        {"x": [6.0] * 3, "y": [6.0] * 3},
        {"fire": ["ok", "none", ""]},
    )
    assert statuses_of(table, "s") == ["rated", "withheld", "rated"]
    assert table.column("s").remarks == {1: ("why",), 2: ("not assessed",)}


def test_a_gate_may_stand_on_a_rating_or_a_score() -> None:
    """The condition takes any name of the formula; an unrated one is not assessed."""
    text = gated("{when: t > 5 and b > 3, withhold: why, missing: not assessed}")
    table = score(text, {"x": [6.0, 4.0, 6.0], "y": [6.0, 6.0, NAN]})
    assert statuses_of(table, "t") == ["withheld", "rated", "rated"]
    assert table.column("t").remarks == {0: ("why",), 2: ("not assessed",)}


def test_gates_add_up() -> None:
    """One withholds, the other remarks; both speak, in the order of the form."""
    table = score(gated("{when: x > 5, remark: first}, {when: y > 5, withhold: second}"), {"x": [6.0], "y": [6.0]})
    assert (statuses_of(table, "s"), table.column("s").remarks) == (["withheld"], {0: ("first", "second")})


def test_an_unrated_score_is_withheld_and_one_that_does_not_apply_stays_so() -> None:
    """Withholding says more than having no value."""
    table = score(gated("{when: y > 5, withhold: why}"), {"x": [NAN], "y": [6.0]})
    assert statuses_of(table, "t") == ["withheld"]


def test_a_guard_band_without_a_known_repeatability_is_refused() -> None:
    """At the place of the guard in the formula."""
    text = gated("{when: y > 5, guard: 2 u, withhold: why, near: near it}")
    with pytest.raises(
        CatalogueError, match=r"form\.yaml:14:30: the guard band of gate `1` without a known repeatability of y"
    ):
        score(text, {"x": [6.0], "y": [6.0]})


def test_an_attribute_that_a_gate_needs_and_the_catalogue_lacks_is_refused() -> None:
    """Before anything is worked out."""
    with pytest.raises(CatalogueError, match="column fire: no such attribute; expected a word for every product"):
        score(gated("{when: fire == none, withhold: why}"), {"x": [6.0], "y": [6.0]})


def test_a_word_that_is_not_declared_is_refused_with_its_product() -> None:
    """A slip in the table would leave the gate open."""
    with pytest.raises(CatalogueError, match="product p2, column fire: `nome`; expected one of ok, none"):
        score(
            gated("{when: fire == none, withhold: why}"), {"x": [6.0, 6.0], "y": [6.0, 6.0]}, {"fire": ["ok", "nome"]}
        )


def test_an_attribute_that_nothing_leans_on_need_not_be_there() -> None:
    """Declared is not needed."""
    assert statuses_of(score(FORM, {"x": [6.0], "y": [6.0]}), "s") == ["rated"]
