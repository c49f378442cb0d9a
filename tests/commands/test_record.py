"""`steelyard record` and `steelyard verify`: freeze, correct, find each kind of drift, refuse what would lose a record."""

from __future__ import annotations

import errno
import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from analysis.outputs import whole_files
from analysis.records import sections as record_sections
from analysis.records import verification as record_verification
from analysis.records.document import read_record
from analysis.records.sections import NOT_RECORDED

DAY = ("--date", "2025-03-01")
LATER = ("--date", "2025-04-01")
CAUSE = ("--cause", "read from the wrong side")


@pytest.fixture
def published(steelyard: Any, small: Path) -> Path:
    """The small laboratory, published in record.json."""
    result = record(steelyard, small, *DAY)
    assert result.exit_code == 0, result.stderr
    return small


def record(steelyard: Any, folder: Path, *options: object, out: str = "record.json") -> Any:
    """Run `steelyard record` in a folder of the small laboratory."""
    return steelyard("record", folder / "beds.yaml", folder / "beds.csv", "--out", folder / out, *options)


def verify(steelyard: Any, folder: Path, *options: object) -> Any:
    """Run `steelyard verify` of its record against formula and catalogue."""
    return steelyard("verify", folder / "record.json", folder / "beds.yaml", folder / "beds.csv", *options)


def rewrite(path: Path, old: str, new: str) -> None:
    """Replace a text in a file, which must be there."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def drift(steelyard: Any, folder: Path) -> tuple[dict[str, Any], dict[str, list[dict[str, Any]]]]:
    """The JSON document of a verification that found drift, and its findings by kind."""
    result = verify(steelyard, folder, "--json")
    assert result.exit_code == 1, result.output
    document: dict[str, Any] = json.loads(result.stdout)
    kinds: dict[str, list[dict[str, Any]]] = {}
    for one in document["drift"]:
        kinds.setdefault(one["kind"], []).append(one)
    return document, kinds


def test_a_record_holds_every_figure_of_the_score_table(steelyard: Any, published: Path) -> None:
    """Scores and ratings as `score --json` gives them, and rank, band and remarks of the ratings too."""
    sections = json.loads((published / "record.json").read_text(encoding="utf-8"))["publication"]["sections"]
    scored = json.loads(steelyard("score", published / "beds.yaml", published / "beds.csv", "--json").stdout)
    for kept, product in zip(sections["figures"], scored["products"], strict=True):
        assert kept["id"] == product["id"]
        for section in ("scores", "ratings"):
            assert kept[section].keys() == product[section].keys()
            for name, standing in product[section].items():
                told = {key: value for key, value in standing.items() if key != NOT_RECORDED}
                assert {key: kept[section][name][key] for key in told} == told
    assert sections["formula"]["texts"][0]["text"] == (published / "beds.yaml").read_text(encoding="utf-8")
    assert sections["addresses"]["scores.reading.weights.edge"] == "3"
    assert sections["readings"][0]["measures"]["noise"] == {
        "value": 32.0,
        "state": "value",
        "repeats": [31.0, 32.0, 33.0],
    }


def test_the_same_publication_gives_the_same_bytes(steelyard: Any, published: Path) -> None:
    """No clock, no path of the machine."""
    assert record(steelyard, published, *DAY, out="again.json").exit_code == 0
    first = (published / "record.json").read_bytes()
    assert (published / "again.json").read_bytes() == first
    assert str(published).encode() not in first


def test_what_was_published_holds(steelyard: Any, published: Path) -> None:
    """Exit 0, alone and against formula and catalogue; a comment and another row order are no drift, and are said."""
    assert steelyard("verify", published / "record.json").exit_code == 0
    assert verify(steelyard, published).exit_code == 0
    rewrite(published / "beds.yaml", "# the lead's draft", "# the lead's second draft")
    lines = (published / "beds.csv").read_text(encoding="utf-8").splitlines()
    (published / "beds.csv").write_text("\n".join([lines[0], *lines[:0:-1]]) + "\n", encoding="utf-8")
    result = verify(steelyard, published)
    assert result.exit_code == 0, result.output
    assert "by comments, layout or spelling of numbers alone" in result.stdout
    assert "no reading and no attribute differs" in result.stdout


def test_a_changed_formula_is_named_in_words(steelyard: Any, published: Path) -> None:
    """The weight by its address; A-01 falls from (3*8 + 6.25)/4 = 7.5625 to (2*8 + 6.25)/3 = 7.41667."""
    rewrite(published / "beds.yaml", "edge: 3", "edge: 2")
    document, kinds = drift(steelyard, published)
    assert document["causes"] == ["formula"]
    assert [one["says"] for one in kinds["formula"]] == [
        "Reading upright: weight of edge 3 -> 2 (75 % -> 66.7 %) (at scores.reading.weights.edge)"
    ]
    assert "data" not in kinds
    moved = kinds["figure"][0]
    assert (moved["product"], moved["output"]) == ("A-01", "reading")
    assert (moved["before"]["shown"], moved["after"]["shown"]) == (7.6, 7.4)
    assert moved["after"]["value"] == pytest.approx(7.416666666666667, abs=1e-12)


def test_a_changed_reading_is_named_by_product_measure_and_repeat(steelyard: Any, published: Path) -> None:
    """A-01's third noise reading, 33 then 36: the mean 32 becomes 33."""
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    document, kinds = drift(steelyard, published)
    assert document["causes"] == ["data"]
    assert [one["says"] for one in kinds["data"]] == ["A-01, noise: 32 dB -> 33 dB (repeat #3 33 -> 36)"]
    assert (kinds["data"][0]["product"], kinds["data"][0]["measure"]) == ("A-01", "noise")
    assert {one["product"] for one in kinds["figure"]} == {"A-01"}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("Vorrlin", "Vorrlinn", "A-01, maker: Vorrlin -> Vorrlinn"),
        ("31,32,33", "33,32,31", "A-01, noise: 32 dB as before (repeats #1 31 -> 33 and #3 33 -> 31)"),
        (
            "22,22,22",
            "<22,22,22",
            "A-02, noise: 22 dB -> 22 dB (with readings below the reporting limit) (repeat #1 22 -> < 22.0)",
        ),
    ],
)
def test_a_change_of_data_that_moves_no_value_is_drift_too(
    steelyard: Any, published: Path, old: str, new: str, said: str
) -> None:
    """Exit 1: what was published rests on other data."""
    rewrite(published / "beds.csv", old, new)
    _, kinds = drift(steelyard, published)
    assert next(one["says"] for one in kinds["data"]).startswith(said)


