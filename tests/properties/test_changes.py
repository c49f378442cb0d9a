"""What holds of the changes between any two forms: none from a form to itself, one for a setting, and each both ways."""

from __future__ import annotations

from extent import examples
from generated_forms import Drawn, forms
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from test_addresses import another
from written_forms import form_of

from analysis.changes.changes import KINDS, changes
from scoring.addresses.addresses import addresses, read, set_address, written
from scoring.errors import AddressError
from scoring.form import Addressed, Choice, Form
from scoring.reader import read_sources


def can_be_set(noun: Addressed) -> bool:
    """Whether it can be anything else: what places are counted within cannot, where a form has no attribute."""
    return not isinstance(noun, Choice) or len(noun.options) > 1


@st.composite
def set_forms(draw: st.DrawFn, count: int = 1) -> tuple[Form, Form, list[str]]:
    """A form, the form after `count` settings, and where they were made."""
    old = draw(forms()).form
    new, made = old, []
    for _ in range(count):
        address = draw(st.sampled_from([at for at, noun in addresses(new).items() if can_be_set(noun)]))
        try:
            new = set_address(new, address, another(read(new, address)))
        except AddressError:
            assume(False)  # an anchor past its neighbour, a power mean without exponent
        made.append(address)
    return old, new, made


@settings(max_examples=examples(50))
@given(drawn=forms())
def test_a_form_does_not_differ_from_itself(drawn: Drawn) -> None:
    """Nor from its text read again with a comment after every line."""
    assert changes(drawn.form, drawn.form) == ()
    said = drawn.text.replace("\n", "   # said otherwise\n")
    assert changes(drawn.form, form_of(said)) == ()


@settings(max_examples=examples(80))
@given(drawn=set_forms())
def test_a_setting_is_one_change_that_can_be_set_back(drawn: tuple[Form, Form, list[str]]) -> None:
    """At its address, with the text before and after as they stand there; set back, nothing is left."""
    old, new, (address,) = drawn
    (change,) = changes(old, new)
    assert (change.kind, change.at) == ("value", address)
    assert (change.before, change.after) == (written(old, read(old, address)), written(new, read(new, address)))
    assert change.before != change.after
    assert "\n" not in change.says
    assert changes(old, set_address(new, change.at, change.before)) == ()
    assert changes(new, set_address(old, change.at, change.after)) == ()


@settings(max_examples=examples(50))
@given(drawn=set_forms(count=3))
def test_settings_made_in_turn_are_changes_at_or_about_their_addresses(drawn: tuple[Form, Form, list[str]]) -> None:
    """No more of them than settings, none anywhere else, and the same text from a second call."""
    old, new, made = drawn
    found = changes(old, new)
    assert found == changes(old, read_sources(new.sources))
    assert len(found) <= len(made)
    for change in found:
        assert any(address == change.at or address.startswith(change.at + ".") for address in made)


@settings(max_examples=examples(40))
@given(one=forms(), other=forms())
def test_changes_of_any_two_forms_mirror_those_back(one: Drawn, other: Drawn) -> None:
    """As many each way, what is added one way being removed the other way; in the order of kinds; each said in one line."""
    there, back = changes(one.form, other.form), changes(other.form, one.form)
    swapped = {"added": "removed", "removed": "added"}
    assert sorted(swapped.get(c.kind, c.kind) for c in there) == sorted(c.kind for c in back)
    assert {c.at for c in there if c.kind == "value"} == {c.at for c in back if c.kind == "value"} or "renamed" in {
        c.kind for c in there
    }
    order = [KINDS.index(change.kind) for change in there]
    assert order == sorted(order)
    assert all(change.says and "\n" not in change.says for change in there)


@settings(max_examples=examples(50))
@given(drawn=forms(), data=st.data())
def test_a_rating_under_another_name_is_one_renaming(drawn: Drawn, data: st.DataObject) -> None:
    """Whatever refers to it, in weights, limits and needs, is no change."""
    name = data.draw(st.sampled_from([rating.name for rating in drawn.form.ratings]))
    renamed = form_of(drawn.text.replace(f"{name}:", f"{name}_new:").replace(f"on: {name},", f"on: {name}_new,")
                      .replace(f"when: {name} ", f"when: {name}_new ").replace(f"needs: [{name}]", f"needs: [{name}_new]"))  # fmt: skip
    (change,) = changes(drawn.form, renamed)
    assert (change.kind, change.at, change.before, change.after) == (
        "renamed",
        f"ratings.{name}_new",
        name,
        f"{name}_new",
    )
