"""The shelf of published formulas: every printed figure, worked by the real command from the readings beside it."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

PUBLISHED = Path(__file__).resolve().parents[2] / "formulas" / "published"
SHELF = YAML(typ="safe").load((PUBLISHED / "cases" / "shelf.yaml").read_text(encoding="utf-8"))["shelf"]
#: How many figures each line holds the command to; a file that loses its rows is noticed.
FIGURES = {
    "Decathlon, whole results": 33,
    "Decathlon, single marks": 16,
    "Decathlon, Decastar 2004": 26,
    "Decathlon, Olympic Games 2004": 56,
    "Human Development Index of 2022": 2 * 193,
    "Air Quality Index, tables of 1999": 3,
    "Air Quality Index, tables of 2012": 1,
    "Air Quality Index, tables of 2024": 22,
    "Technology Achievement Index, five sets of weights and blends": 5 * 23 + 22,
    "Eleven normalisations of mean years of schooling": 11 * 23,
    "Predicted mean vote and percentage dissatisfied, from six readings": 2 * 20,
    "Percentage dissatisfied, from the vote": 20,
    "Desirability of several responses": 4,
    "Energy sum of two sound levels": 5,
    "Loudness in sones": 4,
    "Coefficient of restitution": 1,
    "Weighted metabolic rate": 2,
    "Repeatability limit": 1,
}


def test_every_formula_stands_on_the_shelf() -> None:
    """None lies beside it unproved, and the table of counts above misses no line."""
    assert {line["formula"] for line in SHELF} == {path.name for path in PUBLISHED.glob("*.yaml")}
    for folder in ("cases", "data"):
        kind = "cases" if folder == "cases" else "readings"
        assert {line[kind] for line in SHELF} == {f"{folder}/{p.name}" for p in (PUBLISHED / folder).glob("*.csv")}
    assert [line["what"] for line in SHELF] == list(FIGURES)


@pytest.mark.parametrize("line", SHELF, ids=lambda line: line["what"])
def test_what_was_published_comes_out(line: dict[str, Any], score: Callable[..., dict[str, Any]]) -> None:
    """Shown figures and places equal, values as near as printed; the listed exceptions, and no others, differ."""
    products = {p["id"]: p for p in score(PUBLISHED / line["formula"], PUBLISHED / line["readings"])["products"]}
    listed = {(name, one["figure"]) for one in line.get("exceptions", ()) for name in one["products"]}
    differing, seen = set(), 0
    with (PUBLISHED / line["cases"]).open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            for figure, printed in row.items():
                if not printed or not figure.startswith(("scores.", "ratings.")):
                    continue
                seen += 1
                section, name, kind = figure.split(".")
                ours = products[row["id"]][section][name][kind]
                if ours != pytest.approx(float(printed), abs=float(line.get("within", {}).get(figure, 0)), rel=1e-12):
                    differing.add((row["id"], figure))
    assert differing == listed
    assert seen == FIGURES[line["what"]]


@pytest.mark.parametrize("line", SHELF, ids=lambda line: line["what"])
def test_every_case_says_where_it_was_read(line: dict[str, Any]) -> None:
    """Each line, or each of its rows, says `read`, `from memory` or `worked out`; each nearness and exception, why."""
    with (PUBLISHED / line["cases"]).open(encoding="utf-8", newline="") as stream:
        sources = [row.get("source") or line["source"] for row in csv.DictReader(stream)]
    assert [s for s in sources if not re.search(r"\bread\b|from memory|worked out", s)] == []
    assert ("within" in line) == ("why" in line)
    assert all(len(one["because"]) > 20 for one in line.get("exceptions", ()))
