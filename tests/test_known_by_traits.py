"""No study, check or face knows a curve or a blend by name: a walk over every module outside the two folders that hold them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from test_layers import MODULES, ROOT

from scoring.blends import BLENDS
from scoring.curves import KINDS

FOLDERS = ("scoring/curves", "scoring/blends")
NAMES = frozenset(KINDS) | frozenset(BLENDS)
#: What may be imported from the folders: tables, the class that all of a folder are of, and what holds for all of them.
SHARED = frozenset(
    {"scoring.curves", "scoring.curves.kind", "scoring.blends", "scoring.blends.blend", "scoring.blends.intervals"}
)
#: Names that are words of their own. They may stand anywhere but where a curve or a blend is asked for its name.
WORDS = {
    "line": "of a text",
    "log": "a function of expressions, and of an axis",
    "maximum": "an array function, a statistic, a word of JSON Schema",
    "minimum": "an array function, a statistic, a word of JSON Schema",
    "points": "the unit of ratings",
    "power": "of a unit",
    "product": "what a catalogue lists",
    "ratio": "the correlation ratio",
    "steps": "of the arithmetic; the claim that a table has no gap",
    "sum": "what is written a + b",
}
#: What else is the name of one, and why it may stand there.
REMAINS = {
    ("analysis/draft/table_extent.py", "target"): "a word that heads a bench's row of targets",
    ("analysis/importance/report.py", "weighted mean"): "the heading over the mean of the parts, whatever blends them",
    ("analysis/selftest/ranking_cases.py", "z"): "a measure of an invented catalogue",
    ("analysis/selftest/weights_cases.py", "z"): "a measure of an invented catalogue",
    ("scoring/program/operators.py", "minimum, maximum"): "statistics of a population, by what the kernel calls them",
}
#: What a side of a comparison, or what is matched or looked up, says where it is about the name of a curve or a blend.
ASKED = re.compile(r"\b(blends?|curves?|kinds?)\b", re.IGNORECASE)


def outside() -> list[Path]:
    """Every module of both packages that is in neither folder."""
    return [path for path in MODULES if not path.relative_to(ROOT).as_posix().startswith(FOLDERS)]


def names_in(node: ast.AST) -> list[str]:
    """The names of curves and blends that are written in an expression as strings of their own."""
    texts = (one.value for one in ast.walk(node) if isinstance(one, ast.Constant))
    return [text for text in texts if isinstance(text, str) and text in NAMES]


def collection(node: ast.expr | None) -> list[str]:
    """The strings of a written collection, a mapping's keys; none where anything else is in it, or less than two."""
    if isinstance(node, ast.Call) and len(node.args) == 1 and not node.keywords:
        node = node.args[0]
    items = node.keys if isinstance(node, ast.Dict) else getattr(node, "elts", [])
    texts = [item.value for item in items if isinstance(item, ast.Constant) and isinstance(item.value, str)]
    return texts if len(texts) == len(items) > 1 else []


def asked_for(tree: ast.Module) -> Iterator[str]:
    """Names where a curve or a blend is asked for its own: in comparisons, matches and look-ups, and collections of names."""
    for node in ast.walk(tree):
        match node:
            case ast.Compare(left=left, comparators=others):
                sides = [left, *others]
                if any(ASKED.search(ast.unparse(side)) for side in sides if not names_in(side)):
                    yield from (name for side in sides for name in names_in(side))
            case ast.Match(subject=subject, cases=cases) if ASKED.search(ast.unparse(subject)):
                yield from (name for case in cases for name in names_in(case.pattern))
            case ast.Subscript(value=value, slice=index):
                if ASKED.search(ast.unparse(value)) or ASKED.search(ast.unparse(index)):
                    yield from (*names_in(index), *(names_in(value) if isinstance(value, ast.Dict) else ()))
            case ast.Assign(value=value) | ast.AnnAssign(value=value):
                texts = collection(value)
                if texts and set(texts) <= NAMES:
                    yield ", ".join(texts)


