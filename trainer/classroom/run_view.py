"""One run as it really is, beside what its instruments tell: two schematics, values of one's choosing, their trends."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from weakref import ref

import panel as pn
from bokeh.models import ColumnDataSource
from bokeh.plotting import figure

from trainer import units
from trainer.classroom.staff_page import WRAPS, Deed, StaffPage, by_words, html, put, row, typed
from trainer.console.bindings import bindings
from trainer.console.board import Board, style
from trainer.console.in_units import in_units
from trainer.console.message import Message
from trainer.console.presenter import Presenter
from trainer.drawing.context import DrawingContext
from trainer.drawing.markup import Markup, el
from trainer.drawing.rig_view import RigView
from trainer.drawing.schematic import schematic
from trainer.plant.names import instrument
from trainer.plant.rig import load_plant
from trainer.simulator import Session

TRUTH, SEEN = "truth", "schematic"
"""The two boards; the console's own name for the second makes it go dark with the panels' power."""
WORDS = {TRUTH: "As it is", SEEN: "As the instruments show it"}
MOST_VALUES = 6
KEPT = 900
"""So many samples a trend keeps: one a second for a quarter of an hour."""
FIRST = ("accumulator.pressure", "manifold_regulator.readback", "well.casing_pressure", "well.flow_out")
#: Units of states and shares: what has no more than a few positions is no trend.
POSITIONS = ("state",)


class RunView:
    """The two schematics of a run. ``pick`` hears which part was pressed on either."""

    def __init__(self, pick: Callable[[str], None]) -> None:
        self._pick = pick
        sheet = style("board.css", "run.css")
        self.boards = {name: Board(name=name, stylesheets=[sheet]) for name in (TRUTH, SEEN)}
        self._presenter: Presenter | None = None
        self._shown: tuple[object, ...] = ()
        for board in self.boards.values():
            board.listen(self._hear)
        self.view = pn.Row(
            *(
                pn.Column(
                    html(el("h2", {}, words)),
                    self.boards[name],
                    styles={"flex": "1 1 520px", "min-width": "0"},
                    sizing_mode="stretch_width",
                )
                for name, words in WORDS.items()
            ),
            styles=WRAPS,
            sizing_mode="stretch_width",
        )

    def _hear(self, message: Message) -> None:
        if isinstance(message, dict) and message.get("page") == "card" and isinstance(message.get("value"), str):
            self._pick(str(message["value"])[:80])

    def show(self, run: Session | None, plant: str, system: units.System) -> None:
        """Show how the run stands now, in these units; nothing without one."""
        if run is None:
            for board in self.boards.values():
                if board.markup:
                    board.markup = ""
            self._presenter, self._shown = None, ()
            return
        if (key := (ref(run), plant, system)) != self._shown:
            self._shown = key
            desk = DrawingContext(RigView(load_plant(plant)[0]), run.machine.signals, system)
            # Two drawings on one page: each says which it is to who hears the page.
            markup = {
                name: schematic(desk, name == TRUTH).replace('aria-label="Schematic"', f'aria-label="{words}"', 1)
                for name, words in WORDS.items()
            }
            self._presenter = Presenter(run, system, {name: bindings(text) for name, text in markup.items()})
            for name, board in self.boards.items():
                board.markup = markup[name]
            patch = self._presenter.first()
        else:
            assert self._presenter is not None
            patch = self._presenter.patch()
        patch = in_units(patch, system)
        for name, board in self.boards.items():
            if news := patch.get(name, {}).get("readings"):
                board.readings = news


class LiveValues:
    """Values of one's choosing with their trends: sampled once a second while the page is open."""

    def __init__(self, page: StaffPage) -> None:
        self._page = page
        self._run: object = lambda: None
        self._tags: dict[str, str] = {}
        self._units: dict[str, str] = {}
        self._system: units.System = "field"
        self.chosen: list[str] = []
        self.sources: dict[str, ColumnDataSource] = {}
        self._values: dict[str, pn.pane.HTML] = {}
        self._sampled, self._beat, self._laid_at = -1.0, 0, 0
        self.add = by_words("Show a value, by words", "Such as: pilot pressure")
        self.rows = pn.Row(styles=WRAPS, sizing_mode="stretch_width")
        self.view = pn.Column(
            html(el("h2", {}, "Values and trends")),
            row(self.add, page.button("Show it", self._add)),
            self.rows,
            sizing_mode="stretch_width",
        )

    def show(self, run: Session | None, system: units.System, beat: int) -> None:
        """Take one sample of each chosen value; ``beat`` counts how often the page has been read."""
        self._beat = beat
        if run is None:
            return
        if self._run is not run.machine or system != self._system:
            self._begin(run, system)
        t, news = run.time / 60.0, {}
        for tag in self.chosen:
            unit = run.machine.signals[tag].unit
            value = run.machine.read(tag)
            text = el("p", {}, el("b", {}, instrument(tag)), " ", units.show(value, unit, system))
            put(self._values[tag], text)
            news[tag] = _in(value, unit, system)
        # Charts that were laid out just now are not in the browser yet: they begin with a later look.
        if t != self._sampled and beat > self._laid_at + 1:
            self._sampled = t
            self._page.later(lambda: self._sample(t, news))

    def _sample(self, t: float, values: Mapping[str, float]) -> None:
        for tag, value in values.items():
            if tag in self.sources:
                self.sources[tag].stream({"t": [t], "v": [value]}, rollover=KEPT)

    def _begin(self, run: Session, system: units.System) -> None:
        """Another run, or other units: what was drawn of the one before does not belong to it."""
        self._run, self._system, self._sampled = run.machine, system, -1.0
        signals = run.machine.signals
        found = {tag: instrument(tag) for tag, signal in signals.items() if signal.unit not in POSITIONS}
        names = list(found.values())
        tags = {name if names.count(name) == 1 else f"{name} ({tag})": tag for tag, name in found.items()}
        if tags != self._tags:
            self._tags = tags
            self.add.param.update(options=sorted(tags), value="")
        self._units = {tag: signals[tag].unit for tag in found}
        kept = [tag for tag in self.chosen if tag in found]
        self.chosen = kept or [tag for tag in FIRST if tag in found]
        self._lay_out()

    def _lay_out(self) -> None:
        self._laid_at = self._beat
        self.sources = {tag: ColumnDataSource({"t": [], "v": []}) for tag in self.chosen}
        self._values = {tag: html(Markup("")) for tag in self.chosen}
        self.rows.objects = [
            pn.Column(
                self._values[tag],
                pn.pane.Bokeh(self._chart(tag), sizing_mode="stretch_width"),
                self._page.button(f"Hide {instrument(tag)}", self._hide(tag)),
                styles={"flex": "1 1 380px", "min-width": "0"},
                sizing_mode="stretch_width",
            )
            for tag in self.chosen
        ]

    def _chart(self, tag: str) -> figure:
        shown = units.display_unit(self._units[tag], self._system)
        chart = figure(
            height=130,
            sizing_mode="stretch_width",
            toolbar_location=None,
            tools="",
            background_fill_color=None,
            border_fill_color=None,
            outline_line_color=None,
            x_axis_label="min",
            y_axis_label=units.symbol(shown),
        )
        chart.line("t", "v", source=self.sources[tag], line_width=2)
        # A ripple must not look like a change.
        chart.y_range.min_interval = 1.0
        for axis in chart.axis:
            axis.update(axis_label_text_color="#777", major_label_text_color="#777")
        return chart

    async def _add(self, _: object) -> str:
        tag = self._tags.get(typed(self.add))
        if tag is None:
            raise ValueError("choose a value by its words first")
        if tag in self.chosen:
            raise ValueError("it is shown already")
        if len(self.chosen) >= MOST_VALUES:
            raise ValueError(f"{MOST_VALUES} values are shown; hide one first")
        self.chosen.append(tag)
        self._lay_out()
        return f"{instrument(tag)}: shown from now on."

    def _hide(self, tag: str) -> Deed:
        async def do(_: object) -> str:
            self.chosen.remove(tag)
            self._lay_out()
            return f"{instrument(tag)}: hidden."

        return do


def _in(value: float, unit: str, system: units.System) -> float:
    """A value in SI in the unit that it is shown in."""
    return units.to_unit(value, units.display_unit(unit, system)) if unit in units.UNITS else value
