"""Which readings changed between two catalogues, one by one, as corrections of a record name them."""

from __future__ import annotations

from collections.abc import Collection

from analysis.comparison.editions import ReadBy, differing_readings
from analysis.records.drift import data_drift
from analysis.records.record import Finding
from analysis.records.sections import readings_section
from scoring.catalogue import Catalogue
from scoring.catalogue.joining import for_products
from scoring.form import Form
from scoring.table.evaluate import summed_up


def changed_readings(readings: ReadBy, old: Form, new: Form, bridged: Collection[str]) -> tuple[Finding, ...]:
    """Every reading and word of a product in both catalogues that differs, as the new formula reads them.

    Parameters
    ----------
    bridged : measures whose new readings are mapped from the old ones, or read by another method: each of them differs, and
        the bridge says how
    """
    before, after = readings[False, True], readings[True, True]
    differing = differing_readings(readings, old, new) if before is not after else {}
    products = [name for name in before.products if not set(bridged).issuperset(differing.get(name, ()))]
    if not products:
        return ()
    sides = (_section_of(before, products, new), _section_of(after, products, new))
    found = data_drift({"readings": sides[0]}, {"readings": sides[1]}, new.units)
    return tuple(one for one in found if one.measure not in bridged)


def _section_of(catalogue: Catalogue, products: list[str], form: Form) -> list[dict[str, object]]:
    """What a record would keep of some products."""
    some = for_products(catalogue, catalogue, products)
    return readings_section(some, summed_up(form, some), form)
