"""YAML text as a document: nodes that know their line, column and span. The one owner of the YAML reader.

Scalars stay text: what `no`, `010`, `1e3` or `12:30` means is decided by the field that holds it, never guessed here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from scoring.errors import FormulaError, Place, Problem
from scoring.texts.file_limits import FORMULA_CHARACTERS
from scoring.texts.yaml_slips import Stop, bare_key, problem_of

#: Reading stops here: past this many faults the list helps nobody, and a hostile text could make it very long.
MOST_PROBLEMS = 200
#: Control characters other than tab and line feed, and halves of surrogate pairs, which an escape such as "\\e" can give.
UNPRINTABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
#: What may not stand in YAML at all, not even in quotes or a comment (YAML 1.2.2, section 5.1).
NOT_YAML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
DEEPEST = 24


@dataclass(frozen=True, slots=True)
class Scalar:
    """A word or number as written; `quoted` tells 'a quoted word' from a bare one."""

    text: str
    quoted: bool
    place: Place
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys and their nodes, in the order written."""

    entries: tuple[tuple[Scalar, Node], ...]
    flow: bool
    place: Place
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list of nodes."""

    items: tuple[Node, ...]
    flow: bool
    place: Place
    start: int
    end: int


Node = Scalar | Mapping | Sequence


def read_document(text: str, name: str) -> Node:
    """The node tree of one YAML document.

    Parameters
    ----------
    text : str
        YAML 1.2; at most 500 000 characters, nested at most 24 deep.
    name : str
        The file's name, for places.

    Raises
    ------
    FormulaError
        Not YAML; or it holds anchors, aliases, tags, merge keys, repeated keys or several documents, all of which are refused.
    """
    if len(text) > FORMULA_CHARACTERS:
        raise _refused(Place(name), f"{len(text)} characters", f"at most {FORMULA_CHARACTERS}")
    if strange := _control_characters(text, name):
        raise FormulaError(strange)
    try:
        builder = _Builder(text, name)
        for event in YAML(typ="safe", pure=True).parse(text):
            builder.take(event)
    except MarkedYAMLError as fault:
        raise FormulaError([problem_of(_stop(fault, name), text)]) from None
    except (YAMLError, ValueError, OverflowError, RecursionError) as fault:
        reason = re.sub(r"\s+", " ", str(fault))[:120]
        raise _refused(Place(name), f"not YAML: {reason}", "YAML 1.2 in plain text") from None
    if builder.root is None:
        raise _refused(Place(name, 1, 1), "an empty file", "a formula", "Start with `formula: NAME`.")
    if builder.problems:
        raise FormulaError(builder.problems[:MOST_PROBLEMS])
    return builder.root


def _control_characters(text: str, name: str) -> list[Problem]:
    """A fault for each control character, which YAML refuses wherever it stands; the parser would tell no line of it."""
    return [
        Problem(
            Place(name, text.count("\n", 0, at.start()) + 1, at.start() - text.rfind("\n", 0, at.start())),
            f"the control character U+{ord(at.group()):04X}",
            "characters that show",
            "Delete it; it came with a pasted text.",
        )
        for at in islice(NOT_YAML.finditer(text), MOST_PROBLEMS)
    ]


def _stop(fault: MarkedYAMLError, name: str) -> Stop:
    """What the parser says of its fault, with places that count from 1."""
    marks = (fault.problem_mark or fault.context_mark, fault.context_mark)
    places = [Place(name, mark.line + 1, mark.column + 1) if mark else None for mark in marks]
    return Stop(str(fault.problem or fault.context), places[0] or Place(name), places[1])


def _refused(place: Place, found: str, expected: str, hint: str = "") -> FormulaError:
    return FormulaError([Problem(place, found, expected, hint)])


class _Builder:
    """Turns parser events into nodes, refusing what a formula has no use for."""

    def __init__(self, text: str, name: str) -> None:
        self.text = text
        self.name = name
        self.root: Node | None = None
        self.problems: list[Problem] = []
        self._open: list[tuple[NodeEvent, list[Node]]] = []
        self._documents = 0

    def take(self, event: Event) -> None:
        if len(self.problems) >= MOST_PROBLEMS:
            raise FormulaError(self.problems[:MOST_PROBLEMS])
        if isinstance(event, DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                self._refuse(event, "a second document", "one document a file", "Split the file.")
        elif isinstance(event, AliasEvent):
            self._refuse(
                event, f"the alias *{event.anchor}", "no aliases", "Write the value out, or set the text in quotes."
            )
            self._place_node(Scalar("", True, self._place(event), 0, 0))
        elif isinstance(event, NodeEvent):
            self._start(event)
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            self._finish(event)

    def _start(self, event: NodeEvent) -> None:
        if event.anchor:
            self._refuse(event, f"the anchor &{event.anchor}", "no anchors", "Write the value where it is used.")
        tag = getattr(event, "tag", None)
        if tag is not None:
            self._refuse(event, f"the tag {tag}", "no tags", "Write the value plainly.")
        if isinstance(event, ScalarEvent):
            self._place_node(self._scalar(event))
            return
        if len(self._open) >= DEEPEST:
            raise _refused(self._place(event), f"nesting deeper than {DEEPEST}", f"at most {DEEPEST} levels")
        self._open.append((event, []))

    def _scalar(self, event: ScalarEvent) -> Scalar:
        start, end = event.start_mark.index, event.end_mark.index
        if event.style in {"|", ">"}:  # the parser counts the line breaks after a block as part of it
            end = start + len(self.text[start:end].rstrip())
        strange = UNPRINTABLE.search(event.value)
        if strange is not None:
            found = f"the character U+{ord(strange.group()):04X} in a text"
            self._refuse(event, found, "printable characters", "Leave it out.")
        return Scalar(event.value, bool(event.style), self._place(event), start, end)

    def _finish(self, event: Event) -> None:
        opened, nodes = self._open.pop()
        place, start, end = self._place(opened), opened.start_mark.index, event.end_mark.index
        flow = bool(getattr(opened, "flow_style", False))
        if not flow:  # the parser ends a block at the next token, after comments that are none of its own
            end = max((node.end for node in nodes), default=start)
        if isinstance(opened, SequenceStartEvent):
            self._place_node(Sequence(tuple(nodes), flow, place, start, end))
        else:
            assert isinstance(opened, MappingStartEvent)  # the parser opens nothing else
            if flow:
                self._check_values(nodes)
            self._place_node(Mapping(tuple(self._entries(nodes)), flow, place, start, end))

    def _entries(self, nodes: list[Node]) -> Iterator[tuple[Scalar, Node]]:
        seen: dict[str, Place] = {}
        for key, value in zip(nodes[::2], nodes[1::2], strict=True):
            if not isinstance(key, Scalar):
                self.problems.append(Problem(key.place, "a list or mapping as a key", "a word or number as a key"))
                continue
            if key.text == "<<" and not key.quoted:
                self.problems.append(Problem(key.place, "the merge key <<", "no merging", "Write the keys out."))
            elif key.text in seen:
                first = seen[key.text]
                found = f"the key `{_clip(key.text)}` again (first in line {first.line})"
                self.problems.append(Problem(key.place, found, "each key once", "Drop one of the two."))
            seen.setdefault(key.text, key.place)
            yield key, value

    def _check_values(self, nodes: list[Node]) -> None:
        """Report entries in braces that have no colon and no value, such as the `5` of `{step: 2,5}`."""
        for index, key in enumerate(nodes[::2]):
            is_bare = isinstance(key, Scalar) and not key.quoted and not re.match(r"\s*:", self.text[key.end :])
            if not is_bare or not isinstance(key, Scalar):
                continue
            before = nodes[2 * index - 1] if index else None
            after = nodes[2 * index + 2] if 2 * index + 2 < len(nodes) else None
            joined = before.text if isinstance(before, Scalar) and before.end + 1 == key.start else ""
            follows = after.text if isinstance(after, Scalar) and key.end + 1 == after.start else ""
            self.problems.append(bare_key(joined, key.text, follows, key.place))

    def _place_node(self, node: Node) -> None:
        if self._open:
            self._open[-1][1].append(node)
        elif self.root is None:
            self.root = node

    def _place(self, event: Event) -> Place:
        return Place(self.name, event.start_mark.line + 1, event.start_mark.column + 1)

    def _refuse(self, event: Event, found: str, expected: str, hint: str) -> None:
        self.problems.append(Problem(self._place(event), found, expected, hint))


def _clip(text: str) -> str:
    return text if len(text) <= 60 else text[:57] + "..."


def write_scalar(text: str, plain: bool) -> str:
    """`text` as a YAML scalar that reads back as itself; bare where `plain` allows and nothing in it needs quotes."""
    if plain and re.fullmatch(r"(?!-(?: |$))[A-Za-z0-9_.+\-][A-Za-z0-9_.+\- %/<>=*()]*(?<! )", text):
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{escaped}"'


def write_flow(node: Node) -> str:
    """A node as YAML in one line, in braces and brackets."""
    if isinstance(node, Scalar):
        return write_scalar(node.text, plain=not node.quoted)
    if isinstance(node, Sequence):
        return "[" + ", ".join(write_flow(item) for item in node.items) + "]"
    return "{" + ", ".join(f"{write_flow(key)}: {write_flow(value)}" for key, value in node.entries) + "}"
