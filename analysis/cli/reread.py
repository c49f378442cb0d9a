"""`steelyard reread`: which product and measure to read again to settle a question of order; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cautions import cautions
from analysis.cli.inputs import guard_of, headed, load
from analysis.cli.studies import check_output, is_table, write_results
from analysis.cli.terminal import print_json, print_table, say
from analysis.next_readings.document import planned, reread_document, reread_frame
from analysis.next_readings.study import Reread, asked_of, reread_study
from analysis.next_readings.verdict import reread_verdict
from analysis.wording import percent
from scoring.table.table import score_catalogue

#: Single steps that the terminal lists; files and `--json` hold all.
LISTED = 12


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    settle: str,
    readings: int,
    only: Sequence[str],
    top: int,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Plan the readings and show the plan."""
    if out is not None:
        is_table(out)
    form, read = load(formula, catalogue, settings)
    guard = guard_of([form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="reread")
    asked = asked_of(settle, top, read.products)
    table = score_catalogue(form, read)
    found = reread_study(table, only, asked, budget=readings, seed=seed)
    if out is not None or as_json:
        document = reread_document(table, found, settings, readings, seed)
    if out is not None:
        write_results(out, "reread", document, reread_frame(table, found, settings, seed), dict, guard)
    if as_json:
        print_json(document)
        return
    say(f"{form.title} ({headed(form, settings)}): what to read again.", "")
    for one in found:
        say(*reread_verdict(one), "")
        if len(found) == 1:
            show(one)
    if len(found) > 1:
        say("`--score NAME` prints the plan of one score.")
    say(*NOTES)
    if out is not None:
        say(f"Written to {out}.")
    say(*(f"! {caution}" for caution in cautions(form)))


NOTES = (
    "Readings are chosen here that would tell most of the products as they lie on the bench; nothing is said of other specimens."
    " A measure that a product has no reading of is not looked at.",
)


LEGEND = (
    "variance falls by: of the error variance of that product's score, to first order. Only the scatter of repeats falls; what a"
    " session, a specimen or a method shares stays.",
    "settled: the chance that the question is settled then, over what the new readings may say; true scores are taken for draws"
    " of one normal law with the catalogue's mean and spread.",
)


def show(found: Reread) -> None:
    """Print the plan, and what single steps would do."""
    if found.plans is not None:
        rows = [
            [line.product, line.measure, str(line.now), f"+{line.further}", percent(line.falls)]
            for line in planned(found, found.plans.best)
        ]
        title = f"{found.quantities.output.label}: the plan for {found.budget} further readings"
        print_table(["product", "measure", "now", "further", "variance falls by"], rows, right=(2, 3, 4), title=title)
    helping = [step for step in found.steps if step.chance > 0]
    if found.steps and not helping:
        most = max(step.further for step in found.steps)
        say(f"No measure of one product alone settles it, read up to {most} times more.")
    if helping:
        rows = [
            [
                step.product,
                step.measure,
                f"+{step.further}",
                percent(step.fall),
                f"{100 * step.chance:.1f} %",
                f"{100 * step.chance / step.further:.2f} %",
            ]
            for step in helping[:LISTED]
        ]
        headers = ["product", "measure", "further", "variance falls by", "settled", "a reading"]
        print_table(
            headers, rows, right=(2, 3, 4, 5), title="One measure of one product alone, by chance gained a reading"
        )
        if len(helping) > LISTED:
            say(f"{len(helping) - LISTED} more steps are in `--json` and `--out`.")
    if found.steps:
        say(*LEGEND, "")