def met(tree: ast.Module) -> set[str]:
    """Every name of a curve or blend that a module has no business to write, the words of `WORDS` only where it asks."""
    return {name for name in names_in(tree) if name not in WORDS} | set(asked_for(tree))


def taken(tree: ast.Module) -> list[str]:
    """Modules of one curve or blend that are imported, and names of single ones that are taken from the folders."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names if alias.name.startswith(("scoring.curves", "scoring.blends"))]
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith(("scoring.curves", "scoring.blends")):
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found += names if node.module not in SHARED else [name for name in names if is_of_one(name)]
    return found


def is_of_one(name: str) -> bool:
    """Whether what is imported is a module, a kind or a class of a single curve or blend."""
    folder, _, last = name.rpartition(".")
    singles = {kind.name.upper() for kind in KINDS.values()} | {blend.__name__ for blend in BLENDS.values()}
    modules = {path.stem for at in FOLDERS for path in (ROOT / at).glob("*.py")} - {"__init__", "blend"}
    return last in singles or (
        folder in ("scoring.curves", "scoring.blends") and last in modules - {"kind", "intervals"}
    )


def test_no_module_outside_writes_the_name_of_a_curve_or_a_blend() -> None:
    """Save what is listed with its reason; and what is listed stands there still."""
    found = {
        (path.relative_to(ROOT).as_posix(), name)
        for path in outside()
        for name in met(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == set(REMAINS)


def test_no_module_outside_imports_one_curve_or_one_blend() -> None:
    """They are reached through the tables alone."""
    found = {
        path.relative_to(ROOT).as_posix(): taken(ast.parse(path.read_text(encoding="utf-8"))) for path in outside()
    }
    assert {path: names for path, names in found.items() if names} == {}


def test_every_word_that_is_a_name_by_chance_is_a_name() -> None:
    """A word whose curve or blend is gone need not be looked out for."""
    assert set(WORDS) <= NAMES


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ('if curve.kind == "steps": pass', {"steps"}),
        ('if curve.kind in ("z", "ratio"): pass', {"z", "ratio"}),
        ('if "sum" != output.blend.value: pass', {"sum"}),
        ('EXTREMES = ("minimum", "maximum")', {"minimum, maximum"}),
        ('EXTREMES: frozenset[str] = frozenset({"maximum", "minimum"})', {"maximum, minimum"}),
        ('says = {"line": 1, "log": 2}[curve.kind]', {"line", "log"}),
        ('example = KINDS["log"].example', {"log"}),
        ('match output.blend.value:\n    case "sum" | "product": pass', {"sum", "product"}),
        ('fallback = "weighted mean"', {"weighted mean"}),
        ('headers = ["product", "place"]', set()),
        ('unit = "points"', set()),
        ('if step.what == "line": pass', set()),
    ],
)
def test_what_is_looked_for_is_found(text: str, names: set[str]) -> None:
    """As it stood in studies and checks once, and as it may stand."""
    assert met(ast.parse(text)) == names


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("from scoring.curves.steps import Steps", ["scoring.curves.steps.Steps"]),
        ("from scoring.blends.means import WeightedMean", ["scoring.blends.means.WeightedMean"]),
        ("from scoring.blends import WeightedSum", ["scoring.blends.WeightedSum"]),
        ("from scoring.curves import LOG", ["scoring.curves.LOG"]),
        ("from scoring.curves import steps", ["scoring.curves.steps"]),
        ("import scoring.curves.steps", ["scoring.curves.steps"]),
        ("from scoring.curves import KINDS, CurveKind", []),
        ("from scoring.blends import BLENDS, Blend, Weights, blend, blend_of", []),
        ("from scoring.blends.intervals import sum_of", []),
    ],
)
def test_what_is_taken_from_the_folders_is_found(text: str, found: list[str]) -> None:
    """The module, the kind and the class of a single one, however they are reached."""
    assert taken(ast.parse(text)) == found
