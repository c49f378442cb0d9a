"""The numbers of `score` against exact arithmetic: forms and catalogues drawn from a seed, with readings on every edge.

By hand, as `python tests/number_campaign.py --seed 1 --forms 2000`; `tests/properties/test_numbers.py` runs a few. Each form is
scored whole, which must be refused where anything is undefined, and for just that; then without what has no value, where
every value, shown figure, status, place, band and gate must be what `exact.oracle` says. Products are scored without those
that have gaps, which may not move a bit, and a sample goes through the page's JavaScript under node.
"""

from __future__ import annotations

import argparse
import json
import math
import shutil
import subprocess
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from exact.catalogues import Written
from exact.drawn import Drawn, draw
from exact.oracle import LeftOut, Oracle, decided, off_scale, places
from exact.reals import TALLY, Real, Undefined, compare, forget, fraction, leaf, rounded

from analysis.page.document import ROOM, SCRIPTS
from analysis.page.model import page_model
from scoring.catalogue import read_catalogue
from scoring.errors import FormulaError, ScoringError
from scoring.form import Form
from scoring.program.program import compile_form
from scoring.reader import read_sources
from scoring.table.evaluate import Inputs, evaluate, kernel_for
from scoring.table.table import MOST_NAMED, OFF_SCALE, Column, ScoreTable, score_catalogue
from scoring.texts.source import Source

