"""Reading which rows belong to a table: by their numbers, and by what cells of theirs say."""

from __future__ import annotations

from collections.abc import Mapping

from scoring.reader.fields import Fields
from scoring.reader.wording import describe
from scoring.recipe.kinds import LAST_ROW, End
from scoring.texts.document import Mapping as MappingNode
from scoring.texts.document import Node, Scalar, Sequence

BLANK = End().blank


def read_rows(fields: Fields, key: str) -> tuple[int, ...]:
    """The numbers of rows under a key, one or a list."""
    node = fields.node_of(key)
    if node is None:
        return ()
    nodes = node.items if isinstance(node, Sequence) else (node,)
    rows = [_row(fields, one, fields.path(key)) for one in nodes]
    return tuple(row for row in rows if row)


def read_end(fields: Fields) -> int | str | Mapping[str, tuple[str, ...]] | None:
    """Where a table ends."""
    node, address = fields.node_of("until"), fields.path("until")
    if node is None:
        return None
    if isinstance(node, MappingNode):
        return words_by_column(fields, node, address)
    if isinstance(node, Scalar) and node.text == BLANK:
        return BLANK
    if isinstance(node, Scalar) and node.text.strip().isdecimal():
        return _row(fields, node, address) or None
    expected = "the number of a row, `blank`, or words by column"
    fields.reader.fault(node.place, f"{describe(node)} for {address}", expected, "As in `until: {Model: Total}`.")
    return None


def words_by_column(fields: Fields, node: Node | None, address: str) -> dict[str, tuple[str, ...]]:
    """What cells say, by their column: one word or a list for each."""
    if node is None:
        return {}
    if not isinstance(node, MappingNode) or not node.entries:
        expected = f"words by column for {address}"
        fields.reader.fault(node.place, describe(node), expected, "As in `{Model: [Average, Mean]}`.")
        return {}
    found = {}
    for column, said in node.entries:
        words = said.items if isinstance(said, Sequence) else (said,)
        found[column.text.strip()] = tuple(fields.reader.text(word, f"{address}.{column.text}") for word in words)
    return found


def _row(fields: Fields, node: Node, address: str) -> int:
    """The number of a row; 0, and a fault, where it is none."""
    number = fields.reader.number(node, address, least=1, most=LAST_ROW)
    if number is None:
        return 0
    if not number.value.is_integer():
        fields.reader.fault(node.place, f"{number.text} for {address}", "the number of a row", "Rows count from 1.")
        return 0
    return int(number.value)
