"""The score held against people's judgement: stored runs, written out for graders who see no rule and no score.

Sixty were made and picked by hand, and the scoring was mended from their marks. Thirty more (``lot`` 1) were drawn by
``drawn`` and graded blind: the scoring that had not seen them ranked those that passed at 0.29, and was mended once
more, with all ninety (how soon a preventer is sent, how soon a pressure is read). Only runs graded after a change tell
how good it is: twenty more (``lot`` 2: the first fifteen that passed and the first five that did not) were drawn and
graded blind after it, and the scoring, which was not changed from their marks, ranked them at 0.82, and the fifteen at
0.81. Each lot had three graders of its own.

``python -m tests.drills.agreement write FOLDER`` writes what happened in each run as plain text: the situation, the
actions, the raw states. ``python -m tests.drills.agreement marks`` prints the stored marks (``agreed/marks.json``, our
own judgement, three times) beside the computed scores; ``fresh FOLDER`` does so for runs and marks in a folder that
are not stored yet. Runs are stored as inputs: a drill, a seed and what was done. Where a later change alters
what happened in a run, its marks no longer count, and it is to be graded again.

Run 92 is one of those: all that was done in it is the same, but its wind of -32 degrees counts as 328 now, so nothing
is left to earn and it ends a minute sooner, with half the influx. It is left out: nobody who knows its score grades it.
"""

from __future__ import annotations

import json
import statistics
import sys
import tomllib
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from trainer import resources, units
from trainer.drills import library
from trainer.runtime import server
from trainer.session.commands import Command
from trainer.simulator import Session

AGREED = Path(__file__).parent / "agreed"
RUNS: dict[str, dict[str, Any]] = json.loads((AGREED / "runs.json").read_text("utf-8"))
"""By number: the drill, the seed, how it was played, what happened (``outcome``) when the marks were given."""
LOTS = (0, 1, 2)
"""The lots that runs were drawn in; 0 are those picked by hand."""
AFTER = 60.0
"""Seconds that a run goes on beyond the last action, or to the end of the drill."""
KINDS = ("annular", "pipe_ram", "shear_ram", "diverter_packer")


def drawn(lot: int) -> list[str]:
    """The numbers of the runs of a lot."""
    return [number for number, run in RUNS.items() if run.get("lot", 0) == lot]


def commands(number: str) -> list[Command]:
    """What was done in a stored run."""
    lines = (AGREED / f"{number}.jsonl").read_text("utf-8").splitlines()
    return [Command.model_validate_json(line) for line in lines]


