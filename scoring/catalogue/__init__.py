"""From files or frames to readings: table files or pandas, wide or long, every fault named with its row and column."""

from scoring.catalogue.arrays import from_arrays
from scoring.catalogue.catalogue import Catalogue, as_declared, roles_of, with_published_reasons, without
from scoring.catalogue.product_names import ProductNames
from scoring.catalogue.reading import read_catalogue
from scoring.catalogue.readings import Readings, State, published_reason, reasons_published

__all__ = [
    "Catalogue",
    "ProductNames",
    "Readings",
    "State",
    "as_declared",
    "from_arrays",
    "published_reason",
    "read_catalogue",
    "reasons_published",
    "roles_of",
    "with_published_reasons",
    "without",
]
