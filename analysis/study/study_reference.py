"""The section of the reference page about studies: every key, item, rule and distribution, from their declarations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from analysis.study.file_keys import CORRELATION_KEYS, STUDY_KEYS
from analysis.study.items import GROUP, ITEMS, ItemKind
from analysis.study.items.address import HOWS
from analysis.study.keys import Amount, Figures, Key, Keyed, Kind, Way
from analysis.study.weight_items import WEIGHT_RULES
from scoring.form_reference.allowed import allowed, options_of
from scoring.form_reference.text import anchor, bullet, code, listed, wrapped
from scoring.unit_role import UnitRole

TITLE, ITEM_TITLE, CORRELATION_TITLE = "Studies", "What varies", "What goes together"
#: The ways of several kinds of item, and the heading under which they are told.
WAY_TITLES: dict[str, Mapping[str, Way]] = {"Rules for weights": WEIGHT_RULES, "How one address varies": HOWS}
LEAD = (
    "A study file says what varies and how far, for `sensitivity`, `stability` and the appendix (`--study FILE`); `--resolved` "
    "prints what it came to. `steelyard schema --study` prints the same as a JSON Schema. Its keys:"
)
ITEM_LEAD = (
    "In the list under `vary`. An item has one subject, which is one of these keys, and what is named with it. An address varies "
    "once. What can be drawn is held against the formula, so that no draw is refused later."
)
IN_UNIT = {
    UnitRole.ALONG: "in the unit of the number that varies",
    UnitRole.LENGTH: "a difference in the unit of the number that varies",
}


def study_section() -> Iterator[str]:
    """The blocks of the section."""
    yield f"## {TITLE}"
    yield wrapped(LEAD)
    yield "\n".join(_entry(name, key) for name, key in STUDY_KEYS.items())
    yield f"### {ITEM_TITLE}"
    yield wrapped(ITEM_LEAD)
    yield "\n".join([*(_item(subject, kind) for subject, kind in ITEMS.items()), _entry("group", GROUP)])
    for title, ways in WAY_TITLES.items():
        yield f"### {title}"
        yield "\n".join(_way(name, way) for name, way in ways.items())
    yield f"### {CORRELATION_TITLE}"
    yield wrapped("Each in the list under `correlations`; together they must be ones that things can have.")
    yield "\n".join(_entry(name, key) for name, key in CORRELATION_KEYS.items())


def _item(subject: str, kind: ItemKind) -> str:
    """A subject, with what is needed or may stand beside it."""
    lines = [_entry(subject, kind.key)]
    for title, ways in WAY_TITLES.items():
        if kind.ways is ways:
            names = listed([code(name) for name in ways], "or")
            lines.append(bullet(f"Beside it one of {names}: [{title.lower()}](#{anchor(title)}).", 1))
    lines += [_entry(name, key, 1) for name, key in kind.beside.items()]
    return "\n".join(lines)


def _way(name: str, way: Way) -> str:
    alone = [_entry(beside, key, 1) for beside, key in way.beside.items()]
    return "\n".join([_entry(name, Key(way.key.kind, way.key.says, way.key.example)), *alone])


def _entry(name: str, key: Key, depth: int = 0) -> str:
    """A key with what may stand there, its sentence, its example; then its words or its own keys."""
    schema = key.kind.schema()
    needed, unit = " (required)" if key.required else "", _unit(key.kind)
    lines = [
        bullet(f"**{code(name)}**{needed}: {allowed(schema)}{unit}. {key.says}", depth),
        bullet(f"For example {code(key.example)}", depth + 1),
    ]
    lines += [bullet(f"{code(word)}: {meaning}.", depth + 1) for word, meaning in options_of(schema)]
    lines += [_entry(inner, said, depth + 1) for inner, said in _inner(key.kind).items()]
    return "\n".join(lines)


def _unit(kind: Kind) -> str:
    said = IN_UNIT.get(kind.role, "") if isinstance(kind, Amount | Figures) else ""
    return f", {said}" if said else ""


def _inner(kind: Kind) -> Mapping[str, Key]:
    return kind.keys if isinstance(kind, Keyed) else {}
