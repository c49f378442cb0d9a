"""Records: the same bytes, fingerprints that find any edit, states chained by their fingerprints, and what a record says of itself."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from written_records import CHAIN, LEAVES, MENDED, PUBLISHED, put, sections, whole

from analysis.asked import is_day
from analysis.json_text import canonical, digest_of
from analysis.records.corrections import (
    changed_figures,
    corrected,
    fingerprint_findings,
    fingerprint_record,
    fingerprint_state,
    first_publication,
)
from analysis.records.document import RecordError, first_odd_line, read_record, record_bytes
from analysis.records.record import SECTIONS
from analysis.records.verification import is_readable, verify_alone


def lists(content: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every list of a document that holds something."""
    items = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    if content and isinstance(content, list):
        yield path
    for key, item in items:
        yield from lists(item, (*path, key))


@st.composite
def edited_texts(draw: st.DrawFn) -> str:
    """The record's text with one character of one leaf replaced, put in or taken out."""
    mark = "\u2603 here"
    copy, before = put(CHAIN, draw(st.sampled_from(LEAVES)), mark)
    token = json.dumps(before, ensure_ascii=False)
    at = draw(st.integers(0, len(token) - 1))
    way = draw(st.sampled_from(("replace", "put in", "take out")))
    character = draw(st.one_of(st.sampled_from('0123456789.eE-+ "\\/{'), st.characters(codec="utf-8")))
    edited = token[:at] + ("" if way == "take out" else character) + token[at + (way != "put in") :]
    edited = edited if edited != token else token[:at] + ("x" if token[at] != "x" else "y") + token[at + 1 :]
    return record_bytes(copy).decode().replace(json.dumps(mark, ensure_ascii=False), edited)


def test_the_same_state_gives_the_same_bytes() -> None:
    """Two runs, in two folders, make one record."""
    assert record_bytes(first_publication(sections(), "2025-03-01")) == record_bytes(
        first_publication(PUBLISHED, "2025-03-01")
    )


def test_canonical_text_sorts_keys_and_knows_no_blanks() -> None:
    """The hash is that of a text which anyone can write: worked by hand, and hashed by `sha256sum`'s rule."""
    assert canonical({"b": [1.5, None], "a": "é"}) == '{"a":"é","b":[1.5,null]}'.encode()
    assert digest_of({"b": 1, "a": 2}) == hashlib.sha256(b'{"a":2,"b":1}').hexdigest()
    with pytest.raises(ValueError, match="JSON compliant"):
        canonical(float("nan"))


def test_a_record_as_written_holds(tmp_path: Path) -> None:
    """Publication and two corrections: fingerprints, chain, rules and recomputing find nothing."""
    path = tmp_path / "r.json"
    path.write_bytes(record_bytes(CHAIN))
    found = verify_alone(read_record(path), path)
    assert (found.fingerprints, found.within, found.holds) == ((), (), True)


def test_a_correction_writes_only_the_sections_that_changed_and_keeps_the_rest() -> None:
    """The first correction changes readings, catalogue and figures (and the live statistics); the formula is kept by hash."""
    entry = CHAIN["corrections"][0]
    assert set(entry["sections"]) == {"catalogue", "readings", "figures"}
    assert entry["hashes"]["formula"] == CHAIN["publication"]["hashes"]["formula"]
    assert whole(CHAIN).states[1].sections["formula"] == PUBLISHED["formula"]
    assert CHAIN["publication"]["sections"]["figures"] == PUBLISHED["figures"]
    assert set(CHAIN["publication"]["sections"]) == set(SECTIONS)


def test_a_correction_lists_old_and_new_of_every_changed_figure() -> None:
    """A-01: edge 10 - 4*20/40 = 8, then 10 - 4*24/40 = 7.6; reading (3*8 + 1)/4 = 6.25, then 5.95: A-03, at 6, leads."""
    changed = CHAIN["corrections"][0]["changed"]
    by_output = {(one["product"], one["output"]): one for one in changed}
    assert set(by_output) == {("A-01", "edge"), ("A-01", "reading"), ("A-03", "reading")}
    leader = by_output["A-03", "reading"]
    assert (leader["old"]["rank"], leader["new"]["rank"], leader["new"]["value"]) == (2, 1, 6.0)
    edge = by_output["A-01", "edge"]
    assert edge["old"]["value"] == 8.0
    assert edge["new"]["value"] == pytest.approx(7.6, abs=1e-12)
    assert CHAIN["corrections"][1]["changed"] == []


