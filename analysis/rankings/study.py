"""A study of stability: every score's ranking, and all that it is put to."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.partial.partial_place import PartialPlace, first_places
from analysis.rankings.bench_findings import BenchFindings, bench_findings
from analysis.rankings.catalogue_robustness import CatalogueRobustness, catalogue_robustness
from analysis.rankings.distinguishable import COVERAGE, Distinguishable, bench_under
from analysis.rankings.stability import DRAWS, Progress, ScoreStability, rank_stability
from analysis.repeats.repeatability import Precision, precisions
from analysis.study import Study
from analysis.trials.quantities import Quantities
from scoring.catalogue import ProductNames
from scoring.errors import Place, Problem, StudyError
from scoring.table.table import ScoreTable

#: Fewer draws than this tell no chance.
FEWEST = 100


@dataclass(frozen=True, slots=True)
class AskedOfRankings:
    """How rankings are tested.

    draws: of each source; coverage: joint confidence of the sets of places
    at_once: whether that confidence is for the tables of all scores together
    """

    draws: int = DRAWS
    coverage: float = COVERAGE
    at_once: bool = False
    seed: int = 0

    def problems(self) -> list[Problem]:
        """What cannot be: too few draws for chances, or a confidence that no set has."""
        found = []
        if self.draws < FEWEST:
            found.append(Problem(Place("--draws"), f"`{self.draws}`", f"{FEWEST} or more"))
        if not 0.5 < self.coverage < 1:
            found.append(Problem(Place("--coverage"), f"`{self.coverage}`", "above 0.5 and below 1"))
        return found


@dataclass(frozen=True, slots=True, eq=False)
class RankingFound:
    """What was found of one score's ranking.

    drawn: under each source of variation; bench, findings: what the bench leaves open, None where its noise moves no score
    robustness: to the catalogue; firsts: first places that stand on a missing part; called: what products are called
    """

    drawn: ScoreStability
    bench: Distinguishable | None
    findings: BenchFindings | None
    robustness: CatalogueRobustness
    firsts: tuple[PartialPlace, ...] = ()
    called: ProductNames = field(default_factory=ProductNames)

    @property
    def labels(self) -> list[str]:
        """The products beside the marks of a picture."""
        return [self.called.label(product) for product in self.quantities.ids]

    @property
    def quantities(self) -> Quantities:
        """What is asked of the score, over the published products."""
        return self.drawn.quantities

    @property
    def name(self) -> str:
        """The score's."""
        return self.drawn.quantities.output.name

    @property
    def label(self) -> str:
        """The score's, for people."""
        return self.drawn.quantities.output.label

    @property
    def has_order(self) -> bool:
        """Whether anything is drawn, and there are two products to put in order."""
        return bool(self.drawn.by_source) and len(self.drawn.quantities.ids) > 1


@dataclass(frozen=True, slots=True, eq=False)
class StabilityFound:
    """What was found of every score's ranking; repeats: what they say of each measure's noise, on which the rest stands."""

    study: Study
    table: ScoreTable
    asked: AskedOfRankings
    rankings: tuple[RankingFound, ...]
    repeats: tuple[Precision, ...]


def stability_study(
    study: Study, table: ScoreTable, asked: AskedOfRankings, progress: Progress | None = None
) -> StabilityFound:
    """Test the ranking of every score of a study.

    Parameters
    ----------
    table : the scores as published
    progress : told how many draws are done, of how many

    Raises
    ------
    StudyError : too few draws, a confidence that no set has, or so many tables at once that the draws do not reach the level
        of each
    """
    if problems := asked.problems():
        raise StudyError(problems)
    drawn = rank_stability(study, table, draws=asked.draws, seed=asked.seed, progress=progress, retest=True)
    benches = bench_under(study, table, asked.seed, coverage=asked.coverage, at_once=asked.at_once)
    quantities = {one.quantities.output.name: one.quantities for one in drawn}
    findings = {name: bench_findings(quantities[name], bench, seed=asked.seed) for name, bench in benches.items()}
    robustness = catalogue_robustness(table.program, table.inputs, quantities)
    firsts = first_places(table, [table.column(name) for name in quantities])
    rankings = tuple(
        RankingFound(
            drawn=one,
            bench=benches.get(name),
            findings=findings.get(name),
            robustness=robustness[name],
            firsts=tuple(first for first in firsts if first.name == name),
            called=table.catalogue.product_names,
        )
        for name, one in zip(quantities, drawn, strict=True)
    )
    return StabilityFound(study, table, asked, rankings, tuple(precisions(table.form, table.catalogue)))
