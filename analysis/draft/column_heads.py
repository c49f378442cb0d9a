"""What the names of columns say: words, a unit in any brackets anywhere, and which repeat."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.draft.header_marks import unit_in
from scoring.units.conversion import is_known
from scoring.units.in_name import BENCH_UNITS, words_and_unit

_BRACKETED = re.compile(r"\s*(?:\(\s*((?:[^()]|\([^()]*\))+?)\s*\)|\[\s*([^\[\]]+?)\s*\]|\{\s*([^{}]+?)\s*\})")
_NUMBERED = re.compile(r"\s*#\s*([0-9]{1,3})\b")
#: A repeat at the end of a name without `#`: `Noise 2`, `Noise run 2`, `Noise (2)`, `Noise_2`, `Edge B`.
_ENDS = re.compile(
    r"(?P<words>.*?[^\W\d_][.)\]]?)[\s,_/:-]*(?:(?:run|rep|repeat|reading|trial|r|no)\.?\s*)?[\s_(#-]*"
    r"(?P<mark>[0-9]{1,2}|(?<![A-Za-z])[A-D])\)?",
    re.IGNORECASE,
)
#: Money in a header, which is no unit of a bench.
MONEY = frozenset(["eur", "usd", "gbp", "chf", "sek", "nok", "dkk", "jpy", "cad", "aud", "€", "$", "£", "¥"])


@dataclass(frozen=True, slots=True)
class Head:
    """A column's name, taken apart.

    text : as it stands; words : without unit and repeat; unit : as it stands there; repeat : 0 where none is said
    by_rule : the rule of recipes takes it apart like this: unit in parentheses or brackets, repeat after `#`
    bracketed : the unit stands in square brackets, as the catalogue's own rule has it
    """

    text: str
    words: str
    unit: str = ""
    repeat: int = 0
    by_rule: bool = True
    bracketed: bool = False


def read_head(text: str) -> Head:
    """Take a column's name apart; a repeat that `#` does not mark is found by `repeats_told_apart`.

    Examples
    --------
    >>> head = read_head("Surface temp (°F) after 15 min #2")
    >>> head.words, head.unit, head.repeat, head.by_rule
    ('Surface temp after 15 min', '°F', 2, True)
    >>> read_head("Rebound %").words, read_head("Rebound %").by_rule, read_head("Edge (front)").words
    ('Rebound', False, 'Edge (front)')
    """
    repeat, words = 0, text
    numbered = _NUMBERED.search(text)
    if numbered:
        repeat, words = int(numbered[1]), text[: numbered.start()] + " " + text[numbered.end() :]
    for inside in _BRACKETED.finditer(words):
        said = next(part for part in inside.groups() if part)
        rest = words[: inside.start()] + " " + words[inside.end() :]
        is_level = words[: inside.start()].endswith("dB")
        if rest.strip() and not is_level and _is_unit(said):
            return Head(text, _tidy(rest), said, repeat, bracketed=inside[2] is not None, by_rule=inside[3] is None)
    bare, unit = words_and_unit(_tidy(words).replace(". ", " "))
    return Head(text, bare if unit else _tidy(words), unit, repeat, by_rule=not unit)


def _is_unit(text: str) -> bool:
    is_money = text.casefold() in MONEY
    return is_money or text in BENCH_UNITS or text == "-" or bool(unit_in(text)) or is_known(text)


def _tidy(words: str) -> str:
    return " ".join(words.split()).rstrip(" ,;:_-").strip()


def repeats_told_apart(heads: Sequence[Head]) -> list[Head]:
    """Names that end alike but for 1, 2, 3 or A, B, C are repeats of one measure.

    Only where there are two or more of them, with one unit, beginning with the first.
    """
    groups: dict[tuple[str, str], list[tuple[int, int, str]]] = {}
    for index, head in enumerate(heads):
        ends = _ENDS.fullmatch(head.words) if not head.repeat else None
        if ends:
            mark = ends["mark"]
            number = int(mark) if mark.isdigit() else ord(mark.upper()) - ord("A") + 1
            words = _tidy(ends["words"])
            groups.setdefault((words.casefold(), head.unit), []).append((number, index, words))
    told = list(heads)
    for found in groups.values():
        numbers = sorted(number for number, _, _ in found)
        if len(found) > 1 and numbers == list(range(1, len(found) + 1)):
            for number, index, words in found:
                bare, unit = words_and_unit(words) if not told[index].unit else (words, told[index].unit)
                told[index] = replace(told[index], words=bare, unit=unit, repeat=number, by_rule=False)
    return told
