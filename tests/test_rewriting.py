"""A value set without reading the text again gives the same form, to the last span, as reading the new text; and the same faults."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from counted import calls_of
from extent import one_of_each
from generated_forms import Drawn, forms
from hypothesis import given, settings
from hypothesis import strategies as st
from test_addresses import FORMS, another, kind_of
from written_forms import form_of

from scoring.addresses.addresses import Addressed, addresses, figures_or_words, set_address, set_together
from scoring.errors import FormulaError
from scoring.form import Choice, Curve, ErrorComponent, Form, Number
from scoring.reader import read_sources
from scoring.texts.document import read_document
from scoring.texts.rewriting import rewrite, write_value
from scoring.texts.source import Spot

#: Values that fit some places and not others: a keep or a bound is met with one of them wherever there is any.
ODD_NUMBERS = ("-3", "0.5 %", "12e400")


def outcome(form: Form, writings: Sequence[tuple[Spot, str]], *, read: bool) -> tuple[Form | None, list[str]]:
    """The form with values written at spots, or its faults: read anew, or from what was read."""
    sources, documents = rewrite(form.sources, form.documents, writings)
    try:
        return read_sources(sources, () if read else documents), []
    except FormulaError as fault:
        return None, [str(problem) for problem in fault.problems]


def check_same(form: Form, writings: Sequence[tuple[Spot, str]]) -> bool:
    """Whether the text had to be read; where it had not, what is kept is what it is read as, and so is all that follows."""
    sources, documents = rewrite(form.sources, form.documents, writings)
    for source, document in zip(sources, documents, strict=True):
        assert document is None or document == read_document(source.text, source.name)
    return None in documents


def spot_of(form: Form, noun: Addressed, value: str) -> Spot:
    """Where a value for an address is written."""
    whole = figures_or_words(form).get(noun.address)
    return noun.spot if whole is None or (isinstance(noun, Number) and value[0] in "+-.0123456789") else whole


def values_for(noun: Addressed, *, odd: bool) -> list[str]:
    """Values to set: one that fits; and more, of which some do not."""
    if isinstance(noun, Choice):
        return [*noun.options, "nonsense"] if odd else [another(noun)]
    if isinstance(noun, Number) and odd:
        return [another(noun), *ODD_NUMBERS]
    return [another(noun)]


@pytest.mark.parametrize("name", FORMS)
def test_every_address_set_in_what_was_read_is_as_if_it_had_been_read_anew(name: str) -> None:
    """Numbers and choices, expressions, curves and errors in braces: written or by default, in blocks and in braces.

    Each is set in a long run, and in the rich form to values that do not fit as well; otherwise one of each kind.
    """
    form = FORMS[name]
    nouns = addresses(form)
    tried = one_of_each([(name, address) for address in nouns], kind_of)
    was_read = [
        address
        for address in (address for _, address in tried)
        for value in values_for(nouns[address], odd=name == "rich")
        if check_same(form, [(spot_of(form, nouns[address], value), value)])
    ]
    # a figure with its unit in one word, and expressions over several lines, are read where they stand
    assert {address.rsplit(".", 1)[0] for address in was_read} <= {
        "gates.emissions",
        "gates.voc: total",
        "ratings.folded.value",
        "ratings.piped.value",
    }


def test_many_values_at_once_are_as_if_they_had_been_read_anew() -> None:
    form = FORMS["rich"]
    nouns = [n for n in addresses(form).values() if not isinstance(n, Curve | ErrorComponent) and not n.spot.raw]
    apart = [noun for noun in nouns if not noun.address.startswith(("gates.", "ratings.folded", "ratings.piped"))]
    by_place = {(noun.spot.source, noun.spot.start): noun for noun in apart}
    writings = [(spot_of(form, noun, another(noun)), another(noun)) for noun in by_place.values()]
    assert len(writings) > 60
    assert not check_same(form, writings)


@settings(max_examples=25)
@given(drawn=forms(), data=st.data())
def test_any_form_set_is_as_if_it_had_been_read_anew(drawn: Drawn, data: st.DataObject) -> None:
    form = drawn.form
    noun = data.draw(st.sampled_from(list(addresses(form).values())))
    value = data.draw(st.sampled_from(values_for(noun, odd=True)))
    writings = [(spot_of(form, noun, value), value)]
    check_same(form, writings)
    assert outcome(form, writings, read=False) == outcome(form, writings, read=True)


def test_what_is_written_where_a_key_stands_already_is_the_same_fault() -> None:
    form = form_of(
        "formula: a\nmeasures: {x: {unit: mm}}\nratings: {r: {measure: x, curve: {points: {1: 2, 5: 4, 9: 8}}}}\n"
    )
    noun = addresses(form)["ratings.r.curve.points.2.at"]
    assert check_same(form, [(noun.spot, "9")])
    assert not check_same(form, [(noun.spot, "9.0")])


def test_setting_reads_no_text_and_walks_a_form_once() -> None:
    """A form that was read is set again and again; its addresses are found once."""
    form = FORMS["guest-bed"]
    addresses(form)
    changed, calls = calls_of(lambda: set_address(form, "scores.two_abed.weights.quiet", "0.3"))
    assert calls["scoring.texts.document.read_document"] == 0
    again, calls = calls_of(
        lambda: set_together(changed, {"ratings.quiet.curve.line.best": "21", "scale.show.step": "0.5"})
    )
    assert calls["scoring.texts.document.read_document"] <= 1  # the keys that were not written yet
    assert again == read_sources(again.sources)
    _, calls = calls_of(lambda: [set_address(form, "ranks.ties", "dense") for _ in range(3)])
    assert calls["scoring.form.addressed.addressed"] == 0


def test_texts_are_written_as_they_were_before() -> None:
    """One way to the text: value by value, or all at once."""
    form = FORMS["rich"]
    first, second = (addresses(form)[address] for address in ("constants.k", "scale.show.step"))
    one_by_one = write_value(form.sources, first.spot, "7")
    assert rewrite(form.sources, form.documents, [(first.spot, "7")])[0] == one_by_one
    later = write_value(write_value(form.sources, first.spot, "7"), second.spot, "1")
    assert rewrite(form.sources, form.documents, [(second.spot, "1"), (first.spot, "7")])[0] == later
