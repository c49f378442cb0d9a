"""An explanation in sentences: how each figure stands, what it is made of, how well it is known, and what would raise it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.explanation.contributions import Contributions
from analysis.explanation.explanation import Explanation, GateNote, OutputNote, ReadingNote, Uncertainty
from analysis.explanation.next_band import BandChange
from analysis.explanation.trace import SIGNIFICANT, Line
from analysis.wording import listed, significant
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
#: So many entries of a budget are told in its sentence.
MOST_ENTRIES = 3


def headline(explanation: Explanation, note: OutputNote) -> str:
    """The figure, place, band, status and remarks, in one line."""
    product, column = explanation.product, note.column
    said = f"{note.output.label} ({note.output.name})"
    shown = column.shown_text(product)
    if shown:
        said += f": {shown}"
    said = f"{said} {explanation.table.band_name(column, product)}".rstrip()
    if not np.isnan(column.rank[product]):
        said += f", place {column.rank[product]:g} of {int(np.sum(~np.isnan(column.rank)))}"
        said += f", {column.within.in_words(product)}" if column.within is not None else ""
    remarks = "; ".join(column.remarks.get(product, ()))
    return said + f" [{column.status_text(product)}] {remarks}".replace("  ", " ").rstrip()


def whats_worked_out(form: Form, line: Line) -> str:
    """What a line works out: a part of an output, its blend, a limit with its condition, or a rounding."""
    limit = form.output(line.output).limit_at(line.address)
    if limit is not None:
        return f"{line.output}, limit on {limit.when.text if limit.when else limit.on}"
    return f"{line.output}, {line.source or line.kind}"


def shown_in_words(explanation: Explanation, note: OutputNote) -> str:
    """The unrounded figure, and what is shown of it."""
    product, column = explanation.product, note.column
    return f"shown: {significant(float(column.value[product]), SIGNIFICANT)} -> {column.shown_text(product)}"


def decided_in_words(decided: Sequence[str]) -> str:
    """Which part is the figure, or which limit moved it last."""
    return f"decided by: {listed(list(decided))}{', which are equal' if len(decided) > 1 else ''}"


def terms_of(found: Contributions) -> tuple[tuple[str, float], ...]:
    """Each part's points, then those of limits and of rounding where they add any."""
    rest = (("limits", found.limits), ("rounding", found.rounding))
    return (*found.parts, *((word, points) for word, points in rest if abs(points) > NO_SPREAD))


def made_of(found: Contributions) -> str:
    """What each part contributes, and what it comes to."""
    terms = ", ".join(f"{name} {points:+.4f}" for name, points in terms_of(found))
    start = f"{found.start:.3f} ({found.against}) " if found.start else ""
    return f"made of: {start}{terms} = {found.value:.4f} (rounded)"


def parts_of_u(note: ReadingNote) -> str:
    """What each component of the error makes of one value's uncertainty."""
    parts = []
    for part in note.parts:
        said = f"{part.component.replace('_', ' ')} {part.u:.3g}"
        if np.isfinite(part.freedom):
            said += f" ({part.origin}, {part.freedom:.3g} degrees of freedom)"
        parts.append(said)
    return f"{note.measure.name}: {', '.join(parts)}; together {in_unit(f'{note.u:.3g}', note.measure.unit)}"


def gate_in_words(note: GateNote) -> str:
    """What a gate was judged on, and what it says, to the lead."""
    stands = ", ".join(f"{name} {value}" for name, value in note.said)
    guard = "" if note.reach is None or np.isnan(note.reach) else f"; guard band {note.reach:.4g} to either side"
    return f"Gate {note.name} ({note.condition}): {stands}{guard} -> {note.remark or 'passes'}"


