"""What trainees may start by the rule of their class, and notes that staff keep for one another or for themselves."""

from __future__ import annotations

import pytest

from trainer.records import assigned, class_rules, people, staff_notes
from trainer.records.class_rules import ASSIGNED, EVERYTHING, NOTHING, barred
from trainer.records.database import Records

COURSES = {"wells": ("kick",)}


def test_trainees_start_what_the_rule_of_their_class_lets_them(records: Records) -> None:
    with records.work() as session:
        staff = people.add(session, "Ines Marlow", "instructor")
        ona = people.add(session, "Ona Tiller")
        assigned.assign(session, "wells", staff.id, person=ona.id)
        asked = [(rule, drill) for rule in (EVERYTHING, ASSIGNED, NOTHING) for drill in ("kick", "round", "")]
        may = []
        for rule, drill in asked:
            class_rules.let_start(session, "nights", rule)
            may.append(barred(session, ona.id, "nights", drill, COURSES) is None)
        assert may == [True, True, True, True, False, False, False, False, False]
        # Another class has its own rule.
        assert barred(session, ona.id, "days", "round", COURSES) is None
        with pytest.raises(ValueError, match="one of"):
            class_rules.let_start(session, "nights", "whatever")


def test_a_private_note_is_read_by_its_author_alone(records: Records) -> None:
    with records.work() as session:
        ines, mara = (people.add(session, name, "instructor") for name in ("Ines Marlow", "Mara Quill"))
        staff_notes.write(session, ines.id, "Watch Bo\nat the choke", own=False)
        staff_notes.write(session, ines.id, "Ask Ona less", own=True)
        with pytest.raises(ValueError, match="write the note"):
            staff_notes.write(session, ines.id, " \n", own=False)
        read = {one.id: [note.text for note in staff_notes.latest(session, one.id)] for one in (ines, mara)}
    assert read == {ines.id: ["Ask Ona less", "Watch Bo at the choke"], mara.id: ["Watch Bo at the choke"]}
