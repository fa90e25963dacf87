"""What must be right in a drill for several people: its posts, its calls, and what the good crew does."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatchcase

from trainer.drills.expressions import Catalogue, Expression, nearest, walk
from trainer.drills.language import Call, id_of
from trainer.drills.schema import CrewPart, CrewPost, Drill, NamedReading

FEWEST = 2
"""Fewer people are no crew."""
OVERHEARD = frozenset({"called", "repeated", "said", "noted", "pushed", "hand", "abs", "min", "max"})
"""Functions of the condition language that tell nothing but what everybody of a crew hears or does."""
HELD = frozenset({"done", "since", "at"})
"""Functions that a milestone by the clock alone does not have."""


def of_crew(drill: Drill, catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """What is wrong with posts and calls, each as (table, sentence); nothing where all is right."""
    shared = drill.crew == "shared"
    if not shared and (drill.post or drill.call or drill.part):
        yield "crew", "posts, calls and parts are for several people; write crew = 'shared'."
    if shared and len(drill.post) < FEWEST:
        yield "post", f"a drill for several people has at least {FEWEST} posts."
    posts = [post.id for post in drill.post]
    targets = {target for _, target in catalogue.operables}
    for n, post in enumerate(drill.post, 1):
        for pattern in (*post.only, *post.without):
            if not any(fnmatchcase(target, pattern) for target in targets):
                yield f"post[{n}]", f"no control of the plant is called {pattern!r}; {nearest(pattern, targets)}"
    for n, call in enumerate(drill.call, 1):
        for name in (*call.by, *call.to):
            if name not in posts:
                yield f"call[{n}]", f"there is no post {name!r}; {nearest(name, posts)}"
        if len(call.by) == 1 and call.to == call.by:
            yield f"call[{n}]", "only goes to the member who makes it; give another post in to."
        readings = [one.id for one in drill.reading]
        if call.figure is not None and call.figure not in readings:
            yield f"call[{n}]", f"figure: there is no [[reading]] {call.figure!r}; {nearest(call.figure, readings)}"


def _announced(drill: Drill, catalogue: Catalogue) -> set[str]:
    """Milestones that come by the clock alone, as an alert or an order that everybody hears."""
    words = {one.id: set(re.findall(r"[a-z_][a-z0-9_.]*", one.when)) for one in drill.milestone}
    return {name for name, said in words.items() if not said & (catalogue.signals.keys() | HELD)}


def _stands(post: CrewPost, stations: tuple[str, ...]) -> bool:
    return any(station in post.at for station in stations)


def of_part(spec: CrewPart, drill: Drill, catalogue: Catalogue, when: Expression | None) -> Iterator[tuple[str, str]]:
    """What is wrong with what a member of the good crew does: (key, sentence)."""
    post = next((one for one in drill.post if one.id == spec.post), None)
    if post is None:
        yield "post", f"there is no post {spec.post!r}; {nearest(spec.post, [one.id for one in drill.post])}"
        return
    if spec.wait < 0.0:
        yield "wait", f"given {spec.wait:g} s; a wait is zero or longer."
    if spec.at is not None and spec.at not in post.at:
        yield "at", f"the post {post.id!r} does not stand at {spec.at!r}; {nearest(spec.at, post.at)}"
    for tag in when.tags if when is not None else ():
        if not _stands(post, catalogue.signals[tag].station):
            yield "when", f"{tag} is not shown at the post {post.id!r}: the member cannot know it."
    announced = _announced(drill, catalogue)
    for node in walk(when.tree) if when is not None else ():
        if isinstance(node, Call) and node.name == "done" and id_of(node.arguments[0]) in announced:
            continue
        if isinstance(node, Call) and node.name not in OVERHEARD:
            yield "when", f"{node.name}(...) is known to the referee only; write what the member sees or hears."
    yield from _deed(spec, post, drill, catalogue)


def _legible(reading: NamedReading, post: CrewPost, catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """What keeps a member from reading a figure off an instrument, if something does."""
    signal = catalogue.signals.get(reading.tag)
    if signal is None:
        yield "target", f"no instrument shows {reading.id!r}: give value, or heard = a [[call]] with a figure."
    elif not _stands(post, signal.station):
        yield "target", f"{reading.tag} is not shown at the post {post.id!r}: the member cannot read it."


def _deed(spec: CrewPart, post: CrewPost, drill: Drill, catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    readings, calls = {one.id: one for one in drill.reading}, {one.id: one for one in drill.call}
    if spec.do == "call":
        call = calls.get(spec.target)
        if call is None:
            yield "target", f"there is no [[call]] {spec.target!r}."
        elif spec.value not in (call.to or [one.id for one in drill.post]):
            yield "value", f"the call {call.id!r} does not go to {spec.value!r}."
        elif call.figure in readings:
            yield from _legible(readings[call.figure], post, catalogue)
    elif spec.do == "read":
        reading = readings.get(spec.target)
        if reading is None:
            yield "target", f"there is no [[reading]] {spec.target!r}."
        elif spec.heard is None and spec.value is None:
            yield from _legible(reading, post, catalogue)
        elif spec.heard is not None and (spec.heard not in calls or calls[spec.heard].figure is None):
            yield "heard", f"there is no [[call]] {spec.heard!r} with a figure."
    elif spec.do not in ("say", "name", "go"):
        operable = catalogue.operables.get((spec.do, spec.target))
        if operable is None:
            yield "target", f"the plant cannot {spec.do} {spec.target!r}."
        elif not _stands(post, operable.station):
            yield "target", f"{spec.target} is not worked from the post {post.id!r}."
