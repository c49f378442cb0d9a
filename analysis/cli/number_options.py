"""What is wrong with the number of an option, told as every other fault: the option, what was found, what was expected."""

from __future__ import annotations

from typing import Any

from scoring.errors import Place, Problem, SteelyardError

#: Characters of a word that a fault shows.
LONGEST = 40


class OptionError(SteelyardError):
    """The word of an option is not what it must be."""


def number_fault(refused: Any) -> Problem | None:
    """The fault of an option's number, from how the command line was refused; None where it was refused for anything else.

    refused : the exception, which knows the option, and has as its cause what was made of the word
    """
    option, cause = getattr(refused, "param", None), refused.__cause__
    kind = _kind(option)
    if option is None or kind is None or not hasattr(cause, "errors"):
        return None
    found = str(cause.errors()[0].get("input", ""))
    shown = found if len(found) <= LONGEST else f"{found[:LONGEST]}..."
    return Problem(Place(option.opts[0]), f"`{shown}`", f"{kind}{_bounds(option)}")


def _kind(option: Any) -> str | None:
    """What an option takes, where that is a number."""
    annotation = str(getattr(getattr(option, "type_descriptor", None), "annotation", ""))
    if "int" in annotation:
        return "a whole number"
    return "a number" if "float" in annotation else None


def _bounds(option: Any) -> str:
    """Within what bounds it must be, as the option declares them."""
    if option.min is None:
        return "" if option.max is None else f", {option.max} or less"
    return f", {option.min} or more" if option.max is None else f" from {option.min} to {option.max}"
