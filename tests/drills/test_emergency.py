"""Drills by messages and of the back-ups: other right ways pass too, with another seed than the recorded one."""

from __future__ import annotations

import pytest

from tests.drills import crews_emergency, crews_multiplexed, crews_position, crews_vehicle

OTHER = {**crews_multiplexed.OTHER, **crews_emergency.OTHER, **crews_position.OTHER, **crews_vehicle.OTHER}


@pytest.mark.parametrize("drill", sorted(OTHER))
def test_other_ways_that_are_right_pass(drill: str) -> None:
    for seed, way in enumerate(OTHER[drill], start=1):
        crew = way(seed)
        assert crew.refused == []
        assert crew.sheet["passed"], (drill, seed, crew.sheet["verdict"], crew.sheet["lost"])
