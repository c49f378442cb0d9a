"""Templates: the owner of Jinja2. A name that a template does not know is an error, never an empty place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

__all__ = ["Environment", "Markup", "environment"]


def environment(folder: Path, *, escape: bool, **syntax: Any) -> Environment:
    """The templates in a folder. `syntax` as Jinja2's `Environment` takes it.

    Where `escape` is set, every text is escaped as HTML, save what is a `Markup`; otherwise the language's own filters
    must do it.
    """
    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=escape,  # noqa: S701 - where it is off, what comes out is no HTML
        undefined=StrictUndefined,
        keep_trailing_newline=True,
        **syntax,
    )
