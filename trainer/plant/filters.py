"""Filters: parallel pump-discharge filters with isolation valves, so that one is cleaned while the other works, and
the fine filter of the pilot supply.

A clean element drops ``CLEAN_DROP`` at ``CLEAN_FLOW``; dirt comes with what flows through, faster from a tank in which
bacteria grow, and cuts the flow coefficient. The gauge reads the difference.

A housing between shut valves keeps its pressure until its bleed valve is opened. Who opens it before is hurt: the plant
lets them, and keeps that as ``injury``.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.laws import opened, orifice
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import INJURY, Refusal
from trainer.plant.base import PSI, Component, choice, component_fault, reading, state_reading, true_gauge
from trainer.plant.handwork import NO_PRESSURE, PERIOD, SECOND, SHUT, hand_valve, is_shut, needs, service, unlocked
from trainer.units import Coefficient, Flow, Number, Pressure, between
from trainer.wording import amount, worded

CLEAN_FLOW = 1.9e-3
"""m3/s (30 gpm) at which a clean element drops CLEAN_DROP. Common practice for a high-pressure element."""
CLEAN_DROP = 10.0 * PSI
"""Pa across a clean element at CLEAN_FLOW: common practice."""
PILOT_K = 4.0e-7
"""m3/(s sqrt(Pa)) of a clean pilot element, 0.53 Cv. Invented; small beside the main one."""
LIFE = 400.0
"""m3 of clean fluid until an element is spent. Invented."""
BOTH = "both valves"
BLEED_K = 4.0e-8
"""m3/(s sqrt(Pa)) of a housing's bleed valve, 0.05 Cv: a needle valve of 1/4 in. Invented."""
BLED = 0.6
"""Share of a shut housing's pressure that its open bleed valve lets off in a second. Invented."""


class Filter(Component):
    """One filter: between ``supply`` and ``header``, or (``place`` pilot) before the pilot supply's check valve."""

    rating_micron: float = Field(gt=0, le=1000)
    in_use: bool = True
    place: Literal["discharge", "pilot"] = "discharge"
    capacity: Annotated[Coefficient, between("0.02 Cv", "200 Cv")] | None = None
    """Flow coefficient of the clean element; none: ``CLEAN_DROP`` at ``CLEAN_FLOW``, or a pilot filter's 0.53 Cv."""

    @property
    def fittings(self) -> tuple[tuple[str, str, str], ...]:
        """What belongs to it and has a card of its own: the end of its name, its card, and what it is in words."""
        return ((".isolation", "filter_isolation", "isolation"),)

    @property
    def k(self) -> float:
        """Flow coefficient of the clean element, m3/(s sqrt(Pa)): the file's, or what its place usually needs."""
        return self.capacity or (PILOT_K if self.place == "pilot" else CLEAN_FLOW / CLEAN_DROP**0.5)

    def build(self, net: Network) -> None:
        """Add the filter, its valves and its differential-pressure gauge."""
        i, start = self.id, 1.0 if self.in_use else 0.0
        shown = f"{self.name}: pressure drop across the {self.rating_micron:g}-micron element."
        reading(net, f"{i}.dp", "psi", 0, 100, shown, ("unit",), (0, 35))
        reading(net, f"{i}.dirt", "%", 0, 100, f"{self.name}: how loaded the element is.", ())
        net.var(f"{i}.k", self.k * start, "m3/(s sqrt(Pa))")
        sides = {end: f"{self.name}, valve {end}" for end in ("upstream", "downstream")}
        for end, name in sides.items():
            hand_valve(net, f"{i}.{end}", f"{self.name}: valve {end}.", start, locks=name)
        self._housing(net)
        state_reading(net, f"{i}.isolation", SHUT, f"{self.name}: open when both its valves are.", ("unit",), start)
        meaning = f"{self.name}: turn {BOTH}, up and downstream."
        locks = unlocked(*((f"{i}.{end}_lock", name) for end, name in sides.items()))
        choice(net, f"{i}.isolation", SHUT, meaning, ("unit",), guard=locks, then=self._both)
        component_fault(
            net,
            i,
            "blocked",
            f"{self.name}: element loaded with dirt",
            (f"{i}.dp", "pilot.pressure" if self.place == "pilot" else "supply.pressure"),
            "Bring the clean filter into use, isolate and bleed this one, change the element.",
        )
        service(
            net,
            f"{i}.change_element",
            f"{self.name}: change the element.",
            (f"{i}.blocked",),
            ((f"{i}.dirt", 0.0),),
            self._may_open,
        )
        if self.place == "discharge":
            flow = net.edge(f"{i}.through", "supply", "header", orifice, dict(k=f"{i}.k"))
        else:
            flow = "pilot_check.flow.q"
        net.block(
            loading,
            inputs=dict(
                q=flow,
                blocked=f"fault.{i}.blocked",
                upstream=f"{i}.upstream",
                downstream=f"{i}.downstream",
                clean=self.k,
                bacteria="mix.bacteria",
            ),
            states=dict(dirt=f"{i}.dirt"),
            outputs=under(i, "k", "isolation"),
            gate=SECOND,
        )
        net.block(filter_drop, inputs=dict(q=flow, k=f"{i}.k"), outputs=dict(dp=f"{i}.dp"), rate="observe")

    def _housing(self, net: Network) -> None:
        """Add the pressure in the housing, its gauge, its bleed valve to the tank, and who was hurt by opening it."""
        i, group = self.id, net.group(f"{self.id}.spill", awake=0.0)
        ends = ("supply", "header") if self.place == "discharge" else ("header", "pilot_supply")
        hand_valve(net, f"{i}.bleed", f"{self.name}: bleed valve of its housing, to tank.", 0.0)
        true_gauge(net, f"{i}.pressure", f"{i}.side", f"{self.name}: pressure in its housing.", ("unit",), SECOND)
        meaning = f"{self.name}: a crew member was hurt by opening it under pressure."
        state_reading(net, f"{i}.injury", ("no", "yes"), meaning)
        net.var(f"{i}.side", ATMOSPHERE, "Pa")
        for end in ("in", "out"):
            net.var(f"{i}.bled_{end}", 0.0)
        net.block(
            housing_side,
            inputs=dict(before=f"{ends[0]}.p", after=f"{ends[1]}.p", **under(i, "upstream", "downstream", "bleed")),
            states=dict(side=f"{i}.side"),
            outputs=dict(bled_in=f"{i}.bled_in", bled_out=f"{i}.bled_out", awake=f"{group}.awake"),
            gate=SECOND,
        )
        for end, node in zip(("in", "out"), ends, strict=True):
            x = f"{i}.bled_{end}"
            net.edge(f"{x}.flow", node, "tank", opened, dict(k=BLEED_K, x=x), group=group)

    def _may_open(self, machine: Variables, command: Order) -> Refusal | None:
        """Why the housing cannot be opened; opened under pressure it hurts whoever does it."""
        held = machine.read(f"{self.id}.side") - ATMOSPHERE
        if held > NO_PRESSURE:
            machine.put(f"{self.id}.injury", 1.0)
            return Refusal(
                INJURY,
                worded(
                    "Injury: {0} was opened with {1} in it. The jet went through glove and skin: a surgical emergency. "
                    "Isolate, lock, bleed, read zero, then open.",
                    self.name.lower(),
                    amount(held, "psi"),
                ),
            )
        why = f"Isolate {self.name.lower()} up and downstream before opening it."
        return needs(((f"{self.id}.upstream", is_shut), (f"{self.id}.downstream", is_shut)), why)(machine, command)

    def _both(self, machine: Variables, command: Order, value: int) -> None:
        machine.put(f"{self.id}.upstream", float(value))
        machine.put(f"{self.id}.downstream", float(value))


