"""The smallest changes as a JSON document and as one table for files: no figure is worked out here but shares of weight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from analysis.flips.found import ONE, Change, Flip
from analysis.flips.study import FlipStudy
from analysis.flips.verdict import product_of, sd_of, shares_of, verdict
from analysis.json_text import number_or_none
from analysis.partial.partial_place import partial_document
from analysis.report.nouns import as_json

if TYPE_CHECKING:
    import pandas as pd


def flip_body(found: FlipStudy, products: Sequence[str]) -> dict[str, Any]:
    """All that was found as plain nouns, ready for JSON; `products` are the ids of the catalogue."""
    return {
        "scores": {flip.column.output.name: _score(flip, found) for flip in found.flips},
        "not_looked_at": dict(found.unpublished),
        "first_places": partial_document(found.firsts, products),
    }


def _score(flip: Flip, found: FlipStudy) -> dict[str, Any]:
    return {
        "verdict": verdict(flip, found.repeats),
        **_standing(flip),
        "changes": [change_document(flip, change, found) for change in flip.changes],
        "not_looked_at": as_json(flip.unlooked),
    }


def _standing(flip: Flip) -> dict[str, Any]:
    """Who is to catch whom, and how things stand."""
    return {
        "subject": product_of(flip, flip.subject),
        "at_least": None if flip.rival is None else product_of(flip, flip.rival),
        "state": flip.state,
        "lead": number_or_none(flip.lead),
    }


def change_document(flip: Flip, change: Change, found: FlipStudy) -> dict[str, Any]:
    """One change, or why there is none."""
    shares = shares_of(flip, change) if change.kind == ONE and change.found else None
    proof = change.certificate
    return {
        "kind": change.kind,
        "what": change.name or None,
        "product": change.product or None,
        "unit": change.unit or None,
        "set": [
            {"address": address or None, "stated": number_or_none(stated), "needed": text}
            for address, stated, text in change.settings
        ],
        "change": number_or_none(change.change),
        "exact": number_or_none(change.exact),
        "share": number_or_none(change.share),
        "share_of": change.compared,
        "percent_of_weight": None if shares is None else {"stated": shares[0], "needed": shares[1]},
        "repeat_sd": sd_of(change, found.repeats),
        "u": number_or_none(change.u),
        "verdict": change.verdict,
        "within": None if math.isinf(change.room[0]) else list(change.room),
        "by_ratio": change.in_ratios,
        "why": change.why or None,
        "scored_again": None
        if proof is None
        else {
            "before": {"subject": proof.before, "other": proof.other_before},
            "after": {"subject": proof.after, "other": proof.other_after},
        },
    }


def change_fields(flip: Flip, change: Change, found: FlipStudy) -> dict[str, Any]:
    """The same in one row of a table: a field for each key, what stands under one after its name and `_`."""
    row = change_document(flip, change, found)
    settings = row.pop("set")
    shares, within = row.pop("percent_of_weight") or {}, row.pop("within") or (None, None)
    scored = row.pop("scored_again") or {"before": {}, "after": {}}
    # what stands at one address is a number; of all weights together there is a list
    stated = [one["stated"] for one in settings]
    return row | {
        "address": "; ".join(one["address"] or "" for one in settings),
        "stated": stated[0] if len(stated) == 1 else None,
        "needed": "; ".join(one["needed"] for one in settings),
        "percent_of_weight_stated": shares.get("stated"),
        "percent_of_weight_needed": shares.get("needed"),
        "within_low": within[0],
        "within_high": within[1],
        **{f"{when}_{who}": scored[when].get(who) for when in ("before", "after") for who in ("subject", "other")},
    }


def flip_frame(found: FlipStudy) -> pd.DataFrame:
    """One row for every score and change, and one for a score that has none."""
    import pandas as pd  # slow to import, and most commands make no frame

    rows: list[dict[str, Any]] = []
    for flip in found.flips:
        score = {"score": flip.column.output.name} | _standing(flip)
        rows += [score | change_fields(flip, change, found) for change in flip.changes] or [score]
    return pd.DataFrame(rows)
