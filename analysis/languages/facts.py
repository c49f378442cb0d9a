"""The nouns of a document: sections, and what may stand in one.

Every text in here is plain, as it is meant to be read: nothing is escaped, and no markup is meant by `<`, `$` or `#`. Each
renderer escapes for its own language, and shows every block in the order given. Words, figures and formulas stand in these
nouns once; a template adds none of its own, so that four renderings cannot say four things.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scoring.symbolic.notation import Notation, Relation


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text in a paragraph, cell, caption or title.

    kind: "" for words of ours; "name" for text of a file (a label, an id, a note), which is set apart from what surrounds it
    in whatever direction it is written; "code" for an address, a hash or arithmetic, letter for letter; "link" for a link to
    the section whose anchor is `target`.
    """

    text: str
    kind: str = ""
    target: str = ""


Runs = tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph."""

    runs: Runs


@dataclass(frozen=True, slots=True)
class Points:
    """A list; numbered from 1 where its order matters."""

    items: tuple[Runs, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """The head of a table's column, and whether figures stand in it (set to the right)."""

    head: Runs
    numeric: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table: as many cells in every row as there are columns; the first cell of a row is its header.

    name: what it is called in this document, once; note: what is said under it, () for nothing.
    """

    name: str
    caption: Runs
    columns: tuple[Column, ...]
    rows: tuple[tuple[Runs, ...], ...]
    note: Runs = ()


@dataclass(frozen=True, slots=True)
class Equation:
    """One line of a formula: `left = right`, the address it comes from, and what it is in words (() for nothing)."""

    left: Notation
    right: Notation
    address: str
    words: Runs = ()

    @property
    def whole(self) -> Relation:
        """`left = right` as one notation."""
        return Relation((self.left, self.right), ("=",))


@dataclass(frozen=True, slots=True)
class Equations:
    """The lines of one rating's or score's formula, in the order in which they are worked out."""

    name: str
    lines: tuple[Equation, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture as SVG and PNG; `name` is also its file name, without ending; `finding` says what it shows, for its alt text."""

    name: str
    caption: Runs
    finding: str
    svg: bytes
    png: bytes


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a worked example: what is worked out, the arithmetic as it is keyed in, and the result.

    Words in square brackets in `arithmetic` say what happened and are no arithmetic.
    """

    what: Runs
    arithmetic: str
    result: str


@dataclass(frozen=True, slots=True)
class Steps:
    """A worked example: numbered lines, in the order in which they need each other."""

    name: str
    caption: Runs
    lines: tuple[Step, ...]


Block = Paragraph | Points | Table | Equations | Figure | Steps


@dataclass(frozen=True, slots=True)
class Section:
    """A section: anchor, title, blocks, then the sections within it (at most two deep).

    anchor: its own in the whole document, of ASCII letters, digits, `_` and `-`.
    """

    anchor: str
    title: Runs
    blocks: tuple[Block, ...]
    sections: tuple[Section, ...] = ()


@dataclass(frozen=True, slots=True)
class Facts:
    """A whole document.

    lines: what stands under the title, one line each; date: as the user gave it, "" for none; name: what its files are called,
    without ending.
    """

    title: Runs
    lines: tuple[Runs, ...]
    sections: tuple[Section, ...]
    language: str = "en"
    date: str = ""
    name: str = "appendix"


def kind_of(block: Block) -> str:
    """What a block is, as templates ask: "paragraph", "points", "table", "equations", "figure" or "steps"."""
    return type(block).__name__.lower()


def plain_text(runs: Runs) -> str:
    """The runs as one plain text."""
    return "".join(run.text for run in runs)


def every_section(sections: tuple[Section, ...]) -> Iterator[Section]:
    """Every section, with those within it, in reading order."""
    for section in sections:
        yield section
        yield from every_section(section.sections)


def figures_of(facts: Facts) -> tuple[Figure, ...]:
    """Every figure, in reading order."""
    return tuple(b for section in every_section(facts.sections) for b in section.blocks if isinstance(b, Figure))
