"""A number of an option that is out of bounds is told with what was found and what was expected, of every option alike."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import typer.main

from analysis.cli.main import app


def bounded() -> Iterator[tuple[str, str, float]]:
    """Each option with a least number: its command, its name, and the number."""
    command: Any = typer.main.get_command(app)
    for name, one in command.commands.items():
        for option in one.params:
            if getattr(option, "min", None) is not None:
                yield name, option.opts[0], option.min


FOUND = list(bounded())


@pytest.mark.parametrize(("command", "option", "least"), FOUND, ids=[f"{c} {o}" for c, o, _ in FOUND])
@pytest.mark.parametrize("written", ["-1", "many"])
def test_a_number_out_of_bounds_is_told_as_every_fault(
    steelyard: Any, command: str, option: str, least: float, written: str
) -> None:
    """One line, exit 2, whatever else is on the command line."""
    result = steelyard(command, "a.yaml", "b.csv", option, written)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{option}: `{written}`; expected a ")
    assert f"{least}" in result.stderr.splitlines()[0]
    assert "Input should" not in result.output


def test_there_are_such_options() -> None:
    """Draws, seeds, places at the top, coverage and readings."""
    assert {option for _, option, _ in FOUND} == {"--draws", "--seed", "--top", "--coverage", "--readings"}


def test_anything_else_is_refused_as_it_was(steelyard: Any) -> None:
    """An option that is not there."""
    result = steelyard("score", "a.yaml", "b.csv", "--drows", "3")
    assert result.exit_code == 2
    assert "No such option" in result.output