def test_a_reason_is_recorded_and_compared_where_the_formula_publishes_reasons(steelyard: Any, small: Path) -> None:
    """By default it is the laboratory's own, and stands in no record."""
    for publishes in (False, True):
        if publishes:
            rewrite(small / "beds.yaml", "attributes:", "publish_reasons: yes\nattributes:")
        (small / "record.json").unlink(missing_ok=True)
        assert record(steelyard, small, *DAY).exit_code == 0
        assert ("probe failed" in (small / "record.json").read_text(encoding="utf-8")) is publishes
        assert verify(steelyard, small).exit_code == 0
        before = (small / "beds.csv").read_text(encoding="utf-8")
        rewrite(small / "beds.csv", "missing: probe failed", "missing: lost")
        if publishes:
            _, kinds = drift(steelyard, small)
            assert kinds["data"][0]["says"].startswith("A-03, noise: missing as before")
        else:
            assert verify(steelyard, small).exit_code == 0
        (small / "beds.csv").write_text(before, encoding="utf-8")


def test_a_word_that_is_not_published_still_withholds_what_it_withheld(steelyard: Any, small: Path) -> None:
    """The record keeps what the gate makes of the word, so that its figures follow; any other word stands there as one."""
    gate = "gates: [{when: maker == Vorrlin, withhold: held}]\n"
    (small / "beds.yaml").write_text(
        (small / "beds.yaml").read_text(encoding="utf-8").replace("required: no", "public: no") + gate,
        encoding="utf-8",
    )
    assert record(steelyard, small, *DAY).exit_code == 0
    kept = read_record(small / "record.json").latest.sections
    assert [one["attributes"] for one in kept["readings"]] == [
        {"maker": "Vorrlin"},
        {"maker": "not published"},
        {"maker": "not published"},
    ]
    assert verify(steelyard, small).exit_code == 0
    rewrite(small / "beds.csv", "Dapquist", "Vorrlin")
    _, kinds = drift(steelyard, small)
    assert [one["says"] for one in kinds["data"]] == ["A-02, maker: not published -> Vorrlin"]


