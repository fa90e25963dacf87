"""Why a pressure is what it is: in practice the card tells what feeds a part and what changed, in a check nothing."""

from __future__ import annotations

import re

import pytest

from trainer.classroom.rooms import shipped_seat
from trainer.console.seat import Seat

CLOSE = {"do": "set", "target": "upper_annular", "value": "close", "from": "driller"}


def _told(seat: Seat) -> str:
    """The text of the card's table."""
    html = seat.first()["card"]["readings"]["page.why"]["html"]
    return " ".join(re.sub("<[^>]+>", " ", html).split())


def test_a_card_tells_what_feeds_a_part_and_what_a_minute_took() -> None:
    seat = shipped_seat()
    seat.handle({"page": "start"})
    for _ in range(100):
        seat.tick(0.1)
    seat.handle({"page": "card", "value": "upper_annular"})
    quiet = _told(seat)
    assert quiet.count("steady") == 5
    assert "Accumulator header: what is stored and ready 3,000 psi" in quiet
    seat.handle(CLOSE)
    for _ in range(250):
        seat.tick(0.1)
    told = _told(seat)
    # Closing took fluid off the header; the closing chamber gained what the opening chamber lost.
    assert re.search(r"Accumulator header: [^0-9]*2,\d\d\d psi lost \d+ psi", told)
    assert re.search(r"close chamber [^0-9]*\d+ psi gained \d+ psi", told)
    assert re.search(r"open chamber [^0-9]*0 psi lost \d+ psi", told)
    seat.handle({"page": "units"})
    assert " bar" in _told(seat) and "psi" not in _told(seat)


@pytest.mark.parametrize(("mode", "part"), [("check", "upper_annular"), ("practice", "well")])
def test_a_check_and_a_part_outside_the_fluid_tell_nothing(mode: str, part: str) -> None:
    seat = shipped_seat()
    seat.handle({"page": "start", "drill": "kick-while-drilling", "mode": mode, "seed": "1"})
    seat.handle({"page": "begin"})
    seat.tick(0.5)
    seat.handle({"page": "card", "value": part})
    assert _told(seat) == ""
