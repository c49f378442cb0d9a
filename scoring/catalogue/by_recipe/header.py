"""Names in the headers that laboratories write: `(unit)`, `[unit]` and `#n` wherever they stand, on several rows and lines."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import zip_longest

from scoring.catalogue.cells import Fault, text_of
from scoring.catalogue.column_names import ColumnName
from scoring.units.in_name import unit_in_parentheses

_REPEAT = re.compile(r"#\s*([0-9]{1,4})(?![0-9])")
_SQUARE = re.compile(r"\[([^\[\]]*)\]")
#: Units that are no words, and need no brackets: `Rebound %`. In letters alone a unit may be a word: `Noise min`.
_SIGN = re.compile(r"(?<=\w)[\s,]+(%|°[CF])(?=\s|$)")
#: A name that only says which repeat a column holds.
_NUMBERS_REPEAT = re.compile(r"(?:run|rep\.?|repeat|reading|trial|no\.?)?\s*#?\s*[0-9]{1,2}", re.IGNORECASE)
#: What is left at the edges of a name when unit and repeat are taken out of it.
_EDGES = " ,;:_-"


def one_line(text: str) -> str:
    """A text with one blank for every run of blanks and line breaks, special ones too."""
    return " ".join(text.split())


def header_text(cell: object) -> str:
    """What a cell of the header says, on one line."""
    return "" if isinstance(cell, Fault) else one_line(text_of(cell))


def header_name(text: str) -> ColumnName:
    """A column's name without its unit and its repeat, wherever these stand, and both.

    Examples
    --------
    >>> header_name("Noise #2 (dB)")
    ColumnName(name='Noise', unit='dB', repeat=2, is_sound=True)
    >>> header_name("Edge [in], front").name, header_name("Edge (front)").name
    ('Edge, front', 'Edge (front)')
    >>> header_name("Rebound %").unit
    '%'
    """
    bare, repeats, units = one_line(text), _REPEAT.findall(text), _SQUARE.findall(text)
    bare = _SQUARE.sub(" ", _REPEAT.sub(" ", bare))
    if not units:
        bare, unit = unit_in_parentheses(one_line(bare))
        units = [unit] if unit else _SIGN.findall(bare)
        bare = bare if unit else _SIGN.sub("", bare)
    name = one_line(bare).replace(" ,", ",").strip(_EDGES)
    sound = len(repeats) < 2 and len(units) < 2
    stated = units[0].strip() if units else ""
    return ColumnName(name or one_line(text), stated or None, int(repeats[0]) if repeats else None, sound)


def read_together(rows: Sequence[Sequence[object]]) -> list[str]:
    """The names that several rows of a header make together, the upper one's words first.

    In an upper row, an empty cell means what stands to its left, as in merged cells; but only above a name, and never a cell
    with nothing below it, which is a whole name by itself.

    Examples
    --------
    >>> read_together([["Bed", "Noise (dB)", "", "", "Edge", ""], ["", "#1", "#2", "Maker", "front", "side"]])
    ['Bed', 'Noise (dB) #1', 'Noise (dB) #2', 'Maker', 'Edge front', 'Edge side']
    """
    texts = [[header_text(cell) for cell in row] for row in rows]
    below = texts[-1]
    for upper in reversed(texts[:-1]):
        below = [" ".join(filter(None, pair)) for pair in zip(*_spread(upper, below), strict=True)]
    return below


def _spread(upper: Sequence[str], below: Sequence[str]) -> tuple[list[str], list[str]]:
    """Both rows equally long, the headings of the upper one over all the names that they stand above.

    A heading whose first name only numbers a repeat (`#1`, `run 1`) goes on over such alone: what comes next is another column.
    """
    pairs = list(zip_longest(upper, below, fillvalue=""))
    spread, heading, over_repeats = [], "", False
    for own, name in pairs:
        numbers_repeat = _NUMBERS_REPEAT.fullmatch(name) is not None
        if own:
            heading, over_repeats = own if name else "", numbers_repeat
        elif not name or (over_repeats and not numbers_repeat):
            heading = ""
        spread.append(own or heading)
    return spread, [name for _, name in pairs]
