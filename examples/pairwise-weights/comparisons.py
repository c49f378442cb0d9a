"""Comparisons of the parts of a score, read from a file: every fault with its line and column."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path

from scoring.errors import FormulaError, Place, Problem, nearest
from scoring.form import Form, Output
from scoring.reader.fields import Reader
from scoring.reader.wording import clip, describe
from scoring.texts.document import Mapping, Node, Scalar, read_document

KEYS = ("formula", "score", "note", "judgements")
PAIR = re.compile(r"(\w+)\s+over\s+(\w+)")
STRENGTH = re.compile(r"\d{1,2}(\.\d{1,6})?|[1-9]/[1-9]")
LEAST, MOST = Fraction(1, 9), Fraction(9)
#: As far as the sources of the random index agree; see README.md.
MOST_PARTS = 9


@dataclass(frozen=True, slots=True)
class Judgement:
    """The first part matters `strength` times as much as the second."""

    first: str
    second: str
    strength: Fraction

    def __str__(self) -> str:
        strength = self.strength
        plain = strength.denominator == 1 or strength.numerator < 10 > strength.denominator
        return f"{self.first} over {self.second}: {strength if plain else f'{float(strength):g}'}"


@dataclass(frozen=True, slots=True)
class Comparisons:
    """A score, and a judgement for each pair of its parts, in the order written."""

    score: Output
    judgements: tuple[Judgement, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        """The parts, in the score's own order."""
        return tuple(part.source for part in self.score.parts)


def read_comparisons(path: Path, form: Form) -> Comparisons:
    """The comparisons written in a file, for a score of a formula.

    Raises
    ------
    FormulaError
        Every fault of the file, each with its line and column.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, ValueError) as fault:
        why = "not UTF-8 text" if isinstance(fault, UnicodeDecodeError) else getattr(fault, "strerror", None)
        raise FormulaError([Problem(Place(str(path)), why or "no such path", "a file of comparisons")]) from None
    problems: list[Problem] = []
    reader = Reader(0, problems)
    try:
        score, node = _score_and_judgements(reader, read_document(text, str(path)), form)
    except FormulaError as fault:
        raise FormulaError(_of_comparisons(problem) for problem in fault.problems) from None
    judgements = tuple(_judgements(reader, score, node)) if score is not None and node is not None else ()
    if problems or score is None:
        raise FormulaError(sorted(dict.fromkeys(problems), key=lambda problem: problem.place))
    return Comparisons(score, judgements)


def _of_comparisons(problem: Problem) -> Problem:
    """What the reader of documents says of an empty file, said of comparisons."""
    return replace(problem, expected="comparisons") if problem.found == "an empty file" else problem


def _score_and_judgements(reader: Reader, root: Node, form: Form) -> tuple[Output | None, Node | None]:
    fields = reader.fields(root, "the comparisons", KEYS, "comparisons")
    if fields is None:
        return None, None
    named, score, judgements = fields.required("formula"), fields.required("score"), fields.required("judgements")
    if named is not None and reader.text(named, "formula") != form.name:
        expected = f"the formula they are run with, `{form.name}`"
        reader.fault(named.place, f"comparisons for {describe(named)}", expected)
    return (_score(reader, score, form) if score is not None else None), judgements


def _score(reader: Reader, node: Node, form: Form) -> Output | None:
    scores = {score.name: score for score in form.scores}
    name = reader.text(node, "score")
    if name not in scores:
        reader.fault(node.place, describe(node), "a score of the formula", nearest(name, scores))
        return None
    weighted = [part for part in scores[name].parts if part.weight is not None]
    if not 2 <= len(weighted) <= MOST_PARTS:
        expected = f"a score of 2 to {MOST_PARTS}"
        hint = "Compare groups of parts first, then the parts within each." if weighted else ""
        reader.fault(node.place, f"`{name}`, which has {len(weighted)} weighted parts", expected, hint)
        return None
    return scores[name]


def _judgements(reader: Reader, score: Output, node: Node) -> Iterator[Judgement]:
    """Every judgement that can be read; each pair that is there twice or not at all is a fault."""
    if not isinstance(node, Mapping):
        reader.fault(node.place, describe(node), "judgements as `A over B: 3`, one a line")
        return
    parts = [part.source for part in score.parts]
    first_said: dict[frozenset[str], int] = {}
    for key, value in node.entries:
        pair = _pair(reader, key, parts)
        if pair is None:
            continue
        if frozenset(pair) in first_said:
            found = f"`{clip(key.text)}`, a pair compared before (in line {first_said[frozenset(pair)]})"
            reader.fault(key.place, found, "each pair once", "Drop one of the two; the reciprocal is understood.")
        first_said.setdefault(frozenset(pair), key.place.line)
        strength = _strength(reader, key, value)
        if strength is not None:
            yield Judgement(*pair, strength)
    for first, second in combinations(parts, 2):
        if frozenset((first, second)) not in first_said:
            reader.fault(node.place, f"no comparison of `{first}` and `{second}`", f"`{first} over {second}: ...`")


def _pair(reader: Reader, key: Scalar, parts: Sequence[str]) -> tuple[str, str] | None:
    written = PAIR.fullmatch(key.text.strip())
    if written is None:
        reader.fault(key.place, f"`{clip(key.text)}`", "two parts, as `A over B`")
        return None
    first, second = written.groups()
    unknown = [name for name in (first, second) if name not in parts]
    for name in unknown:
        reader.fault(key.place, f"`{clip(name)}`", "a part of the score", nearest(name, parts))
    if first == second and not unknown:
        reader.fault(key.place, f"`{clip(key.text)}`", "two different parts")
    return None if unknown or first == second else (first, second)


def _strength(reader: Reader, key: Scalar, value: Node) -> Fraction | None:
    expected = "a number from 1/9 to 9"
    text = value.text.strip() if isinstance(value, Scalar) else ""
    if not STRENGTH.fullmatch(text):
        hint = "Write it as 3, 2.5 or 1/3."
        reader.fault(value.place, f"{describe(value)} for `{clip(key.text)}`", expected, hint)
        return None
    strength = Fraction(text)
    if LEAST <= strength <= MOST:
        return strength
    reader.fault(value.place, f"{text} for `{clip(key.text)}`", expected)
    return None
