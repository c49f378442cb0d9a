"""Findings as a table of sentences: what drifted from a record, what a correction changes, what two catalogues differ in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.records.record import Finding
from analysis.report.report import Block
from analysis.report.tables import OnScreen, Table, words

#: How many findings of one kind a terminal lists.
MOST_LISTED = 200


def finding_list(
    name: str, title: str, findings: Sequence[Finding], most: int = MOST_LISTED, *, close: bool = False
) -> Iterator[Block]:
    """A table of sentences, nothing where there is no finding; a terminal has the first ones as lines.

    close: no blank line under them
    """
    if not findings:
        return
    lines = [f"  {one.says}" for one in findings[:most]]
    if len(findings) > most:
        lines.append(f"  and {len(findings) - most} more: `--json` lists all.")
    yield Table(
        name,
        title.removesuffix(":"),
        (words("says", "finding", [one.says for one in findings]),),
        hidden={"product": [one.product for one in findings], "measure": [one.measure for one in findings]},
        on_screen=OnScreen(lines=(title, *lines, *([] if close else [""]))),
    )
