"""Functions: each a four-way valve at the surface and a double-acting piston, with what lies between.

What lies between is the *feed*: pilot lines and valves in two pods (``trainer.plant.piloted``), or a hose straight from
the unit (``trainer.plant.direct``). The panel's lamp is a pressure switch at the *surface*: it tells that a pilot was
sent, not that anything moved.

A function with settled lines sleeps (see ``trainer.hydraulics.network``): it wakes when its valve, its supply, the well
or a fault disturbs it by more than the network's ``wake``. Its own logic runs only while ``<id>.attend`` is on.
"""

from __future__ import annotations

from functools import partial
from math import sqrt
from typing import Annotated, Literal, Protocol

from pydantic import Field

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.laws import orifice
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import under
from trainer.hydraulics.refusal import Refusal
from trainer.hydraulics.storage import Line
from trainer.plant.base import PSI, Component, Guard, choice, component_fault, reading, run_down, state_reading
from trainer.plant.function_laws import held_piston, lamps, leak_out, pulse, stroke, truth
from trainer.units import Coefficient, Force, Length, Number, Pressure, Volume, between, from_unit

Row = tuple[str, str, tuple[str, ...], str]
COUNT = ("totaliser.count", "totaliser.flow", "accumulator.pressure", "tank.level")
GATE = ("diverter.flow", "well.flow_out", "accumulator.pressure", "tank.level")
"""A valve of the diverter takes a few gallons past the totaliser: the way of the mud tells more than the header."""
BY_COUNT = "Judge by count, read-back and return flow, never by the lamp."


def rows(function: Function, feed: Feed) -> list[Row]:
    """Every fault of this function: kind, title, what shows it, remedy."""
    i = function.id
    lamp = (f"{i}.lamp_close", f"{i}.lamp_open")
    lost = feed.lost_to
    found: list[Row] = [
        (
            "leak_close",
            f"closing chamber leaks {lost}",
            COUNT,
            "Count runs on after the function has moved: put it to block, find the leak, plan the repair.",
        ),
        (
            "leak_open",
            f"opening chamber leaks {lost}",
            COUNT,
            "Count runs on with the function open: put it to block, find the leak, plan the repair.",
        ),
        (
            "piston_bypass",
            "piston seals pass fluid from one chamber to the other",
            COUNT,
            "Count runs on in open and in close and stops in block; have the piston seals replaced.",
        ),
        _stuck(function),
        *feed.valve_faults(lamp),
        ("lamp_burnt", "lamps do not light", lamp, "Lamp test; change the bulbs. " + BY_COUNT),
        ("switch_stuck", "pressure switch stuck, lamp says closed", (*lamp, *COUNT), BY_COUNT + " Change the switch."),
        ("switch_dead", "pressure switch dead, no close lamp", (*lamp, *COUNT), BY_COUNT + " Change the switch."),
    ]
    return [*found, *_of_kind(function), *feed.fault_kinds]


def _stuck(function: Function) -> Row:
    """A piston that does not move: seen by the count, or at the diverter by the way that the mud takes."""
    if function.kind == "diverter_valve":
        return "stuck", "piston does not move", GATE, "The mud still takes its old way: divert to the other side."
    return "stuck", "piston does not move", COUNT, "Count and read-back show no movement: use another function."


def _of_kind(function: Function) -> list[Row]:
    """What only this kind of function can suffer."""
    well = ("well.flow_out", "well.casing_pressure", "well.pit_gain")
    tables: dict[str, list[Row]] = {
        "annular": [
            (
                "seal_worn",
                "packing element worn: leaks under pressure",
                well,
                "Raise the annular regulator a little; close a pipe ram; replace the element.",
            ),
        ],
        "pipe_ram": [
            (
                "seal_worn",
                "ram packers worn: leak under pressure",
                well,
                "Close another ram below; replace the packers.",
            ),
        ],
        "shear_ram": [
            (
                "seal_worn",
                "ram packers worn: leak under pressure",
                (*well, "well.kill_pressure"),
                "Close another ram; replace the packers.",
            ),
            (
                "blunt",
                "shear blades blunt: need 1.5 times the pressure",
                COUNT,
                "Raise the manifold regulator to its full pressure; replace the blades.",
            ),
        ],
        "failsafe_valve": [
            (
                "spring_broken",
                "closing spring broken: stays open without pressure",
                (*COUNT, *well),
                "Put it to close instead of block; close the other valve of the pair; replace the spring.",
            ),
        ],
        "connector": [
            (
                "not_home",
                "dogs do not engage fully",
                COUNT,
                "Compare the count with the full volume; lock again at higher pressure; never pull on it.",
            ),
        ],
        "lock": [
            (
                "slips",
                "locks do not engage fully",
                COUNT,
                "Compare the count with the full volume; keep closing pressure on the rams.",
            ),
        ],
    }
    found = tables.get(function.kind, [])
    return found if function.seals else [row for row in found if row[0] != "seal_worn"]


