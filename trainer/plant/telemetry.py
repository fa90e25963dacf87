"""Telemetry of a multiplexed control system: an order is a message, and what a panel shows of the stack is an answer.

Two controllers, A and B: one leads and the other follows, and takes over when the first is dead. From them a cable runs
to each pod (reel with slip rings, connector). In the pod two like sides of electronics, A and B, drive a coil each of
every solenoid valve. All pods hear every order; the pod that has power fluid does the work. What does not answer is
told from what was answered: a reading that no fresh answer stands behind is *stale*.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Order, Variables
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import Component, button, choice, component_fault, reading, state_reading
from trainer.plant.function_laws import pulse
from trainer.units import Current, Number, Seconds, between

LEADS = ("none", "A", "B")
PANELS = ("driller",)
BENCH = (*PANELS, "workshop")
"""Where the pods' electronics are watched and worked."""
NEVER = 1.0e9
"""s until an order acts in a pod that cannot be reached: never."""
RETRIES = 3.0
"""Times over that a message takes on a noisy slip ring: sent again until it is heard. Invented."""
FULL = 1.0
"""A that one coil of a solenoid valve draws at 24 V. Invented."""


class Telemetry(Component):
    """The chain from a button to a coil, and what each link of it takes. Times are invented."""

    panel: Annotated[Seconds, between("0.02 s", "5 s")] = 0.1
    controller: Annotated[Seconds, between("0.02 s", "5 s")] = 0.1
    cable: Annotated[Seconds, between("0.02 s", "10 s")] = 0.3
    """From a controller to the pod's electronics."""
    electronics: Annotated[Seconds, between("0.02 s", "5 s")] = 0.1
    coil: Annotated[Seconds, between("0.02 s", "5 s")] = 0.1
    answer: Annotated[Seconds, between("0.5 s", "60 s")] = 3.0
    """How long an order may go without the answer that it asks for."""

    @property
    def back(self) -> float:
        """Time that an answer takes from the pod by cable and controller to the panel, s."""
        return self.cable + self.controller + self.panel

    @property
    def down(self) -> float:
        """Time from a press to current in the coil over a good cable, s."""
        return self.panel + self.controller + self.cable + self.electronics + self.coil

    def build(self, net: Network, pods: Sequence[str]) -> None:
        """Add controllers, the cable and the two sides of electronics of each of ``pods``, readings and faults.

        A pod's order acts ``link_POD.reach`` s after it was given; ``pod_POD.amps_a`` and ``amps_b`` (A) is what a
        sound coil of each side draws. ``telemetry.stir`` is on in a scan in which any of it has changed.
        """
        i = self.id
        self._controllers(net)
        watched = [f"{i}.leads"]
        for pod in pods:
            watched += self._link(net, pod)
        net.var(f"{i}.stir")
        seen = [net.var(f"{i}.seen_{number}") for number in range(len(watched))]
        net.block(pulse, inputs=dict(now=watched), states=dict(seen=seen), outputs=dict(stirs=f"{i}.stir"))
        net.var(f"{i}.heard", 1.0)
        net.block(
            any_of, inputs=dict(flags=[f"link_{pod}.up" for pod in pods]), outputs=dict(on=f"{i}.heard"), rate="logic"
        )

    def _controllers(self, net: Network) -> None:
        i = self.id
        state_reading(net, f"{i}.leads", LEADS, f"{self.name}: the controller that leads.", BENCH, 1.0)
        dead = []
        for letter in "ab":
            name = f"{self.name}: controller {letter.upper()}"
            state_reading(net, f"{i}.{letter}", ("dead", "on"), f"{name}.", BENCH, 1.0)
            remedy = "The other leads: report it, plan the repair; drill on only as the rig's procedure allows."
            shows = (f"{i}.{letter}", f"{i}.leads")
            dead.append(component_fault(net, i, f"{letter}_dead", f"{name} dead", shows, remedy))
        frozen = component_fault(
            net, i, "frozen", f"{self.name}: screens frozen, no alarm", (f"{i}.clock",),
            "The clock of the screens has stopped: what they show is old. Order nothing by them; restart them.",
        )  # fmt: skip
        net.block(
            leading,
            inputs=dict(a_dead=dead[0], b_dead=dead[1]),
            states=dict(leads=f"{i}.leads"),
            outputs=dict(a=f"{i}.a", b=f"{i}.b"),
        )
        reading(net, f"{i}.clock", "s", 0, 1e6, f"{self.name}: clock of the screens.", BENCH)
        net.block(clock, inputs=dict(frozen=frozen, scan=SCAN), states=dict(now=f"{i}.clock"))

        def other(machine: Variables) -> None:
            machine.put(f"{i}.leads", 3.0 - machine.read(f"{i}.leads"))

        def guard(machine: Variables, command: Order) -> Refusal | None:
            if machine.read("panel.power") < 0.5:
                return Refusal("no_power", "The panels have no power: no controller can be chosen from here.")
            if machine.read(f"{i}.a") > 0.5 and machine.read(f"{i}.b") > 0.5:
                return None
            return Refusal("no_other", "One controller is dead: there is no other to take over.")

        button(net, f"{i}.takeover", "Let the other controller lead.", BENCH, other, guard)

    def _link(self, net: Network, pod: str) -> list[str]:
        """Cable and electronics of a pod; gives the variables whose change is news."""
        i, name, link = self.id, f"{pod.capitalize()} pod", f"link_{pod}"
        state_reading(net, f"{link}.up", ("lost", "up"), f"{name}: link from the controllers.", BENCH, 1.0)
        reading(net, f"{link}.retries", "msg", 0, 99999, f"{name}: messages sent again.", BENCH)
        shows = (f"{link}.up",)
        cut = component_fault(
            net, f"pod_{pod}", "cable_cut", f"{name}: cable cut", shows,
            "Its readings are stale: use the other pod, make the well safe, report.",
        )  # fmt: skip
        noisy = component_fault(
            net, f"pod_{pod}", "slip_ring_noisy", f"{name}: slip ring of the cable's reel noisy",
            (f"{link}.retries",),
            "Retries count up and answers come late: use the other pod, clean the slip rings.",
        )  # fmt: skip
        sides = []
        for letter in "ab":
            side, what = f"pod_{pod}.side_{letter}", f"{name}: side {letter.upper()} of its electronics"
            state_reading(net, side, ("off", "on"), f"{what}, its switch.", BENCH, 1.0)
            choice(net, side, ("off", "on"), f"{what}: both are normally on.", BENCH)
            state_reading(net, f"{side}_answers", ("no", "yes"), f"{what} answers.", BENCH, 1.0)
            dead = component_fault(
                net, f"pod_{pod}", f"side_{letter}_dead", f"{what} dead", (f"{side}_answers",),
                "The other side drives its own coils: try each function on it, report, plan to pull the pod.",
            )  # fmt: skip
            amps = net.var(f"pod_{pod}.amps_{letter}", FULL, "A")
            net.block(
                driven,
                inputs=dict(switch=side, dead=dead, up=f"{link}.up", full=FULL),
                outputs=dict(amps=amps, answers=f"{side}_answers"),
            )
            sides += [side, dead]
        net.var(f"{link}.reach", self.down, "s")
        net.var(f"{link}.soaked")
        net.block(
            linked,
            inputs=dict(
                leads=f"{i}.leads",
                cut=cut,
                noisy=noisy,
                soaked=f"{link}.soaked",
                sides=sides[::2],
                dead=sides[1::2],
                cable=self.cable,
                rest=self.down - self.cable,
                scan=SCAN,
            ),
            states=dict(retries=f"{link}.retries"),
            outputs=dict(up=f"{link}.up", reach=f"{link}.reach"),
        )
        return [f"{link}.up", f"{link}.reach", f"pod_{pod}.amps_a", f"pod_{pod}.amps_b"]


