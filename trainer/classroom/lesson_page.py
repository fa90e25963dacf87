"""``/lessons``: lessons that run in the class, step by step; brought in as files, or made of what was just done."""

from __future__ import annotations

import panel as pn
from panel.viewable import Viewable
from tornado.web import HTTPError

from trainer.classroom import lesson_files, lesson_skeleton
from trainer.classroom.access import Who
from trainer.classroom.cut_short import Beginning, CutShort
from trainer.classroom.doors import Door
from trainer.classroom.elsewhere import elsewhere
from trainer.classroom.instructor import RefusedError
from trainer.classroom.lesson_run import LessonRun, StepStatus
from trainer.classroom.roster import Place
from trainer.classroom.staff_files import Files
from trainer.classroom.staff_page import Deed, StaffPage, html, offer_by_name, put, row, typed
from trainer.classroom.staff_table import fill, table
from trainer.classroom.starts import StartError
from trainer.console.message import Message
from trainer.drawing.markup import Markup, el, join
from trainer.drills.lesson_plan import LARGEST_FILE, LessonError, LessonPlan
from trainer.records import class_lists
from trainer.simulator import Session

ABOUT = (
    "A lesson is a drill or a starting point with faults, questions and stops to discuss, each at a time, when a "
    "condition holds, or by hand. Everything else of the class can be done meanwhile."
)


class LessonFiles(Files):
    """The field for one lesson file, no larger than a lesson may be."""

    largest, most = LARGEST_FILE, 1


