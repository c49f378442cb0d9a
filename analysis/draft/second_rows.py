"""Products that have a second row in one table: read again on purpose, as repeats, or typed wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from analysis.draft.column_roles import Role
from analysis.draft.measured import Look

#: The share of products with more rows than one from which on rows are a bench's repeats.
_MOST = 0.5


@dataclass(frozen=True, slots=True)
class Again:
    """A product with two rows or more in one session, of one specimen.

    rows : their numbers; differs : columns that hold other words; slips : the rows that seem to be another product's;
    meant : that product, or what these rows call it; is_unread : no row bears its id
    """

    product: str
    rows: tuple[int, ...]
    differs: tuple[str, ...] = ()
    slips: tuple[int, ...] = ()
    meant: str = ""
    is_unread: bool = False


@dataclass(frozen=True, slots=True)
class SecondRows:
    """Second rows of one table: `again` where a human must say what they are, `usual` where most products have them."""

    again: tuple[Again, ...] = ()
    usual: int = 0
    in_sessions: tuple[str, ...] = ()


def second_rows(look: Look, names: Mapping[str, str]) -> SecondRows:
    """Find the second rows of a table.

    Parameters
    ----------
    names : the name of every product that another table lists, by id
    """
    keys = _keys(look)
    counted = Counter(keys)
    products = {product for product, *_ in counted}
    sessions: dict[str, set[str]] = {}
    for product, session, *_ in counted:
        sessions.setdefault(product, set()).add(session)
    again = [product for product, own in sessions.items() if len(own) > 1]
    doubled = {product for (product, *_), count in counted.items() if count > 1}
    if not look.is_long and doubled and len(doubled) >= max(2, _MOST * len(products)):
        return SecondRows(usual=max(counted.values()), in_sessions=tuple(again))
    rows: dict[str, list[int]] = {}
    for index, key in enumerate(keys):
        if counted[key] > 1:
            rows.setdefault(key[0], []).append(index)
    found = tuple(_again(look, product, own, names) for product, own in rows.items())
    return SecondRows(found, in_sessions=tuple(again))


def _keys(look: Look) -> list[tuple[str, ...]]:
    """What tells the rows of a table apart: product, session, specimen, and of a long one also test and repeat."""
    parts = [look.products, look.texts(Role.SESSION), look.texts(Role.SPECIMEN)]
    if look.is_long:
        parts += [look.texts(Role.TEST), look.texts(Role.REPEAT)]
        if look.first(Role.REPEAT) is None:
            parts.append([str(index) for index in range(len(look.extent.body))])
    return list(zip(*parts, strict=True))


def _again(look: Look, product: str, rows: list[int], names: Mapping[str, str]) -> Again:
    numbers = tuple(look.row(index) for index in rows)
    told = look.of(Role.NAME, Role.DATE, Role.CLASS, Role.MAKER, Role.WORDS)
    differs = [column.head.text for column in told if len({column.texts[index] for index in rows}) > 1]
    calls = look.first(Role.NAME)
    known = names.get(product, "")
    if calls is None:
        return Again(product, numbers, tuple(differs))
    strange = [index for index in rows if calls.texts[index] and known and calls.texts[index] != known]
    if not strange:
        return Again(product, numbers, tuple(differs))
    said = calls.texts[strange[0]]
    others = [other for other, name in names.items() if name == said]
    read = set(look.products)
    meant = others[0] if others else said
    slips = tuple(look.row(index) for index in strange if calls.texts[index] == said)
    return Again(product, numbers, tuple(differs), slips, meant, bool(others) and meant not in read)
