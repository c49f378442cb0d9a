"""Verdicts of both studies: no sentence claims more than the intervals, sets and counts that it is made from."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray
from written_forms import curve_form, form_of
from written_studies import catalogue_of

from analysis.indices.design import Swap
from analysis.indices.sensitivity import ScoreSensitivity, Step
from analysis.indices.sobol import BLOCKS, Indices
from analysis.indices.verdict import sensitivity_verdict
from analysis.rankings.catalogue_robustness import CatalogueChange, CatalogueRobustness
from analysis.rankings.distinguishable import Distinguishable
from analysis.rankings.rank_groups import rank_groups
from analysis.rankings.rank_sets import RankSets, rank_sets
from analysis.rankings.stability import RankStability, ScoreStability, Spread
from analysis.rankings.tally import AGREEMENTS
from analysis.rankings.verdict import ONE_DOSE, stability_verdict
from analysis.trials.quantities import SHIFT, Quantities, quantities_of
from scoring.table.table import score_catalogue

Array = NDArray[np.float64]
NAN = float("nan")
LINE = "line: {worst: 0, best: 100}"


def asked(values: ArrayLike, ties: str = "shared-best") -> Quantities:
    """The quantities of one rating, products p1, p2, ... in the catalogue."""
    form = form_of(f"ranks: {{ties: {ties}}}\n" + curve_form(LINE, scale="{from: 0, to: 100}"))
    catalogue = catalogue_of(x=values)
    return quantities_of(form, score_catalogue(form, catalogue).column("r"), catalogue.products, 2, ())


# Sensitivity


def sensitive(
    of: Quantities,
    shares: Sequence[tuple[float, float, float]],
    *,
    first: Sequence[float] = (),
    level: str = "group",
    names: Sequence[str] = (),
    pairs: Sequence[tuple[str, str]] = (),
    rows: int = 64,
    **changes: Any,
) -> ScoreSensitivity:
    """A result whose every quantity has the given totals (low, total, high) by group, and chances of being first."""
    names = names or [f"g{number}" for number in range(len(shares))]
    low, total, high = (
        np.repeat(np.array(column)[:, np.newaxis], len(of.names), axis=1) for column in zip(*shares, strict=True)
    )
    mean = np.full(len(of.names), 0.5)
    if first:
        mean[of.family("first")] = first
    q = len(of.names)
    found = Indices(
        total,
        low,
        high,
        total,
        low,
        high,
        None,
        None,
        None,
        mean,
        np.ones(q),
        np.ones(q, bool),
        np.zeros(q, np.int64),
        np.ones(q),
        rows,
    )
    result = ScoreSensitivity(
        quantities=of,
        design=SimpleNamespace(study=SimpleNamespace(pairs=tuple(pairs))),  # type: ignore[arg-type]
        swaps=tuple(Swap(name, (name,), level) for name in names),
        idle=(),
        indices=found,
        paired=(),
        trail=(Step(rows * BLOCKS, total[:, 0], low[:, 0], high[:, 0], 0.04),),
        converged=True,
        ended="it held",
        local=SimpleNamespace(),  # type: ignore[arg-type]
    )
    return replace(result, **changes)


THREE = asked([90, 50, 10])
ENDS = st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1)).map(sorted).map(tuple)


def cluster(shares: Sequence[tuple[float, float, float]]) -> set[int]:
    """The rows that meet the one with the greatest total, or meet one that does, and so on."""
    found = {max(range(len(shares)), key=lambda row: shares[row][1])}
    while True:
        more = {
            row
            for row, (low, _, high) in enumerate(shares)
            for other in found
            if low <= shares[other][2] and shares[other][0] <= high
        }
        if more <= found:
            return found
        found |= more


def rows_in(words: str) -> list[int]:
    """The groups named in a text, in order."""
    return [int(number) for number in re.findall(r"\bg(\d+)\b", words)]


@settings(max_examples=examples(300))
@given(shares=st.lists(ENDS, min_size=1, max_size=6))
def test_who_moves_the_ranking_most_is_carried_by_intervals(shares: list[tuple[float, float, float]]) -> None:
    """One alone only if its interval meets no other; more than X only if X lies below all that are named; else no order is
    claimed, and those that are not named are counted."""
    sentence = sensitivity_verdict(sensitive(THREE, shares))[0]
    leading, _, beyond = sentence.partition(", more than ")
    subject, verb, _ = re.split(r" (moves?) the ranking most", leading, maxsplit=1)
    together = cluster(shares)
    more = re.search(r"and (\d+) more$", subject)
    assert len(rows_in(subject)) + (int(more[1]) if more else 0) == len(together)
    assert set(rows_in(subject)) <= together
    assert (verb == "moves") == (len(together) == 1)
    assert ("cannot put them in order" in leading) == (len(together) > 1)
    rest = set(range(len(shares))) - together
    assert bool(beyond) == bool(rest)
    if beyond:
        (row,) = rows_in(beyond)
        assert row in rest
        assert shares[row][2] < min(shares[one][0] for one in together)
        assert shares[row][1] == max(shares[one][1] for one in rest)


def test_what_meets_a_leading_group_is_leading_itself() -> None:
    """g1 meets the greatest, and g2 meets g1 only: "g0 and g1 more than g2" would be more than the intervals carry."""
    shares = [(0.45, 0.50, 0.55), (0.30, 0.46, 0.60), (0.38, 0.40, 0.43), (0.1, 0.11, 0.12)]
    sentence = sensitivity_verdict(sensitive(THREE, shares))[0]
    assert sentence.startswith("R: g0, g1 and g2 move the ranking most, and this sample cannot put them in order")
    assert sentence.endswith(", more than g3 (11 %, 10 to 12 %).")


def test_the_sentence_to_quote() -> None:
    """With one that leads, its share, its interval, and the next; a plural for what is many."""
    shares = [(0.54, 0.56, 0.58), (0.26, 0.262, 0.274)]
    one = sensitivity_verdict(sensitive(THREE, shares, names=["choice of mean", "choice of curve"]))
    assert one[0] == (
        "R: the choice of mean moves the ranking most (56 % of the variance of the mean shift in rank, interactions included;"
        " 95 % interval of the simulation's error 54 to 58 %), more than the choice of curve (26 %, 26 to 27 %)."
    )
    assert sensitivity_verdict(sensitive(THREE, shares, names=["weights", "limits"]))[0].startswith(
        "R: all weights together move "
    )


@pytest.mark.parametrize(("mean", "said"), [(4.98, "5.0"), (0.5, "0.5"), (0.0042, "0.0042"), (0.0, "0")])
def test_the_size_of_what_is_shared_out_is_said(mean: float, said: str) -> None:
    """How many places a product moves on average, small means not rounded to none."""
    found = sensitive(THREE, [(0.2, 0.3, 0.4)])
    found.indices.mean[found.shift] = mean
    assert f"Over these draws a product stands {said} places on average from its published one." in sensitivity_verdict(
        found
    )


def winner(found: ScoreSensitivity) -> str:
    """The sentence about the published first."""
    (sentence,) = [sentence for sentence in sensitivity_verdict(found) if ", published first, is first in " in sentence]
    return sentence


@given(rows=st.sampled_from([8, 64, 128]), chances=st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_another_winner_is_named_only_where_the_draws_carry_it(rows: int, chances: list[float]) -> None:
    """Its lead over the published first is more than two standard errors of a difference of two shares of one sample."""
    total = sum(chances) or 1.0
    shares = [chance / total for chance in chances]
    sentence = winner(sensitive(THREE, [(0.2, 0.3, 0.4)], first=shares, rows=rows))
    assert sentence.startswith("p1, published first, is first in ")
    others = set(re.findall(r"\bp[23]\b", sentence))
    n, best = 2 * rows * BLOCKS, int(np.argmax(shares))
    gap = shares[best] - shares[0]
    error = np.sqrt((shares[best] + shares[0] - gap**2) / n)
    assert others <= {f"p{best + 1}"}
    if others:
        assert gap > 2 * error
    elif best:
        assert gap <= 3.01 * np.sqrt((shares[best] + shares[0]) / n)


@given(chance=st.one_of(st.floats(0, 1), st.floats(0, 0.01), st.floats(0.99, 1)), rows=st.sampled_from([8, 128]))
def test_chances_are_never_rounded_to_never_or_always(chance: float, rows: int) -> None:
    """ "0 %" and "100 %" of draws only where no draw, or every draw, says so; else with an error of a percent or more."""
    sentence = winner(sensitive(THREE, [(0.2, 0.3, 0.4)], first=[chance, 0, 0], rows=rows))
    said = re.search(r"first in (.*?) of draws(?: \(give or take (\d+)\))?;", sentence)
    assert said is not None
    assert (said[1] == "0 %") == (chance == 0)
    assert (said[1] == "100 %") == (chance == 1)
    error = 196 * np.sqrt(chance * (1 - chance) / (2 * rows * BLOCKS))
    if 0.01 <= chance <= 0.99:
        assert said[2] is not None
    assert error <= (int(said[2]) if said[2] else 1)


@pytest.mark.parametrize("converged", [True, False])
def test_a_sample_that_did_not_converge_is_said(converged: bool) -> None:
    """In capitals, with the base points and why the trail ended."""
    ended = "it held" if converged else "the budget ended"
    last = sensitivity_verdict(sensitive(THREE, [(0.2, 0.3, 0.4)], converged=converged, ended=ended))[-1]
    assert last == (
        f"{'Converged' if converged else 'NOT converged'} at 1024 base points, for shares of the mean shift in rank and nothing"
        f" else: {ended}."
    )


def without_reaction(found: ScoreSensitivity, family: str, *, lost: int = 0) -> ScoreSensitivity:
    """The same, but for a family of quantities that does not react, or is not a number somewhere."""
    at = found.quantities.family(family)
    reacts, gone = found.indices.reacts.copy(), found.indices.lost.copy()
    reacts[at], gone[at] = bool(lost), lost
    return replace(found, indices=replace(found.indices, reacts=reacts, lost=gone))


def test_a_ranking_that_nothing_moves() -> None:
    """No group is named, neither for the ranking nor for the first place, and no argument is said to hardly matter."""
    found = sensitive(THREE, [(NAN, NAN, NAN)], first=[1, 0, 0], level="factor")
    found = without_reaction(without_reaction(found, SHIFT), "first")
    assert sensitivity_verdict(found)[:2] == (
        "R: nothing that varies moves the ranking.",
        "p1, published first, is first in 100 % of draws.",
    )
    assert not any("hardly" in sentence for sentence in sensitivity_verdict(found))


def test_a_score_that_nothing_reaches() -> None:
    """No swap at all: the ranking stands, and no chance is given as if it had been drawn."""
    found = sensitive(THREE, [(0.1, 0.2, 0.3)])
    found = replace(found, swaps=())
    assert sensitivity_verdict(found)[0] == "R: nothing that varies moves the ranking."
    assert not any("of draws" in sentence for sentence in sensitivity_verdict(found))


def test_scores_that_are_lost_are_named_with_their_share() -> None:
    """Lost evaluations are those of both samples and of every swap: 192 of 64 points x 16 blocks x 4 are 5 %; most first."""
    found = sensitive(THREE, [(0.2, 0.3, 0.4)])
    lost = found.indices.lost.copy()
    lost[1:3] = [192, 1]
    found = replace(found, indices=replace(found.indices, lost=lost))
    (said,) = [sentence for sentence in sensitivity_verdict(found) if sentence.startswith("No shares")]
    assert "of p2 (5 %) and p3 (under 1 %):" in said


def test_arguments_that_hardly_matter_by_the_upper_end() -> None:
    """Two of three end below 1 %; the third's estimate does, but not its interval."""
    shares = [(0, 0.001, 0.009), (0, 0.002, 0.0099), (0, 0.003, 0.02)]
    (said,) = [s for s in sensitivity_verdict(sensitive(THREE, shares, level="factor")) if "hardly" in s]
    assert said.startswith("Of 3 arguments that can reach this score, 2 hardly move the ranking: under 1 %")


