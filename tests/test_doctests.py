"""The examples in docstrings are true: each is run as it stands, beside the README's own beds.yaml and beds.csv."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path
from types import ModuleType

import pandas as pd
import pytest
from from_readme import write_beds

ROOT = Path(__file__).parents[1]
LEAST_DOCSTRINGS = 20
LAXLY = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def has_examples(path: Path) -> bool:
    """Whether a module's text shows a prompt."""
    return ">>>" in path.read_text(encoding="utf-8")


MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for room in ("scoring", "analysis")
    for path in sorted((ROOT / room).rglob("*.py"))
    if has_examples(path)
]


def examples_of(module: ModuleType) -> list[doctest.DocTest]:
    """The docstrings of a module that hold examples."""
    return [found for found in doctest.DocTestFinder().find(module) if found.examples]


@pytest.mark.parametrize("name", MODULES)
def test_every_example_is_true(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What an example prints is what its docstring says, in a folder that holds the README's two files."""
    write_beds(tmp_path)
    monkeypatch.chdir(tmp_path)
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=LAXLY)
    with pd.option_context("display.width", 200, "display.max_columns", 20):
        results = [runner.run(found, out=said.append) for found in examples_of(importlib.import_module(name))]
    assert "".join(said) == ""
    assert sum(result.attempted for result in results) > 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["beds.csv", "beds.yaml"]


def test_no_example_is_passed_over() -> None:
    """The finder sees every prompt that stands in the modules, and there are examples where they help most."""
    found = {name: examples_of(importlib.import_module(name)) for name in MODULES}
    for name, tests in found.items():
        path = Path(importlib.import_module(name).__file__ or "")
        prompts = sum(line.lstrip().startswith(">>> ") for line in path.read_text(encoding="utf-8").splitlines())
        assert sum(len(test.examples) for test in tests) == prompts, name
    assert sum(len(tests) for tests in found.values()) >= LEAST_DOCSTRINGS