class Watcher:
    """Plays a run and writes down what happens in it."""

    def __init__(self, drill: str, seed: int, given: Sequence[Command]) -> None:
        self.drill = library.load_file(library.find(drill))
        self.session = Session.start(drill, seed=seed)
        self.machine = self.session.machine
        self.given = list(given)
        self.lines: list[str] = []
        self.met: list[str] = []
        """What decides a grade, coarsely: the order in which preventers close, on what, and when the well is shut."""
        self.heard = 0
        self.shown: list[str] = []
        self.preventers = [f for f in functions(self.session.identity.plant) if f["kind"] in KINDS]
        self.stage: dict[str, str] = {}
        self.words: dict[str, str] = {}

    def v(self, tag: str) -> float:
        """A reading in its field unit."""
        return units.to_unit(self.machine.read(tag), self.machine.signals[tag].unit)

    def has(self, tag: str) -> bool:
        return tag in self.machine.signals

    def state(self, tag: str) -> str:
        """A reading that is a state, as its word."""
        return self.machine.signals[tag].states[int(self.machine.read(tag) + 0.5)]

    def note(self, text: str) -> None:
        self.lines.append(f"{self.session.time:6.1f} s  {text}")

    def play(self) -> None:
        """The whole run."""
        self._told()
        self.shown = self._all()
        self.note("; ".join(self.shown))
        last, waiting = 0.0, list(self.given)
        end = (waiting[-1].t if waiting else 0.0) + AFTER
        step = max(5.0, end / 70.0)
        while self.session.time < end - 0.05 and not self.session.finished:
            while waiting and waiting[0].t <= self.session.time + 1e-6:
                self._act(waiting.pop(0))
            self.session.advance(0.1)
            self._told()
            self._events()
            if self.session.time - last >= step:
                last = self.session.time
                self._changed()
        for left in waiting:
            self.note(f"(after the end of the run: {self._said(left)})")

    def _act(self, command: Command) -> None:
        refused = self.session.submit(command.model_copy(update={"t": self.session.time}))
        if command.target == "floor.choke" and self.lines and "set choke" in self.lines[-1]:
            self.lines.pop()
        self.note(f"ACTION {self._said(command)}" + (f" - refused: {refused}" if refused else ""))

    def _said(self, command: Command) -> str:
        at = {
            "driller": "driller's panel",
            "remote": "toolpusher's panel",
            "unit": "control unit",
            "floor": "drill floor",
        }
        name = command.target.replace("floor.", "").replace("_", " ").replace(".", " ")
        if command.do == "say":
            return "reports: " + next(s.text for s in self.drill.statement if s.id == command.target)
        if command.do == "read":
            reading = next(r for r in self.drill.reading if r.id == command.target)
            gauge = f" (the gauge shows {self._gauge(reading.tag)})" if reading.tag else ""
            return f"writes down {reading.title}: {command.value}{gauge}"
        if command.do == "name":
            return f"names a fault: {name}"
        value = "" if command.value is None else f" {command.value}"
        return f"at the {at.get(command.from_, command.from_)}: {command.do} {name}{value}"

    def _gauge(self, tag: str) -> str:
        signal = self.machine.signals[tag]
        return self.state(tag) if signal.states else units.show(self.machine.read(tag), signal.unit)

    def _told(self) -> None:
        messages = self.session.referee.messages
        for _, text in messages[max(self.heard, 1) :]:
            self.note(f"THE CREW IS TOLD: {' '.join(text.split())}")
        self.heard = len(messages)

    def _events(self) -> None:
        for f in self.preventers:
            name = f["id"]
            share = self.v(f"{name}.position")
            stage = "open" if share < 5.0 else "closed" if self._full(name, share) else "part closed"
            contact = self.has(f"{name}.contact") and self.machine.read(f"{name}.contact") > 0.5
            if contact:
                stage += ", touching"
            if stage != self.stage.setdefault(name, stage):
                self.stage[name] = stage
                self.note(f"STATE {name.replace('_', ' ')} {stage} ({share:.0f} %){self._in(name)}")
                self.met.append(f"{name} {stage} {self.state(f'{name}.pipe') if self.has(f'{name}.pipe') else ''}")
        for tag, what in (
            ("well.sealed", "nothing can leave the well"),
            ("choke_line.sees_well", "choke line open to the well"),
            ("kill_line.sees_well", "kill line open to the well"),
            ("pod_selector.position", "pod selector"),
            ("riser_connector.closed", "riser connector latched"),
            ("wellhead_connector.closed", "wellhead connector latched"),
            ("ram_locks.closed", "ram locks closed"),
            ("eds.state", "disconnect sequence"),
            ("diverter.path", "gas and mud leave by"),
            ("diverter.wind", "as to the wind"),
            ("floor.stabbed", "safety valve stabbed"),
            ("floor.safety_valve", "safety valve"),
            ("floor.top_drive", "top drive made up"),
            ("bore.pipe", "pipe across the stack"),
        ):
            if self.has(tag):
                word = self.state(tag)
                if word != self.words.setdefault(tag, word):
                    self.words[tag] = word
                    self.note(f"STATE {what}: {word}")
                    self.met.append(f"{tag} {word}")

    def _full(self, name: str, share: float) -> bool:
        valve = f"{name}.closed"
        sealing = self.has(f"{name}.sealing") and self.machine.read(f"{name}.sealing") > 0.5
        return share > 95.0 or sealing or (self.has(valve) and self.machine.read(valve) > 0.5)

    def _in(self, name: str) -> str:
        if not self.has(f"{name}.pipe"):
            return ""
        moves = f"moves {self.v('bore.pipe_speed') / 0.3048:.2f} ft/s" if self.has("bore.pipe_speed") else ""
        damage = self.v(f"{name}.damage") if self.has(f"{name}.damage") else 0.0
        hurt = f", its packing is {damage:.0f} % damaged" if damage > 0.5 else ""
        return f": in it {self.state(f'{name}.pipe')}, which turns {self.v('floor.rotary'):.0f} rpm and {moves}{hurt}"

    def _changed(self) -> None:
        """Note what has changed since the last line, digits that only tremble left out."""
        now = self._all()
        fresh = [part for part in now if part not in self.shown]
        if fresh:
            self.shown = now
            self.note("; ".join(fresh))

    def _all(self) -> list[str]:
        """Everything that a grader may want to know of a moment."""
        v, parts = self.v, list[str]()
        parts.append(f"flow in {_near(v('well.flow_in'), 5)} out {_near(v('well.flow_out'), 5)} gpm")
        parts.append(f"pit {_near(v('well.pit_gain'), 0.5)} bbl")
        if self.state("trip_tank.line_up") == "on":
            parts.append(f"trip tank {_near(v('trip_tank.volume'), 0.5)} bbl")
        drill_pipe, casing = v("well.drillpipe_pressure"), v("well.casing_pressure")
        parts.append(f"drill pipe {_near(drill_pipe, 5)} casing {_near(casing, 5)} psi")
        if self.has("choke_line.friction") and v("choke_line.friction") > 5.0:
            parts.append(f"choke line friction {_near(v('choke_line.friction'), 5)} psi")
        parts.append(f"choke {_near(v('floor.choke'), 0.5)} %")
        over = v("well.bottom_pressure") - v("well.formation_pressure")
        parts.append(f"bottom {'above' if over >= 0.0 else 'below'} the formation by {_near(abs(over), 10)} psi")
        parts.append(f"influx {_near(v('well.influx_volume'), 0.5)} bbl at {_near(v('well.influx_rate'), 5)} gpm")
        if v("well.lost") > 0.1:
            parts.append(f"lost into the formation {_near(v('well.lost'), 0.2)} bbl")
        if self.machine.state[self.machine.index["well.riser_gas"]] > 1.0:
            parts.append(f"gas in the riser, its top {_near(v('well.riser_gas_top'), 20)} ft below the rotary table")
        if self.state("bore.pipe") != "none":
            parts.append(f"rotary {_near(v('floor.rotary'), 5)} rpm")
            parts.append(f"mud pumps {_near(v('floor.mud_pumps'), 2)}/min")
            parts.append(f"hook {_near(v('floor.hook'), 1)} ft")
            parts.append(f"hook load {_near(v('floor.hook_load'), 10)} klbf")
            parts.append(f"bit {_near(v('well.hole_depth') - v('well.bit_depth'), 1)} ft off bottom")
        if self.has("stack.hung") and v("stack.hung") > 1.0:
            parts.append(f"on the rams {_near(v('stack.hung'), 10)} of {v('stack.weight_below'):.0f} klbf")
        held = [f["id"].replace("_", " ") for f in self.preventers if self.v(f"{f['id']}.position") > 5.0]
        parts.append("not open: " + (", ".join(held) or "none"))
        locked = [f["id"].replace("_", " ") for f in self.preventers if self._locked(f["id"])]
        if locked:
            parts.append("locked: " + ", ".join(locked))
        parts.append(f"accumulators {_near(v('accumulator.pressure'), 100)} psi")
        parts.append(f"manifold regulator {_near(v('manifold_regulator.readback'), 50)} psi")
        parts.append(f"annular regulator {_near(v('annular_regulator.readback'), 50)} psi")
        if self.has("totaliser.count"):
            parts.append(f"flow count {_near(v('totaliser.count'), 2)} gal")
        if v("diverter.flow") > 5.0:
            parts.append(f"overboard {_near(v('diverter.flow'), 20)} gpm")
        return parts

    def _locked(self, name: str) -> bool:
        return self.has(f"{name}.locked") and self.machine.read(f"{name}.locked") > 0.5

    def text(self) -> str:
        """All of it, for a grader."""
        told = " ".join(self.session.referee.messages[0][1].split())
        head = [f"SITUATION AS TOLD TO THE CREW: {told}", f"RIG: {rig(self.session.identity.plant)}", ""]
        head += [f"WRONG WITH THE EQUIPMENT (not told): {text}" for text in self._faults()]
        return "\n".join([*head, "", *self.lines]) + "\n"

    def _faults(self) -> Iterator[str]:
        for fault in self.machine.faults:
            if self.machine.state[self.machine.index[f"fault.{fault}"]] > 0.01:
                yield fault.replace("_", " ").replace(".", ": ")


