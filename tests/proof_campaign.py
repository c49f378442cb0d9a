"""A second opinion on `check`: forms made by chance, each claim and each bound held against what they score.

    .venv/bin/python tests/proof_campaign.py --seed 0 --count 1000 [--first N] [--keep FILE] [--lines N]

What is not there of `b` does not apply, what is not there of the others is missing. Every form is checked and scored by
the functions behind the two commands. Readings are tried along lines: evenly, at every
number of the form that a reading can meet, and a millionth and a billionth of the range to either side of it. Wherever
an output changes, the change is drawn together until it is a jump at one place, or none.
- Proved on scale: every published value is a number on its scale.
- Proved to go one way: no value goes the other way.
- Continuity: every jump met is at a listed place, and no larger than is said there, whatever the verdict; "by N points"
  is its size.
- A jump is declared where the form says so: a choice only under `jumps: stated`.
- Directions are claimed as the output's own best end says; bands said never to be reached are met nowhere.
- Refuted: the readings of the counter-example, scored from a file, give the values beside them, and these refute the claim.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from proof_forms import form_by_chance

from scoring.catalogue import State, read_catalogue
from scoring.catalogue.repeats import summary_of
from scoring.checks import Checked, Finding, check
from scoring.checks.findings import BANDS, PROVED, REFUTED, Jump
from scoring.errors import FormulaError
from scoring.form import Form, Measure, Output
from scoring.numbers.rounding import round_decimal
from scoring.program.kernel import Kernel
from scoring.program.program import Program, compile_form
from scoring.reader import read_sources
from scoring.table.evaluate import Inputs, evaluate, inputs_of, kernel_for
from scoring.table.missing import Standing
from scoring.texts.source import Source

Array = NDArray[np.float64]
DUST, REAL_JUMP = 1e-9, 1e-6
EVEN, MOST_PLACES, HALVINGS, LAST = 33, 160, 46, 12
SPOT = re.compile(r"(\w+) = (-?[0-9.]+)(?: \(.* after rounding\))?$")


@dataclass(slots=True)
class Tally:
    """What a campaign tried, and what fell."""

    counts: Counter[str] = field(default_factory=Counter)
    false: list[tuple[int, str, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Settings, one a row: readings as they stand in a catalogue by measure, and which are missing."""

    readings: dict[str, Array]
    gone: dict[str, NDArray[np.bool_]]

    def __len__(self) -> int:
        return len(next(iter(self.readings.values())))

    def at(self, rows: NDArray[np.intp]) -> Points:
        """Some of the rows."""
        return Points({n: v[rows] for n, v in self.readings.items()}, {n: g[rows] for n, g in self.gone.items()})

    def moved(self, measures: NDArray[np.str_], to: Array) -> Points:
        """Each row with another reading of its own measure."""
        return Points({n: np.where(measures == n, to, v) for n, v in self.readings.items()}, self.gone)


class Scored:
    """A form as it is scored."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self.forms: dict[str, Measure] = {measure.name: measure for measure in program.form.measures}
        self.kernels: dict[bool, Kernel] = {}

    def values(self, points: Points) -> tuple[dict[str, Array], dict[str, NDArray[np.bool_]]]:
        """Every output, and whether it is published."""
        read, states = {}, {}
        for name, values in points.readings.items():
            taken = summary_of(self.forms[name], np.where(points.gone[name], np.nan, values)[:, None])
            read[name] = taken[None, :]
            lost = State.NOT_APPLICABLE if name == "b" else State.MISSING
            states[name] = np.where(points.gone[name], lost, State.VALUE).astype(np.uint8)
        inputs = Inputs(("",) * len(points), read, states, {})
        found = evaluate(self._kernel(points), inputs)
        standing = {n: np.broadcast_to(s[0], len(points)) for n, s in found.presence.standing.items()}
        return (
            {name: found.values[name][0] for name in self.program.outputs},
            {name: standing[name] <= Standing.PARTIAL for name in self.program.outputs},
        )

    def _kernel(self, points: Points) -> Kernel:
        """The kernel that the catalogue's gaps call for, as `score` chooses it."""
        gaps = any(gone.any() for gone in points.gone.values())
        if gaps not in self.kernels:
            one = np.array([State.MISSING if gaps else State.VALUE], np.uint8)
            self.kernels[gaps] = kernel_for(self.program, Inputs(("",), {}, dict.fromkeys(points.readings, one), {}))
        return self.kernels[gaps]


