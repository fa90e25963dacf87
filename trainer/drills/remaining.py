"""What is left of a step of the coach that asks for several things, once some of them are done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from trainer.drills import pointing
from trainer.drills.binding import Truth
from trainer.drills.expressions import Expression, Picked, terms
from trainer.drills.language import Call, Logic, Node, id_of
from trainer.drills.scoring import ScoringContext
from trainer.wording import joined, put, worded

_ASKED: Final = {"noted": "enter", "said": "report", "done": "do"}


@dataclass(frozen=True, slots=True)
class Piece:
    """One of the things that a step asks for.

    ``asks`` is enter, report or do, ``words`` what of it is named; both are empty where no sentence can name it.
    """

    asks: str
    words: str
    done: Truth
    points: tuple[str, ...] = ()
    reads: tuple[str, ...] = ()


def parts(done: Expression, desk: ScoringContext, picked: Picked) -> tuple[Piece, ...]:
    """The things that a step asks for that is done when all of ``done`` holds."""
    prepared = desk.prepared
    every = terms(done, prepared.catalogue.signals)
    tags = {reading.id: reading.tag or "" for reading in prepared.drill.reading}
    deeds = all(_asks(term.tree) == "do" for term in every)
    made = []
    for term in every:
        asks = _asks(term.tree)
        if asks == "do" and not deeds:
            # Beside entries and reports it is what they wait for, and no deed of its own.
            asks = ""
        read = [id_of(call.arguments[0]) for call in _calls(term.tree) if call.name == "noted"]
        made.append(
            Piece(
                asks,
                joined(" or ", (_called(call, desk) for call in _calls(term.tree))) if asks else "",
                desk.binder.condition(term),
                pointing.targets(term, prepared, picked=picked),
                tuple(tags.get(name, name) for name in read),
            )
        )
    return tuple(made)


def named(done: Truth, several: bool) -> Piece:
    """The fault that a step asks for, reported when ``done`` holds; of ``several`` all of them."""
    return Piece("report under Diagnosis", "all faults" if several else "the fault", done, (pointing.NAME,))


def left(every: Sequence[Piece]) -> tuple[Piece, ...]:
    """The parts still to be done, where some are done and the others can be named; else none."""
    due = tuple(part for part in every if not part.done())
    return due if len(due) < len(every) and all(part.asks for part in due) else ()


def said(due: Sequence[Piece]) -> str:
    """The sentence that asks for what is left: "Still to enter: Trip tank." """
    by: dict[str, list[str]] = {}
    for part in due:
        by.setdefault(part.asks, []).append(part.words)
    return joined(" ", (worded("Still to {0}: {1}.", asks, _listed(words)) for asks, words in by.items()))


def _listed(words: Sequence[str]) -> str:
    return put(joined(" and ", filter(None, (joined(", ", words[:-1]), words[-1]))), ".”", "”")


def _asks(node: Node) -> str:
    """What a term asks for: one of the calls that can be named, or any of several of one kind."""
    calls = _calls(node)
    kinds = {_ASKED.get(call.name, "") for call in calls}
    return kinds.pop() if len(kinds) == 1 else ""


def _calls(node: Node) -> tuple[Call, ...]:
    match node:
        case Call():
            return (node,)
        case Logic("or", several) if all(isinstance(term, Call) for term in several):
            return tuple(term for term in several if isinstance(term, Call))
        case _:
            return ()


def _called(call: Call, desk: ScoringContext) -> str:
    """What a call names, as the page has it."""
    title = desk.titles.of(call.name, id_of(call.arguments[0]))
    return worded("“{0}”", title) if call.name == "said" else title
