"""How closely repeats agree, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.repeats.document import repeatability_body, repeatability_frame
from analysis.repeats.notes import agreement_notes, outlier_notes, repeatability_verdict, three_figures
from analysis.repeats.repeatability import Precision, precisions
from analysis.report.given import Given, Readings, catalogue_of, formula_of
from analysis.report.report import Report, Said, Section
from analysis.report.source import Edition, Source
from analysis.report.tables import Column, Table, Values, computed, counts, figures, words
from scoring.catalogue import Catalogue
from scoring.form import Form


def repeatability(formula: Given, catalogue: Readings) -> Report:
    """How closely a catalogue's repeats agree, measure by measure, and the readings that stand out; nothing is set aside.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file

    Returns
    -------
    Report : `found` is a tuple of `Precision`, one a measure that the catalogue has readings of

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue
    """
    made = formula_of(formula)
    return repeatability_report(made.form, catalogue_of(catalogue, made))


def repeatability_report(form: Form, catalogue: Catalogue, settings: Sequence[str] = ()) -> Report:
    """The same of a form and a catalogue that was read for it."""
    found = precisions(form, catalogue)
    agree, outliers = measures_table(found), findings_table(found)
    return Report(
        command="repeatability",
        title=f"{form.title}: how closely repeats agree",
        heading="",
        source=Source({"": Edition(form, catalogue)}, tuple(settings)),
        sections=(
            Section("", "In short", repeatability_verdict(found), on_screen=False),
            Section("agreement", agree.title, (), (agree, Said(agreement_notes(found))), close=True),
            Section("outliers", outliers.title, (), (outliers, Said(outlier_notes(found))), close=True),
        ),
        body=lambda: repeatability_body(catalogue.products, found),
        whole=lambda: repeatability_frame(found),
        found=found,
    )


def measures_table(found: Sequence[Precision]) -> Table:
    """One row a measure: s_r with its interval, beside the robust value, what is declared, and the part of sessions."""
    is_share = [one.is_share for one in found]

    def amount(key: str, heading: str, values: Values) -> Column:
        return computed(heading, {key: values, "is_share": is_share}, three_figures)

    sessions, specimens = [one.sessions for one in found], [one.specimens for one in found]
    between_specimens = amount("specimens_sd", "s_S", [part.sd if part else None for part in specimens])
    return Table(
        "measures",
        "How closely repeats agree",
        (
            words("measure", "measure", [one.measure for one in found], kind="code"),
            Column("unit", {"unit": [one.unit for one in found], "is_share": is_share}, _unit, kind="name"),
            counts("products", "products", [one.counts.products for one in found]),
            counts("readings", "readings", [one.counts.readings for one in found]),
            counts("freedom", "freedom", [one.freedom for one in found]),
            amount("sd", "s_r", [one.sd for one in found]),
            amount("low", "from", [one.low for one in found]),
            amount("high", "to", [one.high for one in found]),
            amount("robust_sd", "robust", [one.robust_sd for one in found]),
            amount("declared", "declared", [one.declared for one in found]),
            Column("", {"declared_inside": [one.declared_inside for one in found]}, _inside),
            amount("limit", "r", [one.limit for one in found]),
            # most catalogues name no specimens, and a column of nothing tells nothing
            *((between_specimens,) if any(specimens) else ()),
            amount("sessions_between_sd", "s_L", [part.between_sd if part else None for part in sessions]),
            amount("sessions_total_sd", "s_R", [part.total_sd if part else None for part in sessions]),
            amount("sessions_limit", "R", [part.limit if part else None for part in sessions]),
        ),
    )


def _unit(unit: str, is_share: bool) -> str:
    return "% of the mean" if is_share else unit


def _inside(inside: bool | None) -> str:
    return {True: "inside", False: "outside", None: ""}[inside]


def findings_table(found: Sequence[Precision]) -> Table:
    """One row a finding, outliers first and the least likely of them first."""
    ordered = sorted(
        (finding for one in found for finding in one.findings), key=lambda finding: (finding.level, finding.p_value)
    )
    specimen = words("specimen", "specimen", [one.specimen for one in ordered], kind="name")
    return Table(
        "findings",
        "What stands out",
        (
            words("kind", "kind", [one.kind for one in ordered]),
            words("measure", "measure", [one.measure for one in ordered], kind="code"),
            words("product", "product", [one.product for one in ordered], kind="name"),
            words("session", "session", [one.session for one in ordered], kind="name"),
            *((specimen,) if any(one.by_specimen for one in found) else ()),
            Column("repeats", {"repeats": [one.repeats for one in ordered]}, _repeats),
            Column("furthest", {"furthest": [one.furthest for one in ordered]}, _furthest),
            words("test", "test", [one.test for one in ordered]),
            figures("statistic", "statistic", [one.statistic for one in ordered], 4),
            computed(
                "critical",
                {"critical": [one.critical for one in ordered], "level": [one.level for one in ordered]},
                _critical,
            ),
            computed(
                "by chance",
                {"by_chance": [one.by_chance for one in ordered], "n_tests": [one.n_tests for one in ordered]},
                _by_chance,
            ),
        ),
        hidden={"p_value": [one.p_value for one in ordered]},
    )


def _repeats(repeats: tuple[int, ...]) -> str:
    return ", ".join(str(repeat) for repeat in repeats)


def _furthest(repeat: int | None) -> str:
    return "" if repeat is None else str(repeat)


def _critical(critical: float, level: float) -> str:
    return f"{critical:.4f} at {level * 100:g} %"


def _by_chance(expected: float, of: int) -> str:
    return f"{expected:.2g} of {of}"
