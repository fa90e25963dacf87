"""Where the page lights what the coach speaks of."""

from __future__ import annotations

from trainer.console import pointing
from trainer.drawing.markup import el


def test_nobody_is_sent_to_a_further_panel_for_what_stands_elsewhere() -> None:
    """It is one way more, and its supply may be away; what stands only there is shown there."""
    button = str(el("button", {"data-send": {"do": "set", "target": "annular", "value": "close"}}))
    assert pointing.views("control:annular=close", {"third": button, "unit": button}) == ["unit"]
    assert pointing.views("control:annular=close", {"third": button}) == ["third"]
