"""Each step of the checklist is done, not done or waived as the document shows, and not as anybody says."""

from __future__ import annotations

from dataclasses import replace

from analysis.languages.facts import Facts, Figure, Section, Table, plain_text
from analysis.methods_appendix.checklist import STEPS, checklist_section
from analysis.methods_appendix.workings import Workings
from scoring.form import CHECKLIST, Form, Waiver
from scoring.table.table import ScoreTable


def body(facts: Facts) -> tuple[Section, ...]:
    """The sections that the checklist looks at."""
    return tuple(s for s in facts.sections if s.anchor not in ("checklist", "cautions", "provenance", "references"))


def states(found: Workings, sections: tuple[Section, ...]) -> dict[str, str]:
    """Step to state."""
    table = next(block for block in checklist_section(found, sections).blocks if isinstance(block, Table))
    assert len(table.rows) == 10
    return dict(zip(STEPS, (plain_text(row[1]) for row in table.rows), strict=True))


def without(sections: tuple[Section, ...], prefix: str) -> tuple[Section, ...]:
    """The sections without the blocks whose name begins so."""
    return tuple(
        replace(
            section,
            blocks=tuple(b for b in section.blocks if not getattr(b, "name", "").startswith(prefix)),
            sections=without(section.sections, prefix),
        )
        for section in sections
    )


def with_form(table: ScoreTable, form: Form) -> ScoreTable:
    """A table as if it had been scored under another form."""
    return replace(table, program=replace(table.program, form=form))


def test_the_steps_are_those_that_a_form_can_waive() -> None:
    """Ten steps, the same in the form and in the document."""
    assert tuple(STEPS) == tuple(CHECKLIST)
    assert len(CHECKLIST) == 10


def test_a_whole_document(found: Workings, facts: Facts) -> None:
    """The trial: one score does not say what it is for, and links are waived; the rest is shown."""
    said = states(found, body(facts))
    assert said.pop("theoretical_framework") == "not done"
    assert said.pop("links_to_other_indicators") == "waived"
    rough = any(not one.converged for one in found.sensitivity)
    assert said.pop("uncertainty_and_sensitivity_analysis") == ("done, not converged" if rough else "done")
    assert set(said.values()) == {"done"}


def test_what_is_not_in_the_document_is_not_done(found: Workings, facts: Facts) -> None:
    """Take a block out, and the step that it shows is not done."""
    for prefix, step in (
        ("correlations-", "multivariate_analysis"),
        ("weights-", "weighting_and_aggregation"),
        ("anchors-", "normalisation"),
        ("uncertainty-", "uncertainty_and_sensitivity_analysis"),
        ("shares-", "uncertainty_and_sensitivity_analysis"),
        ("parts-", "back_to_the_data"),
        ("parts-", "visualisation_of_the_results"),
        ("worked", "back_to_the_data"),
        ("formula-", "imputation_of_missing_data"),
    ):
        assert states(found, body(facts))[step].startswith("done")
        assert states(found, without(body(facts), prefix))[step] == "not done", (prefix, step)


def test_indices_that_have_not_converged_are_not_simply_done(found: Workings, facts: Facts) -> None:
    """The step says so in its state, and is done once all have."""
    for converged, state in ((False, "done, not converged"), (True, "done")):
        rough = replace(found, sensitivity=tuple(replace(one, converged=converged) for one in found.sensitivity))
        assert states(rough, body(facts))["uncertainty_and_sensitivity_analysis"] == state


def test_a_waiver_waives_only_what_is_not_done(found: Workings, facts: Facts) -> None:
    """Without its waiver a step is not done; a waiver of a step that is done changes nothing."""
    place = found.form.checklist[0].place
    bare = replace(found, table=with_form(found.table, replace(found.form, checklist=())))
    assert states(bare, body(facts))["links_to_other_indicators"] == "not done"
    waivers = (Waiver("normalisation", "too dear", place), Waiver("theoretical_framework", "later", place))
    waived = replace(found, table=with_form(found.table, replace(found.form, checklist=waivers)))
    assert states(waived, body(facts))["normalisation"] == "done"
    assert states(waived, body(facts))["theoretical_framework"] == "waived"


def test_data_selection_asks_for_plausible_ranges(found: Workings, facts: Facts) -> None:
    """A measure without one is named."""
    measures = tuple(replace(m, plausible=None) if m.name == "heat" else m for m in found.form.measures)
    loose = replace(found, table=with_form(found.table, replace(found.form, measures=measures)))
    assert states(loose, body(facts))["data_selection"] == "not done"


def test_pictures_are_counted(facts: Facts) -> None:
    """There are pictures to count."""
    assert sum(isinstance(b, Figure) for s in facts.sections for one in (s, *s.sections) for b in one.blocks) > 8
