"""What to read again of one catalogue, score by score: single steps, and a plan for a budget of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.asked_scores import unknown_scores
from analysis.next_readings.falling import Falling, falling_of
from analysis.next_readings.plan import Plans, enough_for, plans_for, readable
from analysis.next_readings.preposterior import Outlook, Standing, outlook
from analysis.next_readings.question import Pair, Question, Top
from analysis.rankings.shrunken import prior_of
from analysis.rankings.told_apart import ALONE, ToldApart, bench_of, score_covariance
from analysis.runs import Executor, serially
from analysis.trials.quantities import Quantities, quantities_of
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.program.program import Program
from scoring.table.table import ScoreTable

Array = NDArray[np.float64]
#: Draws by which plans are made, and others by which their chances are told.
TRIED, JUDGED = 2_000, 20_000
#: So many times the budget are looked at for an even chance.
FURTHEST = 64
#: And no more readings than this, nor more figures of what is left of each part of the noise.
MOST, HELD = 2_048, 20_000_000
FIRST, TOP = "first", "top"


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be settled: "first", "top" (the first `top`) or "pair" (two product ids)."""

    what: str
    top: int
    pair: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """Further readings of one measure and product: by what share the score's variance falls, the chance to settle."""

    product: str
    measure: str
    further: int
    fall: float
    chance: float

    @property
    def gained(self) -> float:
        """The chance that each of the readings brings."""
        return self.chance / self.further


@dataclass(frozen=True, slots=True, eq=False)
class Reread:
    """What one score says of what to read again.

    settled : whether the question is settled as things stand; disputed : the products that it hangs on
    steps : of one product and measure, by chance gained per reading, then by what falls of the variance per reading
    plans : for the whole budget, None where there is nothing to plan; enough : readings for an even chance, of budget times 1,
        2, 4, ..., None where none of these up to `looked_up_to` is; at_most : the chance with readings without end
    why_not : why nothing was looked for
    """

    quantities: Quantities
    asked: Asked
    bench: ToldApart | None
    falling: Falling | None
    budget: int
    settled: bool = False
    disputed: tuple[int, ...] = ()
    steps: tuple[Step, ...] = ()
    plans: Plans | None = None
    enough: int | None = None
    looked_up_to: int = 0
    at_most: float = float("nan")
    why_not: str = ""


def asked_of(text: str, top: int, products: Sequence[str]) -> Asked:
    """What `--settle` asks for.

    Raises
    ------
    StudyError : neither first, top nor two different products of the catalogue
    """
    if text in (FIRST, TOP):
        return Asked(text, top)
    place = Place("--settle")
    if ":" not in text:
        raise StudyError(
            [Problem(place, f"`{text}`", "first, top, or two products as A-01:A-02", nearest(text, (FIRST, TOP)))]
        )
    cuts = [(text[:at].strip(), text[at + 1 :].strip()) for at, letter in enumerate(text) if letter == ":"]
    known = [pair for pair in cuts if all(one in products for one in pair)]
    one, other = known[0] if known else cuts[0]
    problems = [
        Problem(place, f"`{name}`", "a product of the catalogue", nearest(name, products))
        for name in (one, other)
        if name not in products
    ]
    if not problems and one == other:
        problems = [Problem(place, f"`{text}`", "two different products, as A-01:A-02")]
    if problems:
        raise StudyError(problems)
    return Asked("pair", top, (one, other))


