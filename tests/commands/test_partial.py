"""Every command says when a first place stands on a missing part, in one sentence with its figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.usefixtures("pictures_unseen")
FORMULA = """\
formula: beds
version: 1.0.0
scale: {from: 1, to: 10}
measures:
  noise: {unit: dB, plausible: [18, 75], repeatability: 1.2}
  drop: {unit: mm, plausible: [0, 200], repeatability: 2.5}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: drop, curve: {line: {worst: 135, best: 45}}}
scores:
  reading: {weights: {edge: 1, quiet: 1}, missing: {absent_above: 0.5}}
"""
#: A-01 has 9 of its edge alone; A-02 has (8.5 + 5.5) / 2 = 7, which A-01 has where its noise is rated 5, at 46 - 24 * 4 / 9 dB.
READINGS = "product,noise [dB],drop [mm]\nA-01,,55\nA-02,34,60\nA-03,40,100\n"
SAYS = (
    "the first place of A-01 stands on a missing part: noise (50 % of the weight) was not read."
    " Read at its worst it would hold place 2, at its best place 1 (noise from 18 to 75 dB)."
    " It holds the first place where noise reads below 35.333 dB."
)
COMMANDS = {
    "check": (("check", "{f}", "{c}"), "first_places"),
    "explain": (("explain", "{f}", "{c}", "A-01"), "partial"),
    "stability": (("stability", "{f}", "{c}", "--draws", "200"), "first_places"),
    "compare": (("compare", "{f}", "{f}", "{c}", "--set", "scores.reading.weights.edge=1.01"), "first_places"),
    "flip": (("flip", "{f}", "{c}", "A-01", "A-02"), "first_places"),
}


@pytest.fixture
def files(tmp_path: Path) -> dict[str, str]:
    """The formula and the catalogue, by letter."""
    (tmp_path / "beds.yaml").write_text(FORMULA, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(READINGS, encoding="utf-8")
    return {"f": str(tmp_path / "beds.yaml"), "c": str(tmp_path / "beds.csv")}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_first_place_on_a_missing_part_is_said_and_in_the_document(
    steelyard: Any, files: dict[str, str], name: str
) -> None:
    """In words on the terminal, with its figures in JSON."""
    arguments, key = COMMANDS[name]
    command = [argument.format(**files) for argument in arguments]
    printed = " ".join(steelyard(*command).stdout.split())
    assert "the first place of A-01 stands on a missing part: noise (50 % of the weight)" in printed
    (told,) = json.loads(steelyard(*command, "--json").stdout)[key]
    assert (told["product"], told["place"], told["missing"]) == ("A-01", 1.0, ["noise"])
    assert (told["worst"]["place"], told["best"]["place"]) == (2.0, 1.0)
    if name != "compare":
        assert told["says"].endswith(SAYS)
        assert told["along"][0]["stretches"][0]["to"] == pytest.approx(46 - 24 * 4 / 9, abs=1e-9)


def test_score_says_it_under_the_table(steelyard: Any, files: dict[str, str]) -> None:
    """All scores, and one in full."""
    for more in ((), ("--score", "reading")):
        printed = " ".join(steelyard("score", files["f"], files["c"], *more).stdout.split())
        assert SAYS in printed


def test_the_finding_of_the_picture_says_it(steelyard: Any, files: dict[str, str], tmp_path: Path) -> None:
    """Beside the picture of what the scores are made of."""
    out = tmp_path / "out"
    assert steelyard("score", files["f"], files["c"], "--out", out).exit_code == 0
    pictures = json.loads((out / "pictures.json").read_text(encoding="utf-8"))["pictures"]
    (parts,) = [one["finding"] for one in pictures if one["name"] == "reading-parts"]
    assert parts.endswith(SAYS)


def test_nothing_is_said_where_the_first_place_has_all_its_parts(steelyard: Any, files: dict[str, str]) -> None:
    """The reading made, the sentence goes."""
    catalogue = Path(files["c"])
    catalogue.write_text(READINGS.replace("A-01,,55", "A-01,30,55"), encoding="utf-8")
    assert "missing part" not in steelyard("score", files["f"], catalogue).stdout
    assert json.loads(steelyard("check", files["f"], catalogue, "--json").stdout)["first_places"] == []


def test_flip_says_what_the_missing_reading_would_have_to_be(steelyard: Any, files: dict[str, str]) -> None:
    """A-02 catches A-01 where that reads 35.333 dB or more."""
    printed = " ".join(steelyard("flip", files["f"], files["c"], "A-01", "A-02").stdout.split())
    assert "A-01 reads 35.333 dB or more for noise, which is missing" in printed
