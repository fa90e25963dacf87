"""Deadman and autoshear: what closes the well when nobody can give an order any more.

Both draw on a bank of bottles of their own on the lower stack, charged through check valves, and close the same
functions one after the other. The *deadman* fires when it is armed and, for a while, both conduits have lost their
pressure and both pods their power and signal; its own batteries then drive one solenoid valve in each pod, which has
two coils like all others. The *autoshear* is hydraulic alone: a plunger that the riser package lets go as it lifts.
What has begun is finished, whatever comes back meanwhile.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Annotated

from pydantic import Field

from trainer.constants import ATMOSPHERE, SCAN
from trainer.fluids.gas import density
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.laws import opened_check
from trainer.hydraulics.lists import first_where
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.hydraulics.storage import Gas, Line
from trainer.plant.accumulators import LAST, PORT, gas_left, isolated_port
from trainer.plant.base import PSI, Component, Part, button, choice, component_fault, reading, same, state_reading
from trainer.plant.feeds import add_back_up, pod_ways
from trainer.plant.function_laws import back_up_shuttle
from trainer.plant.functions import STIR, Function
from trainer.plant.handwork import SECOND
from trainer.plant.manifold import LITRE
from trainer.plant.multiplexed import PULL_IN, pull
from trainer.plant.telemetry import BENCH, FULL, PANELS
from trainer.units import (
    Coefficient,
    Current,
    Number,
    Pressure,
    Seconds,
    Voltage,
    Volume,
    between,
    from_unit,
)

ARMED = ("disarmed", "armed")
STATES = ("disarmed", "armed", "fired", "stale")
FIRED_BY = ("nothing", "deadman", "autoshear")
TRAVEL = 0.4
"""s in which a valve of the sequence opens, as one in a pod does. Invented."""
AFTER = 3.0
"""s that the last function takes once its step has begun. Invented."""
CHECK_K = 2.0e-6
"""m3/(s sqrt(Pa)) of a check valve through which the bank is charged, 2.6 Cv. Invented."""
LEAK_K = 4.0e-7
"""m3/(s sqrt(Pa)) past a check valve that does not hold, 0.5 Cv. Invented."""
DUMP = ("shut", "open")
DUMP_K = 1.0e-5
"""m3/(s sqrt(Pa)) of a conduit's dump valve, 13 Cv: 1 in. Invented."""
PARTED_K = 1.0e-4
"""m3/(s sqrt(Pa)) out of a conduit of 2-1/4 in that has parted at the stack, 130 Cv: its bore as an orifice."""
FIRING = 2.0
"""A that one side draws to fire: its coils of two solenoid valves at 1.0 A each. Invented."""
NEEDED = 18.0
"""V under that load below which a side's coils do not pull. Invented."""
FRESH_VOLTS, SPENT_VOLTS, SPENT = 26.0, 24.0, 0.1
"""V without load of a full battery and of one with the share ``SPENT`` left: hardly less. Invented."""
RESISTANCE = 0.35
"""Ohm inside a full battery; it grows as the charge falls, to 3.5 at a tenth. Invented."""
CAPACITY = from_unit(30.0, "Ah")
"""Charge of a battery, A s. Invented."""
ASLEEP = 0.005
"""A that a side of the deadman draws while it watches. Invented."""
TEST = 5.0
"""s of a load test. Invented."""
WEAK = 0.92
"""Share of its charge that a weak battery has lost at full severity: 8 % are left. Invented."""


class Stroke(Part):
    """One move of the sequence: a function that closes ``at`` seconds after it has begun."""

    at: Annotated[Seconds, between("0 s", "180 s")]
    function: str