def test_a_change_of_unit_in_the_formula_is_no_change_of_data(steelyard: Any, published: Path) -> None:
    """The recorded formula reads today's file as it did: 60 mm stay 60 mm."""
    rewrite(published / "beds.csv", ",sit_drop", ",sit_drop [mm]")
    rewrite(
        published / "beds.yaml",
        "unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5",
        "unit: cm, better: lower",
    )
    rewrite(published / "beds.yaml", "{40: 10, 80: 6, 135: 1}", "{4: 10, 8: 6, 13.5: 1}")
    document, kinds = drift(steelyard, published)
    assert document["causes"] == ["formula"]
    assert "data" not in kinds
    assert "figure" not in kinds


def test_products_that_came_and_went_are_named(steelyard: Any, published: Path) -> None:
    """A-02 is gone and A-09 is new; whose place moved is listed."""
    rewrite(published / "beds.csv", "A-02,Dapquist,22,22,22,120", "A-09,Dapquist,22,22,22,40")
    document, kinds = drift(steelyard, published)
    assert [one["says"] for one in kinds["product"]] == ["A-02 is gone", "A-09 was added"]
    assert document["causes"] == ["data"]
    assert ("A-01", 1, 2) in [
        (one["product"], one["before"]["rank"], one["after"]["rank"])
        for one in kinds["figure"]
        if one["output"] == "reading"
    ]


def test_a_score_that_is_gone_is_named(steelyard: Any, published: Path) -> None:
    """A renamed score is one gone and one added, and a change of the formula."""
    rewrite(published / "beds.yaml", "  reading:", "  sitting:")
    _, kinds = drift(steelyard, published)
    assert [one["says"] for one in kinds["output"]] == ["score reading is gone", "score sitting was added"]
    assert "is now called" in kinds["formula"][0]["says"]


def test_another_tool_with_other_figures_is_named(
    steelyard: Any, published: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Same formula, same data, another rounding: the cause is the tool, and both versions are said."""
    from scoring.table import table

    real = table.round_to
    monkeypatch.setattr(table, "round_to", lambda values, step, rule: real(values, step, "down"))
    for module in (record_sections, record_verification):
        monkeypatch.setattr(module, "version", lambda name: "9.9")
    result = verify(steelyard, published, "--json")
    assert result.exit_code == 1
    document = json.loads(result.stdout)
    assert document["causes"] == ["tool"]
    assert {one["kind"] for one in document["drift"]} == {"figure"}
    assert any(one["says"].startswith("A-01, reading: shown 7.6 -> 7.5") for one in document["drift"])
    assert document["tool"]["now"] == {"steelyard": "9.9", "numpy": "9.9", "sympy": "9.9"}
    text = " ".join(verify(steelyard, published).stdout.split())
    assert "the tool gives another figure for the same formula and readings" in text
    assert "this is steelyard 9.9" in text


def test_another_tool_with_the_same_figures_is_only_noted(
    steelyard: Any, published: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Versions are information: exit 0, and they are said."""
    monkeypatch.setattr(record_verification, "version", lambda name: "9.9")
    result = verify(steelyard, published)
    assert result.exit_code == 0
    assert "Recorded with steelyard" in result.stdout


def test_settings_that_were_tried_are_recorded_and_tried_again(steelyard: Any, small: Path) -> None:
    """A record with --set holds against the formula as it stands on file; one that cannot be tried any more is a fault."""
    assert record(steelyard, small, *DAY, "--set", "scores.reading.weights.quiet=3").exit_code == 0
    result = verify(steelyard, small)
    assert result.exit_code == 0, result.output
    assert "with scores.reading.weights.quiet=3" in result.stdout
    rewrite(small / "beds.yaml", "weights: {edge: 3, quiet: 1}", "weights: {edge: 3}")
    result = verify(steelyard, small)
    assert result.exit_code == 2
    assert result.stderr.startswith("the record's `set`: the address `scores.reading.weights.quiet`")


def correct(steelyard: Any, folder: Path, *options: object, out: str = "record.json") -> Any:
    """A correction of record.json, into the same file unless another is named."""
    return record(steelyard, folder, "--corrects", folder / "record.json", *(options or (*LATER, *CAUSE)), out=out)


def test_a_correction_keeps_what_was_published(steelyard: Any, published: Path) -> None:
    """Old and new stand in the file with date and cause; verify holds against the corrected readings, and only them."""
    before = json.loads((published / "record.json").read_text(encoding="utf-8"))
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    result = correct(steelyard, published)
    assert result.exit_code == 0, result.stderr
    assert "Correction 1 of 2025-04-01: read from the wrong side" in result.stdout
    after = json.loads((published / "record.json").read_text(encoding="utf-8"))
    assert after["publication"] == before["publication"]
    (correction,) = after["corrections"]
    assert (correction["date"], correction["cause"]) == (LATER[1], CAUSE[1])
    assert correction["previous"] == before["publication"]["fingerprint"]
    first = correction["changed"][0]
    assert (first["product"], first["output"], first["old"]["value"]) == ("A-01", "reading", 7.5625)
    assert verify(steelyard, published).exit_code == 0
    rewrite(published / "beds.csv", "31,32,36", "31,32,33")
    assert verify(steelyard, published).exit_code == 1


def test_a_correction_may_go_to_a_file_of_its_own(steelyard: Any, published: Path) -> None:
    """The record that is corrected keeps its bytes."""
    before = (published / "record.json").read_bytes()
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    assert correct(steelyard, published, out="corrected.json").exit_code == 0
    assert (published / "record.json").read_bytes() == before
    assert steelyard("verify", published / "corrected.json").exit_code == 0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((*LATER,), "--cause: a correction without a cause"),
        *(
            ((*LATER, "--cause", cause), "--cause: a correction without a cause")
            for cause in ("", "  ", ".", "\u00a0", "\u200b", "\u2800", "\u3164", "\u0301")
        ),
        ((*LATER, "--cause", "a\u202eb"), "with a control character"),
        ((*LATER, "--cause", "x" * 2001), "--cause: 2001 characters"),
        (("--date", "2025-02-28", *CAUSE), "--date: 2025-02-28, before the publication of 2025-03-01"),
        (("--date", "1 April", *CAUSE), "--date: `1 April`; expected the day of publication, as 2025-03-01"),
    ],
)
def test_a_correction_that_will_not_do_is_refused(
    steelyard: Any, published: Path, options: tuple[str, ...], said: str
) -> None:
    """Exit 2, and the record keeps its bytes."""
    before = (published / "record.json").read_bytes()
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    result = correct(steelyard, published, *options)
    assert result.exit_code == 2
    assert said in result.stderr
    assert (published / "record.json").read_bytes() == before


