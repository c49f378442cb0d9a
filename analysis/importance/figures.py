"""The figures of a study of weights: file name to bytes, as SVG and PNG."""

from __future__ import annotations

import numpy as np

from analysis.figures.canvas import figure_bytes
from analysis.figures.cells import signed_map
from analysis.importance.study import ScoreWeights

KINDS = ("svg", "png")
COLUMNS = ("stated", "squared", "effective", "Shapley", "linear", "ratio")


def weights_figures(found: ScoreWeights) -> dict[str, bytes]:
    """Spearman's correlations of the parts, and each part's stated weight beside what it is worth."""
    if found.parts is None or found.importance is None or found.redundancy is None:
        return {}
    names, label = found.parts.names, found.label
    worth = [found.importance.of(kind)[0] for kind in ("effective", "shapley", "linear", "ratio")]
    figures = {
        "worth": signed_map(
            names,
            COLUMNS,
            np.column_stack([found.parts.shares, found.parts.squared, *worth]),
            title=f"{label}: stated weights, and what they are worth on the catalogue",
            unit="share of the whole, or of the variance of the score",
            words=(
                "part",
                "stated share, squared; effective and Shapley share of the variance; linear main effect; correlation ratio",
            ),
        )
    }
    if not np.isnan(found.redundancy.spearman).all():
        figures["spearman"] = signed_map(
            names,
            names,
            found.redundancy.spearman,
            title=f"{label}: rank correlation of the parts over {len(found.parts.ids)} products",
            unit="Spearman's coefficient",
            words=("part", "part"),
            top=1.0,
        )
    return {f"{found.name}-{what}.{kind}": figure_bytes(one, kind) for what, one in figures.items() for kind in KINDS}
