"""Moves answer for themselves: nothing asks of which class one is, and each says what it is asked."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from written_studies import catalogue_of, form_of, study_of

from analysis.study.study import Move, Study

ROOT = Path(__file__).parents[2]
MODULES = sorted(path for room in ("scoring", "analysis") for path in (ROOT / room).rglob("*.py"))
FORM = """\
formula: trial
scale: {from: 0, to: 100}
measures:
  x: {unit: "1", better: higher, repeatability: {standard_deviation: 2, degrees_of_freedom: 6}, between_sessions: 1}
  y: {unit: "1", better: higher, repeatability: 1}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b: {measure: y, curve: {line: {worst: 0, best: 100}}}
  c: {measure: x, curve: {line: {worst: 90, best: 0}}}
scores:
  s: {blend: weighted mean, weights: {a: 3, b: 1, c: 3}}
"""


def moves_of(tree: ast.Module) -> Iterator[str]:
    """The classes of moves that a module makes."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef) and any(isinstance(b, ast.Name) and b.id == "Move" for b in node.bases):
            yield node.name


def asked(tree: ast.Module, classes: set[str]) -> Iterator[int]:
    """The lines at which a module asks whether something is of a class: by a call, a pattern or its type."""
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in ("isinstance", "issubclass")
        ):
            about: list[ast.AST] = [node.args[1]]
        elif isinstance(node, ast.MatchClass):
            about = [node.cls]
        elif isinstance(node, ast.Compare) and any(
            isinstance(side, ast.Call) and isinstance(side.func, ast.Name) and side.func.id == "type"
            for side in (node.left, *node.comparators)
        ):
            about = [node]
        else:
            continue
        names = {name.id for one in about for name in ast.walk(one) if isinstance(name, ast.Name)}
        if names & classes:
            yield node.lineno


@pytest.fixture(scope="module")
def trees() -> dict[Path, ast.Module]:
    """Every module, read."""
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in MODULES}


@pytest.fixture(scope="module")
def classes(trees: dict[Path, ast.Module]) -> set[str]:
    """What a move may be of."""
    return {"Move"} | {name for tree in trees.values() for name in moves_of(tree)}


def test_no_module_asks_which_move_it_has(trees: dict[Path, ast.Module], classes: set[str]) -> None:
    """What a study needs to know of a move is a question that `Move` declares."""
    assert len(classes) >= 8
    assert {
        str(path.relative_to(ROOT)): lines for path, tree in trees.items() if (lines := list(asked(tree, classes)))
    } == {}


@pytest.mark.parametrize(
    "text",
    [
        "isinstance(one, NoiseMove | UnreadMove)",
        "any(isinstance(m, (int, NoiseMove)) for m in found)",
        "type(move) is NoiseMove",
        "match move:\n    case NoiseMove(): pass",
    ],
)
def test_asking_would_be_found(classes: set[str], text: str) -> None:
    """In each way in which it can be written."""
    assert list(asked(ast.parse(text), classes))


def study() -> Study:
    """One move of each kind that a file can ask for of this formula, readings by both ways apart."""
    form, catalogue = form_of(FORM), catalogue_of(x=[[30.0, 31.0], [50.0, 52.0]], y=[[20.0, 25.0], [60.0, 61.0]])
    lines = (
        "{weights: s, plus_minus: 0.3}",
        "{address: ratings.a.curve.line.best, choose: [90, 100]}",
        "{blend: s, choose: [weighted mean, minimum]}",
        "{leave_out: s}",
        "{readings: repeatability}",
    )
    found = study_of("\n".join(lines), form, catalogue)
    again = study_of("{readings: bootstrap}", form, catalogue)
    return found.of_moves((*found.moves, *again.moves))


def of(kind: str) -> Move:
    """The move that says so of its kind."""
    return next(move for move in study().moves if move.factors[0].kind == kind)


def test_a_move_says_what_it_writes() -> None:
    """Numbers that it sets, what it chooses among, and what nobody else may write at."""
    weights = tuple(f"scores.s.weights.{part}" for part in "abc")
    assert of("weights").numbers == weights
    assert of("part left out").numbers == weights
    assert of("weights").owns == frozenset(weights)
    assert of("part left out").owns == frozenset()
    assert of("choice of mean").options == ((), (("scores.s.blend", "minimum"),))
    assert of("choice of mean").owns == {"scores.s.blend"}
    assert of("bench noise").numbers == of("bench noise").options == ()


def test_a_move_says_what_goes_with_it() -> None:
    """A share of a seventh that moves by 0.3 may be 0, one of three sevenths not; a part is left out of s."""
    assert of("weights").may_be_nought == ("scores.s.weights.b",)
    assert [move.leaves_out for move in study().moves if move.leaves_out] == ["s"]
    assert [dict(move.ranges) for move in study().moves if move.ranges] == [
        {"ratings.a.curve.line.best": (90.0, 100.0)}
    ]


def test_a_move_says_what_it_does_to_readings() -> None:
    """Noise and resampled repeats are the bench's; noise alone has errors in common, and can be made of normal values."""
    noise, again = of("bench noise"), of("resampled repeats")
    assert [move for move in study().moves if move.is_bench] != []
    assert {move.factors[0].kind for move in study().moves if move.is_bench} == {"bench noise", "resampled repeats"}
    assert (noise.measures, again.measures) == (("x", "y"), ("x", "y"))
    assert (noise.resamples, again.resamples) == (False, True)
    assert (noise.shares_errors, again.shares_errors) == (True, False)
    assert noise.n_normals
    assert again.n_normals is None
    assert of("weights").n_normals == 0
    assert of("weights").with_stated_sizes() is not None
    assert noise.with_stated_sizes() is not noise
    assert again.with_stated_sizes() is again.without_component("systematic") is again
    assert not any(move.fills for move in study().moves)
