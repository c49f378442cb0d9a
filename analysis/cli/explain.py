"""`steelyard explain`: one product's figures, number by number."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.cautions import cautions
from analysis.cli.inputs import headed, load
from analysis.cli.terminal import print_json, print_table, say
from analysis.explanation.document import explanation_document
from analysis.explanation.explanation import Explanation, OutputNote, ReadingNote, Uncertainty, explain, sds
from analysis.explanation.next_band import BandChange
from analysis.explanation.trace import Line
from scoring.form import Form
from scoring.numbers.arrays import APART
from scoring.units.role import UnitRole, in_unit

#: A spread below this is the dust of binary fractions.
NO_SPREAD = 1e-9
#: What correlations make of an uncertainty is said from this share of its square on.
CORRELATED = 0.02
#: From so many degrees of freedom on an uncertainty is as good as known.
FEW = 100
#: So many times first order is wider by the degrees of freedom, and said so.
WIDER = 1.15


def run(
    formula: Path,
    catalogue: Path,
    product: str,
    settings: Sequence[str],
    *,
    only: str | None,
    without: Sequence[str],
    as_json: bool,
    seed: int,
) -> None:
    """Explain and show."""
    form, readings = load(formula, catalogue, settings)
    explanation = explain(form, readings, product, only=only, set_aside=without, seed=seed)
    if as_json:
        print_json(explanation_document(explanation))
    else:
        show(explanation, settings)


def show(explanation: Explanation, settings: Sequence[str]) -> None:
    """Print the explanation."""
    table = explanation.table
    form, product = table.form, explanation.product
    words = [f"{name} {values[product]}" for name, values in table.catalogue.attributes.items() if values[product]]
    say(f"{table.catalogue.products[product]} under {headed(form, settings)}. {', '.join(words)}".rstrip(" ."), "")
    show_challenges(explanation)
    show_readings(explanation)
    show_gates(explanation)
    for note in explanation.outputs:
        show_output(explanation, note)
    show_together(explanation)
    say(
        "In a trace, words in [ ] say what happened and are no arithmetic; log is the natural logarithm.",
        *(f"! {caution}" for caution in cautions(form)),
    )


def show_challenges(explanation: Explanation) -> None:
    """What the readings that were set aside change."""
    if not explanation.set_aside:
        return
    say(f"Without {', '.join(explanation.set_aside)} (all below is without it):")
    if not explanation.challenges:
        say("no figure of this product moves.", "")
        return
    headers = ["", "with", "#", "band", "without", "#", "band", "moved by", "remarks"]
    rows = [
        [c.output.label, *c.before, *c.after, "–" if np.isnan(c.move) else f"{c.move:+.4f}", c.remarks]
        for c in explanation.challenges
    ]
    print_table(headers, rows, right=(1, 2, 4, 5, 7))


def show_readings(explanation: Explanation) -> None:
    """The readings, their summary and its standard uncertainty."""
    rows = [
        [
            note.measure.name,
            ", ".join(note.repeats),
            note.measure.repeats.value,
            figure(note.value),
            figure(note.repeat_sd, 3),
            figure(note.u, 3),
            freedom_text(note.freedom),
            note.measure.unit,
        ]
        for note in explanation.readings
    ]
    headers = ["measure", "readings", "summary", "value", "repeat sd", "u", "freedom", "unit"]
    print_table(headers, rows, right=(3, 4, 5, 6), title="Readings")
    said = [parts_text(note) for note in explanation.readings if len(note.parts) > 1]
    if said:
        say("u of a value is made of:", *said, "")


def freedom_text(freedom: float) -> str:
    """Degrees of freedom, empty where the size is known."""
    return f"{freedom:.3g}" if np.isfinite(freedom) else ""


def parts_text(note: ReadingNote) -> str:
    """What each component of the error makes of one value's uncertainty."""
    parts = [
        f"{part.component.replace('_', ' ')} {part.u:.3g}"
        + (f" ({part.origin}, {part.freedom:.3g} degrees of freedom)" if np.isfinite(part.freedom) else "")
        for part in note.parts
    ]
    return f"  {note.measure.name}: {', '.join(parts)}; together {note.u:.3g} {note.measure.unit}"


def show_gates(explanation: Explanation) -> None:
    """What each gate was judged on, and what it says."""
    for note in explanation.gates:
        stands = ", ".join(f"{name} {value}" for name, value in note.values)
        guard = "" if note.reach is None or np.isnan(note.reach) else f"; guard band {note.reach:.4g} to either side"
        say(f"Gate {note.name} ({note.condition}): {stands}{guard} -> {note.remark or 'passes'}")
    if explanation.gates:
        say("")


def show_output(explanation: Explanation, note: OutputNote) -> None:
    """One rating or score: its figure, trace, contributions, uncertainty, and the way to the next band."""
    product, column = explanation.product, note.column
    say(headline(explanation, note))
    if note.lines and np.isnan(column.value[product]):
        say("  not published; what can be worked out from what is there:")
    for line in note.lines:
        say(f"  {where(explanation.table.form, line)}: {line.arithmetic} = {figure(line.value)}", whole=True)
    if not np.isnan(column.value[product]):
        say(f"  shown: {figure(column.value[product])} -> {column.shown_text(product)}")
        show_contributions(note)
        show_uncertainty(explanation, note)
    say(*(f"  {one.says}" for one in explanation.partial if one.name == note.output.name))
    if note.next_band is not None:
        say(*next_band_lines(explanation.table.form, note, sds(explanation)))
    say("")


def where(form: Form, line: Line) -> str:
    """What a line works out: a part of an output, its blend, a limit with its condition, or a rounding."""
    limit = form.output(line.output).limit_at(line.address)
    if limit is not None:
        return f"{line.output}, limit on {limit.when.text if limit.when else limit.on}"
    return f"{line.output}, {line.source or line.kind}"


