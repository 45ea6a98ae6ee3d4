"""How many cores there are to work on."""

from __future__ import annotations

import os

MOST = 4
"""As many as are used unasked: each costs memory, and the writing is one process's."""


def cores_here() -> int:
    """How many cores a run uses where nobody says."""
    affinity = getattr(os, "sched_getaffinity", None)
    return min(len(affinity(0)) if affinity else os.cpu_count() or 1, MOST)
