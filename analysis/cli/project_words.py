"""What a command line leaves out, taken from the project file of the folder: a formula, readings, and with them a study.

The rule, as `steelyard --help` and the guide say it, is `RULE`. A command line that gives both is left as it is, and then no
project file is read.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer
import typer.core

from analysis.cli.arguments import faults_told
from analysis.cli.command_words import FORMULAS, READINGS, RECORD, Line, is_readings, is_yaml, line_of, names_a_recipe

if TYPE_CHECKING:
    from analysis.project import Project

#: Where the project file of `--project` is kept for the command behind it.
KEPT = "steelyard.project"
HERE = "steelyard.yaml"
RULE = (
    f"In a folder with a file `{HERE}`, a command that is given no formula takes the project's, with its study, and one that is "
    "given no readings takes the project's: the first word is a formula where it ends in .yaml or is the name of an edition, and "
    "the next one is readings where it is a table file, a recipe or a folder."
)
#: What a command that must write is given under the project's folder of output.
_WRITTEN = {"appendix": "appendix", "explore": "explore.html", "record": "record-{date}.json"}


class ProjectCommand(typer.core.TyperCommand):
    """A command whose first words may stand in a project file; what is wrong with its numbers is told as other faults are."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Fill in what is left out, then read the command line."""
        path = _project_path(ctx)
        if path is not None and "--help" not in args:
            with faults_told():
                args = filled(line_of(self, args), path)
        try:
            return super().parse_args(ctx, args)
        except typer.BadParameter as refused:
            from analysis.cli.number_options import OptionError, number_fault  # only where something is wrong

            problem = number_fault(refused)
            if problem is None:
                raise
            with faults_told():
                raise OptionError([problem]) from None


def _project_path(ctx: Any) -> Path | None:
    """The project file that is meant: the one that is given, or the folder's own if there is one."""
    given: Path | None = ctx.meta.get(KEPT)
    if given is not None:
        return given
    return Path(HERE) if os.path.isfile(HERE) else None


def filled(line: Line, path: Path) -> list[str]:
    """The command line with what the project says in the place of what is left out; what was taken is told on standard error.

    Raises
    ------
    SteelyardError : the project file is faulty, does not say what is left out, or a word may mean two things
    """
    if not line.slots or line.is_whole:
        return list(line.args)
    from analysis.project import read_project  # only where a project is needed

    filling = _Filling(line, read_project(path))
    args = filling.args()
    if filling.taken and "--json" not in line.given:
        sys.stderr.write(f"Taken from {path}: {', '.join(dict.fromkeys(filling.taken))}.\n")
    return args