class Lessons(StaffPage):
    """The lesson that runs with its steps, and the lessons there are."""

    path, title, roles, renew_s = "lessons", "Lessons", ("instructor",), 1.0

    def lay_out(self) -> list[Viewable]:
        """The choice of a lesson, its steps, and below them how lessons come in."""
        self.lesson = pn.widgets.Select(label="Lesson", width=340)
        self.lesson.param.watch(lambda _: self._show(), "value")
        self._known: dict[str, LessonPlan] = {}
        self._offered: tuple[object, ...] = ()
        self.cut = CutShort(self, self._begin)
        self.about, self.groups = html(Markup("")), html(Markup(""))
        self.steps = pn.Column(sizing_mode="stretch_width")
        self._lines: list[pn.pane.HTML] = []
        self._laid: tuple[str, bool] = ("", False)
        self.file = pn.Column(self._field(), sizing_mode="stretch_width")
        self.trainee = pn.widgets.Select(label="Run of", width=220)
        self.name = pn.widgets.TextInput(label="Title of the lesson", max_length=80, width=260)
        self.listed = table(
            {"lesson": "Lesson", "file": "File", "runs": "Runs", "versions": "Versions"}, links=("file",)
        )
        self.kept = pn.widgets.Select(label="Lesson of this class", width=240)
        self.kept.param.watch(lambda _: self._offer_versions(), "value")
        self.version = pn.widgets.Select(label="Version", width=110)
        self.elsewhere = html(Markup(""))
        return [
            html(el("p", {}, ABOUT)),
            self.elsewhere,
            row(
                self.lesson,
                self.button("Start for all who wait", self._waiting),
                self.button("Start for all", self._all),
                self.button("Leave the lesson", self._leave),
            ),
            self.cut.view,
            self.about,
            self.groups,
            self.steps,
            html(el("h2", {}, "Make a lesson of a run")),
            row(self.trainee, self.name, self.button("Make lesson", self._make)),
            html(el("h2", {}, "Bring in a lesson")),
            self.file,
            self.button("Check and bring in", self._bring),
            self.listed,
            row(
                self.kept,
                self.version,
                self.button("Use this version", self._restore),
                self.button("Take from the list", self._delete),
            ),
        ]

    def _field(self) -> LessonFiles:
        return LessonFiles(self.still, label="Lesson file (TOML)", sizing_mode="stretch_width")

    async def load(self) -> None:
        """The lessons there are, and how far the one under way has come."""
        put(self.elsewhere, elsewhere(self.room.rooms.crews.far(), self.path))
        self._known = lesson_files.lessons()
        options = {plan.title: plan.id for plan in self._known.values()}
        if options != self.lesson.options:
            run = self.room.lesson
            first = run.plan.id if run is not None else next(iter(options.values()), None)
            value = self.lesson.value if self.lesson.value in options.values() else first
            self.lesson.param.update(options=options, value=value)
        places = [place for place in self.room.rooms.places() if place.run is not None]
        offer_by_name(self.trainee, [(place.name, place.number) for place in places])
        own = list(lesson_files.own().standing())
        drills = self.room.rooms.drills
        kept = lesson_files.every_version()
        fill(
            self.listed,
            (
                {
                    "lesson": plan.title,
                    "file": (f"{plan.id}.toml", f"/lessons/{plan.id}.toml"),
                    "runs": drills[plan.drill].title if plan.drill in drills else plan.start or "",
                    "versions": f"{len(kept.get(plan.id, ()))}" if plan.id in own else "shipped",
                }
                for plan in self._known.values()
            ),
        )
        if list(self.kept.options) != own:
            self.kept.options = own
            self._offer_versions()
        self._show()

    def _offer_versions(self) -> None:
        self.version.options = [str(number) for number in lesson_files.versions(typed(self.kept))]

    def _show(self) -> None:
        """What the chosen lesson is, and the steps of it, or of the one under way."""
        run = self.room.lesson
        plan = run.plan if run is not None else self._known.get(typed(self.lesson))
        if plan is None:
            put(self.about, el("p", {}, "No lesson is here yet."))
            return
        drill = self.room.rooms.drills.get(plan.drill or "")
        shown = (run or LessonRun(plan, "", self.room.rooms)).status(drill)
        head = [
            el("h2", {}, f"Under way: {plan.title}" if run is not None else plan.title),
            el("p", {}, plan.purpose),
            el("p", {}, el("b", {}, "Private: "), plan.notes) if plan.notes else None,
        ]
        put(self.about, el("div", {}, head))
        put(self.groups, _groups(run))
        if self._laid != (plan.id, run is not None):
            self._laid = (plan.id, run is not None)
            self._lines = [html(Markup("")) for _ in shown]
            rows: list[Viewable] = []
            for number, line in enumerate(self._lines):
                rows.append(line)
                if run is not None:
                    title = shown[number].step.title[:40]
                    rows.append(
                        row(
                            self.button(f"Run now: {title}", self._step("now", number)),
                            self.button(f"Skip: {title}", self._step("skip", number)),
                        )
                    )
            self.steps.objects = rows
        for number, (line, one) in enumerate(zip(self._lines, shown, strict=True), 1):
            put(line, step_line(number, one))

    # What is done

    def _begin(self, message: Message, who: Who, number: str) -> str | None:
        """Start the lesson's run at one place, and plan its steps into it."""
        said = self.room.desk.do(message, who, number, self.heard)
        run, place = self.room.lesson, self.room.desk.place(number)
        if run is not None and isinstance(place, Place):
            run.arm(place)
        return said

    async def _waiting(self, who: Who) -> str | None:
        return await self._start(who, [place for place in self.room.rooms.places() if not place.seat.under_way])

    async def _all(self, who: Who) -> str | None:
        return await self._start(who, self.room.rooms.places())

    async def _start(self, who: Who, places: list[Place]) -> str | None:
        plan = self._known.get(typed(self.lesson))
        if plan is None:
            raise RefusedError("choose a lesson first")
        if wrong := lesson_files.faults_of(plan, self.room.rooms.drills):
            raise RefusedError(wrong[0])
        if not places:
            raise RefusedError("no trainee waits; Start for all asks before it cuts a run short")
        run = self.room.lesson
        if run is None or run.plan != plan:
            if run is not None and run.places():
                raise RefusedError(f"the lesson {run.plan.title} is under way: leave it first")
            teams = await self.look(class_lists.teams)
            self.room.lesson = run = LessonRun(plan, who.name, self.room.rooms, teams=teams)
        run.deal([place.number for place in places])
        begins = Beginning(run.begins(), plan.title, tuple(place.number for place in places))
        said = await self.cut.begin(begins, who)
        self.room.outbox.log(who.name, who.role, "lesson started", plan.id)
        return said

    async def _leave(self, who: Who) -> str:
        run = self.room.lesson
        if run is None:
            raise RefusedError("no lesson is under way")
        self.room.lesson = None
        self.room.outbox.log(who.name, who.role, "lesson left", run.plan.id)
        return run.leave()

    def _step(self, deed: str, number: int) -> Deed:
        async def do(who: Who) -> str:
            run = self.room.lesson
            if run is None:
                raise RefusedError("no lesson is under way")
            self.room.outbox.log(who.name, who.role, f"lesson step: {deed}", run.plan.id, str(number + 1))
            return run.now(number) if deed == "now" else run.skip(number)

        return do

    async def _make(self, who: Who) -> str | Markup:
        place = self.room.rooms.place(typed(self.trainee))
        name = typed(self.name)
        if place is None or not isinstance(place.run, Session):
            raise RefusedError("choose a trainee with a run")
        if place.seat.checked:
            raise RefusedError("a check is under way there: make a lesson of it when it is over")
        if not name:
            raise RefusedError("give the lesson a title")
        return self._take(lesson_skeleton.build(place.seat, place.run, name), who)

    async def _bring(self, who: Who) -> str | Markup:
        field = self.file[0]
        sent = list(field.taken().values())
        self.file[0] = self._field()
        if field.too_much:
            raise RefusedError(f"larger than {LARGEST_FILE} bytes; a lesson is a few pages at most")
        if not sent or not sent[-1]:
            raise RefusedError("no file was sent; choose a lesson file first")
        if not self.room.uploads.spend(str(who.person)):
            raise RefusedError("too many uploads; wait a minute")
        try:
            text = sent[-1].decode("utf-8-sig")
        except UnicodeDecodeError:
            raise RefusedError("the file is not UTF-8 text: save it as a TOML file") from None
        return self._take(text, who)

    def _take(self, text: str, who: Who) -> str | Markup:
        """Check the text of a lesson and keep it as its newest version; the page says everything that is wrong."""
        try:
            plan, number = lesson_files.keep(text, self.room.rooms.drills)
        except LessonError as error:
            wrong = el("ul", {}, [el("li", {}, line) for line in error.problems[:20]])
            return join("Not brought in. Correct this, then try again:", wrong)
        self.room.outbox.log(who.name, who.role, "lesson brought in", plan.id, f"version {number}")
        return f"{plan.title}: in the list, version {number}."

    async def _restore(self, who: Who) -> str | Markup:
        name, version = typed(self.kept), typed(self.version)
        if not version.isdecimal():
            raise RefusedError("choose a lesson of this class and a version")
        return self._take(_text(name, int(version)), who)

    async def _delete(self, who: Who) -> str:
        name = typed(self.kept)
        try:
            lesson_files.own().remove(name)
        except ValueError as error:
            raise RefusedError(str(error)) from None
        self.room.outbox.log(who.name, who.role, "lesson taken from the list", name)
        return f"{name}: taken from the list. Its versions are kept: bring one in and it is back."


