"""Other ways that are right too, for each well-control drill: another preventer, line, panel or order of steps.

``python -m tests.drills.crews_other [SEED ...]`` lets them all work; CI takes some.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

from tests.drills import crews, crews_closed, crews_kill, crews_multiplexed, crews_surface, crews_tests, crews_well
from tests.drills.crew import Crew, shut_in_while_drilling

OTHER: dict[str, list[Callable[[int], Crew]]] = {
    "annular-leaks-during-shut-in": [
        lambda s: crews_well.annular_leaks(s, other="upper_pipe_ram", line="lower"),
        lambda s: crews_well.annular_leaks(s, other="lower_annular"),
    ],
    "choke-practice": [
        lambda s: crews_well.choke(s, steps=(20, 30)),
        lambda s: crews_well.choke(s, friction=110.0),
    ],
    "emergency-disconnect": [
        lambda s: crews_well.disconnect(s, at="remote"),
        lambda s: crews_well.disconnect(s, hook=61.0),
    ],
    "hang-off-and-shear": [
        lambda s: crews_well.hang_off(s, raises_first=True),
        lambda s: crews_well.hang_off(s, at="remote"),
    ],
    "mux-kick": crews_multiplexed.KICKS,
    "mux-riser-gas": crews_multiplexed.GAS,
    "kick-out-of-hole": [
        lambda s: crews.kick_out_of_hole(s, "lower_annular", "lower"),
        lambda s: crews.kick_out_of_hole(s, "upper_annular", "upper"),
    ],
    "kick-while-drilling": [
        lambda s: shut_in_while_drilling(s, "upper_pipe_ram"),
        lambda s: shut_in_while_drilling(s, "lower_annular", "lower", at="remote"),
        lambda s: shut_in_while_drilling(s, "middle_pipe_ram", at="unit"),
    ],
    "kick-while-tripping": [
        lambda s: crews_well.tripping(s, preventer="lower_annular", line="lower"),
        lambda s: crews_well.tripping(s, preventer="middle_pipe_ram"),
    ],
    "kick-with-collars": [
        lambda s: crews_tests.collars(s, line="upper"),
        lambda s: crews_tests.collars(s, at="remote"),
    ],
    "safety-valve-stuck": [
        lambda s: crews_tests.valve_stuck(s, "lower_annular", "lower", top_first=True),
        lambda s: crews_tests.valve_stuck(s, "middle_pipe_ram", "lower"),
    ],
    "kick-with-lost-pod": [
        lambda s: crews_well.lost_pod(s, preventer="middle_pipe_ram"),
        lambda s: crews_well.lost_pod(s, preventer="lower_annular", line="lower"),
    ],
    "kill-drillers-method": [
        lambda s: crews_kill.drillers(s, rate=37.0),
        lambda s: crews_kill.drillers(s, rate=43.0),
    ],
    "kill-wait-and-weight": [
        lambda s: crews_kill.wait_and_weight(s, rate=37.0),
        lambda s: crews_kill.wait_and_weight(s, rate=43.0),
    ],
    "lamp-lies": [
        lambda s: crews.lamp_lies(s, "middle_pipe_ram"),
        lambda s: crews.lamp_lies(s, "upper_pipe_ram"),
    ],
    "float-in-the-string": [
        lambda s: crews_closed.lifts_float(s, rate=2.0),
        lambda s: crews_closed.lifts_float(s, over=50.0, bleeds=True),
    ],
    "riser-gas": [
        lambda s: crews_closed.riser_gas(s, at="remote"),
        lambda s: crews_closed.riser_gas(s, how="hand", slow=10.0),
    ],
    "shallow-gas-diverter": [
        lambda s: crews_well.divert(s, at="remote"),
        lambda s: crews_well.diverts(Crew("shallow-gas-diverter", s), True, None, 0.0, pumps_first=True),
    ],
    "shut-in-on-stored-fluid": [
        lambda s: crews_well.stored_fluid(s, "middle_pipe_ram", line="lower"),
        lambda s: crews_well.stored_fluid(s, "upper_annular"),
    ],
    "strip-in": [
        lambda s: crews_closed.strips(s, low=500.0, at="remote"),
        lambda s: crews_closed.strips(s, over=100.0, look=5.0),
    ],
    "surface-kick-while-drilling": [
        lambda s: crews_surface.kick(s, "upper_pipe_ram"),
        lambda s: crews_surface.kick(s, hook=62.0),
    ],
    "surface-lamp-lies": [
        lambda s: crews_surface.lamp(s, closes_first=True),
        lambda s: crews_surface.lamp(s, at="unit"),
    ],
    "surface-shallow-gas": [
        lambda s: crews_surface.gas(s, at="remote"),
        lambda s: crews_well.diverts(Crew("surface-shallow-gas", s), True, None, 0.0, pumps_first=True),
    ],
}


def main(seeds: list[int]) -> None:
    """Let them work with these seeds and print what each lost."""
    for drill, ways in OTHER.items():
        for number, way in enumerate(ways):
            for seed in seeds or [2]:
                crew = way(seed)
                rows = crew.sheet["criteria"]
                lost = {r["id"]: r["reason"] for r in rows if r["earned"] is not None and r["earned"] < r["points"]}
                print(f"{drill} {number} seed {seed}: {crew.sheet['verdict']} {crew.refused} {lost}", flush=True)


if __name__ == "__main__":
    main([int(seed) for seed in sys.argv[1:]])
