"""A sound crew for each shipped drill; each looks at the instruments, so each works for any seed."""

from __future__ import annotations

from tests.drills.crew import Crew


def ordered_ram(crew: Crew) -> str:
    """The pipe ram that the toolpusher has ordered last."""
    return next(f"{which}_pipe_ram" for which in ("upper", "middle", "lower") if which in crew.desk.told[-1])


def lamp_lies(seed: int, instead: str = "") -> Crew:
    """``instead``: the pipe ram to close when the ordered one does not move; else the annular that is in service."""
    crew = Crew("lamp-lies", seed)
    in_service = ("lower_annular", "upper_annular")[crew.asked("out")]
    crew.hears(limit=600.0)
    crew.wait(6.0)
    ordered = ordered_ram(crew)
    instead = instead if instead != ordered and instead else in_service
    crew.close(ordered)
    crew.wait(12.0)
    assert crew[f"{ordered}.lamp_close"] == 1.0 and crew["totaliser.count"] < 3.0
    crew.read("flow_count", "totaliser.count")
    crew.read("return_flow", "well.flow_out")
    crew.read("readback", "manifold_regulator.readback")
    crew.say("not_moved")
    crew.close(instead)
    crew.do("name", f"{ordered}.stuck")
    crew.until(lambda: crew["well.flow_out"] < 3.0, 90.0)
    crew.say("shut_in")
    crew.wait(6.0)
    crew.read("pit", "well.pit_volume")
    crew.finish()
    return crew


def pod_changeover(seed: int) -> Crew:
    crew = Crew("pod-changeover", seed)
    assert crew.until(lambda: crew["totaliser.flow"] > 1.6, 200.0)
    crew.wait(8.0)
    crew.say("leak")
    crew.do("set", "pod_selector", "blue")
    crew.do("set", "floor.rotary", 0)
    crew.until(lambda: crew["totaliser.flow"] < 0.4, 100.0)
    crew.wait(10.0)
    crew.read("flow", "totaliser.flow")
    crew.read("manifold_readback", "manifold_regulator.readback")
    crew.read("annular_readback", "annular_regulator.readback")
    crew.open("upper_inner_kill")
    crew.wait(15.0)
    crew.close("upper_inner_kill")
    crew.wait(20.0)
    crew.do("name", "pod_yellow.supply_leak")
    crew.say("suspended")
    crew.say("in_service")
    crew.finish()
    return crew


def turn(crew: Crew, regulator: str, target: float, at: str = "driller", speed: float = 75.0) -> None:
    """Short pushes until the read-back stands where it should."""
    for _ in range(12):
        off = target - crew[f"{regulator}.readback"]
        if abs(off) < 12.0:
            return
        crew.do("raise" if off > 0.0 else "lower", regulator, max(0.1, min(3.0, 0.9 * abs(off) / speed)), at)
        crew.wait(10.0)


def regulator_setting(seed: int) -> Crew:
    crew = Crew("regulator-setting", seed)
    annular, manifold = crew.told("annular", "psi"), crew.told("manifold", "psi")
    crew.wait(5.0)
    crew.do("set", "annular_regulator.authority", "remote", "unit")
    crew.do("set", "manifold_regulator.authority", "remote", "unit")
    crew.wait(3.0)
    turn(crew, "annular_regulator", annular)
    crew.wait(10.0)
    crew.read("annular", "annular_regulator.readback")
    turn(crew, "manifold_regulator", manifold)
    crew.wait(10.0)
    crew.read("manifold", "manifold_regulator.readback")
    crew.say("set")
    crew.finish()
    return crew


PUMPS = ("triplex_1", "triplex_2", "air_pump_1", "air_pump_2")


def accumulator_drawdown(seed: int, honest: bool = True) -> Crew:
    """``honest``: gives the verdict that the pressure asks for."""
    crew = Crew("accumulator-drawdown", seed)
    crew.wait(5.0)
    crew.read("start_pressure", "accumulator.pressure")
    for pump in PUMPS:
        crew.do("set", f"{pump}.mode", "off", "unit")
    crew.do("push", "totaliser.reset")
    for function in ("upper_annular", "upper_pipe_ram", "middle_pipe_ram"):
        crew.close(function)
        crew.wait(25.0)
        crew.until(lambda: crew["totaliser.flow"] < 0.5, 60.0)
    crew.wait(5.0)
    crew.read("end_pressure", "accumulator.pressure")
    crew.read("count", "totaliser.count")
    crew.say("passed" if crew["accumulator.pressure"] >= 1700.0 or not honest else "failed")
    for pump in PUMPS:
        crew.do("set", f"{pump}.mode", "auto", "unit")
    for function in ("upper_annular", "upper_pipe_ram", "middle_pipe_ram"):
        crew.open(function)
        crew.wait(30.0)
    crew.until(lambda: crew["accumulator.pressure"] > 2720.0, 900.0)
    crew.say("restored")
    crew.finish()
    return crew


