"""What the weights are worth, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np

from analysis.importance.attainable import VARIANCE
from analysis.importance.document import weights_body, weights_frame
from analysis.importance.importance import Importance
from analysis.importance.parts import WeightedParts
from analysis.importance.published import Published
from analysis.importance.redundancy import Redundancy
from analysis.importance.sought import REFUSED, WeightsSought
from analysis.importance.study import ScoreWeights, weights_study
from analysis.importance.verdict import asked_in_words, direction, signed_percent, span, weight_percent, weights_verdict
from analysis.report.given import Given, Readings, Scores, names_of, scored
from analysis.report.pictures import Picture
from analysis.report.report import Block, Report, Said, Section
from analysis.report.source import source_of
from analysis.report.tables import SHARE, Column, OnScreen, Table, Values, computed, counts, figures, words
from analysis.wording import fixed, percent
from scoring.table.selection import Where
from scoring.table.table import ScoreTable

#: Products that the terminal lists; files and pages hold all.
LISTED = 12
IN_FULL = OnScreen(in_full=True)


def weights(
    formula: Given,
    catalogue: Readings,
    *,
    scores: Scores = (),
    want: Mapping[str, float] | None = None,
    share_of: str = VARIANCE,
    where: Where = None,
    seed: int = 0,
) -> Report:
    """What the weights of scores are worth on a catalogue.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    where : the products to show and rank, as `score` takes them
    scores : which ones, all by default
    want : part -> wanted share, from 0 to 1, of one score; share_of : "variance" (of the score's variance) or "effects" (of
        the summed main effects)

    Returns
    -------
    Report : `found` is a tuple of `ScoreWeights`

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue, a score that is not there, or wants that do not fit its parts
    """
    return weights_report(scored(formula, catalogue, where), names_of(scores), want or {}, share_of=share_of, seed=seed)


def weights_report(
    table: ScoreTable, scores: Sequence[str], want: Mapping[str, float], *, share_of: str, seed: int
) -> Report:
    """The same of a score table."""
    found = weights_study(table, scores, want, seed=seed, share_of=share_of)
    source = source_of(table, seed)
    title = f"{table.form.title}: what the weights are worth"
    hint = "`--score NAME` prints one score in full; `--want PART=SHARE` asks for another importance."
    return Report(
        command="weights",
        title=title,
        heading=f"{table.form.title} ({source.headed}): what the weights are worth on this catalogue.",
        source=source,
        sections=tuple(_section(one, in_full=len(found) == 1) for one in found),
        body=lambda: weights_body(found),
        whole=lambda: weights_frame(found),
        found=found,
        on_screen=(hint,) if len(found) > 1 else (),
    )


def _section(found: ScoreWeights, *, in_full: bool) -> Section:
    return Section(
        found.name,
        found.label,
        weights_verdict(found),
        tuple(_blocks(found)),
        pictures=partial(_pictures, found),
        in_full=in_full,
    )


def _pictures(found: ScoreWeights) -> tuple[Picture, ...]:
    from analysis.importance.figures import weights_pictures

    return weights_pictures(found)


def _blocks(found: ScoreWeights) -> list[Block]:
    """Parts and their shares; then how parts go together, and which products cannot be first."""
    if found.parts is None or found.importance is None or found.redundancy is None:
        return []
    parts, importance, redundancy = found.parts, found.importance, found.redundancy
    return [
        parts_table(parts, importance, found.label),
        made_of_table(parts, importance),
        effects_table(parts, importance),
        *_wanted(found, parts),
        correlation_table(redundancy, parts.names),
        component_table(redundancy, parts.names),
        never_first_table(found, parts),
        beats_table(found, parts),
    ]


def _part(parts: WeightedParts) -> Column:
    return words("part", "part", parts.names, kind="name")


def _share(key: str, heading: str, values: Values) -> Column:
    """A share in percent that may be negative or above 1."""
    return computed(heading, {key: values}, signed_percent, unit=SHARE)


def _weight(key: str, heading: str, values: Values) -> Column:
    """A weight's share in percent."""
    return computed(heading, {key: values}, weight_percent, unit=SHARE)


def _weight_if_any(key: str, heading: str, values: Values) -> Column:
    return computed(heading, {key: values}, lambda value: "" if np.isnan(value) else weight_percent(value), unit=SHARE)


def _interval(key: str, low: Values, high: Values, heading: str = "95 %") -> Column:
    return computed(heading, {f"{key}_low": low, f"{key}_high": high}, span, unit=SHARE)