@gives("leads", "a", "b")
def leading(leads: Number, a_dead: Number, b_dead: Number) -> tuple[Number, Number, Number]:
    """The controller that leads (an index of ``LEADS``), and whether each lives: the other takes over by itself."""
    a = 1.0 if a_dead <= 0.0 else 0.0
    b = 1.0 if b_dead <= 0.0 else 0.0
    stays = (leads > 0.5 and leads < 1.5 and a > 0.5) or (leads > 1.5 and b > 0.5)
    first = 1.0 if a > 0.5 else (2.0 if b > 0.5 else 0.0)
    return (leads if stays else first), a, b


@gives("now")
def clock(now: Seconds, frozen: Number, scan: Seconds) -> Seconds:
    """The clock of the screens, s: it is stopped while they are frozen."""
    return now if frozen > 0.0 else now + scan


@gives("on")
def any_of(flags: list[Number]) -> Number:
    """1 while any of the flags is on (above a half), 0 while none is."""
    return 1.0 if any(flag > 0.5 for flag in flags) else 0.0


@gives("retries", "up", "reach")
def linked(
    retries: Number,
    leads: Number,
    cut: Number,
    noisy: Number,
    soaked: Number,
    sides: list[Number],
    dead: list[Number],
    cable: Seconds,
    rest: Seconds,
    scan: Seconds,
) -> tuple[Number, Number, Seconds]:
    """Messages sent again so far, whether the pod answers, and the time (s) in which an order acts in it.

    A controller, the cable and one side of electronics are enough. Water in its connector ends the link.
    """
    living = any(side > 0.5 and gone <= 0.0 for side, gone in zip(sides, dead, strict=True))
    up = 1.0 if leads > 0.5 and cut <= 0.0 and soaked < 0.5 and living else 0.0
    slow = cable * RETRIES if noisy > 0.0 else cable
    again = retries + (RETRIES - 1.0) * scan / cable if noisy > 0.0 and up > 0.5 else retries
    return again, up, (rest + slow if up > 0.5 else NEVER)


@gives("amps", "answers")
def driven(switch: Number, dead: Number, up: Number, full: Current) -> tuple[Current, Number]:
    """Current (A) that a side of the electronics puts through a sound coil, and whether the side answers above.

    A side keeps its last order while the link is down: it needs its own power, not the cable's.
    """
    on = 1.0 if switch > 0.5 and dead <= 0.0 else 0.0
    return full * on, on * up