@dataclass(slots=True)
class _Filling:
    """One command line being filled in from a project; `taken` says what was."""

    line: Line
    project: Project
    taken: list[str] = field(default_factory=list)
    n_read: int = 0

    def args(self) -> list[str]:
        """The words that come first, then all that was typed, save the words that are among these."""
        first = list(self._first())
        rest = [token for number, token in enumerate(self.line.args) if number not in self.line.words[: self.n_read]]
        self._refuse_left()
        return [*self._options(), *first, *rest]

    def _first(self) -> Iterator[str]:
        if RECORD in self.line.slots:
            yield str(self._next())
            if self.line.word(self.n_read) is None and not (self.project.formula and self.project.readings):
                return
        yield from self._formulas()
        word = self.line.word(self.n_read)
        is_needed = self.line.slots.get(READINGS, False)
        if word is not None and is_readings(word):
            yield str(self._next())
        elif is_needed or ("formula" in self._named and self.project.readings):
            yield self._from_project("readings", self.project.readings, READINGS.upper())

    @property
    def _named(self) -> list[str]:
        return [taken.split(" ", 1)[0] for taken in self.taken]

    def _formulas(self) -> Iterator[str]:
        """The formulas of a command: those that are given, after the project's where one is left out."""
        wanted = [slot for slot in self.line.slots if slot in FORMULAS]
        found = list[str]()
        while len(found) < len(wanted) and (formula := self._formula(self.line.word(self.n_read))) is not None:
            found.append(formula)
            self.n_read += 1
        if len(wanted) == 1 and not found:
            found = [self._own()]
        elif len(wanted) == 2 and len(found) == 1:
            found = [self._own(), *found]
        elif len(wanted) == 2 and not found:
            found = [self._own()] * 2
            self._refuse_the_same()
        yield from found

    def _formula(self, word: str | None) -> str | None:
        """A word as the path of a formula: a YAML file that is no recipe, or an edition by its name; None for any other."""
        if word is None:
            return None
        edition = self.project.editions.get(word)
        if edition is not None:
            self._refuse_two_meanings(word)
            path = self._path(edition)
            self.taken.append(f"edition {word} `{path}`")
            return path
        return word if is_yaml(word) and not names_a_recipe(word) else None

    def _own(self) -> str:
        return self._from_project("formula", self.project.formula, "FORMULA")

    def _next(self) -> str | None:
        word = self.line.word(self.n_read)
        self.n_read += word is not None
        return word

    def _from_project(self, key: str, file: str, called: str) -> str:
        from scoring.errors import Place, Problem, SteelyardError

        if not file:
            hint = f"Write {called} after the command, or `{key}: ...` in the project file."
            raise SteelyardError(
                [Problem(Place(self.project.source), f"no `{key}`", f"the {key} of the project", hint)]
            )
        path = self._path(file)
        self.taken.append(f"{key} `{path}`")
        return path

    def _path(self, file: str) -> str:
        """A file of the project, as it lies from here."""
        path = os.path.join(self.project.folder, file) if self.project.folder != "." else file
        return f".{os.sep}{path}" if path.startswith("-") else path

    def _options(self) -> Iterator[str]:
        """The study, and where a command writes that must, if the formula is the project's and neither is given."""
        if "formula" not in self._named:
            return
        if self.project.study and "--study" in self.line.options and "--study" not in self.line.given:
            path = self._path(self.project.study)
            self.taken.append(f"study `{path}`")
            yield from ("--study", path)
        written, date = _WRITTEN.get(self.line.command, ""), self.line.given.get("--date", "")
        if self.project.out and written and "--out" not in self.line.given and (date or "{date}" not in written):
            path = os.path.join(self._path(self.project.out), written.format(date=date))
            self.taken.append(f"out `{path}`")
            yield from ("--out", path)

    def _refuse_two_meanings(self, word: str) -> None:
        from scoring.errors import Place, Problem, SteelyardError

        if os.path.exists(word):
            found = f"`{word}`, an edition of the project and a {'folder' if os.path.isdir(word) else 'file'} here"
            hint = f"Write `./{word}` for what lies here, or the edition's own file."
            raise SteelyardError([Problem(Place(self.line.command), found, "a word of one meaning", hint)])

    def _refuse_the_same(self) -> None:
        """A comparison of the project's formula with itself needs something that differs."""
        from scoring.errors import Place, Problem, SteelyardError

        if not {"--set", "--catalogue-new", "--bridge"} & set(self.line.given):
            named = ", ".join(self.project.editions)
            expected = "a formula file" + (f", or one of the editions {named}" if named else "")
            hint = "Or try something on the project's own with --set or --catalogue-new."
            raise SteelyardError(
                [Problem(Place("compare"), "nothing to compare the project's formula with", expected, hint)]
            )

    def _refuse_left(self) -> None:
        """Report a word for which the command has no place: it is neither a formula nor readings."""
        from scoring.errors import Place, Problem, SteelyardError

        n_behind = self.line.n_needed - sum(self.line.slots.values())
        left = [str(self.line.word(number)) for number in range(self.n_read, len(self.line.words))]
        if not self.line.more and len(left) > n_behind:
            editions = ", ".join(self.project.editions)
            expected = (
                f"a formula (.yaml{f', or one of {editions}' if editions else ''}), a table file, a recipe or a folder"
            )
            hint = "The formula comes first, then the readings."
            over = left[: len(left) - n_behind]
            raise SteelyardError(
                Problem(Place(self.line.command), f"the word `{word}`", expected, hint) for word in over
            )