@given(edited_texts())
@settings(max_examples=examples(400))
def test_any_edit_of_one_character_of_any_leaf_is_found(tmp_path_factory: Any, text: str) -> None:
    """It is no record any more, or a fingerprint does not hold, or (a number spelt otherwise) a line is not as it was written."""
    path = tmp_path_factory.mktemp("edited") / "r.json"
    path.write_bytes(text.encode())
    try:
        record = read_record(path)
    except RecordError:
        return
    same = json.loads(text) == CHAIN
    assert fingerprint_findings(record) or (same and first_odd_line(path, record.document))


@given(edited_texts())
@settings(max_examples=examples(25))
def test_an_edited_record_is_looked_at_in_full_without_a_crash(tmp_path_factory: Any, text: str) -> None:
    """Recomputing from edited content ends in findings or a fault, never in another error."""
    path = tmp_path_factory.mktemp("edited") / "r.json"
    path.write_bytes(text.encode())
    try:
        found = verify_alone(read_record(path), path)
    except RecordError:
        return
    assert not found.holds


@pytest.mark.parametrize("number", [0, 1, 2])
@pytest.mark.parametrize(
    "edit",
    [
        lambda entry: entry.update(date="2025-03-31"),
        lambda entry: entry["hashes"].update(readings="0" * 64),
        lambda entry: entry["sections"]["readings"][0].update(id="A-09"),
        lambda entry: entry["sections"].pop("readings"),
        lambda entry: entry.update(fingerprint="0" * 64),
    ],
    ids=["date", "hash", "section", "section removed", "fingerprint"],
)
def test_an_edit_of_any_state_of_the_chain_is_named(number: int, edit: Any) -> None:
    """The state that was edited is the first one named, whichever it is."""
    document = deepcopy(CHAIN)
    edit([document["publication"], *document["corrections"]][number])
    states = [one.state for one in fingerprint_findings(whole(document))]
    name = "publication" if number == 0 else f"correction {number}"
    assert name in states


@pytest.mark.parametrize("key", ["cause", "previous", "changed"])
def test_an_edit_of_what_a_correction_says_is_named(key: str) -> None:
    """Cause, link and list of changes are under the correction's fingerprint."""
    document = deepcopy(CHAIN)
    document["corrections"][0][key] = [] if key == "changed" else "other"
    assert any(one.state == "correction 1" for one in fingerprint_findings(whole(document)))


def test_a_correction_that_was_taken_out_is_missed_even_when_the_whole_is_fingerprinted_anew() -> None:
    """The second correction follows on the first, by its fingerprint."""
    document = fingerprint_record([CHAIN["publication"], CHAIN["corrections"][1]])
    found = fingerprint_findings(whole(document))
    assert any(one.kind == "chain" and "does not follow" in one.says for one in found)
    swapped = fingerprint_record([CHAIN["publication"], *CHAIN["corrections"][::-1]])
    assert any(one.kind == "chain" for one in fingerprint_findings(whole(swapped)))


def test_a_last_correction_that_was_taken_off_is_hinted_at() -> None:
    """The fingerprints of what is left hold, and the whole one does not; where a state was edited too, nothing is guessed."""
    document = {**CHAIN, "corrections": CHAIN["corrections"][:1]}
    (found,) = fingerprint_findings(whole(document))
    assert found.says.startswith("the record: its fingerprint does not hold, and yet that of each state in it does")
    assert "a correction may be missing at its end" in found.says
    edited = put(document, ("publication", "date"), "2025-03-02")[0]
    assert not any("may be missing" in one.says for one in fingerprint_findings(whole(edited)))


def test_a_section_that_no_record_has_is_named() -> None:
    """By its name, and not by a hash that it cannot have."""
    document = put(CHAIN, ("publication", "sections", "notes"), "x", new=True)[0]
    assert [one.says for one in fingerprint_findings(whole(document))] == [
        "publication, section notes: no section of a record"
    ]


@pytest.mark.parametrize(
    ("section", "named"),
    [("figures", "A-02: in section readings, and not in section figures"), ("readings", "A-02: in")],
)
def test_a_product_that_was_taken_out_hides_nothing_else(tmp_path: Path, section: str, named: str) -> None:
    """The figure that was edited beside it is named too, and the record is compared further."""
    document = put(CHAIN, ("publication", "sections", "figures", 0, "scores", "reading", "shown"), 9.9)[0]
    del document["publication"]["sections"][section][1]
    file = tmp_path / "r.json"
    file.write_bytes(record_bytes(document))
    found = verify_alone(read_record(file), file)
    says = [one.says for one in found.within if one.state == "publication"]
    assert any(one.startswith(named) for one in says)
    assert any(one.startswith("A-01, reading: shown 9.9") for one in says)
    assert is_readable(found)


LISTS = [path for path in lists(CHAIN) if path]


