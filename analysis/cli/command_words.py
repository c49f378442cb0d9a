"""A command line taken apart by what its command declares: its words, its options, and what its first words may be."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from scoring.table_formats import ENDINGS

#: What the first words of commands are called where they are declared.
FORMULAS, READINGS, RECORD = ("formula", "old", "new"), "catalogue", "record"
_YAML = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class Line:
    """A command line: what stands in it, where its words are, and what its command takes.

    slots : the names of the command's first words, each with whether it must be there; n_needed : how many words must be;
    more : whether others may follow; given : the options in it, with their values
    """

    command: str
    args: tuple[str, ...]
    words: tuple[int, ...]
    slots: Mapping[str, bool]
    n_needed: int
    more: bool
    given: Mapping[str, str] = field(default_factory=dict)
    options: tuple[str, ...] = ()

    def word(self, number: int) -> str | None:
        """A word by its number from 0; None where there is none."""
        return self.args[self.words[number]] if number < len(self.words) else None

    @property
    def is_whole(self) -> bool:
        """Whether nothing is left out: as many words as must be there, the formula first, and readings."""
        if RECORD in self.slots:
            return not self.words or len(self.words) >= len(self.slots) or os.path.isdir(str(self.word(0)))
        if self.more:
            readings = self.word(1)
            return is_yaml(self.word(0)) and readings is not None and is_readings(readings)
        first = self.word(0)
        return len(self.words) >= self.n_needed and (first is None or (is_yaml(first) and not names_a_recipe(first)))


def line_of(command: Any, args: Sequence[str]) -> Line:
    """Take a command line apart by what its command declares."""
    arguments = [param for param in command.params if param.param_type_name == "argument"]
    options = [param for param in command.params if param.param_type_name == "option"]
    takes_value = {name: not option.is_flag for option in options for name in option.opts}
    words, given = list[int](), dict[str, str]()
    written = enumerate(args)
    for number, one in written:
        if one == "--":
            words += [later for later, _ in written]
        elif not one.startswith("-") or one == "-":
            words.append(number)
        elif takes_value.get(one, False):
            _, given[one] = next(written, (0, ""))
        else:
            name, _, value = one.partition("=")
            given[name] = value
    slots = {}
    for param in arguments:
        if param.name not in (*FORMULAS, READINGS, RECORD):
            break
        slots[param.name] = param.required
    return Line(
        command=command.name or "",
        args=tuple(args),
        words=tuple(words),
        slots=slots,
        n_needed=sum(param.required for param in arguments),
        more=any(param.nargs == -1 for param in arguments),
        given=given,
        options=tuple(takes_value),
    )


def is_yaml(word: str | None) -> bool:
    return word is not None and Path(word).suffix.lower() in _YAML and not os.path.isdir(word)


def is_readings(word: str) -> bool:
    return os.path.isdir(word) or Path(word).suffix.lower() in ENDINGS or names_a_recipe(word)


def names_a_recipe(word: str) -> bool:
    from scoring.recipe import is_recipe

    return is_recipe(Path(word))
