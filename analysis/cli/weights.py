"""`steelyard weights`: what each weight is worth on the actual catalogue; verdicts first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.cli.inputs import guard_of, headed, load
from analysis.cli.long_work import announce, share_of
from analysis.cli.studies import check_output, is_table, write_results
from analysis.cli.terminal import print_json, print_table, say
from analysis.scores.document import cautions
from analysis.weights.document import weights_document, weights_frame
from analysis.weights.importance import Importance
from analysis.weights.parts import WeightedParts
from analysis.weights.redundancy import Redundancy
from analysis.weights.study import ScoreWeights, weights_study
from analysis.weights.verdict import direction, signed_percent, span, weight_percent, weights_verdict
from analysis.wording import percent
from scoring.errors import Place, Problem, StudyError
from scoring.table import score_catalogue

#: Products that the terminal lists; files and `--json` hold all.
LISTED = 12


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    only: Sequence[str],
    wanted: Sequence[str],
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Work out what the weights are worth, and show it."""
    wants = wants_of(wanted)
    if out is not None:
        is_table(out)
    form, readings = load(formula, catalogue, settings)
    guard = guard_of([form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="weights")
    table = score_catalogue(form, readings)
    announce("weights", len(table.catalogue.products), share_of(only, table.form))
    found = weights_study(table, only, wants, seed=seed)
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


def _figures(found: Sequence[ScoreWeights]) -> dict[str, bytes]:
    from analysis.weights.figures import weights_figures

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
        show_effects(found.parts, found.importance)
        show_wanted(found, found.parts)
        show_redundancy(found.redundancy, found.parts.names)
        show_components(found.redundancy, found.parts.names)
        show_first(found, found.parts)


def show_parts(parts: WeightedParts, found: Importance, label: str) -> None:
    """Print each part's stated weight beside its shares of the variance."""
    effective, low, high = found.of("effective")
    structural, correlative = found.of("structural")[0], found.of("correlative")[0]
    shapley, shapley_low, shapley_high = found.of("shapley")
    rows = [
        [
            name,
            parts.stated[i],
            weight_percent(float(parts.shares[i])),
            signed_percent(effective[i]),
            span(low[i], high[i]),
            signed_percent(structural[i]),
            signed_percent(correlative[i]),
            signed_percent(shapley[i]),
            span(shapley_low[i], shapley_high[i]),
            direction(effective[i], low[i], high[i]),
        ]
        for i, name in enumerate(parts.names)
    ]
    headers = ["", "weight", "stated", "effective", "95 %", "alone", "with others", "Shapley", "95 %", "goes"]
    title = f"{label}: shares of the variance of the weighted mean"
    print_table(headers, rows, right=range(1, len(headers) - 1), title=title)
    say(
        "alone + with others = effective, which adds to 100 % over the parts, as Shapley does. Intervals over the products.",
        "goes: with the score or against it (an effective share below 0); (open) where the interval holds both.",
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
    """Print the wanted importance and the weights that it takes, or the solution that proves that none do."""
    if found.wanted is None or found.wanted.state == "refused":
        return
    rows = [
        [name, weight_percent(float(parts.shares[i])), weight_percent(float(w)), f"{found.wanted.weights[i]:z.4f}"]
        for i, (name, w) in enumerate(zip(parts.names, found.wanted.wanted, strict=True))
    ]
    none = found.wanted.state == "none"
    headers = ["", "stated", "importance wanted", "solution: no weights" if none else "weights for it"]
    print_table(headers, rows, right=(1, 2, 3), title=f"{found.label}: wanted importance (linear main effects)")


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
        title = f"A mixture of others is better in every part: {len(rows)} of {len(order)}"
        print_table(["product", "beats", "these"], rows, right=(1,), title=title)


def _plain(value: float) -> str:
    return "–" if np.isnan(value) else f"{value:z.2f}"
