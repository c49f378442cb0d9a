"""From a document to a form."""

from scoring.reader.form import load_sources, read_form, read_sources

__all__ = ["load_sources", "read_form", "read_sources"]
