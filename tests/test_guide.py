"""README and the guides are true: every command line in them runs, and what they quote of its output is what it prints."""

from __future__ import annotations

import contextlib
import json
import re
import shlex
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import pytest
from extent import only_long
from from_readme import README, block, guide
from laboratory_runs import FILES, LABORATORY, LaboratoryRuns, once
from typer.testing import CliRunner
from written_forms import curve_form, faults_of
from written_studies import shape_faults, yaml_of

from analysis.cli.main import app
from scoring.form_reference.schema import formula_schema

ROOT = Path(__file__).resolve().parents[1]
GUIDE = ROOT / "examples" / "guide"
PAGES = [ROOT / "README.md", *sorted(GUIDE.glob("*.md"))]
#: A newcomer reads README in ten minutes.
MOST_LINES = 150
#: Run whole by `.ci/run`, and in pieces by its own tests.
TOUR = "steelyard tour"
#: What a page shows where the reader is to write a word of his own.
TO_FILL_IN = re.compile(r"\b[A-Z]{3,}\b|\[|\.\.\.")
SAVED = re.compile(r"Save this as `([^`]+)`[^\n]*\n\n```\w+\n(.*?)^```$", re.DOTALL | re.MULTILINE)
SOMETHING = ".{0,200}?"
#: Its figures are worked again one by one in tests/reference and tests/selftest.
LONG = ("steelyard selftest",)


@dataclass(frozen=True, slots=True)
class Shown:
    """Command lines that a page shows together, and what it quotes of the output of one of them."""

    page: str
    lines: tuple[str, ...]
    quotes: tuple[str, ...]


def commands_in(text: str) -> tuple[str, ...]:
    """The command lines among the inline code of a text."""
    found = re.findall(r"`(steelyard [^`]*)`", text)
    return tuple(line for line in found if not TO_FILL_IN.search(line) and line != TOUR)


def shown_in(page: Path) -> Iterator[Shown]:
    """What stands in blocks of shell with the quotes (`> `) under them, then in each other line with the quotes (“ ”) in it."""
    name = page.name if page.parent == ROOT else f"guide/{page.name}"
    text = page.read_text(encoding="utf-8")
    for found in re.finditer(r"^```sh\n(.*?)^```\n((?:\n?> [^\n]*\n)*)", text, re.DOTALL | re.MULTILINE):
        lines = tuple(line for line in found[1].splitlines() if line.startswith("steelyard "))
        quotes = tuple(line.removeprefix("> ") for line in found[2].splitlines() if line)
        yield Shown(name, lines, quotes)
    for line in re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE).splitlines():
        if commands_in(line):
            yield Shown(name, commands_in(line), tuple(re.findall("“([^”]+)”", line)))


SHOWN = [shown for page in PAGES for shown in shown_in(page)]
LINES = list(dict.fromkeys(line for shown in SHOWN for line in shown.lines))
FILES_TO_SAVE = [found for page in PAGES for found in SAVED.findall(page.read_text(encoding="utf-8"))]


def is_shared(line: str) -> bool:
    """Whether a line asks of the laboratory as it is, and writes nothing: other tests ask such lines too."""
    own = any(name in line for name, _ in FILES_TO_SAVE)
    return "guest-bed.yaml" in line and not own and "--out" not in shlex.split(line)


def work_through(folder: Path) -> None:
    """Type all other lines one after the other, each once, in a folder with all files that the pages go by."""
    desk = folder / "desk"
    desk.mkdir()
    for name in FILES:
        shutil.copy(LABORATORY / name, desk / name)
    (desk / "formulas").symlink_to(ROOT / "formulas", target_is_directory=True)
    for name, text in FILES_TO_SAVE:
        (desk / name).write_text(text, encoding="utf-8")
    said = {}
    with contextlib.chdir(desk):
        for line in LINES:
            if not is_shared(line) and line not in LONG:
                done = CliRunner().invoke(app, shlex.split(line)[1:])
                said[line] = (done.exit_code, done.stdout, done.stderr)
    (folder / "said.json").write_text(json.dumps(said), encoding="utf-8")


