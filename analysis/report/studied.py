"""A report on a study of what varies: the study as it is asked for, and how a report says what varies in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.asked import unknown_scores, unselected
from analysis.report.report import Said, Section
from analysis.report.source import Source, file_of
from analysis.report.tables import OnScreen, Table, words
from analysis.study import Study, default_study, load_study
from analysis.wording import counted
from scoring.catalogue import Catalogue
from scoring.errors import Place, Problem, StudyError
from scoring.table.table import ScoreTable

GivenStudy = Study | str | Path | None
#: What a terminal says after a study of which it shows less than there is.
HINT = "`--resolved` prints what varies and how; `--score NAME` one score in full; `--out DIR` figures and tables."


@dataclass(frozen=True, slots=True)
class AskedOfStudy:
    """What is asked of a study in place of what it says itself.

    scores: which ones; pairs: of products; top: how many places the top are; what is empty or None is as the study has it
    """

    scores: Sequence[str] = ()
    pairs: Sequence[Sequence[str]] = ()
    top: int | None = None


def study_of(given: GivenStudy, table: ScoreTable, asked: AskedOfStudy) -> Study:
    """The study, read where it is the path of a file and derived from the formula where there is none, as it is asked for.

    Raises
    ------
    SteelyardError : a fault of the file, a study of another formula, or anything asked for that is not there
    """
    made = _read(given, table)
    names = {column.output.name: column for column in table.scores + table.ratings}
    problems = unknown_scores(asked.scores, names)
    problems += [problem for pair in asked.pairs for problem in _problems_of(pair, table.catalogue)]
    problems += unselected(table, [name for pair in asked.pairs for name in pair], "--beats")
    problems += [
        Problem(Place("the study"), f"no product is published with {name}", "at least one")
        for name in asked.scores or made.scores
        if name in names and not (names[name].rank >= 1).any()
    ]
    if problems:
        raise StudyError(problems)
    return replace(
        made,
        scores=tuple(dict.fromkeys(asked.scores)) or made.scores,
        pairs=tuple(dict.fromkeys((one, other) for one, other in asked.pairs)) or made.pairs,
        top=asked.top if asked.top is not None else made.top,
    )


def _read(given: GivenStudy, table: ScoreTable) -> Study:
    if given is None:
        return default_study(table.form, table.catalogue)
    if not isinstance(given, Study):
        return load_study(Path(given), table.form, table.catalogue)
    # its moves write at the addresses and from the numbers of the formula that it was made for
    if given.form.sha256 != table.form.sha256:
        found, expected = "a study made for another formula", "one made for the formula that it is run with"
        raise StudyError([Problem(Place("the study"), found, expected)])
    return given


def _problems_of(pair: Sequence[str], catalogue: Catalogue) -> list[Problem]:
    """What is wrong with a pair of products."""
    place = Place("--beats")
    missing = [name for name in pair if name not in catalogue.products]
    if len(pair) != 2 or pair[0] == pair[-1]:
        return [Problem(place, f"`{','.join(pair)}`", "two different products, as A-01,A-02")]
    if missing:
        hint = catalogue.hint_at(missing[0])
        return [Problem(place, f"`{missing[0]}`", "a product of the catalogue", hint)]
    return []


def studied(study: Study, source: Source) -> str:
    """Which study of which formula, with which settings, in one line."""
    derived = "a study derived from the formula (--study FILE for your own ranges)"
    which = f"study `{study.name}`" if study.sha256 else derived
    kinds = Counter(factor.kind for factor in study.factors)
    counts = ", ".join(f"{count} {kind}" for kind, count in kinds.items())
    verb = "varies" if len(study.factors) == 1 else "vary"
    varies = f"{counted(len(study.factors), 'argument')} {verb}" + (f" ({counts})" if counts else "")
    return f"{source.newest.form.title} ({source.headed}), {which}: {varies}."


def study_section(study: Study, said: Sequence[str] = (), *, resolved: bool = False) -> Section:
    """What varies and how, after what is said of all scores together.

    Parameters
    ----------
    resolved : whether a terminal shows the table too
    """
    return Section(
        "",
        "The study",
        (),
        (Said(tuple(said)), resolved_table(study), Said(study.notes)),
        in_full=resolved,
    )


def resolved_table(study: Study) -> Table:
    """What varies, how, in what unit, and where that was said: a row an argument."""
    factors = study.factors
    return Table(
        "factors",
        "The study, resolved",
        (
            words("factor", "what varies", [factor.name for factor in factors], kind="code"),
            words("group", "group", [factor.kind for factor in factors], kind="name"),
            words("stated", "stated", [factor.stated for factor in factors], kind="name"),
            words("varies", "how", [factor.says for factor in factors]),
            words("unit", "unit", [factor.unit for factor in factors], kind="name"),
            words("from", "from", [file_of(factor.origin) for factor in factors], kind="name"),
        ),
        hidden={"section": [factor.section for factor in factors], "output": [factor.output for factor in factors]},
        on_screen=OnScreen(in_full=True),
    )
