"""The acoustic back-up: coded sound through the water to a receiver on the lower stack, from a case on the boat deck.

It is worked when neither pod answers. A transducer is lowered over the side, and a code travels down with the speed of
sound; the receiver takes it if the signal stands far enough above the noise around it, fires a solenoid valve of its
own, and answers. The answer says that the valve was driven and what pressure the bank has, not that a ram has moved. It
can drown in the vessel's own noise though the order was carried out, and the order can drown in gas at the stack though
the vessel lies quiet. The fluid is the deadman's bank: what that has used is gone.

The signal falls off by spherical spreading and absorption; ``LOSS`` gives both together as a table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from itertools import pairwise
from typing import Annotated

from pydantic import Field

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.laws import opened_check
from trainer.hydraulics.lists import chosen
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import PSI, Component, Part, button, choice, component_fault, reading, state_reading
from trainer.plant.emergency import NEEDED, TRAVEL, WEAK, Emergency, loaded, no_load
from trainer.plant.functions import STIR, Function
from trainer.units import Coefficient, Level, Number, Pressure, Seconds, Velocity, Voltage, between

BOAT = "boat"
"""The station of its case: the boat deck."""
STATION = (BOAT,)
KEYS = ("off", "on")
HANGS = ("stowed", "shallow", "deep")
REPLIES = ("none", "sending", "answered", "fired", "not fired", "no reply")
STATUS = "status"
LOSS = ((100.0, 40.6), (250.0, 49.5), (500.0, 57.0), (1000.0, 66.1), (1500.0, 72.7), (2000.0, 78.3), (2500.0, 83.3),
        (3000.0, 87.9), (4000.0, 96.5))  # fmt: skip
"""Range (m) and transmission loss (dB) at 25 kHz: 20 lg r + a r, with a = 6.12 dB/km by Thorp's formula."""
FOLDED = 38.0
"""dB that a receiver's arm takes from signals both ways while it is folded. Invented."""
GAS_UP = 0.5
"""Share of the noise of gas at the stack that is heard under the vessel. Invented."""
PAUSE = 1.0
"""s after the answer's time until a code is sent again. Invented."""
MOVING = 90.0
"""s for which functions look about them once a valve has been fired: none takes longer. Invented."""
USED_K = 2.0e-5
"""m3/(s sqrt(Pa)) by which a bank is emptied that was used before, 26 Cv. Invented."""
USED_LEFT = 300.0 * PSI
"""Pa over the sea's in a bank that is used up. Invented."""


class Noise(Part):
    """Noise in the receiver's band, in dB as the signal: under the vessel at either stand, and at the stack."""

    shallow: Annotated[Level, between("40 dB", "140 dB")]
    deep: Annotated[Level, between("40 dB", "140 dB")]
    stack: Annotated[Level, between("40 dB", "140 dB")]
    thrusters: Annotated[Level, between("0 dB", "60 dB")]
    """More than that under thrusters at full power, at the shallow stand."""
    thrusters_deep: Annotated[Level, between("0 dB", "60 dB")]
    gas: Annotated[Level, between("0 dB", "80 dB")]
    """More than that at a stack around which gas rises."""