def _text(name: str, version: int) -> str:
    try:
        return lesson_files.text_of(name, version)
    except StartError as error:
        raise RefusedError(str(error)) from None


def _groups(run: LessonRun | None) -> Markup:
    """Who is in which group, where a lesson under way has groups."""
    if run is None or not run.plan.groups:
        return Markup("")
    names = {place.number: place.name for place in run.rooms.places()}
    lines = [
        el("li", {}, el("b", {}, f"{group}: "), ", ".join(names[at] for at, one in run.groups.items() if one == group))
        for group in run.plan.groups
    ]
    return el("ul", {}, lines)


def step_line(number: int, one: StepStatus) -> Markup:
    """A step as it stands on the page: what it does and when, the private note, and who has come to it."""
    step = one.step
    count = len(one.done) + len(one.waiting)
    reached = f"{len(one.done)} of {count}" + (f": {', '.join(one.done)}" if one.done else "")
    return el(
        "section",
        {"class": "lesson-step"},
        el("h3", {}, f"{number}. {step.title}", " (skipped)" if one.skipped else ""),
        el("p", {}, f"{one.when}. {one.does}"),
        el("p", {}, el("b", {}, "Private: "), step.private) if step.private else None,
        el("p", {}, f"Done for {reached}.") if count else None,
    )


class LessonFileDoor(Door):
    """``/lessons/ID.toml``: a lesson's file, or a kept version of it by ``?version=``, to read or to change."""

    roles = ("instructor",)

    def get(self, lesson: str) -> None:
        """Write the lesson's file, or the version that is asked for; 404 for none."""
        asked = self.get_query_argument("version", "")
        try:
            text = lesson_files.text_of(lesson, int(asked[:9]) if asked.isdecimal() else None)
        except StartError:
            raise HTTPError(404) from None
        self.set_header("Content-Type", "application/toml; charset=utf-8")
        self.set_header("Content-Disposition", f'attachment; filename="{lesson}.toml"')
        self.write(text)
