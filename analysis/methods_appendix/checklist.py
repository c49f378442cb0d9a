"""The ten-step checklist: each step done, not done or waived, as the rest of the document shows.

Steps: OECD/JRC, Handbook on Constructing Composite Indicators, 2008 (the list of its ten steps, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.languages.facts import Equations, Figure, Run, Runs, Section, Steps, Table, every_section
from analysis.languages.writing import code, link, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.bench import refuted_names, used_in_words
from analysis.methods_appendix.workings import Workings
from analysis.wording import counted, listed, some
from scoring.form import Output

DONE, ROUGH, NOT_DONE, WAIVED = "done", "done, not converged", "not done", "waived"
NAMED = 6
#: What a reading below the reporting limit counts as.
BELOW_LIMIT = {"limit": "the limit", "half": "half the limit", "zero": "0", "missing": "missing"}


@dataclass(frozen=True, slots=True)
class Shown:
    """What the document shows: the anchor of the section in which each named block stands, and how many pictures there are."""

    anchors: Mapping[str, str]
    figures: int

    def missing(self, names: Sequence[str]) -> list[str]:
        """Those of the names that the document does not show."""
        return [one for one in names if one not in self.anchors]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a step is done, the words that say what shows it or what is wanting, and whether its figures are still rough."""

    done: bool
    words: Runs
    rough: bool = False


def shown_by(sections: tuple[Section, ...]) -> Shown:
    """What the sections show."""
    anchors: dict[str, str] = {}
    figures = 0
    for section in every_section(sections):
        for block in section.blocks:
            if isinstance(block, Table | Equations | Figure | Steps):
                anchors[block.name] = section.anchor
            figures += isinstance(block, Figure)
    return Shown(anchors, figures)


def checklist_section(found: Workings, sections: tuple[Section, ...]) -> Section:
    """The checklist of a document that holds these sections."""
    shown = shown_by(sections)
    waived = {waiver.step: waiver.reason for waiver in found.form.checklist}
    rows: list[tuple[str | Run | Runs, ...]] = []
    counts = {DONE: 0, ROUGH: 0, NOT_DONE: 0, WAIVED: 0}
    for number, (step, ask) in enumerate(STEPS.items(), start=1):
        verdict = ask(found, shown)
        state, words = (ROUGH if verdict.rough else DONE) if verdict.done else NOT_DONE, verdict.words
        if step in waived and not verdict.done:
            state, words = WAIVED, runs(name(waived[step]), " [", code(f"checklist.{step}.waived"), "]")
        counts[state] += 1
        rows.append((f"{number}. {step.replace('_', ' ').capitalize()}", state, words))
    said = (
        "The ten steps of the OECD/JRC Handbook on Constructing Composite Indicators (2008). A step is done where this document"
        " holds what shows it, waived where the formula file gives a reason, and otherwise not done: "
        + "; ".join(f"{count} {state}" for state, count in counts.items() if count or state != ROUGH)
        + "."
    )
    made = table("checklist", runs("The ten steps."), ("step", "state", "what shows it, or what is wanting"), rows)
    return Section("checklist", runs("Checklist"), (paragraph(said), made))


def _verdict(wanting: Sequence[str], if_wanting: str, done: Runs) -> Verdict:
    if wanting:
        return Verdict(False, runs(if_wanting, name(some(list(wanting), NAMED)), "."))
    return Verdict(True, done)


def _framework(found: Workings, shown: Shown) -> Verdict:
    silent = [column.output.label for column in found.headline if not column.output.note]
    word = "score" if found.table.scores else "rating"
    said = f"Every one of {counted(len(found.headline), word)} says what it is for"
    if found.table.scores and found.form.ratings:
        noted = sum(bool(output.note) for output in found.form.ratings)
        said += f", and {noted} of {counted(len(found.form.ratings), 'rating')} {'does' if noted == 1 else 'do'}"
    done = runs(f"{said}: ", link("purposes", shown.anchors["purposes"]), ".")
    return _verdict(silent, "No note in the formula says what these are for: ", done)