def reread_study(
    table: ScoreTable, only: Sequence[str], asked: Asked, *, budget: int, seed: int, execute: Executor = serially
) -> tuple[Reread, ...]:
    """What to read again for each score asked for, or for all of them; `execute` works blocks of draws out.

    Raises
    ------
    StudyError : a score that is not there; no repeatability of any measure; or a pair, one of which has no place in a score
        that is asked for by name, or in any
    """
    names = [column.output.name for column in table.scores + table.ratings]
    problems = unknown_scores(only, names)
    if not any(np.nan_to_num(u).any() for u in table.uncertainty.values()):
        hint = "Declare `repeatability` of a measure: a standard deviation, a share, or `pooled`."
        problems.append(
            Problem(Place("the formula"), "no repeatability of any measure", "the noise that repeats take away", hint)
        )
    if problems:
        raise StudyError(problems)
    program = table.program
    benches = bench_of(table, seed, execute=execute)
    targets = tuple(dict.fromkeys(only)) or tuple(column.output.name for column in table.scores or table.ratings)
    found = tuple(_reread(table, program, name, benches.get(name), asked, budget, seed, execute) for name in targets)
    if asked.pair is not None and all(one.why_not for one in found):
        raise StudyError([Problem(Place("--settle"), found[0].why_not, "two products that are published with a place")])
    return found


def _reread(
    table: ScoreTable,
    program: Program,
    name: str,
    bench: ToldApart | None,
    asked: Asked,
    budget: int,
    seed: int,
    execute: Executor,
) -> Reread:
    quantities = quantities_of(table.form, table.column(name), table.catalogue.products, asked.top, ())
    gone = [one for one in asked.pair or () if one not in quantities.ids]
    if gone:
        return Reread(quantities, asked, bench, None, budget, why_not=f"{' and '.join(gone)}: no place in {name}")
    if len(quantities.ids) < 2:
        return Reread(quantities, asked, bench, None, budget, why_not=f"fewer than two products have a place in {name}")
    if bench is None:
        return Reread(quantities, asked, bench, None, budget, settled=True)
    sign = 1.0 if quantities.form.ranks.best.value == "highest" else -1.0
    covariance = score_covariance(bench)
    scores = sign * quantities.values
    standing = Standing(scores, covariance, prior_of(scores, covariance))
    question = _question(asked, quantities, bench)
    disputed = question.disputed(scores, covariance)
    most = max(budget, min(FURTHEST * budget, MOST, HELD // (len(scores) * len(table.uncertainty))))
    falling = falling_of(table, program, name, quantities.products, np.diag(covariance), most, seed=seed)
    if not disputed:
        return Reread(quantities, asked, bench, falling, budget, settled=True)
    tried = outlook(standing, question, TRIED, np.random.default_rng([seed, 14]), execute=execute)
    judged = outlook(standing, question, JUDGED, np.random.default_rng([seed, 15]), execute=execute)
    return Reread(
        quantities,
        asked,
        bench,
        falling,
        budget,
        disputed=disputed,
        steps=_steps(quantities, standing, question, falling, budget, tried),
        plans=plans_for(standing, question, falling, budget, tried, judged),
        enough=enough_for(standing, question, falling, tried, start=budget),
        looked_up_to=budget * 2 ** ((most // budget).bit_length() - 1),
        at_most=judged.chance(np.where(np.isin(np.arange(len(scores)), disputed), falling.parts.sum(axis=0), 0.0)),
    )


def _question(asked: Asked, quantities: Quantities, bench: ToldApart) -> Question:
    if asked.pair is not None:
        one, other = (quantities.ids.index(name) for name in asked.pair)
        return Pair(one, other, ALONE)
    places = 1 if asked.what == FIRST else min(quantities.top, len(quantities.ids) - 1)
    return Top(places, float(np.max(bench.sets.critical)))


def _steps(
    quantities: Quantities, standing: Standing, question: Question, falling: Falling, budget: int, tried: Outlook
) -> tuple[Step, ...]:
    """Every measure of every disputed product, read 1, 2, 4, ... times more."""
    counts = [2**power for power in range(budget.bit_length()) if 2**power <= budget]
    variances = np.diag(standing.covariance)
    found = []
    for product in readable(standing, question, falling):
        for row in np.flatnonzero(falling.parts[:, product] > 0).tolist():
            for further in counts:
                fall = float(falling.parts[row, product] * (1 - falling.kept[row, product, further]))
                chance = tried.chance_of_one(product, fall)
                share = fall / float(variances[product])
                found.append(Step(quantities.ids[product], falling.measures[row], further, share, chance))
    return tuple(sorted(found, key=lambda step: (-step.chance / step.further, -step.fall / step.further)))
