"""Faults as a caller from Python reads them: what the command line calls an option stands under the argument's name."""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable, Collection
from dataclasses import replace
from typing import ParamSpec, TypeVar

from scoring.errors import Problem, SteelyardError

P = ParamSpec("P")
R = TypeVar("R")
_OPTION = re.compile(r"--([a-z][a-z-]*)")
#: Arguments that are not called as their option is.
OTHERWISE = {"beats": "pairs"}


def by_arguments(function: Callable[P, R]) -> Callable[P, R]:
    """A function whose faults name its arguments, where the command line would name options."""
    names = tuple(inspect.signature(function).parameters)

    @functools.wraps(function)
    def called(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return function(*args, **kwargs)
        except SteelyardError as fault:
            fault.problems = tuple(renamed(problem, names) for problem in fault.problems)
            fault.args = ("\n".join(map(str, fault.problems)),)
            raise

    return called


def renamed(problem: Problem, names: Collection[str]) -> Problem:
    """A fault with every option by the name of the argument that it is, as far as the function has it.

    Examples
    --------
    >>> from scoring.errors import Place
    >>> str(renamed(Problem(Place("--at-once"), "`--draws 5`", "100 or more"), ("at_once", "draws")))
    'at_once: `draws 5`; expected 100 or more.'
    """

    def argument(option: re.Match[str]) -> str:
        name = option[1].replace("-", "_")
        known = (name, f"{name}s", OTHERWISE.get(name, name))
        return next((one for one in known if one in names), option[0])

    def said(text: str) -> str:
        return _OPTION.sub(argument, text)

    source = said(problem.place.source)
    if source.isupper() and source.lower() in names:  # an argument of a command, as its usage line has it
        source = source.lower()
    place = replace(problem.place, source=source)
    return Problem(place, said(problem.found), said(problem.expected), said(problem.hint))
