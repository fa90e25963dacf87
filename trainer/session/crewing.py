"""A crew on one run: who stands where, what each may see, work and call, and which call is still to be repeated back.

Each member has a post: one station or more, and of these all controls or only some. A member who ``walks`` is at one
station at a time. A call goes from one member to another, who repeats it back. All of it follows from the log alone,
as ``trainer.session.walking`` does, so that states and snapshots hold nothing of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Final, Protocol

from trainer import naming, units
from trainer.constants import TICKS_PER_SECOND
from trainer.hydraulics.catalogue import Signal
from trainer.hydraulics.refusal import Refusal
from trainer.session.commands import CALL, GO, OPERATE, REPEAT, Command, Vocabulary, nearest
from trainer.session.protocols import PlantProtocol
from trainer.session.walking import Walking, place_of
from trainer.wording import amount, worded

ALONE: Final = Refusal("no_crew", "this drill has no crew: one person works it, and calls go to no one")


@dataclass(frozen=True)
class Post:
    """A place in the crew: the stations where its member stands, and which of their controls are the member's."""

    id: str
    title: str
    at: tuple[str, ...]
    only: tuple[str, ...] = ()
    """Controls that the member works, as patterns of targets; empty for all that stand there."""
    without: tuple[str, ...] = ()
    """Controls there that another member works, as patterns of targets."""
    walks: bool = False

    def works(self, target: str) -> bool:
        """Whether a control at the member's stations is the member's to work."""
        if self.only and not any(fnmatchcase(target, pattern) for pattern in self.only):
            return False
        return not any(fnmatchcase(target, pattern) for pattern in self.without)

    def sees(self, signal: Signal) -> bool:
        """Whether an instrument stands at one of the member's stations."""
        return any(station in self.at for station in signal.station)


@dataclass(frozen=True)
class CallRule:
    """A short call of the drill: its words, who may make it and to whom it may go; empty for every member.

    ``unit`` is the field unit of the figure that it carries; empty for a call of words alone.
    """

    id: str
    text: str
    by: tuple[str, ...] = ()
    to: tuple[str, ...] = ()
    unit: str = ""

    def words(self, figure: float | None) -> str:
        """The call as it is told, with its figure: ``Shut-in casing pressure: 620 psi``."""
        return self.text if figure is None else worded("{0}: {1}", self.text, self.amount(figure))

    def amount(self, figure: float) -> str:
        """A figure of this call as people say it: number and field unit."""
        return amount(units.from_unit(figure, self.unit), self.unit)


class Noted(Protocol):
    """An entry of the log as the crew takes it in: verb, target, value, who, when and what figure."""

    do: str
    target: str
    value: float | str | None
    by: str | None
    tick: int
    figure: float | None


@dataclass
class Called:
    """A call that was made: what, by whom, to whom, at which tick, and when it was repeated back."""

    call: str
    by: str
    to: str
    tick: int
    back: int | None = None
    figure: float | None = None
    """What it told, in the field unit of its reading; None for a call of words alone."""
    back_figure: float | None = None
    """What was repeated back of it."""

    @property
    def t(self) -> float:
        """When the call was made, in simulated seconds from the start of the run."""
        return self.tick / TICKS_PER_SECOND

    @property
    def back_t(self) -> float | None:
        """When it was repeated back, s from the start of the run; None while it is not."""
        return None if self.back is None else self.back / TICKS_PER_SECOND


class Crewing:
    """The crew of one run: its posts, its calls, what was called so far, and where those are who walk."""

    def __init__(self, posts: Sequence[Post], calls: Sequence[CallRule], ways: Mapping[str, float]) -> None:
        self.posts = {post.id: post for post in posts}
        self.calls = {call.id: call for call in calls}
        self._ways = dict(ways)
        self.reset()

    def reset(self) -> None:
        """Forget what was called, and put everybody where the drill begins."""
        self.line: list[Called] = []
        """Every call so far, in the order in which they were made."""
        self.walkers = {post.id: Walking(self._ways) for post in self.posts.values() if post.walks}

    def note(self, entry: Noted) -> None:
        """Take in what a member did, as the log has it: calls, repeats and walks; the rest changes nothing."""
        by, tick = entry.by or "", entry.tick
        if entry.do == CALL:
            self.line.append(Called(entry.target, by, str(entry.value), tick, figure=entry.figure))
        elif entry.do == REPEAT and (open_call := self.to_repeat(by, entry.target)) is not None:
            open_call.back, open_call.back_figure = tick, entry.figure
        elif entry.do == GO and by in self.walkers:
            self.walkers[by].go(entry.target, tick)

    def to_repeat(self, post: str, call: str = "") -> Called | None:
        """The oldest call to a member that is not repeated back yet, of this id where one is given."""
        open_calls = (one for one in self.line if one.to == post and one.back is None)
        return next((one for one in open_calls if call in ("", one.call)), None)

    def misheard(self, one: Called) -> bool:
        """Whether a call came back with another figure than it told, and was not made again since."""
        if one.figure is None or one.back_figure is None:
            return False
        if units.alike(one.figure, one.back_figure, self.calls[one.call].unit):
            return False
        return not any(one.tick < later.tick and _same_way(one, later) for later in self.line)

    def at(self, post: str, tick: int) -> tuple[str, ...]:
        """The stations at which a member stands now: of one who walks those of one place, none on the way."""
        stations, walker = self.posts[post].at, self.walkers.get(post)
        if walker is None:
            return stations
        if walker.left(tick) > 0:
            return ()
        return tuple(one for one in stations if place_of(one) == place_of(walker.station))

    def title(self, post: str) -> str:
        """What a member's post is called; itself for one that there is not."""
        return self.posts[post].title if post in self.posts else post

    def offered(self, post: str) -> Iterator[tuple[CallRule, tuple[str, ...]]]:
        """The calls that a member may make, each with the members it may go to."""
        for call in self.calls.values():
            others = self.goes_to(call, post)
            if (not call.by or post in call.by) and others:
                yield call, others

    def goes_to(self, call: CallRule, post: str) -> tuple[str, ...]:
        """The other members to whom a call of this member may go."""
        return tuple(one for one in (call.to or self.posts) if one != post)


