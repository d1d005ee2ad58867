"""The most memory something takes while it is made."""

from __future__ import annotations

import re
import tracemalloc
from collections.abc import Callable
from pathlib import Path

# What the whole process holds at most, as Linux keeps it (proc(5): VmHWM, and clear_refs, which
# sets it back). Watching costs nothing, so that the time of the same making counts.
_STATUS, _RESET = Path("/proc/self/status"), Path("/proc/self/clear_refs")
PROCESS, OBJECTS = "the whole process", "Python's objects only, made once more for it"


def objects_peak_mb(make: Callable[[], object]) -> float:
    """What Python's objects take at most while it is made; the watching slows the making."""
    tracemalloc.start()
    make()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak / 1e6


def forget_peak() -> bool:
    """Begin to watch the process; whether the system can."""
    try:
        _RESET.write_text("5")
    except OSError:
        return False
    return True


def process_peak_mb() -> float:
    """The most the process held since `forget_peak`."""
    found = re.search(r"VmHWM:\s+(\d+) kB", _STATUS.read_text())
    if found is None:
        raise OSError(f"{_STATUS} does not say what the process held at most.")
    return int(found[1]) * 1024 / 1e6
