"""What is printed for a reader: whole words and figures in a narrow terminal, whole lines in a pipe, no codes under NO_COLOR."""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import redirect_stdout
from typing import Any

import pytest

from analysis.cli.main import COMMANDS
from analysis.cli.terminal import print_table, say

HEADERS = ["product", "figure", "what is said of it", "evidence"]
ROWS = [["B-1", "10.25", "the reading was taken again on the second day", "outstanding"], ["B-2", "9.5", "", "pending"]]


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """It is one."""
        return True


Shown = Callable[..., str]


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Shown:
    """What a call prints on a terminal of 48 columns that knows colours."""
    for name, value in {"COLUMNS": "48", "TERM": "xterm-256color"}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.delenv("NO_COLOR", raising=False)

    def printed(call: Callable[..., None], *given: Any, **named: Any) -> str:
        with redirect_stdout(Terminal()) as stream:
            call(*given, **named)
        return stream.getvalue()

    return printed


def test_a_narrow_table_breaks_between_words_and_cuts_none(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every word of every cell stands there whole, and the lines keep within the 48 columns."""
    monkeypatch.setenv("NO_COLOR", "1")
    text = shown(print_table, HEADERS, ROWS, right=(1,))
    assert set(" ".join([*HEADERS, *(cell for row in ROWS for cell in row)]).split()) <= set(text.split())
    assert max(map(len, text.splitlines())) <= 48


def test_a_table_that_no_breaking_fits_runs_on_and_loses_nothing(shown: Shown) -> None:
    """A figure of 60 digits keeps its line: no ellipsis, and every cell is whole."""
    text = shown(print_table, ["product", "figure"], [["B-1", "7" * 60]], right=(1,))
    assert "7" * 60 in text
    assert "…" not in text


def test_a_sentence_breaks_between_words_and_a_percentage_does_not(shown: Shown) -> None:
    """Worked by hand: the 48th column would part 30 from its sign, so both go on; what follows is set in by two."""
    lines = shown(say, "the weight of quiet on this table stands near 30 % of all", "! " + "x" * 60).splitlines()
    assert lines == ["the weight of quiet on this table stands near", "  30 % of all", "!", "  " + "x" * 60]


def test_what_is_there_to_be_copied_stays_one_line(shown: Shown) -> None:
    """A sum, or a command."""
    command = "$ steelyard score beds.yaml beds.csv --set scores.reading_upright.weights.quiet=3"
    assert shown(say, command, whole=True) == command + "\n"


def test_no_colour_means_no_codes_at_all(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    """A bold heading is one without NO_COLOR, so that the test can fail, and none with it."""
    assert "\x1b[" in shown(print_table, HEADERS, ROWS, title="Readings")
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b" not in shown(print_table, HEADERS, ROWS, title="Readings")


def test_the_list_of_commands_fits_80_columns(steelyard: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each command's line in the list is a whole sentence, as it was written."""
    monkeypatch.setenv("COLUMNS", "80")
    printed = steelyard("--help").stdout
    assert "..." not in printed.replace("[ARGS]...", "")
    assert all(says in printed for says in COMMANDS.values())