def form_of(text: str) -> Form | None:
    """The form, or None where the text is refused."""
    try:
        return read_sources([Source("form.yaml", text)])
    except FormulaError:
        return None


def try_form(seed: int, index: int, tally: Tally, n_lines: int = 12) -> None:
    """Check one form, score it, and hold the one against the other."""
    text = form_by_chance(seed, index)
    form = form_of(text)
    if form is None:
        tally.counts["refused by the reader"] += 1
        return
    program = compile_form(form)
    tally.counts["forms"] += 1
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        report = check(program)
    fell = [f"warns: {each.message}" for each in warned]
    fell += hold(program, report, np.random.default_rng([seed, index, 1]), tally, n_lines)
    tally.false += [(index, said, text) for said in fell[:3]]


def hold(program: Program, report: Checked, rng: np.random.Generator, tally: Tally, n_lines: int) -> list[str]:
    """What of a report the scores contradict."""
    scored = Scored(program)
    findings = {(f.output, f.kind, f.measure): f for f in report.findings}
    tally.counts.update(f"{f.kind} {f.verdict}" for f in report.findings)
    tally.counts["claims proved"] += sum(f.verdict == PROVED for f in report.findings)
    tally.counts["bounds"] += sum(len(f.jumps) for f in report.findings)
    fell = _claims(program.form, report)
    changes: list[tuple[Points, NDArray[np.str_], Array, Array, NDArray[np.str_]]] = []
    for measure in program.measures:
        points, grid = lines_along(program.form, measure, rng, n_lines)
        values, published = scored.values(points)
        tally.counts["settings scored"] += len(points)
        fell += _scale(program, findings, values, published)
        fell += _bands(program.form, report, values, published, tally)
        shape = (-1, len(grid))
        for output in program.outputs:
            there = np.where(published[output], values[output], np.nan).reshape(shape)
            there[~np.isfinite(there)] = np.nan
            fell += _direction(findings.get((output, "direction", measure)), there, points, measure, grid)
            rows, columns = np.nonzero(np.abs(np.diff(there, axis=1)) > REAL_JUMP)
            chosen = _choose(rng, grid, columns)
            rows, columns = rows[chosen], columns[chosen]
            flat = rows * len(grid) + columns
            names = np.full(len(flat), measure), np.full(len(flat), output)
            changes.append((points.at(flat), names[0], grid[columns], grid[columns + 1], names[1]))
    fell += _jumps(scored, findings, changes, tally)
    fell += _counterexamples(program, report, tally)
    return fell


