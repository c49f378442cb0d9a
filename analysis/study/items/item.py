"""An item under `vary`: how each kind of item is declared, and what all of them read with."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from analysis.study.building import Wording, weights_of
from analysis.study.keys import NAME, Keys, Listed, Way
from analysis.study.study import Move
from scoring.catalogue import Catalogue
from scoring.declaration import Key
from scoring.declaration.kinds import Either
from scoring.errors import nearest
from scoring.form import Form, Output
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip
from scoring.texts.document import Scalar

EVERY = {"every score": "scores", "every rating": "ratings"}
EXPECTED_OUTPUTS = "`every score`, `every rating`, or names of scores or ratings"
OUTPUTS = Either(
    (NAME, Listed(NAME, "a list of scores or ratings")),
    "`every score`, `every rating`, a score or rating, or a list of them",
)
GROUP = Key(
    NAME,
    "The group that indices are added up in; without it, things are grouped by kind.",
    "{weights: edge, plus_minus: 0.15, group: shares of the edge}",
)


@dataclass(frozen=True, slots=True)
class ItemKind:
    """One kind of item.

    key: its subject, which tells it from other kinds; moves: those that an item stands for, every fault gathered;
    ways: of which just one stands beside the subject, where there are any; ways_title: the heading under which the reference
    page tells them; beside: what else may stand there.
    """

    key: Key
    moves: Callable[[Items, Fields], Iterator[Move]]
    ways: Mapping[str, Way] = field(default_factory=dict)
    ways_title: str = ""
    beside: Keys = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Items:
    """What the items of one study file are read with; `notes` gathers what is to be said of them."""

    reader: Reader
    form: Form
    catalogue: Catalogue
    notes: list[str] = field(default_factory=list)

    def wording(self, item: Fields) -> Wording:
        """Where an item stands, and its group."""
        return Wording(str(item.place), item.text("group"))

    def only(self, item: Fields, *keys: str) -> None:
        """A fault for every other key."""
        for key in sorted(item.keys - set(keys) - {"group"}):
            expected = ", ".join(f"`{name}`" for name in (*keys, "group"))
            self.reader.fault(item.place, f"`{key}` beside `{keys[0]}`", f"only {expected}", f"At {item.address}.")

    def outputs(self, item: Fields, key: str) -> Iterator[Output]:
        """The outputs that a subject names: one, a list, or every score or rating."""
        node = item.node_of(key)
        known = self.form.outputs_by_name
        if isinstance(node, Scalar) and node.text in EVERY:
            yield from (output for output in self.form.outputs if output.section == EVERY[node.text])
            return
        names = (node.text,) if isinstance(node, Scalar) else item.words(key)
        for name in names:
            if name in known:
                yield known[name]
            else:
                found = f"`{clip(name)}` under {item.path(key)}"
                self.reader.fault(item.place, found, EXPECTED_OUTPUTS, nearest(name, known))

    def weighed(self, item: Fields, key: str) -> Iterator[Output]:
        """Those with two or more weights; a fault where a name asks for one that has none."""
        for output in self.outputs(item, key):
            if weights_of(output):
                yield output
            else:
                self.lacking(item, key, f"`{output.name}`, which has no weights", "two or more weighted parts")

    def lacking(self, item: Fields, key: str, found: str, expected: str) -> None:
        """A fault where an output that is named has nothing to vary; of every score or rating, those that have it vary."""
        node = item.node_of(key)
        if not (isinstance(node, Scalar) and node.text in EVERY):
            self.reader.fault(item.place, found, expected)