def uncertainty_in_words(explanation: Explanation, note: OutputNote) -> Iterator[str]:
    """First order beside Monte Carlo with the largest entries of the budget; then, where it matters, what to make of them."""
    u = note.uncertainty
    if u is None or (note.unstated and u.sd < NO_SPREAD):
        yield "u: not known; no repeatability is stated for what it leans on"
        return
    interval = f"95 % {u.low:.2f} to {u.high:.2f}, {explanation.draws} draws"
    if np.isnan(u.first_order):
        at = f" at the reading of {', '.join(u.undefined)}" if u.undefined else ""
        yield f"u: Monte Carlo {u.sd:.3f} ({interval}); first order is not defined: a jump or corner{at}"
    else:
        yield from _both_orders(u, interval)
    if note.unstated:
        yield f"no repeatability is stated for {', '.join(note.unstated)}: what it adds is not in it"


def _both_orders(u: Uncertainty, interval: str) -> Iterator[str]:
    differ = u.sd > NO_SPREAD and not 0.5 < u.first_order / u.sd < 2
    on = f" on {u.freedom:.0f} degrees of freedom" if u.freedom < FEW else ""
    yield f"u: first order {u.first_order:.3f}{on}, Monte Carlo {u.sd:.3f} ({interval}){_mostly(u, differ)}"
    if not differ and u.freedom < FEW and u.sd > WIDER * u.first_order:
        yield "Monte Carlo draws the estimated sizes of errors too, and is the wider for it: use its interval"
    if abs(u.correlated) > CORRELATED * u.first_order**2:
        independent = np.sqrt(u.first_order**2 - u.correlated)
        yield f"the form has measures that err together; were they independent, it would be {independent:.3f}"
    if differ:
        yield "the two differ: the curve bends or is held here; trust the Monte Carlo figure"


def _mostly(u: Uncertainty, differ: bool) -> str:
    """The largest entries of the budget, which are to first order."""
    if not u.budget:
        return ""
    entries = ", ".join(f"{measure} {share:.3f}" for measure, share in u.budget[:MOST_ENTRIES])
    return f"; {'to first order ' if differ else ''}mostly {entries}"


def ways_up(note: OutputNote, known: dict[str, float | None]) -> list[BandChange]:
    """The changes of one measure alone that reach the next band, the fewest repeat standard deviations first.

    Parameters
    ----------
    known : the repeat standard deviation of each measure, None where it is not known
    """

    def in_sds(change: BandChange) -> float:
        sd = known.get(change.measure)
        return abs(change.change or 0) / sd if sd else float("inf")

    return sorted((change for change in note.changes if change.change is not None), key=in_sds)


def way_up(name: str, edge: float, changes: Sequence[BandChange]) -> str:
    """Over the changes that reach a band, or that there is none."""
    return f"to reach {name} ({edge:g}), one of" if changes else f"no measure alone reaches {name} ({edge:g})"


def change_in_words(found: BandChange, unit: str, repeat_sd: float | None) -> str:
    """By how much, to which reading, and how many repeat standard deviations that is.

    Examples
    --------
    >>> change_in_words(BandChange("noise", -2.0, 38.0), "dB", 1.0)
    '-2 dB to 38 dB, 2.0 repeat sd'
    >>> change_in_words(BandChange("drop", 2.0, 12.0, beyond=12.0), "mm", None)
    '+2 mm to just above 12 mm'
    """
    if found.change is None or found.reading is None:
        return "reaches it at no reading"
    along, by = UnitRole.ALONG.unit(unit), found.change
    there = in_unit(f"{found.reading:.13g}", along)
    if found.beyond is not None:
        start = found.reading - found.change
        there = f"just {'above' if found.change > 0 else 'below'} {in_unit(f'{found.beyond:.13g}', along)}"
        by = found.beyond - start
        if abs(by) <= APART * abs(start):
            return f"to {there}, at which it stands"
    beside = f", {abs(by) / repeat_sd:.1f} repeat sd" if repeat_sd else ""
    return f"{in_unit(f'{by:+.4g}', UnitRole.LENGTH.unit(unit))} to {there}{beside}"
