"""Two folders that change names in one step, where the system can do that."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

#: `renameat2` of Linux, from the working folder, with the flag that exchanges; `renamex_np` of macOS, with its flag.
AT_WORKING_FOLDER, LINUX_EXCHANGE, MACOS_SWAP = -100, 2, 2


def exchange(one: Path, other: Path) -> bool:
    """Give each of two folders the other's name, at once; False where system or file system cannot: nothing is done then."""
    if sys.platform not in ("linux", "darwin"):
        return False
    system = ctypes.CDLL(None)
    first, second = os.fsencode(one), os.fsencode(other)
    if hasattr(system, "renameat2"):
        failed = system.renameat2(AT_WORKING_FOLDER, first, AT_WORKING_FOLDER, second, LINUX_EXCHANGE)
    elif hasattr(system, "renamex_np"):
        failed = system.renamex_np(first, second, MACOS_SWAP)
    else:
        return False
    return bool(failed == 0)
