"""The vehicle's panel on the stack: a remotely operated vehicle stabs a port, turns its valve and pumps sea water in.

The last way to a ram when pods, deadman and acoustic are gone. Each port has a receptacle, a valve and a shuttle at the
closing chamber of its function, which shifts only when enough flows: a small pump leaks past it for ever. What a port
is labeled and what it feeds may differ, since stacks are changed and labels stay: the as-built list says which. Orders
are calls to the vehicle's crew; what comes back is the pump's pressure, flow and count.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated

from pydantic import Field

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.laws import opened
from trainer.hydraulics.lists import added, chosen
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.hydraulics.storage import Line
from trainer.plant.base import Component, Part, button, choice, component_fault, reading, state_reading
from trainer.plant.feeds import add_back_up, pod_ways
from trainer.plant.function_laws import SHUTTLE, leak_out
from trainer.plant.functions import STIR, Function
from trainer.plant.manifold import LITRE
from trainer.plant.selector import count
from trainer.units import Flow, Number, Pressure, Seconds, between, from_unit

VEHICLE = ("vehicle",)
PICTURE = ("nothing", "open", "part way", "closed")
BUILT = ("as labeled", "crossed")
VALVE = ("shut", "open")
PUMP = ("off", "on")
LEAST = from_unit(3.0, "gpm")
"""m3/s below which the shuttle of a port does not shift. Invented; too small pumps are known from public reports."""
SMALL = 0.04
"""Share of its flow that a pump gives whose fault is full: 1.5 of 37.3 gpm. Invented."""
BYPASS_K = 2.0e-6
"""m3/(s sqrt(Pa)) past a shuttle that has not shifted, 2.6 Cv. Invented."""
HOSE_K = 2.0e-5
"""m3/(s sqrt(Pa)) out of a hose that leaks at its worst, 26 Cv: half an inch torn off. Invented."""


class Port(Part):
    """A receptacle on the panel: what stands on its label, and the function that it feeds when all is as labeled."""

    label: str = Field(min_length=1, max_length=24)
    function: str


class Rov(Component):
    """The panel's ports and the vehicle's pump. ``crossed`` are the two ports, counted from 1, that may be changed."""

    pump: Annotated[Flow, between("0.5 gpm", "200 gpm")]
    most: Annotated[Pressure, between("500 psi", "10000 psi")]
    """Pressure over the sea's at which the pump stalls."""
    stab: Annotated[Seconds, between("5 s", "600 s")]
    """From one port to the next."""
    port: tuple[Port, ...] = Field(min_length=1, max_length=6)
    crossed: tuple[int, int] = (1, 1)
    look: tuple[str, ...] = Field(default=(), max_length=10)
    """The functions whose position marks the vehicle can see; of a connector closed is latched."""
    there: Annotated[Seconds, between("1 s", "600 s")] = 30.0
    """From one mark to the next."""

    def faults(self, functions: Sequence[Function]) -> list[str]:
        """What does not fit the stack, as sentences: ports with no function of the lower stack or one twice."""
        below = {f.id for f in functions if f.place == "stack"}
        names = [port.function for port in self.port]
        found = [f"[rov] feeds '{n}', which is no function of the lower stack" for n in names if n not in below]
        found += [f"[rov] feeds '{n}' by two ports; name it once" for n in sorted(set(names)) if names.count(n) > 1]
        known = {f.id for f in functions if f.place in ("stack", "riser_package")}
        found += [f"[rov] looks at '{n}', which is no function of the stack" for n in self.look if n not in known]
        if not all(1 <= one <= len(self.port) for one in self.crossed):
            found.append(f"[rov] has ports 1 to {len(self.port)}, and 'crossed' names another")
        return found

    def build(self, net: Network, functions: Mapping[str, Function], pods: Sequence[str], sea: float, modulus: float,
              emergency: str) -> None:  # fmt: skip
        """Add pump, hose, stab and the ports of ``functions``, with readings, orders and faults.

        ``sea`` is the sea's pressure (Pa absolute), ``modulus`` that of fluid and hose (Pa), and ``emergency`` the id
        of the bank that feeds some of the functions too, empty where there is none.
        """
        i = self.id
        self._orders(net)
        rate = net.var(f"{i}.rate", 0.0, "m3/s")
        small = component_fault(
            net, i, "small_pump", f"{self.name}: pump of the vehicle too small", (f"{i}.flow", f"{i}.pressure"),
            "It flows and no pressure builds up: the shuttle has not shifted. Change to a larger pump.",
        )  # fmt: skip
        hose = component_fault(
            net, i, "hose_leaks", f"{self.name}: hose of the hot stab leaks", (f"{i}.flow", f"{i}.pressure"),
            "It flows on after the ram's volume and no pressure builds up: pull the stab, replace the hose.",
        )  # fmt: skip
        full = net.var(f"{i}.full", self.pump, "m3/s")
        net.block(pumping, inputs=dict(full=full, on=f"{i}.pump", small=small), outputs=dict(rate=rate))
        line = f"{i}.line"
        net.node(line, Line(8 * LITRE, modulus, sea))
        net.edge(f"{i}.pumped", "sea", line, vehicle_pump, dict(rate=rate, most=net.var(f"{i}.most", self.most, "Pa")))
        net.edge(f"{i}.hose", line, "sea", leak_out, dict(k=HOSE_K, severity=hose), fault=f"{i}.hose_leaks")
        past = [self._port(net, number, functions, pods, sea, emergency) for number in range(1, len(self.port) + 1)]
        net.var(f"{i}.past", 0.0)
        net.block(spill, inputs=dict(past=past, on=f"{i}.pump"), outputs=dict(x=f"{i}.past"), rate="tick")
        net.edge(f"{i}.bypass", line, "sea", opened, dict(k=BYPASS_K, x=f"{i}.past"))
        self._readings(net, sea)
        if self.look:
            self._looks(net, functions)

    def _looks(self, net: Network, functions: Mapping[str, Function]) -> None:
        """The vehicle's camera before a mark on the stack: what it is sent to look at, and what it sees there."""
        i, n, names = self.id, self.name, ("nothing", *self.look)
        state_reading(net, f"{i}.look", names, f"{n}: the mark that the vehicle is sent to look at.", VEHICLE)
        state_reading(net, f"{i}.picture", PICTURE, f"{n}: what its picture shows there.", VEHICLE)
        reading(net, f"{i}.look_left", "s", 0, 600, f"{n}: time until it is before the mark.", VEHICLE)
        net.var(f"{i}.looks_at", 0.0)

        def free(machine: Variables, command: Order) -> Refusal | None:
            if machine.read(f"{i}.port") > 0.5:
                return Refusal("stabbed", "The vehicle holds its stab in a port: pull it, then send it to look.")
            return None

        choice(net, f"{i}.look", names, f"{n}: send the vehicle to look at a mark.", VEHICLE, guard=free)
        marks = [f"{f}.ring" if f"{f}.ring" in net.variables else f"{f}.x" for f in self.look]
        limits = [f"{functions[f].id}.limit" for f in self.look]
        net.block(
            looking,
            inputs=dict(port=f"{i}.port", takes=self.there, scan=SCAN, marks=marks, limits=limits),
            states=dict(look=f"{i}.look", looks_at=f"{i}.looks_at", left=f"{i}.look_left"),
            outputs=dict(picture=f"{i}.picture"),
        )

    def _orders(self, net: Network) -> None:
        """The calls to the vehicle's crew: which port, its valve, the pump."""
        i, n = self.id, self.name
        ports = ("none", *(f"port {number}" for number in range(1, len(self.port) + 1)))
        state_reading(net, f"{i}.built", BUILT, f"{n}: whether two ports are changed against their labels.", ())
        net.block(changed_labels, inputs=dict(changed=net.var(f"{i}.changed")), outputs=dict(built=f"{i}.built"))
        state_reading(net, f"{i}.port", ports, f"{n}: the port that the vehicle is sent to.", VEHICLE)
        state_reading(net, f"{i}.stabbed", ports, f"{n}: the port that its stab is in.", VEHICLE)
        state_reading(net, f"{i}.valve", VALVE, f"{n}: valve of the port that it is at.", VEHICLE)
        state_reading(net, f"{i}.pump", PUMP, f"{n}: pump of the vehicle.", VEHICLE)
        reading(net, f"{i}.left", "s", 0, 600, f"{n}: time until the stab is in.", VEHICLE)
        net.var(f"{i}.sent", 0.0)
        choice(net, f"{i}.port", ports, f"{n}: send the vehicle to a port, or pull its stab.", VEHICLE)

        def stabbed(machine: Variables, command: Order) -> Refusal | None:
            if machine.read(f"{i}.stabbed") < 0.5:
                return Refusal("no_stab", "The stab is in no port: wait until the vehicle is there.")
            return None

        choice(net, f"{i}.valve", VALVE, f"{n}: valve of the port.", VEHICLE, guard=stabbed)
        choice(net, f"{i}.pump", PUMP, f"{n}: pump of the vehicle.", VEHICLE)
        net.block(
            stabbing,
            inputs=dict(wanted=f"{i}.port", takes=self.stab, scan=SCAN),
            states=under(i, "sent", "left", "stabbed", "valve", "pump"),
        )
        net.block(stirs_by_vehicle, inputs=dict(on=f"{i}.pump", fresh=STIR), states=dict(left="functions.stir"))

    def _port(
        self, net: Network, number: int, functions: Mapping[str, Function], pods: Sequence[str], sea: float, bank: str
    ) -> str:
        """One port with its shuttle at the function's closing chamber; gives how far it leaks past that shuttle."""
        i, function = self.id, functions[self.port[number - 1].function]
        f, node = function.id, f"{function.id}.close"
        first, second = self.crossed
        other = {first: second, second: first}.get(number, number)
        valve, past = net.var(f"{i}.{f}.x"), net.var(f"{i}.{f}.past")
        net.block(
            port_valve,
            inputs=dict(
                stabbed=f"{i}.stabbed", valve=f"{i}.valve", built=f"{i}.built", mine=float(number),
                crossed=float(other),
            ),
            outputs=dict(x=valve),
        )  # fmt: skip
        shuttle, through = net.var(f"{node}.shuttle_v", 0.0), net.var(f"{node}.from_v", 0.0)
        ways, pressures = pod_ways(function, pods)
        if f"{node}.from_e" in net.variables:
            ways, pressures = [*ways, f"{node}.from_e"], [*pressures, f"{bank}.line.p"]
        net.block(
            port_shuttle,
            inputs=dict(
                pressures=pressures, pc=f"{i}.line.p", xc=valve, sea=sea, rate=f"{i}.rate", least=LEAST,
            ),
            states=dict(shuttle=shuttle, ways=ways, vent=f"{node}.vent"),
            outputs=dict(through=through, past=past),
            rate="tick", group=f"{f}.power",
        )  # fmt: skip
        add_back_up(net, function, "vehicle", f"{i}.line", valve, shuttle, through)
        return past

    def _readings(self, net: Network, sea: float) -> None:
        """Pump pressure over the sea's, flow, and count since the stab went in, by the vehicle's own gauges."""
        i, n = self.id, self.name
        reading(net, f"{i}.pressure", "psi", 0, 6000, f"{n}: pump pressure above sea pressure.", VEHICLE)
        reading(net, f"{i}.flow", "gpm", 0, 200, f"{n}: flow of the vehicle's pump.", VEHICLE)
        reading(net, f"{i}.count", "gal", 0, 9999, f"{n}: pumped since the count was set back.", VEHICLE)
        flows = [f"{i}.pumped.q"]
        net.block(count, inputs=dict(flows=flows, tick=net.tick), states=dict(total=f"{i}.count"), rate="after")
        net.block(
            gauges, inputs=dict(p=f"{i}.line.p", sea=sea, q=f"{i}.pumped.q"),
            outputs=dict(pressure=f"{i}.pressure", flow=f"{i}.flow"), rate="observe",
        )  # fmt: skip

        def reset(machine: Variables) -> None:
            machine.put(f"{i}.count", 0.0)

        button(net, f"{i}.reset", f"{n}: set its count back to zero.", VEHICLE, reset)


