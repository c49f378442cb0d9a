"""Column names: which measure a column holds, in what unit, which repeat; and which names look misspelt."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass

ID_COLUMNS = ("product", "id")
NEAR = 0.6
VERY_NEAR = 0.8

_COLUMN = re.compile(r"([^\[\]#]*[^\[\]#\s])\s*(?:\[([^\[\]]*)\])?\s*(?:#\s*([0-9]{1,4}))?")


@dataclass(frozen=True, slots=True)
class ColumnName:
    """`name [unit] #repeat`; unit and repeat are None where they are not written.

    `is_sound` is False where brackets or a number sign stand otherwise; `name` is then what stands before them.
    """

    name: str
    unit: str | None = None
    repeat: int | None = None
    is_sound: bool = True


def read_column_name(text: str) -> ColumnName:
    """Read a column's name."""
    parts = _COLUMN.fullmatch(text)
    if parts is None:
        return ColumnName(re.split(r"[\[\]#]", text, maxsplit=1)[0].strip(), is_sound=False)
    name, unit, repeat = parts.groups()
    return ColumnName(name, (unit or "").strip() or None, int(repeat) if repeat else None)


def id_column(header: Iterable[str]) -> str | None:
    """The column that names the products: the first called `product` or `id`."""
    return next((name for name in header if name in ID_COLUMNS), None)


def misspelt(
    unknown: Collection[str], known: Iterable[str], present: Collection[str], cutoff: float = NEAR
) -> dict[str, str]:
    """The unknown names that are likely meant for a known one, and for which.

    They differ from it in the case of letters alone, or they are near it and it is not `present` under its own name.
    """
    folded: dict[str, list[str]] = {}
    for name in unknown:
        folded.setdefault(name.casefold(), []).append(name)
    found: dict[str, str] = {}
    for meant in known:
        if meant in present:
            close = [meant.casefold()] if meant.casefold() in folded else []
        else:
            close = difflib.get_close_matches(meant.casefold(), folded, n=len(folded) or 1, cutoff=cutoff)
        for name in (name for text in close for name in folded[text]):
            found.setdefault(name, meant)
    return found