#: What a value may be off by, as a share of it, beyond what doubles make of its own steps.
CLOSE = 1e-12
#: The same of a figure of the page, whose functions are JavaScript's own: of it, or of 1 where it is less.
PAGE_CLOSE = 1e-11
#: How often a catalogue is made smaller by what has no value in it, whose going moves live references.
ROUNDS = 5


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One thing that `score` says otherwise."""

    kind: str
    where: str
    got: str
    expected: str

    def __str__(self) -> str:
        return f"{self.kind} of {self.where}: {self.got}, expected {self.expected}"


@dataclass
class Counts:
    """What was looked at."""

    forms: int = 0
    refused_by_the_reader: int = 0
    values: int = 0
    readings: int = 0
    undefined: int = 0
    off_the_scale: int = 0
    left_out: Counter[str] = field(default_factory=Counter)
    gates: int = 0
    shown: int = 0
    bands: int = 0
    limited: int = 0
    places: int = 0
    bits: int = 0
    on_the_page: int = 0
    worst: float = 0.0


@dataclass
class Trial:
    """One form with its catalogue, looked at from every side."""

    drawn: Drawn
    folder: Path
    counts: Counts
    found: list[Disagreement] = field(default_factory=list)

    def run(self) -> list[Disagreement]:
        """Everything that `score` says otherwise."""
        forget()
        try:
            self.form = read_sources([Source("drawn.yaml", self.drawn.text)])
            self.program = compile_form(self.form)
        except FormulaError:
            self.counts.refused_by_the_reader += 1
            return []
        self.counts.forms += 1
        written = self.drawn.written
        for _ in range(ROUNDS):
            oracle = Oracle(self.form, written)
            sure, unsure = self.without_value(oracle)
            table = self.scored(written, oracle, sure, unsure)
            lost = {product for _, product in sure | unsure}
            if table is not None and not lost:
                self.compare(table, oracle)
                self.compare_bits(table)
                return self.found
            written = written.only([product for product in written.products if product not in lost])
            if not written.products or self.found:
                return self.found
        return self.found

    def say(self, kind: str, where: str, got: object, expected: object) -> None:
        self.found.append(Disagreement(kind, where, str(got), str(expected)))

    # what has no value

    def without_value(self, oracle: Oracle) -> tuple[set[tuple[str, str]], set[tuple[str, str]]]:
        """(output, product) that cannot be published: surely, and where doubles cannot tell."""
        sure, unsure = set(), set()
        for output in self.form.outputs:
            for product in oracle.written.products:
                value = oracle.outcome(output.name, product).value
                off = off_scale(output, value) if isinstance(value, Real) else False
                if isinstance(value, LeftOut) or isinstance(off, LeftOut):
                    why = value.why if isinstance(value, LeftOut) else "about the end of the scale"
                    self.counts.left_out[why] += 1
                    unsure.add((output.name, product))
                elif isinstance(value, Undefined) or off:
                    self.counts.undefined += isinstance(value, Undefined)
                    self.counts.off_the_scale += bool(off)
                    sure.add((output.name, product))
        for name, product, is_sure in self.beyond_anchors(oracle):
            (sure if is_sure else unsure).add((name, product))
        return sure, unsure

    def beyond_anchors(self, oracle: Oracle) -> Iterator[tuple[str, str, bool]]:
        """Values outside a curve that refuses what lies outside."""
        for output in self.form.outputs:
            for part in output.parts:
                curve = part.curve
                if curve is None or not {choice.value for choice in curve.outside} & {"error"}:
                    continue
                refuses = [choice.value == "error" for choice in curve.outside]
                ends = [leaf(curve.anchors[0][0].text), leaf(curve.anchors[-1][0].text)]
                for product in oracle.written.products:
                    if oracle.state(part.source, product) != "":
                        continue
                    outcome = oracle.outcome(part.source, product) if part.source in oracle.outputs else None
                    value = oracle.summary(part.source, product).value if outcome is None else outcome.value
                    if not isinstance(value, Real):
                        continue
                    sides = [_decided(compare, value, end) for end in ends]
                    sides = [side if refused else 0 for side, refused in zip(sides, refuses, strict=True)]
                    if sides[0] == -1 or sides[1] == 1:
                        yield part.source, product, True
                    elif None in sides:
                        yield part.source, product, False

    def scored(
        self, written: Written, oracle: Oracle, sure: set[tuple[str, str]], unsure: set[tuple[str, str]]
    ) -> ScoreTable | None:
        """The table; it must be refused for what has no value, for nothing else, and each with its reason."""
        catalogue = read_catalogue(written.write(self.folder), self.form)
        try:
            table = score_catalogue(self.form, catalogue, self.program)
        except ScoringError as fault:
            self.check_refusal(fault, oracle, sure, unsure)
            return None
        except Exception as crash:  # none is expected: whatever it is, it is a finding
            self.say("crash", type(crash).__name__, crash, "a table or a refusal")
            return None
        for name, product in sorted(sure):
            column = table.column(name) if name in oracle.outputs else None
            got = "published" if column is None else column.value[catalogue.products.index(product)]
            self.say("published", f"{name} of {product}", got, _said(oracle, name, product))
        return table

    def check_refusal(
        self, fault: ScoringError, oracle: Oracle, sure: set[tuple[str, str]], unsure: set[tuple[str, str]]
    ) -> None:
        texts = [str(problem) for problem in fault.problems]
        named = {(n, p) for n, p in sure | unsure if any(_names(text, n, p) for text in texts)}
        for text in texts:
            if "more such products" in text:
                continue
            if not any(_names(text, name, product) for name, product in named):
                self.say("refused", text, "refused", "published")
            if "has no value" in text and "has no value: " not in text:
                self.say("reason", text, "no reason", "a reason")
        domains = [text for text in texts if "(which says `outside: " in text]
        for name, product in sorted(sure - named):
            population = sum(1 for other, _ in sure | unsure if other == name)
            if not domains and population <= MOST_NAMED:
                self.say("not named", f"{name} of {product}", "silence", _said(oracle, name, product))

    # what is published

    def compare(self, table: ScoreTable, oracle: Oracle) -> None:
        """Readings, values, shown figures, statuses, gates, places and bands."""
        for name, values in table.inputs.values.items():
            for product, got in zip(oracle.written.products, values[0].tolist(), strict=True):
                self.compare_reading(oracle, name, product, got)
        for column in table.ratings + table.scores:
            withheld = self.compare_gates(table, column, oracle)
            self.compare_column(table, column, oracle, withheld)

    def compare_reading(self, oracle: Oracle, name: str, product: str, got: float) -> None:
        summary = oracle.summary(name, product)
        if summary.unsure:
            return
        value = summary.value
        self.counts.readings += 1
        if not isinstance(value, Real):
            if not math.isnan(got):
                self.say("reading", f"{name} of {product}", got, "none")
        elif (value.nearest and got != float(value.x)) or abs(
            got - float(value.x)
        ) > value.off * 2 + 1e-13 * value.size:
            self.say("reading", f"{name} of {product}", repr(got), repr(float(value.x)))

    def compare_gates(self, table: ScoreTable, column: Column, oracle: Oracle) -> list[bool | None]:
        """Which products are withheld (None: doubles cannot tell), the gates' remarks being looked at."""

        def spread(measure: str, product: str) -> float | None:
            return float(table.uncertainty[measure][oracle.written.products.index(product)])

        if column in table.ratings and self.form.scores:
            return [False] * len(oracle.written.products)
        gates = [gate for gate in self.form.gates if not gate.scores or column.output.name in gate.scores]
        withheld: list[bool | None] = []
        for index, product in enumerate(oracle.written.products):
            words = [oracle.gate(gate, product, spread) for gate in gates]
            self.counts.gates += len(words)
            if any(isinstance(word, LeftOut) for word in words):
                self.counts.left_out["a gate"] += 1
                withheld.append(None)
                continue
            said = tuple(word.remark for word in words if not isinstance(word, LeftOut) and word.remark)
            got = column.remarks.get(index, ())[: len(said)]
            if got != said:
                self.say("remark", f"{column.output.name} of {product}", got, said)
            withheld.append(any(word.withholds for word in words if not isinstance(word, LeftOut)))
        return withheld

    def compare_column(self, table: ScoreTable, column: Column, oracle: Oracle, withheld: list[bool | None]) -> None:
        """One output of every product."""
        output = column.output
        step, rule = Fraction(output.scale.show.step.text), output.scale.show.rule.value
        shown: dict[str, Real | None] = {}
        kept: dict[str, Real] = {}
        for index, product in enumerate(oracle.written.products):
            outcome, where = oracle.outcome(output.name, product), f"{output.name} of {product}"
            if withheld[index] is None:
                shown[product] = None
                continue
            status = "withheld" if withheld[index] and outcome.status != "not applicable" else outcome.status
            if column.status_text(index) != status:
                self.say("status", where, column.status_text(index), status)
                continue
            got = float(column.value[index])
            if status not in ("rated", "partial"):
                if not math.isnan(got) or column.shown_text(index):
                    self.say("value", where, got, "none")
                continue
            value = outcome.value
            assert isinstance(value, Real)
            kept[product] = value
            self.compare_value(where, got, value)
            shown[product] = self.compare_shown(column, index, where, _decided(rounded, value, step, rule))
        self.compare_bands(table, column, oracle, kept, shown)
        self.compare_places(column, oracle, kept, shown)

    def compare_value(self, where: str, got: float, value: Real) -> None:
        self.counts.values += 1
        error, allowed = abs(float(Fraction(got) - fraction(value.x))), CLOSE * value.size + value.off
        if value.x != 0 and value.off <= CLOSE * value.size:
            self.counts.worst = max(self.counts.worst, error / value.size)
        if not error <= allowed:
            self.say("value", where, repr(got), f"{float(value.x)!r} within {allowed:.3g}")

    def compare_shown(self, column: Column, index: int, where: str, expected: object) -> Real | None:
        if not isinstance(expected, Real):
            self.counts.left_out["a shown figure"] += 1
            return None
        self.counts.shown += 1
        if float(column.shown[index]) != float(expected.x):
            self.say("shown", where, column.shown[index], float(expected.x))
        return expected

    def compare_bands(
        self, table: ScoreTable, column: Column, oracle: Oracle, kept: dict[str, Real], shown: dict[str, Real | None]
    ) -> None:
        for index, product in enumerate(oracle.written.products):
            if product not in kept:
                continue
            judged = shown[product] if self.form.bands_on.value == "shown" else kept[product]
            band = None if judged is None else _decided(self.band_of, column, judged)
            band = band if band is None else self.limited_band(oracle, column, product, str(band))
            if band is None:
                self.counts.left_out["a band"] += 1
                continue
            self.counts.bands += 1
            if table.band_name(column, index) != band:
                self.say("band", f"{column.output.name} of {product}", table.band_name(column, index), band)

    def band_of(self, column: Column, value: Real) -> str:
        """The band of the output whose lower edge is the highest that the value reaches."""
        reached = [band for band in column.output.bands.edges if compare(value, leaf(band.edge.text)) >= 0]
        return max(reached, key=lambda band: Fraction(band.edge.text)).name if reached else ""

    def limited_band(self, oracle: Oracle, column: Column, product: str, band: str) -> str | None:
        """The band that is given where limits hold; None where doubles cannot tell."""
        output = column.output
        edges = {one.name: Fraction(one.edge.text) for one in output.bands.edges}
        sign = 1 if output.ranks.best.value == "highest" else -1
        for limit in output.band_limits:
            best = limit.no_better_than.value
            lowers = oracle.lowers(limit, product)
            if isinstance(lowers, LeftOut):
                return None
            if not lowers or not band:
                continue
            self.counts.limited += 1
            if best == "none":
                band = ""
            elif sign * edges[band] > sign * edges[best]:
                band = best
        return band

    def compare_places(
        self, column: Column, oracle: Oracle, kept: dict[str, Real], shown: dict[str, Real | None]
    ) -> None:
        ranks = column.output.ranks
        ranked = {p: shown[p] if ranks.on.value == "shown" else v for p, v in kept.items()}
        known = {product: value for product, value in ranked.items() if value is not None}
        found = places(known, ranks.best.value, ranks.ties.value)
        if isinstance(found, LeftOut) or len(known) < len(kept) or None in shown.values():
            self.counts.left_out["places of a column"] += 1
            return
        for index, product in enumerate(oracle.written.products):
            expected = float(found[product]) if product in found else math.nan
            self.counts.places += 1
            if not np.array_equal(column.rank[index], expected, equal_nan=True):
                self.say("place", f"{column.output.name} of {product}", column.rank[index], expected)

    def compare_bits(self, table: ScoreTable) -> None:
        """Products alone, and those without gaps together: the same bits as among the others."""
        if self.program.figures:
            return
        whole = np.flatnonzero(np.all([states <= 1 for states in table.inputs.states.values()], axis=0))
        for chosen in (whole, whole[:1], np.arange(len(table.inputs.products))[-1:]):
            if not len(chosen):
                continue
            few = _chosen(table.inputs, chosen)
            values = evaluate(kernel_for(self.program, few), few).values
            for name, found in values.items():
                self.counts.bits += len(chosen)
                before = table.evaluation.values[name][0, chosen]
                if not np.array_equal(found[0], before, equal_nan=True):
                    at = int(np.flatnonzero(~np.isclose(found[0], before, rtol=0, atol=0, equal_nan=True))[0])
                    where = f"{name} of {few.products[at]} among {len(chosen)}"
                    self.say("bits", where, repr(found[0, at]), repr(before[at]))


