"""`steelyard check --repeatability`: how closely repeats agree, as tables and as a document, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest


def document_of(steelyard: Any, *arguments: object) -> dict[str, Any]:
    """The JSON document, which stands alone on standard output."""
    result = steelyard("check", *arguments, "--repeatability", "--json")
    assert (result.exit_code, result.stderr) == (0, ""), result.output
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_the_laboratorys_wild_reading_stands_out(steelyard: Any, laboratory: Path) -> None:
    """The generator put one wild noise reading into QB-009's third repeat: it heads the outliers; nothing is set aside."""
    result = steelyard("check", laboratory / "guest-bed.yaml", laboratory, "--repeatability")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].startswith("How closely repeats agree")
    first = next(line for line in lines if line.split()[:1] == ["outlier"])
    assert first.split()[:3] == ["outlier", "noise_dba", "QB-009"]
    assert any(line.startswith("noise_dba: the declared 1.2 dB lies below the 95 % interval") for line in lines)
    assert any(line.startswith("Nothing is set aside by itself.") for line in lines)


def test_the_document_says_what_the_tables_say(steelyard: Any, laboratory: Path) -> None:
    """Measure by measure: s_r with its interval as printed, and whether the declared value is inside."""
    formula = laboratory / "guest-bed.yaml"
    document = document_of(steelyard, formula, laboratory)
    said = steelyard("check", formula, laboratory, "--repeatability").stdout
    outside = [name for name, one in document["measures"].items() if one["declared_inside"] is False]
    assert outside == ["heat_flux_w_m2", "noise_dba"]
    for name, one in document["measures"].items():
        row = next(line.split() for line in said.splitlines() if line.split()[:1] == [name])
        shown = f"{100 * one['sd']:.3g}" if one["is_share"] else f"{one['sd']:.3g}"
        assert shown in row, (name, row)
        assert one["low"] < one["sd"] < one["high"]
    assert document["catalogue"]["products"] == 60


def test_repeats_worked_by_hand(steelyard: Any, small: Path) -> None:
    """A-01 read 31, 32, 33 and A-02 22, 22, 22: s_r = sqrt((1 + 0) / 2) on 4 degrees of freedom; sit_drop is read once."""
    document = document_of(steelyard, small / "beds.yaml", small / "beds.csv")
    noise, drop = document["measures"]["noise"], document["measures"]["sit_drop"]
    assert noise["sd"] == pytest.approx(np.sqrt(0.5))
    assert noise["freedom"] == 4
    assert (drop["sd"], drop["freedom"]) == (None, 0)
    assert any("nothing was read twice" in note for note in drop["notes"])


def test_repeats_that_are_all_equal_are_no_fault(steelyard: Any, small: Path) -> None:
    """No scatter at all: s_r is 0, and what is said does not divide by it."""
    (small / "beds.csv").write_text(
        "product,noise #1,noise #2,sit_drop\nA-01,31,31,60\nA-02,22,22,120\n", encoding="utf-8"
    )
    assert document_of(steelyard, small / "beds.yaml", small / "beds.csv")["measures"]["noise"]["sd"] == 0
    result = steelyard("check", small / "beds.yaml", small / "beds.csv", "--repeatability")
    assert result.exit_code == 0
    assert "noise: rests on 2 degrees of freedom only." in result.stdout
    assert "nan" not in result.stdout


def test_settings_are_honoured(steelyard: Any, small: Path) -> None:
    """Another declared repeatability is held against the same repeats."""
    arguments = (small / "beds.yaml", small / "beds.csv")
    plain, tried = (
        document_of(steelyard, *arguments, *more) for more in ((), ("--set", "measures.noise.repeatability=9"))
    )
    assert (plain["measures"]["noise"]["declared"], plain["measures"]["noise"]["declared_inside"]) == (1.2, True)
    assert (tried["measures"]["noise"]["declared"], tried["measures"]["noise"]["declared_inside"]) == (9, False)


@pytest.mark.parametrize("more", [(), ("--json",)], ids=["text", "json"])
def test_without_a_catalogue_there_is_nothing_to_look_at(steelyard: Any, small: Path, more: tuple[str, ...]) -> None:
    """Exit 2, one line, nothing on standard output."""
    result = steelyard("check", small / "beds.yaml", "--repeatability", *more)
    assert (result.exit_code, result.stdout) == (2, "")
    assert (
        result.stderr
        == "--repeatability: no catalogue; expected a CATALOGUE whose repeats are looked at.\n1 problem; nothing was done.\n"
    )


def test_a_faulty_catalogue_is_refused(steelyard: Any, small: Path) -> None:
    """With its row and column, as in every command."""
    (small / "beds.csv").write_text("product,noise,sit_drop\nA-01,3l,60\n", encoding="utf-8")
    result = steelyard("check", small / "beds.yaml", small / "beds.csv", "--repeatability")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "row 2, column noise" in result.stderr


def test_hostile_names_are_only_names(steelyard: Any, small: Path) -> None:
    """A wild repeat of a product called like markup is named as it is called."""
    rows = [f"A-{number:02},{30 + number},{30.2 + number},{29.9 + number},60" for number in range(20)]
    wild = '"[bold red]=1+1[/]",30,30.1,55,60'
    text = "\n".join(["product,noise #1,noise #2,noise #3,sit_drop", *rows, wild]) + "\n"
    (small / "beds.csv").write_text(text, encoding="utf-8")
    result = steelyard("check", small / "beds.yaml", small / "beds.csv", "--repeatability")
    assert result.exit_code == 0
    assert "[bold red]=1+1[/]" in result.stdout
