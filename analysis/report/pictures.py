"""A picture of what was found: drawn when it is first asked for, with a sentence that says what is to be seen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def _already_drawn() -> Figure:
    raise AssertionError("the bytes of this picture are there already")


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture as SVG and PNG bytes.

    name: fit for a file, without ending; title: its caption; finding: what is to be seen, for who does not see it
    draw: draws it anew; fitted: whether each kind of file is laid out by the widths that letters have in it
    """

    @classmethod
    def drawn(cls, name: str, title: str, finding: str, *, svg: bytes, png: bytes) -> Picture:
        """A picture whose bytes are there already."""
        made = cls(name, title, finding, _already_drawn)
        made.__dict__.update(svg=svg, png=png)  # where `cached_property` keeps what it worked out
        return made

    name: str
    title: str
    finding: str
    draw: Callable[[], Figure]
    fitted: bool = False

    @cached_property
    def svg(self) -> bytes:
        """As SVG, the same bytes on every run."""
        return self._bytes("svg")

    @cached_property
    def png(self) -> bytes:
        """As PNG, the same bytes on every run."""
        _ = self.svg  # always first: a layout starts from where the one before it ended
        return self._bytes("png")

    @cached_property
    def _figure(self) -> Figure:
        return self.draw()

    def _bytes(self, kind: str) -> bytes:
        from analysis.figures.canvas import (
            figure_bytes,
            fitted_bytes,
        )  # matplotlib is slow to import, and rarely needed

        return fitted_bytes(self._figure, kind) if self.fitted else figure_bytes(self._figure, kind)

    def files(self) -> dict[str, bytes]:
        """Its files by name."""
        return {f"{self.name}.svg": self.svg, f"{self.name}.png": self.png}

    def _repr_svg_(self) -> str:
        return self.svg.decode()
