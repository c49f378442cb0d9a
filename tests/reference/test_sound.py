"""Levels that add by energy, and loudness that doubles: worked by the command. Each figure says where it was read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Refusal = Callable[..., str]
Sheet = Callable[..., Path]
MANUAL = "Staedtebauliche Laermfibel (noise manual of town planning), 2.4.2, read at staedtebauliche-laermfibel.de"
GUIDE = "Minnesota Pollution Control Agency, A Guide to Noise Control in Minnesota, October 2008, p. 5, read"
GLOSSARY = "EEMUA glossary, the decibel, read at eemua.org/glossary/t/the-decibel"


@pytest.mark.parametrize(
    ("first", "second", "printed", "source"),
    [
        (40, 45, 46.2, MANUAL),
        (55, 55, 58, MANUAL),
        (50, 50, 53, GUIDE),
        (53, 53, 56, GUIDE),
        (90, 90, 93, GLOSSARY),
    ],
)
def test_two_levels_add_by_their_energy(
    first: float, second: float, printed: float, source: str, score: Score, published: Path, sheet: Sheet
) -> None:
    """Within 0.05 dB of the printed sum, in either order."""
    rows = [
        {"id": "one way", "first_source": first, "second_source": second},
        {"id": "the other", "first_source": second, "second_source": first},
    ]
    products = score(published / "sound-levels.yaml", sheet(rows))["products"]
    sums = [product["scores"]["together"]["value"] for product in products]
    assert sums == pytest.approx([printed, printed], abs=0.05), source


def test_repeats_of_a_level_are_averaged_by_energy(score: Score, published: Path, sheet: Sheet) -> None:
    """30 and 40 dB average to 37.4 dB, not 35. Worked by hand: 10 lg((1000 + 10000) / 2) = 37.4036."""
    catalogue = sheet([{"id": "a", "first_source #1": 30, "first_source #2": 40, "second_source": 0}])
    (product,) = score(published / "sound-levels.yaml", catalogue)["products"]
    assert product["ratings"]["first_level"]["value"] == pytest.approx(37.4036, abs=1e-4)


@pytest.mark.parametrize(("phon", "sone"), [(40, 1), (50, 2), (60, 4), (30, 0.5)])
def test_ten_phons_more_sound_twice_as_loud(
    phon: float, sone: float, score: Score, published: Path, sheet: Sheet
) -> None:
    """1 sone at 40 phons: ANSI/ASA S1.1, term 11.04, read; doubling every ten: ISO 131:1979, from memory."""
    (product,) = score(published / "loudness.yaml", sheet([{"id": "a", "loudness_level": phon}]))["products"]
    assert product["scores"]["loudness"]["value"] == pytest.approx(sone, rel=1e-12)


@pytest.mark.parametrize("phon", [19, 121])
def test_loudness_outside_the_confirmed_range_is_refused(
    phon: float, refusal: Refusal, published: Path, sheet: Sheet
) -> None:
    """From 20 to 120 phons: ISO 131:1979, from memory."""
    message = refusal(published / "loudness.yaml", sheet([{"id": "a", "loudness_level": phon}]))
    assert "20 to 120 phon, the plausible range" in message
