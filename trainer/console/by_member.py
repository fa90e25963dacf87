"""What each member of a crew did in a run: actions, calls, and how soon calls were repeated back, as a table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from trainer.drawing.markup import Markup, el, plain_table
from trainer.session.commands import CALL, GO, REPEAT
from trainer.session.session import Entry

OWN = ("Your crew: actions", "Your crew: calls made", "Your crew: repeated back")
REFERENCE = ("Reference: actions", "Reference: calls made", "Reference: repeated back")


@dataclass
class Share:
    """A member's part in a run: actions done, calls made, calls received, and the seconds each took to come back."""

    actions: int = 0
    calls: int = 0
    received: int = 0
    backs: list[float] = field(default_factory=list)

    def repeated(self) -> str:
        """The calls that the member repeated back, of those received, with the seconds in the middle of all."""
        if not self.received:
            return "none received"
        # The middle of an even number of them is the earlier: no browser has the module of statistics.
        soon = f", after {sorted(self.backs)[(len(self.backs) - 1) // 2]:.0f} s" if self.backs else ""
        return f"{len(self.backs)} of {self.received}{soon}"


def shares(log: Iterable[Entry], posts: Iterable[str]) -> dict[str, Share]:
    """Each post's part in a run, by id, from the run's log; what was refused does not count."""
    found = {post: Share() for post in posts}
    open_calls: list[Entry] = []
    for entry in log:
        share = found.get(entry.by or "")
        if share is None or entry.refused is not None:
            continue
        if entry.do == CALL:
            share.calls += 1
            open_calls.append(entry)
            if (to := found.get(str(entry.value))) is not None:
                to.received += 1
        elif entry.do == REPEAT:
            told = next((one for one in open_calls if (one.target, one.value) == (entry.target, entry.by)), None)
            if told is not None:
                open_calls.remove(told)
                share.backs.append(entry.t - told.t)
        elif entry.do != GO:
            share.actions += 1
    return found


def markup(posts: Mapping[str, str], log: Sequence[Entry], reference: Sequence[Entry]) -> Markup:
    """The table: each member beside the same member of the reference run. posts: their titles by id."""
    own, good = shares(log, posts), shares(reference, posts)
    rows = [
        el(
            "tr",
            {},
            el("th", {"scope": "row"}, title),
            *(
                el("td", {"class": None if mine else "when"}, text)
                for mine, share in ((True, own[post]), (False, good[post]))
                for text in (share.actions, share.calls, share.repeated())
                if mine or reference
            ),
        )
        for post, title in posts.items()
    ]
    heads = (*OWN, *REFERENCE) if reference else OWN
    return plain_table(("Member", *heads), rows, "What each member did", "criteria")
