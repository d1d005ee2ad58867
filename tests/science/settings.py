"""One profile for the property tests: the same examples on every run, and few enough."""

from __future__ import annotations

from hypothesis import settings

bounded = settings(max_examples=60, derandomize=True, deadline=None)