def test_a_pair_that_is_not_published_is_said() -> None:
    """A question about a product without a published score is not dropped in silence."""
    found = sensitive(THREE, [(0.2, 0.3, 0.4)], pairs=[("p1", "p9"), ("p8", "p9"), ("p1", "p2")])
    said = [sentence for sentence in sensitivity_verdict(found) if "not asked" in sentence]
    assert said == [
        "Whether p1 stands above p9 is not asked: p9 has no published score here.",
        "Whether p8 stands above p9 is not asked: p8 and p9 have no published score here.",
    ]


# Stability


def rank_stability(
    source: str, n: int, first: ArrayLike, *, absent: ArrayLike | None = None, tau: float = 0.76, draws: int = 1000
) -> RankStability:
    """One source's result, of which only what verdicts look at is filled in."""
    spread = {name: Spread(tau, tau, tau - 0.1, tau + 0.1) for name in AGREEMENTS}
    spread["mean shift in rank"] = Spread(4.98, 5.0, 1.79, 8.26)
    nothing, gone = np.full(n, NAN), np.zeros(n) if absent is None else np.asarray(absent, float)
    square = np.zeros((n, n))
    return RankStability(
        source,
        draws,
        nothing,
        nothing,
        nothing,
        nothing,
        nothing,
        np.asarray(first, float),
        nothing,
        square,
        square,
        square,
        gone,
        square,
        spread,
        nothing,
        nothing,
    )


