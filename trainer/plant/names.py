"""What the boards call an instrument, for lists and sentences that speak of it."""

from __future__ import annotations

from typing import Final

from trainer import naming
from trainer.wording import worded

ALARM_WORDS: Final = {
    "alarm.pit_gain": "Pit gain",
    "alarm.flow_difference": "Flow difference",
    "alarm.low_accumulator": "Accumulator low",
    "alarm.low_pilot": "Pilot low",
    "alarm.low_air": "Rig air low",
    "alarm.low_tank": "Tank level low",
    "alarm.power_loss": "AC power lost",
}
"""What the warning lamps are called, by tag."""

#: Instruments by tag, named as on the boards.
INSTRUMENTS: Final = {
    "well.flow_out": "Flow out",
    "well.flow_in": "Flow in",
    "well.pit_gain": "Pit gain",
    "well.pit_volume": "Pit volume",
    "well.standpipe": "Standpipe",
    "well.drillpipe_pressure": "Drill pipe pressure",
    "well.casing_pressure": "Casing pressure",
    "well.sealed": "A preventer seals the well",
    "well.influx_rate": "Influx rate",
    "well.influx_volume": "Influx",
    "well.lost": "Mud lost to the formation",
    "well.formation_pressure": "Formation pressure",
    "well.bottom_pressure": "Bottom-hole pressure",
    "well.string_head": "Pressure of the mud in the string",
    "well.gas_top": "Depth of the top of the gas",
    "choke_line.sees_well": "Choke line open to the well",
    "kill_line.sees_well": "Kill line open to the well",
    "bore.pipe": "In the stack",
    "bore.pipe_speed": "Speed of the pipe, up",
    "bore.disconnected": "Riser disconnected",
    "stack.all_clear": "No tool joint in a ram",
    "stack.weight_below": "Weight hung below the ram",
    "well.bit_depth": "Bit depth",
    "well.hole_depth": "Hole depth",
    "trip_tank.volume": "Trip tank",
    "floor.hook": "Hoist",
    "floor.hook_load": "Hook load",
    "floor.bit_weight": "Weight on bit",
    "floor.rop": "Drilling rate",
    "floor.rotary": "Rotary",
    "floor.mud_pumps": "Mud pumps",
    "floor.choke": "Choke",
    "floor.tool_joint": "Tool joint above the floor",
    "floor.top_drive": "Top drive",
    "floor.trip": "Tripping",
    "floor.safety_valve": "Safety valve",
    "floor.stabbed": "Stabbed on the string",
    "pits.line_up": "Suction of the mud pumps",
    "pits.kill_weight": "Kill mud weight",
    "floor.strokes": "Strokes",
    "test.plug": "Test plug",
    "test.pump": "Test pump",
    "test.bleed": "Test unit, bleed",
    "test.chart": "Test unit, chart",
    "test.pressure": "Test pressure",
    "test.held": "Test unit, time held",
    "test.fall": "Test unit, fall",
    "test.pumped": "Test unit, pumped in",
    "accumulator.pressure": "Accumulator",
    "pilot.pressure": "Pilot",
    "supply.pressure": "Pump discharge",
    "air.pressure": "Rig air",
    "unit.accumulator_gauge": "Accumulator, direct",
    "unit.pilot_gauge": "Pilot, direct",
    "totaliser.count": "Flow count",
    "totaliser.true": "Fluid used",
    "tank.level": "Tank level",
    "totaliser.flow": "Flow now",
    "pod_selector.position": "Pod selector",
    "eds.state": "Emergency disconnect, sequence",
    "eds.clock": "Emergency disconnect, since start",
    "deadman.state": "Deadman state",
    "autoshear.state": "Autoshear state",
    "deadman.pressure": "Deadman, bank above sea pressure",
    "deadman.fired": "Deadman, fired by",
    "conduits.dump": "Dump valves",
    "rov.built": "Vehicle, as-built list",
    "rov.port": "Vehicle, port ordered",
    "rov.stabbed": "Vehicle, stab in",
    "rov.valve": "Vehicle, port valve",
    "rov.pump": "Vehicle, pump",
    "rov.left": "Vehicle, time left",
    "rov.pressure": "Vehicle, pump above sea pressure",
    "rov.flow": "Vehicle, flow",
    "rov.count": "Vehicle, pumped",
    "rov.look": "Vehicle, sent to look at",
    "rov.picture": "Vehicle, picture",
    "rov.look_left": "Vehicle, until it is there",
    "acoustic.transducer": "Acoustic, transducer ordered",
    "acoustic.hangs": "Acoustic, transducer hangs",
    "acoustic.left": "Acoustic, until then",
    "acoustic.key_1": "Acoustic, key 1",
    "acoustic.key_2": "Acoustic, key 2",
    "acoustic.noise": "Acoustic, noise",
    "acoustic.most": "Acoustic, most noise for a reply",
    "acoustic.reply": "Acoustic, reply",
    "acoustic.tries": "Acoustic, codes sent",
    "acoustic.bank": "Acoustic, bank above sea pressure",
    "acoustic.volts": "Acoustic, receiver's battery",
    "acoustic.age": "Acoustic, age of the reply",
    "position.pull": "Tensioners set to",
    "position.spare": "Pull at the riser connector",
    "position.reference_a": "Position, reference A",
    "position.reference_b": "Position, reference B",
    "position.speed": "Position, speed",
    "position.angle": "Riser angle",
    "position.stroke": "Slip joint left",
    "position.tension": "Riser tension",
    "position.circles": "Circles for",
    "position.yellow_at": "Yellow circle",
    "position.red_at": "Red circle",
    "position.clock": "Position, since green",
    "position.alert": "Position, alert",
    "diverter.stage": "Diverter, sequence",
    "diverter.flow": "Diverter, overboard",
    "diverter.side": "Overboard side",
    "diverter.closed": "Diverter packer closed",
    "diverter.path": "Returns can leave by",
    "diverter.wind": "Gas overboard goes",
    "weather.wind_from": "Wind from",
    "rig.heading": "Heading",
    "battery.volts": "Battery",
    "battery.amps": "Battery current",
    "battery.weakest": "Weakest battery unit",
    "panel.volts": "Panels",
    "panel.power": "Panel power",
    "boxes.moisture": "Moisture in the air lines",
    "boxes.air_pressure": "Junction box air",
    "power.ac": "AC supply",
    "power.emergency": "Emergency bus",
    "power.main": "Main switch",
    "power.charger": "Battery charger",
    "mixing.running": "Mixing now",
    "mix.concentrate": "Concentrate in the mix",
    "mix.glycol": "Glycol in the mix",
    "water.pressure": "Water",
    "water.flow": "Water in",
    **{tag: f"Alarm: {word.lower()}" for tag, word in ALARM_WORDS.items()},
    **{
        tag.format(pod): f"{pod.capitalize()} pod, {word}"
        for pod in ("yellow", "blue", "white")
        for tag, word in {
            "pod_{}.count": "since order",
            "pod_{}.flow": "flow now",
            "pod_{}.total": "flow in all",
            "pod_{}.side_a": "side A",
            "pod_{}.side_b": "side B",
            "pod_{}.side_a_answers": "side A answers",
            "pod_{}.side_b_answers": "side B answers",
            "link_{}.up": "link",
            "link_{}.retries": "retries",
        }.items()
    },
    **{
        f"deadman.battery_{pod}_{side}.{kind}": f"{pod.capitalize()} {side.upper()}, {word}"
        for pod in ("yellow", "blue")
        for side in "ab"
        for kind, word in (("volts", "now"), ("lowest", "last test under load"))
    },
}
#: The last part of a tag, as the boards say it after the part's own name.
_KINDS: Final = {
    "readback": "read-back",
    "pilot": "pilot",
    "authority": "set from",
    "valve": "control valve",
    "lamp_open": "open lamp",
    "lamp_block": "block lamp",
    "lamp_close": "close lamp",
    "dp": "pressure drop",
    "mode": "selector",
    "isolation": "shut-off",
    "contact": "touches the pipe",
    "on_joint": "on a tool joint",
    "sealing": "seals",
    "position": "position",
}