@gives("sent", "left", "stabbed", "valve", "pump")
def stabbing(
    sent: Number,
    left: Seconds,
    stabbed: Number,
    valve: Number,
    pump: Number,
    wanted: Number,
    takes: Seconds,
    scan: Seconds,
) -> tuple[Number, Seconds, Number, Number, Number]:
    """Where the vehicle was sent, the time until its stab is in (s), the port it is in, and its valve and pump.

    Sent elsewhere it shuts valve and pump and pulls the stab first.
    """
    new = abs(wanted - sent) > 0.5
    rest = (takes if wanted > 0.5 else 0.0) if new else max(left - scan, 0.0)
    there = 0.0 if new or rest > 0.0 else wanted
    return wanted, rest, there, (0.0 if new else valve), (0.0 if new else pump)


@gives("look", "looks_at", "left", "picture")
def looking(
    look: Number,
    looks_at: Number,
    left: Seconds,
    port: Number,
    takes: Seconds,
    scan: Seconds,
    marks: list[Number],
    limits: list[Number],
) -> tuple[Number, Number, Seconds, Number]:
    """The mark that the vehicle looks at (0 none), what it was sent to, the time until it is there (s), and what it
    sees, an index of ``PICTURE``. A vehicle that is sent to a port looks no more.
    """
    wanted = 0.0 if port > 0.5 else look
    new = abs(wanted - looks_at) > 0.5
    rest = (takes if wanted > 0.5 else 0.0) if new else max(left - scan, 0.0)
    x, limit = chosen(marks, wanted), chosen(limits, wanted)
    stands = 1.0 if x < 0.03 else (3.0 if x > limit - 0.03 else 2.0)
    return wanted, wanted, rest, (stands if wanted > 0.5 and rest <= 0.0 else 0.0)


