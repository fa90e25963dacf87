"""Ids in words."""

from __future__ import annotations

import doctest

from trainer import naming
from trainer.plant import names


def test_examples_hold() -> None:
    assert doctest.testmod(naming).failed == 0
    assert doctest.testmod(names).failed == 0


def test_a_station_nobody_knows_is_written_as_it_stands() -> None:
    assert naming.station("unit") == "the control unit"
    assert naming.station("crane") == "crane"
