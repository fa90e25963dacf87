"""The emergency disconnect sequence: ordered moves of functions, the last of which lets the riser go.

The steps are data of the plant file. It is armed (behind the enable push), then started; once it runs, nothing stops
it and the panels are locked out, and what it has done cannot be undone. It works through the same solenoid valves and
cylinders as the panels: no air or no voltage, no sequence.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from typing import Annotated, Literal

from pydantic import Field, model_validator

from trainer import units
from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import Wires, gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import Part, button, component_fault, reading, state_reading
from trainer.plant.functions import AIR_NEEDED, STIR, WAYS, Function
from trainer.plant.regulators import Regulator
from trainer.units import Alike, Number, Pressure, Seconds, between

STATES = ("safe", "armed", "running", "done")
ARMED_SECONDS = 20.0
"""s for which the sequence stays armed. Invented; rigs have some tens of seconds."""
PANEL = ("driller", "remote")
OVERRUN = 10.0
"""s past its last step after which the sequence says *done*. Invented."""


class Step(Part):
    """One move, ``at`` seconds after the start: a function to a position, or a regulator to a gauge pressure."""

    at: Annotated[Seconds, between("0 s", "180 s")]
    function: str = ""
    to: Literal["block", "open", "close"] = "block"
    regulator: str = ""
    pressure: Annotated[Pressure, between("0 psi", "10000 psi")] = 0.0

    @model_validator(mode="after")
    def _one_thing(self) -> Step:
        if bool(self.function) == bool(self.regulator):
            raise ValueError("a step of the disconnect sequence moves one function or sets one regulator: name one")
        return self


class Sequence(Part):
    """One of several sequences of a rig whose orders are messages: what it is for, its steps, and when it is done."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=20)
    title: str = Field(min_length=1, max_length=40)
    done: Annotated[Seconds, between("1 s", "240 s")]
    """When all that it has ordered has moved, s from the start."""
    step: tuple[Step, ...] = Field(min_length=1, max_length=40)

    @property
    def seconds(self) -> float:
        """When the last of its steps is given, in seconds from the start of the sequence."""
        return max(step.at for step in self.step)

    def faults(self, connector: str, shears: Container[str]) -> Iterator[str]:
        """What contradicts itself, as sentences: shear rams come before the connector's opening, and the end last."""
        where = f"[disconnect] sequence '{self.id}': "
        if self.done <= self.seconds:
            done, last = units.show(self.done, "s"), units.show(self.seconds, "s")
            yield f"{where}done at {done} is not after its last step, {last}; raise it"
        gone = [step.at for step in self.step if step.function == connector and step.to == "open"]
        if not gone:
            yield f"{where}never opens '{connector}'; add the step, or take the sequence out"
        for late in (step for step in self.step if step.function in shears and gone and step.at >= gone[0]):
            yield f"{where}{late.function} is ordered after the connector; shears come before it"


