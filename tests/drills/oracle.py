"""A judge of finished runs that knows nothing of the drills' rules: raw states of the plant, looked at every 100 ms.

It plays a run's log again on the plant, looks at what stands in each closing preventer, what moves, what is opened,
what comes in and what is lost, and says safe or unsafe with the reason; and whether the task was complete. It imports
neither ``trainer.drills`` nor a drill file. Geometry is worked out here anew, from the plant files' figures.

Sources: API RP 59 (contents list) and common practice for the shut-in; 30 CFR 250.734, .735, .738 for lines, locks and
equipment lost; Devereux, Practical Well Planning and Drilling Manual, p. 328, for the pressure that must be left. The
limits on numbers are this file's own where nothing else is said.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Any

from trainer import resources, units
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import OPERATE, Command
from trainer.session.session import Entry
from trainer.simulator import Session

PSI = 6894.757
BBL = 0.158987
FOOT = 0.3048
RPM = 1.0 / 60.0
SPM = 1.0 / 60.0

JOINT_REACH = 0.5
"""A tool joint's middle this near a ram (m) stands in its blocks: half a 20 in joint and half a 19.4 in block."""
OPEN = 0.01
"""Share of its stroke below which a preventer that was not sent does no harm."""
CONTACT = 0.6
"""Share of a preventer's stroke, m/m, past which it touches what stands in it."""
OUTLETS = {
    # Height of each outlet under the upper pipe ram, ft. 30 CFR 250.735 (d), (e): choke lines above the lowest ram that
    # holds the well, a kill line below at least one.
    "quillback": {
        "upper_inner_choke": -9.0,
        "lower_inner_choke": 6.0,
        "upper_inner_kill": -9.0,
        "lower_inner_kill": 12.0,
    },
    "sandpiper": {"choke_valve": 4.0, "kill_valve": 4.0},
    "wentletrap": {
        "upper_inner_choke": -11.0,
        "lower_inner_choke": 6.0,
        "upper_inner_kill": -11.0,
        "lower_inner_kill": 15.0,
    },
}
ANNULARS = {"upper_annular": -22.0, "lower_annular": -13.0, "annular": -6.0}
"""Height of annulars under the upper pipe ram, ft: above every ram."""
CLOSED = 0.05
"""Share of a preventer's stroke, m/m, short of its end from which it is closed."""
RUN_THROUGH = 3.2
"""Pipe that may slide through a closed preventer in one go, m, some 10 ft: landing a joint takes less. Stripping stands
apart."""
TO_SEAL = {"lamp-lies": 80.0, "surface-lamp-lies": 100.0, "kick-while-tripping": 100.0}
"""From the first flow until the well is sealed, s, in a complete run: where the order to close is given and the string
stands spaced out, or where the trip tank shows the flow at once; elsewhere four minutes, the sign coming later."""
HANG_OFF_RAM = "lower_pipe_ram"
DRILLING = {
    "kick-while-drilling",
    "annular-leaks-during-shut-in",
    "shut-in-on-stored-fluid",
    "kick-with-lost-pod",
    "surface-kick-while-drilling",
    "mux-kick",
}
LAMPS = {"lamp-lies", "surface-lamp-lies"}
GAS = {"shallow-gas-diverter", "surface-shallow-gas"}
KILLS = {"kill-drillers-method", "kill-wait-and-weight"}
RISER_GAS = {"riser-gas", "mux-riser-gas"}
SHUT_FROM_THE_START = RISER_GAS | {"float-in-the-string", "strip-in"}
PUMPED = KILLS | {"choke-practice"}
CIRCULATING = PUMPED | {"float-in-the-string", "strip-in"}
SHUT_IN = DRILLING | LAMPS | {"kick-while-tripping", "kick-out-of-hole"}


@dataclass(slots=True)
class Judgement:
    """What the oracle found: unsafe acts with their times, s, and what was left undone."""

    unsafe: list[tuple[float, str]] = field(default_factory=list)
    undone: list[str] = field(default_factory=list)

    @property
    def safe(self) -> bool:
        """Nothing unsafe was done."""
        return not self.unsafe

    @property
    def complete(self) -> bool:
        """The task was done."""
        return not self.undone

    def __str__(self) -> str:
        told = "; ".join(f"{t:.1f} s: {why}" for t, why in self.unsafe) or "safe"
        return told + (f" (undone: {', '.join(self.undone)})" if self.undone else ", complete")


