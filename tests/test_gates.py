"""Gates: withheld, remarked, near the limit, and not assessed; each for the outputs that it names."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from written_forms import HEAD, NAN, form_of, inputs_of_arrays, score, statuses_of

from scoring.catalogue import read_catalogue
from scoring.errors import CatalogueError, ScoringError
from scoring.program.program import compile_form
from scoring.table.evaluate import evaluate, kernel_for
from scoring.table.gates import pass_gates
from scoring.table.table import score_catalogue

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


WITHOUT_VALUE = """\
formula: gate
scale: {from: 1, to: 10}
measures:
  noise_dba: {unit: dB, better: lower, plausible: [18, 75]}
  load_n: {unit: N, plausible: [0, 1000]}
  sink_mm: {unit: mm, plausible: [0, 200]}
ratings:
  quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}
scores:
  s: {weights: {quiet: 1}}
gates:
"""
BEDS = {"noise_dba": [30.0, 30.0, 30.0, 60.0], "load_n": [100.0, 0.0, 500.0, 500.0], "sink_mm": [50.0, 0.0, 0.0, 50.0]}
SOFT = "`load_n / sink_mm < 5` has no value: gate soft not assessed"


@pytest.mark.parametrize(
    ("gate", "statuses", "remarks"),
    [
        # 100/50 < 5 holds; 0/0 and 500/0 have no value; 500/50 < 5 does not hold
        ("{name: soft, when: load_n / sink_mm < 5, withhold: too soft}",
         ["withheld", "rated", "rated", "rated"], {0: ("too soft",), 1: (SOFT,), 2: (SOFT,)}),
        ("{name: soft, when: load_n / sink_mm < 5, withhold: too soft, unknown: withhold}",
         ["withheld", "withheld", "withheld", "rated"], {0: ("too soft",), 1: (SOFT,), 2: (SOFT,)}),
        ("{name: soft, when: load_n / sink_mm < 5, withhold: too soft, unknown: withhold, missing: nobody knows}",
         ["withheld", "withheld", "withheld", "rated"], {0: ("too soft",), 1: ("nobody knows",), 2: ("nobody knows",)}),
        ("{name: soft, when: load_n / sink_mm < 5, remark: soft, unknown: withhold}",
         ["rated", "withheld", "withheld", "rated"], {0: ("soft",), 1: (SOFT,), 2: (SOFT,)}),
        ("{name: stiff, when: not (load_n / sink_mm < 5), remark: stiff, missing: nobody knows}",
         ["rated"] * 4, {1: ("nobody knows",), 2: ("nobody knows",), 3: ("stiff",)}),
        ("{name: soft, when: sink_mm > 0 and load_n / sink_mm < 5, withhold: too soft}",
         ["withheld", "rated", "rated", "rated"], {0: ("too soft",)}),
        ("{name: soft, when: sink_mm <= 0 or load_n / sink_mm < 5, withhold: too soft}",
         ["withheld", "withheld", "withheld", "rated"], {0: ("too soft",), 1: ("too soft",), 2: ("too soft",)}),
        # noise - 40 is -10 for three beds, and log(20) = 2.996 for the fourth
        ("{name: loud, when: log(noise_dba - 40) > 1, remark: loud, missing: not assessed}",
         ["rated"] * 4, {0: ("not assessed",), 1: ("not assessed",), 2: ("not assessed",), 3: ("loud",)}),
        ("{name: quiet_one, when: not (log(noise_dba - 40) > 1), remark: quiet, missing: not assessed}",
         ["rated"] * 4, {0: ("not assessed",), 1: ("not assessed",), 2: ("not assessed",)}),
    ],
)  # fmt: skip
def test_a_gate_without_a_value_says_so_and_never_lets_through_in_silence(
    gate: str, statuses: list[str], remarks: dict[int, tuple[str, ...]]
) -> None:
    """Nor does its negation; a part that is sure decides, whatever stands beside it."""
    table = score(f"{WITHOUT_VALUE}  - {gate}\n", BEDS)
    assert statuses_of(table, "s") == statuses
    assert table.column("s").remarks == remarks


@pytest.mark.parametrize(("unknown", "status"), [("remark", "partial"), ("withhold", "withheld")])
def test_what_is_missing_is_unknown_too(unknown: str, status: str) -> None:
    """`unknown` holds for a gap as for a division by 0, with the gate's own remark for it."""
    gate = f"{{when: x > 5, withhold: why, missing: not assessed, unknown: {unknown}}}"
    table = score(gated(gate), {"x": [NAN, 6.0, 4.0], "y": [6.0, 6.0, 6.0]})
    assert statuses_of(table, "s") == [status, "withheld", "rated"]
    assert table.column("s").remarks == {0: ("not assessed", "a is missing"), 1: ("why",)}


def test_a_near_gate_that_withholds_what_is_unknown_lets_what_is_near_through() -> None:
    """Near is known: the condition does not hold."""
    gate = "{when: x > 5, guard: 2 u, withhold: why, near: near it, unknown: withhold}"
    table = score(gated(gate), {"x": [4.5, 3.0], "y": [6.0, 6.0]})
    assert statuses_of(table, "s") == ["rated", "rated"]
    assert table.column("s").remarks == {0: ("near it",)}


