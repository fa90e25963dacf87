"""What is wrong with an order to the planning side, in one sentence that says how to mend it."""

from __future__ import annotations


class PlanningError(ValueError):
    """Wrong input to a planning command, as one sentence that says how to mend it."""
