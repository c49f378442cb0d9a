"""`steelyard new` of what a bench leaves behind: three decisions on marked guesses lead to a first score, in every format."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from analysis.draft.marked import decisions_in, guesses_in

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "messy-workbook"
FILES = {
    "workbook": ("bench.xlsx",),
    "opendocument": ("bench.ods",),
    "semicolons": ("bench.csv", "products.csv"),
    "long": ("long.csv", "products.csv"),
    "database": ("bench.sqlite",),
}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the example, in which commands are typed."""
    copy = tmp_path / "messy-workbook"
    shutil.copytree(EXAMPLE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.chdir(copy)
    return copy


def from_each(files: tuple[str, ...]) -> list[str]:
    """The options that name some files."""
    return [word for file in files for word in ("--from", file)]


def decide(recipe: Path) -> None:
    """Make the three decisions in a drafted recipe, as the example's README has them."""
    text = recipe.read_text(encoding="utf-8")
    edits = {
        r"^    - N/A +# guess: DECIDE.*$": "    - N/A",
        r"^    # (skip: \[[0-9, ]+\]) +# guess: DECIDE.*$": r"    \1",
        r"^    # (corrections: \[.*?\]) +# guess: DECIDE.*$": r"    \1",
    }
    for before, after in edits.items():
        text, count = re.subn(before, after, text, flags=re.MULTILINE)
        assert count == 1, before
    recipe.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("files", FILES.values(), ids=FILES)
def test_three_decisions_lead_to_a_first_score(files: tuple[str, ...], steelyard: Any, folder: Path) -> None:
    """Exactly three lines say DECIDE; with all decided, `check` and `score` run without a fault."""
    result = steelyard("new", *from_each(files), "--out", "beds.yaml")
    assert (result.exit_code, result.stderr) == (0, "")
    formula, recipe = (Path(name).read_text(encoding="utf-8") for name in ("beds.yaml", "readings.yaml"))
    assert (len(decisions_in(formula)), len(decisions_in(recipe))) == (0, 3)
    assert f"{guesses_in(formula) + guesses_in(recipe)} guesses in all" in result.stdout
    assert "ten times its neighbours" in result.stdout
    decide(Path("readings.yaml"))
    for command in ("check", "score"):
        result = steelyard(command, "beds.yaml", "readings.yaml")
        assert (result.exit_code, result.stderr) == (0, ""), result.stderr
    assert "Published, of 45: overall 37." in result.stdout


def test_drafts_of_every_format_give_the_same_scores(steelyard: Any, folder: Path) -> None:
    """The draft's own formula, on the readings of each file as the draft reads them."""
    printed = set()
    for name, files in FILES.items():
        place = folder / name
        place.mkdir()
        for file in files:
            shutil.copy(folder / file, place / file)
        options = [word for file in files for word in ("--from", place / file)]
        steelyard("new", *options, "--out", place / "beds.yaml", "--name", "beds")
        decide(place / "readings.yaml")
        result = steelyard("score", place / "beds.yaml", place / "readings.yaml")
        assert result.exit_code == 0, result.stderr
        printed.add(re.sub(r"(?:Left out|Corrected by).*|, a draft with \d+ guess(?:es)?", "", result.stdout))
    assert len(printed) == 1


def test_every_recipe_of_the_example_gives_the_same_scores(steelyard: Any, folder: Path) -> None:
    """In millimetres and degrees Celsius, from inches and degrees Fahrenheit."""
    printed = {name: steelyard("score", "finished.yaml", f"{name}.yaml") for name in FILES}
    assert {name: (result.exit_code, result.stderr) for name, result in printed.items()} == dict.fromkeys(
        FILES, (0, "")
    )
    scores = {result.stdout.split("Left out")[0] for result in printed.values()}
    assert len(scores) == 1


def test_the_way_in_the_readme_is_true(steelyard: Any, folder: Path) -> None:
    """Its commands run in order, with its edits between them, and print what it quotes."""
    text = Path("README.md").read_text(encoding="utf-8")
    edits = re.findall(r"^\| `( {4}[^`]+)` \| (?:`( {4}[^`]+)`|stays) \|", text, flags=re.MULTILINE)
    assert [bool(after) for _, after in edits] == [False, True, True]
    lines = [line for block in re.findall(r"```sh\n(.*?)```", text, flags=re.DOTALL) for line in block.splitlines()]
    said = ""
    for line in lines:
        result = steelyard(*line.split()[1:])
        assert (result.exit_code, result.stderr) == (0, ""), line
        said += result.stdout
        if " new " in line:
            recipe = Path("readings.yaml").read_text(encoding="utf-8")
            for before, after in edits:
                mark = rf"^{re.escape(before)} +# guess: DECIDE.*$"
                recipe, count = re.subn(mark, after or before, recipe, flags=re.MULTILINE)
                assert count == 1, before
            Path("readings.yaml").write_text(recipe, encoding="utf-8")
    quotes = re.findall(r"^> (.*)$", text, flags=re.MULTILINE)
    assert quotes
    assert all(quote in said for quote in quotes)


def test_a_likely_slip_stops_a_score_at_its_cell(steelyard: Any, folder: Path) -> None:
    """Nothing of it is published before a human has said that it is right: then a wider range takes it."""
    printed = steelyard("new", "--from", "bench.xlsx", "--out", "beds.yaml").stdout
    assert "K38 (380, ten times its neighbours): is it wrong?" in printed
    formula, recipe = Path("beds.yaml"), Path("readings.yaml")
    assert "without K38 (380, ten times its neighbours): if it is right, widen this" in formula.read_text(
        encoding="utf-8"
    )
    text = recipe.read_text(encoding="utf-8").replace("    # skip:", "    skip:")
    recipe.write_text(text, encoding="utf-8")
    for command in ("check", "score"):
        result = steelyard(command, "beds.yaml", "readings.yaml")
        assert (result.exit_code, result.stdout) == (2, "")
        assert "cell K38 (Sag [mm]): `sag_mm` of `380` mm; expected 0 to 99 mm" in result.stderr
    formula.write_text(formula.read_text(encoding="utf-8").replace("[0, 99]", "[0, 400]"), encoding="utf-8")
    assert steelyard("score", "beds.yaml", "readings.yaml").exit_code == 0


def test_tables_of_a_database_are_called_so(steelyard: Any, folder: Path) -> None:
    """It has no sheets; and cells that are named by row and column are told apart."""
    printed = steelyard("new", "--from", "bench.sqlite", "--out", "beds.yaml").stdout
    assert "  table readings  header in row 1" in printed
    assert "sheet readings" not in printed
    assert "row 45, column Reading; row 144, column Reading; row 298, column Reading ..." in printed
    assert "of table beds;" in Path("beds.yaml").read_text(encoding="utf-8")


def test_a_second_recipe_has_a_name_of_its_own(steelyard: Any, folder: Path) -> None:
    """The fault names a way that works, word by word."""
    steelyard("new", "--from", "bench.xlsx", "--out", "first.yaml")
    again = ("new", "--from", "bench.xlsx", "--out", "beds.yaml")
    told = steelyard(*again)
    assert (told.exit_code, told.stdout) == (2, "")
    advised = re.search(r"`(--recipe \S+)`", told.stderr)
    assert advised
    result = steelyard(*again, *advised[1].split())
    assert (result.exit_code, result.stderr) == (0, "")
    assert "steelyard score beds.yaml beds-readings.yaml" in result.stdout
    assert Path("beds-readings.yaml").read_bytes() == Path("readings.yaml").read_bytes()
    assert "beds-readings-2.yaml" in steelyard(*again, "--recipe", "readings.yaml").stderr


@pytest.mark.parametrize(("name", "words"), [("beds.yaml", "a name of its own"), ("beds.txt", "ends in .yaml")])
def test_names_that_no_recipe_has_are_refused(name: str, words: str, steelyard: Any, folder: Path) -> None:
    """Nothing is written."""
    result = steelyard("new", "--from", "bench.xlsx", "--out", "beds.yaml", "--recipe", name)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert not Path("beds.yaml").exists()


def test_both_files_are_written_or_none(steelyard: Any, folder: Path) -> None:
    """Where either is there already, nothing is written over and nothing is added."""
    for there, other in (("beds.yaml", "readings.yaml"), ("readings.yaml", "beds.yaml")):
        Path(there).write_text("mine", encoding="utf-8")
        result = steelyard("new", "--from", "bench.xlsx", "--out", "beds.yaml")
        assert (result.exit_code, result.stdout) == (2, "")
        assert f"{there}: a file that is there already" in result.stderr
        assert Path(there).read_text(encoding="utf-8") == "mine"
        assert not Path(other).exists()
        Path(there).unlink()


def test_a_recipe_stands_where_its_files_are(steelyard: Any, folder: Path) -> None:
    """Elsewhere nothing is written, and the command says where to write."""
    (folder / "elsewhere").mkdir()
    result = steelyard("new", "--from", "bench.xlsx", "--out", "elsewhere/beds.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "both in one folder" in result.stderr
    assert list((folder / "elsewhere").iterdir()) == []


def test_without_a_file_both_texts_are_printed(steelyard: Any, folder: Path) -> None:
    """The same ones, formula first."""
    printed = steelyard("new", "--from", "bench.xlsx").stdout
    steelyard("new", "--from", "bench.xlsx", "--out", "beds.yaml")
    formula, recipe = (Path(name).read_text(encoding="utf-8") for name in ("beds.yaml", "readings.yaml"))
    assert printed.startswith(formula)
    assert printed.endswith(recipe)


def test_what_nobody_publishes_stands_in_no_formula(steelyard: Any, folder: Path) -> None:
    """Notes and who read a bed are left unread, and their words stand in neither draft."""
    steelyard("new", "--from", "bench.xlsx", "--out", "beds.yaml")
    texts = "".join(Path(name).read_text(encoding="utf-8") for name in ("beds.yaml", "readings.yaml"))
    assert "ignore: [Model, Tested by, Notes]" in texts
    assert "see mail" not in texts
    assert "Orrin" not in texts


def test_a_sheet_turned_round_is_named(steelyard: Any, tmp_path: Path) -> None:
    """Products in columns: no recipe reads that, and the fault says what to do."""
    rows = ("Measure,B-1,B-2,B-3", "Noise (dB),30,31,32", "Sag (mm),40,41,42", "Rebound (%),20,30,25")
    (tmp_path / "bench.csv").write_text("\n".join(["Invented readings,,,", *rows]), encoding="utf-8")
    result = steelyard("new", "--from", tmp_path / "bench.csv", "--out", tmp_path / "beds.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "turned round" in result.stderr