class Acoustic(Component):
    """Case, transducer and receiver; ``source`` is the level of either's signal at 1 m. Figures are invented."""

    source: Annotated[Level, between("150 dB", "220 dB")]
    margin: Annotated[Level, between("3 dB", "30 dB")]
    """By how much a signal has to stand above the noise."""
    sound: Annotated[Velocity, between("1400 m/s", "1600 m/s")]
    code: Annotated[Seconds, between("0.5 s", "30 s")] = 5.0
    tries: int = Field(default=3, ge=1, le=9)
    lower: Annotated[Seconds, between("5 s", "900 s")] = 120.0
    """From one stand of the transducer to the next."""
    walk: Annotated[Seconds, between("0 s", "1200 s")] = 120.0
    """The way to the case from the driller's panel, on foot."""
    noise: Noise
    command: tuple[str, ...] = Field(min_length=1, max_length=5)
    """The functions that it closes, in the order of their buttons."""

    def received(self, depth: float) -> float:
        """Level of a signal, in dB, that has travelled ``depth`` m through the sea."""
        return self.source - lost_on_the_way(depth)

    def way(self, depth: float) -> float:
        """Time (s) in which sound travels ``depth`` m through the sea, one way."""
        return depth / self.sound

    def faults(self, functions: Sequence[Function], emergency: Emergency | None) -> list[str]:
        """What does not fit the stack, as sentences: no bank to draw on, functions that no pod feeds."""
        if emergency is None:
            return ["[acoustic] draws on the bank of [emergency], and there is none; take it out"]
        fed = {f.id for f in functions if f.place in ("stack", "riser_package")}
        found = [f"[acoustic] closes '{n}', which is no function of the stack" for n in self.command if n not in fed]
        found += [
            f"[acoustic] closes '{n}' twice; name it once"
            for n in sorted(set(self.command))
            if self.command.count(n) > 1
        ]
        return found

    def build(self, net: Network, functions: Mapping[str, Function], pods: Sequence[str], emergency: Emergency,
              sea: float, held: float, depth: float) -> None:  # fmt: skip
        """Add case, transducer, receiver and its solenoid valves of ``functions``, with readings, orders and faults.

        ``sea`` is the sea's pressure, ``held`` that of the bank of ``emergency`` at the start (Pa absolute), and
        ``depth`` the way through the water (m).
        """
        self._case(net)
        self._levels(net, depth)
        self._exchange(net, emergency.id, sea, depth)
        for number, name in enumerate(self.command, 1):
            self._valve(net, functions[name], number, pods, emergency, sea)
        net.block(
            stirs_by_sound,
            inputs=dict(fires=f"{self.id}.fires", scan=SCAN, moving=MOVING, fresh=STIR),
            states=dict(busy=net.var(f"{self.id}.busy", 0.0, "s"), left="functions.stir"),
        )
        used = component_fault(
            net, self.id, "bank_used", f"{self.name}: bank used before",
            (f"{self.id}.bank", f"{emergency.id}.pressure"),
            "Ask for the status before you count on it: a bank too low for the ram leaves the vehicle.",
        )  # fmt: skip
        net.edge(
            f"{self.id}.used", f"{emergency.id}.bank", "sea", used_up,
            dict(k=USED_K, severity=used, full=held - sea, left=USED_LEFT), fault=f"{self.id}.bank_used",
        )  # fmt: skip

    def _case(self, net: Network) -> None:
        """The transducer's winch and the two keys."""
        i, n = self.id, self.name
        state_reading(net, f"{i}.transducer", HANGS, f"{n}: where the transducer is ordered to hang.", STATION)
        state_reading(net, f"{i}.hangs", HANGS, f"{n}: where the transducer hangs.", STATION)
        reading(net, f"{i}.left", "s", 0, 1800, f"{n}: time until the transducer hangs there.", STATION)
        net.var(f"{i}.sent_to", 0.0)
        choice(net, f"{i}.transducer", HANGS, f"{n}: transducer over the side.", STATION)
        net.block(
            lowering,
            inputs=dict(wanted=f"{i}.transducer", takes=self.lower, scan=SCAN),
            states=under(i, "sent_to", "left", "hangs"),
        )
        for number in (1, 2):
            key = f"{i}.key_{number}"
            state_reading(net, key, KEYS, f"{n}: key {number} of its case.", STATION)
            choice(net, key, KEYS, f"{n}: key {number} of its case.", STATION)

    def _levels(self, net: Network, depth: float) -> None:
        """Noise at both ends, and by how much a signal stands above it."""
        i, n = self.id, self.name
        reading(net, f"{i}.noise", "dB", 0, 160, f"{n}: noise at its transducer.", STATION)
        reading(net, f"{i}.most", "dB", 0, 160, f"{n}: most noise in which a reply is understood.", STATION)
        folded = component_fault(
            net, i, "arm_folded", f"{n}: receiver's arm on the stack folded", (f"{i}.reply", f"{i}.noise"),
            "No reply though the noise is low: have the vehicle unfold the arm, or close the ram by the vehicle.",
        )  # fmt: skip
        thrusters = component_fault(
            net, i, "thruster_noise", f"{n}: thrusters louder than a reply", (f"{i}.noise", f"{i}.reply"),
            "Noise above what a reply needs: lower the transducer below the thrusters' wash, ask the bridge.",
        )  # fmt: skip
        gas = component_fault(
            net, i, "gas_noise", f"{n}: gas around the stack louder than an order", (f"{i}.noise", f"{i}.reply"),
            "Three tries without a reply, deep as shallow: the order is not heard. Close by the vehicle.",
        )  # fmt: skip
        for name in ("over", "above_stack", "above_vessel"):
            net.var(f"{i}.{name}", 0.0, "dB")
        net.block(
            levels,
            inputs=dict(
                hangs=f"{i}.hangs", over=f"{i}.over", thrusters=thrusters, gas=gas, folded=folded,
                received=self.received(depth), margin=self.margin, quiet=[self.noise.shallow, self.noise.deep],
                louder=[self.noise.thrusters, self.noise.thrusters_deep], below=self.noise.stack,
                by_gas=self.noise.gas,
            ),
            outputs=under(i, "noise", "most", "above_stack", "above_vessel"),
        )  # fmt: skip

    def _exchange(self, net: Network, bank: str, sea: float, depth: float) -> None:
        """A code's way down and its answer's way up, what the answer says, and the buttons."""
        i, n = self.id, self.name
        state_reading(net, f"{i}.reply", REPLIES, f"{n}: what came back of the last order.", STATION)
        reading(net, f"{i}.tries", "msg", 0, 9, f"{n}: codes sent of the last order.", STATION)
        reading(net, f"{i}.bank", "psi", 0, 6000, f"{n}: pressure of the bank above sea pressure, by the last reply.",
                STATION)  # fmt: skip
        reading(net, f"{i}.volts", "V", 0, 30, f"{n}: battery of the receiver, by the last reply.", STATION)
        reading(net, f"{i}.age", "s", 0, 1e6, f"{n}: age of the last reply.", STATION)
        weak = component_fault(
            net, i, "battery_weak", f"{n}: battery of the receiver weak", (f"{i}.reply", f"{i}.volts"),
            "It answers and does not fire: close by the vehicle; plan to change the battery, report.",
        )  # fmt: skip
        for name, unit in (("asked", "1"), ("clock", "s"), ("heard", "1"), ("fires", "1"), ("sample", "Pa"),
                           ("sampled", "V")):  # fmt: skip
            net.var(f"{i}.{name}", 0.0, unit)
        net.block(
            exchange,
            inputs=dict(
                **under(i, "hangs", "key_1", "key_2", "above_stack", "above_vessel"),
                margin=self.margin, code=self.code, way=self.way(depth), most=float(self.tries),
                commands=float(len(self.command)), weak=weak, p=f"{bank}.bank.p", sea=sea, scan=SCAN,
            ),
            states=under(i, "asked", "clock", "tries", "heard", "reply", "bank", "volts", "age", "sample", "sampled"),
            outputs=dict(fires=f"{i}.fires"),
        )  # fmt: skip

        def send(machine: Variables, number: float) -> None:
            for name, value in (("asked", number), ("clock", 0.0), ("tries", 1.0), ("heard", 0.0), ("reply", 1.0)):
                machine.put(f"{i}.{name}", value)

        def ready(machine: Variables, command: Order) -> Refusal | None:
            if machine.read(f"{i}.hangs") < 0.5 or machine.read(f"{i}.left") > 0.0:
                return Refusal("not_lowered", "The transducer does not hang in the water yet: lower it and wait.")
            if machine.read(f"{i}.asked") > 0.5:
                return Refusal("sending", "A code is on its way: wait for the reply, or until its tries are over.")
            return None

        def keyed(machine: Variables, command: Order) -> Refusal | None:
            if min(machine.read(f"{i}.key_1"), machine.read(f"{i}.key_2")) < 0.5:
                return Refusal("not_keyed", "Both keys of the case have to be on before an order is sent.")
            return ready(machine, command)

        last = float(len(self.command) + 1)
        button(net, f"{i}.{STATUS}", f"{n}: ask for its status: bank and battery.", STATION, partial(send, number=last),
               ready)  # fmt: skip
        for number, name in enumerate(self.command, 1):
            meaning = f"{n}: order number {number}, behind two keys."
            button(net, f"{i}.{name}", meaning, STATION, partial(send, number=float(number)), keyed)

    def _valve(self, net: Network, function: Function, number: int, pods: Sequence[str], emergency: Emergency,
               sea: float) -> None:  # fmt: skip
        """The receiver's own solenoid valve of a function, beside the deadman's where that closes it too."""
        i = self.id
        driven, mine = net.var(f"{i}.{function.id}.driven"), net.var(f"{i}.{function.id}.x")
        net.block(
            fired_valve,
            inputs=dict(fires=f"{i}.fires", number=float(number), step=SCAN / TRAVEL),
            states=dict(driven=driven, x=mine),
        )
        joint = f"{emergency.id}.{function.id}.x"
        if joint not in net.variables:
            net.var(joint)
            emergency.way_in(net, function, pods, sea, joint)
        net.block(beside, inputs=dict(mine=mine), states=dict(x=joint))


