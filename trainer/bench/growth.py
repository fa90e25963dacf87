"""Speed that takes long to measure: beside a stiff integrator, more functions, many plants, the browser's Python."""

from __future__ import annotations

import time
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import trainer
from trainer.bench import operator, stiff
from trainer.bench.speed import Figure, best
from trainer.hydraulics.machine import Machine
from trainer.planning.ensemble.columns import Columns
from trainer.plant.rig import load_plant
from trainer.runtime import server
from trainer.simulator import build
from trainer.takeaway import node
from trainer.takeaway.errors import SiteError
from trainer.takeaway.fetch import cache_folder
from trainer.takeaway.prepare import INSIDE, prepare

FEW, MANY = 10, 100
BUSY = 200
"""Scans in which all functions stroke at once."""
TURNS = 5
PLANTS = 500
REST = 20
"""Scans in which plants at rest are advanced together."""

# Under Node, processor time counts the runtime's own compiling; it is over after the first turns, the last ones tell.
IN_BROWSER = """
import js, sys
sys.path.insert(0, "/project")
sys.dont_write_bytecode = True
from trainer.console.presenter import Presenter
from trainer.runtime import by_browser
from trainer.simulator import Session

by_browser.offer()
for presented in (True, False):
    session = Session.start(argument)
    presenter = Presenter(session)
    presenter.first()
    best = 0.0
    for turn in range(8):
        way = "open" if turn % 2 else "close"
        session.submit({"do": "set", "target": "upper_annular", "value": way, "from": "driller"})
        began = js.process.cpuUsage()
        for _ in range(200):
            session.advance(0.1)
            if presented:
                presenter.patch()
        took = js.process.cpuUsage(began)
        best = max(best, 20.0e6 / (took.user + took.system))
    print(best)
"""
BY_MESSAGES = "mux-kick"
"""A drill on the rig whose orders are messages."""


def many(functions: int) -> Machine:
    """Quillback with so many pipe rams in place of its functions, to see how the cost grows with them."""
    plant, _ = load_plant("quillback")
    ram = next(f for f in plant.function if f.kind == "pipe_ram")
    copies = tuple(ram.model_copy(update={"id": f"ram_{i}", "title": f"Ram {i}"}) for i in range(functions))
    return Machine(plant.model_copy(update={"function": copies, "disconnect": None, "diverter": None}).network())


def cost(machine: Machine) -> float:
    """Least processor seconds of several turns in which every function strokes."""
    targets = [target for do, target in machine.operables if do == "set" and target.removeprefix("ram_").isdigit()]
    machine.scan()
    times = []
    for turn in range(TURNS):
        for target in targets:
            value = "open" if turn % 2 else "close"
            refused = machine.apply(SimpleNamespace(do="set", target=target, value=value, from_="unit"))
            if refused is not None:
                raise RuntimeError(f"{target}: {refused}")
        began = time.process_time()
        for _ in range(BUSY):
            machine.scan()
        times.append(time.process_time() - began)
    return min(times)


def growth(few: int = FEW, many_: int = MANY) -> Figure:
    """Functions that stroke at once for a second of processor time: the same of ten and of a hundred, if in line."""
    name = f"functions for a second of processor time and a scan, {many_} stroking at once"
    return Figure(name, _worked(many_), "1", f"{few} stroking at once", _worked(few), 0.8)


def _worked(functions: int) -> float:
    return functions * BUSY / cost(many(functions))


def together(count: int = PLANTS) -> list[Figure]:
    """Many plants advanced together, at rest, beside one alone by plain Python."""
    with server.plain():
        machine = build("quillback")
        machine.scan()
        alone = REST / 10.0 / best(partial(machine.scan, REST))
    columns = Columns(build("quillback"), count)
    rate = count * REST / 10.0 / best(partial(columns.scan, REST))
    name = f"{count} plants together, at rest"
    return [Figure(name, rate, "simulated s a s", "one plant alone, plain Python", alone, 25.0)]


def beside_integrator() -> list[Figure]:
    """The compiled plant against SciPy's quickest stiff integrator that comes as near: as it is, and helped."""
    own, alone, helped = stiff.at_equal_error()
    name, per = "reduced plant through the busy sequence", "simulated s a s"
    return [
        Figure(name, own, per, "SciPy's BDF at equal error", alone, 20.0),
        Figure(name, own, per, "SciPy's BDF at equal error, given the slopes of the sparse system", helped),
    ]


def in_browser() -> list[Figure]:
    """An annular that closes and opens, in the browser's Python under Node: with every reading presented, and with the
    score alone, for the first rig and for the one whose orders are messages. Nothing without Node.
    """
    found = []
    try:
        prepared = prepare(cache_folder())
        for drill in (operator.DRILL, BY_MESSAGES):
            told = node.run(
                prepared.runtime,
                IN_BROWSER,
                drill,
                mounts={INSIDE: prepared.packages, "/project": Path(trainer.__file__).resolve().parents[1]},
            )
            for said, rate, least in zip(
                ("presented at 10 Hz", "with its score"), told.split(), (70.0, 300.0), strict=True
            ):
                name = f"an annular in {drill}, {said}, in the browser's Python under Node"
                found.append(Figure(name, float(rate), "simulated s a s", "real time", 1.0, least))
    except SiteError:
        return []
    return found


def figures() -> list[Figure]:
    """All of them; the one in the browser's Python only where Node and the runtime's files are at hand."""
    return [*beside_integrator(), growth(), *together(), *in_browser()]
