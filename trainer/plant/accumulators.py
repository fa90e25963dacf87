"""Accumulator banks: gas-loaded bottles with isolation, bleed and relief, on a header, the pilot supply or the stack.

The gas is real nitrogen, squeezed along its adiabat and drawn towards the wall's temperature with a relaxation time,
so a fast discharge is nearly adiabatic and a slow recharge nearly isothermal out of one model. The relaxation time
of a bottle of this size, one to two minutes, is common practice; the equation of state is in ``trainer.fluids.gas``.

A bank is computed as one bottle. That stays exact when one of N loses its gas: it floods, and the gas of the others,
(N-1)/N of the whole, has what space the fluid leaves.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainer.constants import ATMOSPHERE
from trainer.fluids.gas import density
from trainer.hydraulics.laws import bottle_port, drain, relief
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.storage import Gas
from trainer.plant.base import PSI, Component, component_fault, gauge, reading, state_reading, true_gauge
from trainer.plant.handwork import NO_PRESSURE, PERIOD, RELIEF, SECOND, SHUT, WEEPS, hand_valve, is_shut, needs, service
from trainer.units import Coefficient, Flow, Mass, Number, Pressure, Seconds, Temperature, Volume, between

PORT = 1.0e-5
"""m3/(s sqrt(Pa)) of one bottle's fluid port, about 13 Cv: 1 in (from memory)."""
# Bleed valve for each m3 of gas space, so that a large bank bleeds down in the time of a small one.
BLEED = 4.0e-7
RELIEF_K = 1.0e-6
"""m3/(s sqrt(Pa)) of a bank's relief valve, about 1.3 Cv. Invented; it outruns any one bottle's warming."""
PASSING = 0.15
"""Share of the bleed valve that a worn one passes at most. Invented."""
LAST = 0.01
"""Share of the shell that stays as the last fluid while a bottle drains. Ours."""
RELAX = 90.0
"""s in which the gas takes up the wall's temperature, for want of a figure: one to some minutes for bottles of 10 to
15 gal (from memory)."""
GAS_TIME = 20.0
"""s in which lost gas is gone. Invented: a leak of days in the time of a drill."""


