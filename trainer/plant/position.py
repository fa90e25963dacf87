"""Where the vessel lies over the well, what that does to the riser, and the watch circles with their alerts.

Held by its thrusters the vessel stays within a few meters. Without them wind, waves and current push it off:
m v' = F - 1/2 rho CdA (v - vc) |v - vc|. The riser stretches by sqrt(D^2 + x^2) - D, which the slip joint gives until
it is at its end: that is the farthest offset. The *red* circle is what is left of it when the crew's answer and the
chosen disconnect sequence have had their time, counted back along the drift that the rig is designed for. So circles
belong to a sequence, and are set anew with it.

The bridge sees the offset by two position references. The alert follows the one that stands farther off, and a
reference can jump: riser angle and slip joint do not jump with it.
"""

from __future__ import annotations

from collections.abc import Sequence as Several
from math import sqrt
from typing import Annotated

from trainer.constants import SCAN, SEA_WATER
from trainer.hydraulics.lists import chosen, largest
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.plant.base import Component, amount, choice, component_fault, reading, state_reading
from trainer.plant.disconnect import Sequence
from trainer.units import (
    Angle,
    AnyUnit,
    Area,
    Force,
    Fraction,
    Length,
    Mass,
    Number,
    Seconds,
    Velocity,
    between,
    from_unit,
)

BRIDGE, PANEL = ("bridge",), ("driller",)
REPEATED = (*PANEL, *BRIDGE)
"""The alert with its references and circles is repeated at the driller's panel."""
ALERTS = ("green", "yellow", "red")
ANSWER = 10.0
"""s that a crew takes from the red alert to the start of the sequence. Invented."""
HOLDING = 45.0
"""s in which the thrusters bring the vessel back over the well. Invented."""
JUMP = 90.0
"""m by which a position reference that jumps is wrong in the end. Invented."""
JUMP_RATE = 3.0
"""m/s at which it goes there. Invented."""
PULL_RATE = from_unit(15.0, "klbf")
"""N that the tensioners gain or give in a second. Invented."""
STEEP = from_unit(8.0, "deg")
"""Angle of the riser beyond which an unlatched package hangs on its pins. Invented."""
LOST_PULL = from_unit(240.0, "klbf")
"""N of top tension that goes with one pair of tensioners. Invented."""


