"""The worked example is worked again from the printed text alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from appendix.engineer import lines_of, remarks_hold, rounded_to, tables_of, value_of, worked_again
from appendix.trial import worked

from analysis.cli.inputs import load
from analysis.explanation.explanation import explanation_of
from analysis.languages.facts import Facts, Run, Section, Steps, plain_text
from analysis.languages.rendering import markdown_files
from analysis.methods_appendix.worked import worked_blocks, worked_section
from analysis.methods_appendix.workings import Asked, Workings, work_out
from scoring.table.table import score_catalogue

#: Printed figures carry seven digits; a curve can magnify what is left off by its slope.
NEAR = 2e-5
NUMBER = re.compile(r"\d+\.?\d*")


def printed(found: Workings, product: str, score: str) -> str:
    """The worked example of another product and score, as Markdown."""
    explanation = explanation_of(found.table, product, only=score)
    section = Section("worked", (Run("t"),), worked_blocks(found, explanation))
    return markdown_files(Facts((Run("t"),), (), (section,)))["appendix.md"].decode()


def test_the_engineer_can_reckon() -> None:
    """The reader of this test is tested itself, on sums done by hand."""
    assert value_of("1 + (7.8 - 5)*(10 - 1)/(65 - 5)") == pytest.approx(1.42)
    assert value_of("2*3**2 - -4 [no arithmetic (at all]") == 22
    assert value_of("exp((3*log(8) + 2*log(2))/(3 + 2))") == pytest.approx(2 ** (11 / 5))
    assert (rounded_to(8.25, "half-up", "0.1"), rounded_to(8.25, "half-even", "0.1")) == (8.3, 8.2)


def test_every_line_comes_out_as_printed(markdown: str, found: Workings) -> None:
    """Each result follows from its own line, and the last ones are the shown figure and place of the table."""
    lines = lines_of(markdown)
    assert [line.number for line in lines] == list(range(1, len(lines) + 1))
    assert len(lines) > 10
    for line in lines:
        assert worked_again(line) == pytest.approx(float(line.result), rel=NEAR, abs=NEAR), line
    explanation = found.explanation
    assert explanation is not None
    column = found.table.scores[0]
    assert lines[-2].result == column.shown_text(explanation.product)
    assert worked_again(lines[-2]) == float(column.shown_text(explanation.product))
    assert lines[-1].result == "1"


def test_every_product_of_every_score_can_be_worked_out(found: Workings) -> None:
    """Medians, trimmed and level means, held ends, limits, gaps, rounding: all of it from the printed text."""
    seen: set[str] = set()
    worked = 0
    for column in found.table.scores:
        for product, name in enumerate(found.table.catalogue.products):
            if column.shown_text(product):
                lines = lines_of(printed(found, name, column.output.name))
                for line in lines:
                    assert worked_again(line) == pytest.approx(float(line.result), rel=NEAR, abs=NEAR), line
                    seen |= set(remarks_hold(line, NEAR))
                assert lines[-2].result == column.shown_text(product)
                assert lines[-1].result == f"{column.rank[product]:g}"
                worked += 1
    assert worked == 13
    assert seen == {"held", "no limit", "capped"}


def test_a_partial_figure_and_one_at_a_limit_are_worked_out_too(tmp_path: Path) -> None:
    """The best placed of each kind in the first score that has one, each line as checkable as the first product's."""
    found = worked(tmp_path, "scores.resting.limits.1.at_most=3.5")
    section = worked_section(found)
    markdown = markdown_files(Facts((Run("t"),), (), (section,)))["appendix.md"].decode()
    first, *others = tables_of(markdown)
    assert plain_text(section.title) == "Three products, worked out by hand"
    assert [one.anchor for one in section.sections] == ["worked-partial", "worked-limit"]
    assert first == lines_of(markdown)
    assert len(others) == 2
    columns = {column.output.label: column for column in found.table.scores}
    products = found.table.catalogue.products
    capped = []
    for inner, lines in zip(section.sections, others, strict=True):
        for line in lines:
            assert worked_again(line) == pytest.approx(float(line.result), rel=NEAR, abs=NEAR), line
        (steps,) = (block for block in inner.blocks if isinstance(block, Steps))
        column, product = columns[steps.caption[0].text], products.index(steps.caption[2].text)
        assert lines[-2].result == column.shown_text(product)
        assert lines[-1].result == f"{column.rank[product]:g}"
        capped.append("capped" in {kind for line in lines for kind in remarks_hold(line, NEAR)})
        if inner.anchor == "worked-partial":
            partial = [p for p in range(len(products)) if column.status_text(p) == "partial"]
            assert column.rank[product] == min(column.rank[p] for p in partial)
    assert capped[1]


def test_what_a_catalogue_does_not_have_is_not_worked_out(tmp_path: Path) -> None:
    """Without a gap and without a limit there is one example; where the best is partial, no second partial one."""
    text = "formula: f\nscale: {{from: 1, to: 10, show: {{step: 0.1, rule: half-up}}}}\nmeasures: {{x: {{unit: mm}}, y: {{unit: mm}}}}\n"
    text += "ratings: {{r: {{measure: x, curve: {{line: {{worst: 0, best: 10}}}}}}, s: {{measure: y, curve: {{line: {{worst: 0, best: 10}}}}}}}}\n"
    text += "scores: {{t: {{weights: {{r: 3, s: 1}}, missing: {{absent_above: 0.5}}{}}}}}\n"
    readings = "product,x [mm],y [mm]\nA,9,9\nB,{},{}\nC,2,3\n"
    limit = ", limits: [{when: s < 8, at_most: 6}]"
    cases = [
        ("", 5, 5, []),
        (limit, 10, 5, ["worked-limit"]),
        ("", 5, "missing", ["worked-partial"]),
        ("", 10, "missing", []),
    ]
    for limits, x, y, expected in cases:
        (tmp_path / "f.yaml").write_text(text.format(limits), encoding="utf-8")
        (tmp_path / "f.csv").write_text(readings.format(x, y), encoding="utf-8")
        form, catalogue = load(tmp_path / "f.yaml", tmp_path / "f.csv", [])
        found = work_out(score_catalogue(form, catalogue), None, None, Asked(draws=16))
        assert [one.anchor for one in worked_section(found).sections] == expected, (limits, x, y)


def test_no_number_comes_from_nowhere(markdown: str) -> None:
    """Every number of a line is a reading's, an earlier result, or printed with the formulas before the example."""
    before = markdown[: markdown.index("worked out by hand\n\nThis is how")]
    known = set(NUMBER.findall(before))
    readings = 4
    for line in lines_of(markdown):
        own = set(NUMBER.findall(line.arithmetic.split("[")[0]))
        if line.number > readings and "**" not in line.arithmetic and "place" not in line.what:
            assert own <= known, (line, own - known)
        known.add(line.result)


def test_a_figure_that_rounds_otherwise_in_seven_digits_is_printed_longer() -> None:
    """8.2499999996 shows as 8.2; printed as 8.25 a reader would get 8.3."""
    from written_forms import HEAD, form_of

    from analysis.methods_appendix.worked import _to_round

    rule = form_of(HEAD + "ratings: {r: {measure: x, curve: {line: {worst: 0, best: 1}}}}").scale.show
    assert _to_round(8.2499999996, rule) == "8.2499999996"
    assert _to_round(8.25, rule) == "8.25"