def headline(explanation: Explanation, note: OutputNote) -> str:
    """The figure, place, band, status and remarks, in one line."""
    product, column = explanation.product, note.column
    band = explanation.table.band_name(column, product)
    published = int(np.sum(~np.isnan(column.rank)))
    place = "" if np.isnan(column.rank[product]) else f", place {column.rank[product]:g} of {published}"
    remarks = "; ".join(column.remarks.get(product, ()))
    shown = column.shown_text(product)
    text = (
        f"{note.output.label} ({note.output.name}): {shown}" if shown else f"{note.output.label} ({note.output.name})"
    )
    return f"{text} {band}".rstrip() + f"{place} [{column.status_text(product)}] {remarks}".replace("  ", " ").rstrip()


def show_contributions(note: OutputNote) -> None:
    """What each part contributes."""
    if note.contributions is None or len(note.contributions.parts) < 2:
        return
    said = note.contributions
    terms = [f"{source} {share:+.4f}" for source, share in said.parts]
    terms += [
        f"{word} {points:+.4f}"
        for word, points in (("limits", said.limits), ("rounding", said.rounding))
        if abs(points) > 1e-9
    ]
    start = f"{said.start:.3f} ({said.against}) " if said.start else ""
    say(f"  made of: {start}{', '.join(terms)} = {said.value:.4f} (rounded)")


def show_uncertainty(explanation: Explanation, note: OutputNote) -> None:
    """First order beside Monte Carlo, and the largest entries of the budget."""
    u = note.uncertainty
    if u is None or (note.unstated and u.sd < NO_SPREAD):
        say("  u: not known; no repeatability is stated for what it leans on")
        return
    interval = f"95 % {u.low:.2f} to {u.high:.2f}, {explanation.draws} draws"
    if np.isnan(u.first_order):
        at = f" at the reading of {', '.join(u.undefined)}" if u.undefined else ""
        say(f"  u: Monte Carlo {u.sd:.3f} ({interval}); first order is not defined: a jump or corner{at}")
    else:
        differ = u.sd > NO_SPREAD and not 0.5 < u.first_order / u.sd < 2
        on = f" on {u.freedom:.0f} degrees of freedom" if u.freedom < FEW else ""
        say(f"  u: first order {u.first_order:.3f}{on}, Monte Carlo {u.sd:.3f} ({interval}){mostly(u, differ)}")
        if not differ and u.freedom < FEW and u.sd > WIDER * u.first_order:
            say("     Monte Carlo draws the estimated sizes of errors too, and is the wider for it: use its interval")
        if abs(u.correlated) > CORRELATED * u.first_order**2:
            independent = np.sqrt(u.first_order**2 - u.correlated)
            say(f"     the form has measures that err together; were they independent, it would be {independent:.3f}")
        if differ:
            say("     the two differ: the curve bends or is held here; trust the Monte Carlo figure")
    if note.unstated:
        say(f"     no repeatability is stated for {', '.join(note.unstated)}: what it adds is not in it")


def show_together(explanation: Explanation) -> None:
    """How the errors of its scores are correlated."""
    if not explanation.together:
        return
    form = explanation.table.form
    rows = [
        [form.output(one).label, form.output(other).label, f"{r:+.2f}"]
        for (one, other), r in explanation.together.items()
    ]
    print_table(
        ["score", "and score", "correlation"], rows, right=(2,), title="Errors of two scores: the same readings"
    )


def mostly(u: Uncertainty, differ: bool) -> str:
    """The largest entries of the budget, which are to first order."""
    if not u.budget:
        return ""
    entries = ", ".join(f"{measure} {share:.3f}" for measure, share in u.budget[:3])
    return f"; {'to first order ' if differ else ''}mostly {entries}"


def next_band_lines(form: Form, note: OutputNote, known: dict[str, float | None]) -> list[str]:
    """The least change of each measure alone that reaches the next band."""
    assert note.next_band is not None  # only called where there is one
    name, edge = note.next_band
    possible = sorted((c for c in note.changes if c.change is not None), key=lambda c: _in_sds(c, known))
    lines = (
        [f"  to reach {name} ({edge:g}), one of:"] if possible else [f"  no measure alone reaches {name} ({edge:g})"]
    )
    for change in possible:
        sd = known.get(change.measure)
        lines.append(f"     {change.measure} {change_text(change, form.units[change.measure], sd)}")
    return lines


def change_text(change: BandChange, unit: str, sd: float | None) -> str:
    """By how much, to which reading, and how many repeat standard deviations that is."""
    assert change.change is not None  # only called where there is one
    assert change.reading is not None
    along = UnitRole.ALONG.unit(unit)
    by, there = change.change, in_unit(f"{change.reading:.13g}", along)
    if change.beyond is not None:
        start = change.reading - change.change
        there = f"just {'above' if change.change > 0 else 'below'} {in_unit(f'{change.beyond:.13g}', along)}"
        by = change.beyond - start
        if abs(by) <= APART * abs(start):
            return f"to {there}, at which it stands"
    beside = f", {abs(by) / sd:.1f} repeat sd" if sd else ""
    return f"{in_unit(f'{by:+.4g}', UnitRole.LENGTH.unit(unit))} to {there}{beside}"


def _in_sds(change: BandChange, known: dict[str, float | None]) -> float:
    sd = known.get(change.measure)
    return abs(change.change or 0) / sd if sd else float("inf")


def figure(value: float | None, digits: int = 7) -> str:
    """A number in up to so many significant digits, "–" where there is none."""
    return "–" if value is None or np.isnan(value) else f"{value:.{digits}g}"