class Disconnect(Part):
    """Table [disconnect] of a plant file; ``connector`` is the function whose unlocking lets the riser go.

    It has steps of its own; or, where orders are messages, sequences from which the crew chooses one.
    """

    connector: str
    step: tuple[Step, ...] = ()
    sequence: tuple[Sequence, ...] = Field(default=(), max_length=8)

    @model_validator(mode="after")
    def _one_form(self) -> Disconnect:
        if bool(self.step) == bool(self.sequence):
            raise ValueError("[disconnect] has either its own [[disconnect.step]] or [[disconnect.sequence]]; give one")
        return self

    @property
    def steps(self) -> tuple[tuple[Step, ...], ...]:
        """The steps of each of its sequences, or its own as the only one."""
        return tuple(one.step for one in self.sequence) or (self.step,)

    @property
    def seconds(self) -> float:
        """When the last of its steps is given, in seconds from the start of the sequence."""
        return max(step.at for step in self.step)

    def faults(self, functions: Iterable[Function], regulators: Iterable[Regulator]) -> Iterator[str]:
        """What does not fit the plant, as sentences: steps that move or set what there is not, or not in that way."""
        kinds = {function.id: function.kind for function in functions}
        high = {regulator.id: regulator.high for regulator in regulators}
        steps = [step for one in self.steps for step in one]
        for name in (*(step.function for step in steps if step.function), self.connector):
            if name not in kinds:
                yield f"[disconnect] moves '{name}', which is no function"
        for step in (step for step in steps if step.regulator):
            if step.regulator not in high:
                yield f"[disconnect] sets '{step.regulator}', which is no regulator"
            elif step.pressure > high[step.regulator]:
                asked, most = units.show(step.pressure, "psi"), units.show(high[step.regulator], "psi")
                yield f"[disconnect] sets {step.regulator} to {asked}, above its high of {most}"
        for ordered in self.steps:
            times = [step.at for step in ordered]
            if times != sorted(times):
                yield "[disconnect] has steps out of order; sort them by 'at'"
        ids = [one.id for one in self.sequence]
        shears = [name for name, kind in kinds.items() if kind == "shear_ram"]
        for one in self.sequence:
            if ids.count(one.id) > 1:
                yield f"[disconnect] sequence '{one.id}': two sequences have this id; give one of them another"
            yield from one.faults(self.connector, shears)

    def build(self, net: Network) -> None:
        """Add the sequence's clock and moves, ``eds.state``, the two push-buttons and the fault."""
        for name in ("eds.running", "eds.done", "eds.left"):
            net.var(name, 0.0, "s" if name == "eds.left" else "1")
        state_reading(net, "eds.state", STATES, "Emergency disconnect sequence.", PANEL)
        reading(net, "eds.clock", "s", 0, 300, "Time since the emergency disconnect was started.", PANEL)
        stalls = component_fault(
            net,
            "eds",
            "stalls",
            "Emergency disconnect sequence stops before the connector",
            ("eds.clock", f"{self.connector}.lamp_open"),
            "The clock has stopped: finish by hand at the unit in the sequence's order, the connector last.",
        )
        stop = self.seconds - 0.5
        net.block(run_down, states=dict(left="eds.left"))
        net.block(
            clock,
            inputs=dict(stalls=stalls, stop=stop),
            states=dict(now="eds.clock"),
            outputs=dict(before="eds.before"),
            gate="eds.running",
        )
        net.var("eds.before", 0.0, "s")
        live: Wires = dict(air="boxes.air", solenoids="solenoids.live", air_needed=AIR_NEEDED)
        for step in self.step:
            span: Wires = dict(before="eds.before", after="eds.clock", at=step.at)
            if step.regulator:
                where = f"{step.regulator}.pilot"
                net.block(
                    sets,
                    inputs=dict(**span, **live, to=step.pressure, stuck=0.0),
                    states=dict(value=where),
                    gate="eds.running",
                )
                continue
            i = step.function
            way = float(WAYS.index(step.to))
            net.block(
                sets,
                inputs=dict(**span, to=way, air=1.0e9, solenoids=1.0, air_needed=0.0, stuck=0.0),
                states=dict(value=f"{i}.wanted"),
                gate="eds.running",
            )
            net.block(
                moves,
                inputs=dict(**span, **live, way=way, stuck=f"fault.{i}.valve_stuck", dead=f"fault.{i}.solenoid_dead"),
                states=dict(valve=f"{i}.valve"),
                gate="eds.running",
            )
            net.block(stirs, inputs=dict(**span, fresh=STIR), states=dict(left="functions.stir"), gate="eds.running")
        arm = "Arm the emergency disconnect for twenty seconds (press enable first)."
        start = "Start the emergency disconnect: it cannot be stopped or undone."
        add_end_and_buttons(net, self.seconds + OVERRUN, arm, start)


def add_end_and_buttons(net: Network, end: float | str, arm: str, start: str) -> None:
    """Add what ends the sequence at ``end`` (s, or the variable that holds it), its state, and the two push-buttons.

    arm, start: what the buttons do, as people read it.
    """
    net.block(
        over,
        inputs=dict(now="eds.clock", end=end),
        states=dict(done="eds.done"),
        outputs=dict(running="eds.running"),
        gate="eds.running",
    )
    net.block(show, inputs=under("eds", "left", "running", "done"), outputs=dict(state="eds.state"), rate="observe")
    button(net, "eds.arm", arm, PANEL, lambda m: m.put("eds.left", ARMED_SECONDS), guard=_may_arm)
    button(net, "eds.start", start, PANEL, _begin, guard=_may_start)


