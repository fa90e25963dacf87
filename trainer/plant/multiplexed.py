"""Feed by messages: orders by telemetry, solenoid valves with two coils, and pilot-operated valves, all in the pods.

An order reaches every pod. There each side of the electronics puts current through its own coil of the function's
solenoid valve. The two coils lie on one core, so that their currents add, or cancel where one is wired backward: the
valve shifts when |pA IA + pB IB| is ``PULL_IN`` or more, with p = 1 or -1. A solenoid that has pulled in lets the pod's
own fluid to a pilot-operated valve. What the panel lights is the pod's answer: that valve's pressure switch, some time
later. A piston may still stand: the flow count tells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.lists import chosen, first_where, largest
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import state_reading
from trainer.plant.feeds import add_cylinder_switches, wake_by
from trainer.plant.functions import Row
from trainer.plant.pod_fed import SHUTTLE_LEAK, PodFed, two
from trainer.units import Current, Number, Pressure, Seconds

if TYPE_CHECKING:
    from trainer.plant.functions import Function
    from trainer.plant.telemetry import Telemetry

PULL_IN = 0.7
"""A through the coils together at which a solenoid valve shifts. Invented."""
OLD = 60.0
"""Age of an order, s, beyond which it is no longer counted."""
ANSWERS = ("answered", "waiting", "no answer", "stale")


@dataclass(frozen=True, kw_only=True)
class Multiplexed(PodFed):
    """What functions hang on whose orders are messages: the pods and the telemetry to them."""

    telemetry: Telemetry

    @property
    def stations(self) -> tuple[str, ...]:
        """Ids of the stations from which they are ordered: there is no lever on deck that moves them."""
        return ("driller", "remote")

    def without_panels(self, name: str) -> Refusal:
        """Why a panel without power cannot work the function of this name: there is no lever for it."""
        return Refusal(
            "no_power", f"The panels have no power: no lever on deck works {name}; the pods keep their last order."
        )

    @property
    def fault_kinds(self) -> tuple[Row, ...]:
        """Faults of the way through the pods, for each pod that has parts of its own."""
        change = "Change to the other pod and compare."
        count = ("totaliser.flow", "totaliser.count")
        found: list[Row] = [SHUTTLE_LEAK]
        for pod in self.pods:
            for kind, title, remedy in (
                ("coil_dead", "closing solenoid, coil A open", "Order it with side B off: no answer. " + change),
                (
                    "coil_reversed",
                    "closing solenoid, coil B wired backward",
                    "It answers on side A alone and on B alone, and not with both on: test all three. " + change,
                ),
                ("solenoid_stuck", "closing solenoid stuck", change),
                ("pod_valve_slow", "valve slow to shift", change),
                ("pod_valve_stuck", "valve does not shift", change),
            ):
                found.append((f"{kind}_{pod}", f"{pod} pod: {title}", count, remedy))
        return tuple(found)

    @property
    def lamp_by(self) -> str:
        """What lights a function's lamps, in words: the answer of the pod that is selected."""
        return "by the pod's answer"

    def stands(self, function: Function) -> tuple[str, tuple[str, ...]]:
        """What the reading of its control valve means, and at which stations it is seen."""
        return f"{function.name}: where its valve is ordered to stand.", self.stations

    def valve_faults(self, lamps: tuple[str, ...]) -> tuple[Row, ...]:
        """Faults of a control valve at the unit: none, since no such valve works these functions."""
        return ()

    def loses(self, machine: Variables, function: Function, command: Order) -> bool:
        """Whether an order is lost before it is sent: no, what becomes of it is seen by the answer."""
        return False

    def valve(self, net: Network, function: Function) -> None:
        """Add the message: the age of the last order, and what each pod has heard of it (an index of ``WAYS``)."""
        i = function.id
        age, asked = net.var(f"{i}.age", OLD, "s"), net.var(f"{i}.asked", function.at_start)
        net.block(
            sent, inputs=dict(valve=f"{i}.valve", scan=SCAN), states=dict(asked=asked, age=age), gate=f"{i}.attend"
        )
        for pod in self.pods:
            order = net.var(f"{i}.{pod}.order", function.at_start)
            net.block(
                heard,
                inputs=dict(asked=asked, age=age, reach=f"link_{pod}.reach"),
                states=dict(order=order),
                gate=f"{i}.attend",
            )

    def attend(self, net: Network, function: Function) -> None:
        """Add what decides whether the function's own logic runs: its supplies, and what may stir it."""
        nodes = [*two(self.supplies(function)), *(f"pod_{pod}.supply" for pod in two(self.pods))]
        supplies = {f"seen_{number}": node for number, node in enumerate(nodes)}
        wake_by(net, function, supplies, ["lamps.stir", "pods.stir", f"{self.telemetry.id}.stir"])

    def lines(self, net: Network, function: Function) -> None:
        """Solenoids and pilot-operated valves of both ways in all pods, and the answer that comes up."""
        i = function.id
        group = net.group(f"{i}.pilot", f"{i}.attend")
        supplies = [f"pod_{pod}.supply.p" for pod in self.pods]
        targets: list[str] = []
        valves: dict[str, list[str]] = {"open": [], "close": []}
        for number, way in enumerate(("open", "close"), 1):
            live = 1.0 if way == function.starts else 0.0
            for pod in self.valves:
                name = pod.id
                x, target = net.var(f"{i}.{way}.{name}.x", live), net.var(f"{i}.{way}.{name}.target", live)
                own = {kind: function.fault(f"{kind}_{name}") for kind in ("coil_dead", "coil_reversed")}
                net.block(
                    solenoid,
                    inputs=dict(
                        order=f"{i}.{name}.order",
                        mine=float(number),
                        **under(f"pod_{name}", "amps_a", "amps_b"),
                        coil_dead=own["coil_dead"] if way == "close" else 0.0,
                        reversed_=own["coil_reversed"] if way == "close" else 0.0,
                        stuck=function.fault(f"solenoid_stuck_{name}") if way == "close" else 0.0,
                        supplies=supplies,
                        sea=self.outside,
                        on=pod.shift_on,
                        off=pod.shift_off,
                    ),
                    states=dict(target=target),
                    gate=f"{i}.attend",
                )
                net.block(
                    shifts,
                    inputs=dict(
                        target=target,
                        step=net.tick / pod.travel,
                        slow=function.fault(f"pod_valve_slow_{name}"),
                        stuck=function.fault(f"pod_valve_stuck_{name}"),
                    ),
                    states=dict(x=x),
                    rate="tick",
                    group=group,
                )
                targets.append(target)
                valves[way].append(x)
        self._answer(net, function, valves)
        net.var(f"{i}.pilot.due")
        net.block(
            due,
            inputs=dict(
                targets=targets,
                valves=[*valves["open"], *valves["close"]],
                unsaid=f"{i}.unsaid",
            ),
            outputs=dict(awake=f"{i}.pilot.awake", due=f"{i}.pilot.due"),
            gate=f"{i}.attend",
        )
        add_cylinder_switches(net, function)

    def _answer(self, net: Network, function: Function, valves: dict[str, list[str]]) -> None:
        """What comes up from the pod that is selected, and what the panel makes of it."""
        i, told = function.id, self.telemetry
        state_reading(net, f"{i}.answer", ANSWERS, f"{function.name}: what the pod answered.", self.stations)
        for name in ("open_told", "close_told"):
            net.var(f"{i}.{name}", 1.0 if name.startswith(function.starts) else 0.0)
        net.var(f"{i}.since", OLD, "s")
        net.var(f"{i}.unsaid")
        net.block(
            answered,
            inputs=dict(
                open_valves=valves["open"],
                close_valves=valves["close"],
                selected=[f"pod_selector.{pod}" for pod in self.pods],
                links=[f"link_{pod}.up" for pod in self.pods],
                frozen=f"fault.{told.id}.frozen",
                valve=f"{i}.valve",
                age=f"{i}.age",
                back=told.back,
                within=told.answer,
                scan=SCAN,
            ),
            states=under(i, "open_told", "close_told", "since", "open_way", "close_way", "answer"),
            outputs=dict(unsaid=f"{i}.unsaid"),
            gate=f"{i}.attend",
        )

    def switches(self, net: Network, function: Function) -> tuple[str, str]:
        """Names of the two values that light the open and the close lamp: what the pod last answered, as pressures."""
        return f"{function.id}.open_switch", f"{function.id}.close_switch"