def bench_from(of: Quantities, sets: RankSets, uneven: tuple[int, ...] = ()) -> Distinguishable:
    """What follows from rank sets."""
    alone = tuple(np.flatnonzero(sets.low == sets.high).tolist())
    return Distinguishable(
        sets,
        rank_groups(of.published, sets.beats),
        alone,
        np.ones(len(of.ids)),
        np.full(len(of.ids) - 1, 2**0.5),
        uneven,
    )


def verdict(
    of: Quantities,
    bench: Distinguishable | None,
    *sources: RankStability,
    robustness: CatalogueRobustness | None = None,
) -> tuple[str, ...]:
    """The sentences."""
    return stability_verdict(ScoreStability(of, (), {one.source: one for one in sources}), bench, robustness)


VALUES = st.lists(st.integers(0, 200).map(lambda n: n / 2), min_size=2, max_size=8)


@settings(max_examples=examples(150))
@given(values=VALUES, sd=st.sampled_from([0.01, 0.4, 2.0, 9.0]), seed=st.integers(0, 50))
def test_what_is_said_of_the_bench_is_what_the_sets_say(values: list[float], sd: float, seed: int) -> None:
    """Settled places are the first lines whose sets are their own place; those that cannot be told apart are a longest run."""
    of, rng = asked(values), np.random.default_rng(seed)
    n = len(of.ids)
    sets = rank_sets(of.values, np.full(n, sd) * rng.uniform(0.5, 2, n), rng=rng, resamples=400)
    sentence = verdict(of, bench_from(of, sets))[0]
    apart = sets.beats | sets.beats.T
    alone = [bool(sets.low[i] == sets.high[i] == i + 1) for i in range(n)]
    settled = n if all(alone) else alone.index(False)
    if "every place" in sentence:
        assert settled == n
        return
    many = re.search(r"the first (\d+) places", sentence)
    assert (int(many[1]) if many else int("the first place (" in sentence)) == settled
    assert ("not even the first" in sentence) == (settled == 0)
    assert all(name in sentence for name in of.ids[: min(settled, 4)])
    run = re.search(r"places (\d+) to (\d+) cannot be told apart", sentence)
    if run:
        first, last = int(run[1]) - 1, int(run[2]) - 1
        assert first == settled < last
        assert not apart[first : last + 1, first : last + 1].any()
        assert last == n - 1 or apart[first : last + 2, last + 1].any()
    else:
        low, high = int(sets.low[settled]), int(sets.high[settled])
        end = f"{of.ids[settled]}, published at {of.published[settled]:g}, may hold places {low} to {high}."
        assert sentence.endswith(end)
        assert apart[settled, settled + 1]
    assert f"joint {100 * sets.coverage:g} %" in sentence


