"""One trainee's seat at the console: the run, its pace, and what every message from the page does.

A seat takes messages (plain dictionaries) and elapsed seconds of the wall clock, and gives patches. It knows no
clock, no server and no browser of its own: the classroom server and the edition in the browser both drive it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from trainer import languages, naming, units
from trainer.console import about, chooser, debrief, guided, learn, moment, named, pointing, shell, skip
from trainer.console import progress as attempts
from trainer.console.after import After
from trainer.console.bindings import bindings
from trainer.console.boards import Boards
from trainer.console.brought import Brought
from trainer.console.colours import theme_patch
from trainer.console.diagnosis import Diagnosis
from trainer.console.events import EventLog
from trainer.console.expected import strokes
from trainer.console.hold import Hold
from trainer.console.in_language import in_language, page_texts, teller
from trainer.console.kept import KEPT, KEPT_FIRST_RUN
from trainer.console.message import Message
from trainer.console.own import OwnFile
from trainer.console.presenter import Patch, Presenter, joined
from trainer.console.progress import Attempt, Progress
from trainer.console.reading import Reading
from trainer.console.run import Start
from trainer.console.sequences import Sequences
from trainer.console.skip import Skip
from trainer.console.talk import PANEL, YOU, Talk
from trainer.console.trends import History, unit_patch, word_patch
from trainer.console.walk import Walk
from trainer.console.why import Why
from trainer.constants import HAIR, SCAN
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Markup
from trainer.drills.coach import in_a_row
from trainer.drills.pointing import UNIT
from trainer.drills.schema import Drill, DrillError
from trainer.hydraulics.refusal import INJURY
from trainer.learn.boxes import EPOCH
from trainer.learn.standing import Assigned, Path
from trainer.plant.handwork import HUNG
from trainer.plant.rig import Plant
from trainer.session.sheets import SheetData
from trainer.simulator import Session
from trainer.wording import worded

#: A page that was asleep does not run the plant through all that it missed.
LONGEST_GAP = 1.0
#: So many seconds may hands run ahead of the clock before a command waits for the next scan.
LEAD = 0.3
REFUSAL_SHOWN = 12.0
NEWS = 4.0
"""So long what was just done stands before the line that the run is about to end, s."""
ASKED_AGAIN = 30.0
SAID_ALL = "The coach's line says all that there is to do now."
LONGEST_NAME = 80
FREE_PLANT = "quillback"

LEVERS = ("A lever moves", "the lever to")
"""Words of the coach that are about a lever at the unit, though its control stands on the panels too."""


class Seat:
    """Choose a drill, run it, see the score: the states of one page.

    ``start`` starts a run, ``drills`` are the drills to choose from, ``boards`` draws the stations of a plant.
    """

    #: Whether the score sheet offers the report to download; whoever sets it answers the page's asking.
    reports = False
    #: What is said beside the evidence to download; empty where it needs no word.
    about_evidence = ""

    def __init__(self, start: Start, drills: Mapping[str, Drill], boards: Boards) -> None:
        self._start = start
        self.drills = drills
        self.boards = boards
        self.own: Sequence[OwnFile] | None = None
        self.fitted: Callable[[], Sequence[OwnFile]] | None = None
        self.plans = True
        """Whether this person may fit rigs and see planning sheets."""
        self.units: units.System = "field"
        self.language = languages.ENGLISH
        self.theme = "light"
        self.page = "chooser"
        self.run: Session | None = None
        self.drill: Drill | None = None
        self.plant = FREE_PLANT
        self.mode = "practice"
        self.pace = 1.0
        self.paused = False
        self._presenter: Presenter | None = None
        self._due = 0.0
        self._refused: tuple[str, float] | None = None
        self._refusals = 0
        self._noted = ""
        self._noted_then = ("", 0.0)
        self._status = ""
        self._card = ""
        self.learning: learn.Learning | None = None
        self.walk = Walk()
        self._talk = Talk()
        self._events = EventLog()
        self._causes = Why()
        self._desk: DrawingContext | None = None
        self._briefing = self._begun = self._reading = False
        self._ending: float | None = None
        self._diagnosis: Diagnosis | None = None
        self._hold: Hold | None = None
        self._skip: Skip | None = None
        self._sequences: Sequences | None = None
        self._drawn: Mapping[str, str] = {}
        self.after: After | None = None
        self.attempts: list[Attempt] = []
        self._own: Presenter | None = None
        self._sheet = self._origin = ""
        self._progress: Progress | None = None
        self._kept: Attempt | None = None
        self.brought = Brought()
        self._led = False
        self.of_another = ""
        """What says whose the run in sight is, where it was opened from evidence; it is no attempt of this person's."""
        self.surface = False
        """Whether the stack of the rig in sight stands at the surface, without pods."""
        self._rigs: tuple[Plant, Plant] | None = None
        """In a drill on a rig of one's own: that rig, and the one that it was fitted from."""

    # What drives the seat

    def hello(self, theme: object = "light", brought: Mapping[str, object] | None = None) -> Patch:
        """Everything for a page that has just opened, its clock starting now.

        brought: the day, and what the browser keeps of the person (``trainer.console.brought``).
        """
        self.theme = "dark" if theme == "dark" else "light"
        if brought is not None:
            self.brought = Brought.read(brought)
            self._speak(brought.get("language"))
        self._due = 0.0
        return self._spoken(self.first())

    def worded(self, patch: Patch) -> Patch:
        """A patch as the page shows it: in its language and its units."""
        return in_language(patch, self.language, self.words_in)

    def _speak(self, language: object) -> None:
        """Take a language that there is; of another nothing comes."""
        if isinstance(language, str) and language in languages.languages():
            self.language = language

    def _spoken(self, patch: Patch) -> Patch:
        """The patch, and what the page itself needs for its language."""
        return joined(patch, {"header": {"readings": {"page.language": page_texts(self.language)}}})

    def _set_language(self, message: Message) -> Patch:
        self._speak(message.get("value"))
        return self._spoken(self.first())

    @property
    def words_in(self) -> units.System:
        """The units in which the page in sight writes: learning keeps a choice of its own."""
        return self.learning.units if self.learning is not None and self.page == "learn" else self.units

    def first(self) -> Patch:
        """Everything a freshly opened page needs, whatever state the seat is in."""
        self._look_up()
        if self.learning is not None and self.page == "learn":
            return self.learning.first()
        if self._presenter is None:
            drills, way = list(self.drills.values()), self.way()
            newcomer = not self.led and not any(one.state != "never tried" for one in way.drills.values())
            first = chooser.page(
                drills,
                way,
                newcomer,
                self.own,
                self.fitted,
                self.plans,
                self.units,
                self.language,
                self.crew_section(),
                self.boards.what_is,
            )
            # The briefing of the run before is gone before the next one opens.
            return {"chooser": {"markup": first}, "brief": {"markup": shell.brief(None)}, **self._page_only()}
        return self._dressed()

    def tick(self, elapsed: float) -> Patch:
        """Let ``elapsed`` seconds of the wall clock pass, at the pace that is set; the patch of what changed."""
        run = self.run
        if self.after is not None and self.page in ("sheet", "replay"):
            return self.after.tick(min(max(elapsed, 0.0), LONGEST_GAP))
        if run is None or self._presenter is None or self.page != "console":
            return {}
        if self._skip is not None:
            self._on_with_skip(elapsed)
        elif not self.paused and not self._briefing and self._held_or_free(elapsed):
            self._due += min(max(elapsed, 0.0), LONGEST_GAP) * self.pace
            scans = int(self._due / SCAN + HAIR)
            if scans > 0:
                run.advance(scans * SCAN)
                self._due -= scans * SCAN
        if run.finished:
            return self._finish()
        return self._presenter.patch()

    def said_to(self, you: str) -> Markup:
        """All that was said in this run, as rows of markup, with the trainee called ``you``."""
        return self._talk.markup(you)

    def handle(self, message: Message) -> Patch:
        """Do what a message of the page says; the patch shows its effect at once."""
        page = message.get("page")
        if page is None:
            return self._command(dict(message))
        if self.learning is not None and self.page == "learn" and page in learn.PAGES:
            return self.learning.handle(message)
        if self.after is not None and (done := self.after.handle(message)) is not None:
            return done
        known: dict[str, Callable[[Message], Patch]] = {
            "start": self._begin,
            "begin": self._go,
            "brief": self._show_brief,
            "pause": self._pause,
            "pace": self._set_pace,
            "units": self._switch_units,
            "language": self._set_language,
            "finish": self._end,
            "leave": self._leave,
            "again": self._again,
            "theme": self._set_theme,
            "card": self._show_card,
            "evidence": self._hand_over,
            "ask": self._ask,
            "holding": self._still_held,
            "gone": self._hand_gone,
            "diagnosis": self._diagnose,
            "seek": self._diagnose,
            "suspect": self._diagnose,
            "suspect-fault": self._diagnose,
            "report-fault": self._diagnose,
            "sequences": self._sequence,
            "sequence": self._sequence,
            "sequence-stop": self._sequence,
            "sequence-record": self._sequence,
            "sequence-keep": self._sequence,
            "learn": self._learn,
            "walk": self._walk,
            "skip": self._begin_skip,
            "progress": self._look_back,
            "progress-drill": self._look_at,
            "progress-back": self._look_up,
        }
        act = known.get(str(page))
        return act(message) if act else {}

    # Commands to the plant

    def _command(self, command: dict[str, Any]) -> Patch:
        run, presenter = self.run, self._presenter
        if run is None or presenter is None or self.page not in ("console", "replay"):
            return {}
        if self.page == "replay":
            return self._refuse("This is a replay: press Take over from here, then operate.")
        self._end_skip()
        until = command.pop("until", None)
        if self._lets_go(command):
            # Whoever lets go lets go, also while the run stands still.
            self._let_go()
            return presenter.patch()
        if self.paused or self._briefing:
            wait = "Begin" if self._briefing else "Resume"
            return self._refuse(f"Paused. Press {wait} to operate.")
        command.pop("t", None)
        if (words := languages.words(self.language)) is not None and isinstance(command.get("value"), str):
            command["value"] = words.typed(command["value"])
        if command.get("do") == "read":
            target, signals = str(command.get("target")), run.machine.signals
            command["value"] = named.in_units(self.drill, signals, target, command.get("value"), self.units)
            # The drill floor's own form names the instrument; the drill knows the reading by its id.
            command["target"] = named.reading_id(self.drill, target)
        tried = len(run.log)
        refusal = run.submit(command)
        if refusal is not None:
            # In an assessment the page says what the plant shows: nothing, but for who was hurt. Cause and remedy
            # stand in the debrief.
            silent = self.mode == "check" and len(run.log) > tried and refusal.code != INJURY
            return self._refuse(debrief.NO_RESPONSE if silent else refusal)
        self._refused = None
        self._note(command)
        if isinstance(until, Mapping):
            self._let_go()
            self._hold = Hold(run, {**until, "from": command.get("from", "driller")})
        # One scan ahead of the clock: the lamp answers the hand now, and the clock catches up by itself.
        if self._due > SCAN - LEAD:
            run.advance(SCAN)
            self._due -= SCAN
        return self._finish() if run.finished else presenter.patch()

    def _held_or_free(self, elapsed: float) -> bool:
        """Whether the plant may go on: no lever is held, or its hand is heard; a hand that is gone lets go."""
        hold = self._hold
        if hold is None:
            return True
        hold.pass_by(elapsed)
        if hold.lost:
            self._let_go()
        return not hold.unheard or hold.lost

    def _hand_gone(self, _: Message) -> Patch:
        """The page's line was closed: whoever held a lever there holds it no longer."""
        self._let_go()
        return {}

    def _let_go(self) -> None:
        """End what a hand held, if it held something."""
        hold, self._hold = self._hold, None
        if hold is not None and self.run is not None and hold.run is self.run:
            self.run.submit(dict(hold.stop))

    def _lets_go(self, message: Message) -> bool:
        return self._hold is not None and self._hold.ends_by(message)

    def _still_held(self, _: Message) -> Patch:
        if self._hold is not None:
            self._hold.silent = 0.0
        return {}

    def _refuse(self, why: str) -> Patch:
        if self.shown is None or self._presenter is None:
            return {}
        self._refused = (why, self.shown.time)
        self._refusals += 1
        self._talk.add(self.shown.time, PANEL, why)
        return self._presenter.patch()

    def _note(self, command: Mapping[str, object]) -> None:
        run, presenter = self.run, self._presenter
        if run is None or presenter is None:
            return
        do, target, value = command.get("do"), str(command.get("target")), command.get("value")
        clock = debrief.clock(run.time)
        if do == "read":
            self._noted = worded("{0} entered: {1} {2}", clock, named.reading(self.drill, target), str(value))
        elif do == "say":
            self._noted = worded("{0} called: {1}", clock, named.statement(self.drill, target))
        elif do == "name" and self._diagnosis is not None:
            self._noted = f"{clock} reported: {self._diagnosis.words(target)}"
        elif done := self._worked(str(do), target, value):
            self._noted = f"{clock} done: {done}"
            self._talk.add(run.time, YOU, f"Done: {done}")
        if do in ("read", "say", "name"):
            self._talk.add(run.time, YOU, self._noted[len(clock) + 1 :])
        elif do == "set" and value != "stop":
            presenter.history.mark(run.time, f"{naming.target(target)}: {value}")

    def _worked(self, do: str, target: str, value: object) -> str:
        """What hands have just done at the unit that no lever and no lamp tells of; empty for all else."""
        operable = self.run.machine.operables.get((do, target)) if self.run is not None else None
        if operable is None or operable.station != ("unit",):
            return ""
        what = operable.meaning.removesuffix(".")
        if do == "push":
            return what
        return f"{what} {'hung' if value == HUNG[1] else 'taken off'}" if target.endswith("_lock") else ""

    # Messages of the page

    def _begin(self, message: Message) -> Patch:
        name = str(message.get("drill") or "")
        drill = self.drills.get(name) or guided.find(name)
        if name and drill is None:
            return self._tell(f"There is no drill called {name!r}.")
        try:
            asked = message.get("seed")
            known = attempts.last_seed(self.so_far(), name) if asked == "same" else asked
            seed = chooser.seed_of(str(known or self._new_seed(name, message)))
        except ValueError as error:
            return self._tell(str(error))
        mode = "check" if message.get("mode") == "check" and not guided.is_guided(drill) else "practice"
        plant = str(message.get("plant") or (drill.plants[0] if drill else FREE_PLANT))
        try:
            run = self._start(drill.id if drill else None, plant, seed, mode)
        except DrillError as error:
            # Every place of the drill's file that misses something is for its writer, not for who starts it.
            more = f" And {len(error.problems) - 1} more." if len(error.problems) > 1 else ""
            what = f"{drill.title if drill else name} cannot start on {naming.title(plant)}"
            return self._tell(f"{what}: {error.problems[0].text}.{more} Fit a rig says which drills suit it.")
        except ValueError as error:  # the file does not fit, or the drill is not for that plant
            return self._tell(str(error))
        if (why := self.gives_way()) is not None:
            return self._tell(why)
        self.run, self.drill, self.plant, self.mode = run, drill, plant, mode
        if self.run.coach is not None and drill is not None:
            self.run.coach.passes = in_a_row([a.passed for a in self.attempts if a.drill == drill.id])
        self.page, self._skip, self.of_another = "console", None, ""
        self.pace = float(drill.pace) if drill is not None and mode == "check" else 1.0
        # The clock waits until the briefing has been read.
        self._briefing = self.paused = drill is not None
        self._reading = False
        self._ending = None
        self._begun = drill is None
        self._due, self._refused, self._noted, self._status = 0.0, None, "", ""
        self._card = self._sheet = self._origin = ""
        self.after, self.walk, self._talk, self._causes = None, Walk(), Talk(), Why()
        self._presenter = Presenter(self.run, self.units, {}, self._texts, History())
        return self._dressed()

    def _new_seed(self, drill: str, message: Message) -> int:
        """The variation where none is asked for: 0, and in a check one that practice and earlier checks had not."""
        if message.get("seed") is None or message.get("mode") != "check":
            return 0
        return 1 + sum(attempt.drill == drill for attempt in self.attempts)

    def _again(self, message: Message) -> Patch:
        """The run just over once more, in the same variation or the next; in practice also one that cannot pass."""
        if self._given_up:
            self._finish()
        if self.run is None or self.page != "sheet":
            return {}
        fixed = self.run.identity
        seed = fixed.seed + (1 if message.get("value") == "other" else 0)
        kind = {"drill": fixed.drill or "", "plant": fixed.plant, "mode": self.mode, "seed": str(seed)}
        return self._begin(kind)

    @property
    def _given_up(self) -> bool:
        """Whether the coach has said of the run under way that it can no longer pass."""
        coach = self.run.coach if self.run is not None and self.page == "console" else None
        return coach is not None and coach.lost

    def _go(self, _: Message) -> Patch:
        self._briefing = self._reading = False
        if not self._begun:
            self._begun, self.paused = True, False
        return self._presenter.patch() if self._presenter else {}

    def _show_brief(self, _: Message) -> Patch:
        # In a check the clock goes on while it is read again.
        self._reading = self.mode == "check" and self._begun and self.drill is not None
        self._briefing = self.drill is not None and not self._reading
        return self._presenter.patch() if self._presenter else {}

    def _end(self, _: Message) -> Patch:
        """End the run at the second asking: a stray touch must not cost a drill."""
        run = self.run
        if run is None or self._presenter is None:
            return {}
        if self._ending is not None and run.time - self._ending <= ASKED_AGAIN * max(self.pace, 1.0):
            return self._finish()
        self._ending = run.time
        return self._presenter.patch()

    def _pause(self, _: Message) -> Patch:
        # Whoever resumes has read the briefing: it closes, and nothing goes on behind it.
        self._end_skip()
        self.paused = not (self.paused or self._briefing)
        self._briefing, self._reading, self._begun = False, False, True
        return self._presenter.patch() if self._presenter else {}

    def _set_pace(self, message: Message) -> Patch:
        pace = str(message.get("value"))
        if pace in shell.PACES and self._presenter is not None:
            self.pace = float(pace)
            self._presenter.history.pace = self.pace
        return self._presenter.patch() if self._presenter else {}

    def _switch_units(self, _: Message) -> Patch:
        self.units = "metric" if self.units == "field" else "field"
        if self.after is not None:
            self.after.redraw()
        return self.first()

    def _set_theme(self, message: Message) -> Patch:
        self.theme = "dark" if message.get("value") == "dark" else "light"
        return theme_patch(self.theme)

    def _show_card(self, message: Message) -> Patch:
        run, presenter = self.run, self._presenter
        if run is None or presenter is None:
            return {}
        self._card = str(message.get("value") or "")[:LONGEST_NAME]
        if not self._card:
            return presenter.patch()
        markup = self._card_board(run)
        presenter.bind("card", bindings(markup))
        patch = presenter.patch()
        patch["card"] = {"markup": markup, **patch.get("card", {})}
        return patch

    def _card_board(self, run: Session) -> str:
        return self.boards.card(run.machine, self.plant, self._card, self.units, self.mode == "practice")

    def _why_so(self) -> str:
        """In practice, why the pressure of the part is what it is whose card is open."""
        run = self.run
        if run is None or self.mode != "practice":
            return ""
        self._causes.look(run.time, run.machine)
        if not self._card or self._card.startswith(about.BOARD):
            return ""
        if self._desk is None or self._desk.system != self.units or self._desk.signals is not run.machine.signals:
            self._desk = self.boards.desk(run.machine, self.plant, self.units)
        return self._causes.markup(self._desk, self._card, run.time, run.machine)

    def _learn(self, message: Message) -> Patch:
        """Open the page that teaches the parts; only from the first page, so that no run is lost."""
        if self.page == "sheet" and guided.is_guided(self.drill):
            self._leave({})
        if self.page != "chooser":
            return {}
        try:
            today = self.brought.today or EPOCH
            self.learning = learn.opened(self._start, message, self.units, today, self.way())
            self.learning.lesson.tell = teller(self.language)
        except ValueError as error:
            return self._tell(str(error))
        self.page = "learn"
        return self.first()

    def _walk(self, message: Message) -> Patch:
        """Go to a station, where one person works alone."""
        run, view = self.run, str(message.get("value"))
        if (
            run is None
            or self._presenter is None
            or view not in (*dict((*shell.VIEWS, *shell.OF_SOME)), *run.machine.walks)
        ):
            return {}
        if self.page == "replay":
            self.walk.look(view)
        elif self.paused:
            return self._refuse("Paused. Press Resume to walk.")
        elif (refused := self.walk.to(run, view)) is not None:
            return self._refuse(refused)
        return self._presenter.patch()

    def _begin_skip(self, _: Message) -> Patch:
        """Run through the wait that the drill names; a second press stops that."""
        run, presenter = self.run, self._presenter
        if run is None or presenter is None or self.page != "console":
            return {}
        if self._skip is not None:
            self._end_skip()
        elif self.paused or self._briefing:
            return self._refuse("Paused. Press Resume to skip the wait.")
        elif (begun := skip.begun(run)) is None:
            return self._refuse("No wait can be skipped now.")
        else:
            self._skip = begun
            self.skipped(begun)
        return presenter.patch()

    def _on_with_skip(self, elapsed: float) -> None:
        if self._skip is not None and not self._skip.go_on(min(max(elapsed, 0.0), LONGEST_GAP)):
            self._end_skip()

    def _end_skip(self) -> None:
        done, self._skip = self._skip, None
        if done is not None and self.run is not None and done.run is self.run:
            self._noted = f"{debrief.clock(done.start)} to {debrief.clock(self.run.time)} skipped: {done.wait.title}"
            self.skipped(done)

    def gives_way(self) -> str | None:
        """Another run is ready to take the place of the one here, for whoever keeps a record; the sentence why not yet,
        if not."""
        return None

    def skipped(self, wait: Skip) -> None:
        """A wait is skipped from now on, or was: for whoever keeps a record."""

    def _leave(self, _: Message) -> Patch:
        self.units = self.words_in
        self.page = "chooser"
        self.run = self._presenter = self.drill = self.after = self.learning = self._progress = None
        self._status = ""
        return self.first()

    def _finish(self) -> Patch:
        run, presenter = self.run, self._presenter
        if run is None or presenter is None:
            return {}
        self._end_skip()
        self.page = "sheet"
        self._over(run)
        return {**presenter.patch(), **presenter.history.whole(truth=True)}

    def _ask(self, _: Message) -> Patch:
        if self.run is not None and self.run.coach is not None and self.run.coach.ask() is None:
            # What is still open, or comes next, is named beside it.
            self._noted = SAID_ALL if moment.meanwhile(self.run) else "The coach has nothing to add now."
        return self._presenter.patch() if self._presenter else {}

    def _hand_over(self, _: Message) -> Patch:
        if self.run is None:
            return {}
        return {"sheet": {"readings": {"page.evidence": debrief.evidence_file(self.run.evidence())}}}

    def _diagnose(self, message: Message) -> Patch:
        if self._diagnosis is None or self._presenter is None or self.page != "console":
            return {}
        return joined(self._diagnosis.handle(message), self._presenter.patch())

    def _sequence(self, message: Message) -> Patch:
        if self._sequences is None or self._presenter is None or self.page != "console":
            return {}
        self._sequences.handle(message)
        return self._presenter.patch()

    def _report(self, fault: str) -> Patch:
        return self._command({"do": "name", "target": fault, "from": "driller"})

    def _tell(self, status: str) -> Patch:
        self._status = status
        return {"chooser": {"readings": {"page.status": {"text": status}}}}

    # What the page shows

    def _dressed(self) -> Patch:
        """Markup and all readings of every board, for this plant in these units."""
        presenter, run, replayed = self._presenter, self.run, self.page == "replay"
        if presenter is None or run is None:
            return {}
        drawn = self.boards.draw(run.machine, self.plant, self.drill, self.units, replayed or self.mode == "practice")
        if self._card:
            drawn["card"] = self._card_board(run)
        if replayed and self.after is not None:
            drawn["entries"] = self.after.bar()
        self._drawn, helped = drawn, self.mode == "practice" and not replayed
        rig = self.boards.rig(self.plant)
        self.surface = not rig.pods
        base = rig.plant.base if self.drill is not None else ""
        self._rigs = (rig.plant, self.boards.rig(base).plant) if base else None
        presenter.history.happened.strokes = strokes(rig) if helped else {}
        if self._sequences is None or self._sequences.run is not run:
            self._sequences = Sequences(run, rig, helped, self._sequences)
        if self._diagnosis is None or self._diagnosis.run is not run:
            faults = self.boards.faults(run.machine, self.plant)
            self._diagnosis = Diagnosis(run, faults, self._report, teller(self.language))
        presenter.boards = {name: bindings(markup) for name, markup in drawn.items()}
        presenter.use(self.units)
        patch = presenter.first()
        for name, markup in drawn.items():
            # Markup goes first: the readings that follow fill it.
            patch[name] = {"markup": markup, **patch.get(name, {})}
        charted = word_patch(self.language, teller(self.language))
        for change in (
            unit_patch(presenter.history.units()),
            charted,
            theme_patch(self.theme),
            self._diagnosis.first(),
        ):
            for part, values in change.items():
                patch[part] = {**patch.get(part, {}), **values}
        return patch

    def _page_only(self) -> Patch:
        at = {"page.page": {"state": self.page}}
        return {"header": {"markup": shell.header(), "readings": at}}

    def _situation(self) -> str:
        """The situation in the words of this rig."""
        if self.run is None:
            return ""
        text = moment.situation(self.run)
        if self._rigs is None or self.drill is None:
            return text
        return moment.on_own_rig(text, *self._rigs, self.drill, self.units)

    def _sequence_texts(self) -> dict[str, Reading]:
        if self._sequences is None or self._presenter is None:
            return {}
        if self.page == "console":
            self._sequences.look(self._presenter.history.happened)
        return self._sequences.texts(self.units)

    def _event_log(self) -> Markup | str:
        """What the control system keeps of this run, where it keeps any."""
        if self.run is None:
            return ""
        if self.page == "console":
            self._events.look(self.run, self.drill, self.units)
        return self._events.markup()

    def _pointed(self, advice: tuple[str, str] | None) -> Sequence[str]:
        """What the coach's present words are about; a lever that they name stands at the unit."""
        if self.run is None or self.page != "console":
            return ()
        at = moment.points(self.run)
        if at and advice and any(words in said for said in advice for words in LEVERS):
            return (UNIT, *at)
        return at or (self._sequences.points if self._sequences is not None else ())

    def _texts(self) -> dict[str, Reading]:
        run = self.shown
        if run is None:
            return {}
        if self._refused and run.time - self._refused[1] > REFUSAL_SHOWN * max(self.pace, 1.0):
            self._refused = None
        if self._ending is not None and run.time - self._ending > ASKED_AGAIN * max(self.pace, 1.0):
            self._ending = None
        if self._noted != self._noted_then[0]:
            self._noted_then = (self._noted, run.time)
        elif run.time - self._noted_then[1] > REFUSAL_SHOWN * max(self.pace, 1.0):
            self._noted = ""
        news = self._noted and run.time - self._noted_then[1] <= NEWS * max(self.pace, 1.0)
        refused = self._refused[0] if self._refused else ""
        advice = self._talk.look(self.run) if self.run else None
        coach = debrief.coach(advice, self.surface) if self.run else ""
        ending = moment.ending(self.run) if self.run and self.page == "console" else ""
        ordered, told = self._sequence_texts(), moment.told(self.run) if self.run else ""
        if self._sequences is not None and (line := self._sequences.line()):
            # Where nobody speaks, the next step of a sequence does.
            coach, told = coach or (line if told else ""), told or line
        if self.drill is None and self._presenter is not None and self.page == "console":
            told = self._presenter.history.happened.harm.line(run.time) or told
        dark = self._presenter.dark if self._presenter is not None else frozenset()
        said = "refused" if refused else "coach" if coach else "quiet"
        if self.run is not None and self.page == "console" and not coach:
            coach = moment.meanwhile(self.run)
        check = self._ending is not None and self.mode == "check" and not run.finished
        asked = f"End now? The check is then {debrief.NOT_FINISHED}. It is no pass." if check else ""
        return {
            "page.page": {"state": self.page},
            "page.title": {"text": self.drill.title if self.drill else "Free practice"},
            # What the origin means in full stands on the sheet.
            "page.mode": {"text": self.mode + self._origin.partition(": ")[0]},
            "page.clock": {"text": debrief.clock(run.time)},
            "page.pause": {"text": "Resume" if self.paused or self._briefing else "Pause"},
            "page.running": {"state": "off" if self.paused or self._briefing else "on"},
            "page.begin": {"text": "Go on" if self._begun else "Begin"},
            "page.pace": {"text": f"{self.pace:g}"},
            "page.units": {"text": "Metric" if self.units == "field" else "Field"},
            "page.coach": {"html": coach},
            "page.point": pointing.point(self._pointed(advice), self._drawn, dark, advice[0] if advice else ""),
            # Refused twice it is told twice, by the count.
            "page.refusal": {"html": debrief.refusal(refused), "count": self._refusals},
            "page.says": {"state": said},
            "page.told": {"text": told},
            "page.situation": {"html": shell.situation(self._situation(), self.surface) if self.run else ""},
            "page.situated": {"state": "on" if self.drill is not None else "off"},
            "page.lost": {"state": "on" if self._given_up else "off"},
            "page.help": {"state": "on" if run.coach is not None else "off"},
            "page.wait": skip.reading(self._skip, self.run if self.page == "console" else None),
            "page.status": {"text": self._status},
            # What was done stands in the list of messages, too: soon the place is for the run that is about to end.
            "page.noted": {"text": asked or (ending if ending and not news else self._noted)},
            "page.talk": {"html": self._talk.markup()},
            "page.events": {"html": self._event_log()},
            "page.why": {"html": self._why_so()},
            "page.alarms": {"text": moment.alarms(run)},
            "page.stabbing": {"text": moment.stabbing(run)},
            "page.sound": {"state": moment.horn(run)},
            "page.noise": {"state": "" if self.paused or self._briefing else moment.noise(run)},
            "page.brief": {"state": "open" if self._briefing or self._reading else "shut"},
            "page.finish": {"text": "Finish" if self._ending is None else "End now?"},
            "page.card": {"state": "open" if self._card else "shut"},
            **{
                f"page.new.{part}": {"state": "on", "text": f"new {debrief.clock(t)}"}
                for part, t in moment.renewed(run).items()
            },
            **self.walk.texts(run, self.page == "replay"),
            **(self._diagnosis.texts() if self._diagnosis else {}),
            **ordered,
            **self._looking_back(bool(refused)),
        }

    # The run just over, and the attempts before it

    def _over(self, run: Session) -> None:
        """The run is over: its sheet, what can be done with it, and the attempt that it was."""
        sheet = self.scored(run)
        kind = run.identity
        self._kept = None
        if guided.is_guided(self.drill):
            self._led = self._led or bool(sheet.get("passed"))
            self._sheet, self.after = self._led_to(run), None
            return
        origin = f", {self.of_another}" if self.of_another else self._origin
        shown = sheet if self.ended_by_staff else debrief.held_back(sheet, self.mode, debrief.causes(self.drill))
        self._sheet = debrief.sheet(shown, self.drill, self.mode + origin, self.reports, self.about_evidence)
        self.after = After(self, run, lambda mode: self._start(kind.drill, kind.plant, kind.seed, mode), sheet=shown)
        if self.drill is not None and run.time > 0.0 and not self.of_another:
            key = attempts.attempt_id(self.drill.id, kind.seed, run.time, float(sheet.get("score", 0.0)))
            self._kept = attempts.attempt(key, sheet, self.mode, self.drill)
            self.attempts.append(self._kept)

    @property
    def ended_by_staff(self) -> bool:
        """Whether staff ended the run that is over: alone nobody does."""
        return False

    def scored(self, run: Session) -> SheetData:
        """The score sheet of a run that is over, as this seat shows it."""
        return {"simulated_s": run.time, **run.sheet()}

    def _led_to(self, run: Session) -> Markup:
        """The page at the end of a guided run."""
        assert self._presenter is not None
        return guided.over(bool(run.sheet().get("passed")), self._presenter.history.happened, self.units)

    # What the debrief does with this seat

    @property
    def shown(self) -> Session | None:
        """The run that the boards show: the one under way, or the one that is replayed."""
        return (self.after.shown if self.after is not None else None) or self.run

    def show(self, presenter: Presenter) -> Patch:
        """Show a replay on all boards, in place of the run that is over; the patch of the whole page."""
        self._own, self._presenter = self._presenter, presenter
        self._card, self._refused, self.pace = "", None, 1.0
        return self._dressed()

    def back(self) -> Patch:
        """Go from a replay back to the score sheet; the patch of what changes by that."""
        self._presenter, self._card = self._own, ""
        if self._presenter is None:
            return {}
        self._presenter.use(self.units)
        return self._presenter.first()

    def go_on(self, run: Session, history: History, said: str) -> Patch:
        """Practise on from a replay, in a run of its own that stands still at first."""
        self.run, self.mode, self.page, self._origin = run, "practice", "console", f", {said}"
        self.after = None
        self._briefing, self._reading, self._begun, self.paused = False, False, True, True
        self._due, self._ending, self._noted = 0.0, None, "Press Resume to go on from here. This is practice, no check."
        self._presenter = Presenter(run, self.units, {}, self._texts, history)
        return self._dressed()

    def patch(self) -> Patch:
        """What changed on the page since it was last asked; empty where no run is shown."""
        return self._presenter.patch() if self._presenter else {}

    def texts(self) -> dict[str, Reading]:
        """The readings of the page itself, beside those of the plant, in English and field units."""
        return self._texts()

    def summary(self) -> Markup:
        """What was done and what alarmed in the run just over, amounts in the units chosen; empty without one."""
        own = self._own or self._presenter
        return own.history.happened.summary(self.units) if own is not None else Markup("")

    def remarks(self) -> list[tuple[float, str]]:
        """Moments that somebody noted for the debrief, with what was noted."""
        return []

    # Progress over attempts

    def past(self, kept: str) -> list[Attempt]:
        """The attempts before those of this seat, oldest first, from what the browser kept."""
        return attempts.read(kept)

    @property
    def led(self) -> bool:
        """Whether this person has done the first run, here or in this browser before."""
        return self._led or self.brought.first_run

    def crew_section(self) -> Markup | None:
        """The drills for several people; None here, where nobody else is."""
        return None

    def so_far(self) -> list[Attempt]:
        """Every attempt, oldest first, once each: those before and those of this seat."""
        return list({one.id: one for one in (*self.past(self.brought.attempts), *self.attempts)}.values())

    def way(self) -> Path:
        """Where this person stands in the courses, and the one step to do next."""
        return self.brought.way({one.id: one for one in self.drills.values()}, self.so_far(), self.assigned())

    def assigned(self) -> Sequence[Assigned]:
        """The courses that staff assigned to this person; none where no classroom knows them."""
        return ()

    def keeps(self) -> bool:
        """Whether the browser keeps the attempts: True, since nobody else does here."""
        return True

    def _look_back(self, message: Message) -> Patch:
        if self.page not in ("chooser", "sheet"):
            return {}
        before = self.past(str(message.get("kept") or ""))
        drill = self.drill.id if self.drill is not None else ""
        self._progress = Progress([*before, *self.attempts], self.page, drill)
        self.page = "progress"
        return {**self._progress.patch(), **theme_patch(self.theme)}

    def _look_at(self, message: Message) -> Patch:
        if self._progress is None or self.page != "progress":
            return {}
        self._progress.choose(str(message.get("value") or ""))
        return self._progress.patch()

    def _look_up(self, _: Message | None = None) -> Patch:
        """Back to where the page was before."""
        if self._progress is None or self.page != "progress":
            return {}
        self.page, self._progress = self._progress.where, None
        return {"header": {"readings": {"page.page": {"state": self.page}}}}

    def _looking_back(self, refused: bool) -> dict[str, Reading]:
        """The page's texts of this part."""
        out: dict[str, Reading] = {"page.sheet": {"html": self._sheet}}
        if self._progress is not None and self.page == "progress":
            out["page.page"] = {"state": self._progress.where}
        if self._led and self.keeps():
            out["page.first_run"] = {"state": KEPT_FIRST_RUN, "text": "done"}
        if self._kept is not None and self.keeps():
            out["page.attempt"] = {"state": KEPT, "add": self._kept.record(), "most": attempts.MOST}
        if self.after is not None:
            out |= self.after.texts(refused)
        return out
