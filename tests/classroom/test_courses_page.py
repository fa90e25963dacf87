"""An instructor makes a course, brings one in as a file, and goes back to an earlier version: the page of courses."""

from __future__ import annotations

import secrets

from tests.classroom.conftest import Server, Visitor
from tests.classroom.staff import opened
from tests.classroom.wire import run


def test_a_course_is_made_changed_put_back_and_removed(server: Server, instructor: Visitor) -> None:
    title = f"Nights {secrets.token_hex(3)}"
    name = f"sandpiper-{title.lower().replace(' ', '-')}"

    async def act() -> None:
        page = await opened(instructor, "courses")
        await page.until(lambda: "Sandpiper" in page.choices("Rig"))
        await page.say("Make the course", "needs a title", Rig="Sandpiper", Title=title)
        await page.until(
            lambda: "Surface stack: rig air lost" in page.choices("Drill") and "Dead panel" not in page.choices("Drill")
        )
        await page.say("Add the drill", "added as step 1", Drill="Surface stack: rig air lost")
        await page.say("Make the course", "brought in as version 1")
        text = instructor.get(f"courses/{name}.toml")
        assert 'rig = "sandpiper"' in text and 'drill = "surface-lost-rig-air"' in text
        for change, said in (
            (("rig-air", "rig-airs"), "did you mean surface-lost-rig-air"),
            (("[[step]]", "[[step]]\nparts = 12\n\n[[step]]"), "brought in as version 2"),
        ):
            page.bring("Course file (TOML)", {"any.toml": text.replace(*change).encode()})
            await page.say("Check and bring in", said)
        assert "parts = 12" in instructor.get(f"courses/{name}.toml")
        assert f"Sandpiper: {title}" in page.choices("Course"), "it can be assigned"
        await page.say("Put back", "version 3", **{"Earlier version": f"{name}, version 1"})
        assert instructor.get(f"courses/{name}.toml") == text
        await page.say(
            "Assign", "is assigned", **{"Course": f"Sandpiper: {title}", "Assign to": "the class without a name"}
        )
        gone = {"Course to remove": name, "Type its id to remove it": name}
        await page.say("Remove", "withdraw it first", **gone)
        await page.say(
            "Withdraw", "Withdrawn", **{"Assignment to withdraw": f"Sandpiper: {title}, the class without a name"}
        )
        await page.say("Remove", f"{name}: removed", **gone)
        page.close()

    run(act())
    instructor.get(f"courses/{name}.toml")
    assert instructor.status == 404
