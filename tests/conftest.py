"""One hypothesis profile for every test: the same cases on every run, however slow the machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