def test_nothing_to_correct_is_refused(steelyard: Any, published: Path) -> None:
    """The same formula and readings are no correction."""
    result = correct(steelyard, published)
    assert result.exit_code == 2
    assert "expected something to correct" in result.stderr


@pytest.mark.parametrize("options", [(), ("--corrects", "other.json", *CAUSE)])
def test_a_file_that_is_there_is_never_written_over(
    steelyard: Any, published: Path, options: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second publication, or a correction of another record, wants a new name; the hint says so."""
    monkeypatch.chdir(published)
    shutil.copy(published / "record.json", published / "other.json")
    before = (published / "record.json").read_bytes()
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    result = record(steelyard, published, *LATER, *options)
    assert result.exit_code == 2
    assert "no record is written over" in result.stderr
    assert (published / "record.json").read_bytes() == before


@pytest.mark.parametrize("out", ["nowhere/r.json", "r.txt", "r", "x" * 300 + ".json", "beds.csv/r.json"])
def test_a_place_that_cannot_be_written_is_refused(steelyard: Any, small: Path, out: str) -> None:
    """Exit 2, one line, no file."""
    files = sorted(small.iterdir())
    result = record(steelyard, small, *DAY, out=out)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 2
    assert sorted(small.iterdir()) == files


@pytest.mark.parametrize("where", ["write", "replace", "interrupted"])
def test_a_full_disk_or_an_interrupt_leaves_the_old_record(
    steelyard: Any, published: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """No half file, and nothing of the old one is lost."""
    before = (published / "record.json").read_bytes()
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    full = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def fails(*_: object) -> None:
        raise full if where != "interrupted" else KeyboardInterrupt

    monkeypatch.setattr(whole_files.os, "fsync" if where == "write" else "replace", fails)
    result = correct(steelyard, published)
    monkeypatch.undo()
    assert result.exit_code != 0
    if where != "interrupted":
        assert result.exit_code == 2
        assert "No space left on device" in result.stderr
    assert (published / "record.json").read_bytes() == before
    assert [path.name for path in published.iterdir() if path.name.startswith(".")] == []


def test_a_figure_that_would_not_follow_is_not_recorded(
    steelyard: Any, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is to be written is worked out again first: a cell lost on the way is found before it is published."""
    from analysis.records import sections

    monkeypatch.setattr(sections, "_cells", lambda readings, product, form: [25.0])
    result = record(steelyard, small, *DAY)
    assert result.exit_code == 2
    assert "A-01, noise: its repeats do not give the recorded 32.0" in result.stderr
    assert not (small / "record.json").exists()


def test_an_edited_figure_is_named_with_its_section(steelyard: Any, published: Path) -> None:
    """Exit 1: the section, and the figure that does not follow."""
    rewrite(published / "record.json", '"shown": 7.6', '"shown": 8.6')
    for result in (steelyard("verify", published / "record.json"), verify(steelyard, published)):
        assert result.exit_code == 1
        assert "publication, section figures: not what was recorded" in result.stdout
        assert "A-01, reading: shown 8.6, but its value 7.5625 is shown as 7.6" in result.stdout
        assert "The record is not sound." in result.stdout


def test_a_changed_layout_is_an_edit_and_line_ends_are_not(steelyard: Any, published: Path) -> None:
    """A number spelt otherwise is found by its line; a checkout with other line ends is the same record."""
    path = published / "record.json"
    text = path.read_bytes()
    path.write_bytes(text.replace(b"\n", b"\r\n"))
    assert verify(steelyard, published).exit_code == 0
    path.write_bytes(text.replace(b"7.5625", b"7.56250", 1))
    result = verify(steelyard, published)
    assert result.exit_code == 1
    line = text[: text.index(b"7.5625")].count(b"\n") + 1
    assert f"line {line} is not written as steelyard writes it" in result.stdout


def test_an_unreadable_record_is_exit_2_with_line_and_column(steelyard: Any, published: Path) -> None:
    """A file cut short, a newer format, no file: each in one line."""
    path = published / "record.json"
    text = path.read_text(encoding="utf-8")
    path.write_text(text[:1000], encoding="utf-8")
    result = steelyard("verify", path)
    assert result.exit_code == 2
    lines = text[:1000].count("\n") + 1
    assert f"record.json:{lines}:" in result.stderr
    path.write_text(text.replace('"format": 2', '"format": 3'), encoding="utf-8")
    assert "A newer steelyard wrote it" in steelyard("verify", path).stderr
    assert steelyard("verify", published / "none.json").exit_code == 2
    assert steelyard("verify", published).exit_code == 2
    path.write_text(text, encoding="utf-8")
    assert steelyard("verify", path, published / "beds.yaml").exit_code == 2


STRANGE = ["=SUM(A1)", "<b>bed</b>", '[red]x[/red] "q"', "🛏 bed", "x" * 300, "العربية"]


def widest_row(printed: str) -> int:
    """The widest line of the table of figures; a line of words stays one line in a pipe."""
    table = printed[printed.index("Figures, as recorded") : printed.index("\n! ")]
    assert table.count("\n") > 4
    return max(map(len, table.splitlines()))


def test_strange_names_are_kept_as_they_are(steelyard: Any, small: Path) -> None:
    """Markup, quotes, emoji, 300 characters, a spreadsheet's formula: recorded, verified, and named whole in the document."""
    rows = "\n".join(f'"{name.replace(chr(34), chr(34) * 2)}",+M,{30 + i},,,{60 + i}' for i, name in enumerate(STRANGE))
    (small / "beds.csv").write_text(f"product,maker,noise #1,noise #2,noise #3,sit_drop\n{rows}\n", encoding="utf-8")
    rewrite(small / "beds.yaml", "label: Reading upright", "label: '<i>Reading</i> \"🛏\"'")
    assert record(steelyard, small, *DAY).exit_code == 0
    assert verify(steelyard, small).exit_code == 0
    (small / "beds.csv").write_text(
        (small / "beds.csv").read_text(encoding="utf-8").replace(",34,", ",38,"), encoding="utf-8"
    )
    _, kinds = drift(steelyard, small)
    assert kinds["data"][0]["product"] == "x" * 300
    assert widest_row(verify(steelyard, small).stdout) <= 120


def test_the_laboratory_is_recorded_corrected_and_verified(steelyard: Any, laboratory: Path, tmp_path: Path) -> None:
    """QB-021's edge sink, 11 mm more in each repeat: six figures of its own, and the places of its neighbours."""
    for name in ("guest-bed.yaml", "items.csv", "readings.csv"):
        shutil.copy(laboratory / name, tmp_path / name)
    out, formula = tmp_path / "record.json", tmp_path / "guest-bed.yaml"
    assert steelyard("record", formula, tmp_path, "--out", out, *DAY).exit_code == 0
    assert steelyard("verify", out, formula, tmp_path).exit_code == 0
    lines = (tmp_path / "readings.csv").read_text(encoding="utf-8").splitlines()
    moved = [more(line, 11) if line.startswith("QB-021,edge_sink_mm,") else line for line in lines]
    assert moved != lines
    (tmp_path / "readings.csv").write_text("\n".join(moved) + "\n", encoding="utf-8")
    result = steelyard("verify", out, formula, tmp_path)
    assert result.exit_code == 1
    assert "QB-021, edge_sink_mm: 67.6667 mm -> 78.6667 mm" in result.stdout
    assert "25 figures drifted, 6 of them in more than their place; the data changed." in result.stdout
    assert widest_row(result.stdout) <= 120
    done = steelyard("record", formula, tmp_path, "--out", out, "--corrects", out, *LATER, *CAUSE)
    assert done.exit_code == 0, done.stderr
    assert steelyard("verify", out, formula, tmp_path).exit_code == 0


def more(line: str, by: float) -> str:
    """A row of the laboratory's readings with a larger value."""
    cells = line.split(",")
    return ",".join([f"{float(cell) + by:g}" if i == 3 and cell else cell for i, cell in enumerate(cells)])


@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("score", ()),
        ("weights", ()),
        ("stability", ("--draws", "100")),
        ("compare", ()),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
@pytest.mark.parametrize("layout", ["as written", "keys sorted", "edited"])
def test_no_other_command_writes_over_a_record(
    steelyard: Any, published: Path, command: str, options: tuple[str, ...], layout: str
) -> None:
    """Exit 2 with the way out, and the record keeps its bytes, however it was laid out since."""
    path = published / "record.json"
    document = json.loads(path.read_text(encoding="utf-8"))
    if layout == "keys sorted":
        path.write_text(json.dumps(document, sort_keys=True, indent=4), encoding="utf-8")
    elif layout == "edited":
        path.write_text(json.dumps(document)[:-40], encoding="utf-8")
    before = path.read_bytes()
    formulas = [published / "beds.yaml"] * (2 if command == "compare" else 1)
    result = steelyard(command, *formulas, published / "beds.csv", "--out", path, *options)
    assert result.exit_code == 2
    assert (
        "record.json: a steelyard record stands there; expected a path that is free. Use another name" in result.stderr
    )
    assert path.read_bytes() == before


def test_a_table_of_the_day_before_is_written_over_and_a_file_of_somebody_else_is_not(
    steelyard: Any, small: Path
) -> None:
    """What only speaks of records is none, and still nobody's to write over unless `--force` says so."""
    out = small / "scores.json"
    for _ in range(2):
        assert steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out).exit_code == 0
    out.write_text('{"note": "a steelyard record of a publication"}', encoding="utf-8")
    refused = steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out)
    assert refused.exit_code == 2
    assert "scores.json: a file that steelyard did not write" in refused.stderr
    assert "note" in out.read_text(encoding="utf-8")
    assert steelyard("score", small / "beds.yaml", small / "beds.csv", "--out", out, "--force").exit_code == 0