class Position(Component):
    """The vessel and the riser's slip joint; ``force`` is the push for which the circles are reckoned. All invented."""

    mass: Annotated[Mass, between("1000000 kg", "1000000000 kg")]
    """With the water that moves along."""
    force: Annotated[Force, between("10 kN", "20000 kN")]
    drag_area: Annotated[Area, between("0 m2", "5000 m2")] = 0.0
    """Drag coefficient times area under water."""
    current: Annotated[Velocity, between("0 m/s", "3 m/s")] = 0.0
    """Speed of the water, in the direction of the push."""
    stroke: Annotated[Length, between("5 ft", "80 ft")]
    """What the slip joint still gives as the vessel moves off."""
    tension: Annotated[Force, between("100 klbf", "5000 klbf")]
    """Pull at the top of the riser."""
    spare: Annotated[Force, between("5 klbf", "1000 klbf")]
    """What of it is left at the riser connector."""
    yellow: Annotated[Fraction, between("0.2 %", "10 %")]
    """Offset at which the yellow alert is given, as a share of the depth."""

    def limit(self, depth: float) -> float:
        """Offset (m) at which the slip joint is at its end over a stack ``depth`` m down."""
        return sqrt((depth + self.stroke) * (depth + self.stroke) - depth * depth)

    def red(self, depth: float, done: float) -> float:
        """Offset (m) of the red circle for a sequence that is done after ``done`` s: 0 where no time is left."""
        last = sqrt(2.0 * self.limit(depth) * self.mass / self.force)
        left = max(last - done - ANSWER, 0.0)
        return 0.5 * self.force / self.mass * left * left

    def faults(self, sequences: Several[Sequence], depth: float) -> list[str]:
        """What does not fit, as sentences: no sequences, or a yellow circle that lies outside a red one."""
        if not sequences:
            return ["[position] has circles for the sequences of [disconnect], and there are none; take it out"]
        return [
            f"[position] has its yellow circle outside the red one of sequence '{one.id}': make yellow smaller"
            for one in sequences
            if self.yellow * depth >= self.red(depth, one.done)
        ]

    def declare(self, net: Network) -> str:
        """Add the variable that is 1 while the riser pulls at its connector and hangs straight enough to come off it,
        and give its name."""
        return net.var(f"{self.id}.lifts", 1.0)

    def build(self, net: Network, sequences: Several[Sequence], depth: float) -> None:
        """Add vessel, riser, references, circles for each of ``sequences`` and alerts over a stack ``depth`` m down."""
        i, n = self.id, self.name
        offset = (f"{i}.reference_a", f"{i}.reference_b")
        blackout = component_fault(
            net, i, "blackout", "Vessel blacked out: no thruster turns", (*offset, f"{i}.speed", f"{i}.angle"),
            "Both references, angle and slip joint move together: make ready on yellow, disconnect on red.",
        )  # fmt: skip
        drives = component_fault(
            net, i, "drive_off", "Thrusters drive the vessel off", (*offset, f"{i}.speed", f"{i}.angle"),
            "Like a drift, but twice as fast: yellow and red come close together.",
        )  # fmt: skip
        net.var(f"{i}.force", self.force, "N")
        net.var(f"{i}.x", 0.0, "m")
        net.var(f"{i}.v", 0.0, "m/s")
        net.block(
            moved,
            inputs=dict(
                force=f"{i}.force", mass=self.mass, drag=0.5 * SEA_WATER * self.drag_area, current=self.current,
                blackout=blackout, drives=drives, scan=SCAN,
            ),
            states=under(i, "x", "v"),
        )  # fmt: skip
        for letter in "ab":
            what = f"{n}: offset by reference {letter.upper()}, as a share of the depth."
            reading(net, f"{i}.reference_{letter}", "%", -10, 10, what, REPEATED)
            jumps = component_fault(
                net, i, f"jump_{letter}", f"Position reference {letter.upper()} jumps",
                (f"{i}.reference_{letter}", f"{i}.angle", f"{i}.stroke"),
                "The other reference, riser angle and slip joint stay: hold, compare, leave it out, report.",
            )  # fmt: skip
            net.var(f"{i}.error_{letter}", 0.0, "m")
            net.block(
                referred,
                inputs=dict(x=f"{i}.x", jumps=jumps, depth=depth, step=JUMP_RATE * SCAN),
                states=dict(error=f"{i}.error_{letter}"),
                outputs=dict(shown=f"{i}.reference_{letter}"),
            )
        self._riser(net, depth)
        self._circles(net, sequences, depth, offset)

    def _riser(self, net: Network, depth: float) -> None:
        """Angle, slip joint and tension, and whether the riser has been pulled apart."""
        i, n = self.id, self.name
        reading(net, f"{i}.speed", "ft/s", -20, 20, f"{n}: speed away from the well.", BRIDGE)
        reading(net, f"{i}.angle", "deg", -20, 20, f"{n}: angle of the riser at the stack.", BRIDGE)
        reading(net, f"{i}.stroke", "ft", 0, 100, f"{n}: what the slip joint still gives.", BRIDGE, None, self.stroke)
        reading(net, f"{i}.tension", "klbf", 0, 5000, f"{n}: tension at the top of the riser.", REPEATED)
        reading(net, f"{i}.spare", "klbf", -2000, 2000, f"{n}: pull left at the riser connector.", ())
        state_reading(net, f"{i}.broken", ("no", "yes"), f"{n}: the riser was pulled to the end of its slip joint.", ())
        lost = component_fault(
            net, i, "tensioner_lost", "A pair of riser tensioners has lost its pressure", (f"{i}.tension",),
            "Tension is below what lifts the package: restore it before anything is unlatched.",
        )  # fmt: skip
        set_to = f"{n}: tension that the tensioners are set to."
        reading(net, f"{i}.pull", "klbf", 0, 3000, set_to, PANEL, None, self.tension)
        net.var(f"{i}.set_pull", self.tension, "N")
        net.var(f"{i}.weight", self.tension - self.spare, "N")
        amount(net, f"{i}.pull", 500, 3000, "klbf", set_to, PANEL)
        net.block(
            riser,
            inputs=dict(
                x=f"{i}.x", v=f"{i}.v", depth=depth, stroke=self.stroke, asked=f"{i}.pull",
                step=PULL_RATE * SCAN, weight=f"{i}.weight", lost=lost, apart="bore.disconnected",
            ),
            states=dict(broken=f"{i}.broken", set_pull=f"{i}.set_pull"),
            outputs=dict(
                left=f"{i}.stroke", angle=f"{i}.angle", speed=f"{i}.speed", pull=f"{i}.tension", spare=f"{i}.spare",
                lifts=f"{i}.lifts",
            ),
        )  # fmt: skip

    def _circles(self, net: Network, sequences: Several[Sequence], depth: float, offset: tuple[str, str]) -> None:
        """The circles that are set, the alert, and the choice of circles."""
        i, n = self.id, self.name
        ids = tuple(one.id for one in sequences)
        state_reading(net, f"{i}.circles", ids, f"{n}: the sequence whose circles are set.", REPEATED)
        reading(net, f"{i}.yellow_at", "%", -10, 10, f"{n}: yellow circle, as a share of the depth.", REPEATED)
        reading(net, f"{i}.red_at", "%", -10, 10, f"{n}: red circle, as a share of the depth.", REPEATED)
        reading(net, f"{i}.clock", "s", 0, 1e6, f"{n}: time since the yellow circle was left.", REPEATED)
        state_reading(net, f"{i}.alert", ALERTS, f"{n}: alert of the bridge.", REPEATED)
        net.block(
            alert,
            inputs=dict(
                offsets=list(offset),
                number=f"{i}.circles",
                reds=[self.red(depth, one.done) / depth for one in sequences],
                yellow=self.yellow,
                scan=SCAN,
            ),
            states=dict(clock=f"{i}.clock"),
            outputs=under(i, "alert", "yellow_at", "red_at"),
        )

        known = ", ".join(f"{one.id} ({one.title})" for one in sequences)
        choice(net, f"{i}.circles", ids, f"Watch circles for a sequence: {known}.", BRIDGE)