def test_close_calls_and_uneven_noise_are_said_only_where_they_are() -> None:
    """Bounds within the simulation's error, and sets on a normal law that does not hold, by name."""
    sets = rank_sets(THREE.values, np.full(3, 1.0), rng=np.random.default_rng(0), resamples=400)
    sure = replace(sets, low_unsure=np.zeros(3, bool), high_unsure=np.zeros(3, bool))
    said = verdict(THREE, bench_from(THREE, sure))
    assert said[0].startswith(
        "R: every place is settled against the scatter of repeats alone (differences between sessions"
    )
    assert said[0].endswith("left out), joint 95 %.")
    assert not any(word in sentence for sentence in said for word in ("Close calls", "evenly"))
    unsure = replace(sure, high_unsure=np.array([False, True, False]))
    said = verdict(THREE, bench_from(THREE, unsure, uneven=(2,)))
    assert said[2].startswith("Close calls: bounds of p2 (marked ~) lie within")
    assert said[3].startswith("The noise of p3 does not lie evenly")
    assert "told from another only where hardly a draw puts the two in the other order" in said[3]


def test_how_far_apart_neighbours_must_lie_is_what_the_sets_go_by() -> None:
    """Three products each known to 1: a pair by itself from 1.96 sqrt 2 = 2.8 points on, the whole table from its critical
    value times sqrt 2; with unequal errors the median of the neighbours' (here sqrt 2 and 5: 3.2 on average)."""
    sets = replace(rank_sets(THREE.values, np.ones(3), rng=np.random.default_rng(0), resamples=400), critical=2.5)
    bench = bench_from(THREE, sets)
    assert verdict(THREE, bench)[1].startswith(
        "Two neighbours in this table are told apart from about 3.5 points on (the median; all pairs at once), or 2.8 where only"
    )
    uneven = replace(bench, apart=np.array([np.sqrt(2), 5.0]))
    assert uneven.distance() == pytest.approx(2.5 * (np.sqrt(2) + 5) / 2)
    assert uneven.distance(alone=True) == pytest.approx(1.96 * (np.sqrt(2) + 5) / 2)


