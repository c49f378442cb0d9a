"""Pictures that nobody looks at: for tests of the files and the words around them, whose time would go on letters and lines."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO

import pytest
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from PIL import Image


def _dot() -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(stream, format="png")
    return stream.getvalue()


BLANK = {"svg": b'<svg xmlns="http://www.w3.org/2000/svg" width="8" height="8"/>', "png": _dot()}


@contextmanager
def pictures_unseen() -> Iterator[None]:
    """Every figure is made, and neither laid out nor drawn: its file is blank."""

    def blank(figure: Figure, stream: IO[bytes], *, format: str, **_: object) -> None:
        stream.write(BLANK[format])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Figure, "savefig", blank)
        patch.setattr(ConstrainedLayoutEngine, "execute", lambda *_: None)
        yield
