"""Where the command begins: before anything large is imported, an interrupt is a plain end."""

from __future__ import annotations

import gc
import signal

from analysis.cli.interrupts import leave_at_once

#: So many new objects may come before Python looks for circles among them. While libraries load, and symbols and forms are
#: made, nearly all objects stay: at its own 700, `explore` spends a sixth of its time on looking for what is not there.
NEW_OBJECTS = 50_000


def main() -> None:
    """Run the command line."""
    signal.signal(signal.SIGINT, leave_at_once)
    gc.set_threshold(NEW_OBJECTS)
    from analysis.cli.main import main as run

    run()