def _same_way(one: Called, other: Called) -> bool:
    return (one.call, one.by, one.to) == (other.call, other.by, other.to)


def asks_for(command: Command) -> bool:
    """Whether a command names a member or is a call, and so only makes sense where there is a crew."""
    return command.by is not None or command.do in (CALL, REPEAT)


def refusal(
    crew: Crewing | None, command: Command, machine: PlantProtocol, words: Vocabulary, tick: int
) -> Refusal | None:
    """Why a member cannot do this from where they stand; None when they can. Without a crew nobody can."""
    if crew is None:
        return ALONE
    post = crew.posts.get(command.by or "")
    if post is None:
        known = ", ".join(crew.posts)
        if command.by is None:
            return Refusal("who", f"several people work in this drill: say by whom it is done ({known})")
        return Refusal("who", f"there is no {command.by!r} in this crew ({known})")
    if command.do == CALL:
        return _call(crew, post, command)
    if command.do == REPEAT:
        return _repeat(crew, post, command)
    if command.do == GO:
        walker = crew.walkers.get(post.id)
        if walker is None:
            return Refusal("stays", f"the {_small(post)} does not leave the post; call the member who stands there")
        if place_of(command.target) not in {place_of(station) for station in post.at}:
            return Refusal("not_yours", f"the {_small(post)} has nothing to do at {naming.station(command.target)}")
        return walker.refuse_to_go(command.target, tick)
    if command.do in OPERATE:
        return _hand(crew, post, command, tick)
    return _eyes(crew, post, command, machine, words, tick) if command.do == "read" else None


def _small(post: Post) -> str:
    return post.title[:1].lower() + post.title[1:]


def _elsewhere(crew: Crewing, station: str, target: str) -> str:
    """Who can do it, as the end of a sentence."""
    others = [one for one in crew.posts.values() if station in one.at and one.works(target)]
    return f": call the {' or the '.join(_small(one) for one in others)}" if others else ""


def _hand(crew: Crewing, post: Post, command: Command, tick: int) -> Refusal | None:
    station, target = command.from_, command.target
    if station not in post.at:
        there = naming.station(station)
        return Refusal("not_yours", f"the {_small(post)} does not stand at {there}{_elsewhere(crew, station, target)}")
    if not post.works(target):
        what = naming.target(target)
        return Refusal("not_yours", f"{what} is not worked by the {_small(post)}{_elsewhere(crew, station, target)}")
    walker = crew.walkers.get(post.id)
    return None if walker is None else walker.refuse_hand(station, tick)


def _eyes(
    crew: Crewing, post: Post, command: Command, machine: PlantProtocol, words: Vocabulary, tick: int
) -> Refusal | None:
    """A reading is entered by who can see it; what no instrument shows, by anybody."""
    signal = machine.signals.get(words.readings.get(command.target, command.target))
    if signal is None:
        return None
    if not post.sees(signal):
        places = " or ".join(naming.station(one) for one in signal.station) or "nowhere"
        return Refusal("not_seen", f"the {_small(post)} cannot see this: it is shown at {places}")
    walker = crew.walkers.get(post.id)
    if walker is None:
        return None
    refused = [walker.refuse_hand(station, tick) for station in signal.station]
    return None if None in refused else refused[0]


def _call(crew: Crewing, post: Post, command: Command) -> Refusal | None:
    call = crew.calls.get(command.target)
    if call is None:
        return Refusal("no_call", f"there is no call {command.target!r}{nearest(command.target, crew.calls)}")
    if call.by and post.id not in call.by:
        whose = " or the ".join(_small(crew.posts[one]) for one in call.by)
        return Refusal("not_your_call", f"this call is made by the {whose}, not by the {_small(post)}")
    others = crew.goes_to(call, post.id)
    if command.value not in others:
        names = " or the ".join(_small(crew.posts[one]) for one in others)
        return Refusal("to_nobody", f"this call goes to the {names}")
    return None


def _repeat(crew: Crewing, post: Post, command: Command) -> Refusal | None:
    if command.value is not None:
        return Refusal("takes_no_value", "a repeat goes to who made the call; it takes no value")
    if crew.to_repeat(post.id, command.target) is None:
        return Refusal("no_call", "there is no such call to you that is still to be repeated back")
    return None
