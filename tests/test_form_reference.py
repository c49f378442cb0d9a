"""The reference of the form: every key is described, every example is read, every default and bound is what the reader does."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from itertools import chain
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from ruamel.yaml import YAML
from written_forms import own_numbers

from analysis.project import project_section
from analysis.study.study_reference import study_section
from scoring.blends import BLENDS
from scoring.catalogue.cells import parse_cells
from scoring.catalogue.long import COLUMNS as LONG_COLUMNS
from scoring.catalogue.long import FLAGS as LONG_FLAGS
from scoring.catalogue.readings import State
from scoring.curves import KINDS
from scoring.errors import FormulaError, Place
from scoring.expression.vocabulary import FUNCTIONS, NONE, SIGNS, STATISTICS, USES
from scoring.form import CHECKLIST, CURVE, DECLARED, FORM, OUTSIDE, Choice, Form, Number
from scoring.form_reference import form_reference
from scoring.form_reference.catalogue import CELLS, COLUMNS, FLAGS, USUAL
from scoring.form_reference.curves import example_curve
from scoring.form_reference.schema import formula_schema
from scoring.form_reference.text import anchor
from scoring.reader import read_form, read_sources
from scoring.texts.source import Source, Spot
from scoring.units.conversion import SPELLINGS, convert, same_unit

ROOT = Path(__file__).parents[1]
SCHEMA = formula_schema()
PAGE = form_reference(chain(study_section(), project_section()))
NEIGHBOUR = "constants: {taken_constant: 1}\nattributes: {taken_word: {}}\nmeasures: {taken: {unit: mm}}\n"

QUIET = "measure: noise_dba, curve: {line: {worst: 46, best: 22}}"
EDGE = "{measure: sit_drop, curve: {points: {40: 10, 80: 6, 135: 1}}}"
MIX = "mix: [{measure: noise_dba, curve: {line: {worst: 46, best: 22}}}, {rating: edge}]"
WEIGHTS = "weights: {edge: 4, quiet: 1}"
#: A blend that takes each number of blends.
OWN = {number.name: f"blend: {blend.name}" for blend in BLENDS.values() for number in blend.numbers}
LINES = {
    "formula": "formula: f",
    "bands": "bands: {strong: 7, fair: 4, weak: 1}",
    "constants": "constants: {loudest: 60}",
    "attributes": "attributes: {fire_evidence: {values: [on_file, pending, none]}}",
    "measures": (
        "measures: {noise_dba: {unit: dB, repeatability: 1, between_sessions: 1, between_specimens: 1, systematic: 1}, "
        "sit_drop: {unit: mm, repeatability: 1, between_sessions: 1, between_specimens: 1, systematic: 1}}"
    ),
    "ratings": f"ratings: {{quiet: {{{QUIET}}}, edge: {EDGE}}}",
    "scores": f"scores: {{reading_upright: {{{WEIGHTS}}}}}",
}
#: Where each table's keys stand: the section, and what surrounds them; then what must stand beside a key ("" is any other).
SITES: dict[str, tuple[str, str, dict[str, str]]] = {
    "takes": ("takes", "{@}", {"": "file: edition-7.yaml", "file": ""}),
    "scale": ("scale", "{@}", {"": "", "from": "to: 10"}),
    "rounding": ("scale", "{show: {@}}", {"": "step: 0.1", "step": ""}),
    "ranks": ("ranks", "{@}", {"": ""}),
    "attribute": ("attributes", "{fire_evidence: {@}}", {"": ""}),
    "measure": ("measures", "{noise_dba: {@}, sit_drop: {unit: mm}}", {"": "unit: dB", "unit": ""}),
    "scatter": (
        "measures",
        "{noise_dba: {unit: dB, between_sessions: {@}}, sit_drop: {unit: mm}}",
        {"": "standard_deviation: 1", "standard_deviation": ""},
    ),
    "systematic": (
        "measures",
        "{noise_dba: {unit: dB, systematic: {@}}, sit_drop: {unit: mm}}",
        {
            "": "half_width: 1",
            "half_width": "",
            "standard_uncertainty": "",
            "degrees_of_freedom": "standard_uncertainty: 1",
        },
    ),
    "error_correlation": (
        "error_correlations",
        "{plate: {@}}",
        {
            "": "measures: [noise_dba, sit_drop], coefficient: 0.5",
            "measures": "coefficient: 0.5",
            "coefficient": "measures: [noise_dba, sit_drop]",
        },
    ),
    "rating": (
        "ratings",
        f"{{quiet: {{@}}, edge: {EDGE}}}",
        {
            "": QUIET,
            "measure": "curve: {line: {worst: 46, best: 22}}",
            "curve": "measure: noise_dba",
            "mix": "",
            "value": "",
            "blend": MIX,
            **{number: f"{MIX}, {blend}" for number, blend in OWN.items()},
            "missing": MIX,
            "jumps": 'value: "where(noise_dba < 30, 10, 5)"',
        },
    ),
    "mix_part": (
        "ratings",
        f"{{quiet: {{mix: [{{@}}, {{rating: edge}}]}}, edge: {EDGE}}}",
        {
            "": QUIET,
            "measure": "curve: {line: {worst: 46, best: 22}}",
            "curve": "measure: noise_dba",
            "rating": "",
            "score": "",
        },
    ),
    "score": (
        "scores",
        "{reading_upright: {@}}",
        {
            "": WEIGHTS,
            "weights": "",
            "parts": "",
            "value": "",
            "jumps": 'value: "where(edge < 4, 1, 5)"',
            **{number: f"{WEIGHTS}, {blend}" for number, blend in OWN.items()},
        },
    ),
    "missing": ("scores", f"{{reading_upright: {{{WEIGHTS}, missing: {{@}}}}}}", {"": ""}),
    "limit": (
        "scores",
        f"{{reading_upright: {{{WEIGHTS}, limits: [{{@}}]}}}}",
        {
            "": "when: quiet < 3, at_most: 5",
            "when": "at_most: 5",
            "at_most": "when: quiet < 3",
            "at_least": "when: quiet < 3",
            "on": "at_most: {points: {1: 4, 4: 7}}",
        },
    ),
    "band_limit": (
        "scores",
        f"{{reading_upright: {{{WEIGHTS}, band_limits: [{{@}}]}}}}",
        {
            "": "when: edge < 4, no_better_than: fair",
            "when": "no_better_than: fair",
            "no_better_than": "when: edge < 4",
        },
    ),
    "gate": (
        "gates",
        "[{@}]",
        {
            "": "when: noise_dba > 40, remark: loud",
            "when": "remark: loud",
            "withhold": "when: noise_dba > 40",
            "remark": "when: noise_dba > 40",
            "guard": "when: noise_dba > 40, remark: loud, near: nearly loud",
        },
    ),
    "reference": (
        "ratings",
        f"{{quiet: {{measure: noise_dba, curve: {{z: {{centre: 5, per_sd: 1}}, reference: {{@}}}}}}, edge: {EDGE}}}",
        {"": "mean: 30, sd: 5", "mean": "sd: 5", "sd": "mean: 30", "values": ""},
    ),
}
TABLES = {found.name: found.keys for found in DECLARED if found is not CURVE}
PLACES = [(site, key) for site, table in TABLES.items() for key in table]


def beside(site: str, key: str) -> str:
    """What must stand beside a key of a site."""
    found = SITES[site][2]
    return found.get(key, found[""])


def text_with(site: str, *entries: str) -> str:
    """A small formula with these entries at a site."""
    section, frame, _ = SITES[site]
    line = f"{section}: {frame.replace('@', ', '.join(entry for entry in entries if entry))}"
    return "\n".join({**LINES, section: line}.values()) + "\n"


def read(text: str) -> Form:
    """The form of a text; from files, where it takes from a neighbour."""
    if "takes:" not in text:
        return read_sources([Source("form.yaml", text)])
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "form.yaml").write_text(text, encoding="utf-8")
        (Path(folder) / "edition-7.yaml").write_text(NEIGHBOUR, encoding="utf-8")
        return read_form(Path(folder) / "form.yaml")


def is_read(text: str) -> bool:
    """Whether the reader takes a text."""
    try:
        read(text)
    except FormulaError:
        return False
    return True


def fits(text: str) -> bool:
    """Whether the schema takes a text."""
    document = json.loads(json.dumps(YAML(typ="safe").load(text)))
    return not list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(document))


def said(noun: Any) -> Any:
    """A form without places and texts: what it says, by which two forms are compared."""
    if isinstance(noun, Number | Choice):
        return noun.address, noun.value
    if isinstance(noun, tuple):
        return [said(item) for item in noun]
    if is_dataclass(noun) and not isinstance(noun, Place | Spot | Source):
        return {field.name: said(getattr(noun, field.name)) for field in fields(noun) if field.name != "sha256"}
    return None if isinstance(noun, Place | Spot | Source) else noun


def properties_of(site: str) -> dict[str, Any]:
    """The keys of today; those that are marked as deprecated have been renamed."""
    found: dict[str, Any] = SCHEMA["$defs"][site]["properties"]
    return {name: held for name, held in found.items() if not held.get("deprecated")}


def objects(schema: Any) -> Iterator[dict[str, Any]]:
    """Every part of the schema that has properties."""
    if isinstance(schema, dict):
        if isinstance(schema.get("properties"), dict):
            yield schema
        for part in schema.values():
            yield from objects(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from objects(part)


def test_every_property_of_the_schema_has_a_description() -> None:
    """An editor explains each key as it is typed."""
    found = [(name, told.get("description")) for part in objects(SCHEMA) for name, told in part["properties"].items()]
    assert len(found) > 100
    assert [name for name, description in found if not description] == []


def test_every_definition_of_the_schema_has_its_key_table() -> None:
    """No definition is out of reach of the tests below."""
    assert set(SCHEMA["$defs"]) == {*TABLES, "curve", "expression"}
    assert list(SCHEMA["properties"]) == list(FORM.keys)
    assert {site: list(properties_of(site)) for site in TABLES} == {site: list(table) for site, table in TABLES.items()}


@pytest.mark.parametrize("key", FORM.keys)
def test_the_example_of_each_section_is_read(key: str) -> None:
    """As it stands, in a small formula; the schema agrees."""
    example = FORM.keys[key].example
    rest = {
        "measures": {**LINES, "ratings": "ratings: {quiet: {value: noise_dba}}", "scores": ""},
        "ratings": {**LINES, "scores": "scores: {reading_upright: {parts: [quiet]}}"},
        "takes": LINES,
    }.get(key, LINES)
    text = "\n".join({**rest, key: example}.values()) + "\n"
    assert example.startswith(f"{key}: ")
    assert read(text)
    assert fits(text)


@pytest.mark.parametrize(("site", "key"), PLACES, ids=lambda part: part)
def test_the_example_of_each_key_is_read(site: str, key: str) -> None:
    """As it stands, with what must stand beside it; the schema agrees, and the page prints it."""
    example = TABLES[site][key].example
    kept = [
        entry
        for entry in re.split(r", (?=\w+: )(?![^{\[]*[}\]])", beside(site, key))
        if not entry.startswith(f"{key}:")
    ]
    text = text_with(site, *kept, example)
    assert example.startswith(f"{key}: ")
    assert read(text)
    assert fits(text)
    assert f"`{example}`" in PAGE


@pytest.mark.parametrize(("site", "key"), PLACES, ids=lambda part: part)
def test_each_key_that_is_written_says_something(site: str, key: str) -> None:
    """Without its example the form is another one, or none: no key is taken and forgotten."""
    example = TABLES[site][key].example
    rest = beside(site, key)
    default = "Reading upright" if (site, key) == ("score", "label") else properties_of(site)[key].get("default", ...)
    if is_read(text_with(site, rest)) and YAML(typ="safe").load(example)[key] != default:
        written = text_with(site, *(entry for entry in (rest,) if f"{key}:" not in entry), example)
        assert said(read(written)) != said(read(text_with(site, rest)))


@pytest.mark.parametrize("site", TABLES)
def test_a_key_that_no_table_has_is_refused(site: str) -> None:
    """By the reader and by the schema alike, and the same text without it is taken by both."""
    assert is_read(text_with(site, beside(site, "")))
    assert fits(text_with(site, beside(site, "")))
    wrong = text_with(site, beside(site, ""), "zzzz: 1")
    assert not is_read(wrong)
    assert not fits(wrong)


def test_a_section_that_no_table_has_is_refused() -> None:
    """At the top, too."""
    text = "\n".join(LINES.values())
    assert (is_read(text), fits(text)) == (True, True)
    assert (is_read(f"{text}\nzzzz: 1\n"), fits(f"{text}\nzzzz: 1\n")) == (False, False)


@pytest.mark.parametrize(
    ("site", "key"),
    [(site, key) for site in TABLES for key in SCHEMA["$defs"][site].get("required", ())],
    ids=lambda part: part,
)
def test_what_is_marked_required_is_required(site: str, key: str) -> None:
    """Without it neither the reader nor the schema takes the rest."""
    text = text_with(site, beside(site, key))
    assert (is_read(text), fits(text)) == (False, False)
    assert f"- **`{key}`** (required)" in PAGE


DEFAULTS = [(site, key) for site, key in PLACES if "default" in properties_of(site)[key]]


@pytest.mark.parametrize(("site", "key"), DEFAULTS, ids=lambda part: part)
def test_a_stated_default_is_what_holds_unwritten(site: str, key: str) -> None:
    """The form is the same with the key written at its default."""
    default = json.dumps(properties_of(site)[key]["default"])
    text = text_with(site, beside(site, key), f"{key}: {default}")
    assert fits(text)
    assert said(read(text)) == said(read(text_with(site, beside(site, key))))


def test_no_default_goes_unlooked() -> None:
    """Each default of the schema is in the list above, at the top, or in a curve."""
    stated = sum("default" in told for part in objects(SCHEMA["$defs"]) for told in part["properties"].values())
    in_curves = sum(
        "default" in told for part in objects(SCHEMA["$defs"]["curve"]) for told in part["properties"].values()
    )
    assert stated - in_curves == len(DEFAULTS)
    assert [key for key, told in SCHEMA["properties"].items() if "default" in told] == ["bands_on", "publish_reasons"]
    text = "\n".join(LINES.values())
    assert said(read(f"{text}\nbands_on: {SCHEMA['properties']['bands_on']['default']}\n")) == said(read(text))


@pytest.mark.parametrize(
    ("site", "key"), [(site, key) for site, key in PLACES if "oneOf" in properties_of(site)[key]], ids=lambda part: part
)
def test_each_word_is_read_and_says_something_else(site: str, key: str) -> None:
    """A choice that is not the default makes another form, so that the comparison above can fail."""
    found = []
    for option in properties_of(site)[key]["oneOf"]:
        extra = own_numbers(option["const"]).removeprefix(", ") if key == "blend" else ""
        text = text_with(site, beside(site, key), f"{key}: {option['const']}", extra)
        assert fits(text)
        found.append(said(read(text)))
        assert f"  - `{option['const']}`" in PAGE
    assert all(one != other for i, one in enumerate(found) for other in found[:i])


@pytest.mark.parametrize(
    ("site", "key", "end"),
    [
        (site, key, end)
        for site, key in PLACES
        for end in ("minimum", "maximum", "exclusiveMinimum")
        if end in properties_of(site)[key]
    ],
    ids=lambda part: part,
)
def test_a_stated_bound_is_where_the_reader_stops(site: str, key: str, end: str) -> None:
    """The bound itself is taken (or not, where it is exclusive); what lies beyond is not."""
    bound = properties_of(site)[key][end]
    beyond = bound + 0.001 if end == "maximum" else bound - 0.001
    for value, taken in ((bound, end != "exclusiveMinimum"), (beyond, False)):
        text = text_with(
            site, *(e for e in (beside(site, key),) if e), f"{key}: {value:g}" if value == bound else f"{key}: {value}"
        )
        assert (is_read(text), fits(text)) == (taken, taken), value


@pytest.mark.parametrize("name", KINDS)
def test_each_kind_of_curve_tells_all_its_fields_and_its_example_is_read(name: str) -> None:
    """The example is read, fits the schema, and is printed; no field goes without words, and none is told that is not there."""
    kind = KINDS[name]
    curve = example_curve(kind)
    assert curve.kind == name
    assert all(key.says for key in kind.keys)
    text = curve_text(kind.example)
    assert read(text)
    assert fits(text)
    assert f"### `{name}`" in PAGE
    assert f"`curve: {{{kind.example}}}`" in PAGE


def curve_text(curve: str) -> str:
    return text_with("rating", "measure: noise_dba", f"curve: {{{curve}}}")


@pytest.mark.parametrize("name", KINDS)
def test_the_defaults_of_a_curve_are_what_holds_unwritten(name: str) -> None:
    """Each field, `outside` and `reference`: without it, and written at its default, the form is the same."""
    kind = KINDS[name]
    [found] = [told for told in SCHEMA["$defs"]["curve"]["oneOf"] if name in told["properties"]]
    body = YAML(typ="safe").load(f"{{{kind.example}}}")[name]
    for key, told in found["properties"][name].get("properties", {}).items():
        rest = {field: value for field, value in body.items() if field != key}
        without = curve_text(f"{name}: {json.dumps(rest)}")
        assert is_read(without) == ("default" in told) == (key not in found["properties"][name].get("required", ()))
        if "default" in told:
            written = curve_text(f"{name}: {json.dumps({**rest, key: told['default']})}")
            assert said(read(written)) == said(read(without))
    for key in ("outside", "reference"):
        told = found["properties"].get(key)
        text = curve_text(f"{kind.example}, {key}: {json.dumps(told['default']) if told else 'held'}")
        assert is_read(text) == fits(text) == (told is not None)
        if told:
            assert said(read(text)) == said(read(curve_text(kind.example)))


@pytest.mark.parametrize("name", [name for name in KINDS if KINDS[name].outside])
def test_what_may_hold_outside_a_curve_is_explained(name: str) -> None:
    """Each word is read, has a meaning on the page, and the first is the default."""
    for word in KINDS[name].outside:
        assert is_read(curve_text(f"{KINDS[name].example}, outside: {word}"))
        assert f"- `{word}`: {OUTSIDE[word]}." in PAGE


def test_every_blend_function_sign_and_step_is_on_the_page() -> None:
    """A new one without words, or words without one, is found here."""
    assert set(USES) == {*SIGNS.values(), "and", "or", "not", NONE, *FUNCTIONS, *STATISTICS}
    assert [name for name in BLENDS if f"- `{name}`" not in PAGE] == []
    assert [name for name, (written, _) in USES.items() if f"- `{written}`" not in PAGE] == []
    assert [step for step in CHECKLIST if f"- `{step}`: " not in PAGE] == []


CONDITIONS = {"<", "<=", ">", ">=", "==", "!=", "and", "or", "not"}


@pytest.mark.parametrize("name", USES)
def test_each_use_is_an_expression_that_is_read(name: str) -> None:
    """As it is written on the page, with measures and figures for its letters."""
    text = USES[name][0].replace(", ...", "")
    for letters, meant in (
        ("[pq]", "(sit_drop > 1)"),
        ("[abm]", "noise_dba"),
        ("low|x1|y1", "1"),
        ("high|x2|y2", "9"),
        ("step", "0.1"),
    ):
        text = re.sub(rf"\b({letters})\b", meant, text)
    if name in CONDITIONS:
        text = f"where({text}, 1, 2)"
    assert is_read(text_with("rating", f'value: "{text}"'))


@pytest.mark.parametrize("name", [*FUNCTIONS, *STATISTICS])
def test_the_stated_counts_of_arguments_are_those_that_are_taken(name: str) -> None:
    """The fewest is taken and one less refused; where there is a most, one more is refused."""
    fewest, most = FUNCTIONS[name] if name in FUNCTIONS else (STATISTICS[name], STATISTICS[name])

    def taken(count: int) -> bool:
        first = "sit_drop > 1" if name == "where" else "sit_drop"
        rest = [str(number + 1) for number in range(count - 1)]
        return is_read(text_with("rating", f'value: "{name}({", ".join([first, *rest][:count])})"'))

    assert (taken(fewest), taken(fewest - 1)) == (True, False)
    if most is not None:
        assert (taken(most), taken(most + 1)) == (True, False)


@pytest.mark.parametrize("kind", USUAL)
def test_usual_units_of_one_kind_go_into_each_other(kind: str) -> None:
    """Each is known by the library, and a reading there and back is the same."""
    first, *others = USUAL[kind]
    for other in others:
        there = convert([20.0], first, other)
        assert convert(there, other, first) == pytest.approx([20.0])
        assert same_unit(first, other) is False


def test_other_spellings_of_units_are_the_same_unit() -> None:
    """Each spelling on the page is the unit that it is said to be."""
    assert [spelling for spelling, name in SPELLINGS.items() if not same_unit(spelling, name)] == []
    assert [
        name for name in (*SPELLINGS, *(unit for units in USUAL.values() for unit in units)) if f"`{name}`" not in PAGE
    ] == []


def test_cells_columns_and_flags_are_those_that_a_catalogue_takes() -> None:
    """The words on the page stand beside what the catalogue's reader knows."""
    parsed = parse_cells(np.array(list(CELLS), dtype=object))
    states = [State.VALUE, State.BELOW, State.MISSING, State.MISSING, State.NOT_APPLICABLE]
    assert parsed.faults == {}
    assert parsed.states.tolist() == states
    assert set(COLUMNS) == {"product", *LONG_COLUMNS}
    assert {*FLAGS, "not applicable"} == set(LONG_FLAGS)


