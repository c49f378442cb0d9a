"""The typed fields of one mapping: each read says what it expects, and every fault is gathered, not raised."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from collections.abc import Mapping as NameMap
from dataclasses import dataclass, field
from typing import Any

from scoring.declaration import Declaration
from scoring.declaration.kinds import LONGEST_TEXT
from scoring.declaration.kinds import NAME as NAME_PATTERN
from scoring.errors import FormulaError, Place, Problem, nearest
from scoring.expression import LARGEST_NUMBER, LONGEST_NUMBER, NUMBER, parse_expression
from scoring.form import Choice, Expression, Number, Renamed
from scoring.reader.wording import bounds, clip, describe, list_hint, number_hint, within
from scoring.texts.document import MOST_PROBLEMS, Mapping, Node, Scalar, Sequence
from scoring.texts.source import Spot

#: How near an unknown key must be to a known one that is not written, for reading to go on as if it were that one.
SURELY_MEANT = 0.75
NAME = re.compile(NAME_PATTERN)


@dataclass(frozen=True, slots=True)
class Shape:
    """What a mapping may hold: what faults call it, its keys, what may stand in its place, and keys by their old names.

    instead: what to write in the place of keys that belong to another noun.
    """

    what: str
    keys: Iterable[str]
    as_in: str = ""
    renamed: NameMap[str, str] = field(default_factory=dict)
    instead: NameMap[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Names:
    """The names that an expression may use: of numbers with their kind, of attributes with their words."""

    kinds: NameMap[str, str] = field(default_factory=dict)
    words: NameMap[str, tuple[str, ...]] = field(default_factory=dict)


class Reader:
    """Gathers the problems of one source text; `names` are those that its expressions may use, once they are known.

    `whole` is what faults call the file.

    `as_typed` says that nothing was set in the text since somebody wrote it. What stands in it for another blend or curve is
    then a fault; where a choice was set, it is what that choice leaves behind.
    """

    def __init__(
        self, source: int, problems: list[Problem], *, as_typed: bool = False, whole: str = "the formula"
    ) -> None:
        self.source = source
        self.problems = problems
        self.as_typed = as_typed
        self.whole = whole
        self.renamed: list[Renamed] = []
        self.names = Names()

    def note_renamed(self, place: Place, address: str, old: str, new: str) -> None:
        """Note an old name, which is read as the new one."""
        self.renamed.append(Renamed(place, address, old, new))

    def fault(self, place: Place, found: str, expected: str, hint: str = "") -> None:
        """Gather one problem."""
        self.gather([Problem(place, found, expected, hint)])

    def gather(self, problems: Iterable[Problem]) -> None:
        """Gather problems; reading stops once there are very many.

        Raises
        ------
        FormulaError
            At the 200th problem.
        """
        self.problems.extend(problems)
        if len(self.problems) >= MOST_PROBLEMS:
            raise FormulaError(sorted(set(self.problems), key=lambda problem: problem.place))

    def fields(self, node: Node | None, address: str, known: Iterable[str], what: str) -> Fields | None:
        """The fields of a mapping with known keys, which faults call `what`; as in `noun`."""
        return self.noun(node, address, Shape(what, known))

    def noun(self, node: Node | None, address: str, shape: Shape | Declaration[Any]) -> Fields | None:
        """The fields of a mapping; None (and a problem) where the node is no mapping. Unknown keys are problems.

        Old names of keys are read as the new ones, and noted.
        """
        if not isinstance(node, Mapping):
            if node is not None:
                hint = f"As in `{shape.as_in}`." if shape.as_in else ""
                self.fault(node.place, describe(node), f"{shape.what} as a mapping of keys", hint)
            return None
        names = tuple(shape.keys)
        written = {key.text for key, _ in node.entries}
        meant: dict[str, Node] = {}
        for key, value in node.entries:
            new = shape.renamed.get(key.text)
            if new is not None and new not in written:
                meant[new] = value
                self.note_renamed(key.place, f"{address}.{new}", key.text, new)
            elif new is not None:
                found = f"the key `{key.text}` in {address}, beside `{new}`, as it is called now"
                self.fault(key.place, found, "one of the two", f"Keep `{new}`.")
            elif key.text not in names:
                hint = shape.instead.get(key.text) or nearest(key.text, names)
                self.fault(key.place, f"the key `{clip(key.text)}` in {address or self.whole}", "a known key", hint)
                near = difflib.get_close_matches(key.text.casefold(), names, n=1, cutoff=SURELY_MEANT)
                meant |= {name: value for name in near if name not in written}
        return Fields(self, node, address, meant)

    def named(self, node: Node | None, address: str, what: str) -> Iterator[tuple[Scalar, Node, str]]:
        """The entries of a mapping from names to nodes, with each one's address."""
        if node is None:
            return
        if not isinstance(node, Mapping):
            self.fault(node.place, describe(node), f"{what} by name, as `name: ...`")
            return
        for key, value in node.entries:
            if not NAME.fullmatch(key.text):
                bare = re.sub(r"\W+", "_", key.text, flags=re.ASCII).strip("_")
                hint = f"Write `{bare}`, and" if NAME.fullmatch(bare) else "Put"
                hint += " other words into `label`." if hint == "Put" else " put other words into `label`."
                self.fault(key.place, f"the name `{clip(key.text)}`", "letters, digits and _, not a digit first", hint)
            else:
                yield key, value, f"{address}.{key.text}"

    def items(self, node: Node | None, address: str, what: str) -> tuple[Node, ...]:
        """The items of a list."""
        if node is None:
            return ()
        if not isinstance(node, Sequence):
            hint = f"{list_hint(node)} At {address}.".strip()
            self.fault(node.place, describe(node), f"a list of {what}, each after a `-` or inside [ ]", hint)
            return ()
        return node.items

    def label(self, fields: Fields, index: int, taken: set[str]) -> str:
        """What an item of a list is called in addresses: its own `name`, each once, or else its place in the list."""
        label = fields.text("name") or str(index)
        node = fields.node_of("name") or fields.node
        if "=" in label:
            self.fault(node.place, f"the name `{clip(label)}` in {fields.address}", "a name without `=`")
        elif label in taken:
            self.fault(node.place, f"the name `{clip(label)}` again in {fields.address}", "a name of its own for each")
        taken.add(label)
        return label

    def number(
        self,
        node: Node | None,
        address: str,
        *,
        spot: Spot | None = None,
        least: float | None = None,
        above: float | None = None,
        most: float | None = None,
        percent: bool = False,
    ) -> Number | None:
        """A number written in plain decimal, within its bounds; `percent` allows `5%` (0.05)."""
        if node is None:
            return None
        pattern = rf"([+-]?{NUMBER})(\s*%)?" if percent else rf"([+-]?{NUMBER})()"
        match = re.fullmatch(pattern, node.text.strip()) if isinstance(node, Scalar) else None
        if not isinstance(node, Scalar) or match is None or node.quoted:
            self.fault(node.place, describe(node), f"a number for {address}", number_hint(node, percent=percent))
            return None
        written = match.group(1)
        if len(written) > LONGEST_NUMBER or re.match(r"[+-]?0\d", written) or not abs(float(written)) <= LARGEST_NUMBER:
            hint = number_hint(node, percent=percent)
            self.fault(node.place, f"`{clip(node.text)}`", f"a plain number for {address}", hint)
            return None
        share = (match.group(2) or "").strip() == "%"
        value = float(f"{written}e-2") if share and "e" not in written.lower() else float(written)
        if not within(value, least, above, most):
            hint = f"{value:g} % is written {value / 100:g}." if most == 1 and 5 <= value <= 100 and not share else ""
            self.fault(node.place, f"{node.text} for {address}", bounds(least, above, most), hint)
            return None
        own = Spot(self.source, node.start, node.end, after=match.group(2) or "")
        return Number(value, node.text.strip(), address, node.place, spot or own)

    def choice(self, node: Node, address: str, options: tuple[str, ...]) -> Choice | None:
        """One of the named options."""
        if not isinstance(node, Scalar) or node.text not in options:
            found = f"`{clip(node.text)}`" if isinstance(node, Scalar) else describe(node)
            hint = nearest(node.text, options) if isinstance(node, Scalar) else ""
            hint = hint if hint.startswith("Did you mean") else ""  # the options stand there already
            self.fault(node.place, f"{found} for {address}", "one of " + ", ".join(options), hint)
            return None
        return Choice(node.text, options, address, node.place, Spot(self.source, node.start, node.end))

    def text(self, node: Node, address: str) -> str:
        """Plain text, in one line or several."""
        if not isinstance(node, Scalar) or len(node.text) > LONGEST_TEXT:
            found = "a long text" if isinstance(node, Scalar) else describe(node)
            self.fault(node.place, found, f"text of at most {LONGEST_TEXT} characters for {address}")
            return ""
        return node.text.strip()

    def expression(self, node: Node, address: str, *, condition: bool) -> Expression | None:
        """A written expression."""
        if not isinstance(node, Scalar):
            self.fault(node.place, describe(node), f"an expression for {address}", "Put it in quotes.")
            return None
        place = node.place
        if node.quoted:
            place = Place(place.source, place.line, place.column + 1)
        try:
            return parse_expression(
                node.text,
                kinds=self.names.kinds,
                words=self.names.words,
                condition=condition,
                address=address,
                place=place,
                spot=Spot(self.source, node.start, node.end),
            )
        except FormulaError as fault:
            self.gather(fault.problems)
            return None


