"""Crews on a well that is shut in: gas in the riser, a float, stripping in; the bad ones with their reasons."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills.crew import Crew
from tests.drills.crews_operating import Reasons


def riser_gas(
    seed: int, at: str = "driller", how: str = "button", wind: bool = True, first: str = "", slow: float = 0.0
) -> Crew:
    """``how``: diverts by the 'button', by 'hand' (line, then packer), or 'never'; ``wind``: looks which way it blows;
    ``first``: before that 'opens' the annular, 'pumps' or 'unlatches'; ``slow``: waits first, s."""
    crew = Crew("riser-gas", seed)
    assert crew.hears(1, 300.0)
    crew.wait(4.0)
    crew.read("wind", "weather.wind_from")
    from_port = 0.0 < (crew["rig.heading"] - crew["weather.wind_from"]) % 360.0 < 180.0
    side = "starboard" if from_port is wind else "port"
    crew.wait(14.0)
    crew.until(lambda: 20.0 < crew["well.flow_out"] < 400.0, 60.0)
    crew.wait(2.0)
    crew.read("return_flow", "well.flow_out")
    crew.say("riser")
    if first == "opens":
        crew.open("upper_annular")
        crew.wait(30.0)
    elif first == "pumps":
        crew.do("set", "floor.mud_pumps", 20)
        crew.wait(20.0)
    elif first == "unlatches":
        crew.do("push", "driller.enable")
        crew.do("set", "riser_connector", "open")
        crew.wait(20.0)
    crew.wait(slow)
    if how == "button":
        crew.do("set", "diverter.side", side, at)
        crew.do("push", "driller.enable", at=at)
        crew.do("push", "diverter.divert", at=at)
    elif how == "hand":
        crew.open(f"{side}_overboard", at)
        crew.wait(9.0)
        crew.do("push", "driller.enable", at=at)
        crew.close("diverter_packer", at)
        crew.do("set", "diverter_flowline", "close", at)
    crew.until(lambda: crew["diverter.flow"] > 900.0, 700.0)
    crew.wait(40.0)
    crew.read("sicp", "well.casing_pressure")
    if how != "never":
        crew.until(lambda: crew["diverter.flow"] < 12.0, 900.0)
        crew.wait(25.0)
        crew.read("overboard", "diverter.flow")
        crew.say("over")
    crew.finish()
    return crew


CREWS: dict[str, Callable[[int], Crew]] = {
    "riser-gas": riser_gas,
}

BAD: dict[str, tuple[Callable[[int], Crew], Reasons]] = {
    "riser-gas.opens-the-annular": (
        lambda seed: riser_gas(seed, first="opens"),
        {"barrier_opened": "second influx"},
    ),
    "riser-gas.not-diverted": (
        lambda seed: riser_gas(seed, how="never"),
        {"at_the_rotary": "no closed diverter", "diverted": "Not done"},
    ),
    "riser-gas.upwind": (
        lambda seed: riser_gas(seed, wind=False),
        {"gas_upwind": "windward side"},
    ),
    "riser-gas.pumps": (
        lambda seed: riser_gas(seed, first="pumps"),
        {"pumped_shut": "against a closed well"},
    ),
}
