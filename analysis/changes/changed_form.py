"""Changes of a form itself: its scale, ranks and bands_on, what it takes from a neighbour, and its words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from analysis.changes.changed_values import Both, Change, value_changes
from analysis.changes.written_things import words
from scoring.declaration import kinds
from scoring.form import FORM, Waiver
from scoring.reader.wording import clip

WORDS = FORM.fields_of(kinds.Text)


def form_changes(both: Both) -> list[Change]:
    """Every change of a form outside its bands, constants, attributes, measures, ratings, scores and gates."""
    return [
        *_takes(both),
        *value_changes(both, "", None, None, base="", who=""),
        *_product_column(both),
        *_words(both),
        *_cautions(both.old.cautions, both.new.cautions),
        *_waivers(both.old.checklist, both.new.checklist),
    ]


def _takes(both: Both) -> Iterator[Change]:
    before, after = both.old_texts.takes(), both.new_texts.takes()
    if before[1:] != after[1:]:
        says = f"takes {before[0] or 'nothing'} -> {after[0] or 'nothing'}"
        yield Change("rewired", "takes", says, before[0], after[0])


def _product_column(both: Both) -> Iterator[Change]:
    before, after = both.old.product_column, both.new.product_column
    if before != after:
        says = f"products stand in the column {before or 'product or id'} -> {after or 'product or id'}"
        yield Change("rewired", "product_column", says, before, after)


def _words(both: Both) -> Iterator[Change]:
    for name in WORDS:
        before, after = getattr(both.old, name), getattr(both.new, name)
        untitled = name == "title" and before == both.old.name and after == both.new.name
        if before != after and not untitled:
            key = FORM.fields[name].name
            said = [f'"{clip(text)}"' if text else "nothing" for text in (before, after)]
            yield Change("said", key, f"{key} {said[0]} -> {said[1]}", before, after)


def _cautions(old: tuple[str, ...], new: tuple[str, ...]) -> Iterator[Change]:
    for text in (Counter(new) - Counter(old)).elements():
        yield Change("said", "cautions", f'caution added: "{clip(text)}"', "", text)
    for text in (Counter(old) - Counter(new)).elements():
        yield Change("said", "cautions", f'caution removed: "{clip(text)}"', text, "")
    if old != new and Counter(old) == Counter(new):
        yield Change("said", "cautions", "cautions in another order", words(old), words(new))


def _waivers(old: tuple[Waiver, ...], new: tuple[Waiver, ...]) -> Iterator[Change]:
    """Steps of the methods checklist that are waived, waived no longer, or for another reason."""
    before, after = ({waiver.step: waiver.reason for waiver in waivers} for waivers in (old, new))
    for step in dict.fromkeys([*before, *after]):
        first, second = before.get(step, ""), after.get(step, "")
        if first != second:
            said = [f'waived: "{clip(reason)}"' if reason else "not waived" for reason in (first, second)]
            yield Change("said", f"checklist.{step}", f"checklist step {step}: {said[0]} -> {said[1]}", first, second)
