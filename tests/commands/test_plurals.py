"""One of a thing is one thing, and what is said of the first places is of those that there are."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

ONE = """\
formula: one
version: 1.0.0
bands: {all: 1}
measures: {noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1.2}}
ratings: {quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}}
scores: {overall: {parts: [quiet]}}
"""
PLURAL = re.compile(
    r"(?<![\d.,-])1 (products|measures|readings|tests|bands|parts|boxes|points|guesses|draws|rows|files|places)\b"
)


@pytest.mark.parametrize(
    "asked",
    [
        ("score",),
        ("check",),
        ("check", "--repeatability"),
        ("explain", "A-01"),
        ("stability", "--draws", 256, "--resolved"),
        ("sensitivity", "--draws", 256, "--resolved"),
        ("weights",),
        ("reread",),
    ],
    ids=lambda asked: " ".join(map(str, asked)),
)
@pytest.mark.parametrize("products", [1, 2])
def test_one_is_never_many(steelyard: Any, tmp_path: Path, asked: tuple[object, ...], products: int) -> None:
    """Of a formula with one of everything."""
    name, *options = asked
    (tmp_path / "one.yaml").write_text(ONE, encoding="utf-8")
    rows = "".join(f"A-0{n},{30 + n},{31 + n}\n" for n in range(1, products + 1))
    (tmp_path / "one.csv").write_text(f"product,noise #1,noise #2\n{rows}", encoding="utf-8")
    result = steelyard(name, tmp_path / "one.yaml", tmp_path / "one.csv", *options)
    assert PLURAL.findall(result.output) == [], result.output


def test_the_overlap_is_of_those_that_have_a_place(steelyard: Any, small: Path) -> None:
    """Four products, of which three have one: the first three, and not the first four."""
    readings = small / "beds.csv"
    readings.write_text(readings.read_text(encoding="utf-8").rstrip("\n") + "\nA-09,Vorrlin,33,,,\n", encoding="utf-8")
    text = (small / "beds.yaml").read_text(encoding="utf-8")
    (small / "new.yaml").write_text(text.replace("edge: 3", "edge: 2"), encoding="utf-8")
    said = steelyard("compare", small / "beds.yaml", small / "new.yaml", readings, "--score", "reading").stdout
    placed = re.search(
        r"is first of (\d+)|of (\d+) with",
        steelyard("score", small / "beds.yaml", readings, "--score", "reading").stdout,
    )
    assert placed is not None
    there = next(one for one in placed.groups() if one)
    assert f"overlap of the first {there} " in said
