"""Column names: which measure a column holds, in what unit, which repeat; and which names look misspelt."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from scoring.errors import nearest
from scoring.form import Form

ID_COLUMNS = ("product", "id")
NEAR = 0.6
VERY_NEAR = 0.8
#: So near a name that has a column of its own that readings may have been typed under two names.
ALMOST_THE_SAME = 0.85
#: So many names of a header are told, of at most so many characters.
_FEW_NAMES, _SHORT_NAME = 3, 20

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


def few_names(header: Iterable[str]) -> str:
    """The first short names of a header, for a fault: where it is not the header, its cells say what nobody should read.

    Examples
    --------
    >>> few_names(["Model", "Noise", "Edge", "Tester", ""])
    'Model, Noise, Edge, and 1 more'
    """
    names = [name for name in header if name]
    short = [name for name in names if len(name) <= _SHORT_NAME][:_FEW_NAMES]
    more = f"{len(names) - len(short)} more" if len(names) > len(short) else ""
    return ", ".join(filter(None, [*short, f"and {more}" if short and more else more]))


def near_name(name: str, header: Sequence[str]) -> str:
    """A hint at the column that was likely meant, or at the first few of those that there are."""
    hint = nearest(name, filter(None, header))
    return hint if hint.startswith("Did") or not any(header) else f"Known: {few_names(header)}."


def id_column(header: Iterable[str], called: str = "") -> str | None:
    """The column that names the products: the one that the formula says, else the first called `product` or `id`."""
    names = tuple(header)
    return called if called in names else next((name for name in names if name in ID_COLUMNS), None)


def as_measures(names: Iterable[ColumnName], form: Form) -> list[ColumnName]:
    """Columns under the names of their measures, where the formula says that the catalogue calls these otherwise."""
    meant = {measure.heading: measure.name for measure in form.measures}
    return [replace(name, name=meant.get(name.name, name.name)) for name in names]


def misspelt(
    unknown: Collection[str], known: Iterable[str], present: Collection[str], cutoff: float = NEAR
) -> dict[str, str]:
    """The unknown names that are likely meant for a known one, and for which.

    They are near it and it is not `present` under its own name; or they are almost the same, and it is.
    """
    folded: dict[str, list[str]] = {}
    for name in unknown:
        folded.setdefault(name.casefold(), []).append(name)
    found: dict[str, str] = {}
    for meant in known:
        likeness = ALMOST_THE_SAME if meant in present else cutoff
        close = difflib.get_close_matches(meant.casefold(), folded, n=len(folded) or 1, cutoff=likeness)
        for name in (name for text in close for name in folded[text]):
            found.setdefault(name, meant)
    return found


def unit_beside(text: str, name: str) -> str:
    """The unit that a column's name seems to state without square brackets, as `sit_drop (mm)`; else nothing."""
    stated = re.fullmatch(
        rf"{re.escape(name)}(?:\s*[({{]\s*([^(){{}}\[\]]+?)\s*[)}}]|[\s,_]+([A-Za-z%/]{{1,8}}))", text
    )
    return (stated[1] or stated[2]) if stated else ""
