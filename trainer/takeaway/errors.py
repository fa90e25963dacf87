"""The one error that building the take-away edition shows to a person."""

from __future__ import annotations


class SiteError(Exception):
    """What is missing, and how to mend it, in plain sentences; shown without a traceback."""
