"""The choices of a form that a page can make, and each step of the arithmetic under them.

A choice makes another program. Which steps it changes is found by making it: every output's options are tried in rounds, one
option at each output at a time, and steps are compared. A step that several choices change is printed for each of their
combinations.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product as combinations
from itertools import zip_longest
from math import prod

from scoring.addresses.addresses import addresses, set_all, set_together
from scoring.blends import BLENDS
from scoring.errors import AddressError
from scoring.form import ERROR_COMPONENTS as ERRORS
from scoring.form import Choice, Form, Number
from scoring.program.javascript import Registers, StepKey, print_steps
from scoring.program.program import compile_form

#: Settings that differ from the form's own, as (address, value).
Made = tuple[tuple[str, str], ...]
#: The code of a step that is not there under a choice.
PASSED_ON = "x.v"
#: A step is printed for so many combinations of choices at most; what goes beyond stays as stated.
MOST_COMBINATIONS = 256


@dataclass(frozen=True, slots=True)
class StepVariants:
    """One step of the arithmetic: the choices that change it, and its code under each combination, the last turning fastest."""

    key: StepKey
    choices: tuple[str, ...]
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Follower:
    """A number that nothing in the text states, and that is another under an option of a choice."""

    choice: str
    option: str
    number: str
    value: float


@dataclass(frozen=True, slots=True)
class Variants:
    """Every step in order of need, the options of every choice that has several (as stated first), and what follows them."""

    steps: tuple[StepVariants, ...]
    options: Mapping[str, tuple[str, ...]]
    followers: tuple[Follower, ...]


def variants_of(form: Form, registers: Registers) -> Variants:
    """The steps of a form under all its choices.

    Raises
    ------
    FormulaError : outputs need each other in a circle
    """
    options = valid_options(form)
    stated = _stated_steps(form, options, registers)
    codes: dict[StepKey, dict[Made, str]] = {key: {(): code} for key, code in stated.items()}
    changed: dict[StepKey, list[str]] = {key: [] for key in stated}
    followers: list[Follower] = []
    for settings in _rounds(form, options):
        made = set_together(form, settings)
        followers += _followers(form, made, settings)
        printed = print_steps(compile_form(made), registers)
        for address, value in settings.items():
            for key in _steps_at(form, address, stated):
                code = printed.get(key, PASSED_ON)
                codes[key][((address, value),)] = code
                if code != stated[key] and address not in changed[key]:
                    changed[key].append(address)
    for kept in changed.values():
        while prod(len(options[address]) for address in kept) > MOST_COMBINATIONS:
            kept.pop()
    _print_combinations(form, options, changed, codes, registers)
    steps = tuple(
        StepVariants(key, tuple(changed[key]), tuple(codes[key][made] for made in _made(changed[key], options)))
        for key in stated
    )
    return Variants(steps, options, tuple(followers))


def _stated_steps(form: Form, options: Mapping[str, tuple[str, ...]], registers: Registers) -> dict[StepKey, str]:
    """The steps as stated, and among them, passing the running value on, those of limits that are switched off."""
    limits = [limit for output in form.outputs for limit in output.limits]
    off = [limit.apply for limit in limits if limit.apply.value != "always"]
    switched = {choice.address: "always" for choice in off if choice.address in options}
    stated = print_steps(compile_form(form), registers)
    whole = print_steps(compile_form(set_all(form, switched)), registers) if switched else stated
    return {key: stated.get(key, PASSED_ON) for key in whole}


def valid_options(form: Form) -> dict[str, tuple[str, ...]]:
    """The options of each choice that the reader takes while all else stays as stated; the stated one first.

    A blend that has a number of its own is one of them where that is stated: what is not written has no place on a page.
    """
    choices = [noun for noun in addresses(form).values() if isinstance(noun, Choice) and not _is_of_errors(noun)]
    found = {choice.address: [choice.value] for choice in choices}
    lacking = set(_lacking(form))
    others = {
        choice.address: [
            option for option in choice.options if option != choice.value and (choice.address, option) not in lacking
        ]
        for choice in choices
    }
    # a limit of bands names a band, so that other bands are tried without another limit
    banded = {output.bands.chosen.address for output in form.outputs if output.band_limits and output.bands.chosen}
    pairs = [[(address, option) for option in options] for address, options in others.items() if address not in banded]
    alone = [[(address, option)] for address in others if address in banded for option in others[address]]
    for row in (*zip_longest(*pairs), *alone):
        for settings in _apart(form, [pair for pair in row if pair is not None]):
            for address, option in _taken(form, settings):
                found[address].append(option)
    return {address: tuple(options) for address, options in found.items() if len(options) > 1}


def _lacking(form: Form) -> Iterator[tuple[str, str]]:
    """Blends that have numbers of their own which are not there, by the address at which they could be chosen."""
    for output in form.outputs:
        there = {name for name, _ in output.numbers}
        if output.blend is None:
            continue
        for option in output.blend.options:
            if not {number.name for number in BLENDS[option].numbers} <= there:
                yield output.blend.address, option


def _is_of_errors(choice: Choice) -> bool:
    """Whether a choice is about the errors of readings, and so in no step."""
    section, _, rest = choice.address.partition(".")
    return section == "error_correlations" or (section == "measures" and rest.split(".")[1] in ERRORS)


def _apart(form: Form, pairs: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    """Settings in groups that can be made in one reading: keys that are not written yet may have one place to go."""
    nouns, groups = addresses(form), list[dict[tuple[int, int], tuple[str, str]]]()
    for address, value in pairs:
        spot = nouns[address].spot
        place = (spot.source, spot.start)
        group = next((group for group in groups if place not in group), None)
        if group is None:
            groups.append(group := {})
        group[place] = (address, value)
    return [dict(group.values()) for group in groups]


def _taken(form: Form, settings: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Those settings that the reader takes: all at once, or, where it does not, each half by itself."""
    if not settings:
        return
    try:
        set_together(form, settings)
    except AddressError:
        if len(settings) > 1:
            pairs = list(settings.items())
            for half in (pairs[: len(pairs) // 2], pairs[len(pairs) // 2 :]):
                yield from _taken(form, dict(half))
        return
    yield from settings.items()


def _rounds(form: Form, options: Mapping[str, Sequence[str]]) -> Iterator[dict[str, str]]:
    """Settings that try every option once, one thing of the form (a rating, a score, a measure) being changed once a round."""
    by_thing: dict[str, list[tuple[str, str]]] = {}
    for address, values in options.items():
        by_thing.setdefault(_thing(address), []).extend((address, value) for value in values[1:])
    measures = [pairs for thing, pairs in by_thing.items() if thing.startswith("measures.")]
    others = [pairs for thing, pairs in by_thing.items() if not thing.startswith("measures.")]
    for rows in (others, measures):
        for row in zip_longest(*rows):
            yield from _apart(form, [pair for pair in row if pair is not None])


def _followers(form: Form, made: Form, settings: Mapping[str, str]) -> Iterator[Follower]:
    """The numbers that differ between the form and the one with settings made, by the choice at the same thing."""
    by_thing = {_thing(address): (address, option) for address, option in settings.items()}
    stated = addresses(form)
    for address, noun in addresses(made).items():
        before = stated.get(address)
        if isinstance(noun, Number) and isinstance(before, Number) and noun.value != before.value:
            yield Follower(*by_thing[_thing(address)], address, noun.value)


def _thing(address: str) -> str:
    return ".".join(address.split(".")[:2])


def _steps_at(form: Form, address: str, steps: Mapping[StepKey, str]) -> list[StepKey]:
    """The steps that a choice may change: those of its own output or, of a measure, those of the outputs that take it."""
    section, name = [*address.split("."), ""][:2]
    if section == "measures":
        names = set(form.dependencies.takers(name))
    else:
        names = {output.name for output in form.outputs if output.section == section and output.name == name}
    return [key for key in steps if key[0] in names]


def _print_combinations(
    form: Form,
    options: Mapping[str, tuple[str, ...]],
    changed: Mapping[StepKey, Sequence[str]],
    codes: dict[StepKey, dict[Made, str]],
    registers: Registers,
) -> None:
    """The code of steps that several choices change, for the combinations not met yet: one of each thing in a reading."""
    wanted: dict[str, dict[Made, list[StepKey]]] = {}
    for key, chosen in changed.items():
        for made in _made(chosen, options):
            if made not in codes[key]:
                wanted.setdefault(key[0], {}).setdefault(made, []).append(key)
    for row in zip_longest(*(by_made.items() for by_made in wanted.values())):
        met = [pair for pair in row if pair is not None]
        apart = [pair for pair in met if any(address.startswith("measures.") for address, _ in pair[0])]
        for group in (*([pair] for pair in apart), [pair for pair in met if pair not in apart]):
            settings = {address: value for made, _ in group for address, value in made}
            steps = print_steps(compile_form(set_all(form, settings)), registers) if group else {}
            for made, keys in group:
                codes_of = {key: steps.get(key, PASSED_ON) for key in keys}
                for key, code in codes_of.items():
                    codes[key][made] = code


def _made(chosen: Sequence[str], options: Mapping[str, tuple[str, ...]]) -> list[Made]:
    """Every combination of choices as the settings that differ from the form's own."""
    every = combinations(*(options[address] for address in chosen))
    return [
        tuple((address, value) for address, value in zip(chosen, values, strict=True) if value != options[address][0])
        for values in every
    ]