def test_a_record_without_a_day_or_a_file_says_what_to_write(steelyard: Any, small: Path) -> None:
    """Both are asked for at once, in the form of every other fault; a correction's file is the record's."""
    formula, catalogue = small / "beds.yaml", small / "beds.csv"
    result = steelyard("record", formula, catalogue)
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        "--out: not given; expected the file to write the record to. Write --out record.json.",
        "--date: not given; expected the day of publication. Write --date and the day, as 2025-03-01.",
        "2 problems; nothing was done.",
    ]
    corrected = steelyard("record", formula, catalogue, *DAY, "--corrects", "beds-2025.json", *CAUSE)
    assert "Write --out beds-2025.json." in corrected.stderr
    assert "--date: not given" not in corrected.stderr


@pytest.mark.parametrize("command", ["explore", "appendix"])
def test_a_page_or_an_appendix_without_a_place_says_what_to_write(steelyard: Any, small: Path, command: str) -> None:
    """Exit 2 with one fault."""
    result = steelyard(command, small / "beds.yaml", small / "beds.csv")
    assert result.exit_code == 2
    assert result.stderr.startswith("--out: not given; expected the f")
    assert "Write --out " in result.stderr


@pytest.mark.parametrize("command", ["record", "appendix"])
def test_a_day_that_is_not_in_the_calendar_is_said_to_be_none(steelyard: Any, small: Path, command: str) -> None:
    """30 February; a day written otherwise is another fault."""
    arguments = (command, small / "beds.yaml", small / "beds.csv", "--out", small / "out.json")
    arguments = arguments if command == "record" else (*arguments[:-1], small / "out")
    result = steelyard(*arguments, "--date", "2026-02-30")
    assert result.exit_code == 2
    assert result.stderr.startswith("--date: `2026-02-30`, and there is no such day; expected ")
    assert "no such day" not in steelyard(*arguments, "--date", "30.2.2026").stderr


