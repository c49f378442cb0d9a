"""What is done with a part that does not apply to a product: asked for in a total, shared out in every other blend."""

from __future__ import annotations

from pathlib import Path

import pytest
from written_forms import faults_of, form_of, statuses_of

from analysis.explanation.explanation import explanation_of
from scoring.addresses.addresses import addresses, set_address
from scoring.catalogue import read_catalogue
from scoring.checks import check
from scoring.form import NOT_APPLICABLE
from scoring.program.program import compile_form
from scoring.table.table import ScoreTable, score_catalogue

#: A combined event of three, whose points are added up; by hand 860 + 900 + 300 = 2060, and without the third 1760.
EVENT = """\
formula: event
scale: {from: 0, show: {step: 1}}
measures: {a: {unit: "1"}, b: {unit: "1"}, c: {unit: "1"}}
ratings:
  pa: {value: a}
  pb: {value: b}
  pc: {value: c}
scores:
  total: {blend: sum, weights: {pa: 1, pb: 1, pc: 1}}
"""
READINGS = "product,a,b,c\nwhole,860,900,300\nrest,860,900,not applicable\ngap,860,missing,300\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the readings."""
    (tmp_path / "readings.csv").write_text(READINGS)
    return tmp_path


def scored(text: str, folder: Path) -> ScoreTable:
    """The table of the three products."""
    form = form_of(text)
    return score_catalogue(form, read_catalogue(folder / "readings.csv", form))


def ruled(rule: str, text: str = EVENT) -> str:
    """The event with a missing rule."""
    return text.replace("pc: 1}}", f"pc: 1}}, missing: {{{rule}}}}}")


def test_a_total_is_not_scaled_up_unless_that_is_asked_for(folder: Path) -> None:
    """It is not given, and the remark says what to write."""
    table = scored(EVENT, folder)
    column = table.column("total")
    assert statuses_of(table, "total") == ["rated", "not applicable", "unrated"]
    assert column.remarks[1] == (
        "pc does not apply",
        "no sum without it, unless the formula says `missing: {not_applicable: left out}`, or `reweight`",
    )
    assert column.remarks[2] == ("pb is missing",)


@pytest.mark.parametrize(("rule", "expected"), [("left out", 1760), ("reweight", 2640)])
def test_what_is_asked_for_is_done(rule: str, expected: float, folder: Path) -> None:
    """1760 is the sum of the rest; 1760 * 3 / 2 = 2640 is made up for the third. What is missing stays a gap."""
    table = scored(ruled(f"not_applicable: {rule}"), folder)
    assert statuses_of(table, "total") == ["rated", "partial", "unrated"]
    assert table.column("total").value.tolist()[:2] == [2060, expected]
    (note,) = explanation_of(table, "rest", only="total").outputs
    assert note.contributions is not None
    assert sum(points for _, points in note.contributions.parts) == pytest.approx(expected)
    assert note.lines[-1].value == expected


def test_what_is_left_out_weighs_nothing_beside_a_gap_either(folder: Path) -> None:
    """860 with 900 missing and the third left out: 860 * 2 / 1, as only two of the weights are asked of that product."""
    (folder / "readings.csv").write_text("product,a,b,c\nboth,860,missing,not applicable\n")
    table = scored(ruled("not_applicable: left out, absent_above: 0.5"), folder)
    assert table.column("total").value.tolist() == [1720]


def test_a_product_of_the_rest_is_left_to_itself(folder: Path) -> None:
    """860 * 900 without a third factor; weights are powers."""
    text = ruled("not_applicable: left out").replace("blend: sum", "blend: product")
    assert scored(text, folder).column("total").value[1] == pytest.approx(860 * 900, rel=1e-12)


def test_a_mean_shares_the_weight_out_unless_it_asks_for_all(folder: Path) -> None:
    """As ever: (860 + 900) / 2; with `absent` there is none. A part that has no weight is not asked for."""
    mean = EVENT.replace("blend: sum, ", "")
    assert scored(mean, folder).column("total").value[1] == 880
    assert statuses_of(scored(ruled("not_applicable: absent", mean), folder), "total")[1] == "not applicable"
    unweighed = ruled("not_applicable: absent", mean).replace("pc: 1}", "pc: 0}")
    assert scored(unweighed, folder).column("total").value[1] == 880


def test_needs_hold_for_what_does_not_apply_too(folder: Path) -> None:
    """No score for want of pc, be it missing or not applicable; the absence of another is shared out."""
    mean = EVENT.replace("blend: sum, ", "")
    table = scored(ruled("needs: [pc], absent_above: 0.5", mean), folder)
    assert statuses_of(table, "total") == ["rated", "not applicable", "partial"]


def test_the_choice_has_an_address_and_its_default_goes_with_the_blend() -> None:
    """A total has it unsaid; a mean, only where it is written."""
    form = form_of(EVENT)
    address = "scores.total.missing.not_applicable"
    assert addresses(form)[address].options == tuple(NOT_APPLICABLE)
    assert set_address(form, address, "left out").output("total").missing.leaves_out
    mean = set_address(form, "scores.total.blend", "weighted mean")
    assert address not in addresses(mean)
    assert not mean.output("total").missing.asks_for_all


def test_what_says_nothing_is_a_fault(tmp_path: Path) -> None:
    """A total's word beside a mean; any word where no parts are blended; and a word that is none."""
    from scoring.errors import FormulaError
    from scoring.reader import read_form

    def faults(text: str) -> str:
        path = tmp_path / "f.yaml"
        path.write_text(text)
        with pytest.raises(FormulaError) as caught:
            read_form(path)
        return str(caught.value)

    mean = ruled("not_applicable: left out").replace("blend: sum, ", "")
    assert "`left out` for scores.total.missing.not_applicable, beside a weighted mean" in faults(mean)
    alone = EVENT.replace("pa: {value: a}", "pa: {value: a, missing: {not_applicable: absent}}")
    assert "`not_applicable` in ratings.pa.missing, which blends no parts" in faults(alone)
    assert "expected one of absent, reweight, left out" in "".join(faults_of(ruled("not_applicable: zero")))


def test_proofs_know_that_nothing_is_left_out_of_a_total_that_is_given() -> None:
    """Three parts from 1 to 10 lie from 3 to 30 together, but for what is left out."""
    text = EVENT.replace('unit: "1"', 'unit: "1", plausible: [1, 10]').replace(
        "pc: 1}}", "pc: 1}, scale: {from: 3, to: 30}}"
    )
    assert verdict(text) == "proved"
    assert verdict(text.replace("scale: {from: 3", "missing: {not_applicable: left out}, scale: {from: 3")) != "proved"


def verdict(text: str) -> str:
    """What becomes of the claim that the total stays on its scale."""
    found = check(compile_form(form_of(text)))
    return next(one.verdict for one in found.findings if (one.output, one.kind) == ("total", "scale"))
