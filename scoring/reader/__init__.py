"""From a document to a form."""

from scoring.reader.form import read_form, read_sources
from scoring.reader.sources import load_sources

__all__ = ["load_sources", "read_form", "read_sources"]