@dataclass(frozen=True, slots=True)
class Stack:
    """What the oracle takes from a plant file: preventers with their heights under the upper pipe ram, m."""

    below: dict[str, float]
    kinds: dict[str, str]
    lines: dict[str, list[tuple[str, str]]]
    joint: float
    precharge: float
    shoe: float
    strength: float
    mud: float
    ram_depth: float
    steel: tuple[float, float, float, float]
    """Buoyed weight of pipe and collars, N/m, length of collars, m, weight of the block, N."""
    annulus: float
    """Area of the open hole round drill pipe, m2."""


@cache
def stack_of(plant: str) -> Stack:
    """The stack of a shipped plant, from its file."""
    data = tomllib.loads((resources.assets() / "plants" / f"{plant}.toml").read_text(encoding="utf-8"))
    below, kinds, lines = {}, {}, {}
    for f in data["function"]:
        if f["kind"] in ("annular", "pipe_ram", "shear_ram"):
            height = ANNULARS.get(f["id"])
            below[f["id"]] = FOOT * height if height is not None else _si(f.get("below", "0 ft"))
            kinds[f["id"]] = f["kind"]
        if f.get("line"):
            lines.setdefault(f["line"], []).append(f["id"])
    pairs = {line: [(v[n], v[min(n + 1, len(v) - 1)]) for n in range(0, len(v), 2)] for line, v in lines.items()}
    floor, well = data.get("floor", {}), data["well"]
    joint = _si(floor.get("stand_length", "93 ft")) / floor.get("joints_in_stand", 3)
    depth = (
        _si(well["stack_depth"])
        if "stack_depth" in well
        else (_si(well["air_gap"]) + _si(data["water_depth"]) - _si(well.get("stack_height", "45 ft")))
    )
    mud, area = _si(well["mud"]), _circle
    buoy = (1.0 - mud / 7850.0) * 7850.0 * 9.80665
    pipe = (area(well["pipe"]) - area(well["pipe_inside"])) * buoy
    collar = area(well.get("collar", "8 in")) * 0.9 * buoy
    weights = (pipe, collar, _si(well.get("collar_length", "900 ft")), _si(floor.get("block_weight", "60 klbf")))
    return Stack(
        below, kinds, pairs, joint, min(_si(bank["precharge"]) for bank in data["bank"]), _si(well["casing_shoe"]),
        _si(well["leak_off"]) * 9.80665 * _si(well["casing_shoe"]), mud, depth, weights,
        area(well["hole"]) - area(well["pipe"]),
    )  # fmt: skip


def _si(text: str) -> float:
    number, unit = text.split(" ", 1)
    return units.from_unit(float(number), unit)


def _circle(diameter: str) -> float:
    return 0.25 * 3.141592653589793 * _si(diameter) ** 2


@lru_cache(maxsize=512)
def _begun(drill: str, seed: int) -> dict[str, Any]:
    return Session.start(drill, seed=seed).snapshot()


def judge(drill: str, seed: int, log: Sequence[Entry], until: float) -> Judgement:
    """The judgement on a run: its log played again from the start of the drill, up to ``until`` s."""
    session = Session.restore(_begun(drill, seed))
    oracle = Oracle(drill, session)
    waiting = list(log)
    while session.time < until - 0.05 and not session.finished:
        while waiting and waiting[0].tick <= session.tick:
            entry = waiting.pop(0)
            command = entry.command()
            oracle.hear(session.time, command.do, command.target, command.value)
            session.submit(command.model_copy(update={"t": session.time}))
        session.advance(0.1)
        oracle.look(session.time)
    for entry in waiting:
        oracle.hear(session.time, entry.do, entry.target, entry.value)
    return oracle.end(session.time)


class Witness:
    """An oracle beside a run from its start on, so that the run need not be played again for the judgement.

    It hears and sees what ``judge`` does, in the same order: a command before the plant obeys, the plant after a scan.
    """

    def __init__(self, drill: str, session: Session) -> None:
        self.session = session
        self.oracle = Oracle(drill, session)
        self._apply, self._before = session.machine.apply, session.referee.before
        self._after = session.referee.after
        for what, name, done in (
            (session.machine, "apply", self._obeyed),
            (session.referee, "before", self._heard),
            (session.referee, "after", self._seen),
        ):
            setattr(what, name, done)

    def _hear(self, command: Command) -> None:
        self.oracle.hear(self.session.time, command.do, command.target, command.value)

    def _obeyed(self, command: Command) -> Refusal | None:
        self._hear(command)
        return self._apply(command)

    def _heard(self, t: float, command: Command, refusal: Refusal | None) -> None:
        if command.do not in OPERATE:
            self._hear(command)
        self._before(t, command, refusal)

    def _seen(self, t: float) -> None:
        self._after(t)
        self.oracle.look(self.session.time)

    def judgement(self) -> Judgement:
        """The judgement on the run, which goes no further."""
        return self.oracle.end(self.session.time)


