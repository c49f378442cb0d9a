"""Repeatability as a JSON document, and as one table for files."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from analysis.repeats.notes import multiplicity, notes_of
from analysis.repeats.outliers import LEVELS
from analysis.repeats.repeatability import Precision
from analysis.report.nouns import as_json
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.measurement_error.variance_components import COVERAGE

if TYPE_CHECKING:
    import pandas as pd

#: What a measure's document takes from its `Precision` as it stands there.
FIELDS = (
    "unit",
    "is_share",
    "by_session",
    "by_specimen",
    "sd",
    "freedom",
    "low",
    "high",
    "robust_sd",
    "declared",
    "declared_inside",
    "refuted",
    "made_by",
    "sd_without",
    "limit",
)


def repeatability_document(form: Form, catalogue: Catalogue, found: Sequence[Precision]) -> dict[str, Any]:
    """Everything said about every measure as plain nouns, ready for JSON, with what it is of; null where there is nothing."""
    return {
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": catalogue.sha256, "products": len(catalogue.products)},
    } | repeatability_body(catalogue.products, found)


def repeatability_body(products: Sequence[str], found: Sequence[Precision]) -> dict[str, Any]:
    """The same without what it is of."""
    return {
        "coverage": COVERAGE,
        "levels": list(LEVELS),
        "measures": {one.measure: _measure(one, products) for one in found},
        "notes": list(multiplicity(found)),
    }


def _measure(one: Precision, products: Sequence[str]) -> dict[str, Any]:
    known = {product: float(k) for product, k in zip(products, one.k, strict=True) if not math.isnan(k)}
    document = {name: getattr(one, name) for name in FIELDS} | {
        "counts": one.counts._asdict(),
        "whole_products": one.whole._asdict(),
        "sessions": as_json(one.sessions) | {"limit": one.sessions.limit} if one.sessions else None,
        "why_no_sessions": one.why_no_sessions,
        "specimens": one.specimens,
        "why_no_specimens": one.why_no_specimens,
        "mandel_k": known,
        "tests": [test._asdict() for test in one.tests],
        "findings": [as_json(f) | {"kind": f.kind, "by_chance": f.by_chance} for f in one.findings],
        "notes": notes_of(one),
    }
    found: dict[str, Any] = as_json(document)
    return found


def repeatability_frame(found: Sequence[Precision]) -> pd.DataFrame:
    """One row for every measure; what stands under a key of the document is called after it."""
    import pandas as pd  # slow to import, and most commands make no frame

    rows = []
    for one in found:
        row = {"measure": one.measure} | {name: getattr(one, name) for name in FIELDS}
        row["made_by"] = "; ".join(one.made_by)
        row |= _under("counts", one.counts._asdict()) | _under("whole_products", one.whole._asdict())
        row |= _under("sessions", as_json(one.sessions) | {"limit": one.sessions.limit} if one.sessions else {})
        row |= _under("specimens", as_json(one.specimens) or {})
        rows.append(row | {"why_no_sessions": one.why_no_sessions, "why_no_specimens": one.why_no_specimens})
    return pd.DataFrame(rows)


def _under(key: str, nouns: Mapping[str, Any]) -> dict[str, Any]:
    return {f"{key}_{name}": value for name, value in nouns.items()}