def lost_on_the_way(depth: float) -> float:
    """Transmission loss (dB) over ``depth`` m, between the rows of ``LOSS``; its ends hold beyond them."""
    for (near, less), (far, more) in pairwise(LOSS):
        if depth <= far:
            share = max((depth - near) / (far - near), 0.0)
            return less + share * (more - less)
    return LOSS[-1][1]


@gives("sent_to", "left", "hangs")
def lowering(
    sent_to: Number, left: Seconds, hangs: Number, wanted: Number, takes: Seconds, scan: Seconds
) -> tuple[Number, Seconds, Number]:
    """Where the transducer was sent, the time until it is there (s), and where it hangs: stowed while on its way."""
    new = abs(wanted - sent_to) > 0.5
    rest = takes * abs(wanted - hangs) if new else max(left - scan, 0.0)
    there = wanted if rest <= 0.0 else (hangs if new else 0.0)
    return wanted, rest, (0.0 if new and rest > 0.0 else there)


@gives("noise", "most", "above_stack", "above_vessel")
def levels(
    hangs: Number,
    over: Level,
    thrusters: Number,
    gas: Number,
    folded: Number,
    received: Level,
    margin: Level,
    quiet: list[Level],
    louder: list[Level],
    below: Level,
    by_gas: Level,
) -> tuple[Level, Level, Level, Level]:
    """Noise at the transducer and the most in which a reply is understood, and what a signal stands above the noise at
    the stack and at the vessel, all in dB."""
    here = chosen(quiet, hangs) + over + thrusters * chosen(louder, hangs) + gas * by_gas * GAS_UP
    there = below + gas * by_gas
    signal = received - folded * FOLDED
    return (here if hangs > 0.5 else 0.0), received - margin, signal - there, signal - here