class Bank(Component):
    """A group of like bottles. ``bottle_volume`` is gas space with no fluid in; ``precharge`` is gauge, at the surface
    temperature."""

    bottles: int = Field(ge=1, le=400)
    bottle_volume: Annotated[Volume, between("0.5 gal", "200 gal")]
    precharge: Annotated[Pressure, between("50 psi", "10000 psi")]
    place: Literal["surface", "pilot", "stack"]
    header: Literal["a", "b"] = "a"
    relaxation: Annotated[Seconds, between("5 s", "3600 s")] = RELAX
    relief_pressure: Annotated[Pressure, between("300 psi", "12000 psi")] = Field(default=3300.0 * PSI)
    capacity: Annotated[Coefficient, between("0.02 Cv", "1000 Cv")] | None = None
    """Flow coefficient of the bank's port with its valve; none: 13 Cv times the root of the number of bottles."""

    @property
    def card(self) -> str:
        """The entry of ``assets/text`` that describes it: that of pilot, of stack or of main bottles, by its place."""
        return {"pilot": "pilot_bottles", "stack": "stack_bottles"}.get(self.place, "bank")

    @property
    def fittings(self) -> tuple[tuple[str, str, str], ...]:
        """What belongs to it and has a card of its own: the end of its name, its card, and what it is in words."""
        return (
            (".isolation", "bank_isolation", "shut-off valve"),
            (".bleed", "bank_bleed", "bleed valve"),
        )

    @property
    def _served(self) -> str:
        """The pressure that it keeps up."""
        return "pilot.pressure" if self.place == "pilot" else "accumulator.pressure"

    def build(self, net: Network, node: str, wall: str, wall_kelvin: float, start: float) -> None:
        """Add the bank to ``node``, charged to ``start`` (Pa absolute) at the wall's temperature."""
        i = self.id
        shell = self.bottles * self.bottle_volume
        mass = shell * density(self.precharge + ATMOSPHERE, wall_kelvin)
        fluid = max(shell - mass / density(max(start, self.precharge + ATMOSPHERE), wall_kelvin), 0.0)
        net.var(f"{i}.gas", mass, "kg")
        net.node(i, Gas(shell, f"{i}.gas", wall, self.relaxation, fluid, wall_kelvin))
        self._readings(net, shell, round((start - ATMOSPHERE) / PSI))
        if self.place == "stack":
            state_reading(net, f"{i}.isolation", SHUT, f"{self.name}: isolation valve.", (), 1.0)
        else:
            name = f"{self.name}, isolation valve"
            hand_valve(net, f"{i}.isolation", f"{self.name}: isolation valve.", locks=name)
        k = self.capacity or PORT * self.bottles**0.5
        net.edge(
            f"{i}.port",
            node,
            i,
            isolated_port,
            dict(k=k, isolation=f"{i}.isolation", fluid=f"{i}.v", last=LAST * shell),
        )
        self._gas(net, mass)
        if self.place != "stack":
            self._outlets(net, shell)

    def _readings(self, net: Network, shell: float, charged: int) -> None:
        i, surface = self.id, self.place != "stack"
        net.var(f"{i}.side", ATMOSPHERE, "Pa")
        places = ("unit",) if surface else ()
        if surface:
            gauge(
                net,
                f"{i}.pressure",
                f"{i}.side",
                6000,
                f"{self.name}: its gauge.",
                places,
                (charged - 500, charged + 50),
                against=self._served,
            )
        else:
            true_gauge(net, f"{i}.pressure", f"{i}.side", f"{self.name}: pressure at the bottles.", (), SECOND)
        meaning = f"{self.name}: nitrogen pressure by charging gauge; the precharge only when isolated and bled."
        reading(net, f"{i}.precharge", "psi", 0, 6000, meaning, places)
        reading(net, f"{i}.gas_temperature", "degF", -150, 300, f"{self.name}: gas temperature.", ())
        reading(net, f"{i}.fluid", "gal", 0, 2000, f"{self.name}: fluid in the bottles.", ())
        net.block(
            fluid_side,
            inputs=dict(p=f"{i}.p", v=f"{i}.v", last=0.2 * LAST * shell),
            outputs=dict(side=f"{i}.side"),
            rate="observe",
        )
        net.block(
            bank_seen,
            inputs=under(i, "p", "t", "v"),
            outputs=under(i, "precharge", "gas_temperature", "fluid"),
            rate="observe",
            gate=SECOND,
        )

    def _gas(self, net: Network, mass: float) -> None:
        i, n = self.id, self.name
        shows: tuple[str, ...] = (f"{i}.pressure", f"{i}.precharge", self._served)
        if self.place == "stack":
            shows = ("accumulator.pressure", "totaliser.count", "manifold_regulator.readback")
        for kind, title, remedy in (
            (
                "precharge_lost",
                f"{n}: nitrogen leaks from all bottles",
                "Isolate and bleed the bank, check each bottle's precharge, recharge with nitrogen only.",
            ),
            (
                "bottle_lost",
                f"{n}: one bottle has lost its precharge",
                "Isolate and bleed the bank, find the bottle by its precharge, replace the bladder; nitrogen only.",
            ),
            (
                "over_precharged",
                f"{n}: precharged too high, holds too little fluid",
                "Isolate and bleed the bank, let nitrogen off to the right precharge for its temperature and depth.",
            ),
        ):
            component_fault(net, i, kind, title, shows, remedy)
        net.block(
            gas_left,
            inputs=dict(
                mass=mass,
                lost=f"fault.{i}.precharge_lost",
                one=f"fault.{i}.bottle_lost",
                over=f"fault.{i}.over_precharged",
                share=1.0 / self.bottles,
            ),
            states=dict(gas=f"{i}.gas"),
            gate=SECOND,
        )
        if self.place != "stack":
            service(
                net,
                f"{i}.charge_nitrogen",
                f"{n}: check and set the precharge of every bottle.",
                (f"{i}.precharge_lost", f"{i}.bottle_lost", f"{i}.over_precharged"),
                ((f"{i}.gas", mass),),
                needs(
                    ((f"{i}.isolation", is_shut), (f"{i}.bleed", lambda x: not is_shut(x)), (f"{i}.side", bled_down)),
                    f"Isolate {n.lower()} and bleed it to nothing before touching the nitrogen.",
                ),
            )

    def _outlets(self, net: Network, shell: float) -> None:
        """Bleed and relief back to the tank: computed only while one of them passes."""
        i, group = self.id, net.group(f"{self.id}.spill", awake=0.0)
        hand_valve(net, f"{i}.bleed", f"{self.name}: bleed valve to tank.", 0.0)
        shows = (f"{i}.pressure", self._served, "pilot_filter.dp" if self.place == "pilot" else "tank.level")
        passing = component_fault(
            net,
            i,
            "bleed_leaks",
            f"{self.name}: bleed valve passes",
            shows,
            "Pressure falls without a flow count: isolate bank by bank until it stops; replace the bleed valve.",
        )
        early = component_fault(
            net,
            i,
            "relief_early",
            f"{self.name}: relief valve lifts early",
            shows,
            "Isolate the bank and see the fall stop; reset or replace its relief valve.",
        )
        net.edge(
            f"{i}.bleeding",
            i,
            "tank",
            bled,
            dict(k=BLEED * max(shell, 1.0), bleed=f"{i}.bleed", passing=passing, fluid=f"{i}.v", last=LAST * shell),
            group=group,
        )
        net.edge(
            f"{i}.relief",
            i,
            "tank",
            bank_relief,
            dict(k=RELIEF_K, opens=self.relief_pressure, early=early),
            group=group,
        )
        seen = f"{self.name}: its relief valve, as seen and heard at it."
        state_reading(net, f"{i}.relief_passing", RELIEF, seen, ("unit",))
        net.block(
            weeps,
            inputs=dict(q=f"{i}.relief.q", awake=f"{group}.awake"),
            outputs=dict(seen=f"{i}.relief_passing"),
            rate="observe",
            gate=SECOND,
        )
        net.block(
            spills,
            inputs=dict(bleed=f"{i}.bleed", passing=passing, early=early, p=f"{i}.p", opens=self.relief_pressure),
            outputs=dict(awake=f"{group}.awake"),
        )