class Emergency(Component):
    """The bank on the lower stack, what counts as lost and for how long, and what closes when.

    ``precharge`` is gauge, on deck at the surface temperature; ``loss`` is the pressure over the sea's below which a
    conduit counts as lost. Figures are invented.
    """

    bottles: int = Field(ge=1, le=40)
    bottle_volume: Annotated[Volume, between("5 gal", "200 gal")]
    precharge: Annotated[Pressure, between("50 psi", "10000 psi")]
    relaxation: Annotated[Seconds, between("5 s", "3600 s")] = 240.0
    loss: Annotated[Pressure, between("50 psi", "3000 psi")] = Field(default=500.0 * PSI)
    confirm: Annotated[Seconds, between("0.5 s", "60 s")] = 6.0
    step: tuple[Stroke, ...] = Field(min_length=1, max_length=8)

    @property
    def shell(self) -> float:
        """Gas space of all bottles together when they are empty of fluid, m3."""
        return self.bottles * self.bottle_volume

    @property
    def seconds(self) -> float:
        """Time from the first step until the last function has closed, s."""
        return max(step.at for step in self.step) + AFTER

    def faults(self, functions: Sequence[Function]) -> list[str]:
        """What does not fit the stack, as sentences: steps that name no function below, steps out of order."""
        below = {f.id for f in functions if f.place == "stack"}
        found = [
            f"[emergency] closes '{s.function}', which is no function of the lower stack"
            for s in self.step
            if s.function not in below
        ]
        times = [step.at for step in self.step]
        if times != sorted(times):
            found.append("[emergency] has steps out of order; sort them by 'at'")
        names = [step.function for step in self.step]
        found += [f"[emergency] closes '{n}' twice; name it once" for n in sorted(set(names)) if names.count(n) > 1]
        return found

    def build(
        self,
        net: Network,
        functions: Mapping[str, Function],
        pods: Sequence[str],
        held: float,
        sea: float,
        modulus: float,
        deck_kelvin: float,
        sea_kelvin: float,
    ) -> None:
        """Add bank, batteries, arming, the two triggers and the sequence, with readings, commands and faults.

        ``held`` is the bank's pressure at the start and ``sea`` the sea's (Pa absolute), ``modulus`` that of fluid and
        walls (Pa), and the two temperatures (K) are those of precharging and of the sea.
        """
        i = self.id
        self._bank(net, pods, held, sea, modulus, deck_kelvin, sea_kelvin)
        pulls = [self._batteries(net, pod) for pod in pods]
        self._arming(net, pods)
        self._triggers(net, pods, sea, pulls)
        self._panel(net, pods, sea)
        for step in self.step:
            self._stroke(net, step, functions[step.function], pods, sea)
        self._dump(net, pods, sea)
        for pod in pods:
            parted = component_fault(
                net, f"pod_{pod}", "conduit_parted", f"{pod.capitalize()} pod: conduit parted at the stack",
                ("totaliser.flow", "accumulator.pressure", "manifold_regulator.readback"),
                "Block the pod selector to save the fluid, use the other pod, make the well safe.",
            )  # fmt: skip
            net.edge(
                f"{i}.parted_{pod}", f"pod_{pod}.supply", "sea", opened_check,
                dict(k=PARTED_K, x=parted, leak=0.0), fault=f"pod_{pod}.conduit_parted",
            )  # fmt: skip

    def _dump(self, net: Network, pods: Sequence[str], sea: float) -> None:
        """Dump valves at the foot of the conduits, which springs shut without power, and what stands there."""
        meaning = "Dump valves: let the conduits' fluid out to sea at the stack."
        state_reading(net, "conduits.dump", DUMP, meaning, PANELS)
        choice(net, "conduits.dump", DUMP, meaning, PANELS, guard=partial(_answers, tuple(pods)))
        for pod in pods:
            tag, group = f"pod_{pod}.conduit_pressure", net.group(f"conduits.dumping_{pod}", awake=0.0)
            name = f"{pod.capitalize()} pod: pressure of its conduit at the stack, above sea pressure."
            reading(net, tag, "psi", -500, 6000, name, PANELS)
            valve = net.var(f"conduits.dump_{pod}")
            net.block(
                dumps,
                inputs=dict(ordered="conduits.dump", up=f"link_{pod}.up", p=f"pod_{pod}.supply.p", sea=sea),
                states=dict(shown=tag),
                outputs=dict(x=valve, awake=f"{group}.awake"),
            )
            net.edge(
                f"conduits.dumping_{pod}", f"pod_{pod}.supply", "sea", opened_check, dict(k=DUMP_K, x=valve, leak=0.0),
                group=group,
            )  # fmt: skip

    def _bank(
        self, net: Network, pods: Sequence[str], held: float, sea: float, modulus: float, deck: float, cold: float
    ) -> None:
        """The bottles, their check valves from both pods, and the line to the sequence behind the isolation valve."""
        i, bank, line, shell = self.id, f"{self.id}.bank", f"{self.id}.line", self.shell
        mass = shell * density(self.precharge + ATMOSPHERE, deck)
        gas = net.var(f"{i}.gas", mass, "kg")
        fluid = max(shell - mass / density(held, cold), 0.0)
        net.node(bank, Gas(shell, gas, "ambient.sea", self.relaxation, fluid, cold))
        net.node(line, Line(15 * LITRE, modulus, held))
        pressure = (f"{i}.pressure",)
        leaks = component_fault(
            net, i, "check_leaks", f"{self.name}: check valve of the bank leaks back", pressure,
            "The bank's pressure falls with the conduit's when that is let down: plan to pull the stack, report.",
        )  # fmt: skip
        for pod in pods:
            net.edge(
                f"{i}.charge_{pod}", f"pod_{pod}.supply", bank, charging,
                dict(k=CHECK_K, joined=f"pod_{pod}.joined_stack", leaks=leaks, back=LEAK_K),
            )  # fmt: skip
        shut = component_fault(
            net, i, "isolation_shut", f"{self.name}: isolation valve of the bank left shut", (f"{i}.state", *pressure),
            "The bank shows its pressure and gives nothing: look at the valve with the vehicle; test the sequence.",
        )  # fmt: skip
        state_reading(net, f"{i}.isolation", ("shut", "open"), f"{self.name}: isolation valve of the bank.", (), 1.0)
        net.block(left_shut, inputs=dict(shut=shut), outputs=dict(isolation=f"{i}.isolation"), gate=SECOND)
        net.edge(
            f"{i}.port", line, bank, isolated_port,
            dict(k=PORT * self.bottles**0.5, isolation=f"{i}.isolation", fluid=f"{bank}.v", last=LAST * shell),
        )  # fmt: skip
        for kind, title, remedy in (
            ("gas_lost", "bottles have lost their gas", "A full bank hides it: let it give fluid and see how far its "
             "pressure falls; recharge with nitrogen only, on deck."),
            ("bottle_lost", "one bottle has lost its gas", "A test of the sequence ends at a lower pressure than the "
             "record's: find the bottle on deck; nitrogen only."),
        ):  # fmt: skip
            component_fault(net, i, kind, f"{self.name}: {title}", pressure, remedy)
        net.block(
            gas_left,
            inputs=dict(
                mass=mass, lost=f"fault.{i}.gas_lost", one=f"fault.{i}.bottle_lost", over=0.0, share=1.0 / self.bottles
            ),
            states=dict(gas=gas),
            gate=SECOND,
        )
        meaning = f"{self.name}: pressure of the bank above sea pressure, by the transducer at its bottles."
        reading(net, f"{i}.pressure", "psi", 0, 6000, meaning, BENCH, None, held - sea)
        reading(net, f"{i}.fluid", "gal", 0, 2000, f"{self.name}: fluid in the bank.", ())

    def _batteries(self, net: Network, pod: str) -> str:
        """The two batteries of a pod, their load tests and the coils that they drive; gives what the coils pull."""
        i, shown = self.id, f"{pod.capitalize()} pod"
        drives: list[str] = []
        for letter in "ab":
            battery, name = f"{i}.battery_{pod}_{letter}", f"{shown}, deadman battery {letter.upper()}"
            reading(net, f"{battery}.volts", "V", 0, 30, f"{name}: voltage, under load while it is tested.", BENCH)
            reading(net, f"{battery}.lowest", "V", 0, 30, f"{name}: voltage under load at its last test.", BENCH)
            charge, left = net.var(f"{battery}.charge", 1.0), net.var(f"{battery}.testing", 0.0, "s")
            drive = net.var(f"{battery}.drives", FULL, "A")
            weak = component_fault(
                net, i, f"battery_weak_{pod}_{letter}", f"{name} weak", (f"{battery}.volts", f"{battery}.lowest"),
                "Volts without load stay near full: test each battery under load; plan to pull the pod, report.",
            )  # fmt: skip
            net.block(
                battery_law,
                inputs=dict(weak=weak, up=f"link_{pod}.up", scan=SCAN),
                states=dict(charge=charge, testing=left, **under(battery, "volts", "lowest")),
                outputs=dict(drives=drive),
            )
            drives.append(drive)

            def test(machine: Variables, where: str = left) -> None:
                machine.put(where, TEST)

            button(
                net, f"{battery}.test", f"{name}: load test for {TEST:g} seconds.", BENCH, test,
                partial(_answers, (pod,)),
            )  # fmt: skip
        reversed_ = component_fault(
            net, i, f"coil_reversed_{pod}", f"{shown}: deadman solenoid, coil B wired backward", (f"{i}.state",),
            "It pulls on one battery and not on two: test each battery alone and both together.",
        )  # fmt: skip
        pulls = net.var(f"{i}.pulls_{pod}", 1.0)
        net.block(
            deadman_solenoid,
            inputs=dict(amps_a=drives[0], amps_b=drives[1], reversed_=reversed_),
            outputs=dict(pulls=pulls),
        )
        return pulls

    def _arming(self, net: Network, pods: Sequence[str]) -> None:
        """The two arming valves, orders for them by telemetry, and the states that come up."""
        i = self.id
        for name, title in ((i, "Deadman"), ("autoshear", "Autoshear")):
            reported = f"{title}: its arming valve as the stack reports it."
            state_reading(net, f"{name}.state", STATES, reported, BENCH, 1.0)
            net.var(f"{name}.ordered", 1.0)
            net.var(f"{name}.armed", 1.0)
            choice(
                net, f"{name}.arm", ARMED, f"{title}: arm or disarm it.", PANELS, f"{name}.ordered",
                guard=partial(_may_arm, tuple(pods)), critical=True,
            )  # fmt: skip
        lost = component_fault(
            net, i, "not_armed", f"{self.name}: arming valve of the deadman does not shift", (f"{i}.state",),
            "Its state stays disarmed after the order: order it again, report; it protects no one until it is armed.",
        )  # fmt: skip
        crossed = component_fault(
            net, i, "wrong_arming", f"{self.name}: arming lines crossed", (f"{i}.state", "autoshear.state"),
            "The order for one moves the other: read both states after each order, and report.",
        )  # fmt: skip
        net.block(
            arming,
            inputs=dict(deadman=f"{i}.ordered", autoshear="autoshear.ordered", lost=lost, crossed=crossed),
            outputs=dict(deadman_armed=f"{i}.armed", autoshear_armed="autoshear.armed"),
        )

    def _triggers(self, net: Network, pods: Sequence[str], sea: float, pulls: list[str]) -> None:
        """What fires: for the deadman pressure, power and signal of both pods, for the autoshear its plunger."""
        i = self.id
        stuck = component_fault(
            net, "autoshear", "plunger_stuck", "Autoshear: plunger stuck", ("autoshear.state",),
            "It does not fire as the riser package lifts: close the rams by another way; free it on deck.",
        )  # fmt: skip
        net.var(f"{i}.losing", 0.0, "s")
        state_reading(net, f"{i}.fired", FIRED_BY, f"{self.name}: what fired.", ())
        reading(net, f"{i}.clock", "s", 0, 1e6, f"{self.name}: time since the sequence began.", ())
        power = [net.var(f"{i}.power_{pod}", 1.0) for pod in pods]
        for pod, has in zip(pods, power, strict=True):
            net.block(
                powered,
                inputs=dict(
                    **under(f"pod_{pod}", "amps_a", "amps_b"), cut=f"fault.pod_{pod}.cable_cut", up=f"link_{pod}.up"
                ),
                outputs=dict(alive=has),
            )
        net.block(
            triggers,
            inputs=dict(
                supplies=[f"pod_{pod}.supply.p" for pod in pods],
                powers=power,
                pulls=pulls,
                lost_at=self.loss + sea,
                confirm=self.confirm,
                deadman=f"{i}.armed",
                autoshear="autoshear.armed",
                lifted="bore.parted",
                stuck=stuck,
                scan=SCAN,
            ),
            states=under(i, "losing", "fired", "clock"),
        )
        net.block(
            stirs,
            inputs=dict(fired=f"{i}.fired", clock=f"{i}.clock", end=self.seconds + AFTER, fresh=STIR),
            states=dict(left="functions.stir"),
        )

    def _panel(self, net: Network, pods: Sequence[str], sea: float) -> None:
        """What comes up over a link, and the order that puts the sequence's valves back."""
        i = self.id
        net.block(
            told,
            inputs=dict(
                links=[f"link_{pod}.up" for pod in pods],
                frozen="fault.telemetry.frozen",
                deadman=f"{i}.armed",
                autoshear="autoshear.armed",
                fired=f"{i}.fired",
                p=f"{i}.bank.p",
                sea=sea,
            ),
            states=dict(deadman_state=f"{i}.state", autoshear_state="autoshear.state", pressure=f"{i}.pressure"),
        )
        net.block(same, inputs=dict(value=f"{i}.bank.v"), outputs=dict(copy=f"{i}.fluid"), rate="observe")

        def reset(machine: Variables) -> None:
            for name, value in (("fired", 0.0), ("clock", 0.0), ("losing", 0.0), ("ordered", 0.0)):
                machine.put(f"{i}.{name}", value)
            machine.put("autoshear.ordered", 0.0)

        def guard(machine: Variables, command: Order) -> Refusal | None:
            refusal = _may_arm(tuple(pods), machine, command)
            if refusal:
                return refusal
            if machine.read(f"{i}.fired") < 0.5:
                return Refusal("not_fired", "The sequence has not fired: there is nothing to put back.")
            if machine.read(f"{i}.clock") < self.seconds:
                return Refusal("running", "The sequence is closing: wait until it is complete.")
            return None

        meaning = "Put the valves of deadman and autoshear back; both are disarmed by it."
        button(net, f"{i}.reset", meaning, PANELS, reset, guard)

    def _stroke(self, net: Network, step: Stroke, function: Function, pods: Sequence[str], sea: float) -> None:
        """The valve of a step, and its shuttle at the closing chamber of the function."""
        i, valve = self.id, net.var(f"{self.id}.{function.id}.x")
        net.block(
            opens,
            inputs=dict(fired=f"{i}.fired", clock=f"{i}.clock", at=step.at, step=SCAN / TRAVEL),
            states=dict(x=valve),
        )
        self.way_in(net, function, pods, sea, valve)

    def way_in(self, net: Network, function: Function, pods: Sequence[str], sea: float, valve: str) -> None:
        """Add the bank's way into a function's closing chamber by ``valve``, past a shuttle beside the pods'."""
        node = f"{function.id}.close"
        shuttle, through = net.var(f"{node}.shuttle_e", 0.0), net.var(f"{node}.from_e", 0.0)
        ways, pressures = pod_ways(function, pods)
        net.block(
            back_up_shuttle,
            inputs=dict(pressures=pressures, pc=f"{self.id}.line.p", xc=valve, sea=sea),
            states=dict(shuttle=shuttle, ways=ways, vent=f"{node}.vent"),
            outputs=dict(through=through),
            rate="tick",
            group=f"{function.id}.power",
        )
        add_back_up(net, function, "emergency", f"{self.id}.line", valve, shuttle, through)


