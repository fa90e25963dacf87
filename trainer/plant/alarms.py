"""Warning lamps and their alarm states.

States follow ISA-18.2 / IEC 62682: an alarm that comes is unacknowledged; acknowledging it leaves it lit until the
cause goes; one whose cause goes before anyone acknowledged stays as 'returned' until somebody does.
"""

from __future__ import annotations

from collections.abc import Iterable

from trainer import naming
from trainer.constants import SCAN
from trainer.hydraulics.catalogue import Operable, Order, Variables
from trainer.hydraulics.lists import added
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives, under
from trainer.hydraulics.refusal import Refusal
from trainer.plant.base import PSI, button, component_fault, run_down, state_reading, worked
from trainer.units import Alike, Number, Seconds

STATES = ("normal", "unacknowledged", "acknowledged", "returned")
PRIORITIES = ("high", "medium", "low")
PRIORITY = {
    "alarm.pit_gain": "high",
    "alarm.flow_difference": "high",
    "alarm.low_accumulator": "high",
    "alarm.low_pilot": "medium",
    "alarm.power_loss": "medium",
    "alarm.low_air": "low",
    "alarm.low_tank": "low",
}
"""Set, as ISA-18.2 asks, by what is lost and how soon somebody must act. A well that flows must be closed at once.
Without stored fluid nothing can be closed: within minutes. Without pilot or mains a station falls out while the levers
still work: within the hour. Air and tank give warning of what comes later."""
TEST_SECONDS = 2.0
"""s for which the lamp test lights all. Invented."""
ENABLE_SECONDS = 5.0
"""s for which a press on *enable* arms the critical functions. Common practice: some seconds."""
HELD_SECONDS = 3600.0
"""s for which *enable* lasts where it is held: until it is let go, since no hand holds it for an hour."""
HOLDS = ("free", "held")


def build_alarms(net: Network, low_accumulator: float, low_pilot: float, low_air: float, held: bool = False) -> None:
    """Add the driller's panel's warning lamps, acknowledge, silence, lamp test and enable; pressures in Pa gauge.

    held: whether *enable* can be held with one hand as well, which arms the critical functions until it is let go.
    """
    for name, unit in (
        ("alarms.acknowledge", "1"),
        ("alarms.silence", "1"),
        ("driller.lamp_test", "s"),
        ("driller.enable", "s"),
    ):
        net.var(name, 0.0, unit)
    stations = ("driller", "remote", "unit")

    def presses(name: str, value: float):  # type: ignore[no-untyped-def]
        return lambda machine: machine.put(name, value)

    panel = ("driller", "remote")
    button(net, "alarms.acknowledge", "Acknowledge the alarms.", stations, presses("alarms.acknowledge", 1.0))
    button(net, "alarms.silence", "Silence the horn.", stations, presses("alarms.silence", 1.0))
    button(
        net,
        "driller.lamp_test",
        "Light every lamp for two seconds.",
        panel,
        presses("driller.lamp_test", TEST_SECONDS),
    )
    button(
        net,
        "driller.enable",
        "Enable critical functions for five seconds.",
        panel,
        presses("driller.enable", ENABLE_SECONDS),
        guard=_powered,
    )
    if held:
        worked(net, Operable("set", "driller.enable", HOLDS, "state", panel, "Hold enable."), hold_enable, _powered)
    for timer in ("driller.lamp_test", "driller.enable"):
        net.block(run_down, inputs=dict(scan=SCAN), states=dict(left=timer))
    state_reading(net, "driller.enabled", ("off", "on"), "Critical functions may be pressed now.", panel)
    net.block(is_running, inputs=dict(left="driller.enable"), outputs=dict(enabled="driller.enabled"), rate="observe")
    state_reading(net, "alarms.horn", ("silent", "sounding"), "The alarm horn.", panel)
    for name, source, limit, below in (
        ("low_accumulator", "accumulator.pressure", low_accumulator, 1.0),
        ("low_pilot", "pilot.pressure", low_pilot, 1.0),
        ("low_air", "air.pressure", low_air, 1.0),
        ("low_tank", "tank.low", 0.5, 0.0),
        ("power_loss", "power.ac", 0.5, 1.0),
    ):
        if source not in net.variables:
            continue
        tag = f"alarm.{name}"
        state_reading(net, tag, STATES, f"Alarm: {naming.plain(name)}.", panel)
        dead = 0.02 * limit
        net.block(
            alarm,
            inputs=dict(value=source, limit=limit, below=below, dead=dead, acknowledge="alarms.acknowledge"),
            states=dict(state=tag),
            rate="observe",
        )
    silent = component_fault(
        net,
        "alarms",
        "horn_dead",
        "Alarm horn does not sound",
        ("alarms.horn",),
        "Only the lamps warn: test the horn with each lamp test; replace it.",
    )
    shown = [tag for tag in net.signals if tag.startswith("alarm.")]
    net.block(
        horn,
        inputs=dict(alarms=shown, dead=silent),
        states=under("alarms", "silence", "heard"),
        outputs=dict(horn="alarms.horn"),
        rate="observe",
    )
    net.var("alarms.heard", 0.0)
    net.block(cleared, outputs=dict(acknowledge="alarms.acknowledge"), rate="observe")