@gives("asked", "clock", "tries", "heard", "reply", "bank", "volts", "age", "sample", "sampled", "fires")
def exchange(
    asked: Number,
    clock: Seconds,
    tries: Number,
    heard: Number,
    reply: Number,
    bank: Pressure,
    volts: Voltage,
    age: Seconds,
    sample: Pressure,
    sampled: Voltage,
    hangs: Number,
    key_1: Number,
    key_2: Number,
    above_stack: Level,
    above_vessel: Level,
    margin: Level,
    code: Seconds,
    way: Seconds,
    most: Number,
    commands: Number,
    weak: Number,
    p: Pressure,
    sea: Pressure,
    scan: Seconds,
) -> tuple[Number, Seconds, Number, Number, Number, Pressure, Voltage, Seconds, Pressure, Voltage, Number]:
    """The order that is being sent (0 none, the last number the status), its clock (s), codes sent and whether one was
    heard; the reply (an index of ``REPLIES``) with the bank's pressure over the sea's (Pa), the battery (V) and its age
    (s); what the receiver sampled; and the number of the valve that it fires in this scan.

    A key that is turned back, or a transducer hoisted, ends the sending; what was heard before is carried out.
    """
    status = 1.0 if asked > commands + 0.5 else 0.0
    stays = asked > 0.5 and hangs > 0.5 and (status > 0.5 or min(key_1, key_2) > 0.5)
    now = clock + scan if stays else 0.0
    charge = 1.0 - WEAK * weak
    pulls = loaded(charge) >= NEEDED
    arrives = stays and clock < code + way and now >= code + way
    takes = arrives and above_stack >= margin
    acts = takes and status < 0.5
    fires = asked if acts and pulls else 0.0
    got = 1.0 if takes else heard
    at_stack = p - sea if takes else sample
    load = loaded(charge) if acts else no_load(charge)
    tested = load if takes else sampled
    back = code + way + way
    returns = stays and got > 0.5 and clock < back and now >= back and above_vessel >= margin
    said = 2.0 if status > 0.5 else (3.0 if pulls else 4.0)
    over = stays and now >= back + PAUSE
    last = over and tries > most - 0.5
    outcome = said if returns else (5.0 if last else 1.0)
    word = outcome if stays else (0.0 if asked > 0.5 else reply)
    ends = returns or last
    again = over and not ends
    return (
        asked if stays and not ends else 0.0,
        0.0 if ends or again else now,
        tries + 1.0 if again else tries,
        0.0 if again else got,
        word,
        at_stack if returns else bank,
        tested if returns else volts,
        age + scan if volts > 0.0 and not returns else 0.0,
        at_stack,
        tested,
        fires,
    )