def _data(found: Workings, shown: Shown) -> Verdict:
    loose = [measure.label for measure in found.form.measures if measure.plausible is None]
    said = f"{counted(len(found.form.measures), 'measure')}, each with unit and plausible range: "
    return _verdict(
        loose, "No plausible range is stated for: ", runs(said, link("measures", shown.anchors["measures"]), ".")
    )


def _missing(found: Workings, shown: Shown) -> Verdict:
    columns = found.table.ratings + found.table.scores
    partial = sum(column.status_text(i) == "partial" for column in columns for i in range(len(column.status)))
    wanting = shown.missing([f"formula-{column.output.name}" for column in columns])
    said = f"Every rating and score states what a gap does to it; {counted(partial, 'figure')} in the "
    stand = "stands" if partial == 1 else "stand"
    is_marked = "is" if partial == 1 else "are"
    done = runs(
        said,
        link("score table", "published"),
        f" {stand} on fewer parts and {is_marked} marked. No reading is filled in for one that is missing.",
        *_counts_as(found),
    )
    return _verdict(wanting, "No rule is shown for: ", done)


def _counts_as(found: Workings) -> list[Run]:
    """What stands for what is missing: the weights of the other parts, the lowest figure, or the reporting limit."""
    outputs = [column.output for column in found.table.ratings + found.table.scores]
    lowest = [o for o in outputs if o.missing.otherwise.value == "lowest"]
    shared = [o for o in outputs if o not in lowest and o.missing.absent_above.value > 0 and len(o.parts) > 1]
    said: list[Run] = []
    if shared:
        said.append(
            Run(
                f" In {len(shared)} of {len(outputs)} ratings and scores a missing part's weight is shared out among the others."
            )
        )
    if lowest:
        names = listed_runs([name(o.label) for o in lowest])
        said += [Run(" A missing part counts as the lowest figure of the scale in "), *names, Run(".")]
    for rule, counts in BELOW_LIMIT.items():
        there = [m for m in found.form.measures if m.reporting_limit is not None and m.below_limit.value == rule]
        if there:
            names = listed_runs([name(m.label) for m in there])
            said += [Run(f" Readings below the reporting limit count as {counts} for "), *names, Run(".")]
    return said


def _blended(found: Workings) -> list[Output]:
    """The outputs published that blend several parts."""
    return [c.output for c in found.headline if c.output.blend is not None and len(c.output.parts) > 1]


def _each(outputs: Sequence[Output], what: str) -> list[str]:
    return [f"{what}-{output.name}" for output in outputs]


def _labels(outputs: Sequence[Output], gone: Sequence[str], what: str) -> list[str]:
    return [output.label for output in outputs if f"{what}-{output.name}" in gone]


def _links(outputs: Sequence[Output], shown: Shown, what: str) -> list[Run]:
    found: list[Run] = []
    for output in outputs:
        anchor = shown.anchors[f"{what}-{output.name}"]
        found += [Run(", ")] if found else []
        found.append(link(output.label, anchor))
    return found


def _multivariate(found: Workings, shown: Shown) -> Verdict:
    outputs = _blended(found)
    gone = _labels(outputs, shown.missing(_each(outputs, "correlations")), "correlations")
    if not outputs:
        return Verdict(False, runs("No score blends several parts, so there is nothing that could go together."))
    if gone:
        return _verdict(gone, "How parts go together is not shown for: ", ())
    return Verdict(True, runs("Correlations of parts: ", *_links(outputs, shown, "correlations"), "."))


def _normalisation(found: Workings, shown: Shown) -> Verdict:
    measures = {measure.name for measure in found.form.measures}
    raw = [
        f"{part.source} in {output.label}"
        for output in found.form.outputs
        for part in output.parts
        if part.curve is None and part.source in measures
    ]
    curved = [o for o in found.form.outputs if any(part.curve is not None for part in o.parts)]
    gone = _labels(curved, shown.missing(_each(curved, "anchors")), "anchors")
    if not curved and not raw:
        return Verdict(False, runs("No measure goes through a curve: expressions take readings as they are."))
    done = runs(
        f"{counted(len(curved), 'rating')} with curves, anchors and pictures: ", link("ratings", "ratings"), "."
    )
    return _verdict([*raw, *gone], "Taken without a curve, or without anchors shown: ", done)