def test_every_link_of_the_page_leads_to_a_heading() -> None:
    """Each section is in the contents, and each link has its end."""
    headings = re.findall(r"^##+ (.*)$", PAGE, re.MULTILINE)
    ends = [anchor(heading) for heading in headings]
    links = set(re.findall(r"\]\(#([^)]*)\)", PAGE))
    assert len(ends) == len(set(ends))
    assert links <= set(ends)
    assert {anchor(heading) for heading in re.findall(r"^## (.*)$", PAGE, re.MULTILINE)} <= links


def test_the_page_reads_well_raw() -> None:
    """Lines of at most 130 columns, code never broken over two, no blanks at an end."""
    lines = PAGE.splitlines()
    assert [line for line in lines if len(line) > 130 or line != line.rstrip()] == []
    assert [line for line in lines if line.count("`") % 2 and not line.startswith("```")] == []


def test_the_printed_page_is_the_one_in_the_examples() -> None:
    """`examples/form.md` is what the tables say now."""
    assert (ROOT / "examples" / "form.md").read_text(encoding="utf-8") == PAGE, (
        "examples/form.md is stale. Write it again: steelyard schema --page > examples/form.md"
    )


def test_defaults_that_are_said_in_words_are_true() -> None:
    """Titles and labels come of names, names of items of their places, and `otherwise: lowest` lets everything be missing."""
    form = read("\n".join(LINES.values()))
    assert (form.title, form.measures[0].label, form.attributes[0].label) == ("f", "noise dba", "fire evidence")
    assert form.scores[0].label == "Reading upright"
    assert read(text_with("gate", beside("gate", ""))).gates[0].address == "gates.1"
    assert read(text_with("limit", beside("limit", ""))).scores[0].limits[0].address.endswith("limits.1")
    assert read(text_with("missing", "otherwise: lowest")).scores[0].missing.absent_above.value == 1
    assert (
        read(
            text_with("scale", "from: 0").replace("{line: {worst: 46, best: 22}}", "{steps: {20: 9, 40: 1}}")
        ).scale.high
        is None
    )