def instrument(tag: str) -> str:
    """An instrument as the boards name it: ``manifold_regulator.readback`` is ``Manifold regulator, read-back``.

    >>> instrument("well.flow_out"), instrument("upper_annular.lamp_close")
    ('Flow out', 'Upper annular, close lamp')
    """
    known = INSTRUMENTS.get(tag)
    if known is not None:
        return known
    part, _, kind = tag.rpartition(".")
    if not part or kind not in _KINDS:
        return naming.title(tag)
    return f"{naming.title(part)}, {_KINDS[kind]}"


def shown(tag: str, text: str) -> str:
    """What one instrument showed: ``Pit gain: 2.1 bbl``; of a control valve, the position it stood in.

    >>> shown("well.pit_gain", "2.1 bbl"), shown("upper_annular.valve", "close")
    ('Pit gain: 2.1 bbl', 'Upper annular in close position')
    """
    if tag.endswith(".valve"):
        return f"{naming.title(tag.removesuffix('.valve'))} in {text} position"
    return worded("{0}: {1}", instrument(tag), text)


def mid_sentence(words: str) -> str:
    """Words that begin with a capital, as they stand inside a sentence; an abbreviation keeps its letters.

    >>> mid_sentence("Flow out"), mid_sentence("AC supply"), mid_sentence("A preventer seals the well")
    ('flow out', 'AC supply', 'a preventer seals the well')
    """
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]


def inside(tag: str) -> str:
    """An instrument inside a sentence.

    >>> inside("manifold_regulator.readback"), inside("power.ac")
    ('manifold regulator read-back', 'AC supply')
    """
    return mid_sentence(instrument(tag)).replace(",", "")