def _chosen(inputs: Inputs, products: np.ndarray) -> Inputs:
    """The inputs of some of the products."""
    return Inputs(
        tuple(inputs.products[i] for i in products),
        {name: values[:, products] for name, values in inputs.values.items()},
        {name: states[products] for name, states in inputs.states.items()},
        {name: tuple(words[i] for i in products) for name, words in inputs.words.items()},
    )


def _decided(work: Callable[..., object], *args: object) -> object:
    found = decided(lambda: work(*args))
    return None if isinstance(found, LeftOut) else found


def _names(text: str, name: str, product: str) -> bool:
    return f"{name} of {product}" in text


def _said(oracle: Oracle, name: str, product: str) -> str:
    if name not in oracle.outputs:
        return "refused: beyond the anchors"
    value = oracle.outcome(name, product).value
    return f"refused: {value.why}" if isinstance(value, Undefined) else f"refused: {value} off the scale"


# the page


def page_scripts(form: Form, folder: Path, written: Written) -> tuple[str, ScoreTable]:
    """The page of a form and a catalogue as one JavaScript expression, and the table, also where it could not be published."""
    catalogue = read_catalogue(written.write(folder), form)
    with patch("scoring.table.table.check_finite"), patch("scoring.table.table.check_domains"):
        table = score_catalogue(form, catalogue)
    model = page_model(table)
    steps = ",\n".join(f"x => {code}" for code in model.codes)
    arrays, scoring = ((ROOM / f"script/{name}.js").read_text(encoding="utf-8") for name in SCRIPTS[:2])
    text = json.dumps(model.document | {"published": {}}, allow_nan=False)  # what is infinite is refused by a table
    populations = "model.populationRegisters = model.populations.map(asNumbers);"
    run = f"{populations} const made = {{ numbers: new Map(), choices: new Map() }}, result = evaluate(model, settingOf(model, made));"
    kept = (
        "columns: Object.fromEntries(Object.entries(result.columns).map(([name, c]) => [name, { value: [...c.value], "
    )
    kept += "shown: [...c.shown], status: [...c.status], rank: [...c.rank], band: [...c.band], remarks: c.remarks }]))"
    body = f"const model = {text};\n{arrays}\nconst STEPS = [{steps}];\n{scoring}\n{run}\nreturn {{ wrong: result.wrong, {kept} }};"
    return f"(() => {{ 'use strict';\n{body}\n}})()", table