@given(st.data())
@settings(max_examples=examples(60))
def test_an_item_deleted_doubled_or_moved_is_found_without_a_crash(tmp_path_factory: Any, data: st.DataObject) -> None:
    """In any list of a record that is fingerprinted anew or not: products, repeats, remarks, corrections, anchors."""
    path = data.draw(st.sampled_from(LISTS))
    document = deepcopy(CHAIN)
    items = document
    for key in path:
        items = items[key]
    at, way = data.draw(st.integers(0, len(items) - 1)), data.draw(st.sampled_from(("delete", "double", "move")))
    item = items.pop(at)
    if way != "delete":
        items[:0] = [item, item] if way == "double" else [item]
    file = tmp_path_factory.mktemp("items") / "r.json"
    file.write_bytes(record_bytes(document))
    found = verify_alone(read_record(file), file)
    assert found.holds == (document == CHAIN)


def test_dates_do_not_go_backwards() -> None:
    """A correction before its publication is refused; one that was recorded so is found."""
    record = whole(first_publication(PUBLISHED, "2025-03-01"))
    with pytest.raises(RecordError, match="2025-02-28, before the publication of 2025-03-01"):
        corrected(record, MENDED, "2025-02-28", "cause", "r.json")
    about = {"date": "2025-02-28", "cause": "c", "previous": record.latest.fingerprint, "changed": []}
    forged = fingerprint_record([record.latest.entry, fingerprint_state(MENDED, record.latest, about)])
    assert [one.kind for one in fingerprint_findings(whole(forged))] == ["chain"]


def test_nothing_to_correct_and_a_broken_record_are_refused() -> None:
    """The same state again, and a record that was edited, take no correction."""
    document = first_publication(PUBLISHED, "2025-03-01")
    with pytest.raises(RecordError, match="something to correct"):
        corrected(whole(document), PUBLISHED, "2025-04-01", "cause", "r.json")
    broken = put(document, ("publication", "sections", "figures", 0, "id"), "A-09")[0]
    with pytest.raises(RecordError, match="not as it was recorded"):
        corrected(whole(broken), MENDED, "2025-04-01", "cause", "r.json")


