"""Templates and what pages hold inside themselves. A name that a template does not know is an error, never an empty place."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

#: Bytes of an SVG that a page holds: a matrix of sixty products has more, and twenty of those make ten megabytes.
MOST_SVG = 150_000
__all__ = ["Environment", "Markup", "content_hash", "environment", "picture_uri"]


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


def content_hash(text: str) -> str:
    """What a content security policy names an inline text by."""
    return "sha256-" + b64encode(sha256(text.encode()).digest()).decode()


def picture_uri(svg: bytes, png: bytes) -> str:
    """A picture as an address that holds it: as SVG, but as PNG where the SVG is so long that a page of several opens slowly."""
    if len(svg) > MOST_SVG and len(png) < len(svg):
        return f"data:image/png;base64,{b64encode(png).decode()}"
    return f"data:image/svg+xml;base64,{b64encode(svg).decode()}"