def add_faults(net: Network, function: Function, feed: Feed) -> None:
    """Publish the function's faults with what shows each and what the crew does about it."""
    for kind, title, shows, remedy in rows(function, feed):
        component_fault(net, function.id, kind, f"{function.name}: {title}", shows, remedy)


WAYS = ("block", "open", "close")
YES = ("no", "yes")
# A valve moves for 0.3 s; resting pilot lines answer a neighbour's for a little longer.
STIR = 0.5
CHAMBER_WALLS = 1.5e9
"""What a chamber's walls and seals give, as a modulus (Pa), beside the fluid's own. Invented."""
AT_DROP: float = 450.0 * PSI
"""Pressure across valve and ports, Pa, at which a kind's usual ports make the time of ``STROKE``. Common practice."""
LEAK_K = 1.5e-7
"""m3/(s sqrt(Pa)) of the worst leak past a seal, 0.2 Cv. Invented."""
AIR_NEEDED = 50.0 * PSI
"""Pa without which a panel cannot shift a control valve: common practice for pilot air."""

Kind = Literal[
    "annular",
    "pipe_ram",
    "shear_ram",
    "failsafe_valve",
    "connector",
    "unlatch",
    "lock",
    "valve",
    "diverter_packer",
    "diverter_valve",
]

STROKE: dict[str, float] = {
    "annular": 14.0,
    "pipe_ram": 9.0,
    "shear_ram": 12.0,
    "failsafe_valve": 1.5,
    "connector": 8.0,
    "unlatch": 8.0,
    "lock": 6.0,
    "valve": 2.0,
    "diverter_packer": 12.0,
    "diverter_valve": 4.0,
}
GALLON = from_unit(1.0, "gal")
"""m3 in a US gallon; the volumes below are in its multiples."""
PORTS: dict[str, float] = {
    "annular": 44.0 * GALLON,
    "pipe_ram": 17.0 * GALLON,
    "shear_ram": 27.0 * GALLON,
    "failsafe_valve": 0.6 * GALLON,
    "connector": 9.0 * GALLON,
    "unlatch": 9.0 * GALLON,
    "lock": 2.0 * GALLON,
    "valve": 0.6 * GALLON,
    "diverter_packer": 18.0 * GALLON,
    "diverter_valve": 1.2 * GALLON,
}
"""Closing volume (m3) that the usual ports of a kind fill in its time of ``STROKE``: a larger one takes longer.
Invented, after the demonstration stack."""
RAMS = ("pipe_ram", "shear_ram")


class Feed(Protocol):
    """What brings pressure to a function's two chambers: a hose from the unit, or pods on the stack."""

    @property
    def outside(self) -> float:
        """Absolute pressure around the piston, Pa: the sea's at the stack's depth, or the atmosphere."""
        ...

    @property
    def outside_node(self) -> str:
        """Name of the network's boundary to which a leak outward goes: sea or ground."""
        ...

    @property
    def lost_to(self) -> str:
        """Where a leak outward goes, in the words of a fault's title, such as 'to sea'."""
        ...

    @property
    def stations(self) -> tuple[str, ...]:
        """Ids of the stations from which functions so fed are ordered open, to block or closed."""
        ...

    def without_panels(self, name: str) -> Refusal:
        """Why a panel without power cannot work the function of this name, and what is left to do with it."""
        ...

    @property
    def lamp_by(self) -> str:
        """What lights a function's lamps, in words: a switch at the unit, or an answer from below."""
        ...

    def stands(self, function: Function) -> tuple[str, tuple[str, ...]]: ...

    def valve_faults(self, lamps: tuple[str, ...]) -> tuple[Row, ...]: ...

    def valve(self, net: Network, function: Function) -> None: ...

    def loses(self, machine: Variables, function: Function, command: Order) -> bool: ...

    @property
    def fault_kinds(self) -> tuple[tuple[str, str, tuple[str, ...], str], ...]:
        """Kind, title after the function's name, what shows it, remedy."""
        ...

    def start(self, function: Function, way: str) -> float:
        """Pressure of the chamber of one ``way`` (open or close) at the start, Pa absolute, for ``Network.node``."""
        ...

    def attend(self, net: Network, function: Function) -> None: ...

    def lines(self, net: Network, function: Function) -> None: ...

    def chamber(self, net: Network, function: Function, way: str, k: float) -> None: ...

    def wake(self, net: Network, function: Function) -> None: ...

    def switches(self, net: Network, function: Function) -> tuple[str, str]: ...


