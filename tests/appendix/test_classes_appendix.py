"""Places within classes in the appendix: in the score table, under it with what the bench says, and in the rules."""

from __future__ import annotations

from pathlib import Path

import pytest
from written_classes import FORM, written

from analysis.languages.facts import Facts, Points, Table, every_section, plain_text
from analysis.methods_appendix.assembly import facts_of
from analysis.methods_appendix.workings import Asked, work_out, workings_frame
from analysis.scores.class_firsts import ALONE
from scoring import score

pytestmark = pytest.mark.usefixtures("no_picture_is_seen")


def table(facts: Facts, called: str) -> list[list[str]]:
    """The cells of the table of that name, as plain text."""
    blocks = [block for one in every_section(facts.sections) for block in one.blocks]
    (found,) = (block for block in blocks if isinstance(block, Table) and block.name == called)
    return [[plain_text(cell) for cell in row] for row in found.rows]


def test_an_appendix_prints_classes_their_rule_and_who_is_first(tmp_path: Path) -> None:
    """So that a maker's engineer counts the place again: the class stands beside it, and the file has both."""
    form = FORM.replace("attributes", "ranks: {within: class}\nattributes")
    found = work_out(score(*written(tmp_path, form)), None, None, Asked((), 0, 256, "", "steelyard appendix"))
    facts = facts_of(found)
    in_class = {row[0]: row[2] for row in table(facts, "scores-both")}
    assert in_class["B-02"] == "hybrid: 2 of 2"
    assert in_class["E-05"] == f"water: {ALONE}"
    assert in_class["F-06"] == "no class stated"
    firsts = {row[0]: row[3] for row in table(facts, "classes-both")}
    assert firsts == {"foam": "A-01", "hybrid": "D-04", "water": "E-05"}
    assert {row[0]: row[2] for row in table(facts, "attributes")}["class class"] == "for places within its words"
    points = [block for one in every_section(facts.sections) for block in one.blocks if isinstance(block, Points)]
    rules = [plain_text(item) for block in points for item in block.items]
    assert any("among the products with the same word of class too" in rule for rule in rules)
    frame = workings_frame(found)
    assert frame.set_index("product").loc["B-02", "both.rank_within"] == 2