def test_noise_that_moves_no_score_tells_nothing_apart() -> None:
    """Every product at the end of its curve: the bench is in the study, and still nothing is said of it."""
    said = verdict(THREE, None, rank_stability("bench", 3, [1, 0, 0]))
    assert said[1] == "The bench's noise moves no score here: nothing is said of what the bench can tell apart."


@given(first=st.lists(st.integers(0, 1000), min_size=3, max_size=3).filter(any), draws=st.sampled_from([100, 16_384]))
def test_a_likelier_first_is_named_only_where_the_draws_carry_it(first: list[int], draws: int) -> None:
    """As for sensitivity: more than two standard errors of the difference of two shares of one sample."""
    shares = np.array(first) / sum(first)
    sentence = verdict(THREE, None, rank_stability("both", 3, shares, draws=draws))[0]
    others = set(re.findall(r"\bp[23]\b", sentence))
    best = int(np.argmax(shares))
    gap = shares[best] - shares[0]
    assert others <= {f"p{best + 1}"}
    if others:
        assert gap > 2 * np.sqrt((shares[best] + shares[0] - gap**2) / draws)
    elif best:
        assert gap <= 3.01 * np.sqrt((shares[best] + shares[0]) / draws)


def test_a_source_in_a_sentence() -> None:
    """The figures of the source, each with what it is."""
    sentence = verdict(THREE, None, rank_stability("judgement", 3, [0.09, 0.58, 0.33], draws=16_384))[0]
    assert sentence == (
        "R: Judgement alone: a product moves 5.0 places on average (1.8 to 8.3 in nine draws of ten), Kendall's tau-b with the"
        " published order is 0.76 (0.66 to 0.86); p1, published first, is first in 9 % of 16384 draws, p2 in 58 %."
    )


def test_a_ranking_that_holds_in_every_draw_and_one_that_almost_does() -> None:
    """No shift at all is said as such; a small one is not rounded to none."""
    one = rank_stability("bench", 3, [1, 0, 0], draws=128)
    still = replace(one, agreement={name: Spread(0, 0, 0, 0) for name in AGREEMENTS})
    assert (
        verdict(THREE, None, still)[0]
        == f"R: Bench noise alone ({ONE_DOSE}): no product changes place in any of 128 draws."
    )
    seldom = replace(one, agreement=dict(one.agreement) | {"mean shift in rank": Spread(0.01, 0, 0, 0)})
    assert "a product moves under 0.1 places on average (0.0 to 0.0 in" in verdict(THREE, None, seldom)[0]


