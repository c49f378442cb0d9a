"""What is said of studies elsewhere: every example on the page is read, and every study that is kept fits the schema."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from from_readme import block, guide
from written_studies import demo, draws_of, refusal, shape_faults, yaml_of

from analysis.study import Study
from analysis.study.distributions import AT, DISTRIBUTIONS
from analysis.study.items import ITEMS, item_keys
from analysis.study.items.address import HOWS
from analysis.study.keys import Figures, Law
from analysis.study.reader import CORRELATION_KEYS, STUDY_KEYS, read_study
from analysis.study.study_reference import study_schema, study_section
from analysis.study.weight_rules import WEIGHT_RULES
from scoring.declaration import Key
from scoring.units.role import UnitRole

ROOT = Path(__file__).resolve().parents[2]
SECTION = "\n\n".join(study_section())
EXAMPLES = list(dict.fromkeys(re.findall(r"For example\s+`([^`]+)`", SECTION)))
STUDIES = sorted([*ROOT.glob("examples/**/study*.yaml"), *ROOT.glob("formulas/**/study*.yaml")])
VARY = "vary:\n  - {weights: two_abed, factor: [0.7, 1.3]}\n"


@cache
def laboratory() -> Any:
    """The laboratory's formula and readings, once."""
    return demo()


def text_of(example: str) -> str:
    """A study with one example in its place."""
    if "correlation: " in example and not example.startswith("correlations"):
        return f"study: s\n{VARY}correlations:\n  - {example}\n"
    if example.startswith("{"):
        return f"study: s\nvary:\n  - {example}\n"
    key = example.partition(":")[0]
    first = "" if key == "study" else "study: s\n"
    return f"{first}{example}\n{'' if key == 'vary' else VARY}"


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_is_a_study_of_the_laboratory(example: str) -> None:
    """By the reader, and by the printed schema."""
    text = text_of(example)
    study = read_study(text, "study.yaml", *laboratory())
    assert isinstance(study, Study)
    assert study.moves
    assert shape_faults(text) == []


def test_every_key_stands_on_the_page_with_an_example() -> None:
    """Of the file, of items, of rules and distributions, of mappings in these, of correlations."""
    inner = ("mean", "sd", "median", "factor")
    known = [*STUDY_KEYS, *item_keys(), *inner, *CORRELATION_KEYS]
    assert [key for key in known if f"**`{key}`**" not in SECTION] == []
    assert SECTION.count("For example") == SECTION.count("- **`")


def test_the_tables_are_told_in_full() -> None:
    """A kind of item, a rule or a distribution that is declared is read, and stands in the schema."""
    schema = study_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert [one["$ref"] for one in schema["$defs"]["item"]["oneOf"]] == [f"#/$defs/{subject}" for subject in ITEMS]
    assert schema["$defs"]["weights"]["oneOf"] == [{"required": [rule]} for rule in WEIGHT_RULES]
    assert schema["$defs"]["address"]["oneOf"] == [{"required": [how]} for how in (*DISTRIBUTIONS, "choose")]
    assert list(HOWS) == [*DISTRIBUTIONS, "choose"]


@dataclass(frozen=True)
class Ends:
    """Either end, alike: a distribution that the product does not have."""

    low: float
    high: float
    says = "one end or the other"

    @property
    def sd(self) -> float:
        return (self.high - self.low) / 2

    @property
    def ends(self) -> tuple[float, ...]:
        return self.low, self.high

    def values(self, unit: Any) -> Any:
        return np.where(unit < 0.5, self.low, self.high)


def test_a_new_distribution_is_one_declaration(monkeypatch: pytest.MonkeyPatch) -> None:
    """Declared, and nothing else: it is read, drawn, refused where it is faulty, in the schema and on the page."""
    kind = Figures(("low", "high"), UnitRole.ALONG)
    key = Key(kind, "One end or the other, alike.", f"{{{AT}, ends: [4, 6]}}")
    law = Law(key, read=lambda item, _: Ends(*figures) if (figures := kind.read(item, "ends")) else None)
    for table in (DISTRIBUTIONS, HOWS):
        monkeypatch.setitem(table, "ends", law)
    text = text_of(key.example)
    study = read_study(text, "study.yaml", *laboratory())
    (values,) = study.setting(draws_of(study, 50)).numbers.values()
    assert set(values) == {4.0, 6.0}
    (said,) = refusal(text.replace("[4, 6]", "[6, 4]"), *laboratory())
    assert said.endswith("vary.1.ends of 6, 4; expected rising figures.")
    assert jsonschema.Draft202012Validator(study_schema()).is_valid(yaml_of(text))
    assert f"For example `{key.example}`" in "\n".join(study_section())


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.parent.name)
def test_every_study_that_is_kept_fits_the_schema(path: Path) -> None:
    """In the examples, and beside published formulas."""
    assert shape_faults(path.read_text(encoding="utf-8")) == []


def test_there_are_studies_to_look_at() -> None:
    """The laboratory's own, and that of the pairwise comparisons."""
    assert {path.parent.name for path in STUDIES} >= {"laboratory", "pairwise-weights"}


def test_the_study_in_the_guide_is_one() -> None:
    """As it is printed there, with the laboratory."""
    text = block("yaml", "study: ", guide("studies"))
    assert read_study(text, "study.yaml", *laboratory()).moves
    assert shape_faults(text) == []
