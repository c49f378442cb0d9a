"""The likeliest mistakes of a new user: each is refused with its place, what was found, and what to do about it."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import pytest

FORMULA = """\
formula: beds
version: 1.0.0
title: First draft
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
bands: {strong: 7, fair: 4, weak: 1}

measures:
  noise_dba: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1.2}
  sit_drop: {unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5}
  surface_rise: {unit: delta_degC, better: lower, plausible: [0, 15], repeatability: 0.2}

ratings:
  quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit_drop, curve: {points: {40: 10, 80: 6, 135: 1}}}
  cooling: {measure: surface_rise, curve: {smooth: {1.5: 10, 4: 8, 9: 1}}}

scores:
  reading_upright:
    label: Reading upright
    blend: weighted mean
    weights: {edge: 4, cooling: 2, quiet: 1}
    limits: [{when: edge < 4, at_most: 6}]
    missing: {needs: [edge], absent_above: 0.3, otherwise: reweight}
"""
READINGS = """\
product,noise_dba [dB],sit_drop [mm],surface_rise [delta_degC]
A-01,31.5,62,3.4
A-02,38.0,48,2.2
A-03,26.1,95,missing: probe failed
"""
QUIET = "quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}"
WEIGHTS = "{edge: 4, cooling: 2, quiet: 1}"


class Slip(NamedTuple):
    """A text of the formula or of the readings and what is written for it; and the words that must come back."""

    old: str
    new: str
    says: tuple[str, ...]


def value(expression: str, *says: str) -> Slip:
    """A rating by a written expression."""
    return Slip(QUIET, f'quiet: {{value: "{expression}"}}', says)


def when(condition: str, *says: str) -> Slip:
    """A limit under a written condition."""
    return Slip("when: edge < 4", f'when: "{condition}"', says)


IN_THE_FORMULA = {
    "a misspelt measure in a rating": Slip("measure: noise_dba", "measure: noise_db", ("beds.yaml:13:20: `noise_db`", "Did you mean `noise_dba`?")),
    "a misspelt key": Slip("weights:", "wieghts:", ("beds.yaml:21:5: the key `wieghts`", "Did you mean `weights`?")),
    "a misspelt section": Slip("measures:", "Mesures:", ("beds.yaml:7:1: the key `Mesures`", "Did you mean `measures`?")),
    "a weight in per cent": Slip("edge: 4", "edge: 40%", ("beds.yaml:21:21: `40%`", "Write 40 where it is a weight")),
    "a quoted weight in per cent": Slip("edge: 4", 'edge: "40 %"', ('beds.yaml:21:21: the quoted text "40 %"', "Write it without quotes. Write 40")),
    "a share in per cent": Slip("absent_above: 0.3", "absent_above: 30", ("beds.yaml:23:44: 30 for", "at most 1. 30 % is written 0.3.")),
    "two equal anchors": Slip("80: 6", "40: 8", ("beds.yaml:14:54: the key `40` again (first in line 14)", "Drop one of the two.")),
    "two equal anchors written otherwise": Slip("80: 6", "40.0: 8", ("beds.yaml:14:54: the anchor 40.0 after 40", "rising order, each once")),
    "a decimal comma": Slip("repeatability: 2.5", "repeatability: 2,5", ("beds.yaml:9:76: the decimal comma in `2,5`; expected a decimal point. Write `2.5`.",)),
    "a decimal comma in an anchor": Slip("1.5: 10", "1,5: 10", ("beds.yaml:15:53: the decimal comma in `1,5`", "Write `1.5`.")),
    "a decimal comma in a range": Slip("[18, 75]", "[18,5, 75]", ("beds.yaml:8:51: 3 numbers for", "Write a decimal point, not a comma.")),
    "a thousands separator": Slip("[15, 170]", "[15, 1 700]", ("beds.yaml:9:55: `1 700`", "Write nothing between thousands.")),
    "a number with its unit": Slip("[15, 170]", "[15, 170 mm]", ("beds.yaml:9:55: `170 mm`", "Write the number alone, without a unit.")),
    "a range with a dash": Slip("[18, 75]", "18–75", ("beds.yaml:8:51: `18–75`", "Write `[18, 75]`.")),
    "a measure without a unit": Slip("unit: dB, ", "", ("beds.yaml:8:14: no `unit` in measures.noise_dba", "As in `unit: mm`")),
    "an unknown unit": Slip("unit: dB", "unit: decibell", ("beds.csv, row 1, column noise_dba [dB]: the unit `dB`", "Is the formula's unit, decibell, misspelt?")),
    "a temperature for a rise": Slip("unit: delta_degC", "unit: degC", ("column surface_rise [delta_degC]", "Write the one that was read.")),
    "a tab": Slip("  noise_dba: {", "\tnoise_dba: {", ("beds.yaml:8:1: a tab; expected spaces. Indent and separate with spaces, not tabs.",)),
    "an indent too small": Slip("    blend:", "   blend:", ("beds.yaml:20:4: an indent", "Here line 19 begins in column 5, this one in column 4.")),
    "an indent too large": Slip("    blend:", "      blend:", ("beds.yaml:20:7: an indent", "expected column 5, as above.")),
    "a dash too many": Slip("  noise_dba: {", "  - noise_dba: {", ("beds.yaml:9:3: an indent", "line 8 begins with `-`, the other line does not")),
    "no colon": Slip("blend: weighted", "blend weighted", ("beds.yaml:20:5: `blend weighted mean`, without a colon", "Write `blend: weighted mean`.")),
    "no colon behind a section": Slip("measures:", "measures", ("beds.yaml:7:1: `measures`, without a colon", "Write `measures:`.")),
    "no space after a colon": Slip("blend: weighted", "blend:weighted", ("beds.yaml:20:5: `blend:weighted mean`, without a space", "Write `blend: weighted mean`.")),
    "no space after a colon in braces": Slip("edge: 4", "edge:4", ("beds.yaml:21:15: `edge:4`, without a space after its colon", "Write `edge: 4`.")),
    "an equals sign for a colon": Slip("unit: dB", "unit=dB", ("beds.yaml:8:15: `unit=dB`, without a colon", "Write `unit: dB`.")),
    "no comma in braces": Slip("edge: 4, ", "edge: 4 ", ("beds.yaml:21:30: two entries without a comma", "Separate what stands inside `{ }` with commas.")),
    "semicolons in braces": Slip("edge: 4, ", "edge: 4; ", ("beds.yaml:21:31:", "with commas, not semicolons.")),
    "a quote left open": Slip("title: First draft", 'title: "First draft', ('beds.yaml:3:8: a quote " that is never closed', "Close it where the text ends")),
    "an apostrophe in single quotes": Slip("label: Reading upright", "label: 'Reader's bed'", ("beds.yaml:19:20: more text", "an apostrophe is written twice.")),
    "a brace left open": Slip("best: 22}}}", "best: 22}}", ("beds.yaml:13:10: `{` that is not closed; expected a `}`",)),
    "a bracket left open": Slip("[18, 75]", "[18, 75", ("beds.yaml:8:51: `[` that is not closed; expected a `]`",)),
    "a brace too many": Slip("best: 22}}}", "best: 22}}}}", ("beds.yaml:13:68: `}` without a `{`", "Leave it out.")),
    "a colon in a label": Slip("label: Reading upright", "label: Reading: upright", ("beds.yaml:19:19: a second `: `", "in quotes.")),
    "a label that begins with a sign": Slip("label: Reading", "label: @Reading", ("beds.yaml:19:12: a value that begins with `@`", "Set the text in quotes.")),
    "a special space": Slip("    blend:", "\u00a0   blend:", ("beds.yaml:20:1: a special space (U+00A0)", "Delete it and type a space")),
    "a special space in a name": Slip(" cooling: 2", "\u00a0cooling: 2", ("beds.yaml:21:23: `\\u00a0cooling`", "without the space at its edge?")),
    "a rating that is nowhere": Slip("{edge: 4", "{comfort: 4", ("beds.yaml:21:15: `comfort`; expected the name of a rating or score. Known: quiet, edge",)),
    "a circle": Slip("  reading_upright:\n", "  a: {weights: {b: 1}}\n  b: {weights: {a: 1}}\n  reading_upright:\n", ("the circle a -> b -> a", "Break it at one of them.")),
    "a repeated key": Slip("    blend: weighted mean\n", "    blend: weighted mean\n    blend: minimum\n", ("beds.yaml:21:5: the key `blend` again (first in line 20)",)),
    "a negative weight": Slip("edge: 4", "edge: -4", ("beds.yaml:21:21: -4 for scores.reading_upright.weights.edge; expected a number at least 0.",)),
    "no weight above zero": Slip(WEIGHTS, "{edge: 0, cooling: 0, quiet: 0}", ("beds.yaml:21:14: no weight above 0 in scores.reading_upright; expected at least one.",)),
    "no weights": Slip(f"    weights: {WEIGHTS}\n", "", ("beds.yaml:19:5: no value in scores.reading_upright", "As in `weights: {NAME: 2, NAME: 1}`.")),
    "a list of weights": Slip(WEIGHTS, "[edge, quiet]", ("beds.yaml:21:14: a list under weights", "For equal weights write `parts: [edge, quiet]`.")),
    "a mapping for a list": Slip("[{when: edge < 4, at_most: 6}]", "{when: edge < 4, at_most: 6}", ("beds.yaml:22:13: a mapping of keys; expected a list of limits", "Set it in [ ].")),
    "a word for a list": Slip("[edge]", "edge", ("beds.yaml:23:22: `edge`; expected a list of words", "Write `[edge]`.")),
    "a word for a mapping": Slip(QUIET, "quiet: noise_dba", ("beds.yaml:13:10: `noise_dba`; expected a rating as a mapping", "As in `{measure: NAME, curve:")),
    "a list of bands": Slip("{strong: 7, fair: 4, weak: 1}", "[7, 4, 1]", ("beds.yaml:5:8: a list; expected bands", "As in `{strong: 7, fair: 4, weak: 1}`.")),
    "a scale upside down": Slip("{from: 1, to: 10", "{from: 10, to: 1", ("beds.yaml:4:23: a scale from 10 to 1; expected `to` above `from`.",)),
    "a rating called as a measure": Slip("  quiet: {", "  noise_dba: {", ("beds.yaml:13:3: the name `noise_dba` for a rating and a measure", "Call the rating noise_dba_rating, say.")),
    "a name with a hyphen": Slip("  noise_dba: {", "  noise-dba: {", ("beds.yaml:8:3: the name `noise-dba`", "Write `noise_dba`, and put other words into `label`.")),
    "a pasted dash": Slip("edge: 4", "edge: –4", ("beds.yaml:21:21: `–4`", "The minus sign is a typographic one; write `-`.")),
    "pasted quotes": Slip("edge: 4", "edge: “4”", ("beds.yaml:21:21: `“4”`", "Leave out the typographic quotes.")),
    "two kinds of curve": Slip("best: 22}}", "best: 22}, points: {1: 2, 3: 4}}", ("beds.yaml:13:38: several kinds of curve: line, points", "Keep one of them.")),
    "one equals sign": when("edge = 4", "beds.yaml:22:27: `=`", "Write == to compare."),
    "two ampersands": when("edge < 4 && quiet < 4", "beds.yaml:22:31: `&&`", "Write `and`."),
    "AND in capitals": when("edge < 4 AND quiet < 4", "beds.yaml:22:31: `AND`", "Write `and` in small letters."),
    "unequal as in a spreadsheet": when("edge <> 4", "beds.yaml:22:28: `>`", "Write != for unequal."),
    "a pasted comparison": when("edge ≤ 4", "beds.yaml:22:27: `≤`", "Write <=."),
    "a number for a condition": when("edge", "beds.yaml:22:22: a number; expected a condition.", "Compare it with something."),
    "a hat for a power": value("noise_dba ^ 2", "beds.yaml:13:29: `^`", "Write ** for a power."),
    "a percent sign in an expression": value("noise_dba * 5%", "beds.yaml:13:32: `%`", "Write a share as 0.05."),
    "a decimal comma in an expression": value("noise_dba * 2,5", "beds.yaml:13:19: a comma between two values", "Write a decimal point, not a comma."),
    "a decimal comma in a function": value("clamp(noise_dba / 2,5, 1, 10)", "`clamp` with 4 arguments; expected 3. As in clamp(x, least, most).", "decimal comma?"),
    "a multiplication sign": value("2 × noise_dba", "beds.yaml:13:21: `×`", "Write * to multiply."),
    "no multiplication sign": value("2 noise_dba", "beds.yaml:13:21: `noise_dba`", "Write a sign such as * between `2` and `noise_dba`."),
    "a factor glued to a name": value("2noise_dba", "beds.yaml:13:19: `2noise_dba`", "Write 2 * noise_dba?"),
    "a spreadsheet's IF": value("IF(noise_dba < 30, 10, 5)", "beds.yaml:13:19: the function `IF`", "Write where(condition, a, b)."),
    "a spreadsheet's equals sign": value("=noise_dba / 5", "beds.yaml:13:19: `=`", "Leave out the = at the start."),
    "a round bracket left open": value("(noise_dba + 1", "beds.yaml:13:19: `(` that is never closed; expected a `)` for it."),
    "an expression that breaks off": value("noise_dba +", "beds.yaml:13:29: `+`", "Something must follow it."),
}  # fmt: skip


def cell(written: str, *says: str) -> Slip:
    """The first reading of noise."""
    return Slip("31.5", f'"{written}"', ("beds.csv, row 2, column noise_dba [dB]: ", *says))


def head(written: str, *says: str) -> Slip:
    """The header of the second measure."""
    return Slip("sit_drop [mm]", written, says)


IN_THE_READINGS = {
    "a decimal comma": cell("31,5", "`31,5`", "Write the number with a decimal point."),
    "a decimal comma without quotes": Slip("31.5", "31,5", ("beds.csv:2: a row of 5 cells; expected 4", "A decimal comma counts as a comma.")),
    "a date of a spreadsheet": cell("2026-03-04 00:00:00", "A date, perhaps made of a number by a spreadsheet? Write the reading again."),
    "a day and a month": cell("04-Mar", "`04-Mar`", "Write the reading again."),
    "a comma that may be either": cell("1,234", "A decimal comma?", "Else write nothing between thousands."),
    "a space between thousands": cell("1 234", "Write nothing between thousands"),
    "a special space at the edge": cell("31.5\u00a0", "`31.5\\u00a0`", "There is a special space at its edge; delete it."),
    "a word": cell("low", "`low`", "Where there is no reading, leave the cell empty, or write `missing: why`."),
    "a dash": cell("-", "Leave the cell empty, or write `missing: why`."),
    "not available": cell("N.A.", "Leave the cell empty, or write `missing: why`."),
    "a gap without its colon": cell("missing - probe", "Write `missing: why`, with a colon."),
    "a spreadsheet's error": cell("#DIV/0!", "That is a spreadsheet's error"),
    "a spreadsheet's formula": cell("=31.5", "Write the result"),
    "a range": cell("18-20", "A range? Write one number a cell"),
    "a scatter": cell("31.5 ± 0.2", "Write the number alone"),
    "a unit in the cell": cell("31.5 dB", "Write the unit in the header"),
    "a pasted dash": cell("–5", "`–5`", "The minus sign is a typographic one; write `-`."),
    "pasted quotes": cell("“31”", "Write the number without quotes."),
    "a slip by ten": cell("315", "`noise_dba` of `315` dB; expected 18 to 75 dB", "its decimal point"),
    "a product twice": Slip("A-02", "A-01", ("beds.csv, row 3, column product: a second row of `A-01`", "Repeats stand in columns")),
    "a blank behind an id": Slip("A-01,", "A-01 ,", ("beds.csv, row 2, column product: the id `A-01 `", "Remove the blank.")),
    "a special space behind an id": Slip("A-01,", "A-01\u00a0,", ("the id `A-01\\u00a0`", "Remove the blank.")),
    "a unit in round brackets": head("sit_drop (mm)", "beds.csv, row 1, column sit_drop (mm): ", "Write `sit_drop [mm]`: the unit stands in square brackets."),
    "a unit without brackets": head("sit_drop_mm", "row 1, column sit_drop_mm: ", "Write `sit_drop [mm]`"),
    "a bracket left open": head("sit_drop [mm", "row 1, column sit_drop [mm: ", "Every bracket is closed"),
    "a unit of another kind": head("sit_drop [kg]", "row 1, column sit_drop [kg]: the unit `kg`", "The two measure different things."),
    "an unknown unit": head("sit_drop [mms]", "the unit `mms`, which is not known"),
    "a special space in a header": head("sit_drop\u00a0[mm]", "beds.csv:1:3: ", "Delete the character and type it again"),
    "no column of products": Slip("product", "Bed", ("beds.csv:1: no column of products", "names the products", "Bed, noise_dba [dB]")),
    "a title above the header": Slip("product", "Bench report,,,\nproduct", ("beds.csv:1: no column of products", "Is the header in row 2? Delete the rows above it, or write a recipe with `header: 2`.")),
    "a short row": Slip("62,3.4", "62", ("beds.csv:2: a row of 3 cells; expected 4", "An empty cell still has its comma.")),
}  # fmt: skip


@pytest.fixture
def beds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a good formula and good readings, in which the commands run."""
    (tmp_path / "beds.yaml").write_text(FORMULA, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(READINGS, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def check_refusal(result: Any, says: tuple[str, ...]) -> None:
    """Exit 2, nothing on standard output, and one line that says all of `says` in this order."""
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert "nothing was done" in result.stderr
    lines = result.stderr.splitlines()
    told = [line for line in lines if all(words in line for words in says)]
    assert told, result.stderr
    places = [told[0].index(words) for words in says]
    assert places == sorted(places)


def change(file: Path, slip: Slip) -> None:
    """Write the slip into a good file."""
    text = file.read_text(encoding="utf-8")
    assert slip.old in text
    file.write_text(text.replace(slip.old, slip.new, 1), encoding="utf-8")


@pytest.mark.parametrize("name", IN_THE_FORMULA)
def test_a_slip_in_the_formula_is_named_with_what_to_do(steelyard: Any, beds: Path, name: str) -> None:
    """With file, line and column; and what else was good does not turn into further faults without end."""
    change(beds / "beds.yaml", IN_THE_FORMULA[name])
    result = steelyard("check", "beds.yaml", "beds.csv")
    check_refusal(result, IN_THE_FORMULA[name].says)
    assert len(result.stderr.splitlines()) <= 3


@pytest.mark.parametrize("name", IN_THE_READINGS)
def test_a_slip_in_the_readings_is_named_with_what_to_do(steelyard: Any, beds: Path, name: str) -> None:
    """With file, row and column; nothing is written."""
    change(beds / "beds.csv", IN_THE_READINGS[name])
    check_refusal(steelyard("score", "beds.yaml", "beds.csv", "--out", "scores.csv"), IN_THE_READINGS[name].says)
    assert sorted(file.name for file in beds.iterdir()) == ["beds.csv", "beds.yaml"]


ON_THE_COMMAND_LINE = {
    "swapped": (["score", "beds.csv", "beds.yaml"], ("beds.csv: a .csv file, where the formula belongs", "Did you swap")),
    "two formulas": (["check", "beds.yaml", "beds.yaml"], ("beds.yaml: ", "where the readings belong")),
    "a formula as the new catalogue": (["compare", "beds.yaml", "beds.yaml", "beds.csv", "--catalogue-new", "beds.yaml"], ("beds.yaml: ", "where the readings belong")),
    "no such formula": (["score", "bed.yaml", "beds.csv"], ("bed.yaml: No such file", "Did you mean `beds.yaml`?")),
    "a formula without its ending": (["score", "beds", "beds.csv"], ("beds: No such file", "Did you mean `beds.yaml`?")),
    "no such readings": (["score", "beds.yaml", "bed.csv"], ("bed.csv: ", "Did you mean `beds.csv`?")),
    "readings without their ending": (["score", "beds.yaml", "beds"], ("beds: no such file or folder", "Did you mean `beds.csv`?")),
    "no such folder": (["score", "beds.yaml", "nowhere/beds.csv"], ("beds.csv: ", "There is no folder `nowhere`.")),
    "a folder of other names": (["score", "beds.yaml", "."], (".: a folder without readings", "It holds beds.csv: give that file, or rename it.")),
    "an old spreadsheet": (["score", "beds.yaml", "old.xls"], ("old.xls: a file with the ending `.xls`", "save it as .xlsx or .csv.")),
    "a flat spreadsheet": (["score", "beds.yaml", "flat.fods"], ("flat.fods: a file with the ending `.fods`", "save it as .xlsx or .csv.")),
    "an address that names nothing": (["score", "beds.yaml", "beds.csv", "--set", "quite=3"], ("the address `quite`",)),
    "a setting without its sign": (["score", "beds.yaml", "beds.csv", "--set", "scores.reading_upright.weights.quiet"], ("--set: ", "expected ADDRESS=VALUE")),
    "a setting out of range": (["score", "beds.yaml", "beds.csv", "--set", "scores.reading_upright.weights.quiet=-3"], ("will not do: -3", "a number at least 0")),
}  # fmt: skip


@pytest.mark.parametrize("name", ON_THE_COMMAND_LINE)
def test_a_slip_on_the_command_line_is_named_with_what_to_do(steelyard: Any, beds: Path, name: str) -> None:
    """What was given, and what was likely meant; it is offered and never taken."""
    for other in ("old.xls", "flat.fods"):
        if other in ON_THE_COMMAND_LINE[name][0]:
            (beds / other).write_bytes(b"\xd0\xcf\x11\xe0")
    arguments, says = ON_THE_COMMAND_LINE[name]
    check_refusal(steelyard(*arguments), says)


ENCODED = {
    "readings in UTF-16 without a mark": ("beds.csv", READINGS.encode("utf-16-le"), "beds.csv: text in UTF-16 without its mark; expected text in UTF-8. A recipe says in which: `encoding: utf-16-le`."),
    "readings in Latin-1": ("beds.csv", READINGS.replace("A-02", "Lit-é").encode("latin-1"), "beds.csv:3: the byte 0xe9, which is not UTF-8"),
    "readings between semicolons": ("beds.csv", READINGS.replace(",", ";").encode(), "beds.csv:1: cells with semicolons between them; expected commas between cells. A recipe reads the file as it is: `separator: \";\"`, with `decimal: comma`"),
    "a formula in UTF-16": ("beds.yaml", FORMULA.encode("utf-16"), "beds.yaml: text in UTF-16; expected text in UTF-8."),
    "a formula in Latin-1": ("beds.yaml", FORMULA.replace("First", "Première").encode("latin-1"), "beds.yaml:3: the byte 0xe8, which is not UTF-8"),
}  # fmt: skip


@pytest.mark.parametrize("name", ENCODED)
def test_a_file_in_another_encoding_or_separator_is_refused(steelyard: Any, beds: Path, name: str) -> None:
    """Nothing is guessed: the same bytes are other letters in each encoding."""
    file, content, says = ENCODED[name]
    (beds / file).write_bytes(content)
    check_refusal(steelyard("score", "beds.yaml", "beds.csv"), (says,))


@pytest.mark.parametrize("file", ["beds.yaml", "beds.csv"])
def test_a_byte_order_mark_and_windows_line_ends_simply_work(steelyard: Any, beds: Path, file: str) -> None:
    """What spreadsheets and editors on Windows write; the scores are the same."""
    before = steelyard("score", "beds.yaml", "beds.csv").stdout
    content = (beds / file).read_bytes()
    (beds / file).write_bytes(b"\xef\xbb\xbf" + content.replace(b"\n", b"\r\n"))
    result = steelyard("score", "beds.yaml", "beds.csv")
    assert (result.exit_code, result.stdout) == (0, before)


def test_anchors_off_the_scale_are_refuted_by_the_check(steelyard: Any, beds: Path) -> None:
    """Not a fault of reading but a finding: exit 1, with the rating at which it happens."""
    change(beds / "beds.yaml", Slip("40: 10, 80", "40: 11, 80", ()))
    result = steelyard("check", "beds.yaml", "beds.csv")
    assert result.exit_code == 1
    assert "REFUTED" in result.stdout


def test_slips_in_several_places_come_back_at_once(steelyard: Any, beds: Path) -> None:
    """A misspelt key does not hide what is wrong below it."""
    change(beds / "beds.yaml", Slip("weights: {edge: 4", "wieghts: {edgee: -4", ()))
    change(beds / "beds.yaml", Slip("worst: 46", "worst: 4o", ()))
    lines = steelyard("check", "beds.yaml").stderr.splitlines()
    assert [line.split(" ")[0] for line in lines[:4]] == [
        "beds.yaml:13:53:", "beds.yaml:21:5:", "beds.yaml:21:15:", "beds.yaml:21:22:"
    ]  # fmt: skip