def _weighting(found: Workings, shown: Shown) -> Verdict:
    outputs = _blended(found)
    known = {one.name for one in found.weights if one.importance is not None}
    if not outputs:
        return Verdict(False, runs("No score blends several parts."))
    gone = [o.label for o in outputs if o.name not in known or f"weights-{o.name}" not in shown.anchors]
    if gone:
        return _verdict(gone, "What the weights are worth is not shown for: ", ())
    noted = sum(bool(output.note) for output in outputs)
    why = (
        f". Not given: a reason for any weight or blend; the formula file states them, and says what {noted} of"
        f" {counted(len(outputs), 'score' if found.table.scores else 'rating')} {'is' if noted == 1 else 'are'} for."
    )
    return Verdict(True, runs("Weights as stated and as they work: ", *_links(outputs, shown, "weights"), why))


def _uncertainty(found: Workings, shown: Shown) -> Verdict:
    outputs = [c.output for c in found.headline if (c.rank >= 1).any()]
    wanting = [
        f"{label} ({listed(what)})"
        for label, what in (
            (
                o.label,
                [
                    word
                    for word, key in (("bench", "uncertainty"), ("indices", "shares"))
                    if f"{key}-{o.name}" not in shown.anchors
                ],
            )
            for o in outputs
        )
        if what
    ]
    if not outputs:
        return Verdict(False, runs("No score is published."))
    rough = sum(not one.converged for one in found.sensitivity)
    said = (
        f"; the indices have not converged for {rough} of {counted(len(found.sensitivity), 'score')}" if rough else ""
    )
    links = (
        link("the bench", "bench"),
        Run(", "),
        link("sensitivity", "sensitivity"),
        Run(", "),
        link("stability", "stability"),
    )
    refuted = refuted_names(found)
    doubt = [Run(". The repeats do not bear out the declared repeatability of "), *refuted] if refuted else []
    verdict = _verdict(
        wanting, "Wanting: ", runs("Shown in ", *links, said, f". {used_in_words(found)[:-1]}", *doubt, ".")
    )
    return replace(verdict, rough=bool(rough))


def _back(found: Workings, shown: Shown) -> Verdict:
    outputs = [c.output for c in found.table.scores if (c.rank >= 1).any()]
    gone = _labels(outputs, shown.missing(_each(outputs, "parts")), "parts")
    if not outputs or "worked" not in shown.anchors:
        return Verdict(False, runs("No score is taken apart into what its parts contribute."))
    done = (
        runs("Scores are taken apart into their parts: ", *_links(outputs, shown, "parts"), "; one is ")
        if not gone
        else ()
    )
    return _verdict(
        gone, "Not taken apart: ", runs(*done, link("worked out from its readings", shown.anchors["worked"]), ".")
    )


def _others(found: Workings, shown: Shown) -> Verdict:
    del found, shown
    return Verdict(False, runs("Nothing in this document sets the scores against other indicators or against use."))


def _pictures(found: Workings, shown: Shown) -> Verdict:
    outputs = [c.output for c in found.headline if (c.rank >= 1).any()]
    what = "parts" if found.table.scores else "curve"
    drawn = {o.name for o in outputs if any(key.startswith(f"{what}-{o.name}") for key in shown.anchors)}
    gone = [o.label for o in outputs if o.name not in drawn]
    if not shown.figures:
        return Verdict(False, runs("There is no picture in this document."))
    return _verdict(
        gone, "Not drawn: ", runs(f"{counted(shown.figures, 'picture')}, each with a sentence that says what it shows.")
    )


#: Each step by its key in the form, and what asks whether the document shows it.
STEPS: dict[str, Callable[[Workings, Shown], Verdict]] = {
    "theoretical_framework": _framework,
    "data_selection": _data,
    "imputation_of_missing_data": _missing,
    "multivariate_analysis": _multivariate,
    "normalisation": _normalisation,
    "weighting_and_aggregation": _weighting,
    "uncertainty_and_sensitivity_analysis": _uncertainty,
    "back_to_the_data": _back,
    "links_to_other_indicators": _others,
    "visualisation_of_the_results": _pictures,
}