COMMANDS = ["score", "explain", "check", "sensitivity", "stability", "weights", "flip", "record", "explore", "appendix"]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("catalogue", ["beds.csv", "none.xlsx", "."])
def test_formula_and_catalogue_in_the_wrong_order_are_told(
    steelyard: Any, small: Path, command: str, catalogue: str
) -> None:
    """Every command asks whether they were swapped."""
    more = {"explain": ["A-01"], "record": [*DAY, "--out", small / "r.json"], "explore": ["--out", small / "p.html"]}
    more |= {"appendix": ["--out", small / "a"]}
    result = steelyard(command, small / catalogue, small / "beds.yaml", *more.get(command, []))
    assert result.exit_code == 2
    assert "where the formula belongs" in result.stderr
    assert result.stderr.count("Did you swap FORMULA and CATALOGUE?") == 1


def test_a_formula_in_the_place_of_readings_is_told(steelyard: Any, small: Path) -> None:
    """Where the first path could be a formula, the second alone is named."""
    result = steelyard("score", small / "beds.yaml", small / "beds.yaml")
    assert result.exit_code == 2
    assert "beds.yaml: a YAML file, where the readings belong" in result.stderr
    assert "Did you swap FORMULA and CATALOGUE?" in result.stderr
    result = steelyard("compare", small / "beds.yaml", small / "beds.csv", small / "beds.yaml")
    assert "beds.csv: a .csv file, where the formula belongs" in result.stderr


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["beds.yaml", "record.json", "beds.csv"], "beds.yaml: a YAML file, where the record belongs"),
        (["beds.yaml"], "beds.yaml: a YAML file, where the record belongs"),
        (["beds.yaml", "beds.csv"], "beds.yaml: a YAML file, where the record belongs"),
        (["beds.csv", "record.json"], "beds.csv: a .csv file, where the record belongs"),
        (["record.json", "beds.csv", "beds.yaml"], "Did you swap FORMULA and CATALOGUE?"),
    ],
)
def test_verify_says_what_comes_first(steelyard: Any, published: Path, names: list[str], said: str) -> None:
    """The record, then formula and catalogue."""
    result = steelyard("verify", *(published / name for name in names))
    assert result.exit_code == 2
    assert said in result.stderr
    if "record belongs" in said:
        assert "expected a RECORD first, the .json file that `steelyard record` wrote" in result.stderr


