"""Trainee, instructor and assessor in three browsers at once, from the one-time password to the signed check."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import clock, turn_to
from tests.browser.fits import misfits, still
from tests.browser.test_access import RUN, axe
from tests.chromium import THOROUGH, finish
from tests.classroom.conftest import SECRET, Server, serve
from tests.waiting import wait_until

__all__ = ["axe"]

SHOTS = os.environ.get("TRAINER_SHOTS")
"""A folder for pictures of the pages, to look at."""

CLOSE = '[data-send=\'{"do":"set","target":"upper_annular","value":"close"}\']:visible'


@pytest.fixture(scope="module")
def classroom(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A classroom whose trainees join by code."""
    yield from serve(tmp_path_factory.mktemp("class"), "--join")


class Person:
    """Somebody with a browser of their own."""

    def __init__(self, browser: Browser, complaints: list[str], axe: str) -> None:
        self.complaints, self.axe = complaints, axe
        self.context = browser.new_context(viewport={"width": 1280, "height": 800}, accept_downloads=True)
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda error: complaints.append(str(error)))
        self.page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)

    def look(self, name: str, page: Page | None = None) -> None:
        """What axe-core finds here is a complaint; with a picture where one is wanted."""
        page = page or self.page
        still(page)
        if SHOTS:
            page.screenshot(path=str(Path(SHOTS) / f"{name}.png"))
        page.evaluate(self.axe)
        self.complaints += [f"{name}: {found}" for found in page.evaluate(RUN, {})]

    def narrow(self, name: str, page: Page) -> None:
        """At 150 % the page does not run out sideways."""
        size = page.viewport_size
        page.set_viewport_size({"width": 853, "height": 533})
        # A chart follows its window a moment later. The page's policy lets no text be a script that it would ask again.
        wide = "document.documentElement.scrollWidth"
        wait_until(lambda: page.evaluate(wide) <= 853, f"{name} is wider than its window of 853 px")
        assert size is not None
        page.set_viewport_size(size)

    def look_twice(self, name: str, page: Page | None = None) -> None:
        """The same, of a plain page in light and dark, and narrow."""
        page = page or self.page
        self.narrow(name, page)
        self.look(name, page)
        page.emulate_media(color_scheme="dark")
        self.look(f"{name}-dark", page)
        page.emulate_media(color_scheme="light")


@pytest.fixture
def people(browser: Browser, axe: str) -> Iterator[list[Person]]:
    complaints: list[str] = []
    made = [Person(browser, complaints, axe) for _ in range(3)]
    yield made
    for person in made:
        person.context.close()
    assert complaints == [], "\n".join(complaints)


def log_in(page: Page, url: str, name: str, secret: str) -> None:
    """Log in with a one-time secret and choose one's own."""
    page.goto(f"{url}login")
    form = page.locator("form[action='/login']")
    form.get_by_label("Name").fill(name)
    form.get_by_label("Password").fill(secret)
    form.get_by_role("button", name="Log in").click()
    page.get_by_label("New password").fill(SECRET)
    page.get_by_label("Once more").fill(SECRET)
    page.get_by_role("button", name="Keep it").click()


