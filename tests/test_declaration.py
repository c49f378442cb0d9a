"""What a field declares is all that there is to say: it is read, in the schema, and has its unit from that alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import fields
from typing import Any

import jsonschema
import pytest
from ruamel.yaml import YAML

from scoring import form as nouns
from scoring.declaration import Beside, Declaration, Key, Keyed, Noun, OneOf, SomeOf, counted, key, keys_of, kinds, noun
from scoring.errors import Problem
from scoring.form import CURVE, DECLARED, FORM, WAIVER, Choice, Number
from scoring.numbers.rounding import FORM_RULES, ROUNDING_RULES
from scoring.reader.declared import made, read_kind
from scoring.reader.fields import Fields, Reader
from scoring.texts.document import read_document
from scoring.units.role import UnitRole

#: Fields that no key of their own fills, by noun: where it stands, its name, or what is made of several keys.
NOT_FROM_ONE_KEY = {
    "Form": {"sources", "sha256", "renamed"},
    "Takes": set(),
    "Scale": set(),
    "Ranks": set(),
    "Rounding": set(),
    "Attribute": {"name", "address", "place"},
    "Measure": {"name", "address", "place"},
    "ErrorComponent": {
        "kind",
        "amount",
        "freedom",
        "distribution",
        "is_half_width",
        "address",
        "place",
        "spot",
    },
    "ErrorCorrelation": {"name", "estimated", "address", "place"},
    "Curve": {"kind", "numbers", "anchors", "choices", "address", "place", "spot"},
    "Reference": {"live", "figures", "address", "place"},
    "Part": {"source", "address", "place"},
    "Output": {"section", "name", "numbers", "parts", "address", "place"},
    "Limit": {"sense", "bound", "curve", "address", "place"},
    "BandLimit": {"address", "place"},
    "MissingRule": set(),
    "Gate": {"name", "address", "place"},
    "Waiver": {"step", "place"},
}


def reached(found: Declaration[Any]) -> Iterator[Declaration[Any]]:
    """A declaration, and all that may stand in it."""
    yield found
    for said_of in found.keys.values():
        yield from in_kind(said_of.kind)


def in_kind(kind: kinds.Kind) -> Iterator[Declaration[Any]]:
    """The declarations that a kind holds."""
    match kind:
        case Noun() | Keyed() | nouns.Error():
            yield from reached(kind.declaration)
        case kinds.Several() | kinds.Named():
            yield from in_kind(kind.of)
        case kinds.Either():
            for one in kind.of:
                yield from in_kind(one)
        case kinds.Curve():
            yield from reached(CURVE)


def test_every_noun_that_can_be_written_is_in_the_schema_and_on_the_page() -> None:
    """What is reached from the form, and nothing else."""
    names = {found.name for found in reached(FORM)} - {FORM.name, WAIVER.name}
    assert names == {found.name for found in DECLARED}


@pytest.mark.parametrize("found", [FORM, WAIVER, *DECLARED], ids=lambda found: found.name)
def test_every_field_of_a_noun_has_its_declaration(found: Declaration[Any]) -> None:
    """Save those that are told above."""
    every = {field.name for field in fields(found.noun)}
    assert every - set(found.fields) == NOT_FROM_ONE_KEY[found.noun.__name__]


@pytest.mark.parametrize("found", [FORM, WAIVER, *DECLARED], ids=lambda found: found.name)
def test_every_number_says_what_it_is_a_number_of(found: Declaration[Any]) -> None:
    """A number that is read from a key, or that several keys fill, has a role; constants alone are plain."""
    for field in fields(found.noun):
        if "Number" in str(field.type) and field.name not in ("constants", "numbers", "anchors", "figures"):
            kind = found.fields[field.name].kind if field.name in found.fields else None
            inner = getattr(kind, "of", None)
            held = inner if isinstance(inner, tuple) else (inner,)
            roles = {one.role for one in held if isinstance(one, kinds.Number)}
            assert field.metadata["unit_role"] or roles - {None}, field.name


@noun
class Lamp:
    """A noun that is declared here and nowhere else."""

    name: str
    label: str = key(kinds.Label(capital=True), "Its name in print.", "label: Reading lamp")
    reach: Number = key(
        kinds.Number(UnitRole.LENGTH, above=0, most=9), "How far it reaches.", "reach: 2", required=True
    )
    dim: Number = key(kinds.Number(UnitRole.SHARE, least=0, default=0.5), "How dim it is.", "dim: 0.2", old="dull")
    colour: Choice = key(
        kinds.Word({"warm": "yellow", "cold": "blue"}, old={"icy": "cold"}), "Its colour.", "colour: cold"
    )
    span: tuple[Number, Number] | None = key(kinds.Pair(UnitRole.ALONG), "From where to where.", "span: [1, 2]")
    heat: Number | None = key(kinds.NumberOrNull(UnitRole.ALONG), "How hot it gets.", "heat: 40", name="warmth")
    lit: bool = key(kinds.Flag(), "Whether it is on.", "lit: true")
    rooms: tuple[str, ...] = key(kinds.Several(kinds.Text(), "rooms", empty=True), "Where it stands.", "rooms: [hall]")
    watts: tuple[Number, ...] = counted(UnitRole.COUNT)
    address: str


LAMP = Declaration(
    Lamp,
    "lamp",
    title="Lamps",
    as_in="{reach: 2}",
    rules=(OneOf(("span", "lit")), SomeOf(("dim", "colour")), Beside("span", "warmth")),
    order="reach label",
)


def lamp(text: str) -> tuple[Lamp | None, list[Problem], Reader]:
    """A lamp that is read from a text, and what is wrong with it."""
    problems: list[Problem] = []
    reader = Reader(0, problems)
    found = reader.noun(read_document(text, "lamp.yaml"), "lamps.big_one", LAMP)
    return (made(LAMP, found, name="big_one", watts=()) if isinstance(found, Fields) else None), problems, reader


def test_a_noun_is_read_by_its_declaration_alone() -> None:
    """Every kind of key, under names of its own and of before, with its address."""
    text = "{reach: 2, dull: 0.2, colour: icy, span: [1, 2], warmth: 40, lit: true, rooms: [hall], label: Lamp}"
    found, problems, reader = lamp(text)
    assert problems == []
    assert found is not None
    assert (found.reach.value, found.dim.value, found.colour.value, found.lit, found.rooms) == (
        2,
        0.2,
        "cold",
        True,
        ("hall",),
    )
    assert found.heat is not None
    assert (found.heat.address, found.dim.address) == ("lamps.big_one.warmth", "lamps.big_one.dim")
    assert found.span is not None
    assert [end.address for end in found.span] == ["lamps.big_one.span.from", "lamps.big_one.span.to"]
    assert [(one.old, one.new) for one in reader.renamed] == [("dull", "dim"), ("icy", "cold")]
    assert (found.label, found.address) == ("Lamp", "lamps.big_one")


def test_what_is_left_unsaid_has_its_default() -> None:
    """Or nothing, where it has none; `null` says as much."""
    found, problems, _ = lamp("{reach: 2, warmth: null, span: ~}")
    assert problems == []
    assert found is not None
    assert (found.label, found.dim.value, found.colour.value, found.lit) == ("Big one", 0.5, "warm", False)
    assert (found.heat, found.span, found.rooms) == (None, None, ())


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("{dim: 1}", "1:1: no `reach` in lamps.big_one; expected `reach: ...`"),
        ("{reach: 0}", "1:9: 0 for lamps.big_one.reach; expected a number above 0 and at most 9"),
        ("{reach: 10}", "1:9: 10 for lamps.big_one.reach; expected a number above 0 and at most 9"),
        ("{reach: 1, colour: red}", "1:20: `red` for lamps.big_one.colour; expected one of warm, cold"),
        ("{reach: 1, span: [2, 1]}", "1:19: [2, 1] for lamps.big_one.span; expected the lesser number first"),
        ("{reach: 1, lit: yes}", "1:17: `yes` for lamps.big_one.lit; expected true or false"),
        ("[1]", "1:1: a list; expected a lamp as a mapping of keys. As in `{reach: 2}`"),
        (
            "{reach: 1, colr: warm}",
            "1:12: the key `colr` in lamps.big_one; expected a known key. Did you mean `colour`?",
        ),
    ],
    ids=lambda part: part[:20],
)
def test_a_fault_says_what_is_declared(text: str, fault: str) -> None:
    """The bounds, the words, what may stand in its place."""
    _, problems, _ = lamp(text)
    assert [str(problem).removeprefix("lamp.yaml:").removesuffix(".") for problem in problems] == [fault]


def test_the_schema_says_what_is_declared() -> None:
    """And takes what the reader takes."""
    schema = LAMP.schema()
    validator = jsonschema.Draft202012Validator({**schema, "$defs": {}})
    assert list(schema["properties"])[:2] == ["reach", "label"]
    assert schema["required"] == ["reach"]
    assert schema["properties"]["dim"]["default"] == 0.5
    assert schema["properties"]["dull"]["deprecated"]
    for text, fits in (
        ("{reach: 2, dim: 1, lit: true}", True),
        ("{reach: 2, lit: true}", False),
        ("{reach: 2, dim: 1, lit: true, span: [1, 2]}", False),
        ("{reach: 2, dim: 1, span: [1, 2]}", False),
        ("{reach: 2, dim: 1, span: [1, 2], warmth: 3}", True),
        ("{reach: 0, dim: 1, lit: true}", False),
        ("{reach: 2, dim: 1, lit: true, colour: red}", False),
    ):
        document = json.loads(json.dumps(YAML(typ="safe").load(text)))
        assert validator.is_valid(document) == fits, text


def test_a_number_has_the_role_that_its_key_declares() -> None:
    """Where `number_units` looks for it."""
    roles = {field.name: field.metadata.get("unit_role") for field in fields(Lamp)}
    assert (roles["reach"], roles["watts"], roles["heat"], roles["lit"]) == (
        UnitRole.LENGTH,
        UnitRole.COUNT,
        UnitRole.ALONG,
        None,
    )


def test_a_key_is_called_as_its_field_where_it_has_no_name() -> None:
    """Or by the name that it states."""
    assert [found.name for found in keys_of(Lamp).values()][-3:] == ["warmth", "lit", "rooms"]
    assert all(isinstance(found, Key) for found in LAMP.keys.values())


def test_a_kind_that_nothing_reads_is_no_silent_nothing() -> None:
    """A noun whose own reader forgot it would lose what is written."""
    node = read_document("{a: 5%}", "f")
    fields_of = Reader(0, []).fields(node, "x", ["a"], "a thing")
    assert fields_of is not None
    with pytest.raises(TypeError, match=r"nothing reads Share\(\) at x\.a by itself"):
        read_kind(kinds.Share(), node, fields_of, "a")


def test_rules_of_rounding_that_a_form_may_ask_for_have_words_in_print() -> None:
    """All words of a rule stand beside its arithmetic."""
    assert list(FORM_RULES) == ["half-up", "half-even", "down", "up"]
    assert [name for name, rule in ROUNDING_RULES.items() if bool(rule.means) != bool(rule.in_print)] == []
    assert all(rule.of_a_step for rule in ROUNDING_RULES.values())