def lines_along(form: Form, measure: str, rng: np.random.Generator, n_lines: int) -> tuple[Points, Array]:
    """Lines along a measure, a few with readings missing: rows line by line, and the readings along each."""
    spans = {m.name: (m.plausible[0].value, m.plausible[1].value) for m in form.measures if m.plausible is not None}
    numbers = edges_of(form)
    low, high = spans[measure]
    met = np.array(sorted(edge for edge in numbers[measure] if low <= edge <= high))
    wide = high - low
    grid = [np.linspace(low, high, EVEN)] + [met + near * wide for near in (0, 1e-6, -1e-6, 1e-9, -1e-9)]
    along = np.unique(np.clip(np.concatenate(grid), low, high))
    readings, gone = {}, {}
    for name, (least, most) in spans.items():
        held = rng.uniform(least, most, n_lines)
        at_edge = rng.random(n_lines) < 0.5
        held = np.where(at_edge, rng.choice([*numbers[name], least, most], n_lines), held)
        held = np.clip(held, least, most)
        lost = (rng.random(n_lines) < 0.3) & (np.arange(n_lines) >= n_lines * 2 // 3) & (name != measure)
        readings[name], gone[name] = np.repeat(held, len(along)), np.repeat(lost, len(along))
    readings[measure] = np.tile(along, n_lines)
    return Points(readings, gone), along


def edges_of(form: Form) -> dict[str, list[float]]:
    """Readings of each measure at which something may happen: numbers beside it, and where its rounding turns for them."""
    found: dict[str, list[float]] = {}
    for measure in form.measures:
        near = set(_numbers_beside(form, measure.name))
        if measure.round is not None:
            step = measure.round.step.value
            multiples = {round(edge / step) * step for edge in near}
            near |= {multiple + part * step for multiple in multiples for part in (-1, -0.5, 0, 0.5, 1)}
        found[measure.name] = sorted(near) or [0.0]
    return found


def _numbers_beside(form: Form, measure: str) -> Iterator[float]:
    """The anchors and numbers of a measure's curves, and the numbers of the expressions that name it."""
    for output in form.outputs:
        curves = [(part.source, part.curve) for part in output.parts]
        curves += [(limit.on or "", limit.curve) for limit in output.limits]
        for source, curve in curves:
            if curve is not None and source == measure:
                yield from (at.value for at, _ in curve.anchors)
                yield from (number.value for _, number in curve.numbers)
        for expression in (output.value, *(limit.when for limit in output.limits)):
            if expression is not None and measure in expression.names:
                yield from (number.value for number in expression.numbers)


def _choose(rng: np.random.Generator, grid: Array, columns: NDArray[np.intp]) -> NDArray[np.intp]:
    """The changes to look at: the nearest neighbours first, others by chance."""
    order = np.lexsort((rng.random(len(columns)), np.round(np.log10(grid[columns + 1] - grid[columns]))))
    half = MOST_PLACES // 2
    rest = order[half:]
    return np.concatenate([order[:half], rng.permutation(rest)[:half]]).astype(np.intp)


def _scale(
    program: Program,
    findings: Mapping[tuple[str, str, str], Finding],
    values: Mapping[str, Array],
    published: Mapping[str, NDArray[np.bool_]],
) -> list[str]:
    fell = []
    for output in program.form.outputs:
        if findings[output.name, "scale", ""].verdict != PROVED:
            continue
        found = values[output.name][published[output.name]]
        low, high = output.scale.low.value, output.scale.high.value if output.scale.high else np.inf
        bad = found[~(np.isfinite(found) & (found >= low - DUST) & (found <= high + DUST))]
        if len(bad):
            fell.append(f"{output.name} proved on its scale scores {bad[0]!r}")
    return fell


def _claims(form: Form, report: Checked) -> list[str]:
    """Whether every claim of direction asks for what the output's own best end, and the measure's better one, come to."""
    fell = []
    for finding in report.findings:
        for jump in finding.jumps:
            said = {o.value.address for o in form.outputs if o.value is not None and o.jumps is not None}
            if jump.declared and jump.kind in ("choice", "division") and jump.address not in said:
                fell.append(f"{finding.output} has a declared {jump.kind} at {jump.address}, which no key declares")
        if finding.kind != "direction":
            continue
        output, better = form.output(finding.output), form.measure(finding.measure).better.value
        rises = (better == "higher") == (output.ranks.best.value == "highest")
        stated = {True: "does not fall as", False: "does not rise as"}[rises]
        due = {"neither": "no claim about", "unstated": "goes one way with"}.get(better, stated)
        if not finding.claim.startswith(due):
            fell.append(f"{finding.output} claims: {finding.claim}; due is: {due} {finding.measure}")
    return fell


def _bands(
    form: Form,
    report: Checked,
    values: Mapping[str, Array],
    published: Mapping[str, NDArray[np.bool_]],
    tally: Tally,
) -> list[str]:
    """Whether a band that is said never to be reached is reached."""
    fell = []
    for warning in report.warnings:
        name = warning.address.split(".")[1] if warning.address.count(".") == 2 else ""
        if warning.topic != BANDS or not name:
            continue
        output = form.output(name)
        named = re.findall(r"`([^`:]+)`", warning.says.partition(" can ")[0])
        others = "none but" in warning.says
        never = {b.name for b in output.bands.edges if (b.name in named) != others}
        tally.counts["bands never reached"] += len(never)
        met = never & _met(form, output, values[name][published[name]])
        fell += [f"{name} reaches the band {band}, which it is said never to" for band in met]
    return fell


def _met(form: Form, output: Output, values: Array) -> set[str]:
    """The bands that values lie in, number by number."""
    rule = output.scale.show
    found = set()
    for value in values[np.isfinite(values)].tolist():
        exact = Decimal(f"{value:.13g}")
        if form.bands_on.value == "shown":
            exact = round_decimal(value, rule.step.text, rule.rule.value)
        reached = [band for band in output.bands.edges if Decimal(band.edge.text) <= exact]
        found |= {max(reached, key=lambda band: Decimal(band.edge.text)).name} if reached else set()
    return found


def _direction(finding: Finding | None, there: Array, points: Points, measure: str, grid: Array) -> list[str]:
    """Whether a way that is proved is kept along every line."""
    if finding is None or finding.verdict != PROVED:
        return []
    floor = np.fmax.accumulate(there, axis=1)
    ceiling = np.fmin.accumulate(there, axis=1)
    falls, rises = float(np.nanmax(floor - there, initial=0.0)), float(np.nanmax(there - ceiling, initial=0.0))
    detail = finding.detail
    wrong = {
        "does not matter": max(falls, rises),
        "rises with": falls,
        "never falls": falls,
        "falls with": rises,
        "never rises": rises,
    }
    size = next(size for words, size in wrong.items() if detail.startswith(words))
    return (
        [f"{finding.output} proved: {detail}, with {measure}; goes against it by {size!r}"] if size > 2 * DUST else []
    )


def _jumps(
    scored: Scored,
    findings: Mapping[tuple[str, str, str], Finding],
    changes: Sequence[tuple[Points, NDArray[np.str_], Array, Array, NDArray[np.str_]]],
    tally: Tally,
) -> list[str]:
    """Draw every change together; what is left at one place is a jump, and must be told."""
    changes = [change for change in changes if len(change[1])]
    if not changes:
        return []
    names = changes[0][0].readings
    base = Points(
        {n: np.concatenate([c[0].readings[n] for c in changes]) for n in names},
        {n: np.concatenate([c[0].gone[n] for c in changes]) for n in names},
    )
    measures, low, high, outputs = (np.concatenate([c[at] for c in changes]) for at in (1, 2, 3, 4))

    def asked(to: Array) -> Array:
        values, _ = scored.values(base.moved(measures, to))
        tally.counts["settings scored"] += len(to)
        return np.choose(np.searchsorted(sorted(values), outputs), [values[name] for name in sorted(values)])

    below, above = asked(low), asked(high)
    sizes, halved = [np.abs(above - below)], np.zeros(len(low), int)
    for _ in range(HALVINGS):
        middle = low / 2 + high / 2
        inside = (low < middle) & (middle < high)
        value = asked(middle)
        first = np.abs(value - below) >= np.abs(above - value)
        high, above = np.where(inside & first, middle, high), np.where(inside & first, value, above)
        low, below = np.where(inside & ~first, middle, low), np.where(inside & ~first, value, below)
        sizes.append(np.abs(above - below))
        halved += inside
    size = sizes[-1]
    before = np.array(sizes)[np.maximum(halved - LAST, 0), np.arange(len(low))]
    fell = []
    for at in np.flatnonzero((size > REAL_JUMP) & (size > 0.8 * before)):
        tally.counts["jumps met"] += 1
        jumps = findings[str(outputs[at]), "continuity", ""].jumps
        said = _untold(jumps, str(measures[at]), float(low[at]), float(high[at]), float(size[at]))
        if said:
            rest = {n: ("missing" if base.gone[n][at] else float(v[at])) for n, v in base.readings.items()}
            verdict = findings[str(outputs[at]), "continuity", ""].verdict
            fell.append(
                f"{outputs[at]} ({verdict}) jumps by {size[at]:.10g} at {measures[at]} = {high[at]!r}: {said}; {rest}"
            )
    return fell


def _untold(jumps: Sequence[Jump], measure: str, low: float, high: float, size: float) -> str:
    """What a report does not say of a jump that was met; nothing where it says it."""
    loose = REAL_JUMP + 1e-9 * size
    elsewhere = []
    for jump in jumps:
        spot = SPOT.match(jump.where)
        if spot is None or spot[1] not in "abc":
            elsewhere.append(jump)
            continue
        reach = 4e-12 * max(abs(low), abs(high), 1e-3)
        if spot[1] == measure and low - reach <= float(spot[2]) <= high + reach:
            if size > jump.at_most + loose:
                return f"told as {jump.at_most!r} at most"
            return f"told as {jump.at_most!r} exactly" if jump.exact and abs(size - jump.at_most) > loose else ""
    if not elsewhere:
        return "no jump is told there"
    most = max(jump.at_most for jump in elsewhere)
    if size > most + loose:
        return f"told as {most!r} at most"
    if all(jump.exact for jump in elsewhere) and all(abs(size - jump.at_most) > loose for jump in elsewhere):
        return f"told as {most!r} exactly"
    return ""


def _counterexamples(program: Program, report: Checked, tally: Tally) -> list[str]:
    """Every counter-example scored from a file, as a person would type it."""
    told = [
        (f, case)
        for f in report.findings
        if f.kind in ("scale", "direction", "continuity")
        for case in f.counterexample
    ]
    if not told:
        return []
    names = [measure.name for measure in program.form.measures]
    rows = [",".join(["product", *names])]
    for index, (_, case) in enumerate(told):
        cells = {name: {"does not apply": "n/a"}.get(text, text) for name, text, _ in case.inputs}
        rows.append(",".join([f"p{index}", *(cells.get(name, _any(program.form, name)) for name in names)]))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cases.csv"
        path.write_text("\n".join(rows) + "\n", encoding="utf-8")
        try:
            inputs = inputs_of(program.form, read_catalogue(path, program.form))
        except Exception as fault:
            return [f"a counter-example cannot be typed in: {fault}"]
    found = evaluate(kernel_for(program, inputs), inputs).values
    fell, by_finding = [], dict[int, list[float]]()
    for index, (finding, case) in enumerate(told):
        value = float(found[finding.output][0][index])
        by_finding.setdefault(id(finding), []).append(value)
        tally.counts["counter-examples scored"] += 1
        if not (np.isclose(value, case.value, rtol=1e-9, atol=1e-9) or (value != value and case.value != case.value)):
            fell.append(f"{finding.output} {finding.kind}: {case} scores {value!r}")
    for finding in report.findings:
        if finding.verdict == REFUTED and id(finding) in by_finding:
            tally.counts["refuted in truth"] += 1
            if not _refutes(program, finding, by_finding[id(finding)]):
                fell.append(
                    f"{finding.output} {finding.kind} is not refuted by {by_finding[id(finding)]}: {finding.claim}"
                )
    return fell


def _any(form: Form, name: str) -> str:
    """A reading that plays no part."""
    ends = next(measure.plausible for measure in form.measures if measure.name == name)
    return ends[0].text if ends is not None else "1"


def _refutes(program: Program, finding: Finding, values: Sequence[float]) -> bool:
    if finding.kind == "scale":
        scale = program.form.output(finding.output).scale
        high = scale.high.value if scale.high is not None else np.inf
        return not all(scale.low.value - DUST <= value <= high + DUST for value in values)
    if len(values) == 1:  # a place without a value, which is not continuous
        return not np.isfinite(values[0])
    moves = [after - before for before, after in zip(values[::2], values[1::2], strict=True)]
    if finding.kind == "continuity":
        return abs(moves[0]) > REAL_JUMP
    if finding.claim.startswith("goes one way"):
        return min(moves) < 0 < max(moves)
    return moves[0] > 0 if finding.claim.startswith("does not rise") else moves[0] < 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--lines", type=int, default=12)
    parser.add_argument("--keep", type=Path, help="a file for every form that falls")
    asked = parser.parse_args()
    tally = Tally()
    for index in range(asked.first, asked.first + asked.count):
        before = len(tally.false)
        try_form(asked.seed, index, tally, asked.lines)
        for _, said, text in tally.false[before:]:
            print(f"--- form {index}: {said}\n{text}", flush=True)
        if (index + 1) % 100 == 0:
            print(index + 1, tally.counts["forms"], "forms,", len({i for i, _, _ in tally.false}), "false", flush=True)
    if asked.keep is not None:
        asked.keep.write_text("".join(f"--- form {i}: {said}\n{text}\n" for i, said, text in tally.false))
    for name, count in sorted(tally.counts.items()):
        print(f"{count:>12,}  {name}")
    print(f"{len({index for index, _, _ in tally.false}):>12,}  forms with something false")
    sys.exit(bool(tally.false))


if __name__ == "__main__":
    main()