def _answers(pods: Sequence[str], machine: Variables, command: Order) -> Refusal | None:
    """Why what is asked of the stack does not come through: no power at the panels, no link to any of ``pods``."""
    if machine.read("panel.power") < 0.5:
        return Refusal("no_power", "The panels have no power: no order reaches the stack from here.")
    if all(machine.read(f"link_{pod}.up") < 0.5 for pod in pods):
        return Refusal("no_link", "No link: the order would not arrive.")
    return None


def _may_arm(pods: Sequence[str], machine: Variables, command: Order) -> Refusal | None:
    refusal = _answers(pods, machine, command)
    if refusal:
        return refusal
    if machine.read("driller.enable") <= 0.0:
        return Refusal("not_enabled", "Arming is critical: press enable first, then the button within five seconds.")
    return None


def no_load(charge: float) -> float:
    """Voltage (V) of a battery that gives no current, by the share of its charge: it falls hardly at all."""
    return SPENT_VOLTS + (FRESH_VOLTS - SPENT_VOLTS) * (charge - SPENT) / (1.0 - SPENT)


def loaded(charge: float) -> float:
    """Voltage (V) of a battery under the firing current, V = E - I R: its resistance grows as the charge falls."""
    return max(no_load(charge) - FIRING * RESISTANCE / max(charge, 0.01), 0.0)


