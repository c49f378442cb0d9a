"""The schema of a record: what is published fits it, an outsider and the reader refuse alike, and no document breaks either."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from written_records import CHAIN, LEAVES, PUBLISHED, put

from analysis.json_shapes import DEEPEST, MOST_NAMED, misfits
from analysis.outputs.manifest import SHAPE
from analysis.records.document import RecordError, read_record, record_bytes
from analysis.records.record import SECTIONS
from analysis.records.schema import SECTION_SHAPES, record_schema, section_misfits

OLD = Path(__file__).parent / "data" / "format-1.json"
OUTSIDER = jsonschema.Draft202012Validator(record_schema())
STANDING = ("publication", "sections", "figures", 0, "scores", "reading")


def test_the_schema_is_a_schema_and_says_what_each_key_is() -> None:
    """By the dialect's own schema; every object's keys carry a sentence."""
    jsonschema.Draft202012Validator.check_schema(record_schema())
    assert [name for name in record_schema()["$defs"] if name in SECTIONS] == list(SECTIONS)

    def silent(schema: Any, path: str) -> list[str]:
        found = []
        for key, inner in schema.get("properties", {}).items():
            known = "description" in inner or "$ref" in inner
            found += [] if known else [f"{path}.{key}"]
            found += silent(inner, f"{path}.{key}")
        for key in ("items", "additionalProperties"):
            if isinstance(schema.get(key), dict):
                found += silent(schema[key], f"{path}.{key}")
        return found

    assert [line for name, schema in record_schema()["$defs"].items() for line in silent(schema, name)] == []


@pytest.mark.parametrize("document", [CHAIN, json.loads(OLD.read_text(encoding="utf-8"))], ids=["newest", "format 1"])
def test_a_publication_and_its_corrections_fit_the_printed_schema(document: Any) -> None:
    """In each format that is read."""
    OUTSIDER.validate(document)


def read(document: Any, folder: Path) -> list[str]:
    """The faults of a document at reading, and of its sections; none where it is a record."""
    path = folder / "r.json"
    path.write_bytes(record_bytes(document))
    try:
        record = read_record(path)
    except RecordError as fault:
        return [str(one) for one in fault.problems]
    return [one.where for state in record.states for one in section_misfits(dict(state.sections))]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ((*STANDING, "value"), "9"),
        ((*STANDING, "status"), "fine"),
        ((*STANDING, "remarks"), [1]),
        ((*STANDING, "note"), ""),
        (("publication", "sections", "rules", "outputs", "edge", "step"), 0),
        (("publication", "sections", "readings", 0, "measures", "noise", "repeats"), [[]]),
        (("publication", "sections", "readings", 0, "measures", "noise", "sessions"), ["S1", 2]),
        (("publication", "sections", "cautions"), {}),
        (("publication", "date"), 2025),
        (("corrections", 0, "changed", 0, "old"), []),
        (("corrections", 1, "sections", "readings", 0, "attributes", "maker"), None),
        (("fingerprint",), True),
        (("note",), ""),
    ],
    ids=lambda one: ".".join(map(str, one)) if isinstance(one, tuple) else None,
)
def test_what_an_outsider_refuses_the_reader_refuses(path: tuple[Any, ...], value: Any, tmp_path: Path) -> None:
    """Each is one slip in a sound record."""
    document = put(CHAIN, path, value, new=path[-1] in ("note", "sessions"))[0]
    assert not OUTSIDER.is_valid(document)
    assert len(read(document, tmp_path)) >= 1


@pytest.mark.parametrize("path", LEAVES[::7], ids=lambda path: ".".join(map(str, path)))
def test_every_leaf_is_held_to_its_shape_by_both_alike(path: tuple[Any, ...], tmp_path: Path) -> None:
    """An object in the place of a leaf fits nowhere."""
    document = put(CHAIN, path, {"x": 1})[0]
    assert not OUTSIDER.is_valid(document)
    assert read(document, tmp_path)


def test_a_fault_names_its_place_even_where_null_may_stand() -> None:
    """The list of repeats may be null; of a list, the repeat that is wrong is named."""
    kept = deepcopy(PUBLISHED["readings"])
    kept[1]["measures"]["noise"]["repeats"] = [1.0, {}]
    kept[2]["measures"]["noise"]["repeats"] = "none"
    told = [(one.where, one.found, one.expected) for one in misfits(SECTION_SHAPES["readings"], kept, "readings")]
    assert told == [
        ("readings.2.measures.noise.repeats.2", "an object", "a finite number or a text or null"),
        ("readings.3.measures.noise.repeats", '"none"', "a list or null"),
    ]


def test_missing_and_unknown_keys_come_one_a_line_in_order() -> None:
    """Of one object, then of the next, in the order in which they stand."""
    kept = [{"id": "A", "x": 1, "b": 2}, {"digest": ""}]
    told = [(one.where, one.found) for one in misfits(SECTION_SHAPES["readings"], kept, "readings")]
    missing = [f"the key `{key}` is missing" for key in ("digest", "attributes", "measures")]
    assert told == [
        *(("readings.1", says) for says in missing),
        ("readings.1", "the unknown key `x`"),
        ("readings.1", "the unknown key `b`"),
        ("readings.2", "the key `id` is missing"),
        *(("readings.2", says) for says in missing[1:]),
    ]


def test_keys_of_any_name_are_looked_at_in_the_order_of_the_document() -> None:
    """So that the same record is refused in the same words on every run."""
    names = [f"m{number}" for number in range(30, 0, -1)]
    told = [one.where for one in misfits(SECTION_SHAPES["addresses"], dict.fromkeys(names, 1), "addresses")]
    assert told == [f"addresses.{name}" for name in names]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), True, 10**400], ids=str)
def test_what_is_no_finite_number_is_none(value: Any) -> None:
    """NaN and infinity, which Python reads from JSON; a truth value. A whole number may have any size."""
    document = {"manifest": SHAPE["properties"]["manifest"]["enum"][0], "format": value, "fingerprint": "", "files": []}
    told = [(one.where, one.expected) for one in misfits(SHAPE, document, "manifest")]
    assert told == ([] if value == 10**400 else [("manifest.format", "a finite number")])


def nested(depth: int) -> Any:
    """Lists inside each other."""
    found: Any = 1
    for _ in range(depth):
        found = [found]
    return found


@pytest.mark.parametrize("depth", [DEEPEST - 10, DEEPEST + 1, 300])
def test_what_is_nested_deep_is_refused_in_words(depth: int, tmp_path: Path) -> None:
    """Where it stands, or, far below all that a record has, as too deep."""
    document = put(CHAIN, ("fingerprint",), nested(depth))[0]
    says = "at record.fingerprint: a list; expected a text" if depth < DEEPEST else "nested too deep"
    with pytest.raises(RecordError, match=says):
        read_record(written(document, tmp_path))


def written(document: Any, folder: Path) -> Path:
    """A document in a file."""
    path = folder / "r.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_of_very_many_faults_the_first_are_named(tmp_path: Path) -> None:
    """And no line holds the value itself."""
    document = put(CHAIN, ("corrections", 0, "changed"), [["x" * 1000] * 9] * 5000)[0]
    with pytest.raises(RecordError) as caught:
        read_record(written(document, tmp_path))
    lines = [str(one) for one in caught.value.problems]
    assert len(lines) == MOST_NAMED
    assert all(len(line) < 500 for line in lines)
