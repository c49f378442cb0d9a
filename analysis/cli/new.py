"""`steelyard new`: a first formula from a bench's own files, and where these need one a recipe, every guess in them marked."""

from __future__ import annotations

import itertools
import os
import re
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.cli.inputs import is_yaml, not_given
from analysis.cli.terminal import print_text, say
from analysis.draft.columns import read_columns, refuse_huge
from analysis.draft.draft import draft_formula, drafts_of
from analysis.draft.findings import TURNED, Findings, findings_of
from analysis.draft.from_findings import columns_found, with_oddities
from analysis.draft.guesses import name_of
from analysis.draft.marked import guesses_in, printable
from analysis.draft.plain_reading import why_recipe
from analysis.draft.read_tables import BenchFiles, read_tables
from analysis.draft.recipe_tables import Draft
from analysis.draft.recipe_text import draft_recipe
from analysis.draft.told import decide_lines, found_lines, look_lines
from analysis.outputs.whole_files import create_whole
from analysis.wording import counted, listed
from scoring.catalogue import read_catalogue
from scoring.catalogue.product_columns import SESSIONS
from scoring.errors import CatalogueError, FileError, FormulaError, Place, Problem
from scoring.reader import read_form, read_sources
from scoring.recipe import read_recipe
from scoring.texts.source import Source

#: The recipe beside a formula; a folder that holds it is read by it.
RECIPE = "readings.yaml"
HINT = "Name another, or move it away: nothing is written over."


@dataclass(frozen=True, slots=True)
class Wanted:
    """The files that are to be written: the formula, None to print it, and the recipe, None for the usual one beside it."""

    formula: Path | None
    recipe: Path | None = None

    @property
    def recipe_file(self) -> Path:
        """Where the recipe is to stand; a name alone stands beside the formula."""
        folder = self.formula.parent if self.formula is not None else Path()
        if self.recipe is None:
            return folder / RECIPE
        return folder / self.recipe if self.recipe.parent == Path() else self.recipe

    @property
    def other_recipe(self) -> str:
        """A name for the recipe that no file bears yet, made of the formula's."""
        formula = self.formula or Path("beds.yaml")
        names = (f"{formula.stem}-readings{'' if number == 1 else f'-{number}'}.yaml" for number in itertools.count(1))
        return next(name for name in names if not os.path.lexists(formula.parent / name))

    def check(self) -> None:
        """Refuse names that no formula or recipe has.

        Raises
        ------
        FileError
        """
        for option, path in (("--out", self.formula), ("--recipe", self.recipe)):
            if path is not None and not is_yaml(path):
                raise FileError([Problem(Place(option), f"`{path}`", "a file that ends in .yaml")])
        if self.formula is not None and self.recipe_file == self.formula:
            expected = "a name of its own for the recipe"
            raise FileError([Problem(Place("--recipe"), f"`{self.formula}`, as the formula", expected)])


@dataclass(frozen=True, slots=True)
class Drafted:
    """The texts of a draft: `recipe` is empty where plain reading is enough."""

    formula: str
    recipe: str
    measures: int


def run(files: Sequence[Path], wanted: Wanted, name: str | None) -> None:
    """Write the drafts to new files, or print them."""
    if not files:
        raise CatalogueError([not_given("--from", "a catalogue", "readings.csv")])
    called = name or name_of(files[0].resolve().stem, ())
    if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_-]{0,59}", called):
        raise FormulaError([Problem(Place("--name"), f"`{called}`", "letters, digits, _ and -, not a digit first")])
    wanted.check()
    if len(files) == 1 and files[0].is_dir():
        _plainly(files[0], wanted, called, None)
        return
    bench = read_tables(files, None)
    findings = findings_of(bench.tables)
    is_turned = any(one.why == TURNED for one in findings.set_aside) and not findings.looks
    if len(files) == 1 and not is_turned and not why_recipe(bench, findings):
        _plainly(files[0], wanted, called, findings)
        return
    if not findings.measures:
        raise CatalogueError(_no_readings(files, findings))
    _with_recipe(files, wanted, called)


def _no_readings(files: Sequence[Path], findings: Findings) -> list[Problem]:
    """Why there is nothing to write a formula about."""
    expected = "a header row with rows of products below it, and columns of readings"
    hint = " ".join(f"{one.called}: {one.why}." for one in findings.set_aside)
    return [Problem(Place(str(one)), "no table of readings", expected, hint) for one in files]