def _may_arm(machine: Variables, command: object) -> Refusal | None:
    """Why the disconnect cannot be armed now: no power, started already, or enable not pressed; None when it can."""
    if machine.read("panel.power") < 0.5:
        return Refusal("no_power", "The panels have no power: the emergency disconnect cannot be armed from here.")
    if machine.read("eds.done") > 0.5 or machine.read("eds.running") > 0.5:
        return Refusal("started", "The emergency disconnect has been started already; it cannot be undone.")
    if machine.read("driller.enable") <= 0.0:
        return Refusal(
            "not_enabled",
            "Arming the emergency disconnect is critical: press enable first, then arm within five seconds.",
        )
    return None


def _may_start(machine: Variables, command: object) -> Refusal | None:
    """Why the disconnect cannot be started now: no power, started already, or not armed; None when it can."""
    if machine.read("panel.power") < 0.5:
        return Refusal("no_power", "The panels have no power: the emergency disconnect cannot be started from here.")
    if machine.read("eds.done") > 0.5 or machine.read("eds.running") > 0.5:
        return Refusal("started", "The emergency disconnect has been started already; it cannot be undone.")
    if machine.read("eds.left") <= 0.0:
        return Refusal(
            "not_armed", "Arm the emergency disconnect first: enable, arm, then start within twenty seconds."
        )
    return None


def _begin(machine: Variables) -> None:
    """Start it on this machine: its clock runs from zero, and it is armed no longer."""
    machine.put("eds.running", 1.0)
    machine.put("eds.left", 0.0)
    machine.put("eds.clock", 0.0)


@gives("left")
def run_down(left: Seconds) -> Seconds:
    """Seconds for which the sequence stays armed, one scan later; 0 once the time to start it is over."""
    return max(left - SCAN, 0.0)


@gives("before", "now")
def clock(now: Seconds, stalls: Number, stop: Seconds) -> tuple[Seconds, Seconds]:
    """The sequence's clock before and after this scan (s); a fault makes it stand still at ``stop``."""
    after = now + SCAN
    return now, (now if stalls > 0.0 and after > stop else after)


def due(before: float, after: float, at: float) -> float:
    """1 in the one scan whose span of time, s from ``before`` up to ``after``, holds the moment ``at``; else 0."""
    return 1.0 if before <= at and at < after else 0.0


@gives("value")
def sets(
    value: Alike,
    before: Seconds,
    after: Seconds,
    at: Seconds,
    to: Alike,
    air: Pressure,
    solenoids: Number,
    air_needed: Pressure,
    stuck: Number,
) -> Alike:
    """A setting, put to ``to`` when its step is due and air and solenoids work."""
    works = air >= air_needed and solenoids > 0.5 and stuck <= 0.0
    return to if due(before, after, at) > 0.5 and works else value


@gives("valve")
def moves(
    valve: Number,
    before: Seconds,
    after: Seconds,
    at: Seconds,
    way: Number,
    air: Pressure,
    solenoids: Number,
    air_needed: Pressure,
    stuck: Number,
    dead: Number,
) -> Number:
    """A surface valve, moved when its step is due unless valve or solenoid fail."""
    return sets(valve, before, after, at, way, air, solenoids, air_needed, stuck + dead)


@gives("left")
def stirs(left: Seconds, before: Seconds, after: Seconds, at: Seconds, fresh: Seconds) -> Seconds:
    """Seconds for which functions are awake to their neighbours: ``fresh`` when a step moves a valve."""
    return fresh if due(before, after, at) > 0.5 else left


@gives("running", "done")
def over(now: Seconds, end: Seconds, done: Number) -> tuple[Number, Number]:
    """Whether the sequence still runs, and whether it has been through."""
    ended = now >= end
    return (0.0 if ended else 1.0), (1.0 if ended else done)


@gives("state")
def show(left: Seconds, running: Number, done: Number) -> Number:
    """The state shown at the panels, an index of ``STATES``: running goes before done, done before armed."""
    return 2.0 if running > 0.5 else (3.0 if done > 0.5 else (1.0 if left > 0.0 else 0.0))
