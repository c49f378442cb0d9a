"""Where the command begins: before anything large is imported, an interrupt is a plain end."""

from __future__ import annotations

import os
import signal

#: What a shell expects of a command that was interrupted.
INTERRUPTED = 130


def leave_at_once(*_: object) -> None:
    """End now: as long as this answers an interrupt, there is nothing to put in order."""
    os._exit(INTERRUPTED)


def main() -> None:
    """Run the command line."""
    signal.signal(signal.SIGINT, leave_at_once)
    from analysis.cli.main import main as run

    run()
