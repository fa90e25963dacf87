"""The two alarms that find a kick: pit gain, and flow out less flow in.

30 CFR 250.457 asks for both indicators, each with a visual and an audible warning. The set points are the driller's own
commands; the first ones, 5 bbl and 50 gpm, are common practice. A pump that changes its speed moves more mud than a
young kick does, so both alarms are held back meanwhile and say so (designed suppression, ISA-18.2). Mud that runs
back out of the flow line comes later: the flow alarm waits for it.
"""

from __future__ import annotations

from trainer.constants import SCAN
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.plant.alarms import STATES, next_state
from trainer.plant.base import amount, reading, state_reading
from trainer.units import Alike, Flow, Frequency, Number, Seconds, from_unit

#: Where the well is watched: the driller's console stands on the drill floor.
FLOOR = ("driller", "floor")
#: First set points and what they may be set to: bbl and gpm. Common practice.
PIT_GAIN, PIT_LEAST, PIT_MOST = 5.0, 1.0, 50.0
FLOW, FLOW_LEAST, FLOW_MOST = 50.0, 10.0, 300.0
"""gal/min: flow difference at which the alarm comes by itself, and the range of its setting. Invented."""
#: A pump this far (spm) from the speed that was set is on its way there.
RAMPING = 0.5
#: So long after a change of pump speed the flow line still settles (s): ten time constants of the paddle, rounded.
SETTLE = 30.0
#: An alarm clears this share below its set point, so that it does not chatter.
DEAD = 0.1

PIT_ALARM, FLOW_ALARM = "alarm.pit_gain", "alarm.flow_difference"


def build_well_alarms(net: Network) -> None:
    """Add flow difference, both alarms with their set points, and what holds them back."""
    most = 1500.0
    reading(net, "well.flow_difference", "gpm", -most, most, "Flow out less flow in.", FLOOR, (-FLOW, FLOW))
    net.block(
        less,
        inputs=dict(out="well.flow_out", into="well.flow_in"),
        outputs=dict(flow_difference="well.flow_difference"),
        rate="observe",
    )
    net.var("alarms.settling", 0.0, "s")
    net.block(
        settling,
        inputs=dict(
            wanted="floor.mud_pumps.set",
            speed="floor.mud_pumps",
            ramping=from_unit(RAMPING, "1/min"),
            time=SETTLE,
            scan=SCAN,
        ),
        states=dict(left="alarms.settling"),
        rate="observe",
    )
    state_reading(net, "alarms.well_held", ("no", "yes"), "The well's alarms wait: the mud pumps change speed.", FLOOR)
    net.block(
        is_held,
        inputs=dict(left="alarms.settling", lined_up="trip_tank.line_up"),
        outputs=dict(well_held="alarms.well_held"),
        rate="observe",
    )
    for tag, source, unit, first, least, greatest, name, until in (
        (PIT_ALARM, "well.pit_gain", "bbl", PIT_GAIN, PIT_LEAST, PIT_MOST, "Pit gain", SETTLE - SCAN),
        (FLOW_ALARM, "well.flow_difference", "gpm", FLOW, FLOW_LEAST, FLOW_MOST, "Flow difference", 0.0),
    ):
        limit = f"{tag.replace('alarm.', 'alarms.')}_limit"
        reading(
            net,
            limit,
            unit,
            0.0,
            greatest,
            f"{name} alarm: set point, up or down.",
            FLOOR,
            None,
            from_unit(first, unit),
        )
        amount(net, limit, least, greatest, unit, f"Set the {name.lower()} alarm.", ("driller",))
        state_reading(net, tag, STATES, f"Alarm: {name.lower()}.", FLOOR)
        lined_up: str | float = "trip_tank.line_up" if tag == FLOW_ALARM else 0.0
        net.block(
            well_alarm,
            inputs=dict(
                value=source,
                limit=limit,
                dead=DEAD,
                acknowledge="alarms.acknowledge",
                left="alarms.settling",
                until=until,
                lined_up=lined_up,
            ),
            states=dict(state=tag),
            rate="observe",
        )


@gives("flow_difference")
def less(out: Flow, into: Flow) -> Flow:
    """The difference of two flows, m3/s: what comes out less what goes in; more than nothing is a gain."""
    return out - into


@gives("left")
def settling(
    wanted: Frequency, speed: Frequency, left: Seconds, ramping: Frequency, time: Seconds, scan: Seconds
) -> Seconds:
    """Seconds that the flow line still settles: ``time`` while the pumps are on their way, then running down."""
    rest = left - scan
    down = rest if rest > 1.0e-6 else 0.0
    return time if abs(wanted - speed) > ramping else down


@gives("well_held")
def is_held(left: Seconds, lined_up: Number) -> Number:
    """1 while the flow alarm is held back: flow settles, or the returns go to the trip tank."""
    return 1.0 if left > 0.0 or lined_up > 0.5 else 0.0


@gives("state")
def well_alarm(
    value: Alike,
    limit: Alike,
    dead: Number,
    state: Number,
    acknowledge: Number,
    left: Seconds,
    until: Seconds,
    lined_up: Number,
) -> Number:
    """Next state of an alarm on ``value`` either way of zero; one that is held back does not come, but stays."""
    lit = state > 0.5 and state < 2.5
    edge = limit * (1.0 - dead) if lit else limit
    held = left > until or lined_up > 0.5
    active = abs(value) > edge and (lit or not held)
    return next_state(active, state, acknowledge)
