"""The largest memory of a process that a test began."""

from __future__ import annotations

import re
import resource
import sys
from pathlib import Path


def own_peak() -> float:
    """Return the largest memory that this process itself has had [MB].

    What the system counts for a process that was begun by another holds that other's memory, too.
    """
    status = Path("/proc/self/status")
    if status.exists():
        found = re.search(r"VmHWM:\s+(\d+) kB", status.read_text())
        assert found is not None
        return int(found[1]) / 1e3
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1e6 if sys.platform == "darwin" else 1e3)