def _plainly(file: Path, wanted: Wanted, name: str, findings: Findings | None) -> None:
    """A formula alone: the file is read as it stands."""
    out = wanted.formula
    columns = read_columns(file)
    columns = with_oddities(columns, findings) if findings is not None else columns
    text = draft_formula(columns, name, file.name)
    read_sources([Source("draft", text)])  # what is written can be read: else that is said, and nothing is written
    if out is None:
        print_text(text)
        return
    create_whole(out, text.encode(), HINT)
    first = f"{out}: {counted(len(columns.measures), 'measure')}, each with a straight rating, and one score of all."
    say(
        first, f"{_guesses(guesses_in(text))}, each marked `# guess:` with what it rests on. Go through them first.", ""
    )
    if wanted.recipe is not None:
        say(f"{wanted.recipe} is not written: {file.name} is read as it stands.", "")
    unread = [name for name in columns.words if name not in SESSIONS]
    if unread:
        names = ", ".join(map(printable, unread))
        say(
            f"Columns not read: {names}.",
            "A name, maker or class is published if it is declared under `attributes`.",
            "",
        )
    _say_section("Look at:", look_lines(findings) if findings is not None else [])
    _say_section("Decide first:", decide_lines([(out.name, text)]))
    tell_faults(out, file)
    say_next(out, file)


def _with_recipe(files: Sequence[Path], wanted: Wanted, name: str) -> None:
    """A formula and a recipe beside it."""
    out, recipe = wanted.formula, wanted.recipe_file
    bench = read_tables(files, recipe.parent if out is not None else None)
    findings = findings_of(bench.tables)
    drafted = draft_both(bench, findings, name, ", ".join(file.name for file in files))
    if out is None:
        head = f"# ---- {recipe.name}: how the files are read. `--out` writes both. ----"
        print_text(f"{drafted.formula}\n{head}\n\n{drafted.recipe}")
        return
    create_both({recipe: drafted.recipe, out: drafted.formula}, _how_else(wanted))
    says = f"{drafted.measures} measures, each with a straight rating, and one score of all."
    names = listed([file.name for file in files])
    say(f"{out}: {says}", f"{recipe}: how {names} {'is' if len(files) == 1 else 'are'} to be read.", "")
    _say_section("Found:", found_lines(findings))
    _say_section("Look at:", look_lines(findings))
    texts = [(recipe.name, drafted.recipe), (out.name, drafted.formula)]
    decisions = decide_lines(texts)
    _say_section("Decide first:", decisions)
    count = guesses_in(drafted.recipe) + guesses_in(drafted.formula)
    rest = f"{_guesses(count)} in all" if decisions else _guesses(count)
    say(f"{rest}, each marked `# guess:` with what it rests on. Go through them first.", "")
    tell_faults(out, recipe)
    say_next(out, recipe)


def draft_both(bench: BenchFiles, findings: Findings, name: str, source: str) -> Drafted:
    """The texts of formula and recipe; both can be read: else that is said.

    Raises
    ------
    FormulaError, CatalogueError : they cannot
    """
    columns = columns_found(findings)
    refuse_huge(columns.measures, source)
    names = {number: one.measure for number, one in enumerate(drafts_of(columns))}
    formula = draft_formula(columns, name, source)
    recipe = draft_recipe(Draft(findings, names, bench.text_files))
    read_sources([Source("draft", formula)])
    read_recipe(recipe, str(bench.folder / RECIPE))
    return Drafted(formula, recipe, len(columns.measures))


def _how_else(wanted: Wanted) -> dict[Path, str]:
    """What to try where a file is there already, by the file."""
    assert wanted.formula is not None
    recipe = f"Name it otherwise, as `--recipe {shlex.quote(wanted.other_recipe)}`, or move it away: nothing is written over."
    return {wanted.formula: HINT, wanted.recipe_file: recipe}


def create_both(texts: Mapping[Path, str], hints: Mapping[Path, str]) -> None:
    """Write files where none is yet: all of them, or none.

    Parameters
    ----------
    texts : what each is to hold
    hints : what to try where one is there already

    Raises
    ------
    FileError : something stands there, or a file cannot be written
    """
    there = [path for path in texts if os.path.lexists(path)]
    if there:
        raise FileError(
            Problem(Place(str(path)), "a file that is there already", "a new file", hints[path]) for path in there
        )
    done: list[Path] = []
    try:
        for path, text in texts.items():
            create_whole(path, text.encode(), hints[path])
            done.append(path)
    except BaseException:
        for path in done:
            path.unlink(missing_ok=True)
        raise


def _say_section(heading: str, lines: Sequence[str]) -> None:
    if lines:
        say(heading, *lines, "")


def say_next(formula: Path, catalogue: Path) -> None:
    """The commands that come next."""
    words = ("check", "score")
    lines = [f"  steelyard {word} {shlex.quote(str(formula))} {shlex.quote(str(catalogue))}" for word in words]
    say("Then:", *lines, whole=True)


def tell_faults(formula: Path, catalogue: Path) -> None:
    """Say what of the catalogue the draft cannot take; the draft stands all the same."""
    try:
        read_catalogue(catalogue, read_form(formula))
    except CatalogueError as fault:
        count = len(fault.problems)
        first = " ".join(str(fault.problems[0]).split())
        places = "1 place in the readings needs" if count == 1 else f"{count} places in the readings need"
        say(f"{places} a look before they can be scored; the first:")
        say(f"  {first}", "")


def _guesses(number: int) -> str:
    """How many guesses, in words."""
    return "1 guess" if number == 1 else f"{number} guesses"