@gives("charge", "testing", "volts", "lowest", "drives")
def battery_law(
    charge: Number, testing: Seconds, volts: Voltage, lowest: Voltage, weak: Number, up: Number, scan: Seconds
) -> tuple[Number, Seconds, Voltage, Voltage, Current]:
    """Charge left (share) and of a load test (s), volts shown and volts at the last test, and the coil current (A).

    A battery that is ``weak`` has lost up to ``WEAK`` of its charge. Without a link nothing new is shown. A side
    drives its coil only if its battery holds ``NEEDED`` under load.
    """
    drawn = (FIRING if testing > 0.0 else ASLEEP) * scan / CAPACITY
    left = max(min(charge, 1.0 - WEAK * weak) - drawn, 0.0)
    under_load = loaded(left)
    now = under_load if testing > 0.0 else no_load(left)
    shown = now if up > 0.5 else volts
    noted = under_load if testing > 0.0 and up > 0.5 else lowest
    return left, max(testing - scan, 0.0), shown, noted, (FULL if under_load >= NEEDED else 0.0)


@gives("pulls")
def deadman_solenoid(amps_a: Current, amps_b: Current, reversed_: Number) -> Number:
    """1 where the two coils of a pod's deadman solenoid pull together, 0 where they are too weak or cancel."""
    amps = pull(amps_a, amps_b, 0.0, reversed_)
    return 1.0 if amps >= PULL_IN else 0.0


