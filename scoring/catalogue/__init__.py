"""From files to readings: CSV, Parquet or XLSX, wide or long, every fault named with its row and column."""

from scoring.catalogue.catalogue import Catalogue, as_declared, from_arrays, read_catalogue, without
from scoring.catalogue.readings import Readings, State

__all__ = ["Catalogue", "Readings", "State", "as_declared", "from_arrays", "read_catalogue", "without"]
