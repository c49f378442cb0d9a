"""`steelyard weights`: what each weight is worth on the actual catalogue; verdicts first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.cautions import cautions
from analysis.cli.inputs import guard_of, headed, load
from analysis.cli.long_work import announce, share_of
from analysis.cli.studies import check_output, is_table, write_results
from analysis.cli.terminal import print_json, print_table, say
from analysis.importance.attainable import EFFECTS, VARIANCE
from analysis.importance.document import weights_document, weights_frame
from analysis.importance.importance import Importance
from analysis.importance.parts import WeightedParts
from analysis.importance.published import Published
from analysis.importance.redundancy import Redundancy
from analysis.importance.sought import REFUSED, WeightsSought
from analysis.importance.study import ScoreWeights, weights_study
from analysis.importance.verdict import asked_in_words, direction, signed_percent, span, weight_percent, weights_verdict
from analysis.wording import percent
from scoring.errors import Place, Problem, StudyError
from scoring.table.table import score_catalogue

#: Products that the terminal lists; files and `--json` hold all.
LISTED = 12


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    only: Sequence[str],
    wanted: Sequence[str],
    wanted_of: str,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Work out what the weights are worth, and show it."""
    wants = wants_of(wanted)
    check_share_of(wanted_of)
    if out is not None:
        is_table(out)
    form, readings = load(formula, catalogue, settings)
    guard = guard_of([form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="weights")
    table = score_catalogue(form, readings)
    announce("weights", len(table.catalogue.products), share_of(only, table.form))
    found = weights_study(table, only, wants, seed=seed, share_of=wanted_of)
    if out is not None or as_json:
        document = weights_document(table, found, settings, seed)
    if out is not None:
        frame = weights_frame(table, found, settings, seed)
        write_results(out, "weights", document, frame, lambda: _figures(found), guard)
    if as_json:
        print_json(document)
        return
    say(f"{form.title} ({headed(form, settings)}): what the weights are worth on this catalogue.", "")
    for one in found:
        show(one, in_full=len(found) == 1)
    if len(found) > 1:
        say("`--score NAME` prints one score in full; `--want PART=SHARE` asks for another importance.")
    if out is not None:
        say(f"Written to {out}.")
    say(*(f"! {caution}" for caution in cautions(form)))


def wants_of(asked: Sequence[str]) -> dict[str, float]:
    """Part to wanted share, from PART=SHARE; a share is written 0.3 or 30%.

    Raises
    ------
    StudyError : anything else, a share that is not from 0 to 1, or a part that is asked for twice
    """
    found: dict[str, float] = {}
    problems = []
    for text in asked:
        name, equals, written = (piece.strip() for piece in text.partition("="))
        try:
            share = float(written.removesuffix("%")) / (100 if written.endswith("%") else 1)
        except ValueError:
            share = math.nan
        if not (name and equals and 0 <= share <= 1):
            problems.append(
                Problem(Place("--want"), f"`{text}`", "a part and a share from 0 to 1, as edge=0.3 or edge=30%")
            )
        elif name in found:
            problems.append(Problem(Place("--want"), f"`{name}` twice", "each part once"))
        found[name] = share
    if problems:
        raise StudyError(problems)
    return found


def check_share_of(written: str) -> None:
    """Refuse a meaning of a share that there is not.

    Raises
    ------
    StudyError : anything but `variance` and `effects`
    """
    if written not in (VARIANCE, EFFECTS):
        expected = f"`{VARIANCE}` (of the score's variance) or `{EFFECTS}` (of the summed main effects)"
        raise StudyError([Problem(Place("--share-of"), f"`{written}`", expected)])


def _figures(found: Sequence[ScoreWeights]) -> dict[str, bytes]:
    from analysis.importance.figures import weights_figures

    files: dict[str, bytes] = {}
    for one in found:
        files |= weights_figures(one)
    return files


def show(found: ScoreWeights, *, in_full: bool) -> None:
    """Print the verdict and the parts; in full, how parts go together and which products cannot be first."""
    say(*weights_verdict(found), "")
    if found.parts is None or found.importance is None or found.redundancy is None:
        return
    show_parts(found.parts, found.importance, found.label)
    if in_full:
        show_made_of(found.parts, found.importance)
        show_effects(found.parts, found.importance)
        show_wanted(found, found.parts)
        show_redundancy(found.redundancy, found.parts.names)
        show_components(found.redundancy, found.parts.names)
        show_first(found, found.parts)


def show_parts(parts: WeightedParts, found: Importance, label: str) -> None:
    """Print each part's stated weight beside what it would be worth by itself, and its share of the variance."""
    effective, low, high = found.of("effective")
    rows = [
        [
            name,
            parts.stated[i],
            weight_percent(float(parts.shares[i])),
            weight_percent(float(parts.squared[i])),
            signed_percent(effective[i]),
            span(low[i], high[i]),
            direction(effective[i], low[i], high[i]),
        ]
        for i, name in enumerate(parts.names)
    ]
    headers = ["", "weight", "stated", "squared", "effective", "95 %", "goes"]
    title = f"{label}: shares of the variance of the weighted mean"
    print_table(headers, rows, right=range(1, len(headers) - 1), title=title)
    say(
        "squared: the weight's square over the sum of squares, the share that the part would have if all parts had equal spread"
        " and no correlation.",
        "goes: with the score or against it (an effective share below 0); (open) where the interval holds both. Intervals over"
        " the products.",
        "",
    )


def show_made_of(parts: WeightedParts, found: Importance) -> None:
    """Print what each effective share is made of, and the Shapley share."""
    structural, correlative = found.of("structural")[0], found.of("correlative")[0]
    shapley, low, high = found.of("shapley")
    rows = [
        [
            name,
            signed_percent(parts.by_spread[i]),
            signed_percent(structural[i]),
            signed_percent(correlative[i]),
            signed_percent(shapley[i]),
            span(low[i], high[i]),
        ]
        for i, name in enumerate(parts.names)
    ]
    headers = ["", "by spread", "alone", "with others", "Shapley", "95 %"]
    print_table(headers, rows, right=range(1, len(headers)), title="What an effective share is made of")
    say(
        "by spread: as squared, with the parts' own spread. alone + with others = effective, which adds to 100 % over the parts,"
        " as Shapley does.",
        "",
    )


def show_effects(parts: WeightedParts, found: Importance) -> None:
    """Print the main effects: linear, and by any curve over the bandwidths."""
    linear, low, high = found.of("linear")
    ratio, ratio_low, ratio_high = found.of("ratio")
    narrow, wide = found.of("ratio_narrow")[0], found.of("ratio_wide")[0]
    rows = [
        [
            name,
            signed_percent(linear[i]),
            span(low[i], high[i]),
            signed_percent(narrow[i]),
            signed_percent(ratio[i]),
            span(ratio_low[i], ratio_high[i]),
            signed_percent(wide[i]),
            signed_percent(found.unrelated[1, i]),
        ]
        for i, name in enumerate(parts.names)
    ]
    headers = ["", "linear", "95 %", "narrow", "by any curve", "95 %", "wide", "if unrelated"]
    print_table(
        headers, rows, right=range(1, len(headers)), title="Main effects on the published score, each by itself"
    )
    say(
        "narrow, wide: the curve smoothed half and twice as far; if unrelated: what a part that has nothing to do with the"
        " score would show on so many products. Main effects overlap, and need not add to 100 %.",
        "",
    )


def show_wanted(found: ScoreWeights, parts: WeightedParts) -> None:
    """Print what was asked with the weights that give it, or what weights can give."""
    if found.sought is None or found.sought.state == REFUSED:
        return
    title = f"{found.label}: {_lowered(asked_in_words(found, parts, found.sought), found.named)}"
    if found.published is not None:
        show_found(parts, found.sought, found.published, title)
    else:
        show_nearest(parts, found.sought, title)


def show_found(parts: WeightedParts, sought: WeightsSought, scored: Published, title: str) -> None:
    """Print the weights that give what was asked, and what they give: in the weighted mean, and once they are set."""
    rows = [
        [
            name,
            weight_percent(float(parts.shares[i])),
            signed_percent(sought.now[i]),
            _share(sought.wanted[i]),
            weight_percent(float(scored.shares[i])),
            _share(scored.mean[i]),
            signed_percent(scored.value[i]),
            span(scored.low[i], scored.high[i]),
            signed_percent(scored.every[i]),
        ]
        for i, name in enumerate(parts.names)
    ]
    headers = ["", "stated", "now", "wanted", "weights for it", "weighted mean", "published", "95 %", "all published"]
    print_table(headers, rows, right=range(1, len(headers)), title=title)
    what = "of the score's variance, by itself" if sought.share_of == VARIANCE else "of the summed main effects"
    say(
        f"now, weighted mean, published: the part's share {what}: under the stated weights; under the weights for it, in the"
        f" weighted mean; and in the score as published, over {scored.products} products with every part, and over all"
        f" {scored.published} published (each part over those that have it).",
    )
    say("To set them: " + " ".join(f"--set {address}={text}" for address, text in scored.settings), "", whole=True)


def show_nearest(parts: WeightedParts, sought: WeightsSought, title: str) -> None:
    """Print what any weights can give the parts, and the weights found that come nearest to what was asked."""
    rows = [
        [
            name,
            weight_percent(float(parts.shares[i])),
            signed_percent(sought.now[i]),
            _share(sought.wanted[i]),
            span(sought.low[i], sought.high[i]),
            weight_percent(float(sought.nearest[i])),
            _share(sought.nearest_gives[i]),
        ]
        for i, name in enumerate(parts.names)
    ]
    headers = ["", "stated", "now", "wanted", "can be given", "nearest weights", "they give"]
    print_table(headers, rows, right=range(1, len(headers)), title=title)
    say(
        "can be given: each part by itself, the others free. nearest weights: of those that a search found; shares are of the"
        " weighted mean.",
        "",
    )


def _share(value: float) -> str:
    return "" if np.isnan(value) else weight_percent(value)


def _lowered(asked: str, named: Sequence[str]) -> str:
    """What was asked inside a title: a part keeps its letters."""
    return asked if named else asked[:1].lower() + asked[1:]


def show_redundancy(found: Redundancy, names: Sequence[str]) -> None:
    """Print rank correlations, variance inflation and Cronbach's alpha without each part."""
    rows = [
        [
            f"{i + 1} {name}",
            *(_plain(value) for value in found.spearman[i]),
            "wholly" if np.isinf(found.inflation[i]) else _plain(found.inflation[i]),
            _plain(found.rest_correlation[i]),
            _plain(found.alpha_without[i]),
        ]
        for i, name in enumerate(names)
    ]
    headers = ["", *(str(number + 1) for number in range(len(names))), "inflation", "with the rest", "alpha without"]
    alpha = f"Cronbach's alpha {_plain(found.alpha)} standardised, {_plain(found.alpha_raw)} as they stand"
    print_table(headers, rows, right=range(1, len(headers)), title=f"Rank correlation (Spearman); {alpha}")


def show_components(found: Redundancy, names: Sequence[str]) -> None:
    """Print the principal components of the correlations."""
    count = len(found.eigenvalues)
    rows = [["variance", *(f"{100 * v / count:.0f} %" for v in found.eigenvalues)]]
    rows += [[name, *(_plain(value) for value in found.loadings[i])] for i, name in enumerate(names)]
    headers = ["", *(str(number + 1) for number in range(count))]
    print_table(
        headers, rows, right=range(1, count + 1), title="Principal components: each part's correlation with each"
    )


def show_first(found: ScoreWeights, parts: WeightedParts) -> None:
    """Print the products that no weights put first, each with the mixture that beats it; and who beats most in every part."""
    never = [k for k, one in enumerate(found.first) if one.state == "never"]
    rows = []
    for k in never[:LISTED]:
        mix = found.first[k].mix
        order = [j for j in np.argsort(-mix, kind="stable") if mix[j] > 0]
        words = ", ".join(f"{percent(float(mix[j]))} {parts.ids[j]}" for j in order)
        rows.append([parts.ids[k], words, f"{found.first[k].margin:.3f}"])
    if rows:
        title = f"First under no weights: {min(LISTED, len(never))} of {len(never)}, and a mixture that is better in every part"
        print_table(["product", "mixture", "by at least"], rows, right=(2,), title=title)
    order = sorted((k for k, own in enumerate(found.beats) if own), key=lambda k: -len(found.beats[k]))
    rows = [
        [parts.ids[k], str(len(found.beats[k])), ", ".join(parts.ids[j] for j in found.beats[k][:LISTED])
         + (", ..." if len(found.beats[k]) > LISTED else "")]
        for k in order[:LISTED]
    ]  # fmt: skip
    if rows:
        title = f"Who beats whom: {len(rows)} of {len(order)}"
        print_table(["product", "beats", "these"], rows, right=(1,), title=title)
        say("beats: is at least as good in every part, and better in one.", "")


def _plain(value: float) -> str:
    return "–" if np.isnan(value) else f"{value:z.2f}"
