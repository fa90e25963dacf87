"""Every crew that a test or the recorder can call, and what the bad scripts must fail for."""

from __future__ import annotations

from collections.abc import Callable

from tests.drills import (
    crews,
    crews_care,
    crews_closed,
    crews_emergency,
    crews_kill,
    crews_multiplexed,
    crews_operating,
    crews_position,
    crews_proving,
    crews_surface,
    crews_tests,
    crews_trouble,
    crews_vehicle,
    crews_well,
)
from tests.drills.crew import Crew, shut_in_while_drilling

GOOD: dict[str, Callable[[int], Crew]] = {
    "kick-while-drilling": shut_in_while_drilling,
    **crews.CREWS,
    **crews_operating.CREWS,
    **crews_care.CREWS,
    **crews_trouble.CREWS,
    **crews_well.CREWS,
    **crews_surface.CREWS,
    **crews_tests.CREWS,
    **crews_proving.CREWS,
    **crews_kill.CREWS,
    **crews_closed.CREWS,
    **crews_multiplexed.CREWS,
    **crews_emergency.CREWS,
    **crews_position.CREWS,
    **crews_vehicle.CREWS,
}
"""A sound crew for each drill, for any seed."""

RECORDED: dict[str, tuple[Callable[[int], Crew], dict[str, str]]] = {
    **crews_operating.BAD,
    **crews_care.BAD,
    **crews_trouble.BAD,
    **crews_well.BAD,
    **crews_surface.BAD,
    **crews_tests.BAD,
    **crews_proving.BAD,
    **crews_kill.BAD,
    **crews_closed.BAD,
    **crews_multiplexed.BAD,
    **crews_emergency.BAD,
    **crews_position.BAD,
    **crews_vehicle.BAD,
}
"""Bad crews whose scripts are recorded, with the reason to be told for each criterion or critical failure."""

WRITTEN: dict[str, dict[str, str]] = {
    "kick-while-drilling.wrong-order": {
        "order": "before 'Picked up",
        "lined_up": "Not done",
        "sidpp": "200 psi",
        "confirm": "none",
    },
    "kick-while-drilling.idle": {"shut_in": "Not done by", "influx": "not reached"},
    "lamp-lies.trusts-the-lamp": {"report": "when this was not met", "confirm": "Wrong value"},
    "lamp-lies.shears": {"shear_on_pipe": "string is lost"},
    "pod-changeover.not-proved": {"proved": "Kill valve opened", "report": "too early"},
    "pod-changeover.left-at-block": {"blocked": "in block for a minute"},
    "regulator-setting.pushes-at-the-panel": {"annular_set": "Not done", "report": "too early"},
    "regulator-setting.overshoots": {"no_overshoot": "never more than 100 psi above"},
    "accumulator-drawdown.pumps-on": {"order": "without 'All pumps off'", "stored_only": "Out of limits for"},
    "accumulator-drawdown.forgets-the-pumps": {"restored": "Not done", "count": "Not entered"},
    "kick-out-of-hole.pipe-ram": {"shut_in": "Not done", "report": "too early"},
    "kick-out-of-hole.no-enable": {"shut_in": "Not done", "sicp": "too early"},
    "find-the-leak.guesses": {"named": "Wrong faults reported", "isolated": "Not done"},
    "find-the-leak.blocks-all": {"named": "Fault not named", "others": "not met"},
    "lost-ac-power.waits": {"closed": "Not done", "air_pumps": "no air-driven pump left"},
    "lost-ac-power.everybody-out": {"call": "the panels are dead", "recharged": "Not entered"},
    "pressure-switch-fault.leaves-it-running": {"relief": "left running in manual", "left": "not met"},
    "pressure-switch-fault.calls-it-normal": {"noticed": "Pressure is normal", "by_hand": "Not done"},
    "lost-rig-air.trusts-the-button": {"closed": "Not done", "report": "too early"},
    "lost-rig-air.wrong-function": {"closed": "Not done", "alarm": "Not done"},
}
"""Bad scripts written by hand."""

BAD: dict[str, dict[str, str]] = {**WRITTEN, **{name: reasons for name, (_, reasons) in RECORDED.items()}}