def _work_the_desk(desk: Page) -> None:
    """Every other thing that an instructor does, by the page's own controls; the last one from the keyboard."""
    said = desk.locator("[data-text='desk.said']")

    def form(label: str, button: str, told: str, **fields: str) -> None:
        within = desk.get_by_role("form", name=label, exact=True)
        for field, value in fields.items():
            control = within.locator(f"[name={field}]")
            if control.evaluate("control => control.tagName") == "SELECT":
                control.select_option(value)
            else:
                control.fill(value)
        within.get_by_role("button", name=button, exact=True).click()
        expect(said).to_contain_text(told)

    desk.get_by_label("Pace of this run").select_option("5")
    expect(said).to_contain_text("5 times as fast")
    form("Inject a fault", "Inject", "to 40 % in 20 s", fault="well.losses", severity="40", over="20")
    desk.locator(".desk-faults").get_by_role("button", name="Clear").first.click()
    expect(said).to_contain_text("cleared")
    form("Change well or weather", "Set", "6000 psi", variable="well.formation_pressure", value="6000")
    desk.get_by_role("button", name="Metric", exact=True).click()
    form("Change well or weather", "Set", "413.7 bar", variable="well.formation_pressure", value="413.7")
    expect(desk.locator("select[name=variable]")).to_contain_text("(bar)")
    assert misfits(desk) == {}
    desk.get_by_role("button", name="Field", exact=True).click()
    form("Save the present state", "Save state", "Saved as High pressure", name="High pressure")
    expect(desk.locator("option[value='saved:High pressure']")).to_be_attached()
    for point, told in (("on battery", "begins from On battery"), ("saved:High pressure", "begins from High pressure")):
        form("Begin from a starting point", "Begin", "Nothing is started yet", start=point)
        expect(desk.get_by_role("region", name="Before runs are cut short")).to_contain_text("Ona Tiller")
        desk.get_by_role("button", name="Cut short and start").click()
        expect(said).to_contain_text(told)
    desk.get_by_role("button", name="Begin again", exact=True).click()
    desk.get_by_role("button", name="Begin again now").click()
    expect(said).to_contain_text("begins again")
    form("Pace of all runs", "Set pace of all", "Pace: done for 1", value="1")
    form("Turn all runs back", "Turn all back", "Nothing is done yet", value="36000")
    desk.get_by_role("button", name="Turn back now").click()
    expect(said).to_contain_text("Back: done for 1")
    form("Tell the trainee", "Tell", "done for 1", text="Once more, all of you", to="all")
    for button in ("Freeze all", "Resume all"):
        desk.get_by_role("button", name=button).press("Enter")
        expect(said).to_contain_text(f"{button.split()[0]}: done for 1")


def _work_the_table(page: Page) -> None:
    """A table is sorted and filtered from the keyboard; what stands in its cells is text, whatever it looks like."""
    rows = page.locator(".tabulator-row")
    page.get_by_label("Name", exact=True).fill("<b>Bo</b>")
    page.get_by_role("button", name="Give a one-time password").click()
    expect(page.get_by_role("link", name="<b>Bo</b>")).to_be_visible()
    name = page.get_by_role("columnheader", name="Name")
    for order in ("ascending", "descending"):
        name.press("Enter")
        expect(name).to_have_attribute("aria-sort", order)
    expect(rows.first).to_contain_text("Ona Tiller")
    looked_for = page.get_by_placeholder("Find: Name")
    looked_for.press_sequentially("marl")
    expect(rows).to_have_count(1)
    expect(rows).to_contain_text("Ines Marlow")
    looked_for.fill("")
    expect(rows).to_have_count(4)


STAFF = ("run", "glance", "crews", "lessons", "classes", "courses", "drills", "attempts", "trail")
"""Pages of an instructor that nothing else here looks at in a narrow window."""


def _every_page_of_staff_is_narrow(teacher: Person, url: str) -> None:
    page = teacher.context.new_page()
    for path in STAFF:
        page.goto(url + path)
        expect(page.get_by_role("button").locator("visible=true").first).to_be_visible()
        if path == "run":
            expect(page.get_by_role("button", name="Wind North")).to_be_visible()
            expect(page.locator("canvas").first).to_be_visible()
            expect(page.locator("main")).not_to_contain_text("choosing")
        teacher.narrow(path, page)
    page.close()


def _assign_a_course(teacher: Person, url: str) -> None:
    """To the class without a name, on the page of courses."""
    page = teacher.context.new_page()
    page.goto(f"{url}courses")
    page.get_by_label("Course", exact=True).select_option(label="Quillback: Find faults")
    page.get_by_label("Assign to").select_option(label="the class without a name")
    page.get_by_label("To be finished by").fill("soon")
    page.get_by_role("button", name="Assign").click()
    expect(page.get_by_role("alert").filter(has_text="'soon' is no day")).to_be_visible()
    page.get_by_label("To be finished by").fill("2099-03-01")
    page.get_by_role("button", name="Assign").click()
    expect(page.get_by_role("status")).to_contain_text("Find faults is assigned to the class without a name.")
    expect(page.locator(".tabulator-row", has_text="the class without a name")).to_contain_text("instructor")
    teacher.look("courses", page)
    page.close()