def forged(path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    """A publication with another value at a path of its sections, and every hash worked out anew."""
    return first_publication(put(PUBLISHED, path, value)[0], "2025-03-01")


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("figures", 0, "scores", "reading", "shown"), 9.9, "A-01, reading: shown 9.9"),
        (("figures", 0, "scores", "reading", "rank"), 2, "A-01, reading: place 2"),
        (("figures", 0, "scores", "reading", "band"), "weak", "band weak -> fair"),
        (("figures", 0, "scores", "reading", "remarks"), [], "now `near loud`"),
        (("figures", 0, "scores", "reading", "status"), "partial", "status partial -> rated"),
        (("figures", 0, "ratings", "edge", "value"), 8.0000001, "A-01, edge: value 8.0000001 -> 8.0"),
        (
            ("readings", 0, "measures", "drop", "repeats"),
            [61.0],
            "A-01, drop: its repeats do not give the recorded 60.0",
        ),
        (("readings", 0, "digest"), "0", "A-01: its digest"),
        (("reference", 0, "value"), [1.0], "over the catalogue: 1 ->"),
        (("addresses", "scores.reading.weights.edge"), "4", "scores.reading.weights.edge: 4 -> 3"),
        (("rules", "ranks", "ties"), "dense", "the rules of rounding, ranks and bands"),
        (("formula", "sha256"), "0", "the formula's sha256"),
        (("formula", "texts", 0, "text"), "formula: x", "nothing can be recomputed"),
        (("formula", "texts"), [], "nothing can be recomputed: the record's formula: no text"),
        (("cautions",), [], f"a caution of the formula, and not in the record: `{PUBLISHED['cautions'][0]}`"),
        (("cautions",), [*PUBLISHED["cautions"], "Mind."], "in the record, and no caution of the formula: `Mind.`"),
        (("catalogue", "products"), 4, "the number of products, 4, is not that of the readings, 3"),
        (("figures",), PUBLISHED["figures"][:2], "A-03: in section readings, and not in section figures"),
        (("readings",), PUBLISHED["readings"][1:], "A-01: in section figures, and not in section readings"),
        (("figures",), [*PUBLISHED["figures"], PUBLISHED["figures"][1]], "A-02: 2 times in section figures"),
        (("figures",), PUBLISHED["figures"][::-1], "A-03: in section figures in the place of A-01"),
    ],
)
def test_a_forged_record_whose_fingerprints_hold_is_found_by_recomputing(
    tmp_path: Path, path: tuple[Any, ...], value: Any, said: str
) -> None:
    """The fingerprints are no signature: what was edited and fingerprinted anew does not follow from the rest of the record."""
    file = tmp_path / "r.json"
    file.write_bytes(record_bytes(forged(path, value)))
    found = verify_alone(read_record(file), file)
    assert found.fingerprints == ()
    assert any(said in one.says for one in found.within), [one.says for one in found.within]


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("figures", 0, "id"), 3, "at figures.1.id: 3; expected a text"),
        (
            ("formula",),
            {**PUBLISHED["formula"], "note": ""},
            "at formula: the unknown key `note`; expected the keys name",
        ),
        (("figures", 0, "id"), [], "at figures.1.id: a list; expected a text"),
        (
            ("figures", 1, "scores"),
            {},
            r"figures.2.scores \(A-02\): the key `reading` is missing; expected the outputs",
        ),
        (("readings", 2, "attributes"), {"maker": "", "x": ""}, r"readings.3.attributes \(A-03\): the unknown key `x`"),
        (("rules", "outputs", "edge", "rule"), "half", "one of ceiling, down"),
        (("rules", "outputs", "edge", "step"), 0, "a number above 0"),
        (("readings", 0, "measures"), {}, r"readings.1.measures \(A-01\): the key `noise` is missing"),
    ],
)
def test_a_sound_record_of_another_shape_is_refused(
    tmp_path: Path, path: tuple[Any, ...], value: Any, said: str
) -> None:
    """It was made by something else: where, and what was expected."""
    file = tmp_path / "r.json"
    file.write_bytes(record_bytes(forged(path, value)))
    with pytest.raises(RecordError, match=said):
        verify_alone(read_record(file), file)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"record": }', r"r\.json:1:12: not JSON"),
        ("{}", "no record of steelyard"),
        ("[1]", "no record of steelyard"),
        ('{"record": 1, "record": 2}', "the key `record` twice"),
        ('{"a": NaN}', "NaN, which is no number"),
        ('{"a": 1e999}', "too large to hold"),
        ('{"a": 1' + "0" * 400 + "}", "the number 1000000000000000000000000000000000000000..., too large to hold"),
        ('{"a": -' + "9" * 5000 + "}", "too large to hold"),
        ('{"a": "\\ud800"}', "half of a surrogate pair"),
        ("[" * 200_000, "nested too deep"),
        (json.dumps(CHAIN | {"format": 3}), "a record of format 3; expected format 1 to 2\\. A newer"),
        (json.dumps(CHAIN | {"format": True}), r"a record of format true; expected format 1 to 2\."),
        (json.dumps(CHAIN | {"fingerprint": 3}), "at record.fingerprint: 3; expected a text"),
        (json.dumps(CHAIN | {"note": 3}), "at record: the unknown key `note`; expected the keys record, format"),
        (
            json.dumps({key: CHAIN[key] for key in CHAIN if key != "fingerprint"}),
            "at record: the key `fingerprint` is missing",
        ),
    ],
    ids=[
        "json",
        "empty",
        "list",
        "twice",
        "nan",
        "huge",
        "long",
        "longer",
        "surrogate",
        "deep",
        "newer",
        "true",
        "fingerprint",
        "extra",
        "less",
    ],
)
def test_what_is_no_record_is_refused_with_its_place(tmp_path: Path, text: str, said: str) -> None:
    """Each is one fault in words."""
    path = tmp_path / "r.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RecordError, match=said):
        read_record(path)


@pytest.mark.parametrize(
    ("text", "day"),
    [("2025-03-01", True), ("2024-02-29", True), ("2025-02-29", False), ("20250301", False), ("2025-3-1", False)],
)
def test_a_date_is_a_day_written_in_full(text: str, day: bool) -> None:
    """Year, month, day, with leading zeros; the day exists."""
    assert is_day(text) is day


@pytest.mark.parametrize("cause", ["", " ", "\u3164", "..."])
def test_a_correction_without_a_cause_is_neither_made_nor_sound(tmp_path: Path, cause: str) -> None:
    """From Python as from the command; one that was forged so, with fitting fingerprints, is found."""
    record = whole(first_publication(PUBLISHED, "2025-03-01"))
    with pytest.raises(RecordError, match="a correction without a cause"):
        corrected(record, MENDED, "2025-04-01", cause, "r.json")
    about = {"date": "2025-04-01", "cause": cause, "previous": record.latest.fingerprint}
    about |= {"changed": changed_figures(PUBLISHED, MENDED)}
    path = tmp_path / "r.json"
    forged = fingerprint_record([record.latest.entry, fingerprint_state(MENDED, record.latest, about)])
    path.write_bytes(record_bytes(forged))
    found = verify_alone(read_record(path), path)
    assert [one.says for one in found.within] == ["correction 1: its cause says nothing"]
