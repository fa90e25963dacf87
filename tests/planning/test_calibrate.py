"""Calibration: a hidden plant is recovered from its noisy readings; wrong tables are told in sentences."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.chromium import THOROUGH
from trainer.cli import app
from trainer.planning import calibrate_verb, knobs, readings
from trainer.planning.calibrate import Calibration, calibrate, noise_of, simulate
from trainer.planning.errors import PlanningError
from trainer.planning.readings import Readings
from trainer.plant.rig import Plant, PlantError, build_machine, load_plant, parse_plant
from trainer.session.commands import Command
from trainer.units import UNITS

pytest.importorskip("scipy")
TRUTH = {"precharge": 0.93, "leak": 0.25, "valve": 1.3, "line": 0.75}
"""The hidden plant: what it has, as a share of what its file says (the leak: its severity)."""
BOUNDS = {"precharge": 0.02, "leak": 0.25, "valve": 0.05, "line": 0.15}
"""Within what share of the truth each must be found."""
NOISE = {
    "accumulator.pressure": (5.0, "psi"),
    "totaliser.count": (0.1, "gal"),
    "annular_regulator.readback": (5.0, "psi"),
}
HEAD = "time [s],accumulator.pressure [psi],annular_regulator.readback [bar]\n"


def script(plant: Plant, function: str, stop: float) -> list[Command]:
    """Pumps off, then close and open."""
    pumps = [{"t": 0.5, "do": "set", "target": f"{p.id}.mode", "value": "off", "from": "unit"} for p in plant.pump]
    move = {"do": "set", "target": function, "from": "unit"}
    rows = [*pumps, {"t": 2.0, **move, "value": "close"}, {"t": stop, **move, "value": "open"}]
    return [Command.model_validate(row) for row in rows]


def hidden(plant: Plant, function: str, names: tuple[str, ...], end: float) -> tuple[list[Command], Readings]:
    """Readings of a plant that is not as its file says, with the noise of instruments."""
    found = plant
    for knob in knobs.knobs(plant, names, function, knobs.DEFAULT_LEAK):
        found = knob.turn(found, TRUTH["leak"] if knob.name == "leak" else knob.start * TRUTH[knob.name])
    commands = script(plant, function, 0.5 * end)
    signals = build_machine(plant).signals
    tags = [tag for tag in NOISE if tag in signals]
    times = tuple(0.5 * n for n in range(int(2 * end)))
    true = simulate(found, commands, Readings(times, dict.fromkeys(tags, ())))
    dice = random.Random(4)
    columns = {}
    for tag in tags:
        spread = NOISE[tag][0] * UNITS[NOISE[tag][1]].factor
        columns[tag] = tuple(value + dice.gauss(0.0, spread) for value in true[tag].tolist())
    return commands, Readings(times, columns)


def recovered(plant: str, function: str, names: tuple[str, ...], end: float) -> Calibration:
    declared, _ = load_plant(plant)
    commands, taken = hidden(declared, function, names, end)
    found = calibrate(declared, knobs.knobs(declared, names, function, knobs.DEFAULT_LEAK), commands, taken)
    for one in found.fitted:
        true = TRUTH["leak"] if one.knob.name == "leak" else one.knob.start * TRUTH[one.knob.name]
        assert one.told, one
        assert abs(one.value - true) <= BOUNDS[one.knob.name] * true, (one, true)
        assert one.low <= one.value <= one.high
        assert one.high - one.low <= 4.0 * BOUNDS[one.knob.name] * true, "the interval must say something"
    assert found.misfit < 1.3
    return found


def test_precharge_and_leak_of_a_hidden_plant_are_recovered() -> None:
    recovered("sandpiper", "annular", ("precharge", "leak"), 60.0)


def test_valve_and_line_of_a_hidden_plant_are_recovered() -> None:
    recovered("sandpiper", "annular", ("valve", "line") if THOROUGH else ("valve",), 40.0)


@pytest.mark.long  # four at once with a piloted stack
def test_all_four_at_once() -> None:
    recovered("quillback", "upper_annular", knobs.NAMES, 160.0)


def test_noise_is_told_from_a_smooth_course() -> None:
    dice = random.Random(1)
    course = [0.002 * n * n + dice.gauss(0.0, 3.0) for n in range(400)]
    assert noise_of(course, 100.0) == pytest.approx(3.0, rel=0.15)
    assert noise_of([1.0] * 20, 100.0) == pytest.approx(2e-3)


def rows(*changes: tuple[int, str]) -> str:
    """A sound table of 20 lines with some of them changed."""
    lines = [f"{0.5 * n},{3000 - n},{60}" for n in range(20)]
    for number, line in changes:
        lines[number] = line
    return HEAD + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (rows().replace("[psi]", "[gal]"), "gal is a volume, but a pressure is read there"),
        (rows().replace("[psi]", "[furlong]"), "the unit 'furlong' is not known"),
        (rows().replace(" [psi]", ""), "has no unit; write it like"),
        (rows().replace("time [s]", "time [psi]"), "psi is a pressure, but a time is read there"),
        (rows((5, "1.0,2995,60")), "line 7: time goes backwards: 1 s after 2 s"),
        (rows((5, "2.0,2995,60")), "line 7: time stands still"),
        (rows((0, "-1,3000,60")), "line 2: time -1 s is before the test"),
        (rows((19, "60,2995,60")), "line 21: a gap of 51 s in readings every 0.5 s"),
        (rows((5, "2.5,,60")), "line 7: accumulator.pressure is missing"),
        (rows((5, "2.5,2995 psi,60")), "line 7: '2995 psi' is no number"),
        (rows((5, "2.5,2995")), "line 7: has 2 values for 3 columns"),
        (rows().replace("accumulator.pressure", "accumulator.presure"), "accumulator.pressure"),
        (HEAD + "0,3000,60\n", "has 1 readings; at least 12"),
        ("", "is empty"),
    ],
)
def test_a_wrong_table_is_told_in_a_sentence(text: str, told: str) -> None:
    signals = build_machine(load_plant("sandpiper")[0]).signals
    with pytest.raises(PlanningError) as caught:
        readings.parse(text, "test.csv", signals)
    assert told in str(caught.value)
    assert all(line.startswith("test.csv: ") for line in str(caught.value).splitlines())


def table(taken: Readings, path: Path) -> None:
    """Write readings as people would: in field units."""
    tags = list(taken.columns)
    head = ["time [s]", *(f"{tag} [{NOISE[tag][1]}]" for tag in tags)]
    lines = [",".join(head)]
    for n, t in enumerate(taken.times):
        lines.append(
            ",".join([f"{t:g}", *(f"{taken.columns[tag][n] / UNITS[NOISE[tag][1]].factor:.3f}" for tag in tags)])
        )
    path.write_text("\n".join(lines) + "\n")


def test_command_fits_shows_and_saves_with_comments_kept(tmp_path: Path) -> None:
    declared, _ = load_plant("sandpiper")
    commands, taken = hidden(declared, "annular", ("precharge", "leak"), 60.0)
    table(taken, tmp_path / "taken.csv")
    test = tmp_path / "test.jsonl"
    test.write_text("".join(json.dumps(command.record()) + "\n" for command in commands))
    saved, plot = tmp_path / "my_rig.toml", tmp_path / "seen.html"
    arguments = ["calibrate", str(tmp_path / "taken.csv"), "--plant", "sandpiper", "--test", str(test)]
    arguments += ["--fit", "precharge,leak", "--id", "my_rig", "-o", str(saved), "--plot", str(plot), "--json"]
    done = CliRunner().invoke(app, arguments)
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    found = {row["name"]: row for row in document["fitted"]}
    assert found["precharge"]["value"] == pytest.approx(930.0, rel=0.02)
    assert found["leak"]["value"] == pytest.approx(25.0, rel=0.25)
    assert document["explained"]
    assert "room for what the functions give back" in saved.read_text(), "comments stay"
    assert plot.read_text().count("<svg") == len(taken.columns)
    machine = build_machine(parse_plant(saved.read_bytes(), saved.name))
    assert machine.read("fault.header.leak") == pytest.approx(0.25, rel=0.25)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"names": ["precharge", "colour"]}, "nothing called 'colour'"),
        ({"names": ["leak"], "fault": "moon.leak"}, "no leak 'moon.leak'; there are: "),
        ({"names": ["valve"], "function": "moon"}, "no function 'moon'"),
        ({"names": ["leak"], "plot": Path("seen.txt")}, "OUT.html"),
    ],
)
def test_wrong_orders_are_told(tmp_path: Path, more: dict[str, object], told: str) -> None:
    (tmp_path / "taken.csv").write_text(rows())
    (tmp_path / "test.jsonl").write_text("")
    with pytest.raises(PlanningError, match=told):
        calibrate_verb.fit(tmp_path / "taken.csv", tmp_path / "test.jsonl", plant="sandpiper", **more)  # type: ignore[arg-type]


def test_a_condition_that_the_plant_cannot_have_is_told() -> None:
    declared, _ = load_plant("sandpiper")
    with pytest.raises(PlantError, match="moon"):
        build_machine(declared.model_copy(update={"condition": {"moon.leak": 0.1}}))