@gives("driven", "x")
def fired_valve(driven: Number, x: Number, fires: Number, number: Number, step: Number) -> tuple[Number, Number]:
    """Whether the receiver has fired its valve of this ``number``, and the valve's opening: it stays open."""
    on = 1.0 if abs(fires - number) < 0.5 else driven
    return on, min(x + step * on, 1.0)


@gives("x")
def beside(x: Number, mine: Number) -> Number:
    """Opening of two valves side by side into one line: that of the one that is further open."""
    return max(x, mine)


@gives("busy", "left")
def stirs_by_sound(
    busy: Seconds, left: Seconds, fires: Number, scan: Seconds, moving: Seconds, fresh: Seconds
) -> tuple[Seconds, Seconds]:
    """Seconds for which a fired valve may still move something, and for which all functions look about them."""
    rest = moving if fires > 0.5 else max(busy - scan, 0.0)
    return rest, (fresh if rest > 0.0 else left)


def used_up(
    pu: Pressure, pd: Pressure, k: Coefficient, severity: Number, full: Pressure, left: Pressure
) -> tuple[float, float, float]:
    """Flow out of a bank that was used before, down to what its severity leaves over the sea's pressure."""
    rest = full - severity * (full - left)
    q, gu, gd = opened_check(pu, pd + rest, k, 1.0 if severity > 0.0 else 0.0, 0.0)
    return q, gu, gd
