"""Settings shared by all tests."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("patient", deadline=None, derandomize=True)
"""No deadlines, since machines are busy; the same examples everywhere, so that a failure is everybody's."""
settings.load_profile("patient")
