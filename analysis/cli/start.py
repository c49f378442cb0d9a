"""Where the command begins: before anything large is imported, an interrupt is a plain end."""

from __future__ import annotations

import signal

from analysis.cli.interrupts import leave_at_once


def main() -> None:
    """Run the command line."""
    signal.signal(signal.SIGINT, leave_at_once)
    from analysis.cli.main import main as run

    run()