def run_pages(pages: Sequence[str], folder: Path) -> list[dict[str, Any]]:
    """What node makes of the pages."""
    node = shutil.which("node")
    assert node is not None
    path = folder / "pages.js"
    special = "(key, value) => (typeof value === 'number' && !isFinite(value) ? String(value) : value)"
    path.write_text(f"console.log(JSON.stringify([{','.join(pages)}], {special}));\n", encoding="utf-8")
    done = subprocess.run([node, str(path)], capture_output=True, text=True, check=True, timeout=600)
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


def page_against(table: ScoreTable, page: dict[str, Any], counts: Counts) -> list[Disagreement]:
    """What the page says otherwise than the table."""
    found: list[Disagreement] = []
    for column in table.ratings + table.scores:
        for index, product in enumerate(table.catalogue.products):
            counts.on_the_page += 1
            for kind, theirs, ours, near in _sides(table, column, index, page):
                if not _same(theirs, ours, near):
                    where = f"{column.output.name} of {product}"
                    found.append(Disagreement(f"page {kind}", where, repr(theirs), repr(ours)))
    return found


def _sides(
    table: ScoreTable, column: Column, index: int, page: dict[str, Any]
) -> Iterator[tuple[str, object, object, float]]:
    """What is compared of one figure: its name, the page's, the table's, and how near they must be, as a share."""
    name, there = column.output.name, page["columns"][column.output.name]
    yield "value", float(there["value"][index]), float(column.value[index]), PAGE_CLOSE
    yield "shown", float(there["shown"][index]), float(column.shown[index]), 0.0
    yield "status", there["status"][index], int(column.status[index]), 0.0
    yield "place", float(there["rank"][index]), float(column.rank[index]), 0.0
    yield "band", there["band"][index], int(column.band[index]), 0.0
    passages = () if column in table.ratings and table.form.scores else table.passages
    remarks = [one.remarks[index] for one in passages if not one.gate.scores or name in one.gate.scores]
    by = int(column.banded.by[index])
    remarks += [column.output.band_limits[by].says(known=bool(column.banded.known[index]))] if by >= 0 else []
    yield "remarks", there["remarks"][index], [remark for remark in remarks if remark], 0.0
    wrong = {(one["name"], one["product"]) for one in page["wrong"] if "scale" in one["what"]}
    yield "fault", (name, index) in wrong, _is_unfit(table, column, index), 0.0


