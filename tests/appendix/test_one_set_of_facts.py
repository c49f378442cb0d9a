"""Nothing is typed twice: change an address, and formula, table, words, figure and arithmetic follow."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from appendix.trial import worked
from extent import only_long

from analysis.languages.facts import Facts, Figure, Section, figures_of
from analysis.languages.renderers import render
from analysis.methods_appendix.assembly import _each_file_once, facts_of

CHANGES = {
    "ratings.quiet.curve.line.worst": ("46.53", "47.27"),
    "scores.resting.weights.edge": ("0.2918", "0.3147"),
    "scores.resting.limits.1.at_most": ("5.7531", "5.6127"),
}

Files = dict[str, bytes]


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Files:
    """The files with three addresses set."""
    settings = [f"{address}={new}" for address, (_, new) in CHANGES.items()]
    return render(facts_of(worked(tmp_path_factory.mktemp("changed"), *settings)))


def times(number: str, text: str) -> int:
    """How often a number stands in a text by itself."""
    return len(re.findall(rf"(?<![\d.]){re.escape(number)}(?![\d])", text))


@pytest.mark.parametrize("address", CHANGES)
@pytest.mark.parametrize("file", ["appendix.html", "appendix.md"])
def test_no_old_number_remains_and_the_new_one_stands_everywhere(
    files: Files, changed: Files, file: str, address: str
) -> None:
    """As often as the old number stood, the new one stands now; once more where the provenance names the setting."""
    old, new = CHANGES[address]
    before, after = files[file].decode(), changed[file].decode()
    assert times(new, before) == 0
    assert times(old, before) >= 2
    assert times(old, after) == 0
    assert times(new, after) >= times(old, before)


def test_the_picture_follows(files: Files, changed: Files) -> None:
    """The drawn curve has its anchor where the formula has it."""
    assert times("47.27", changed["curve-quiet-1.svg"].decode()) >= 1
    assert times("46.53", changed["curve-quiet-1.svg"].decode()) == 0
    assert times("135", changed["curve-edge-1.svg"].decode()) == times("135", files["curve-edge-1.svg"].decode())
    assert "quiet.curve.line.worst=47.27" in changed["curve-edge-1.svg"].decode()


def test_formula_table_words_and_arithmetic_each_hold_the_number(changed: Files) -> None:
    """The weight: in the typeset formula, in the table of weights, and in the worked arithmetic."""
    lines = changed["appendix.md"].decode().splitlines()
    assert any("0.3147" in line and "\\frac" in line for line in lines)
    assert any(
        line.startswith("|") and "| 0.3147 |" in line and "scores.resting.weights.edge" in line for line in lines
    )
    assert any("0.3147*" in line and line.startswith("| ") for line in lines)
    assert any("is at most 5.6127" in line and line.startswith("- Where") for line in lines)


def test_all_outputs_say_the_same(files: Files) -> None:
    """Both renderings hold every shown figure of the score table, since both come from one set of facts."""
    page = re.sub(r"<[^>]+>", " ", files["appendix.html"].decode())
    for figure in re.findall(r"\| (\d+\.\d)(?:\\\*)? \| (?:good|fair|weak) \|", files["appendix.md"].decode()):
        assert times(figure, page) >= 1


@only_long
def test_two_workings_give_the_same_bytes(files: Files, tmp_path: Path) -> None:
    """Same files and seed, same bytes, wherever they lie; of a smaller laboratory tests/test_same_bytes.py has two workings."""
    again = render(facts_of(worked(tmp_path)))
    assert again.keys() == files.keys()
    assert [name for name in files if again[name] != files[name]] == []


def test_pictures_whose_names_differ_in_capitals_do_not_overwrite_each_other(facts: Facts) -> None:
    """A folder may not tell `Edge` from `edge`: the second gets a number."""
    one = figures_of(facts)[0]
    twins = (replace(one, name="curve-Edge-1"), replace(one, name="curve-edge-1"), replace(one, name="curve-edge-1-2"))
    (made,) = _each_file_once((Section("a", (), twins),), set())
    assert [block.name for block in made.blocks if isinstance(block, Figure)] == [
        "curve-Edge-1",
        "curve-edge-1-2",
        "curve-edge-1-2-2",
    ]
