"""What to read again of one catalogue, score by score: single steps, and a plan for a budget of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.asked import unknown_scores, unselected
from analysis.next_readings.falling import Falling, falling_of
from analysis.next_readings.plan import Case, Plans, enough_for, plans_for
from analysis.next_readings.preposterior import Outlook, Standing, outlook
from analysis.next_readings.question import Pair, Question, Top
from analysis.rankings.distinguishable import ALONE, Distinguishable, bench_of, noise_of, score_covariance
from analysis.rankings.shrunken import prior_of
from analysis.runs import Executor, serially
from analysis.trials.quantities import Quantities, quantities_of
from scoring.catalogue import Catalogue
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.measurement_error import ALL_KNOWN, NoiseKnown
from scoring.table.table import ScoreTable

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
    why_not : why nothing was looked for; noise : of which measures that the score stands on the noise is known
    """

    quantities: Quantities
    asked: Asked
    bench: Distinguishable | None
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
    noise: NoiseKnown = ALL_KNOWN


def asked_of(text: str, top: int, catalogue: Catalogue) -> Asked:
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
    products = catalogue.products
    known = [pair for pair in cuts if all(one in products for one in pair)]
    one, other = known[0] if known else cuts[0]
    problems = [
        Problem(place, f"`{name}`", "a product of the catalogue", catalogue.hint_at(name))
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
    StudyError : a score that is not there; no reading to plan; no repeatability of any measure; or a pair, one of which has no
        place in a score that is asked for by name, or in any
    """
    names = [column.output.name for column in table.scores + table.ratings]
    problems = unknown_scores(only, names) + unselected(table, asked.pair or (), "--settle")
    if budget < 1:
        problems.append(Problem(Place("--readings"), f"`{budget}`", "1 or more"))
    if not any(np.nan_to_num(u).any() for u in table.uncertainty.values()):
        hint = "Declare `repeatability` of a measure: a standard deviation, a share, or `pooled`."
        problems.append(
            Problem(Place("the formula"), "no repeatability of any measure", "the noise that repeats take away", hint)
        )
    if problems:
        raise StudyError(problems)
    benches = bench_of(table, seed, execute=execute)
    targets = tuple(dict.fromkeys(only)) or tuple(column.output.name for column in table.scores or table.ratings)
    means = _Means(asked, budget, seed, execute)
    found = tuple(_reread(table, name, benches.get(name), means) for name in targets)
    if asked.pair is not None and all(one.why_not for one in found):
        raise StudyError([Problem(Place("--settle"), found[0].why_not, "two products that are published with a place")])
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Means:
    """What is to be settled, by so many readings; and how it is worked out."""

    asked: Asked
    budget: int
    seed: int
    execute: Executor

    def outlook(self, case: Case, draws: int, stream: int) -> Outlook:
        """What new readings may say, by draws of a stream of their own."""
        rng = np.random.default_rng([self.seed, stream])
        return outlook(case.standing, case.question, draws, rng, execute=self.execute)


def _reread(table: ScoreTable, name: str, bench: Distinguishable | None, means: _Means) -> Reread:
    asked, budget = means.asked, means.budget
    quantities = quantities_of(table.form, table.column(name), table.catalogue.products, asked.top, ())
    gone = [one for one in asked.pair or () if one not in quantities.ids]
    if gone:
        return Reread(quantities, asked, bench, None, budget, why_not=f"{' and '.join(gone)}: no place in {name}")
    if len(quantities.ids) < 2:
        return Reread(quantities, asked, bench, None, budget, why_not=f"fewer than two products have a place in {name}")
    noise = noise_of(table, name) if bench is None else bench.noise
    if bench is None:  # what nothing is known of settles nothing
        return Reread(quantities, asked, bench, None, budget, settled=not noise.unknown, noise=noise)
    case = _case(table, quantities, bench, means)
    standing, falling = case.standing, case.falling
    disputed = case.question.disputed(standing.scores, standing.covariance)
    if not disputed:
        return Reread(quantities, asked, bench, falling, budget, settled=True, noise=noise)
    tried, judged = means.outlook(case, TRIED, 14), means.outlook(case, JUDGED, 15)
    in_dispute = np.isin(np.arange(len(standing.scores)), disputed)
    return Reread(
        quantities,
        asked,
        bench,
        falling,
        budget,
        disputed=disputed,
        steps=_steps(quantities, case, budget, tried),
        plans=plans_for(case, budget, tried, judged),
        enough=enough_for(case, tried, start=budget),
        looked_up_to=budget * 2 ** ((falling.most // budget).bit_length() - 1),
        at_most=judged.chance(np.where(in_dispute, falling.parts.sum(axis=0), 0.0)),
        noise=noise,
    )


def _case(table: ScoreTable, quantities: Quantities, bench: Distinguishable, means: _Means) -> Case:
    """The question, with higher scores the better ones, and as many readings foreseen as are looked at."""
    sign = 1.0 if quantities.output.ranks.best.value == "highest" else -1.0
    covariance = score_covariance(bench)
    scores = sign * quantities.values
    held = HELD // (len(scores) * len(table.uncertainty))
    most = max(means.budget, min(FURTHEST * means.budget, MOST, held))
    return Case(
        Standing(scores, covariance, prior_of(scores, covariance)),
        _question(means.asked, quantities, bench),
        falling_of(table, quantities, np.diag(covariance), most, seed=means.seed),
    )


def _question(asked: Asked, quantities: Quantities, bench: Distinguishable) -> Question:
    if asked.pair is not None:
        one, other = (quantities.ids.index(name) for name in asked.pair)
        return Pair(one, other, ALONE)
    places = 1 if asked.what == FIRST else min(quantities.top, len(quantities.ids) - 1)
    return Top(places, float(np.max(bench.sets.critical)))


def _steps(quantities: Quantities, case: Case, budget: int, tried: Outlook) -> tuple[Step, ...]:
    """Every measure of every disputed product, read 1, 2, 4, ... times more."""
    counts = [2**power for power in range(budget.bit_length()) if 2**power <= budget]
    variances, falling = np.diag(case.standing.covariance), case.falling
    found = []
    for product in case.readable():
        for row in np.flatnonzero(falling.parts[:, product] > 0).tolist():
            for further in counts:
                fall = float(falling.parts[row, product] * (1 - falling.kept[row, product, further]))
                chance = tried.chance_of_one(product, fall)
                share = fall / float(variances[product])
                found.append(Step(quantities.ids[product], falling.measures[row], further, share, chance))
    return tuple(sorted(found, key=lambda step: (-step.gained, -step.fall / step.further)))