def _same(theirs: object, ours: object, near: float) -> bool:
    if isinstance(theirs, float) and isinstance(ours, float):
        both_none = math.isnan(theirs) and math.isnan(ours)
        return theirs == ours or both_none or abs(theirs - ours) <= near * (1 + abs(ours))
    return theirs == ours


def _is_unfit(table: ScoreTable, column: Column, index: int) -> bool:
    """Whether a value that should be there is none on the scale."""
    output, value = column.output, float(table.evaluation.values[column.output.name][0, index])
    here = np.broadcast_to(table.evaluation.presence.here[output.name][0], len(table.catalogue.products))[index]
    high = math.inf if output.scale.high is None else output.scale.high.value
    fits = math.isfinite(value) and output.scale.low.value - OFF_SCALE <= value <= high + OFF_SCALE
    return bool(here) and not fits


# the campaign


def look_at(drawn: Drawn, folder: Path, counts: Counts) -> list[Disagreement]:
    """Everything that `score` says otherwise of one form and its catalogue."""
    return Trial(drawn, folder, counts).run()


def smallest(drawn: Drawn, kind: str, folder: Path) -> Drawn:
    """A smaller form and catalogue that show a disagreement of the same kind: lines and products left out as long as they do."""

    def shows(other: Drawn) -> bool:
        try:
            return any(one.kind == kind for one in look_at(other, folder, Counts()))
        except Exception:  # a smaller form may be none at all
            return False

    for product in drawn.written.products:
        alone = Drawn(drawn.text, drawn.written.only([product]))
        if shows(alone):
            drawn = alone
            break
    is_smaller = True
    while is_smaller:
        is_smaller = False
        lines = drawn.text.splitlines()
        for at in range(len(lines)):
            other = Drawn("\n".join(lines[:at] + lines[at + 1 :]) + "\n", drawn.written)
            if shows(other):
                drawn, is_smaller = other, True
                break
    return drawn


