"""The fluid reservoir: mixed-fluid tank with its level, alarm float and pump suction, and the weather about it."""

from __future__ import annotations

from typing import Annotated, Literal

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.hydraulics.storage import Fixed
from trainer.plant.base import Part, component_fault, reading, state_reading
from trainer.plant.handwork import PERIOD, SECOND
from trainer.plant.mixing import build_mixing
from trainer.units import Flow, Fraction, Number, Pressure, Temperature, Volume, between, to_unit

SUCTION_HEAD = 5.0e3
"""Pa: half a metre of fluid over the pumps' suction."""
DEAD = 0.02
"""Share of the tank below the suction pipe: it cannot be drawn. Common practice."""
FROST = 45.0
"""K by which a fault of the heating lets the fluid cool. Invented."""
COOLING = 120.0
"""s in which the fluid takes up another temperature. Invented: hours, in the time of a drill."""


class Reservoir(Part):
    """Tanks of the unit. Levels are shares of the mixed-fluid tank, fills of each tank."""

    id: Literal["tank"] = "tank"
    mixed_volume: Annotated[Volume, between("20 gal", "20000 gal")]
    mixed_fill: Annotated[Fraction, between("0 %", "100 %")]
    low_level: Annotated[Fraction, between("1 %", "95 %")]
    concentrate_volume: Annotated[Volume, between("1 gal", "5000 gal")]
    concentrate_fill: Annotated[Fraction, between("0 %", "100 %")] = 0.8
    glycol_volume: Annotated[Volume, between("1 gal", "5000 gal")]
    glycol_fill: Annotated[Fraction, between("0 %", "100 %")] = 0.8
    mix_start: Annotated[Fraction, between("2 %", "98 %")]
    mix_stop: Annotated[Fraction, between("3 %", "100 %")]
    water_rate: Annotated[Flow, between("0.5 gpm", "300 gpm")]

    def build(self, net: Network, shares: tuple[float, float], weather: float) -> None:
        """Add the tanks: node ``tank``, its level, float switch, how well the suction is covered, and the mixing.

        ``shares`` are those of concentrate and glycol in the mix, ``weather`` the temperature (K) about the unit.
        """
        net.node("tank", Fixed(ATMOSPHERE + SUCTION_HEAD, self.mixed_volume * self.mixed_fill))
        net.node("ground", Fixed(ATMOSPHERE))
        net.var("tank.wet", 1.0)
        most = round(to_unit(self.mixed_volume, "gal"))
        sight = "Level in the mixed-fluid tank, by its sight glass."
        reading(net, "tank.level", "%", 0, 100, sight, ("unit",), (60, 95), self.mixed_fill)
        reading(net, "tank.volume", "gal", 0, most, "Mixed fluid in the tank.", (), None, self.mixed_volume)
        state_reading(net, "tank.low", ("no", "yes"), "Lower float switch: the tank is low.", ("unit",))
        stuck = component_fault(
            net,
            "tank",
            "float_stuck",
            "Lower float switch stuck up: no low-level alarm",
            ("tank.low", "alarm.low_tank"),
            "Free or replace the float; read the sight glass meanwhile.",
        )
        leak = component_fault(
            net,
            "tank",
            "leak",
            "Mixed-fluid tank leaks",
            ("tank.level", "mixing.running"),
            "Find and stop the leak; top up with correctly mixed fluid.",
        )
        net.edge("tank.leak", "tank", "ground", tank_leak, dict(severity=leak, volume="tank.v"), fault="tank.leak")
        stores = {
            "concentrate": (self.concentrate_volume, self.concentrate_volume * self.concentrate_fill),
            "glycol": (self.glycol_volume, self.glycol_volume * self.glycol_fill),
        }
        build_mixing(net, self.mixed_volume, self.mix_start, self.mix_stop, self.water_rate, stores, shares)
        self._weather(net, weather)
        net.block(
            suction,
            inputs=dict(
                volume="tank.v", dead=DEAD * self.mixed_volume, weather="ambient.surface", freezes="mix.freezing_point"
            ),
            outputs=dict(wet="tank.wet"),
            gate=SECOND,
        )
        net.block(
            level,
            inputs=dict(volume="tank.v", full=self.mixed_volume, low=self.low_level, stuck=stuck),
            states=dict(was="tank.low"),
            outputs=dict(level="tank.level", content="tank.volume"),
            rate="observe",
            gate=SECOND,
        )

    def _weather(self, net: Network, weather: float) -> None:
        reading(net, "ambient.surface", "degF", -60, 140, "Air temperature about the unit.", ("unit",), None, weather)
        frost = component_fault(
            net,
            "ambient",
            "frost",
            "Hard frost at the unit",
            ("ambient.surface", "mix.finding", "bank_a.pressure"),
            "Add glycol and turn the tank over; drain moisture from the air; nitrogen has lost pressure.",
        )
        net.block(cooling, inputs=dict(usual=weather, frost=frost), states=dict(weather="ambient.surface"), gate=SECOND)


@gives("wet")
def suction(volume: Volume, dead: Volume, weather: Temperature, freezes: Temperature) -> Number:
    """How well the pump suction is covered, 0 to 1: it draws air over the last ``dead`` m3, and slush no pump draws."""
    wet = min(max((volume - dead) / dead, 0.0), 1.0)
    return wet if weather > freezes - 2.0 else 0.1 * wet


@gives("level", "content", "was")
def level(volume: Volume, full: Volume, low: Number, stuck: Number, was: Number) -> tuple[Number, Volume, Number]:
    """Level share, volume (m3) and low float (with 2 % hysteresis; a stuck float never falls)."""
    share = volume / full
    floats = 1.0 if share < low else (0.0 if share > low + 0.02 else was)
    return share, volume, (0.0 if stuck > 0.0 else floats)


def tank_leak(pu: Pressure, pd: Pressure, severity: Number, volume: Volume) -> tuple[float, float, float]:
    """A hole in the tank: up to 5 gpm (3.2e-4 m3/s, invented), while there is fluid; ``severity`` is 0 to 1."""
    q = 3.2e-4 * severity * min(volume / 0.1, 1.0) + 0.0 * (pu - pd)
    return q, 0.0, 0.0


@gives("weather")
def cooling(weather: Temperature, usual: Temperature, frost: Number) -> Temperature:
    """Temperature about the unit (K) as a frost comes on over some minutes."""
    return weather + (usual - FROST * frost - weather) * (PERIOD / COOLING)