@gives("built")
def changed_labels(changed: Number) -> Number:
    """1 where two ports are changed against their labels (an index of ``BUILT``), by a number that a drill may give."""
    return 1.0 if changed > 0.5 else 0.0


@gives("rate")
def pumping(full: Flow, on: Number, small: Number) -> Flow:
    """Flow that the vehicle's pump can give, m3/s; a pump that is too ``small`` gives a share of it."""
    return full * on * (1.0 - (1.0 - SMALL) * small)


@gives("x")
def port_valve(stabbed: Number, valve: Number, built: Number, mine: Number, crossed: Number) -> Number:
    """1 while a function is open to the vehicle: its stab is in the port that really feeds it, and the valve open."""
    port = crossed if built > 0.5 else mine
    return 1.0 if abs(stabbed - port) < 0.5 and valve > 0.5 else 0.0


@gives("shuttle", "ways", "vent", "through", "past")
def port_shuttle(
    shuttle: Number,
    ways: list[Number],
    vent: Number,
    pressures: list[Pressure],
    pc: Pressure,
    xc: Number,
    sea: Pressure,
    rate: Flow,
    least: Flow,
) -> tuple[Number, list[Number], Number, Number, Number]:
    """The port's shuttle at a closing chamber: what is left of the other ways and the vent, the way from the port, and
    how far its flow leaks past while it has not shifted. It shifts to the port only when ``least`` or more flows.
    """
    out = sea + added([way * (p - sea) for way, p in zip(ways, pressures, strict=True)])
    out_c = sea + xc * (pc - sea)
    to = 1.0 if xc > 0.5 and rate >= least and pc + SHUTTLE > out else (0.0 if out > out_c + SHUTTLE else shuttle)
    return to, [way * (1.0 - to) for way in ways], vent * (1.0 - to), xc * to, xc * (1.0 - to)


def vehicle_pump(pu: Pressure, pd: Pressure, rate: Flow, most: Pressure) -> tuple[float, float, float]:
    """A pump that gives its rate up to nine tenths of ``most`` (Pa across it), and less from there until it stalls."""
    band = 0.1 * most
    share = (most - (pd - pu)) / band
    held = min(max(share, 0.0), 1.0)
    slope = rate / band if share > 0.0 and share < 1.0 else 0.0
    return rate * held, slope, slope


@gives("x")
def spill(past: list[Number], on: Number) -> Number:
    """How far the hose is open to the sea: past a shuttle that has not shifted, or through the bleed of a pump that
    stands."""
    return 1.0 if on < 0.5 or any(x > 0.5 for x in past) else 0.0


@gives("left")
def stirs_by_vehicle(left: Seconds, on: Number, fresh: Seconds) -> Seconds:
    """Seconds for which all functions look about them: ``fresh`` as long as the vehicle pumps."""
    return fresh if on > 0.5 else left


@gives("pressure", "flow")
def gauges(p: Pressure, sea: Pressure, q: Flow) -> tuple[Pressure, Flow]:
    """Pump pressure over the sea's (Pa) and flow (m3/s), by the vehicle's own gauges."""
    return p - sea, max(q, 0.0)