def campaign(
    seeds: Sequence[int],
    *,
    products: int = 24,
    page_every: int = 0,
    shrink: bool = False,
    say: Callable[[str], None] = print,
) -> tuple[Counts, list[tuple[int, Disagreement]]]:
    """Every seed's form and catalogue; counts, and what `score` says otherwise."""
    counts, found = Counts(), []
    TALLY.edges = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pages: list[tuple[int, str, ScoreTable]] = []
        for number, seed in enumerate(seeds):
            drawn = draw(seed, products)
            told = look_at(drawn, folder, counts)
            found += [(seed, one) for one in told]
            for kind in {one.kind for one in told} if shrink else ():
                first = next(one for one in told if one.kind == kind)
                say(f"seed {seed}: {first}")
                small = smallest(drawn, kind, folder)
                (folder / "readings.csv").unlink(missing_ok=True)
                readings = (small.written.write(folder) / "readings.csv").read_text(encoding="utf-8")
                again = [one for one in look_at(small, folder, Counts()) if one.kind == kind]
                say(f"{again[0] if again else first}\n{small.text}{readings}")
            if page_every and number % page_every == 0:
                pages += _page_of(seed, drawn, folder)
            if len(pages) >= 20 or (pages and number == len(seeds) - 1):
                for (of, _, table), page in zip(pages, run_pages([text for _, text, _ in pages], folder), strict=True):
                    told = page_against(table, page, counts)
                    found += [(of, one) for one in told]
                    if told:
                        say(f"seed {of}: {told[0]} (and {len(told) - 1} more)")
                pages = []
    return counts, found


def _page_of(seed: int, drawn: Drawn, folder: Path) -> list[tuple[int, str, ScoreTable]]:
    try:
        form = read_sources([Source("drawn.yaml", drawn.text)])
    except FormulaError:
        return []
    return [(seed, *page_scripts(form, folder, drawn.written))]


def main() -> None:
    """The campaign by hand."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="the first seed; each form has one of its own")
    parser.add_argument("--forms", type=int, default=200)
    parser.add_argument("--products", type=int, default=24)
    parser.add_argument(
        "--page-every", type=int, default=10, help="how often a form goes through the page; 0 for never"
    )
    asked = parser.parse_args()
    seeds = range(asked.seed, asked.seed + asked.forms)
    counts, found = campaign(seeds, products=asked.products, page_every=asked.page_every, shrink=True)
    for name in Counts.__dataclass_fields__:
        print(f"{name.replace('_', ' ')}: {getattr(counts, name)}")
    print(f"edges decided: {TALLY.edges}")
    print(f"disagreements: {len(found)} {dict(Counter(one.kind for _, one in found))}")
    raise SystemExit(1 if found else 0)


if __name__ == "__main__":
    main()
