"""A formula that a page saves with another blend is a formula: what the blend before had of its own goes with it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from written_forms import form_of

from analysis.page.left_behind import left_behind
from scoring.addresses.addresses import addresses, set_address
from scoring.blends import BLENDS
from scoring.errors import FormulaError
from scoring.form import Choice, Form
from scoring.reader import read_form
from scoring.texts.source import Spot

HEAD = (
    "formula: t\nmeasures: {x: {unit: mm}, y: {unit: mm}}\nratings:\n"
    "  a: {measure: x, curve: {line: {worst: 0, best: 9}}}\n  b: {measure: y, curve: {line: {worst: 0, best: 9}}}\n"
)
ENTRIES = ("blend: power mean", "exponent: 0.5", "weights: {a: 1, b: 2}", "label: Whole")


def written(entries: list[str], flow: bool) -> str:
    """A form of one score, in braces or in lines with comments."""
    if flow:
        return f"{HEAD}scores: {{s: {{{', '.join(entries)}}}}}   # all of it\n"
    return (
        f"{HEAD}scores:\n  s:\n"
        + "".join(f"    # above\n    {entry}   # beside\n" for entry in entries)
        + "bands: {good: 5}\n"
    )


def as_saved(form: Form, blend: str) -> str:
    """The text that a page saves with another blend: the spots of both written, from the end."""
    choice = addresses(form)["scores.s.blend"]
    assert isinstance(choice, Choice)
    (gone,) = left_behind(form, choice, [blend])
    text = form.sources[0].text
    edits: list[tuple[Spot, str]] = [(choice.spot, blend), *((spot, "") for spot in gone)]
    for spot, value in sorted(edits, key=lambda edit: -edit[0].start):
        text = text[: spot.start] + value + text[spot.end :]
    return text


@given(entries=st.permutations(ENTRIES), flow=st.booleans(), blend=st.sampled_from(list(BLENDS)))
def test_what_is_saved_is_read_and_says_the_same(
    tmp_path_factory: pytest.TempPathFactory, entries: list[str], flow: bool, blend: str
) -> None:
    """In every order of keys: all else stands as it stood, comments above included; the set form differs in the number alone."""
    form = form_of(written(entries, flow))
    path = tmp_path_factory.mktemp("saved") / "saved.yaml"
    path.write_text(as_saved(form, blend), encoding="utf-8")
    found, expected = read_form(path), set_address(form, "scores.s.blend", blend)
    assert set(addresses(expected)) - set(addresses(found)) == (
        set() if blend == "power mean" else {"scores.s.exponent"}
    )
    assert [part.weight.value for part in found.scores[0].parts if part.weight] == [1, 2]
    assert found.scores[0].label == "Whole"
    assert path.read_text(encoding="utf-8").count("#") == form.sources[0].text.count("#") - (
        blend != "power mean" and not flow
    )


def test_without_that_it_would_be_refused(tmp_path: Path) -> None:
    """So that the property says something."""
    path = tmp_path / "saved.yaml"
    path.write_text(written(list(ENTRIES), flow=True).replace("power mean", "minimum"), encoding="utf-8")
    with pytest.raises(FormulaError, match="`exponent` beside `blend: minimum`"):
        read_form(path)


def test_a_choice_that_is_no_blend_leaves_nothing_behind() -> None:
    """Nor does a blend in a form where no number of a blend is written."""
    form = form_of(written(list(ENTRIES), flow=True))
    outside = addresses(form)["ratings.a.curve.outside"]
    assert isinstance(outside, Choice)
    assert left_behind(form, outside, outside.options) == [[]] * len(outside.options)
    plain = form_of(written(["weights: {a: 1, b: 2}"], flow=True))
    blend = addresses(plain)["scores.s.blend"]
    assert isinstance(blend, Choice)
    assert left_behind(plain, blend, blend.options) == [[]] * len(blend.options)