def priority(tag: str) -> str:
    """Which priority an alarm has, one of ``PRIORITIES``; one that nobody rated is low, the last of them."""
    return PRIORITY.get(tag, PRIORITIES[-1])


def by_priority(tags: Iterable[str]) -> list[str]:
    """The alarms among ``tags``, the most pressing first; tags of the same priority keep their order."""
    return sorted((t for t in tags if t.startswith("alarm.")), key=lambda t: PRIORITIES.index(priority(t)))


def hold_enable(machine: Variables, command: Order) -> Refusal | None:
    """Hold *enable* or let it go; why not, for any other word."""
    if command.value not in HOLDS:
        return Refusal("out_of_range", f"'{command.target}' takes {', '.join(HOLDS)}, not {command.value!r}.")
    machine.put("driller.enable", HELD_SECONDS if command.value == "held" else 0.0)
    return None


def _powered(machine: object, command: object) -> Refusal | None:
    if machine.read("panel.power") < 0.5:  # type: ignore[attr-defined]
        return Refusal("no_power", "The panels have no power: operate the levers at the control unit.")
    return None


@gives("enabled")
def is_running(left: Seconds) -> Number:
    """1 while a timer runs, which has ``left`` seconds to go; 0 once it has run out or was never set."""
    return 1.0 if left > 0.0 else 0.0


@gives("state")
def alarm(value: Alike, limit: Alike, below: Number, dead: Alike, state: Number, acknowledge: Number) -> Number:
    """Next state of an alarm; it clears only ``dead`` beyond its limit, so that it does not chatter."""
    lit = state > 0.5 and state < 2.5
    edge = limit + dead if lit else limit
    other = limit - dead if lit else limit
    active = value < edge if below > 0.5 else value > other
    return next_state(active, state, acknowledge)


def next_state(active: bool, state: float, acknowledge: float) -> float:
    """The state that follows ``state`` by ISA-18.2 while the cause is there or not."""
    pressed = acknowledge > 0.5
    when_active = 2.0 if pressed or (state > 1.5 and state < 2.5) else 1.0
    when_clear = 0.0 if pressed or state < 0.5 or (state > 1.5 and state < 2.5) else 3.0
    return when_active if active else when_clear


@gives("horn", "silence", "heard")
def horn(alarms: list[Number], silence: Number, heard: Number, dead: Number) -> tuple[Number, Number, Number]:
    """The horn sounds for an unacknowledged alarm until silenced; a further alarm sounds it again."""
    count = added([1.0 if alarm == 1.0 else 0.0 for alarm in alarms])
    known = count if silence > 0.5 else min(heard, count)
    return (1.0 if count > known and dead <= 0.0 else 0.0), 0.0, known


@gives("acknowledge")
def cleared() -> Number:
    """0, for a pulse that has been seen in this scan: it counts once, and no more in the next."""
    return 0.0


__all__ = ["PRIORITIES", "PRIORITY", "PSI", "build_alarms", "by_priority", "next_state", "priority"]