@gives("deadman_armed", "autoshear_armed")
def arming(deadman: Number, autoshear: Number, lost: Number, crossed: Number) -> tuple[Number, Number]:
    """Where the two arming valves stand (1 armed) by their orders: one may be ``lost``, or the lines ``crossed``."""
    first = autoshear if crossed > 0.0 else deadman
    second = deadman if crossed > 0.0 else autoshear
    return (0.0 if lost > 0.0 else first), second


@gives("alive")
def powered(amps_a: Current, amps_b: Current, cut: Number, up: Number) -> Number:
    """1 while a pod has power or signal: a side lives and its cable is whole, or its link is up."""
    return 1.0 if (amps_a + amps_b > 0.5 * FULL and cut <= 0.0) or up > 0.5 else 0.0


def all_lost(supplies: list[float], powers: list[float], lost_at: float) -> float:
    """1 when every conduit is below ``lost_at`` (Pa) and no pod has power or signal, else 0."""
    pressure = any(p >= lost_at for p in supplies)
    power = any(has > 0.5 for has in powers)
    return 0.0 if pressure or power else 1.0


@gives("losing", "fired", "clock")
def triggers(
    losing: Seconds,
    fired: Number,
    clock: Seconds,
    supplies: list[Pressure],
    powers: list[Number],
    pulls: list[Number],
    lost_at: Pressure,
    confirm: Seconds,
    deadman: Number,
    autoshear: Number,
    lifted: Number,
    stuck: Number,
    scan: Seconds,
) -> tuple[Seconds, Number, Seconds]:
    """For how long all has been lost (s), what has fired (an index of ``FIRED_BY``), and the sequence's clock (s).

    A shorter loss starts anew. What has fired stays so until it is put back.
    """
    all_gone = all_lost(supplies, powers, lost_at)
    lasts = losing + scan if all_gone > 0.5 and deadman > 0.5 else 0.0
    acts = any(p > 0.5 for p in pulls)
    by_deadman = 1.0 if lasts >= confirm - 1.0e-6 and acts else 0.0
    by_plunger = 2.0 if autoshear > 0.5 and lifted > 0.5 and stuck <= 0.0 else 0.0
    begins = by_deadman if by_deadman > 0.5 else by_plunger
    now = fired if fired > 0.5 else begins
    return lasts, now, (clock + scan if fired > 0.5 else 0.0)