def _near(value: float, step: float) -> str:
    """A number to the next step, so that what trembles does not fill the page."""
    return f"{step * int(value / step + (0.5 if value >= 0.0 else -0.5)):.{1 if step < 1.0 else 0}f}"


@cache
def functions(plant: str) -> list[dict[str, Any]]:
    """The functions of a plant, as its file has them."""
    data = tomllib.loads((resources.assets() / "plants" / f"{plant}.toml").read_text("utf-8"))
    return list(data["function"])


def rig(plant: str) -> str:
    """What a grader needs to know of the stack."""
    parts = [f for f in functions(plant) if f["kind"] in KINDS[:3] or f.get("line")]
    heights = {f["id"]: float(f.get("below", "-6 ft" if f["kind"] == "annular" else "0 ft").split()[0]) for f in parts}
    parts.sort(key=lambda f: heights[f["id"]])
    return "the stack from above, ft under the upper pipe ram: " + ", ".join(
        f"{f['id'].replace('_', ' ')} {heights[f['id']]:.0f}" for f in parts
    )


@cache
def watched(number: str) -> Watcher:
    """A stored run, played."""
    run = RUNS[number]
    watcher = Watcher(run["drill"], run["seed"], commands(number))
    watcher.play()
    return watcher


def outcome(number: str) -> dict[str, Any]:
    """What decides a grade in a stored run, coarsely."""
    return happened(watched(number))


