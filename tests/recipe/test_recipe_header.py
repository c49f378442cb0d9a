"""Headers as laboratories write them."""

from __future__ import annotations

from typing import Any

import pytest

from scoring.catalogue.by_recipe.header import header_name, read_together


@pytest.mark.parametrize(
    ("text", "name", "unit", "repeat"),
    [
        ("Noise", "Noise", None, None),
        ("Noise (dB)", "Noise", "dB", None),
        ("Noise #2 (dB)", "Noise", "dB", 2),
        ("#2 Noise [dB]", "Noise", "dB", 2),
        ("(dB) Noise # 3", "Noise", "dB", 3),
        ("Noise,\nroll-over (dB)", "Noise, roll-over", "dB", None),
        ("Noise\u00a0level  [dB]", "Noise level", "dB", None),
        ("Noise (dB(A))", "Noise", "dB(A)", None),
        ("Rise (°C) after 15 min", "Rise after 15 min", "°C", None),
        ("Edge drop (front) [in] #12", "Edge drop (front)", "in", 12),
        ("Edge (A)", "Edge (A)", None, None),
        ("Rebound %", "Rebound", "%", None),
        ("Surface °C #1", "Surface", "°C", 1),
        ("Noise min", "Noise min", None, None),
        ("Rise_#2", "Rise", None, 2),
        ("100 %", "100", "%", None),
        ("%", "%", None, None),
        ("[dB]", "[dB]", "dB", None),
        ("#2", "#2", None, 2),
    ],
)
def test_unit_and_repeat_are_understood_wherever_they_stand(
    text: str, name: str, unit: str | None, repeat: int | None
) -> None:
    """And what is left is the name."""
    found = header_name(text)
    assert (found.name, found.unit, found.repeat, found.is_sound) == (name, unit, repeat, True)


@pytest.mark.parametrize("text", ["Noise [dB] [dB]", "Noise #1 #2"])
def test_two_of_either_are_unsound(text: str) -> None:
    """Nobody says which holds."""
    assert not header_name(text).is_sound


ROWS: list[tuple[list[list[Any]], list[str]]] = [
    ([["A", None, 3.0]], ["A", "", "3"]),
    (
        [["Model", None, "Noise (dB)", None, None, "Edge", None], [None, "Maker", "#1", "#2", None, "front", "back"]],
        ["Model", "Maker", "Noise (dB) #1", "Noise (dB) #2", "", "Edge front", "Edge back"],
    ),
    ([["Bench", None, None], ["Noise", None, "Edge"], ["#1", "#2", "#1"]], ["Bench Noise #1", "Bench Noise #2", "Bench Edge #1"]),
    ([["Noise"], ["#1", "#2"]], ["Noise #1", "Noise #2"]),
]  # fmt: skip


@pytest.mark.parametrize(("rows", "names"), ROWS)
def test_rows_of_a_header_are_read_together(rows: list[list[Any]], names: list[str]) -> None:
    """An upper cell stands over the names to its right, as merged cells do, and never over a name that is whole without it."""
    assert read_together(rows) == names
