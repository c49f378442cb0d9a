"""What an interrupt does while nothing has to be put in order."""

from __future__ import annotations

import os

#: What a shell expects of a command that was interrupted.
INTERRUPTED = 130


def leave_at_once(*_: object) -> None:
    """End now: as long as this answers an interrupt, there is nothing to put in order."""
    os._exit(INTERRUPTED)
