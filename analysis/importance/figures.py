"""The pictures of a study of weights."""

from __future__ import annotations

from functools import partial

import numpy as np

from analysis.figures.cells import signed_map
from analysis.importance.study import ScoreWeights
from analysis.importance.verdict import weights_verdict
from analysis.report.pictures import Picture
from analysis.wording import counted

COLUMNS = ("stated", "squared", "effective", "Shapley", "linear", "ratio")
SHOWN = "stated share, squared; effective and Shapley share of the variance; linear main effect; correlation ratio"


def weights_pictures(found: ScoreWeights) -> tuple[Picture, ...]:
    """Each part's stated weight beside what it is worth, and Spearman's correlations of the parts."""
    parts, importance, redundancy = found.parts, found.importance, found.redundancy
    if parts is None or importance is None or redundancy is None:
        return ()
    worth = [importance.of(kind)[0] for kind in ("effective", "shapley", "linear", "ratio")]
    title = f"{found.label}: stated weights, and what they are worth on the catalogue"
    draw = partial(
        signed_map,
        parts.names,
        COLUMNS,
        np.column_stack([parts.shares, parts.squared, *worth]),
        title=title,
        unit="share of the whole, or of the variance of the score",
        words=("part", SHOWN),
    )
    pictures = [Picture(f"{found.name}-worth", title, weights_verdict(found)[0], draw)]
    if not np.isnan(redundancy.spearman).all():
        title = f"{found.label}: rank correlation of the parts over {counted(len(parts.ids), 'product')}"
        draw = partial(
            signed_map,
            parts.names,
            parts.names,
            redundancy.spearman,
            title=title,
            unit="Spearman's coefficient",
            words=("part", "part"),
            top=1.0,
        )
        pictures.append(Picture(f"{found.name}-spearman", title, f"{title}, from -1 to 1.", draw))
    return tuple(pictures)
