"""What to read again, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.next_readings.document import planned, reread_body, reread_frame
from analysis.next_readings.plan import Plan
from analysis.next_readings.study import FIRST, Asked, Reread, asked_of, reread_study
from analysis.next_readings.verdict import reread_verdict
from analysis.report.given import Given, Readings, Scores, names_of, scored
from analysis.report.report import Block, Report, Said, Section
from analysis.report.source import source_of
from analysis.report.tables import OnScreen, Table, computed, counts, shares, words
from scoring.table.selection import Where
from scoring.table.table import ScoreTable

#: So many readings are planned, and the top are so many places, where nothing else is asked for.
READINGS, TOP = 24, 5
#: Single steps that the terminal lists; pages hold all that may settle the question, JSON and sheets the others too.
LISTED = 12
NOTE = (
    "Readings are chosen here that would tell most of the products as they lie on the bench; nothing is said of other specimens."
    " A measure that a product has no reading of is not looked at."
)
LEGEND = (
    "variance falls by: of the error variance of that product's score, to first order. Only the scatter of repeats falls; what a"
    " session, a specimen or a method shares stays.",
    "settled: the chance that the question is settled then, over what the new readings may say; true scores are taken for draws"
    " of one normal law with the catalogue's mean and spread.",
)


def reread(
    formula: Given,
    catalogue: Readings,
    *,
    settle: str = FIRST,
    readings: int = READINGS,
    scores: Scores = (),
    top: int = TOP,
    where: Where = None,
    seed: int = 0,
) -> Report:
    """Which product and measure to read again, and how often, to settle a question of order.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    where : the products to show and rank, as `score` takes them
    settle : "first", "top" (who the first `top` are), or two products as "A-01:A-02"
    readings : how many further ones there are to plan, 1 or more
    scores : which ones, all by default

    Returns
    -------
    Report : `found` is a tuple of `Reread`

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue, a score or a product that is not there, or no repeatability of
        any measure
    """
    table = scored(formula, catalogue, where)
    return reread_report(table, asked_of(settle, top, table.catalogue), names_of(scores), readings=readings, seed=seed)


def reread_report(table: ScoreTable, asked: Asked, scores: Sequence[str], *, readings: int, seed: int) -> Report:
    """The same of a score table and a question."""
    found = reread_study(table, scores, asked, budget=readings, seed=seed)
    source = source_of(table, seed)
    return Report(
        command="reread",
        title=f"{table.form.title}: what to read again",
        heading=f"{table.form.title} ({source.headed}): what to read again.",
        source=source,
        sections=tuple(_section(one, in_full=len(found) == 1) for one in found),
        body=lambda: reread_body(found),
        whole=lambda: reread_frame(found),
        found=found,
        closing=(NOTE,),
        on_screen=_on_screen(found),
    )


def _on_screen(found: Sequence[Reread]) -> tuple[str, ...]:
    """What a terminal leaves out, and where that is."""
    if len(found) > 1:
        return ("`--score NAME` prints the plan of one score.",)
    more = _helping(found[0]) - LISTED
    return (f"{more} more steps are in `--json` and `--out`.",) if more > 0 else ()


def _section(found: Reread, *, in_full: bool) -> Section:
    output = found.quantities.output
    return Section(output.name, output.label, reread_verdict(found), tuple(_blocks(found)), in_full=in_full)


def _blocks(found: Reread) -> Iterator[Block]:
    """The plan, and what single steps would do."""
    if found.plans is not None:
        yield plan_table(found, found.plans.best)
    if not found.steps:
        return
    if not _helping(found):
        most = max(step.further for step in found.steps)
        yield Said((f"No measure of one product alone settles it, read up to {most} times more.",), in_full=True)
    yield steps_table(found)
    yield Said((LEGEND[0], found.noise.at_best(LEGEND[1])), in_full=True)


def _helping(found: Reread) -> int:
    """How many single steps may settle the question; they come first."""
    return sum(1 for step in found.steps if step.chance > 0)


def plan_table(found: Reread, plan: Plan) -> Table:
    """The lines of a plan."""
    lines = list(planned(found, plan))
    return Table(
        "plan",
        found.noise.at_best(f"{found.quantities.output.label}: the plan for {found.budget} further readings"),
        (
            words("product", "product", [line.product for line in lines], kind="name"),
            words("measure", "measure", [line.measure for line in lines], kind="name"),
            counts("now", "now", [line.now for line in lines]),
            computed("further", {"further": [line.further for line in lines]}, _more),
            shares("falls", "variance falls by", [line.falls for line in lines]),
        ),
        on_screen=OnScreen(in_full=True),
    )


def steps_table(found: Reread) -> Table:
    """Further readings of one measure and product that may settle the question, those first that gain most a reading."""
    steps = found.steps[: _helping(found)]
    return Table(
        "steps",
        found.noise.at_best("One measure of one product alone, by chance gained a reading"),
        (
            words("product", "product", [step.product for step in steps], kind="name"),
            words("measure", "measure", [step.measure for step in steps], kind="name"),
            computed("further", {"further": [step.further for step in steps]}, _more),
            shares("falls", "variance falls by", [step.fall for step in steps]),
            computed("settled", {"chance": [step.chance for step in steps]}, lambda chance: f"{100 * chance:.1f} %"),
            computed(
                "a reading",
                {"gained_per_reading": [step.gained for step in steps]},
                lambda gained: f"{100 * gained:.2f} %",
            ),
        ),
        on_screen=OnScreen(most=LISTED, in_full=True),
    )


def _more(further: int) -> str:
    return f"+{further}"
