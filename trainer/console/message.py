"""What a page sends: a message of plain data, exactly as it came. Whoever reads a field of it doubts it."""

from __future__ import annotations

from collections.abc import Mapping

Message = Mapping[str, object]
"""Fields by name; ``page`` says what is asked for."""