def test_a_class_from_the_first_secret_to_a_signed_check(classroom: Server, people: list[Person]) -> None:
    teacher, trainee, judge = people
    url = classroom.url

    # The instructor comes in, opens the class and invites an assessor.
    log_in(teacher.page, url, "instructor", classroom.secret)
    desk = teacher.page
    desk.get_by_role("button", name="New code").click()
    code = desk.locator("[data-text='desk.code']")
    expect(code).to_have_text(re.compile("[A-Z2-9]{8}"))
    joining = code.inner_text()
    _assign_a_course(teacher, url)

    # A trainee joins with the code and is in the roster.
    page = trainee.page
    page.goto(url)
    expect(page).to_have_url(re.compile("/login"))
    page.get_by_label("Your name").fill("Ona Tiller")
    page.get_by_label("Class code").fill(joining)
    page.get_by_role("button", name="Join").click()
    expect(page.locator("[data-number='here']")).to_have_text(re.compile(r"\d{6}"))
    page.get_by_role("link", name="Go to the drills").click()
    page.locator("form.drill-start").first.wait_for()
    expect(page.locator(".way-in", has_text="Your next step")).to_contain_text(
        "instructor assigned the course Find faults to you, to be finished by 1 Mar 2099"
    )
    trainee.look("trainee-chooser")
    desk.get_by_role("button", name="Ona Tiller").click()

    # The instructor starts a free practice for the trainee; both see the same.
    start = desk.get_by_role("form", name="Start a drill")
    start.get_by_label("Drill").select_option("")
    start.get_by_role("button", name="Start").click()
    page.locator(".deck-driller").wait_for()
    desk.get_by_role("button", name="Resume", exact=True).click()
    page.locator(CLOSE).first.click()
    expect(desk.locator(".desk-log")).to_contain_text("Upper annular: close")
    with teacher.context.expect_page() as opened:
        desk.get_by_role("link", name="Watch").first.click()
    watch = opened.value
    watch.locator(".deck-driller").wait_for()
    # It looks where the trainee does.
    for view, title in (("picture", "Picture"), ("driller", "Driller's panel")):
        turn_to(page, view)
        expect(watch.locator("[data-text='page.mode']")).to_have_text(f"practice, watching Ona Tiller: {title}")
        expect(watch.locator(f".deck-{view}")).to_be_visible()
    expect(watch.locator(CLOSE).first).to_have_attribute("data-value", "on")
    # It looks like watching, and says so to whoever presses something.
    expect(watch.get_by_role("complementary", name="Only watching")).to_contain_text("Only watching")
    for key in (".tool-pause", ".pace", ".tool-finish"):
        expect(watch.locator(key)).to_be_hidden()
    watch.locator(CLOSE).first.click()
    expect(watch.locator("[data-html='page.refusal']")).to_contain_text("you are only watching")
    teacher.look("watching", watch)
    watch.close()

    # Freeze, a word, a fault: the trainee sees each.
    desk.get_by_role("button", name="Freeze", exact=True).click()
    expect(page.locator("[data-text='page.pause']")).to_have_text("Frozen")
    # The desk that froze the run works on: what it is told reaches the trainee, whose clock stands meanwhile.
    stood = clock(page)
    tell = desk.get_by_role("form", name="Tell the trainee")
    for word in ("Stop", "Look up"):
        tell.get_by_label("Message").fill(word)
        tell.get_by_role("button", name="Tell").click()
        expect(page.locator("[data-text='page.told']")).to_have_text(f"instructor: {word}")
    assert clock(page) == stood
    desk.get_by_role("button", name="Resume", exact=True).click()
    tell.get_by_label("Message").fill("Watch the returns")
    tell.get_by_role("button", name="Tell").click()
    expect(page.locator("[data-text='page.told']")).to_have_text("instructor: Watch the returns")
    fault = desk.get_by_role("form", name="Inject a fault")
    fault.get_by_label("Fault").select_option("power.ac_lost")
    fault.get_by_role("button", name="Inject").click()
    expect(desk.locator(".desk-faults")).to_contain_text("Rig AC lost")
    expect(page.locator("[data-state='alarm.power_loss']").first).not_to_have_attribute("data-value", "normal")

    # The trainee asks for a hand; the instructor sends somebody.
    page.locator(".room summary").click()
    page.get_by_label("Task and location").fill("Accumulator bank A: isolation valve: shut")
    page.get_by_role("button", name="Ask", exact=True).click()
    expect(desk.locator(".desk-asks")).to_contain_text("Accumulator bank A: isolation valve: shut")
    trainee.look("trainee-console")
    page.get_by_label("Task and location").press("Escape")
    expect(page.locator(".room [data-html='page.room']")).to_be_hidden()
    page.locator(".room summary").click()
    hand = desk.get_by_role("form", name="Operate a control")
    hand.get_by_label("Control").select_option("set bank_a.isolation")
    hand.get_by_label("Value").fill("shut")
    hand.get_by_role("button", name="Operate").click()
    expect(desk.locator(".desk-log")).to_contain_text("Assistant: Bank a isolation: shut")
    expect(page.locator(".room")).to_contain_text("Done: Accumulator bank A: isolation valve: shut")
    page.locator(".room summary").click()

    # Back in time, and a drill made of what was done.
    desk.get_by_role("button", name="Start", exact=True).last.click()
    desk.get_by_role("button", name="Turn back now").click()
    expect(desk.locator("[data-text='desk.said']")).to_contain_text("back at 0:00")
    expect(page.locator("[data-text='page.clock']")).to_have_text(re.compile("0:0"))

    said = desk.locator("[data-text='desk.said']")
    _work_the_desk(desk)
    expect(said).to_contain_text("done for 1")
    make = desk.get_by_role("form", name="Make a drill of this run")
    make.get_by_label("Title").fill("My own drill")
    with desk.expect_download() as given:
        make.get_by_role("button", name="Make drill").click()
    assert given.value.suggested_filename == "my-own-drill.toml"
    teacher.look("instructor")
    _every_page_of_staff_is_narrow(teacher, url)

    desk.get_by_role("button", name="End all").click()
    desk.get_by_role("button", name="End now").click()
    expect(said).to_contain_text("End: done for 1")

    # A check: the desk steps back.
    start.get_by_label("Drill").select_option("kick-while-drilling")
    start.get_by_label("Mode").select_option("check")
    start.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_role("button", name="Hint")).to_be_hidden()
    # Its clock and pace are the staff's.
    expect(page.locator(".tool-pause")).to_be_hidden()
    expect(page.locator(".pace")).to_be_hidden()
    fault.get_by_role("button", name="Inject").click()
    expect(desk.locator("[data-text='desk.said']")).to_contain_text("a check is under way")
    note = desk.get_by_role("form", name="Note this moment")
    note.get_by_label("Note").fill("Looked at the pits first")
    note.get_by_role("button", name="Note").click()
    expect(page.locator("[data-text='page.clock']").first).to_have_text(re.compile("0:0[3-9]|0:[1-9]"))
    finish(page)
    page.locator(".verdict").wait_for()
    expect(page.locator(".verdict")).to_contain_text("a file that no one signed")

    # The assessor comes in, marks what no machine sees, signs and issues the report.
    people_page = teacher.context.new_page()
    people_page.goto(f"{url}people")
    people_page.get_by_label("Name", exact=True).fill("Ines Marlow")
    people_page.get_by_role("button", name="Give a one-time password").click()
    secret = people_page.locator(".told .code").inner_text()
    expect(people_page.get_by_role("link", name="Ines Marlow")).to_be_visible()
    _work_the_table(people_page)
    teacher.look_twice("people", people_page)
    people_page.goto(f"{url}instructor")
    people_page.emulate_media(color_scheme="dark")
    people_page.reload()
    people_page.get_by_role("button", name="Ona Tiller").click()
    expect(people_page.locator(".desk-log")).to_be_attached()
    teacher.look("instructor-dark", people_page)
    log_in(judge.page, url, "Ines Marlow", secret)
    bench = judge.page
    expect(bench.locator("h1")).to_have_text("Attempts")
    bench.locator(".tabulator-row", has_text="check").get_by_role("link").first.click()
    expect(bench.locator("h1")).to_have_text("Kick while drilling: Ona Tiller")
    expect(bench.get_by_text("Looked at the pits first")).to_be_visible()
    bench.get_by_role("radio", name="5: Every step is announced").check()
    bench.get_by_label("Remark", exact=True).fill("Spoke up late")
    bench.get_by_role("button", name="Mark", exact=True).click()
    expect(bench.locator(".told")).to_contain_text("Marked: 5 of 10")
    judge.look_twice("assessor")
    bench.get_by_role("button", name="Re-compute now").click()
    expect(bench.locator(".told")).to_contain_text("Verified")
    bench.get_by_label("Remarks").fill("Again next week.")
    bench.get_by_role("button", name="Sign").click()
    expect(bench.locator(".told")).to_contain_text("Signed.")
    with bench.expect_download() as report:
        bench.get_by_role("link", name="Report, PDF").click()
    assert Path(report.value.path()).read_bytes().startswith(b"%PDF-")
    bench.goto(f"{url}currency")
    expect(bench.locator(".tabulator-cell", has_text="not finished").first).to_be_visible()
    judge.look_twice("currency")
    bench.goto(f"{url}person?number=2")
    expect(bench.locator("canvas").first).to_be_visible()
    judge.look_twice("progress")
    for path in ("live", "queue", "competency", "import", "agreement", "post") if THOROUGH else ("live", "import"):
        bench.goto(url + path)
        expect(bench.locator("h1")).to_be_visible()
        judge.look_twice(path)
        if path == "import":
            nothing = {"name": "nothing.json", "mimeType": "application/json", "buffer": b"{" + b" " * 250_000 + b"}"}
            bench.locator("input[type=file]").set_input_files([nothing])
            expect(bench.locator(".filepond--file-status-main")).to_have_text("Upload complete")
            bench.get_by_role("button", name="Take in", exact=True).click()
            expect(bench.locator(".tabulator-row", has_text="nothing.json")).to_contain_text("not taken in")

    # The trainee reads the signed report, and nobody else's.
    page.goto(f"{url}mine")
    page.locator("tr", has_text="check").get_by_role("link").first.click()
    expect(page.locator("body")).to_contain_text("Again next week.")
    expect(page.locator("body")).to_contain_text("Spoke up late")


@pytest.fixture
def another(tmp_path: Path) -> Iterator[Server]:
    """A classroom of its own."""
    yield from serve(tmp_path, "--join")


def test_pages_of_staff_are_in_the_language_of_the_browser_and_choose_as_in_english(
    another: Server, browser: Browser
) -> None:
    context = browser.new_context(locale="pt-BR")
    page = context.new_page()
    page.goto(f"{another.url}login")
    form = page.locator("form[action='/login']")
    form.get_by_label("Nome").fill("instructor")
    form.get_by_label("Senha").fill(another.secret)
    form.get_by_role("button").click()
    page.get_by_label("Nova senha").fill(SECRET)
    page.get_by_label("Mais uma vez").fill(SECRET)
    page.get_by_label("Mais uma vez").press("Enter")
    expect(page.get_by_role("button", name="Novo código")).to_be_visible()
    page.goto(f"{another.url}courses")
    page.get_by_label("Curso", exact=True).select_option(label="Quillback: Encontrar falhas")
    page.get_by_label("Atribuir a").select_option(label="a turma sem nome")
    page.get_by_role("button", name="Atribuir", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("está atribuído a")
    assert page.evaluate("document.documentElement.lang") == "pt-BR"
    context.close()
