"""What the unit works: pods and stack, drawn smaller than the unit. No state shows here: no one at the unit sees it."""

from __future__ import annotations

from typing import Final

from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import join
from trainer.drawing.picture.control import wrapped
from trainer.drawing.picture.ink import box
from trainer.drawing.picture.place import Piece, Pipe, Tile, Words
from trainer.drawing.regulator_rows import short_title
from trainer.plant.functions import Function

HEIGHT: Final = 272.0
"""So high all bodies of a stack stand together, cm of the picture."""
MIDDLE: Final = 196.0
RIGHT: Final = 426.0
ASIDE: Final = 78.0
GAP: Final = 50.0
"""Two outlets of a line stand at least so far apart in the drawing."""
_SHAPES: Final = {"annular": "annular", "shear_ram": "shear", "pipe_ram": "ram", "connector": "connector"}
_SHARE: Final = {
    "annular": 1.5,
    "shear": 1.0,
    "ram": 1.0,
    "connector": 0.9,
    "joint": 1.0,
    "riser": 0.9,
    "diverter": 0.9,
}


def pods(desk: DrawingContext) -> list[Tile]:
    """The umbilicals' reel and each pod; nothing on a surface stack."""
    rig = desk.rig
    if not rig.pods:
        return []
    told = rig.plant.telemetry
    reel = ("Hose reel of the umbilicals", "Hose reel")
    if told is not None:
        reel = ("Reels of the pods' cables", "Cable reels")
    pieces = [
        Piece(
            "umbilical",
            "umbilical",
            reel[0],
            54.0,
            0.0,
            label=(reel[1],),
            label_at=(0.0, 98.0, "middle"),
        )
    ]
    sound = rig.plant.acoustic
    if sound is not None:
        lid = (0.0, 78.0, "middle")
        pieces.append(Piece(sound.id, "acoustic", sound.name, 54.0, 142.0, label=("Acoustic case",), label_at=lid))
    x = 164.0
    if told is not None:
        named = (0.0, 122.0, "middle")
        pieces.append(Piece(told.id, "telemetry", told.name, x - 18.0, 0.0, label=("Controllers",), label_at=named))
        held = rig.plant.position
        if held is not None:
            screen = (0.0, 102.0, "middle")
            pieces.append(Piece(held.id, "position", held.name, x - 18.0, 142.0, label=("Position",), label_at=screen))
        x += 100.0
    for pod in rig.pods:
        label = (0.0, 206.0, "middle")
        pieces.append(
            Piece(f"pod_{pod.id}", "pod", pod.name, x, 30.0, {"pod": pod.id}, label=(pod.name,), label_at=label)
        )
        joining = rig.joining(pod.id)
        if joining is not None:
            pieces.append(Piece(joining.id, "pod_connector", joining.name, x, 14.0))
        x += 116.0
    # Regulators that no hand at the unit sets stand in the pods.
    inside = [r for r in rig.regulators if r.in_pod and not desk.has(f"{r.id}.authority")]
    if not inside:
        return [Tile("Pods and stack", ("Pods",), x - 48.0, tuple(pieces))]
    left, rows = x - 44.0, -(-len(inside) // 2)
    for n, regulator in enumerate(inside):
        words = wrapped(short_title(regulator), 11)
        place = (left + ASIDE * (n % 2 + 0.5), 60.0 + 62.0 * (rows - 1 - n // 2))
        below = (0.0, -22.0, "middle")
        pieces.append(Piece(regulator.id, "stack_valve", regulator.name, *place, label=words, label_at=below))
    wide, tall = 2 * ASIDE, 62.0 * rows + 30.0
    frame = join(
        box(left, -tall, 4.0, tall, "dark", 0),
        box(left + wide - 4.0, -tall, 4.0, tall, "dark", 0),
        box(left, -tall, wide, 8.0, "steelh", 0),
        box(left + 4.0, 8.0 - tall, wide - 8.0, tall - 14.0, "face", 0),
        box(left, -6.0, wide, 6.0, "dark", 0),
    )
    title = Words(left + wide / 2.0, tall + 7.0, "Regulators in the pods")
    return [Tile("Pods and stack", ("Pods",), left + wide + 12.0, tuple(pieces), words=(title,), behind=(frame,))]


def stack(desk: DrawingContext) -> Tile:
    """The stack from the riser down, kill valves at its left, choke valves at its right, and what else stands on it."""
    rig = desk.rig
    packer = rig.functions_of("diverter_packer")[:1]
    bodies = [(f.id, f.name, "diverter") for f in packer]
    if rig.subsea:
        bodies += [("riser", "Riser", "riser"), ("flex_joint", "Flex joint", "joint")]
    bodies += [(f.id, f.name, _SHAPES[f.kind]) for f in rig.column()]
    unit = HEIGHT / sum(_SHARE[shape] for _, _, shape in bodies)
    pieces: list[Piece] = []
    tops: dict[str, float] = {}
    top = HEIGHT + 14.0
    for name, title, shape in bodies:
        tall = unit * _SHARE[shape]
        tops[name] = top
        top -= tall
        pieces.append(Piece(name, "preventer", title, MIDDLE, top, {"shape": shape, "tall": tall, "title": title}))
    pipes: list[Pipe] = []
    words: list[Words] = []
    for line, side in (("kill", -1.0), ("choke", 1.0)):
        drawn, run, x = _line(rig.line_valves(line), rig.column(), tops, top, side)
        pieces += drawn
        pipes += run
        if drawn:
            words.append(Words(x, HEIGHT - 26.0, f"{line.capitalize()} line", "start" if side < 0 else "end"))
    placed = {p.id for p in pieces} | {f.id for pod in rig.pods if (f := rig.joining(pod.id))}
    seconds = [f for f in rig.functions if f.releases in tops]
    for second in seconds:
        beside = (18.0, -3.0, "start")
        place = (MIDDLE + 80.0, tops[second.releases] + 9.0)
        pieces.append(
            Piece(second.id, "stack_valve", second.name, *place, label=wrapped(second.name, 11), label_at=beside)
        )
    placed |= {f.id for f in seconds}
    rest = [f for f in rig.functions if f.id not in placed]
    vents = [f for f in rest if f.kind == "diverter_valve"]
    for n, function in enumerate(vents):
        x, up = RIGHT + ASIDE * (n // 3), 252.0 - 54.0 * (n % 3)
        pieces.append(_aside(function, "overboard", x, up, -22.0))
        pipes.append(Pipe(((x, up), (x - 34.0, up), (x - 34.0, 276.0)), css="bare"))
        pipes.append(Pipe(((MIDDLE, 276.0), (x - 34.0, 276.0)), css="bare"))
    others = [f for f in rest if f.kind != "diverter_valve"]
    for n, function in enumerate(others):
        kind = "locks" if function.kind == "lock" else "stack_valve"
        pieces.append(_aside(function, kind, RIGHT + ASIDE * (n // 2), 88.0 - 50.0 * (n % 2), -20.0))
    columns = max(1, -(-len(vents) // 3), -(-len(others) // 2))
    wide = RIGHT + 30.0 + ASIDE * (columns - 1)
    for item in rig.stack_banks:
        label = (34.0, 140.0, "middle")
        pieces.append(
            Piece(
                item.id,
                "bank",
                item.name,
                wide,
                10.0,
                {"across": 3, "deep": 2, "tall": 110.0},
                label=wrapped(item.name, 10),
                label_at=label,
            )
        )
        wide += 84.0
    own = rig.plant.emergency
    if own is not None:
        named_below = (34.0, 140.0, "middle")
        size = {"across": 3, "deep": 2, "tall": 110.0}
        pieces.append(
            Piece(own.id, "bank", own.name, wide, 10.0, size, label=("Deadman", "bottles"), label_at=named_below)
        )
        wide += 84.0
    vehicle = rig.plant.rov
    if vehicle is not None:
        over = (0.0, 64.0, "middle")
        pieces.append(Piece(vehicle.id, "rov", vehicle.name, wide - 50.0, 178.0, label=("Vehicle",), label_at=over))
    named = ("Stack and diverter" if rig.diverter() and not rig.subsea else "Stack", "drawn smaller")
    return Tile("Pods and stack" if rig.pods else "Stack", named, wide, tuple(pieces), tuple(pipes), tuple(words))


def _aside(function: Function, kind: str, x: float, up: float, below: float) -> Piece:
    return Piece(
        function.id, kind, function.name, x, up, label=wrapped(function.name, 11), label_at=(0.0, below, "middle")
    )


def _line(
    valves: tuple[Function, ...], column: tuple[Function, ...], tops: dict[str, float], foot: float, side: float
) -> tuple[list[Piece], list[Pipe], float]:
    """The valves of a line at their outlets: each outlet beside the top of the first body below it."""
    outlets: dict[float, list[Function]] = {}
    for valve in sorted(valves, key=lambda v: v.below):
        outlets.setdefault(valve.below, []).append(valve)
    pieces: list[Piece] = []
    pipes: list[Pipe] = []
    far = MIDDLE + side * 180.0
    last = HEIGHT
    ups = []
    for below, members in outlets.items():
        under = next((f for f in column if f.kind != "connector" and f.below > below), None)
        wellhead = next((f for f in column if f.kind == "connector" and "wellhead" in f.id), None)
        stands = tops[under.id] if under else tops[wellhead.id] if wellhead else foot + 6.0
        last = min(stands, last - GAP)
        ups.append(last)
        pipes.append(Pipe(((far, last), (MIDDLE, last)), css="bare"))
        for n, valve in enumerate(members):
            lines = wrapped(valve.name, 7)
            above = (0.0, 17.0 + 8.4 * (len(lines) - 1), "middle")
            pieces.append(
                Piece(
                    valve.id,
                    "line_valve",
                    valve.name,
                    MIDDLE + side * (100.0 + 42.0 * n),
                    last,
                    label=lines,
                    label_at=above,
                )
            )
    if ups:
        pipes.append(Pipe(((far, HEIGHT - 40.0), (far, min(ups))), css="bare"))
    return pieces, pipes, far + 6.0 * side