@gives("asked", "age")
def sent(asked: Number, age: Seconds, valve: Number, scan: Seconds) -> tuple[Number, Seconds]:
    """The last order sent, and its age up to ``OLD``; a newer one takes the place of one still on its way."""
    return valve, (0.0 if valve != asked else min(age + scan, OLD))


@gives("order")
def heard(order: Number, asked: Number, age: Seconds, reach: Seconds) -> Number:
    """The order that a pod obeys: the last one, once it has had the time to ``reach`` it."""
    return asked if age >= reach - 1.0e-6 else order


def pull(amps_a: float, amps_b: float, coil_dead: float, reversed_: float) -> float:
    """Current (A) that counts for the core of a solenoid valve: coil A's and, by its polarity, coil B's."""
    a = 0.0 if coil_dead > 0.0 else amps_a
    b = -amps_b if reversed_ > 0.0 else amps_b
    return abs(a + b)


@gives("target")
def solenoid(
    target: Number,
    order: Number,
    mine: Number,
    amps_a: Current,
    amps_b: Current,
    coil_dead: Number,
    reversed_: Number,
    stuck: Number,
    supplies: list[Pressure],
    sea: Pressure,
    on: Pressure,
    off: Pressure,
) -> Number:
    """Where a pod's valve is driven (1 shifted): while the order is ``mine``, its coils pull and its pilot fluid holds.

    The pilot fluid comes from whichever pod's supply is the higher: it shifts the valve at ``on`` over the sea, and
    lets it spring back below ``off``. A stuck solenoid stays as it is.
    """
    over = largest(supplies) - sea
    holds = over > on or (target > 0.5 and over > off)
    amps = pull(amps_a, amps_b, coil_dead, reversed_)
    pulls = abs(order - mine) < 0.5 and amps >= PULL_IN
    return target if stuck > 0.0 else (1.0 if pulls and holds else 0.0)