class Fields:
    """The entries of one mapping, read by key.

    Under a misspelt key, which is a fault already, reading goes on as if the key were right, to find what else is wrong.
    """

    def __init__(self, reader: Reader, node: Mapping, address: str, meant: NameMap[str, Node] | None = None) -> None:
        self.reader = reader
        self.node = node
        self.address = address
        self._by_key = {**(meant or {}), **{key.text: value for key, value in node.entries}}

    def __contains__(self, key: str) -> bool:
        return key in self._by_key

    @property
    def keys(self) -> frozenset[str]:
        """The keys that are written."""
        return frozenset(self._by_key)

    def span(self, key: str) -> tuple[int, int]:
        """Where `key` and its node are written, from the key's start to the node's end; (0, 0) where they are not."""
        return next(((name.start, node.end) for name, node in self.node.entries if name.text == key), (0, 0))

    @property
    def place(self) -> Place:
        """Where the mapping starts."""
        return self.node.place

    def place_of(self, key: str) -> Place:
        """Where `key` is written; where the mapping starts, if it is not."""
        return next((name.place for name, _ in self.node.entries if name.text == key), self.place)

    def node_of(self, key: str) -> Node | None:
        """The node under `key`, if it is written."""
        return self._by_key.get(key)

    def path(self, key: str) -> str:
        """The address of `key`."""
        return f"{self.address}.{key}" if self.address else key

    def unwritten(self, *keys: str) -> Spot:
        """Where `keys` (nested) would be written."""
        before = ": {".join(keys) + ": "
        after = "}" * (len(keys) - 1)
        if not self.node.entries:
            at = self.node.start + 1
            return Spot(self.reader.source, at, at, before, after, raw=True)
        first = self.node.entries[0][0]
        after += ", " if self.node.flow else "\n" + " " * (first.place.column - 1)
        return Spot(self.reader.source, first.start, first.start, before, after, raw=True)

    def required(self, key: str, hint: str = "") -> Node | None:
        """The node under `key`; a problem where it is not written."""
        node = self._by_key.get(key)
        if node is None:
            where = self.address or self.reader.whole
            self.reader.fault(self.place, f"no `{key}` in {where}", f"`{key}: ...`", hint)
        return node

    def number(
        self,
        key: str,
        *,
        default: float | None = None,
        least: float | None = None,
        above: float | None = None,
        most: float | None = None,
    ) -> Number | None:
        """The number under `key`, or its default; a problem where it has no default and is not written."""
        node = self._by_key.get(key)
        if node is not None:
            return self.reader.number(node, self.path(key), least=least, above=above, most=most)
        if default is None:
            self.required(key)
            return None
        return self.default_number(default, key)

    def default_number(self, value: float, *keys: str) -> Number:
        """A number that is not written, with the place where it would be."""
        address = ".".join([self.address, *keys] if self.address else keys)
        return Number(float(value), f"{value:g}", address, self.place, self.unwritten(*keys))

    def choice(self, key: str, options: tuple[str, ...]) -> Choice:
        """The choice under `key`; the first option where it is not written or not known."""
        node = self._by_key.get(key)
        read = self.reader.choice(node, self.path(key), options) if node is not None else None
        return read or self.default_choice(options, key)

    def default_choice(self, options: tuple[str, ...], *keys: str) -> Choice:
        """A choice that is not written, with the place where it would be."""
        address = ".".join([self.address, *keys] if self.address else keys)
        return Choice(options[0], options, address, self.place, self.unwritten(*keys))

    def text(self, key: str, default: str = "") -> str:
        """The text under `key`."""
        node = self._by_key.get(key)
        return self.reader.text(node, self.path(key)) if node is not None else default

    def words(self, key: str) -> tuple[str, ...]:
        """The list of words under `key`."""
        nodes = self.reader.items(self._by_key.get(key), self.path(key), "words")
        return tuple(self.reader.text(node, self.path(key)) for node in nodes)

    def flag(self, key: str, *, also: tuple[str, ...] = (), unread: bool = False) -> bool:
        """true or false under `key`; `unread` where it is neither. `also`: the words that stand for them, in that order."""
        node, said = (
            self._by_key.get(key),
            {"true": True, "false": False} | dict(zip(also, (True, False), strict=False)),
        )
        if node is None:
            return unread
        if isinstance(node, Scalar) and not node.quoted and node.text in said:
            return said[node.text]
        expected = " or ".join(also) or "true or false"
        self.reader.fault(node.place, f"{describe(node)} for {self.path(key)}", expected)
        return unread


def is_null(node: Node) -> bool:
    """Whether `null` stands there, which says that nothing is meant."""
    return isinstance(node, Scalar) and not node.quoted and node.text in {"null", "~"}