def said_of(line: str, runs: LaboratoryRuns) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a line, which runs once in a whole run of the tests."""
    if line in LONG:
        done = CliRunner().invoke(app, shlex.split(line)[1:])
        return done.exit_code, done.stdout, done.stderr
    if is_shared(line):
        run = runs.run(line.removeprefix("steelyard "))
        return run.exit_code, run.stdout, run.stderr
    said = json.loads((once(runs.shared / "guide", work_through) / "said.json").read_bytes())
    exit_code, stdout, stderr = said[line]
    return exit_code, stdout, stderr


def in_one_line(text: str) -> str:
    """Without the places at which a terminal, or a page, ends its lines."""
    return " ".join(text.split())


def pattern_of(quote: str) -> re.Pattern[str]:
    """The quote word for word; where it has …, something short is left out."""
    pieces = [re.escape(piece.strip()) for piece in in_one_line(quote).split("…")]
    return re.compile(SOMETHING.join(pieces))


@pytest.mark.parametrize("line", [pytest.param(line, marks=[only_long] * (line in LONG)) for line in LINES])
def test_every_command_line_runs(line: str, laboratory_runs: LaboratoryRuns) -> None:
    """Exit code 0: nothing is wrong with it, and no finding stands that the page does not speak of."""
    exit_code, _, stderr = said_of(line, laboratory_runs)
    assert exit_code == 0, stderr


@pytest.mark.parametrize(
    "shown",
    [
        pytest.param(shown, id=f"{shown.page}: {shown.lines[0]}", marks=[only_long] * (shown.lines[0] in LONG))
        for shown in SHOWN
        if shown.quotes
    ],
)
def test_what_is_quoted_is_printed(shown: Shown, laboratory_runs: LaboratoryRuns) -> None:
    """Word for word, figures and all, by one of the lines it stands with."""
    printed = [in_one_line(said_of(line, laboratory_runs)[1]) for line in shown.lines]
    assert [quote for quote in shown.quotes if not any(pattern_of(quote).search(text) for text in printed)] == []


def test_a_quote_is_no_pattern_that_fits_anything() -> None:
    """Another figure is not what is quoted, and no more than some words may be left out."""
    fits = pattern_of("Two Abed: settled …; places 1 to 8 (at 95 %).")
    assert fits.search("Two Abed: settled against repeatability; places 1 to 8 (at 95 %).")
    assert not fits.search("Two Abed: settled against repeatability; places 1 to 9 (at 95 %).")
    assert not fits.search(f"Two Abed: settled {'x' * 300}; places 1 to 8 (at 95 %).")


def test_pages_have_lines_and_quotes() -> None:
    """Every quote stands with the line that it is of, every command is shown, and every guide is reached from the index."""
    quotes = sum(len(shown.quotes) for shown in SHOWN)
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert quotes == text.count("“") - text.count("“ ”") + len(re.findall("^> ", text, re.MULTILINE))
    assert {line.split()[1] for line in LINES} >= {
        command.name or command.callback.__name__  # type: ignore[union-attr]
        for command in app.registered_commands
        if command.callback is not None and command.callback.__name__ != "tour"
    }
    index = (GUIDE / "README.md").read_text(encoding="utf-8")
    assert [
        page.name for page in GUIDE.glob("*.md") if page.name != "README.md" and f"]({page.name})" not in index
    ] == []


@pytest.mark.parametrize("page", PAGES[1:], ids=lambda page: page.stem)
def test_a_block_of_shell_is_command_lines_and_nothing_else(page: Path) -> None:
    """So that none is passed over."""
    blocks = re.findall(r"^```sh\n(.*?)^```$", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    assert [line for text in blocks for line in text.splitlines() if not line.startswith("steelyard ")] == []


def headings(page: Path) -> set[str]:
    """The fragments by which the headings of a page are linked to, as repositories show them."""
    text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)
    plain = [re.sub(r"[^\w\- ]", "", line.lstrip("#").strip().lower()) for line in text.splitlines() if line[:1] == "#"]
    return {heading.replace(" ", "-") for heading in plain}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_somewhere(page: Path) -> None:
    """To a file of the project, and to a heading in it."""
    for target, _, fragment in re.findall(r"\]\(([^)#]*)(#([^)]*))?\)", page.read_text(encoding="utf-8")):
        reached = (page.parent / target).resolve() if target else page
        assert reached.exists(), target
        if fragment:
            assert fragment in headings(reached), f"{target}#{fragment}"


def test_readme_is_short_and_opens_with_two_commands() -> None:
    """One sets up and runs the main job, one passes the tests."""
    assert len(README.splitlines()) <= MOST_LINES
    assert block("sh", "").splitlines() == [
        "python3 -m venv .venv && .venv/bin/pip install '.[pdf]' && .venv/bin/steelyard tour",
        ".venv/bin/pip install '.[test]' && .venv/bin/pytest",
    ]


def written_in(page: str, start: str) -> list[str]:
    """What the tables of a guide say one writes, that starts so and leaves nothing out."""
    cells = [cell for row in guide(page).splitlines() if row.startswith("| ") for cell in row.split(" | ")[1:]]
    codes = [code for cell in cells for code in re.findall(r"`([^`]+)`", cell)]
    return [code for code in codes if code.startswith(start) and "..." not in code]


@pytest.mark.parametrize("curve", written_in("form", "curve: {"))
def test_a_curve_of_the_guide_is_read(curve: str) -> None:
    """As it stands, in a form of one rating."""
    assert faults_of(curve_form(curve.removeprefix("curve: {").removesuffix("}"))) == []


SECTIONS = ("measures", "error_correlations", "gates", "attributes", "checklist", "takes", "product_column")
WRITTEN = [code for section in SECTIONS for code in written_in("form", f"{section}:")]
PARTS = [code for key in ("limits", "missing", "round") for code in written_in("form", f"{key}:")]


@pytest.mark.parametrize("code", WRITTEN)
def test_a_section_of_the_guide_fits_the_schema(code: str) -> None:
    """As an editor would hold it."""
    form = yaml_of("formula: trial\nmeasures: {x: {unit: mm}}\nratings: {r: {value: x}}\n") | yaml_of(code)
    jsonschema.Draft202012Validator(formula_schema()).validate(form)


@pytest.mark.parametrize("code", PARTS)
def test_a_key_of_a_score_in_the_guide_is_read(code: str) -> None:
    """As it stands, in a score of two ratings."""
    ratings = "ratings: {edge: {value: x}, quiet: {value: x}}"
    score = f"scores: {{s: {{blend: weighted mean, weights: {{edge: 4, quiet: 1}}, {code}}}}}"
    head = "formula: trial\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: mm}}\n"
    assert faults_of(f"{head}{ratings}\n{score}\n") == []


@pytest.mark.parametrize("item", written_in("studies", "{"))
def test_an_item_of_the_guide_fits_the_schema_of_studies(item: str) -> None:
    """As an editor would hold it."""
    written = item.replace("ADDRESS", "scores.two_abed.limits.1.at_most")
    assert shape_faults(f"study: trial\nvary:\n  - {written}\n") == []


def test_the_tables_of_the_guide_are_looked_at() -> None:
    """Each row of what one writes, but for those that show a piece of a key."""
    assert len(written_in("form", "curve: {")) >= 10
    assert (len(WRITTEN), len(PARTS)) == (14, 5)
    assert len(written_in("studies", "{")) >= 14