def test_a_retest_is_told_beside_one_dose_of_noise() -> None:
    """Which of the two a figure is of stands in its sentence; both tables err in a re-test."""
    bench = rank_stability("bench", 3, [0.83, 0.1, 0.07], draws=16_384)
    again = replace(rank_stability("re-test", 3, [0.71, 0.2, 0.09], draws=16_384))
    again = replace(again, agreement=dict(again.agreement) | {"mean shift in rank": Spread(1.3, 1, 0.8, 1.7)})
    said = stability_verdict(ScoreStability(THREE, (), {"bench": bench}, again), None, None)
    assert said[0].startswith(f"R: Bench noise alone ({ONE_DOSE}): a product moves 5.0 places on average")
    assert said[1] == (
        "A re-test (everything read again; both tables err): a product stands 1.3 places from its published one on average"
        " (0.8 to 1.7 in nine draws of ten); p1, published first, is first again in 71 % of 16384 draws."
    )
    still = replace(again, agreement={name: Spread(0, 0, 0, 0) for name in AGREEMENTS})
    said = stability_verdict(ScoreStability(THREE, (), {"bench": bench}, still), None, None)
    assert said[1].endswith("both tables err): no product stands at another place in any of 16384 draws.")


def test_an_agreement_that_does_not_exist_is_left_out() -> None:
    """Where every draw ties all products there is no tau, and no "nan" in the sentence."""
    assert not any(
        "nan" in s or "tau" in s for s in verdict(THREE, None, rank_stability("both", 3, [1, 1, 1], tau=NAN))
    )


def test_without_the_bench_nothing_is_said_of_what_it_tells_apart() -> None:
    """The sentence to quote is then that of the judgements, and a second one says what is missing."""
    said = verdict(THREE, None, rank_stability("judgement", 3, [1, 0, 0]))
    assert said[0].startswith("R: Judgement alone:")
    assert said[1] == "The bench's noise is no part of this study: nothing is said of what the bench can tell apart."
    assert not any("settled" in sentence for sentence in said)
    assert verdict(THREE, None)[0] == "R: nothing varies in this study."


def test_one_product_alone_has_no_order() -> None:
    """No place is called settled, and nothing moves."""
    assert verdict(asked([5]), None) == ("R: p1 alone has a published score, so that there is no order to test.",)


def test_products_that_lose_their_score_are_named_with_their_share() -> None:
    """Most first, no share rounded to nothing."""
    (said,) = [
        s
        for s in verdict(THREE, None, rank_stability("judgement", 3, [1, 0, 0], absent=[0.004, 0, 0.63]))
        if "without a score" in s
    ]
    assert said.endswith("p3 (63 %) and p1 (under 1 %); those below it move up.")


def change(what: str, tried: int, scores: int, ranks: int, **rest: Any) -> CatalogueChange:
    """One kind of change to the catalogue."""
    return CatalogueChange(what, tried, scores, ranks, **({"lost": 0, "most": 0.25, "who": (), "by": ""} | rest))


def test_a_catalogue_that_moves_nobody() -> None:
    """With the reason where the formula leans on nothing, and without it where it leans but nothing moved."""
    still = (change("drop one", 3, 0, 0), change("clone one", 3, 0, 0))
    ends = [verdict(THREE, None, robustness=CatalogueRobustness(leans, still))[-1] for leans in (False, True)]
    assert (
        ends[0]
        == "The catalogue: nothing in the formula leans on the catalogue, and none of 6 changes to it (a product dropped, cloned or added) moved another product."
    )
    assert (
        ends[1] == "The catalogue: none of 6 changes to it (a product dropped, cloned or added) moved another product."
    )


def test_a_catalogue_that_moves_others() -> None:
    """What was done, how often it turned the order, by how much scores moved, and who moved; nothing of what moved nobody."""
    who = (("p2", 3.0), ("p1", 1.5))
    changes = (
        change("drop one", 7, 7, 2, who=who, lost=1),
        change("clone one", 7, 0, 0),
        change("add a middling one", 1, 1, 0),
    )
    end = verdict(THREE, None, robustness=CatalogueRobustness(True, changes))[-1]
    assert end == (
        "The catalogue: other products move a score, since the formula leans on them. Dropping one: the order of the others"
        " changed in 2 of 7 tries, scores by up to 0.25, 1 left another without a score (most places: p2 by 3 and p1 by 1.5)."
        " Adding a middling one: the order of the others changed in 0 of 1 tries, scores by up to 0.25."
    )
