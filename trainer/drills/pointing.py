"""What on the boards a condition speaks of: the instruments, controls and entries that the coach points to.

A target is a text: ``tag:well.flow_out`` an instrument, ``control:upper_annular=close`` a control and, where it
matters, the value, ``say:shut_in`` a report, ``read:sidpp`` a reading to enter, ``name`` the diagnosis.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from trainer import naming
from trainer.drills.expressions import Expression, Picked, deciding, walk
from trainer.drills.language import Call, Comparison, Name, Node, Text
from trainer.drills.prepare import Prepared
from trainer.hydraulics.catalogue import POWER

#: More than so many things at once point to nothing.
MOST: Final = 10
NAME: Final = "name"
AHEAD: Final = "ahead:"
UNIT: Final = "at:unit"
"""Where what is to be done is to be done: at the control unit."""
#: Other words for what tags name.
OTHER_WORDS: Final = {
    "flow out": ("return flow", "returns"),
    "rotary": ("rotation",),
    "hook": ("pick up", "space out", "hoist"),
    "drillpipe pressure": ("sidpp", "drill-pipe pressure"),
    "casing pressure": ("sicp",),
    "totaliser": ("flow count",),
    "mix": ("share of concentrate",),
    "annular regulator read-back": ("read-back",),
    "manifold regulator read-back": ("read-back",),
    "annular regulator authority": ("authority",),
    "manifold regulator authority": ("authority",),
}
#: What no instrument shows, and the instrument or control that tells of it.
SHOWN_BY: Final = {
    "well.influx_volume": ("tag:well.pit_gain", "tag:trip_tank.volume"),
    "well.influx_rate": ("tag:well.flow_out",),
    "well.sealed": ("tag:well.flow_out",),
    "totaliser.true": ("tag:totaliser.count",),
    "floor.tool_joint": ("tag:floor.hook",),
    "floor.stabbed": ("control:floor.stab",),
    "diverter.wind": ("tag:weather.wind_from", "control:diverter.side"),
    "diverter.closed": ("tag:diverter.stage",),
}


#: Words that speak of the drilling choke beside what their condition looks at.
CHOKED: Final = (
    "open the choke a few percent",
    "move the choke",
    "movements of the choke",
    "close the choke",
    "bleed at the choke",
)
CHOKE: Final = "control:floor.choke"
#: Words that stand for several controls, each with the position that they ask for.
MEANT_BY: Final = {
    "open both valves of the upper choke line": ("control:upper_inner_choke=open", "control:upper_outer_choke=open"),
    "open both valves of the lower choke line": ("control:lower_inner_choke=open", "control:lower_outer_choke=open"),
    "open the choke-line valve": ("control:choke_valve=open",),
    "open both valves of one choke line": (
        "control:upper_inner_choke=open",
        "control:upper_outer_choke=open",
        "control:lower_inner_choke=open",
        "control:lower_outer_choke=open",
    ),
}


#: A well that flows less and less is a well that is shut in: its pressures tell, and no flow.
DIES_DOWN: Final = {"well.influx_rate": ("tag:well.casing_pressure", "tag:well.drillpipe_pressure")}


def targets(
    expression: Expression, prepared: Prepared, said: str = "", picked: Picked | None = None
) -> tuple[str, ...]:
    """The targets of a condition, most telling first; those that ``said`` mentions alone, where it mentions any.

    What the condition asks for in other variations than the one ``picked`` is left out.
    """
    found = list(dict.fromkeys(_found(expression.tree, prepared, picked or {}, frozenset())))
    # Where the condition names the position that is wanted, the others of the same control are not meant.
    valued = {target.partition("=")[0] for target in found if "=" in target}
    found = [target for target in found if target not in valued]
    words = said.casefold()
    meant = [target for said_as, controls in MEANT_BY.items() if said_as in words for target in controls]
    found += meant
    at = (UNIT,) if "the unit" in words or "control unit" in words else ()
    named = {target for target in found if any(name in words for name in _names(target))} | set(meant)
    # What is to be entered is read where it is shown, and what is read is entered, and reported, where that is asked.
    named |= {tag for target in named if target.startswith("read:") for tag in entered(target[5:], prepared)}
    if named and "enter" in words:
        read = {target for target in found if target.startswith("read:")}
        named |= {target for target in read if named & set(entered(target[5:], prepared))}
    if named and "report" in words:
        named |= {target for target in found if target.startswith("say:")}
    if any(one in words for one in CHOKED):
        at = (*at, CHOKE)
    if not named:
        return tuple(dict.fromkeys((*at, *found[:MOST])))
    chosen = [_positioned(target, prepared, words) for target in found if target in named]
    return tuple(dict.fromkeys((*at, *chosen[:MOST])))


def _positioned(target: str, prepared: Prepared, words: str) -> str:
    """A function with the position in which ``words`` ask for it; itself where they name none, or both."""
    kind, _, control = target.partition(":")
    operable = prepared.catalogue.operables.get(("set", control)) if kind == "control" else None
    offered = operable.values or () if operable is not None else ()
    asked = [way for way in ("open", "close") if way in offered and re.search(rf"\b{way}\b", words)]
    return f"{target}={asked[0]}" if len(asked) == 1 else target


def instruments(expression: Expression, prepared: Prepared, picked: Picked | None = None) -> tuple[str, ...]:
    """The targets of a condition that are instruments, most telling first: neither controls nor what the dark shows."""
    found = dict.fromkeys(_found(expression.tree, prepared, picked or {}, frozenset()))
    shown = tuple(target for target in found if target.startswith("tag:") and target != f"tag:{POWER}")
    return unworked(shown, prepared)[:MOST]


def mentioned(found: Sequence[str], said: str) -> tuple[str, ...]:
    """Those of the targets found whose names a sentence says, in whatever case; empty for none."""
    words = said.casefold()
    return tuple(target for target in found if any(name in words for name in _names(target)))


def unworked(found: Sequence[str], prepared: Prepared) -> tuple[str, ...]:
    """The targets without controls and their positions: what is left to look at, and to enter."""
    worked = {target for _, target in prepared.catalogue.operables}
    return tuple(
        target
        for target in found
        if not target.startswith("control:") and _control(target.removeprefix("tag:")) not in worked
    )


def _control(tag: str) -> str:
    """The control whose position a reading is, or the reading itself."""
    control = tag.removesuffix(".valve")
    return control.removesuffix(".position") if control == "pod_selector.position" else control


def spoken(statement: str) -> tuple[str, ...]:
    """The target of a report, as the pages know it: the key that makes the statement."""
    return (f"say:{statement}",)


def entered(reading: str, prepared: Prepared) -> tuple[str, ...]:
    """The targets of a reading: where it is shown, and where it is entered."""
    tag = next((named.tag for named in prepared.drill.reading if named.id == reading), reading)
    return tuple(filter(None, (f"tag:{tag}" if tag in prepared.catalogue.signals else "", f"read:{reading}")))


def commanded(target: str, value: object = None) -> tuple[str, ...]:
    """The target of a control, of one of its positions where ``value`` names it."""
    return (f"control:{target}={value}" if isinstance(value, str) else f"control:{target}",)


def ahead(points: Sequence[str]) -> tuple[str, ...]:
    """The entries among the targets, as what comes next: the list of readings goes to them, and nothing is lit."""
    return tuple(f"{AHEAD}{target.removeprefix('read:')}" for target in points if target.startswith("read:"))


def _names(target: str) -> tuple[str, ...]:
    """What sentences call a target."""
    name = _words(target)
    return (name, *OTHER_WORDS.get(name, ()))


def _words(target: str) -> str:
    text = target.partition(":")[2].partition("=")[0].rpartition(".")
    if text[2] in ("readback", "authority"):
        return naming.plain(f"{text[0]}.{text[2]}").casefold()
    name = text[2] if text[0] in ("floor", "well", "test") else text[0] or text[2]
    return naming.plain(name).casefold()


def _parts(node: Node, picked: Picked) -> Iterator[Node]:
    """The parts of what decides a condition; what tells that a well dies down in one piece."""
    for term in deciding(node, picked):
        match term:
            case Comparison(Name(tag), (("<" | "<=", _),)) if tag in DIES_DOWN:
                yield term
            case _:
                yield from walk(term)


def _found(node: Node, prepared: Prepared, picked: Picked, beneath: frozenset[str]) -> Iterator[str]:
    deeper: list[str] = []
    any_found = False
    for part in _parts(node, picked):
        for target in _of(part, prepared):
            any_found = True
            yield target
        if isinstance(part, Call) and part.name in ("done", "at", "since"):
            first = part.arguments[0]
            if isinstance(first, Name | Text):
                deeper.append(first.value)
    # A milestone is only asked what it means where the condition itself points to nothing.
    if any_found:
        return
    for name in deeper:
        for item in prepared.milestones:
            if item.spec.id == name and name not in beneath:
                yield from _found(item.ready["when"].tree, prepared, picked, beneath | {name})


def _of(node: Node, prepared: Prepared) -> Iterator[str]:
    match node:
        case Comparison(Name(tag), (("==", Text(value)),)):
            control = _control(tag)
            if ("set", control) in prepared.catalogue.operables:
                yield from commanded(control, value)
        case Comparison(Name(tag), (("<" | "<=", _),)) if tag in DIES_DOWN:
            yield from DIES_DOWN[tag]
        case Call("said", (Name(name) | Text(name),)):
            yield from spoken(name)
        case Call("answered", _):
            yield "say:"
        case Call("noted", (Name(name) | Text(name),)):
            yield from entered(name, prepared)
        case Call("pushed" | "by" | "hand", (Name(name) | Text(name), *_)):
            yield from commanded(name)
        case Name(tag) if tag in prepared.catalogue.signals:
            yield from _instrument(tag, prepared)


def _instrument(tag: str, prepared: Prepared) -> Iterator[str]:
    yield from SHOWN_BY.get(tag, ())
    worked = {target for _, target in prepared.catalogue.operables}
    if tag in worked:
        yield f"control:{tag}"
    if prepared.catalogue.signals[tag].station:
        yield f"tag:{tag}"
    part = tag.rpartition(".")[0]
    if tag not in worked and part in worked:
        yield f"control:{part}"