@gives("x", "v")
def moved(
    x: Length,
    v: Velocity,
    force: Force,
    mass: Mass,
    drag: AnyUnit,
    current: Velocity,
    blackout: Number,
    drives: Number,
    scan: Seconds,
) -> tuple[Length, Velocity]:
    """Offset (m) and speed (m/s) after a scan; thrusters that turn bring the vessel back over the well."""
    through = v - current
    push = force * (blackout + 2.0 * drives)
    free = (push - drag * through * abs(through)) / mass
    back = -x / (HOLDING * HOLDING) - 2.0 * v / HOLDING
    adrift = blackout + drives > 0.0
    now = v + (free if adrift else back) * scan
    return x + 0.5 * (v + now) * scan, now


@gives("error", "shown")
def referred(error: Length, x: Length, jumps: Number, depth: Length, step: Length) -> tuple[Length, Number]:
    """Error of a position reference (m), which nears ``JUMP`` by ``step``, and the offset that it shows (share)."""
    wrong = error + min(max(JUMP * jumps - error, -step), step)
    return wrong, (x + wrong) / depth


@gives("broken", "set_pull", "left", "angle", "speed", "pull", "spare", "lifts")
def riser(
    broken: Number,
    set_pull: Force,
    x: Length,
    v: Velocity,
    depth: Length,
    stroke: Length,
    asked: Force,
    step: Force,
    weight: Force,
    lost: Number,
    apart: Number,
) -> tuple[Number, Force, Length, Angle, Velocity, Force, Force, Number]:
    """Whether the riser was pulled to its end, the pull that is set (N), what the slip joint gives (m), angle (rad),
    speed (m/s), pulls (N), and whether an unlatched package would come off.

    The angle is the tangent's series, x/D less its cube's third. A riser that is ``apart`` hangs straight.
    """
    share = x / depth
    out = 0.0 if apart > 0.5 else sqrt(depth * depth + x * x) - depth
    left = max(stroke - out, 0.0)
    gone = 1.0 if broken > 0.5 or (apart < 0.5 and left <= 0.0) else 0.0
    angle = 0.0 if apart > 0.5 else share - share * share * share / 3.0
    held = set_pull + min(max(asked - set_pull, -step), step)
    pull = held - lost * LOST_PULL
    spare = pull - weight
    return gone, held, left, angle, v, pull, spare, (1.0 if spare > 0.0 and abs(angle) < STEEP else 0.0)


@gives("alert", "clock", "yellow_at", "red_at")
def alert(
    clock: Seconds, offsets: list[Number], number: Number, reds: list[Number], yellow: Number, scan: Seconds
) -> tuple[Number, Seconds, Number, Number]:
    """The alert (an index of ``ALERTS``) by the farther offset, the time since it left green (s), and both circles."""
    far = largest([abs(offset) for offset in offsets])
    red = chosen(reds, number + 1.0)
    now = 2.0 if far >= red else (1.0 if far >= yellow else 0.0)
    return now, (clock + scan if now > 0.5 else 0.0), yellow, red