def parts_table(parts: WeightedParts, found: Importance, label: str) -> Table:
    """Each part's stated weight beside what it would be worth by itself, and its share of the variance."""
    effective, low, high = found.of("effective")
    goes = [direction(effective[i], low[i], high[i]) for i in range(len(parts.names))]
    return Table(
        "parts",
        f"{label}: shares of the variance of the weighted mean",
        (
            _part(parts),
            computed("weight", {"weight": [float(text) for text in parts.stated]}, lambda weight: f"{weight:.15g}"),
            _weight("share", "stated", parts.shares),
            _weight("squared", "squared", parts.squared),
            _share("effective", "effective", effective),
            _interval("effective", low, high),
            words("goes", "goes", goes),
        ),
        notes=(
            "squared: the weight's square over the sum of squares, the share that the part would have if all parts had equal"
            " spread and no correlation.",
            "goes: with the score or against it (an effective share below 0); (open) where the interval holds both. Intervals"
            " over the products.",
        ),
    )


def made_of_table(parts: WeightedParts, found: Importance) -> Table:
    """What each effective share is made of, and the Shapley share."""
    shapley, low, high = found.of("shapley")
    return Table(
        "made_of",
        "What an effective share is made of",
        (
            _part(parts),
            _share("by_spread", "by spread", parts.by_spread),
            _share("structural", "alone", found.of("structural")[0]),
            _share("correlative", "with others", found.of("correlative")[0]),
            _share("shapley", "Shapley", shapley),
            _interval("shapley", low, high),
        ),
        notes=(
            "by spread: as squared, with the parts' own spread. alone + with others = effective, which adds to 100 % over the"
            " parts, as Shapley does.",
        ),
        on_screen=IN_FULL,
    )


def effects_table(parts: WeightedParts, found: Importance) -> Table:
    """The main effects: linear, and by any curve over the bandwidths."""
    linear, low, high = found.of("linear")
    ratio, ratio_low, ratio_high = found.of("ratio")
    return Table(
        "effects",
        "Main effects on the published score, each by itself",
        (
            _part(parts),
            _share("linear", "linear", linear),
            _interval("linear", low, high),
            _share("ratio_narrow", "narrow", found.of("ratio_narrow")[0]),
            _share("ratio", "by any curve", ratio),
            _interval("ratio", ratio_low, ratio_high),
            _share("ratio_wide", "wide", found.of("ratio_wide")[0]),
            _share("unrelated", "if unrelated", found.unrelated[1]),
        ),
        notes=(
            "narrow, wide: the curve smoothed half and twice as far; if unrelated: what a part that has nothing to do with the"
            " score would show on so many products. Main effects overlap, and need not add to 100 %.",
        ),
        on_screen=IN_FULL,
    )


def _wanted(found: ScoreWeights, parts: WeightedParts) -> list[Block]:
    """What was asked with the weights that give it, or what weights can give."""
    if found.sought is None or found.sought.state == REFUSED:
        return []
    asked = asked_in_words(found, parts, found.sought)
    # inside a title a part keeps its letters
    title = f"{found.label}: {asked if found.named else asked[:1].lower() + asked[1:]}"
    if found.published is None:
        return [nearest_table(parts, found.sought, title)]
    settings = " ".join(f"--set {address}={text}" for address, text in found.published.settings)
    return [
        found_table(parts, found.sought, found.published, title),
        Said((f"To set them: {settings}",), copied=True, in_full=True),
    ]


def found_table(parts: WeightedParts, sought: WeightsSought, scored: Published, title: str) -> Table:
    """The weights that give what was asked, and what they give: in the weighted mean, and once they are set."""
    what = "of the score's variance, by itself" if sought.share_of == VARIANCE else "of the summed main effects"
    return Table(
        "wanted",
        title,
        (
            _part(parts),
            _weight("share", "stated", parts.shares),
            _share("now", "now", sought.now),
            _weight_if_any("wanted", "wanted", sought.wanted),
            _weight("weights_for_it", "weights for it", scored.shares),
            _weight_if_any("weighted_mean", "weighted mean", scored.mean),
            _share("published", "published", scored.value),
            _interval("published", scored.low, scored.high),
            _share("all_published", "all published", scored.every),
        ),
        notes=(
            f"now, weighted mean, published: the part's share {what}: under the stated weights; under the weights for it, in the"
            f" weighted mean; and in the score as published, over {scored.products} products with every part, and over all"
            f" {scored.published} published (each part over those that have it).",
        ),
        on_screen=IN_FULL,
    )