def kick_out_of_hole(seed: int, preventer: str = "blind_shear_ram", line: str = "lower") -> Crew:
    crew = Crew("kick-out-of-hole", seed)
    crew.wait(2.0)
    before = crew["trip_tank.volume"]
    assert crew.until(lambda: crew["trip_tank.volume"] > before + 0.7, 390.0)
    crew.wait(5.0)
    crew.say("flows")
    crew.do("push", "driller.enable")
    crew.close(preventer)
    crew.until(lambda: crew["well.flow_out"] < 3.0, 120.0)
    crew.wait(5.0)
    crew.read("flow_count", "totaliser.count")
    crew.read("return_flow", "well.flow_out")
    crew.say("shut_in")
    if preventer == "blind_shear_ram":
        crew.close("ram_locks")
        crew.wait(8.0)
    crew.open(f"{line}_inner_choke")
    crew.open(f"{line}_outer_choke")
    crew.wait(60.0)
    crew.read("sicp", "well.casing_pressure")
    crew.read("trip_tank", "trip_tank.volume")
    crew.say("handed_over")
    crew.finish()
    return crew


def find_the_leak(seed: int) -> Crew:
    crew = Crew("find-the-leak", seed)
    crew.until(lambda: crew["totaliser.flow"] > 1.5, 60.0)
    crew.wait(5.0)
    crew.say("leak")
    for function in ("upper_annular", "lower_annular", "upper_pipe_ram", "middle_pipe_ram", "lower_pipe_ram"):
        crew.do("set", function, "block")
        if crew.until(lambda: crew["totaliser.flow"] < 1.1, 25.0):
            crew.wait(8.0)
            crew.do("name", f"{function}.leak_open")
            break
        crew.open(function)
        crew.wait(5.0)
    crew.read("flow_after", "totaliser.flow")
    crew.say("found")
    crew.finish()
    return crew


def lost_rig_air(seed: int) -> Crew:
    crew = Crew("lost-rig-air", seed)
    crew.wait(5.0)
    crew.do("push", "alarms.acknowledge")
    crew.read("air", "air.pressure")
    crew.say("air_lost")
    crew.do("name", "air.lost")
    crew.hears(limit=200.0)
    crew.wait(2.0)
    crew.close("lower_annular")
    crew.wait(6.0)
    if crew["totaliser.flow"] < 1.0:
        crew.say("to_unit")
        crew.close("lower_annular", "unit")
    crew.until(lambda: crew["totaliser.count"] > 20.0 and crew["totaliser.flow"] < 5.0, 60.0)
    crew.wait(5.0)
    crew.read("flow_count", "totaliser.count")
    crew.read("readback", "annular_regulator.readback")
    crew.say("suspended")
    crew.say("closed")
    crew.finish()
    return crew


def lost_ac_power(seed: int) -> Crew:
    crew = Crew("lost-ac-power", seed)
    crew.until(lambda: crew["power.ac"] < 0.5, 100.0)
    crew.wait(6.0)
    crew.do("push", "alarms.acknowledge")
    crew.say("lost")
    crew.wait(10.0)
    crew.read("volts", "battery.volts")
    crew.do("set", "air_pump_1.mode", "auto", "unit")
    crew.hears(limit=200.0)
    crew.wait(3.0)
    crew.close("upper_annular")
    crew.until(lambda: crew["totaliser.count"] > 20.0 and crew["totaliser.flow"] < 12.0, 60.0)
    crew.wait(5.0)
    crew.read("flow_count", "totaliser.count")
    crew.say("closed")
    crew.wait(30.0)
    crew.until(lambda: crew["accumulator.pressure"] > 2755.0, 600.0)
    crew.read("pressure", "accumulator.pressure")
    crew.say("recharged")
    crew.finish()
    return crew


def pressure_switch_fault(seed: int) -> Crew:
    crew = Crew("pressure-switch-fault", seed)
    crew.until(lambda: crew["accumulator.pressure"] < 2670.0, 600.0)
    crew.wait(5.0)
    assert crew["triplex_1.running"] == 0.0
    crew.say("missed")
    crew.wait(10.0)
    crew.do("set", "triplex_1.mode", "manual", "unit")
    crew.wait(5.0)
    crew.read("pressure", "accumulator.pressure")
    crew.until(lambda: crew["accumulator.pressure"] > 2940.0, 400.0)
    crew.do("set", "triplex_1.mode", "off", "unit")
    crew.do("name", "triplex_1.switch_stuck_open")
    crew.say("charged")
    crew.finish()
    return crew


CREWS = {
    "accumulator-drawdown": accumulator_drawdown,
    "find-the-leak": find_the_leak,
    "kick-out-of-hole": kick_out_of_hole,
    "lamp-lies": lamp_lies,
    "lost-ac-power": lost_ac_power,
    "lost-rig-air": lost_rig_air,
    "pod-changeover": pod_changeover,
    "pressure-switch-fault": pressure_switch_fault,
    "regulator-setting": regulator_setting,
}