class Function(Component):
    """One function. Volumes are of the piston, to close and to open; both ratios are against wellbore pressure.

    ``control`` and ``place`` say how it is fed and what part it stands on: the lower stack, the lower riser package
    (which leaves with the riser), a pod's own connector, or the diverter under the rig floor.
    """

    kind: Kind
    supply: str = Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=20)
    place: Literal["stack", "riser_package", "pod", "diverter"] = "stack"
    close_volume: Annotated[Volume, between("0.05 gal", "200 gal")]
    open_volume: Annotated[Volume, between("0.05 gal", "200 gal")]
    closing_ratio: float = Field(default=8.0, gt=1.0, le=60.0)
    opening_ratio: float = Field(default=3.0, gt=0.5, le=60.0)
    critical: bool = False
    seals: bool = True
    line: Literal["", "choke", "kill"] = ""
    capacity: Annotated[Coefficient, between("0.02 Cv", "100 Cv")] | None = None
    """Flow coefficient of valve and ports; none: those of its kind (``STROKE`` and ``PORTS``)."""
    shear_pressure: Annotated[Pressure, between("0 psi", "10000 psi")] = Field(default=1900.0 * PSI)
    collar_factor: float = Field(default=3.0, ge=1.0, le=20.0)
    below: Annotated[Length, between("-60 ft", "60 ft")] = 0.0
    """Height of a preventer or of a line's outlet: under the upper pipe ram; above it is negative."""
    block_height: Annotated[Length, between("4 in", "40 in")] = from_unit(19.4, "in")
    """Height of the blocks that close round the pipe."""
    bears: Annotated[Force, between("0 klbf", "1500 klbf")] = 0.0
    """Weight of the string that may hang on this ram; none: it is not made to bear it."""
    friction: Annotated[Pressure, between("0 psi", "1000 psi")] = Field(default=60.0 * PSI)
    spring: Annotated[Pressure, between("0 psi", "2000 psi")] = Field(default=350.0 * PSI)
    starts: Literal["open", "close"] = "open"
    locks: tuple[str, ...] = ()
    isolates: str = ""
    joins: str = ""
    releases: str = ""
    """The connector that a second piston drives open, which has a circuit of its own."""

    @property
    def card(self) -> str:
        """Name of the table in ``assets/text`` that describes its kind; a valve on a line has one of its own."""
        return "line_valve" if self.kind == "valve" and self.line else self.kind

    @property
    def ratio(self) -> float:
        """Opening area over closing area of its piston, from the volumes of its two chambers; no unit."""
        return self.open_volume / self.close_volume

    @property
    def rated_stroke(self) -> float:
        """Time of the stroke with ``AT_DROP`` across valve and ports, s."""
        return self.close_volume / self.nominal

    @property
    def nominal(self) -> float:
        """Flow through valve and ports with ``AT_DROP`` across them, m3/s."""
        return self.k * sqrt(AT_DROP)

    @property
    def k(self) -> float:
        """Flow coefficient of its valve and ports, m3/(s sqrt(Pa)): declared, or what strokes it in its kind's usual
        time."""
        return self.capacity or PORTS[self.kind] / STROKE[self.kind] / sqrt(AT_DROP)

    @property
    def at_start(self) -> float:
        """Where the surface valve stands at the start, an index of ``WAYS``."""
        return 2.0 if self.starts == "close" else 1.0

    def fault(self, kind: str) -> str:
        """Name of the variable with the severity, 0 to 1, of one of its faults."""
        return f"fault.{self.id}.{kind}"

    def build(self, net: Network, feed: Feed, interlocks: dict[str, list[Guard]]) -> None:
        """Add the function: valve, feed, chambers and piston, readings, commands and faults. Its mechanics follow.

        ``interlocks`` may gain checks of the function's commands, by its id, until the machine runs.
        """
        i = self.id
        net.var(f"{i}.attend", 1.0)
        self._variables(net, feed)
        add_faults(net, self, feed)
        feed.attend(net, self)
        self._surface(net, feed, interlocks.setdefault(i, []))
        feed.lines(net, self)
        self._piston(net, feed)

    def finish(self, net: Network, feed: Feed) -> None:
        """Add what comes after the mechanics: sleeping, truth and lamps."""
        feed.wake(net, self)
        self._truth(net, feed)
        self._lamps(net, feed)

    def _variables(self, net: Network, feed: Feed) -> None:
        i = self.id
        net.var(f"{i}.x", 1.0 if self.starts == "close" else 0.0)
        net.var(f"{i}.against", feed.outside * (1.0 - self.ratio), "Pa")
        net.var(f"{i}.limit", 1.0)
        net.var(f"{i}.held", 0.0)
        net.var(f"{i}.wanted", self.at_start)
        net.var(f"{i}.open_way", 1.0 if self.at_start == 1.0 else 0.0)
        net.var(f"{i}.close_way", 1.0 if self.at_start == 2.0 else 0.0)

    def _surface(self, net: Network, feed: Feed, interlocks: list[Guard]) -> None:
        i = self.id

        def guard(machine: Variables, command: Order) -> Refusal | None:
            own: Guard = partial(self._guard, feed)
            for check in (own, *interlocks):
                refusal = check(machine, command)
                if refusal:
                    return refusal
            return None

        meaning, seen_at = feed.stands(self)
        state_reading(net, f"{i}.valve", WAYS, meaning, seen_at, self.at_start)
        feed.valve(net, self)
        choice(
            net,
            i,
            WAYS,
            f"{self.name}: open, block or close.",
            feed.stations,
            f"{i}.wanted",
            guard=guard,
            critical=self.critical,
            then=partial(self._shift, feed),
        )

    def _guard(self, feed: Feed, machine: Variables, command: Order) -> Refusal | None:
        if command.from_ == "unit":
            return None
        dead = None
        if machine.read("panel.power") < 0.5:
            dead = feed.without_panels(self.name.lower())
        return self.refuses(machine, command, dead)

    def refuses(self, machine: Variables, command: Order, dead: Refusal | None) -> Refusal | None:
        """Why a panel cannot give it this order, ``dead`` when the panel has no supply; None when it can."""
        if "eds.running" in machine.index and machine.read("eds.running") > 0.5:
            return Refusal(
                "locked_out",
                "The emergency disconnect sequence is running: the panels are locked out until it ends.",
            )
        if dead is not None:
            return dead
        if self.critical and machine.read("driller.enable") <= 0.0 and command.value != "block":
            return Refusal(
                "not_enabled",
                f"{self.name} is a critical function: press enable first, then the button within five seconds.",
            )
        return None

    def _shift(self, feed: Feed, machine: Variables, command: Order, way: int) -> None:
        # An order that is lost on its way leaves the valve where it was, without a word from the panel.
        if not feed.loses(machine, self, command):
            machine.put(f"{self.id}.valve", float(way))
            machine.put("functions.stir", STIR)

    def _piston(self, net: Network, feed: Feed) -> None:
        i, group = self.id, f"{self.id}.power"
        net.group(group, f"{i}.attend")
        k = self.k
        for way in ("open", "close"):
            feed.chamber(net, self, way, k)
            leak, outside = f"leak_{way}", feed.outside_node
            net.edge(
                f"{i}.{way}.leak",
                f"{i}.{way}",
                outside,
                leak_out,
                dict(k=LEAK_K, severity=self.fault(leak)),
                group=group,
                fault=f"{i}.{leak}",
            )
        net.edge(
            f"{i}.bypass",
            f"{i}.close",
            f"{i}.open",
            past_piston,
            dict(k=LEAK_K, severity=self.fault("piston_bypass")),
            group=group,
            fault=f"{i}.piston_bypass",
        )
        net.edge(
            f"{i}.piston",
            f"{i}.close",
            f"{i}.open",
            held_piston,
            dict(
                **under(i, "against", "x", "limit"),
                g=self.nominal / (60.0 * PSI),
                ratio=self.ratio,
                friction=self.friction,
                cushion=0.01,
                room=self.close_volume / net.tick,
                stuck=self.fault("stuck"),
                locked=f"{i}.held",
            ),
            ratio=self.ratio,
            group=group,
        )
        share = net.tick / self.close_volume
        net.block(
            stroke, inputs=dict(q=f"{i}.piston.q", share=share), states=dict(x=f"{i}.x"), rate="after", group=group
        )
        net.stroke(f"{i}.x", self.close_volume, self.open_volume)

    def chamber_line(self, volume: float, start: float, modulus: float) -> Line:
        """A chamber's dead volume with ``volume`` m3 of line before it."""
        return Line(0.1 * self.close_volume + 1.0e-3 + volume, modulus, start)

    def _truth(self, net: Network, feed: Feed) -> None:
        i = self.id
        reading(net, f"{i}.position", "%", 0, 100, f"{self.name}: how far closed.", (), None, self.at_start - 1.0)
        state_reading(net, f"{i}.closed", YES, f"{self.name} is fully closed.", ())
        state_reading(net, f"{i}.opened", YES, f"{self.name} is fully open.", ())
        for way in ("close", "open"):
            meaning = f"{self.name}: {way} chamber above the pressure around it."
            reading(net, f"{i}.{way}_pressure", "psi", -1000, 6000, meaning, ())
        least = 0.4 if self.kind in ("annular", "diverter_packer") else 0.97
        net.block(
            truth,
            inputs=dict(
                x=f"{i}.x", limit=f"{i}.limit", least=least, pc=f"{i}.close.p", po=f"{i}.open.p", outside=feed.outside
            ),
            outputs=under(i, "position", "closed", "opened", "close_pressure", "open_pressure"),
            rate="observe",
            gate=f"{i}.attend",
        )

    def _lamps(self, net: Network, feed: Feed) -> None:
        i = self.id
        for way in ("open", "block", "close"):
            meaning = f"{self.name}: {way} lamp, {feed.lamp_by}."
            state_reading(net, f"{i}.lamp_{way}", ("off", "on"), meaning, ("driller", "remote"))
        near_open, near_close = feed.switches(net, self)
        net.block(
            lamps,
            inputs=dict(
                near_open=near_open,
                near_close=near_close,
                power="panel.power",
                test="driller.lamp_test",
                burnt=self.fault("lamp_burnt"),
                stuck=self.fault("switch_stuck"),
                dead=self.fault("switch_dead"),
            ),
            outputs=under(i, "lamp_open", "lamp_block", "lamp_close"),
            rate="observe",
            gate=f"{i}.attend",
        )


def past_piston(pu: Pressure, pd: Pressure, k: Coefficient, severity: Number) -> tuple[float, float, float]:
    """Flow past worn piston seals from the fuller chamber to the other, ``k`` at full severity."""
    q, gu, gd = orifice(pu, pd, k * severity)
    return q, gu, gd


def build_stirs(net: Network) -> None:
    """Add what wakes functions: ``functions.stir``, a timer that runs while any function's valve moves (every resting
    pilot line is a reservoir to its neighbours), and ``lamps.stir``, on in a scan in which the panels' power or the
    lamp test changed.
    """
    net.var("functions.stir", STIR, "s")
    net.block(run_down, inputs=dict(scan=SCAN), states=dict(left="functions.stir"))
    for name, unit in (("lamps.stir", "1"), ("lamps.seen_power", "1"), ("lamps.seen_test", "s")):
        net.var(name, 0.0, unit)
    net.block(
        pulse,
        inputs=dict(now=["panel.power", "driller.lamp_test"]),
        states=dict(seen=["lamps.seen_power", "lamps.seen_test"]),
        outputs=dict(stirs="lamps.stir"),
    )