def nearest_table(parts: WeightedParts, sought: WeightsSought, title: str) -> Table:
    """What any weights can give the parts, and the weights found that come nearest to what was asked."""
    return Table(
        "nearest",
        title,
        (
            _part(parts),
            _weight("share", "stated", parts.shares),
            _share("now", "now", sought.now),
            _weight_if_any("wanted", "wanted", sought.wanted),
            _interval("attainable", sought.low, sought.high, "can be given"),
            _weight("nearest", "nearest weights", sought.nearest),
            _weight_if_any("nearest_gives", "they give", sought.nearest_gives),
        ),
        notes=(
            "can be given: each part by itself, the others free. nearest weights: of those that a search found; shares are of the"
            " weighted mean.",
        ),
        on_screen=IN_FULL,
    )


def correlation_table(found: Redundancy, names: Sequence[str]) -> Table:
    """Rank correlations, variance inflation and Cronbach's alpha without each part."""
    alpha = f"Cronbach's alpha {fixed(found.alpha, 2)} standardised, {fixed(found.alpha_raw, 2)} as they stand"
    return Table(
        "correlations",
        f"Rank correlation (Spearman); {alpha}",
        (
            words("part", "part", [f"{number} {name}" for number, name in enumerate(names, start=1)], kind="name"),
            *(
                figures(name, str(number), found.spearman[:, number - 1], 2)
                for number, name in enumerate(names, start=1)
            ),
            computed("inflation", {"variance_inflation": found.inflation}, _inflation),
            figures("rest_correlation", "with the rest", found.rest_correlation, 2),
            figures("alpha_without", "alpha without", found.alpha_without, 2),
        ),
        on_screen=IN_FULL,
    )


def _inflation(value: float) -> str:
    return "wholly" if np.isinf(value) else fixed(value, 2)


def component_table(found: Redundancy, names: Sequence[str]) -> Table:
    """The principal components of the correlations: the share of each, then each part's correlation with it."""
    count = len(found.eigenvalues)
    loadings = [_loadings(found, number) for number in range(count)]
    return Table(
        "components",
        "Principal components: each part's correlation with each",
        (
            words("part", "part", ["variance", *names], kind="name"),
            *(
                computed(
                    str(number + 1),
                    {f"component_{number + 1}": one, "is_share": [True] + [False] * len(names)},
                    _loading,
                )
                for number, one in enumerate(loadings)
            ),
        ),
        on_screen=IN_FULL,
    )


def _loadings(found: Redundancy, number: int) -> list[float]:
    """One component: its share of the variance, then each part's correlation with it."""
    return [float(found.eigenvalues[number]) / len(found.eigenvalues), *found.loadings[:, number].tolist()]


def _loading(value: float, is_share: bool) -> str:
    return f"{100 * value:.0f} %" if is_share else fixed(value, 2)


def never_first_table(found: ScoreWeights, parts: WeightedParts) -> Table:
    """The products that no weights put first, each with the mixture that beats it."""
    never = [k for k, one in enumerate(found.first) if one.state == "never"]
    shown = f"First under no weights: {min(LISTED, len(never))} of {len(never)}"
    mixture = "and a mixture that is better in every part"
    return Table(
        "never_first",
        f"First under no weights, {mixture}",
        (
            words("product", "product", [parts.ids[k] for k in never], kind="name"),
            words("mixture", "mixture", [_mixture(found.first[k].mix, parts.ids) for k in never]),
            figures("margin", "by at least", [found.first[k].margin for k in never], 3, unit="points"),
        ),
        on_screen=OnScreen(most=LISTED, title=f"{shown}, {mixture}", in_full=True),
    )


def _mixture(mix: np.ndarray[tuple[int], np.dtype[np.float64]], ids: Sequence[str]) -> str:
    """Whose shares a mixture is of, the largest first; `mix` has the shape (products,)."""
    order = [j for j in np.argsort(-mix, kind="stable") if mix[j] > 0]
    return ", ".join(f"{percent(float(mix[j]))} {ids[j]}" for j in order)


def beats_table(found: ScoreWeights, parts: WeightedParts) -> Table:
    """Who beats most in every part."""
    order = sorted((k for k, own in enumerate(found.beats) if own), key=lambda k: -len(found.beats[k]))
    return Table(
        "beats",
        "Who beats whom",
        (
            words("product", "product", [parts.ids[k] for k in order], kind="name"),
            counts("beats", "beats", [len(found.beats[k]) for k in order]),
            words("these", "these", [_beaten(found.beats[k], parts.ids) for k in order]),
        ),
        notes=("beats: is at least as good in every part, and better in one.",),
        on_screen=OnScreen(
            most=LISTED, title=f"Who beats whom: {min(LISTED, len(order))} of {len(order)}", in_full=True
        ),
    )


def _beaten(others: Sequence[int], ids: Sequence[str]) -> str:
    named = ", ".join(ids[j] for j in others[:LISTED])
    return named + (", ..." if len(others) > LISTED else "")
