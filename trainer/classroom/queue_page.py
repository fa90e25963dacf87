"""``/queue``: checks that wait for a mark or a signature, and appeals that wait for an answer."""

from __future__ import annotations

from panel.viewable import Viewable
from sqlalchemy.orm import Session

from trainer.classroom.staff_page import StaffPage, html
from trainer.classroom.staff_table import fill, table
from trainer.drawing.markup import el
from trainer.records import class_lists, review
from trainer.records.tables import Appeal, Attempt


class Queue(StaffPage):
    """The two lists, each line with a link to its attempt."""

    path, title, renew_s = "queue", "To mark", 5.0

    def lay_out(self) -> list[Viewable]:
        """Two tables."""
        self.checks = table(
            {
                "attempt": "Attempt",
                "person": "Person",
                "group": "Group",
                "drill": "Drill",
                "when": "When (UTC)",
                "left": "Left",
            },
            links=("attempt",),
            filters=("person", "group", "drill", "left"),
            widths={"attempt": "12%", "when": "18%", "left": "14%"},
            empty="No check waits for you.",
        )
        self.appeals = table(
            {"attempt": "Attempt", "person": "Person", "drill": "Drill", "since": "Since (UTC)", "why": "Why"},
            links=("attempt",),
            long=("why",),
            widths={"attempt": "12%", "person": "16%", "drill": "20%", "since": "18%"},
            empty="No appeal is open.",
        )
        return [self.checks, html(el("h2", {}, "Appeals")), self.appeals]

    async def load(self) -> None:
        """Read both lists; what is left to mark is counted for who looks."""

        def read(session: Session) -> tuple[list[Attempt], list[tuple[Appeal, Attempt]], dict[int, str]]:
            return review.waiting(session), review.open_appeals(session), class_lists.groups(session)

        found, appeals, groups = await self.look(read)
        me = self.who().person
        fill(
            self.checks,
            (
                {
                    "attempt": (str(one.id), f"/attempt?number={one.id}"),
                    "person": one.person.name,
                    "group": groups.get(one.person_id, ""),
                    "drill": one.title,
                    "when": f"{one.at:%Y-%m-%d %H:%M}",
                    "left": f"{left} to mark" if (left := _left(one, me)) else "to sign",
                }
                for one in found
            ),
        )
        fill(
            self.appeals,
            (
                {
                    "attempt": (str(one.id), f"/attempt?number={one.id}"),
                    "person": one.person.name,
                    "drill": one.title,
                    "since": f"{made.at:%Y-%m-%d %H:%M}",
                    "why": made.text,
                }
                for made, one in appeals
            ),
        )


def _left(attempt: Attempt, assessor: int) -> int:
    """How many criteria this assessor has yet to mark."""
    mine = {mark.criterion for mark in attempt.marks if mark.assessor_id == assessor}
    return sum(row.earned is None and row.criterion not in mine for row in attempt.criteria)