@gives("x")
def shifts(x: Number, target: Number, step: Number, slow: Number, stuck: Number) -> Number:
    """Opening of a pilot-operated valve in a pod after a tick, towards its target; ``slow`` 1: twenty times as long."""
    most = 0.0 if stuck > 0.0 else step * (1.0 - 0.95 * slow)
    return x + min(max(target - x, -most), most)


@gives("awake", "due")
def due(targets: list[Number], valves: list[Number], unsaid: Number) -> tuple[Number, Number]:
    """1 while a valve is not where it is driven or its answer is on the way; and 1 while a valve has to move."""
    off = largest([abs(target - x) for target, x in zip(targets, valves, strict=True)])
    moves = 1.0 if off > 1.0e-9 else 0.0
    return max(moves, unsaid), moves


@gives("open_told", "close_told", "since", "open_way", "close_way", "answer", "unsaid")
def answered(
    open_told: Number,
    close_told: Number,
    since: Seconds,
    open_way: Number,
    close_way: Number,
    answer: Number,
    open_valves: list[Number],
    close_valves: list[Number],
    selected: list[Number],
    links: list[Number],
    frozen: Number,
    valve: Number,
    age: Seconds,
    back: Seconds,
    within: Seconds,
    scan: Seconds,
) -> tuple[Number, Number, Seconds, Number, Number, Number, Number]:
    """What the selected pod's switches tell (0 or 1) and since when (s), what the panel shows of it, and its verdict.

    An answer is ``back`` s old when it is shown. Over a lost link nothing new comes: what is shown is stale. On frozen
    screens nothing changes, the verdict neither.
    """
    up = first_where(links, selected, chosen(links, 0.0))
    opens = 1.0 if first_where(open_valves, selected, chosen(open_valves, 0.0)) > 0.9 else 0.0
    closes = 1.0 if first_where(close_valves, selected, chosen(close_valves, 0.0)) > 0.9 else 0.0
    changed = opens != open_told or closes != close_told
    held = 0.0 if changed else min(since + scan, OLD)
    shows = up > 0.5 and frozen <= 0.0 and held >= back - 1.0e-6
    open_now = opens if shows else open_way
    close_now = closes if shows else close_way
    agrees = abs(valve - open_now - close_now - close_now) < 0.5
    fresh = 0.0 if agrees else (1.0 if age < within else 2.0)
    verdict = answer if frozen > 0.0 else (fresh if up > 0.5 else 3.0)
    unsaid = 1.0 if up > 0.5 and (open_now != opens or close_now != closes) else 0.0
    return opens, closes, held, open_now, close_now, verdict, unsaid