def bled_down(pressure: float) -> bool:
    """Whether a gauge on this pressure, Pa absolute, reads next to nothing, so that a part may be opened."""
    return pressure < ATMOSPHERE + NO_PRESSURE


def isolated_port(
    pu: Pressure, pd: Pressure, k: Coefficient, isolation: Number, fluid: Volume, last: Volume
) -> tuple[float, float, float]:
    """The bottles' common port behind the bank's isolation valve: flow in m3/s, its slopes to both pressures."""
    q, gu, gd = bottle_port(pu, pd, k * isolation, fluid, last)
    return q, gu, gd


def bled(
    pu: Pressure, pd: Pressure, k: Coefficient, bleed: Number, passing: Number, fluid: Volume, last: Volume
) -> tuple[float, float, float]:
    """The bank's bleed valve back to the tank, open or passing though shut."""
    q, gu, gd = drain(pu, pd, k * max(bleed, PASSING * passing), fluid, last)
    return q, gu, gd


def bank_relief(
    pu: Pressure, pd: Pressure, k: Coefficient, opens: Pressure, early: Number
) -> tuple[float, float, float]:
    """The bank's relief valve; at full severity of its fault it lifts at 70 % of its setting."""
    q, gu, gd = relief(pu, pd, k, opens * (1.0 - 0.3 * early), 0.05 * opens)
    return q, gu, gd


@gives("seen")
def weeps(q: Flow, awake: Number) -> Number:
    """1 where so much passes a relief valve that it is seen and heard."""
    return 1.0 if awake > 0.5 and q > WEEPS else 0.0


@gives("awake")
def spills(bleed: Number, passing: Number, early: Number, p: Pressure, opens: Pressure) -> Number:
    """1 while the bleed or the relief valve may pass, so that the way to the tank is computed at all; else 0."""
    return 1.0 if bleed > 0.0 or passing > 0.0 or early > 0.0 or p > opens else 0.0


@gives("gas")
def gas_left(gas: Mass, mass: Mass, lost: Number, one: Number, over: Number, share: Number) -> Mass:
    """Nitrogen in the bank (kg) as it leaks or is overfilled, over ``GAS_TIME``; what leaked does not come back."""
    kept = mass * (1.0 - 0.75 * lost) * (1.0 - share * one)
    down = gas - max(gas - kept, 0.0) * (PERIOD / GAS_TIME)
    up = max(mass * (1.0 + 0.25 * over) - gas, 0.0) * (PERIOD / GAS_TIME)
    return (gas + up) if over > 0.0 else down


@gives("side")
def fluid_side(p: Pressure, v: Volume, last: Volume) -> Pressure:
    """Pressure at the bottles' port (Pa absolute): the gas's, but none once they are empty of fluid."""
    return ATMOSPHERE + (p - ATMOSPHERE) * min(max(v / last, 0.0), 1.0)


@gives("precharge", "gas_temperature", "fluid")
def bank_seen(p: Pressure, t: Temperature, v: Volume) -> tuple[Pressure, Temperature, Volume]:
    """Nitrogen pressure (Pa gauge) and temperature (K), fluid held (m3)."""
    return p - ATMOSPHERE, t, v
