"""From files or frames to readings: table files or pandas, wide or long, every fault named with its row and column."""

from scoring.catalogue.arrays import from_arrays
from scoring.catalogue.catalogue import Catalogue, as_declared, without
from scoring.catalogue.reading import read_catalogue
from scoring.catalogue.readings import Readings, State

__all__ = ["Catalogue", "Readings", "State", "as_declared", "from_arrays", "read_catalogue", "without"]