def happened(watcher: Watcher) -> dict[str, Any]:
    """Which preventers close on what, in which order, how much has come in, when the crew was told something."""
    influx, pumps = watcher.v("well.influx_volume"), watcher.v("floor.mud_pumps")
    told = [t for t, _ in watcher.session.referee.messages[1:]]
    return {"met": watcher.met, "influx": round(influx, 1), "pumps": round(pumps), "told": told}


def altered(number: str) -> bool:
    """Whether what happens in a stored run now is another thing than what was graded."""
    then, now = RUNS[number]["outcome"], outcome(number)
    if len(then["told"]) != len(now["told"]):
        return True
    if any(abs(a - b) > 5.0 for a, b in zip(then["told"], now["told"], strict=True)):
        return True
    apart = abs(then["influx"] - now["influx"]) > max(1.0, 0.2 * then["influx"])
    return then["met"] != now["met"] or apart or abs(then["pumps"] - now["pumps"]) > 15


def marks() -> dict[str, list[dict[str, Any]]]:
    """By number, what each grader gave: ``unsafe``, ``mark`` 0 to 100, ``why``. Our own judgement."""
    given: dict[str, dict[str, dict[str, Any]]] = json.loads((AGREED / "marks.json").read_text("utf-8"))
    return {number: [grader[number] for grader in given.values() if number in grader] for number in RUNS}


def ranks(values: Sequence[float]) -> list[float]:
    """The rank of each value; equal ones share the middle of theirs."""
    order = sorted(values)
    return [order.index(v) + 0.5 * (order.count(v) - 1) for v in values]


def spearman(a: Sequence[float], b: Sequence[float]) -> float:
    """Rank correlation of two lists, with ties: the linear correlation of their ranks (Spearman 1904)."""
    return statistics.correlation(ranks(a), ranks(b))


def write(folder: Path) -> None:
    """Each run as a text for graders, and what happened in it beside the stored actions: for runs not graded yet."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, run in RUNS.items():
        (folder / f"{number}.txt").write_text(watched(number).text(), encoding="utf-8")
        run["outcome"] = outcome(number)
    (AGREED / "runs.json").write_text(json.dumps(RUNS, indent=1) + "\n", encoding="utf-8")


def show() -> None:
    """Print marks and scores side by side, and how well they agree."""
    rows = []
    for number, given in marks().items():
        sheet = watched(number).session.sheet()
        mean = sum(g["mark"] for g in given) / len(given)
        rows.append((mean, sheet["score"], sheet["passed"], altered(number), RUNS[number].get("lot", 0)))
        told = "altered: grade again" if rows[-1][3] else ""
        unsafe = sum(g["unsafe"] for g in given)
        print(f"{number} {RUNS[number]['drill']:30s} mark {mean:5.1f} unsafe {unsafe} of {len(given)} "
              f"score {sheet['score']:6.2f} {'passed' if sheet['passed'] else ''} {told}")  # fmt: skip
    for name, which in (("picked", {0}), ("first lot", {1}), ("second lot", {2}), ("together", set(LOTS))):
        for what in ("all", "passed"):
            kept = [row for row in rows if row[4] in which and not row[3] and (what == "all" or row[2])]
            agree = spearman([row[0] for row in kept], [row[1] for row in kept])
            print(f"{name}, {what}: {len(kept)} runs, {agree:.3f}")


def fresh(folder: Path) -> None:
    """Marks (``marks-*.json``) and scores of runs that ``drawn`` has written to a folder, and how well they agree."""
    runs = json.loads((folder / "inputs" / "runs.json").read_text("utf-8"))
    given = {path.stem: json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("marks-*.json"))}
    rows = []
    for number, run in runs.items():
        lines = (folder / "inputs" / f"{number}.jsonl").read_text("utf-8").splitlines()
        watcher = Watcher(run["drill"], run["seed"], [Command.model_validate_json(line) for line in lines])
        watcher.play()
        sheet, marks = watcher.session.sheet(), [grader[number] for grader in given.values()]
        mean, unsafe = sum(mark["mark"] for mark in marks) / len(marks), sum(mark["unsafe"] for mark in marks)
        rows.append((mean, sheet["score"], sheet["passed"]))
        print(f"{number} {run['drill']:30s} {run['what']:26s} mark {mean:5.1f} unsafe {unsafe} of {len(marks)} "
              f"score {sheet['score']:6.2f} {'PASSED' if sheet['passed'] else ''}"
              f"{' THOUGH UNSAFE' if sheet['passed'] and 2 * unsafe > len(marks) else ''}")  # fmt: skip
    for what in ("all", "passed"):
        kept = [row for row in rows if what == "all" or row[2]]
        print(f"{what}: {len(kept)} runs, {spearman([row[0] for row in kept], [row[1] for row in kept]):.3f}")


if __name__ == "__main__":
    server.offer()
    match sys.argv[1:]:
        case ["write", folder]:
            write(Path(folder))
        case ["fresh", folder]:
            fresh(Path(folder))
        case _:
            show()