@gives("x")
def opens(x: Number, fired: Number, clock: Seconds, at: Seconds, step: Number) -> Number:
    """Opening of a valve of the sequence: it opens ``at`` s after the beginning and shuts once it is put back."""
    want = 1.0 if fired > 0.5 and clock >= at - 1.0e-6 else 0.0
    return x + min(max(want - x, -step), step)


@gives("left")
def stirs(left: Seconds, fired: Number, clock: Seconds, end: Seconds, fresh: Seconds) -> Seconds:
    """Seconds for which all functions look about them: ``fresh`` as long as the sequence may move one."""
    return fresh if fired > 0.5 and clock < end else left


def charging(
    pu: Pressure, pd: Pressure, k: Coefficient, joined: Number, leaks: Number, back: Coefficient
) -> tuple[float, float, float]:
    """A check valve into the bank, from a pod whose stab is in the stack; one that ``leaks`` passes back."""
    q, gu, gd = opened_check(pu, pd, k, joined, back * leaks * joined)
    return q, gu, gd


@gives("isolation")
def left_shut(shut: Number) -> Number:
    """Where the isolation valve of the bank stands: 1 open, 0 left shut."""
    return 0.0 if shut > 0.5 else 1.0


@gives("deadman_state", "autoshear_state", "pressure")
def told(
    deadman_state: Number,
    autoshear_state: Number,
    pressure: Pressure,
    links: list[Number],
    frozen: Number,
    deadman: Number,
    autoshear: Number,
    fired: Number,
    p: Pressure,
    sea: Pressure,
) -> tuple[Number, Number, Pressure]:
    """States of deadman and autoshear (indices of ``STATES``) and the bank's pressure over the sea's, as shown.

    Over lost links they are stale and the pressure stays; on frozen screens all stays.
    """
    up = first_where(links, links, 0.0)
    first = 2.0 if fired > 0.5 and fired < 1.5 else deadman
    second = 2.0 if fired > 1.5 else autoshear
    one = first if up > 0.5 else 3.0
    other = second if up > 0.5 else 3.0
    seen = p - sea if up > 0.5 and frozen <= 0.0 else pressure
    return (deadman_state if frozen > 0.0 else one), (autoshear_state if frozen > 0.0 else other), seen


@gives("x", "awake", "shown")
def dumps(shown: Pressure, ordered: Number, up: Number, p: Pressure, sea: Pressure) -> tuple[Number, Number, Pressure]:
    """Opening of a dump valve, the same for its line's switch, and its conduit's pressure over the sea's as told."""
    x = 1.0 if ordered > 0.5 and up > 0.5 else 0.0
    return x, x, (p - sea if up > 0.5 else shown)
