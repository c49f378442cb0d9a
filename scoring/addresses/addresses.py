"""Addresses: list every number and choice of a form, read one, set one, and difference two forms into edits."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeGuard

from scoring.errors import AddressError, FormulaError, Place, Problem, nearest
from scoring.form import (
    BANDS_OF,
    OWN_BANDS,
    Addressed,
    Choice,
    Curve,
    ErrorComponent,
    Expression,
    Form,
    Number,
    addressed,
)
from scoring.reader import read_sources
from scoring.renamed import address_today, settings_today, value_today
from scoring.texts.document import Mapping as Braces
from scoring.texts.document import read_document, write_flow
from scoring.texts.rewriting import rewrite
from scoring.texts.source import Spot

__all__ = [
    "Addressed",
    "Edit",
    "addressed",
    "addresses",
    "difference",
    "figures_or_words",
    "read",
    "set_address",
    "set_addresses",
    "set_all",
    "set_together",
    "written",
]

FIGURE = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*%?")
SETTING = re.compile(r"(?P<address>[^=]+?)\s*=\s*(?P<value>.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Edit:
    """A change at one address: what stood there and what stands there now (None: not there)."""

    address: str
    before: str | None
    after: str | None

    def __str__(self) -> str:
        if self.before is None:
            return f"{self.address}: added, {self.after}"
        if self.after is None:
            return f"{self.address}: removed, was {self.before}"
        return f"{self.address}: {self.before} -> {self.after}"


def addresses(form: Form) -> Mapping[str, Addressed]:
    """Every address of a form and what stands there, in the order of the form; found in one walk and kept with the form."""
    return form.addressed


def written(form: Form, noun: Addressed) -> str:
    """What stands at an address, as text in one line that can be set there."""
    if isinstance(noun, Choice) and noun.value != OWN_BANDS:
        return noun.value
    if isinstance(noun, Choice | Curve | ErrorComponent):
        text = form.sources[noun.spot.source].text[noun.spot.start : noun.spot.end]
        return write_flow(read_document(" " * (noun.place.column - 1) + text, noun.place.source))
    return re.sub(r"\s*\n\s*", " ", noun.text.strip())


def read(form: Form, address: str) -> Addressed:
    """What stands at one address.

    Raises
    ------
    AddressError
        The address names nothing; the nearest known one is named.
    """
    known, address = addresses(form), address_today(address)
    if address not in known:
        where = Place(form.sources[0].name if form.sources else "the formula")
        found = f"the address `{address}`, which names nothing"
        raise AddressError([Problem(where, found, "an address of the formula", _nearest(address, known))])
    return known[address]


def _nearest(address: str, known: Mapping[str, Addressed]) -> str:
    tail = address.rsplit(".", 1)[-1]
    ending = [name for name in known if name.endswith("." + tail)]
    hint = nearest(address, known)
    if not hint.startswith("Did you mean") and ending:
        return f"Did you mean `{ending[0]}`?"
    if hint.startswith("Did you mean"):
        return hint
    return "`steelyard check FORMULA --addresses` lists them."


def set_addresses(form: Form, settings: Iterable[str]) -> Form:
    """The form with each setting `ADDRESS=VALUE` made, in turn, as if it had been written in the file.

    Raises
    ------
    AddressError
        A setting that is not `ADDRESS=VALUE`, names nothing, or gives a value that does not fit.
    """
    for setting in settings:
        match = SETTING.fullmatch(setting.strip())
        if match is None:
            place = Place("--set")
            raise AddressError([Problem(place, f"`{setting}`", "ADDRESS=VALUE", "As in scores.NAME.weights.PART=0.3.")])
        form = set_address(form, match["address"], match["value"].strip())
    return form


def set_address(form: Form, address: str, value: str) -> Form:
    """The form with `value` at one address.

    Raises
    ------
    AddressError
        The address names nothing, or the value does not fit there.
    """
    noun, value = read(form, address), value_today(address, value)
    if isinstance(noun, Choice) and value == noun.value:
        return form
    whole = figures_or_words(form).get(noun.address)
    _check_value(noun, value, whole)
    try:
        return _written(form, [(_spot(noun, value, whole), value)])
    except FormulaError as fault:
        problems = [
            Problem(Place("--set"), f"`{address}={value}` will not do: {problem.found}", problem.expected, problem.hint)
            for problem in fault.problems
        ]
        raise AddressError(problems) from None


def set_together(form: Form, settings: Mapping[str, str]) -> Form:
    """The form with values at several addresses, written at once and read once.

    Raises
    ------
    AddressError
        An address names nothing, a value does not fit, or two are written at the same place (`set_addresses` can).
    """
    settings = settings_today(settings)
    nouns, wholes = {address: read(form, address) for address in settings}, figures_or_words(form)
    for address, noun in nouns.items():
        _check_value(noun, settings[address], wholes.get(address))
    _check_apart(list(nouns.values()))
    writings = [
        (_spot(noun, settings[address], wholes.get(address)), settings[address])
        for address, noun in nouns.items()
        if not (isinstance(noun, Choice) and noun.value == settings[address])
    ]
    try:
        return _written(form, writings)
    except FormulaError as fault:
        raise AddressError(fault.problems) from None


def _written(form: Form, writings: Sequence[tuple[Spot, str]]) -> Form:
    """The form with values written at spots: in its text, and in what the text was read as, where that is sure to be the same."""
    sources, documents = rewrite(form.sources, form.documents, writings)
    return read_sources(sources, documents)


def set_all(form: Form, settings: Mapping[str, str]) -> Form:
    """The form with settings made: in one reading where they are written apart, else one after another, in either order.

    What a total says of parts that do not apply has no address any more once its blend is a mean.

    Raises
    ------
    AddressError
        An address names nothing, or a value does not fit.
    """
    try:
        return set_together(form, settings)
    except AddressError:
        written_out = [f"{address}={value}" for address, value in settings.items()]
    try:
        return set_addresses(form, written_out)
    except AddressError:
        return set_addresses(form, written_out[::-1])


def _check_apart(nouns: Sequence[Addressed]) -> None:
    """A fault where one setting is written inside another: a curve, and a number in it."""
    ordered = sorted(nouns, key=lambda noun: (noun.spot.source, noun.spot.start))
    for first, second in pairwise(ordered):
        if first.spot.source == second.spot.source and second.spot.start < first.spot.end:
            found = f"{first.address} and {second.address}, one of them written inside the other"
            raise AddressError([Problem(Place("--set"), found, "settings that do not meet")])


def figures_or_words(form: Form) -> dict[str, Spot]:
    """Where a figure and a word may both stand, and of an error braces too, by address: the spot of all that stands there."""
    errors = {error.address: error.spot for measure in form.measures for error in measure.errors.values()}
    coefficients = (one.coefficient or one.estimated for one in form.error_correlations)
    return errors | {noun.address: noun.spot for noun in coefficients if noun is not None}


def _spot(noun: Addressed, value: str, whole: Spot | None) -> Spot:
    """Where a value is written: a figure in the place of a figure, whose sign of percent stays; else in that of the whole."""
    if whole is None or (isinstance(noun, Number) and FIGURE.fullmatch(value)):
        return noun.spot
    return whole


def _check_value(noun: Addressed, value: str, whole: Spot | None) -> None:
    place = Place("--set")
    if whole is not None:
        if not value or "\n" in value or (value.startswith("{") and not _is_mapping(value)):
            raise AddressError([Problem(place, f"`{noun.address}={value}`", "a value in one line, braces closed")])
        return  # the reader knows what may stand there
    if _is_of_bands(noun) and value.startswith("{") and _is_mapping(value):
        return  # the reader knows what may stand there
    if isinstance(noun, Choice) and value not in noun.options:
        expected = "one of " + ", ".join(noun.options)
        raise AddressError([Problem(place, f"`{noun.address}={value}`", expected, nearest(value, noun.options))])
    if isinstance(noun, Number) and not FIGURE.fullmatch(value):
        expected = f"a plain number (it is {noun.text} now)"
        raise AddressError([Problem(place, f"`{noun.address}={value}`", expected)])
    if not value or "\n" in value:
        raise AddressError([Problem(place, f"`{noun.address}={value}`", "a value in one line")])
    if isinstance(noun, Curve) and not _is_mapping(value):
        expected = "a curve in braces, as {line: {worst: 5, best: 65}}"
        raise AddressError([Problem(place, f"`{noun.address}={value}`", expected)])


def _is_of_bands(noun: Addressed) -> TypeGuard[Choice]:
    """Whether it says whose bands a rating or score has: then bands may be written out there, too."""
    return isinstance(noun, Choice) and noun.options[-len(BANDS_OF) :] == tuple(BANDS_OF)


def _is_mapping(value: str) -> bool:
    """Whether a text is one YAML mapping in braces and nothing else."""
    try:
        node = read_document(value, "--set")
    except FormulaError:
        return False
    return isinstance(node, Braces) and node.flow and (node.start, node.end) == (0, len(value))


def difference(old: Form, new: Form) -> tuple[Edit, ...]:
    """The edits that lead from one form to another, in the order of the new form, then what was removed.

    A number is compared by its value (0.20 and 0.2 are the same); an expression stands for the numbers in it, and a
    curve or an error in braces for its own, so that a change is named once, at its narrowest address.
    """
    before, after = addresses(old), addresses(new)
    edits = [
        Edit(address, written(old, before[address]) if address in before else None, written(new, noun))
        for address, noun in after.items()
        if address not in before or not _same(before[address], noun)
    ]
    edits += [Edit(address, written(old, noun), None) for address, noun in before.items() if address not in after]
    return tuple(edit for edit in edits if not _inside(edit, edits))


def _same(old: Addressed, new: Addressed) -> bool:
    if isinstance(old, Number) and isinstance(new, Number):
        return old.value == new.value
    if isinstance(old, Expression) and isinstance(new, Expression):
        return old.term == new.term
    if isinstance(old, Curve) and isinstance(new, Curve):
        return (old.kind, len(old.anchors)) == (new.kind, len(new.anchors))
    if isinstance(old, ErrorComponent) and isinstance(new, ErrorComponent):
        return _keys_of(old) == _keys_of(new)
    if isinstance(old, Choice) and isinstance(new, Choice):
        return old.value == new.value
    return False


def _keys_of(error: ErrorComponent) -> tuple[str, bool, bool]:
    return error.kind.value, error.is_half_width, error.freedom is None


def _inside(edit: Edit, edits: Sequence[Edit]) -> bool:
    """Whether a wider edit already says it: everything under a curve or expression that itself changed."""
    return any(edit.address.startswith(other.address + ".") for other in edits if other is not edit)
