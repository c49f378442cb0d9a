"""What a cell of an unknown table is likely to be: a number, a day, a word for what was not read, or any other text."""

from __future__ import annotations

import datetime
import decimal
import functools
import re
from enum import Enum

from scoring.units.in_name import BENCH_UNITS

_NUMBER = r"[+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?"
_PLAIN = re.compile(_NUMBER)
_BELOW = re.compile(rf"<\s*({_NUMBER})")
_WITH_UNIT = re.compile(rf"({_NUMBER})\s*([^\W\d_].{{0,11}}|[%°].{{0,3}})")
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DAY = re.compile(
    rf"[0-9]{{4}}[-/.][0-9]{{1,2}}[-/.][0-9]{{1,2}}.*|[0-9]{{1,2}}[./-][0-9]{{1,2}}[./-](?:[0-9]{{4}}|[0-9]{{2}})"
    rf"|[0-9]{{1,2}}\.?[ -]{_MONTH}(?:[ -][0-9]{{2,4}})?|{_MONTH} [0-9]{{1,2}}(?:,? [0-9]{{4}})?",
    re.IGNORECASE,
)


class Kind(Enum):
    """What a cell is likely to be."""

    BLANK = "blank"
    NUMBER = "number"
    BELOW = "below the reporting limit"
    DAY = "day"
    GAP = "a word for what was not read"
    TEXT = "text"


class Gap(Enum):
    """What a word for what was not read means; `AVAILABLE` and `DETECTED` may mean either of two things."""

    MISSING = "missing"
    APPLICABLE = "not applicable"
    BELOW = "below the reporting limit"
    AVAILABLE = "not available, or not applicable"
    DETECTED = "not determined, or not detected"


#: Words of benches and of spreadsheets. Common practice, no source.
_MISSING = (
    "- -- --- – — ? ?? ??? . .. ... x xx tbd tbc t.b.d. t.b.c. tba missing pending none null nil nan void lost open failed "
    "offen fehlt k.a. error err #n/a #value! #div/0! #ref! #num! #name? #null! blank skipped"
)
_MISSING_PHRASES = ("not read", "not measured", "not tested", "not yet", "no data", "no reading", "not done", "to do")
GAPS: dict[str, Gap] = {
    **dict.fromkeys((*_MISSING.split(), *_MISSING_PHRASES), Gap.MISSING),
    **dict.fromkeys(("n/a", "na", "n.a.", "n. a.", "n.a", "n / a", "n\\a"), Gap.AVAILABLE),
    **dict.fromkeys(("nd", "n.d.", "n.d", "n/d"), Gap.DETECTED),
    **dict.fromkeys(("not applicable", "not_applicable", "does not apply", "inapplicable"), Gap.APPLICABLE),
    **dict.fromkeys(("<lod", "< lod", "<loq", "< loq", "bdl", "b.d.l.", "bql", "below limit", "below lod"), Gap.BELOW),
    **dict.fromkeys(("not detected", "below detection", "<dl", "< dl", "<rl", "< rl"), Gap.BELOW),
}
#: What the catalogue's own grammar of cells takes without being told, with or without a reason; `n/a` alone, which it takes for
#: "not applicable", may mean something else on a bench.
_KNOWN_WORD = re.compile(
    r"(?:missing|not applicable|not_applicable)\s*(?::.*)?|n/a\s*:\s*\S.*", re.IGNORECASE | re.DOTALL
)


def kind_of(cell: object) -> Kind:
    """What a cell is likely to be; a text may have a decimal point or a comma."""
    if isinstance(cell, str):
        return kind_of_text(cell)
    if cell is None:
        return Kind.BLANK
    if isinstance(cell, datetime.date):
        return Kind.DAY
    is_number = isinstance(cell, int | float | decimal.Decimal) and not isinstance(cell, bool)
    return Kind.NUMBER if is_number else Kind.TEXT


@functools.lru_cache(maxsize=65536)
def kind_of_text(cell: str) -> Kind:
    """What a text is likely to be."""
    text = cell.strip()
    if not text:
        return Kind.BLANK
    if _PLAIN.fullmatch(text):
        return Kind.NUMBER
    if _BELOW.fullmatch(text):
        return Kind.BELOW
    if text.casefold() in GAPS or is_known_word(text):
        return Kind.GAP
    if unit_of(text):
        return Kind.NUMBER
    return Kind.DAY if _DAY.fullmatch(text) else Kind.TEXT


def number_of(cell: object) -> float | None:
    """The number that a cell holds, or None; a comma in a text is a decimal one."""
    if isinstance(cell, str):
        text = cell.strip()
        number = text if _PLAIN.fullmatch(text) else _beside_unit(text)
        return float(number.replace(",", ".")) if number else None
    return float(cell) if kind_of(cell) is Kind.NUMBER else None  # type: ignore[arg-type]


def unit_of(cell: object) -> str:
    """The unit that a cell states behind its number, as `31.5 dB`; "" where it states none that a bench has."""
    found = _WITH_UNIT.fullmatch(cell.strip()) if isinstance(cell, str) else None
    return found[2] if found and found[2] in BENCH_UNITS else ""


def _beside_unit(text: str) -> str:
    found = _WITH_UNIT.fullmatch(text)
    return found[1] if found and unit_of(text) else ""


def limit_of(cell: object) -> float | None:
    """The limit that a cell says a reading lies below, or None; a comma is a decimal one."""
    below = _BELOW.fullmatch(cell.strip()) if isinstance(cell, str) else None
    return float(below[1].replace(",", ".")) if below else None


def has_comma(cell: object) -> bool:
    """Whether a text is a number, or a limit, with a decimal comma."""
    return isinstance(cell, str) and "," in cell and kind_of_text(cell) in (Kind.NUMBER, Kind.BELOW)


def has_point(cell: object) -> bool:
    """Whether a text is a number, or a limit, with a decimal point."""
    return isinstance(cell, str) and "." in cell and kind_of_text(cell) in (Kind.NUMBER, Kind.BELOW)


def is_known_word(text: str) -> bool:
    """Whether the catalogue's own grammar of cells takes a text for a word, as `missing` and `missing: why`.

    Examples
    --------
    >>> is_known_word("missing: K. dropped the probe"), is_known_word("N/A"), is_known_word("n/a: no edge")
    (True, False, True)
    """
    return _KNOWN_WORD.fullmatch(text.strip()) is not None