def test_a_limit_without_a_value_is_refused_with_what_was_divided_by_0() -> None:
    """The score would stand on a bound that nobody knows."""
    text = WITHOUT_VALUE.replace("{quiet: 1}}", "{quiet: 1}, limits: [{when: load_n / sink_mm < 5, at_most: 3}]}")
    with pytest.raises(ScoringError) as fault:
        score(text.removesuffix("gates:\n"), BEDS)
    assert [problem.found for problem in fault.value.problems] == [
        "s of p2 has no value: 0 is divided by 0 at scores.s.limits.1",
        "s of p3 has no value: 500 is divided by 0 at scores.s.limits.1",
    ]


DUST = """\
formula: dust
measures:
  noise_dba: {unit: dB, better: lower, plausible: [18, 75]}
  sink_mm: {unit: mm, better: lower, plausible: [15, 170]}
ratings:
  quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sink_mm, curve: {steps: {0: 10, 40: 7, 80: 3}}}
scores:
  s: {weights: {quiet: 1, edge: 1}}
gates:
  - {name: loud, when: noise_dba > 40, withhold: over 40 dB}
"""


def test_repeats_whose_mean_is_the_limit_are_judged_as_the_limit() -> None:
    """38.1, 40.2 and 41.7 make exactly 40, which is not over 40; 78.1, 80.3 and 81.6 make 80, where the last step begins."""
    noise, sink = [[40, 40, 40], [38.1, 40.2, 41.7], [40, 40, 40]], [[80, 80, 80], [80, 80, 80], [78.1, 80.3, 81.6]]
    table = score(DUST, {"noise_dba": noise, "sink_mm": sink})
    assert statuses_of(table, "s") == ["rated"] * 3
    assert table.column("edge").value.tolist() == [3, 3, 3]
    assert table.column("s").value.tolist() == [table.column("s").value[0]] * 3
    assert table.column("s").rank.tolist() == [1, 1, 1]


AIR = """\
formula: air
measures:
  tvoc: {unit: mg/m3, better: lower, plausible: [0, 5]}
ratings:
  air: {measure: tvoc, curve: {line: {worst: 2, best: 0}}}
scores:
  s: {weights: {air: 1}}
gates:
  - {name: limit, when: tvoc > 0.7, withhold: over the limit}
"""


def test_a_reading_in_another_unit_is_judged_as_in_the_formulas_own(tmp_path: Path) -> None:
    """700 ug/m3 are 0.7 mg/m3, which is not over the limit of 0.7; 701 are."""
    form = form_of(AIR)
    rows = ["product,measure,value,unit", "A,tvoc,700,ug/m3", "B,tvoc,0.7,mg/m3", "C,tvoc,701,ug/m3"]
    (tmp_path / "air.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    table = score_catalogue(form, read_catalogue(tmp_path / "air.csv", form))
    assert statuses_of(table, "s") == ["rated", "rated", "withheld"]
    assert table.column("s").value[0] == table.column("s").value[1]


TOTAL = """\
formula: total
scale: {from: 0, show: {step: 1}}
measures:
MEASURES
ratings:
RATINGS
scores:
  total: {blend: sum, parts: [pa, pb, pc, pd, pe, pf, pg], missing: {not_applicable: reweight}}
gates: [{when: total < 61, withhold: failed}]
"""


def test_another_products_gap_moves_no_bit_and_no_gate() -> None:
    """4 + 9 + 12 + 7 + 10 + 14 + 5 is 61, alone and beside a product to which one part does not apply."""
    text = TOTAL.replace("MEASURES", "\n".join(f'  {m}: {{unit: "1"}}' for m in "abcdefg"))
    text = text.replace("RATINGS", "\n".join(f"  p{m}: {{value: floor({m})}}" for m in "abcdefg"))
    points = dict(zip("abcdefg", [4.0, 9, 12, 7, 10, 14, 5], strict=True))
    alone = score(text, {name: [value] for name, value in points.items()})
    program = compile_form(form_of(text))
    beside = inputs_of_arrays(
        {name: [value, 1.0] for name, value in points.items()} | {"g": [5.0, NAN]}, {"g": [False, True]}
    )
    found = evaluate(kernel_for(program, beside), beside)
    assert found.values["total"][0, 0] == alone.column("total").value[0] == 61
    assert [passage.withheld.tolist() for passage in pass_gates(program, beside, found, {})] == [[False, True]]
    assert statuses_of(alone, "total") == ["rated"]


@pytest.mark.parametrize(
    ("value", "edge"), [("x + y", "0.3"), ("x * y", "0.02"), ("y / x", "2"), ("(x + y) * 10 - 0", "3")]
)
def test_dust_of_a_condition_decides_nothing(value: str, edge: str) -> None:
    """With x = 0.1 and y = 0.2: 0.30000000000000004 is not over 0.3."""
    for sign, statuses in ((">", ["rated"]), (">=", ["withheld"]), ("==", ["withheld"]), ("<", ["rated"])):
        text = gated(f"{{when: '{value} {sign} {edge}', withhold: why}}").replace(
            "{from: 1, to: 10}", "{from: 0, to: 10}"
        )
        assert statuses_of(score(text, {"x": [0.1], "y": [0.2]}), "s") == statuses