def test_a_folder_that_is_not_there_is_named(steelyard: Any, small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And what to do; a page is refused alike."""
    monkeypatch.chdir(small)
    for command in (("record", "--out", "nodir/a.json", *DAY), ("explore", "--out", "nodir/a.html")):
        result = steelyard(command[0], "beds.yaml", "beds.csv", *command[1:])
        assert result.exit_code == 2
        assert (
            ": the folder nodir is not there; expected a folder to write the file into. Make the folder"
            in result.stderr
        )
    result = steelyard("record", "beds.yaml", "beds.csv", "--out", "beds.csv/a.json", *DAY)
    assert "beds.csv/a.json: beds.csv is no folder" in result.stderr
    assert not (small / "nodir").exists()


def test_a_value_is_below_the_floor_only_where_all_of_it_is(steelyard: Any, published: Path) -> None:
    """One of three repeats is below: said of the readings; a single repeat that is below: said of the value."""
    rewrite(published / "beds.csv", "31,32,33", "<31,32,33")
    rewrite(published / "beds.csv", "22,22,22", "<22,,")
    _, kinds = drift(steelyard, published)
    assert [one["says"].split(" (repeat")[0] for one in kinds["data"]] == [
        "A-01, noise: 32 dB -> 32 dB (with readings below the reporting limit)",
        "A-02, noise: 22 dB -> 22 dB (below the reporting limit)",
    ]


def test_a_product_taken_out_of_a_record_is_named_beside_what_drifted(steelyard: Any, published: Path) -> None:
    """The figures of A-02 are gone from the file; the readings of today are compared nevertheless."""
    path = published / "record.json"
    document = json.loads(path.read_text(encoding="utf-8"))
    del document["publication"]["sections"]["figures"][1]
    path.write_text(json.dumps(document, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    result = verify(steelyard, published)
    assert result.exit_code == 1
    assert "Within: 1 thing the record's own rules do not give:" in result.stdout
    assert "A-02: in section readings, and not in section figures" in result.stdout
    assert "A-01, noise: 32 dB -> 33 dB" in result.stdout


def test_a_caution_taken_out_of_a_record_is_quoted(steelyard: Any, published: Path) -> None:
    """Its words, so that a reader knows what was to be hidden; the cautions that are left are not quoted."""
    path = published / "record.json"
    document = json.loads(path.read_text(encoding="utf-8"))
    gone = document["publication"]["sections"]["cautions"].pop()
    path.write_text(json.dumps(document, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    result = steelyard("verify", path, "--json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert "publication, section cautions: not what was recorded" in [one["says"] for one in found["fingerprints"]]
    assert [one["says"] for one in found["within"]] == [f"a caution of the formula, and not in the record: `{gone}`"]


def test_a_correction_through_a_link_changes_the_target_and_keeps_the_link(steelyard: Any, published: Path) -> None:
    """The link may be relative, and stand in another folder."""
    (published / "shown").mkdir()
    link = published / "shown" / "latest.json"
    link.symlink_to("../record.json")
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    options = ("--corrects", link, *LATER, *CAUSE)
    assert record(steelyard, published, *options, out="shown/latest.json").exit_code == 0
    assert link.is_symlink()
    assert len(json.loads((published / "record.json").read_text(encoding="utf-8"))["corrections"]) == 1
    assert sorted(path.name for path in published.iterdir() if path.name.startswith(".")) == []


def test_a_correction_keeps_mode_and_owner(steelyard: Any, published: Path) -> None:
    """A record that others may not read is not opened by correcting it."""
    path = published / "record.json"
    path.chmod(0o600)
    if os.geteuid() == 0:
        os.chown(path, 12345, 54321)
    before = path.stat()
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    assert correct(steelyard, published).exit_code == 0
    after = path.stat()
    assert after.st_ino != before.st_ino
    assert (after.st_mode, after.st_uid, after.st_gid) == (before.st_mode, before.st_uid, before.st_gid)


def test_a_read_only_record_is_not_corrected(steelyard: Any, published: Path) -> None:
    """Whoever made it so meant it; a correction may go to a file of its own."""
    path = published / "record.json"
    path.chmod(0o444)
    before = path.read_bytes()
    rewrite(published / "beds.csv", "31,32,33", "31,32,36")
    result = correct(steelyard, published)
    assert result.exit_code == 2
    assert "record.json: a file that is read-only; expected a file that can be written" in result.stderr
    assert path.read_bytes() == before
    assert correct(steelyard, published, out="corrected.json").exit_code == 0


def test_an_older_record_is_corrected_in_its_place(steelyard: Any, published: Path) -> None:
    """Its key `seal` becomes `fingerprint`; the note says so before, and nothing after."""
    path = published / "record.json"
    shutil.copy(Path(__file__).parents[1] / "record" / "data" / "format-1.json", path)
    assert "`seal` is now `fingerprint`" in " ".join(steelyard("verify", path).stdout.split())
    done = correct(steelyard, published, "--date", "2025-05-01", *CAUSE)
    assert done.exit_code == 0, done.stderr
    assert "`seal` is now `fingerprint`" in " ".join(done.stdout.split())
    verified = steelyard("verify", path)
    assert verified.exit_code == 0
    assert "seal" not in verified.stdout