@gives("dirt", "k", "isolation")
def loading(
    dirt: Number, q: Flow, blocked: Number, upstream: Number, downstream: Number, clean: Coefficient, bacteria: Number
) -> tuple[Number, Coefficient, Number]:
    """Dirt (0 to 1) after a second's flow, the flow coefficient it leaves, and whether both valves are open.

    An element is spent after ``LIFE`` m3 of clean fluid; fully dirty it passes 3 % of its clean flow coefficient.
    """
    more = dirt + PERIOD * max(q, 0.0) * (1.0 + 4.0 * bacteria) / LIFE
    kept = min(more, 1.0)
    both = upstream * downstream
    left = 1.0 - 0.97 * min(kept + blocked, 1.0)
    return kept, clean * left * both, both


@gives("side", "bled_in", "bled_out", "awake")
def housing_side(
    side: Pressure, before: Pressure, after: Pressure, upstream: Number, downstream: Number, bleed: Number
) -> tuple[Pressure, Number, Number, Number]:
    """Pressure in the housing (Pa absolute) after a second, by which open valve its bleed is fed, and 1 if it is.

    Between shut valves it keeps its pressure; with the bleed open ``BLED`` of it goes each second.
    """
    fed = max(before * upstream, after * downstream)
    kept = ATMOSPHERE + (side - ATMOSPHERE) * (1.0 - BLED * bleed)
    into = upstream * bleed
    back = downstream * (1.0 - upstream) * bleed
    return (fed if fed > 0.0 else kept), into, back, max(into, back)


@gives("dp")
def filter_drop(q: Flow, k: Coefficient) -> Pressure:
    """What the differential gauge reads, Pa, from the flow through the element."""
    lost = max(q, 0.0) / k if k > 0.0 else 0.0
    return min(lost * lost, 2.5e7)