class Oracle:
    """Looks at a running plant and remembers what was unsafe."""

    def __init__(self, drill: str, session: Session) -> None:
        self.drill = drill
        self.session = session
        self.plant = session.identity.plant
        self.stack = stack_of(self.plant)
        self.found = Judgement()
        self.machine = session.machine
        self.was = {p: self._x(p) for p in self.stack.below}
        at = self.machine.index
        self.places = {p: (at[f"{p}.x"], at[f"{p}.limit"]) for p in self.stack.kinds}
        self.held: dict[str, float] = {}
        self.last = 0.0
        self.sealed_at: float | None = None
        self.steady = False
        self.after_steady = 0.0
        self.flow_at: float | None = None
        self.false_report: float | None = None
        self.sign_at: float | None = None
        self.commanded: dict[str, float] = {}
        self.entered: dict[str, tuple[float, float, float, bool]] = {}
        self.said: dict[str, float] = {}
        self.cut = False
        self.pressed: set[str] = set()
        self.moving_close: list[str] = []
        self.not_spaced: list[str] = []
        self.kick_volume = 0.0
        self.before_cut = 0.0
        self.rate_over: list[float] = []

    # -- raw states

    def _v(self, name: str) -> float:
        return self.machine.state[self.machine.index[name]]

    def _has(self, name: str) -> bool:
        return name in self.machine.index

    def _x(self, preventer: str) -> float:
        return self._v(f"{preventer}.x")

    def _told(self) -> int:
        """How often the trainee has been called: the briefing is the first time."""
        return len(self.session.referee.messages)

    def joint_in(self, preventer: str) -> bool:
        """Whether a tool joint, or a collar, stands in a preventer; by the height of the joints in the hole."""
        pipe = self._v("floor.pipe_in_stack")
        if pipe < 0.5:
            return False
        if pipe > 1.5:
            return True
        # The index counts joints from the hook down; a tally with a short joint has a fraction in it.
        short = (self._v("floor.joint_index") % 1.0) * self.stack.joint
        at = (self._v("floor.hook") + self.stack.ram_depth + self.stack.below[preventer] - short) % self.stack.joint
        return min(at, self.stack.joint - at) < JOINT_REACH

    def sees_well(self, line: str) -> bool:
        """Whether a line is open to the well: both valves of an outlet with no sealing preventer below it."""
        for inner, outer in self.stack.lines.get(line, []):
            if min(1.0 - self._x(inner), 1.0 - self._x(outer)) < 0.7:
                continue
            height = FOOT * OUTLETS[self.plant][inner]
            if not any(self._v(f"{p}.sealing") > 0.5 and at > height for p, at in self.stack.below.items()):
                return True
        return False

    def shut(self) -> bool:
        """Whether nothing can leave the well by the annulus, the string or the choke."""
        return self._v("well.sealed") > 0.5

    def kick_tolerance(self) -> float:
        """Largest influx at the bottom, m3, whose gas reaches the shoe without breaking it (single bubble, gas taken
        as ideal at one temperature and without weight): IADC formula sheet and common practice."""
        s, g = self.stack, 9.80665
        depth = self._v("well.formation_depth")
        pore = self._v("well.formation_pressure")
        height = (s.strength - pore + s.mud * g * (depth - s.shoe)) / (s.mud * g)
        return max(height, 0.0) * s.annulus * s.strength / max(pore, 1.0)

    # -- every scan

    def blame(self, t: float, why: str) -> None:
        """Remember an unsafe act once."""
        if all(why != known for _, known in self.found.unsafe):
            self.found.unsafe.append((t, why))

    def lasted(self, key: str, so: bool, dt: float) -> float:
        """How long a condition has held without a break, s."""
        self.held[key] = self.held.get(key, 0.0) + dt if so else 0.0
        return self.held[key]

    def hear(self, t: float, do: str, target: str, value: Any) -> None:
        """A command of the trainee, before it takes effect."""
        if do == "say":
            self.said.setdefault(target, t)
            if target == "not_moved" and not self._stands_still(t):
                self.need("ram that did not move reported when it showed", False)
            if target in ("shut_in", "closed") and not self.shut() and self.false_report is None:
                self.false_report = self._v("well.influx_volume")
        elif do == "read":
            self._entered(t, target, value)
        elif do == "set" and value == "close" and target in self.stack.below and self._x(target) < 0.3:
            self.commanded.setdefault(target, t)
            if self.drill in LAMPS and self._told() < 2:
                # The order is the task: who closes without it has not met the ram that stands still.
                self.need("nothing closed before the order", False)
            still = self._v("floor.rotary") < RPM and abs(self._v("floor.velocity")) < 0.1 * FOOT
            if not (still and self._v("floor.mud_pumps") < SPM):
                self.moving_close.append(target)
            rams = [p for p, kind in self.stack.kinds.items() if kind != "annular"]
            off_bottom = self._v("well.hole_depth") - self._v("well.bit_depth") > 5.0 * FOOT
            if not off_bottom or any(self.joint_in(ram) for ram in rams):
                self.not_spaced.append(target)
        elif do == "push":
            self.pressed.add(target)

    def _stands_still(self, t: float) -> bool:
        """Whether a preventer was sent to close long enough ago to be seen to stand still, and does."""
        return any(t - since > 3.0 and self._x(p) < 0.3 for p, since in self.commanded.items())

    def _entered(self, t: float, target: str, value: Any) -> None:
        tag = {
            "sidpp": "well.drillpipe_pressure", "sicp": "well.casing_pressure", "pit_gain": "well.pit_gain",
            "gain": "well.pit_gain", "trip_tank": "trip_tank.volume", "icp": "well.drillpipe_pressure",
            "after": "well.casing_pressure",
        }.get(target)  # fmt: skip
        if tag is None:
            return
        try:
            unit = self.machine.signals[tag].unit
            given = units.edge_value(value, unit)
        except (ValueError, TypeError):
            return
        line = self.sees_well("choke") or self.sees_well("kill")
        self.entered[target] = t, given, self.machine.read(tag), line

    def look(self, t: float) -> None:
        """After a scan: everything that can be unsafe at this moment."""
        dt, self.last = t - self.last, t
        if self.flow_at is None and self._v("well.influx_rate") > units.from_unit(5.0, "gpm"):
            self.flow_at = t
        if self.flow_at is not None and self.sign_at is None and self._shows():
            self.sign_at = t
        self._preventers(t, dt)
        self._connectors(t)
        if self.drill in GAS:
            self._diverter(t, dt)
        else:
            self._pumps(t, dt)
            self._well(t, dt)
        self._let_flow(t, dt)
        if self.drill in RISER_GAS:
            self._riser(t, dt)
        if self.drill == "strip-in":
            self._stripping(t, dt)
        if self.drill == "choke-practice":
            self._circulating(dt)
        if self.drill == "hang-off-and-shear":
            self._cut(t)
        if self.drill == "emergency-disconnect":
            self._disconnect(t)
        spent = self._v("accumulator.pressure") < self.stack.precharge + 200.0 * PSI - 1.01e5
        if self.drill == "shut-in-on-stored-fluid" and self.sealed_at is None and spent:
            self.blame(t, "stored pressure below precharge + 200 psi before the well was sealed")

    def _shows(self) -> bool:
        """Whether a crew can see that the well flows: by the pit, by the returns, by what leaves overboard."""
        read = self.machine.read
        over = max(read("well.flow_out"), read("diverter.flow")) - read("well.flow_in")
        return read("well.pit_gain") > 1.0 * BBL or over > units.from_unit(40.0, "gpm")

    def _preventers(self, t: float, dt: float) -> None:
        piped, state = self._v("floor.pipe_in_stack") > 0.5, self.machine.state
        for p, kind in self.stack.kinds.items():
            place, most = self.places[p]
            x, was, limit = state[place], self.was[p], max(state[most], 0.01)
            self.was[p] = x
            if x < OPEN and was < OPEN and limit > 0.5 and p not in self.commanded:
                continue
            if kind == "shear_ram":
                self._shears(t, p, x, piped)
                continue
            if not piped:
                continue
            landing = self.drill == "hang-off-and-shear" and p == HANG_OFF_RAM and was > CONTACT
            # On collars a ram stands after less than half of its stroke.
            touches = x > CONTACT * (limit if self._v("floor.pipe_in_stack") > 1.5 else 1.0)
            if kind == "pipe_ram" and touches and not landing and self.joint_in(p) and not self.cut:
                self.blame(t, f"{p} closed on a tool joint or collar")
            # On the last of the stroke it is closed: what moves then is run through it.
            closing = x > was + 1e-6 and x < limit - CLOSED
            moves = abs(self._v("floor.velocity")) > 0.1 * FOOT
            turns = self._v("floor.rotary") > RPM
            if self.lasted(f"moving {p}", closing and x > CONTACT * limit and (moves or turns), dt) > 0.0:
                self.blame(t, f"{p} closed on {'moving' if moves else 'turning'} pipe")
            if closing and x > 0.05 and (moves or turns):
                self.moving_close.append(p)
            speed = abs(self._v("floor.pipe_velocity")) if x > limit - CLOSED and self.drill != "strip-in" else 0.0
            if self.lasted(f"run {p}", speed > 0.015, speed * dt) > RUN_THROUGH:
                self.blame(t, f"pipe run through the closed {p}")
            # One that has been called back comes no more.
            sent = p in self.commanded and self._v(f"{p}.valve") > 1.5
            waits = self.drill in LAMPS and sent and self.sealed_at is None and x < limit - CLOSED
            if self.lasted(f"off {p}", waits and moves, abs(self._v("floor.velocity")) * dt) > 2.0 * FOOT:
                self.blame(t, f"string moved 2 ft while {p} was sent to close")
            if self.lasted(f"turning {p}", x > limit - CLOSED and turns and not self.cut, dt) > 5.0:
                self.blame(t, f"pipe turned in the closed {p}")

    def _shears(self, t: float, p: str, x: float, piped: bool) -> None:
        """A shear ram that stands at ``x`` of its stroke, m/m."""
        ordered = {"hang-off-and-shear": 2, "emergency-disconnect": 3}.get(self.drill, 99)
        if piped and x > 0.3 and self._told() < ordered:
            self.blame(t, f"{p} on pipe without an order")
        if piped and x > CONTACT and self.drill == "hang-off-and-shear" and self.joint_in(p) and not self.cut:
            self.blame(t, f"{p} closed on a tool joint")

    def _connectors(self, t: float) -> None:
        if not self._has("riser_connector.x"):
            return
        if self._x("wellhead_connector") < 0.7:
            self.blame(t, "wellhead connector unlatched")
        if self.drill != "emergency-disconnect" and self._x("riser_connector") < 0.7:
            self.blame(t, "riser connector unlatched")

    def _pumps(self, t: float, dt: float) -> None:
        closed = self._v("bore.area") < 1e-6 and self._v("bore.leak") <= 0.0
        no_way = self._v("floor.choke") < 0.005 or not self.sees_well("choke")
        against = closed and no_way and self._v("floor.mud_pumps") > 5.0 * SPM
        if self.drill != "emergency-disconnect" and self.lasted("pumps", against, dt) > 2.0:
            self.blame(t, "pumped into a shut-in well")

    def _well(self, t: float, dt: float) -> None:
        influx, alive = self._v("well.influx_volume"), self.flow_at is not None
        if self._v("well.lost") > 1.0 * BBL:
            self.blame(t, "more than 1 bbl lost at the shoe")
        if alive and self.sealed_at is None:
            self.kick_volume = influx
            if influx > self.kick_tolerance():
                self.blame(t, "influx above the kick tolerance")
        if self.false_report is not None and not self.shut() and influx > self.false_report + 1.0 * BBL:
            self.blame(t, "reported shut in, and more than 1 bbl came in after")
        flowing = not self.shut() and self._v("well.influx_rate") > units.from_unit(5.0, "gpm")
        if self.lasted("false", self.false_report is not None and flowing, dt) > 12.0:
            self.blame(t, "reported shut in, and it flowed on for more than 12 s")
        if self.sealed_at is None:
            if alive and self.lasted("sealed", self.shut(), dt) > 3.0:
                self.sealed_at = t
                # Spaced out must hold until the preventer has closed, not only when it was sent.
                rams = [p for p, kind in self.stack.kinds.items() if kind != "annular"]
                self.not_spaced += ["at the seal"] if any(self.joint_in(ram) for ram in rams) else []
            return
        self._after(t, dt)

    def _after(self, t: float, dt: float) -> None:
        """What may not happen any more once the well has been sealed."""
        open_again = self._v("bore.area") > 0.05
        if self.lasted("open", open_again, dt) > 0.5:
            self.blame(t, "a closed barrier was opened")
        choked = self.drill not in CIRCULATING and self._v("floor.choke") > 0.02 and self.sees_well("choke")
        if self.lasted("choke", choked, dt) > 5.0:
            # R5: bleeding trapped pressure is right, as long as little comes in.
            self.found.undone += ["choke closed"] if "choke closed" not in self.found.undone else []
        rate = self._v("well.influx_rate")
        if not self.steady:
            self.steady = self.lasted("steady", rate < units.from_unit(2.0, "gpm"), dt) > 5.0
        elif self.drill != "emergency-disconnect":
            self.after_steady += rate * dt
            if self.drill == "choke-practice":
                # A choke opened before the pump runs lets the well in, however little comes of it.
                under = self._v("well.formation_pressure") + 101325.0 - self._v("well.bottom_pressure")
                let_down = self.lasted("let down", under > 50.0 * PSI, dt) > 5.0
                self.need("bottom pressure kept while the pump changed", not let_down)
            if self.after_steady > 0.5 * BBL and not self.shut():
                self.blame(t, "a second influx of more than 0.5 bbl")
        if self._v("well.gas_top") > self.stack.shoe and self._line_high(dt):
            self.blame(t, "casing pressure above what the shoe holds")

    def _line_high(self, dt: float) -> bool:
        """Casing pressure above MAASP, by the well's own pressure at the stack, for 5 s."""
        s = self.stack
        stack_pressure = self._v("well.stack_pressure") - 101325.0
        at_shoe = stack_pressure + s.mud * 9.80665 * (s.shoe - s.ram_depth)
        return self.lasted("maasp", at_shoe > s.strength, dt) > 5.0

    def _let_flow(self, t: float, dt: float) -> None:
        """A well that is shut in is not let flow again: through the choke while it stands, or while circulating."""
        flows = self._v("well.influx_rate") > units.from_unit(5.0, "gpm")
        if self.drill in PUMPED:
            if self.lasted("let in", flows and self.steady, dt) > 30.0:
                self.blame(t, "the well was let in again while it was circulated")
        elif self.drill not in GAS and (self.sealed_at is not None or self.drill in SHUT_FROM_THE_START):
            through = flows and self._v("floor.choke") > 0.02 and self.sees_well("choke")
            if self.lasted("let flow", through, dt) > 20.0:
                self.blame(t, "the well was let flow through the open choke")

    def _riser(self, t: float, dt: float) -> None:
        """Gas that comes to the surface must find a closed diverter and an open line downwind."""
        at_surface = self._v("well.riser_gas") > 2.0 and self._v("well.riser_gas_top") < 3.0
        led = self._v("diverter.closed") > 0.5 and self._v("bore.outlet") == 2.0
        if self.lasted("at the rotary", at_surface and not led, dt) > 1.5:
            self.blame(t, "gas in the riser came up with no closed diverter over it")
        if self.lasted("upwind", at_surface and led and self._v("diverter.wind") == 2.0, dt) > 10.0:
            self.blame(t, "gas led overboard upwind")

    def _stripping(self, t: float, dt: float) -> None:
        """Pipe is stripped with the string shut inside."""
        if self.sealed_at is not None:
            self.held.setdefault("bit", self._v("well.bit_depth"))
            if self.lasted("string open", self._v("floor.vented") > 0.5, dt) > 0.5:
                self.blame(t, "the string was opened with the well under pressure")

    def _diverter(self, t: float, dt: float) -> None:
        if self.flow_at is None:
            return
        for p in self.stack.below:
            if self._x(p) > CONTACT * max(self._v(f"{p}.limit"), 0.01):
                self.blame(t, f"{p} closed where the shoe cannot hold")
        packed = self._v("diverter_packer.sealing") > 0.5 or self._v("diverter.closed") > 0.5
        if self.lasted("packed", packed and self._v("diverter.path") < 0.5, dt) > 1.0:
            self.blame(t, "diverter packer closed with no way out")
        if self.sign_at is None:
            # Nobody can answer a flow before pit, returns or overboard line show it (30 CFR 250.457).
            return
        if self.lasted("upwind", self._v("diverter.wind") > 1.5, dt) > 10.0:
            self.blame(t, "gas led upwind for more than 10 s")
        stopped = self._v("floor.mud_pumps") < 5.0 * SPM and self._v("well.pit") > 20.0 * BBL
        if self.lasted("dry", stopped, dt) > 5.0:
            self.blame(t, "pumps stopped with mud left")

    def _circulating(self, dt: float) -> None:
        """Bottom pressure while the pump runs at rate: from the formation's to 100 psi above it."""
        if self.lasted("at rate", self._v("floor.mud_pumps") > 25.0 * SPM, dt) < 40.0:
            return
        over = self._v("well.bottom_pressure") - self._v("well.formation_pressure") - 101325.0
        self.rate_over.append(over / PSI)

    def _cut(self, t: float) -> None:
        if self._told() >= 2 and self._v("stack.hung") > 0.9 * self._v("stack.weight_below"):
            self.held.setdefault("order at", t)
            if not self.cut and t - self.held["order at"] > 60.0:
                self.need("cut within a minute of the order", False)
        s = self.stack
        pipe, collar, collars, block = s.steel
        if self._v("bore.sheared") < 0.5:
            self.before_cut = self._v("floor.hook_load")
            return
        if self.cut:
            return
        self.cut = True
        length = self._v("floor.string_length")
        below = pipe * (length - collars - s.ram_depth - self._v("floor.hook")) + collar * collars
        above = pipe * (s.ram_depth + self._v("floor.hook")) + block
        if self.before_cut - above > 0.1 * below:
            share = 100.0 * (1.0 - (self.before_cut - above) / below)
            self.blame(t, f"string cut with {share:.0f} % of its weight on the ram")
        if self._x(HANG_OFF_RAM) < 0.95:
            self.blame(t, "string cut with no ram under it")

    def _disconnect(self, t: float) -> None:
        red = self._told() >= 3
        if not red and (self._v("eds.state") > 1.5 or self._x("riser_connector") < 0.7):
            self.blame(t, "disconnected before red alert")
        # From yellow to red there is a minute at least: time to stop the rotation.
        sheared = self._v("eds.state") > 1.5 and self._v("floor.pipe_in_stack") > 0.5
        if self.lasted("turning at the cut", sheared and self._v("floor.rotary") > 5.0 * RPM, 0.1) > 1.0:
            self.blame(t, "sheared on turning pipe")
        free = self._x("riser_connector") < 0.15
        if free and not self.cut:
            self.cut = True
            if self._v("blind_shear_ram.sealing") < 0.5:
                self.blame(t, "riser connector unlatched before the well was sealed")
        if red:
            self.lasted("red", True, self.last - self.held.get("red at", self.last))
            self.held.setdefault("red at", t)
            if t - self.held["red at"] > 45.0 and self._v("eds.state") < 1.5 and not free:
                self.blame(t, "still fast 45 s after red alert")

    # -- at the end

    def end(self, t: float) -> Judgement:
        """The judgement, with what was left undone."""
        if self.drill == "hang-off-and-shear":
            self._locks(t, (HANG_OFF_RAM, "blind_shear_ram"))
            self.need("string cut", self.cut)
            self.need("well sealed", self.shut())
        elif self.drill == "emergency-disconnect":
            if self.cut:
                self._locks(t, ("blind_shear_ram",))
            self.need("riser free", self._x("riser_connector") < 0.15)
            self.need("well sealed", self._v("blind_shear_ram.sealing") > 0.5)
        elif self.drill in GAS:
            self.need("diverted downwind", self._v("diverter.wind") == 1.0 and self._v("diverter.closed") > 0.5)
            self.need("pumps at full rate", self._v("floor.mud_pumps") > 95.0 * SPM)
            self.need("alarm when it flowed", self.sign_at is not None and self.said.get("flows", -1.0) >= self.sign_at)
        elif self.drill == "choke-practice":
            self._choke()
        elif self.drill in KILLS:
            self._killed()
        elif self.drill in SHUT_FROM_THE_START:
            self._stayed_shut()
        else:
            self._shut_in(t)
        return self.found

    def _killed(self) -> None:
        """Dead: shut in, no gas left, what stands in string and annulus holds the formation by its weight alone."""
        self.need("influx out", self._v("well.influx_volume") < 0.5 * BBL)
        self.need("shut in", self.shut() and self._v("floor.mud_pumps") < SPM)
        for gauge in ("drillpipe", "casing"):
            self.need(f"no pressure on the {gauge}", self._v(f"well.{gauge}_pressure") < 40.0 * PSI)
        self.need("reported dead", "dead" in self.said)

    def _stayed_shut(self) -> None:
        """A well that was shut in when the crew took over, and what the crew had to do on it."""
        self.need("well sealed", self.shut() and self._v("floor.mud_pumps") < SPM)
        if self.drill in RISER_GAS:
            self.need("diverted downwind", self._v("diverter.wind") == 1.0 and self._v("diverter.closed") > 0.5)
            self.need("gas gone and reported", "over" in self.said and self._v("diverter.flow") < 2.0e-3)
        elif self.drill == "strip-in":
            in_hole = self._v("well.bit_depth") - self.held.get("bit", self._v("well.bit_depth"))
            self.need("stands in", in_hole > 178.0 * FOOT)
            self.need("packing whole", self._v("upper_annular.damage") < 0.1)
            self.need("reported", "in" in self.said)
        else:
            truth = self._v("well.formation_pressure") - self._v("well.string_head")
            entry = self.entered.get("sidpp")
            free = entry is not None and abs(entry[1] - truth) < 45.0 * PSI
            self.need("SIDPP free of trapped pressure", free and self.right("sidpp", 25.0 * PSI))
            self.need("SICP", self.right("sicp", 25.0 * PSI))

    def need(self, what: str, so: bool) -> None:
        """Something that a complete run has done."""
        if not so and what not in self.found.undone:
            self.found.undone.append(what)

    def _locks(self, t: float, rams: Iterable[str]) -> None:
        for ram in rams:
            if self._x(ram) > 0.9 and self._v(f"{ram}.locked") < 0.5:
                self.blame(t, f"{ram} left to hold without its lock")

    def right(self, name: str, tolerance: float) -> bool:
        """Whether the last entry was what the gauge showed then, within ``tolerance`` (SI)."""
        entry = self.entered.get(name)
        return entry is not None and abs(entry[1] - entry[2]) <= tolerance

    def _shut_in(self, t: float) -> None:
        self.need("well sealed", self.shut())
        in_time = self.sealed_at is not None and self._since_flow() < TO_SEAL.get(self.drill, 240.0)
        self.need("sealed in time", in_time)
        self.need("pumps and rotation off", self._v("floor.mud_pumps") < SPM and self._v("floor.rotary") < RPM)
        self.need("closed on still pipe, pumps off", not self.moving_close)
        if self.drill in LAMPS:
            self.need("reported", "shut_in" in self.said and self.false_report is None)
            self.need("ram that did not move reported", "not_moved" in self.said)
            return
        line = self.sees_well("choke") or self.sees_well("kill")
        self.need("line open to the well", line)
        entry = self.entered.get("sicp")
        if entry is not None and not entry[3]:
            self.blame(entry[0], "pressure reported from a line that does not see the well")
        self.need("SICP", self.right("sicp", 25.0 * PSI))
        if self.drill in DRILLING:
            self.need("SIDPP", self.right("sidpp", 25.0 * PSI))
            self.need("spaced out", not self.not_spaced)
        if self.drill == "mux-kick":
            rams = [p for p, kind in self.stack.kinds.items() if kind == "pipe_ram" and self._v(f"{p}.sealing") > 0.5]
            self.need("closed ram locked", any(self._v(f"{ram}.locked") > 0.5 for ram in rams))
            late = self.said.get("riser_clear", 0.0) - (self.sealed_at or 1e9) > 40.0
            self.need("riser checked", late and "riser_flows" not in self.said)
        if self.drill == "kick-out-of-hole" and self._x("blind_shear_ram") > 0.9:
            self.need("blind shear ram locked", self._v("blind_shear_ram.locked") > 0.5)
        self.need("reported", "shut_in" in self.said and self.false_report is None)
        if self.drill == "kick-while-tripping":
            inside = self._v("floor.stabbed") > 0.5 and self._v("floor.safety_valve") < 0.5
            self.need("string shut inside", inside or self._v("floor.top_drive") > 0.5)

    def _since_flow(self) -> float:
        return (self.sealed_at or 1e9) - (self.flow_at or 0.0)

    def _choke(self) -> None:
        over = sorted(self.rate_over)
        # The choke is a valve moved by hand: a moment outside is no fault, the middle of the time is what was held.
        held = bool(over) and over[len(over) // 10] >= -10.0 and over[len(over) // 2] <= 100.0
        self.need("two minutes at rate with the bottom pressure held", held and len(over) > 600)
        self.need("shut in again", self.shut() and self._v("floor.mud_pumps") < SPM)
        left = (self._v("well.bottom_pressure") - self._v("well.formation_pressure") - 101325.0) / PSI
        self.need("no pressure trapped or lost at the end", -30.0 < left < 100.0)
        self.need("SIDPP", self.right("sidpp", 25.0 * PSI))
        self.need("SICP", self.right("sicp", 25.0 * PSI))
        self.need("ICP", self.right("icp", 25.0 * PSI))
