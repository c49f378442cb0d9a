"""A number that another blend or curve takes than the one written has no say: `check` refuses it at its place."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from test_blends import own_numbers
from typer.testing import CliRunner

from analysis.cli.main import app
from scoring import read_formula
from scoring.addresses.addresses import addresses, set_all
from scoring.blends import BLENDS, NUMBERS
from scoring.curves import KINDS
from scoring.errors import FormulaError
from scoring.form import REFERENCE
from scoring.reader import read_form

HEAD = """\
formula: trial
scale: {from: 1, to: 10}
measures: {x: {unit: mm}, y: {unit: mm}}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 9}}}
  b: {measure: y, curve: {line: {worst: 0, best: 9}}}
"""
#: Each number of a blend's own, and each blend that does not take it.
STRANGERS = [(name, blend) for name, blend in product(NUMBERS, BLENDS) if NUMBERS[name] not in BLENDS[blend].numbers]
#: Each number of a curve, and each kind of curve that has none of that name. Under anchors a name is no place on the measure.
CURVES = [
    (name, kind)
    for name, kind in product(dict.fromkeys(key.name for one in KINDS.values() for key in one.numbers), KINDS)
    if name not in {key.name for key in KINDS[kind].keys}
]


def checked(folder: Path, text: str) -> tuple[int, str]:
    """The exit code of `check` and what it says on standard error, in one line, without the folder."""
    path = folder / "trial.yaml"
    path.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(app, ["check", str(path)])
    return done.exit_code, " ".join(done.stderr.replace(f"{path}:", "").split())


def test_the_number_of_another_blend_is_named_with_its_place_and_what_to_do(tmp_path: Path) -> None:
    """At the line and column of its key."""
    text = HEAD + "scores:\n  s:\n    blend: weighted mean\n    exponent: 0.5\n    weights: {a: 1, b: 2}\n"
    assert checked(tmp_path, text) == (
        2,
        "10:5: `exponent` beside `blend: weighted mean` in scores.s; expected no such key. Write `blend: power mean`, "
        "which takes it, or leave the line out. 1 problem; nothing was done.",
    )
    assert checked(tmp_path, text.replace("weighted mean", "power mean"))[0] in (0, 1)
    assert checked(tmp_path, text.replace("    exponent: 0.5\n", ""))[0] in (0, 1)


@pytest.mark.parametrize(
    ("score", "words"),
    [
        ("weights: {a: 1, b: 2}, exponent: 2", "`exponent` in scores.s, whose blend is a weighted mean where none is written"),
        ("value: a + b, exponent: 2", "`exponent` in scores.s, which blends no parts; expected no such key. Leave the line out; it belongs to `blend: power mean`."),
        ("blend: minimum, weights: {a: 1, b: 2}, exponent: loud", "`exponent` beside `blend: minimum` in scores.s"),
    ],
)  # fmt: skip
def test_a_blend_that_is_not_written_or_not_there_takes_none_either(tmp_path: Path, score: str, words: str) -> None:
    """Nor does an expression; and a number that is none is told as such beside."""
    exit_code, said = checked(tmp_path, f"{HEAD}scores: {{s: {{{score}}}}}\n")
    assert exit_code == 2
    assert words in said


def test_a_rating_of_one_measure_takes_none(tmp_path: Path) -> None:
    """And a mix takes what its blend takes."""
    text = HEAD.replace("best: 9}}}", "best: 9}}, exponent: 2}", 1)
    exit_code, said = checked(tmp_path, text)
    column = text.splitlines()[4].index("exponent") + 1
    assert (exit_code, said.split(";")[0]) == (2, f"5:{column}: `exponent` in ratings.a, which blends no parts")
    mix = "  m: {BLEND, exponent: 2, mix: [{measure: x, curve: {line: {worst: 0, best: 9}}}, {rating: b}]}\n"
    assert checked(tmp_path, HEAD + mix.replace("BLEND", "blend: power mean"))[0] in (0, 1)
    assert "beside `blend: maximum` in ratings.m" in checked(tmp_path, HEAD + mix.replace("BLEND", "blend: maximum"))[1]


def test_a_blend_that_cannot_be_read_is_the_one_fault(tmp_path: Path) -> None:
    """It may be the one that takes the number."""
    said = checked(tmp_path, f"{HEAD}scores: {{s: {{blend: powr mean, exponent: 2, weights: {{a: 1, b: 2}}}}}}\n")[1]
    assert "Did you mean `power mean`? 1 problem" in said


def test_every_number_of_every_blend_is_refused_beside_every_blend_that_does_not_take_it(tmp_path: Path) -> None:
    """By the tables themselves, so that a new blend is tried too: no exception."""
    assert len(STRANGERS) >= 7
    lines = [
        f"  s{index}: {{blend: {blend}{own_numbers(blend)}, {NUMBERS[name].example}, weights: {{a: 1, b: 2}}}}"
        for index, (name, blend) in enumerate(STRANGERS)
    ]
    exit_code, said = checked(tmp_path, HEAD + "scores:\n" + "\n".join(lines) + "\n")
    assert exit_code == 2
    for index, (name, blend) in enumerate(STRANGERS):
        assert f"`{name}` beside `blend: {blend}` in scores.s{index}; expected no such key." in said
    assert f"{len(STRANGERS)} problems" in said


@given(
    name=st.sampled_from(list(NUMBERS)),
    blend=st.sampled_from(list(BLENDS)),
    order=st.permutations(range(3)),
    flow=st.booleans(),
)
@settings(deadline=None, max_examples=examples(120))
def test_a_number_is_read_just_where_its_blend_takes_it(
    tmp_path_factory: pytest.TempPathFactory, name: str, blend: str, order: list[int], flow: bool
) -> None:
    """In any order of keys, in braces or not; of a blend that takes it, it is an address."""
    keys = [f"blend: {blend}", NUMBERS[name].example, "weights: {a: 1, b: 2}"]
    others = [NUMBERS[key.name].example for key in BLENDS[blend].numbers if key.name != name]
    entries = [keys[index] for index in order] + others
    score = f"{{{', '.join(entries)}}}" if flow else "".join(f"\n    {entry}" for entry in entries)
    path = tmp_path_factory.mktemp("strangers") / "trial.yaml"
    path.write_text(f"{HEAD}scores:\n  s: {score}\n", encoding="utf-8")
    if NUMBERS[name] in BLENDS[blend].numbers:
        assert f"scores.s.{name}" in addresses(read_form(path))
    else:
        with pytest.raises(FormulaError, match=f"`{name}` beside `blend: {blend}` in scores.s"):
            read_form(path)


def test_every_number_of_every_curve_is_refused_in_every_curve_that_does_not_take_it(tmp_path: Path) -> None:
    """By the tables themselves; anchors take no name at all."""
    assert len(CURVES) > 50
    ratings = [
        f"  r{index}: {{measure: x, curve: {{{KINDS[kind].example[:-1]}, {name}: 1}}}}}}"
        for index, (name, kind) in enumerate(CURVES)
    ]
    for start in range(0, len(CURVES), 40):
        exit_code, said = checked(tmp_path, HEAD + "\n".join(ratings[start : start + 40]) + "\n")
        assert exit_code == 2
        for index, (name, kind) in list(enumerate(CURVES))[start : start + 40]:
            told = f"the key `{name}` in ratings.r{index}.curve.{kind}; expected a known key"
            anchor = f"`{name}`; expected a number for ratings.r{index}.curve.{kind}"
            assert (anchor if KINDS[kind].anchored else told) in said, (name, kind)


@pytest.mark.parametrize("kind", [name for name, one in KINDS.items() if one.figures])
@pytest.mark.parametrize("figure", REFERENCE.more)
def test_a_figure_of_a_reference_is_refused_in_a_curve_that_does_not_lean_on_it(
    tmp_path: Path, kind: str, figure: str
) -> None:
    """The mean of a population says nothing to a curve that goes by its least and greatest value."""
    takes = KINDS[kind].figures
    text = HEAD.replace(
        "curve: {line: {worst: 0, best: 9}}",
        f"curve: {{{KINDS[kind].example}, reference: {{values: [1, 2, 9], {figure}: 9}}}}",
        1,
    )
    said = checked(tmp_path, text)[1]
    assert (f"`{figure}` in the reference of a {kind} curve" in said) == (figure not in takes), said


# the exception: texts in which something was set


SET = HEAD + "scores: {s: {blend: power mean, exponent: 0.5, weights: {a: 1, b: 2}}}\n"


@pytest.mark.parametrize("blend", list(BLENDS))
def test_a_blend_that_is_set_leaves_the_number_where_it_is(blend: str, tmp_path: Path) -> None:
    """`--set`, studies, the page and records try other blends of a file that states the number; it can be set back."""
    path = tmp_path / "set.yaml"
    path.write_text(SET, encoding="utf-8")
    formula = read_formula(path).set({"scores.s.blend": blend})
    assert formula.addresses()["scores.s.exponent"] == 0.5
    back = set_all(formula.form, {"scores.s.blend": "power mean"})
    assert back.sources[0].text == SET
    done = CliRunner().invoke(app, ["check", str(path), "--set", f"scores.s.blend={blend}"])
    assert done.exit_code in (0, 1), done.stderr
