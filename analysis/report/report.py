"""A report: what a study found, section by section, and what every renderer asks of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from analysis.languages.facts import Facts
from analysis.report.pictures import Picture
from analysis.report.products import Mentions, named_document, named_frame, named_sections
from analysis.report.section import Block, Said, Section
from analysis.report.source import InWords, Source
from analysis.report.tables import Table
from scoring.html import MOST_PRODUCTS, Safe, joined, table, tag

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Block", "Report", "Said", "Section", "report_html"]


def _no_files() -> Mapping[str, bytes]:
    return {}


@dataclass(frozen=True, eq=False)
class Report:
    """What a study found, as facts; a notebook shows it.

    command: the study's name
    title: in a page; heading: the line over all in a terminal, "" for none
    closing: what is said after all sections; on_screen: what only a terminal says there
    body: makes the JSON document, without its head; whole: makes the one table for files, without its last columns
    found: the study's own nouns, with every array that was worked out
    has_head: whether the document begins with what it was made from; a record says it in its own way
    own_page: makes the page, where it is more than the sections; own_files: makes those of a folder, where they are others
    called: what its files are called, "" for the name of the study; beside: makes what else a folder of them holds
    """

    command: str
    title: str
    heading: str
    source: Source | InWords
    sections: tuple[Section, ...]
    body: Callable[[], Mapping[str, Any]]
    whole: Callable[[], pd.DataFrame]
    found: Any
    closing: tuple[str, ...] = ()
    on_screen: tuple[str, ...] = ()
    has_head: bool = True
    own_page: Callable[[], Facts] | None = None
    own_files: Callable[[], dict[str, bytes]] | None = None
    called: str = ""
    beside: Callable[[], Mapping[str, bytes]] = _no_files

    def __post_init__(self) -> None:
        # a study goes by ids alone: what products are called is put beside them here, once for all of them
        names = self.source.product_names
        if names:
            object.__setattr__(self, "title", Mentions(names).named(self.title))
            object.__setattr__(self, "heading", Mentions(names).named(self.heading))
            object.__setattr__(self, "sections", named_sections(self.sections, names))

    @property
    def file_name(self) -> str:
        """What its files are called, without ending."""
        return self.called or self.command

    @property
    def verdict(self) -> tuple[str, ...]:
        """Every sentence of every section, in order."""
        return tuple(sentence for section in self.sections for sentence in section.verdict)

    @property
    def tables(self) -> dict[str, Table]:
        """The tables by "SECTION.NAME", or by NAME where the report is of the whole."""
        return {
            f"{section.name}.{one.name}" if section.name else one.name: one
            for section in self.sections
            for one in section.tables
        }

    @property
    def frames(self) -> dict[str, pd.DataFrame]:
        """The tables as frames; the unit of each column is in `attrs["units"]`."""
        return {name: one.frame() for name, one in self.tables.items()}

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The one table that files hold, with what it was made from and the cautions in its last columns."""
        return named_frame(self.source.on(self.whole()), self.source.product_names)

    @property
    def stream(self) -> dict[str, Any]:
        """The same as `document`, made anew to be gone through once: what would fill the memory comes as an iterator."""
        if not self.has_head:  # a record is what it is
            return dict(self.body())
        found: dict[str, Any] = named_document(self.source.document() | dict(self.body()), self.source.product_names)
        return found

    @cached_property
    def document(self) -> dict[str, Any]:
        """Everything that was found, as `--json` prints it."""
        return {key: list(value) if isinstance(value, Iterator) else value for key, value in self.stream.items()}

    @cached_property
    def pictures(self) -> dict[str, Picture]:
        """The pictures by name, each drawn when its bytes are asked for."""
        return {picture.name: picture for section in self.sections for picture in section.pictures()}

    def __str__(self) -> str:
        said = [self.heading]
        for section in self.sections:
            said += ["", section.title, *section.verdict] if section.verdict else []
        return "\n".join(said)

    def __repr__(self) -> str:
        first = self.verdict[0] if self.verdict else self.heading
        return f"<{self.command} of {self.source.headed}: {first}>"

    def _repr_html_(self) -> str:
        return report_html(self)


def report_html(report: Report) -> Safe:
    """A report in a notebook: headings, sentences, tables and cautions, without styles or scripts of its own."""
    return tag(
        "div",
        tag("h3", report.title),
        *(tag("p", line) for line in report.source.lines()),
        *(piece for section in report.sections for piece in _section_html(section)),
        *(tag("p", line) for line in report.closing),
        *(tag("p", f"! {caution}") for caution in report.source.cautions),
    )


def _section_html(section: Section) -> Iterator[Safe]:
    yield tag("h4", section.title)
    yield from (tag("p", sentence) for sentence in section.verdict)
    for block in section.blocks:
        if isinstance(block, Table):
            yield from _table_html(block)
        elif not block.screen_only:
            yield from (tag("p", line.strip()) for line in block.lines)


def _table_html(block: Table) -> Iterator[Safe]:
    if not len(block):
        return
    right = [number for number, column in enumerate(block.columns) if column.numeric]
    yield tag("p", tag("strong", block.title))
    yield table(block.headings, list(block.cells(MOST_PRODUCTS)), right=right)
    if len(block) > MOST_PRODUCTS:
        yield tag("p", joined(f"{len(block) - MOST_PRODUCTS} rows more: `frames` has them all."))
    yield from (tag("p", note) for note in block.notes)
