"""The page: boards and charts in their places, patches in, messages out.

The same page is served live and saved as static files: it holds no session, only names. A patch is applied by
``Page.apply`` on the server; in a saved page the bridge script sets the same properties on the same names.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import panel as pn
from bokeh.models import ColumnDataSource

from trainer import resources
from trainer.console.board import Board, style
from trainer.console.boards import STATIONS
from trainer.console.charts import Charts
from trainer.console.diagnosis import ASKED, RULE
from trainer.console.fields import fields
from trainer.console.message import Message
from trainer.console.shell import OF_SOME, VIEWS
from trainer.console.template import Template
from trainer.naming import FURTHER

#: More samples than this are not kept in the browser.
ROLLOVER = 14_400
#: Boards that fill the page, each behind its tab; those of further panels are empty on a rig without them.
PLACES = (*(name for name, _ in (*VIEWS, *OF_SOME) if name != "trends"), *FURTHER)
#: Boards of the page itself, beside the stations.
SHELL = (
    "header",
    "messages",
    "alarms",
    "entries",
    "card",
    "brief",
    "chooser",
    "sheet",
    "learn",
    "progress",
    "walk",
    "diagnosis",
    "sequences",
)


class Page:
    """One page with all its boards and charts, by stable names.

    ``aside`` adds a board called ``room`` in the corner, for what a classroom says beside a run; ``crews`` a crew's
    talk line; ``watching`` a frame and a banner that say that nothing is worked from here.
    """

    def __init__(self, aside: bool = False, watching: bool = False, crews: bool = False) -> None:
        page, station = style("board.css", "shell.css", "debrief.css", "learn.css"), style("board.css")
        own = dict.fromkeys(SHELL, page) | {"picture": style("board.css", "picture.css")}
        own["learn"] = style("board.css", "shell.css", "debrief.css", "picture.css", "learn.css")
        stations = ["watch", "floor_strip", *PLACES]
        self.boards = {
            name: Board(name=name, station=STATIONS.get(name, ""), stylesheets=[own.get(name, station)])
            for name in (*SHELL, *stations)
        }
        if aside:
            self.boards["room"] = Board(name="room", stylesheets=[style("board.css", "shell.css", "room.css")])
        if crews:
            self.boards["crew"] = Board(name="crew", stylesheets=[style("board.css", "shell.css", "crew.css")])
        self.charts = Charts()
        self.template = Template(
            _template(_ASIDE if aside else _WATCHING if watching else "", _CREW if crews else ""), nb_template=""
        )
        for name, board in self.boards.items():
            self.template.add_panel(name, board)
        for name, chart in self.charts.figures.items():
            self.template.add_panel(name, pn.pane.Bokeh(chart, sizing_mode="stretch_both"))
        self.fields = fields()
        for name, field in self.fields.items():
            self.template.add_panel(name, pn.pane.Bokeh(field, sizing_mode="stretch_width"))
        self._parts = self._named_parts()

    def listen(self, hear: Callable[[Message], None]) -> None:
        """Call ``hear`` with every message from any board."""
        for board in self.boards.values():
            board.listen(hear)

    def apply(self, patch: Mapping[str, Mapping[str, Any]]) -> None:
        """Set what a patch says; a name that is not on this page is passed over."""
        for name, change in patch.items():
            board = self.boards.get(name)
            if board is not None:
                # One at a time: the markup must stand before its readings come.
                for prop, value in change.items():
                    setattr(board, prop, value)
                continue
            part = self._parts.get(name)
            if part is None:
                continue
            if "stream" in change:
                part.stream(_gaps(change["stream"]), ROLLOVER)
            elif "data" in change:
                part.data = _gaps(change["data"])
            else:
                part.update(**change)

    def _named_parts(self) -> dict[str, Any]:
        parts: dict[str, Any] = {field.name: field for field in self.fields.values()}
        parts |= {"trend": self.charts.trend, "events": self.charts.events, **self.charts.progress}
        for figure in self.charts.figures.values():
            for model in figure.references():
                if model.name and "." in model.name and not isinstance(model, ColumnDataSource):
                    parts[model.name] = model
        return parts


def _gaps(columns: Mapping[str, Sequence[Any]]) -> dict[str, list[Any]]:
    """Columns of a chart's source: a line has a gap where nothing was recorded."""
    return {name: [math.nan if value is None else value for value in column] for name, column in columns.items()}


def _template(aside: str = "", crew: str = "") -> str:
    css = (resources.assets() / "style" / "page.css").read_text("utf-8")
    views = "\n".join(
        f'<section class="view view-{name} place">{{{{ embed(roots.{name}) }}}}</section>' for name in PLACES
    )
    scripts = resources.assets() / "script"
    sheet = ";\n".join((scripts / name).read_text("utf-8") for name in ("sheet.js", "guide.js", "terms.js", "noise.js"))
    html = _CHART.sub(_chart, _HTML).replace("@CSS@", css).replace("@SHEET@", sheet).replace("@VIEWS@", views)
    return html.replace("@ASKED@", ASKED).replace("@RULE@", RULE).replace("@ASIDE@", aside).replace("@CREW@", crew)


_CHART = re.compile(r"@CHART (\w+): ([^@]+)@")


def _chart(found: re.Match[str]) -> str:
    name, title = found.groups()
    place = f'class="place strip-chart chart-{name}" role="img" aria-label="{title}"'
    return f"<div {place}>{{{{ embed(roots.{name}) }}}}</div>"


_ASIDE = '<aside class="room-place">{{ embed(roots.room) }}</aside>\n'
_CREW = '<div class="crew-place place">{{ embed(roots.crew) }}</div>'
_WATCHING = (
    '<aside class="only-watching" aria-label="Only watching">'
    "<span>Only watching: nothing pressed here reaches the trainee</span></aside>\n"
)

_HTML = """{% extends base %}
{% block title %}Well control panel trainer{% endblock %}
{% block postamble %}
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>@CSS@</style>
<script>
  { const page = document.documentElement.dataset
    page.page = "chooser"
    page.view = "driller"
    page.split = localStorage.getItem("trainer-split") ?? "off"
    page.theme = localStorage.getItem("trainer-theme")
      ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light") }
</script>
<script>@SHEET@</script>
{% endblock %}
{% block contents %}
<p class="waiting" role="status">Opening the trainer. A run that was under way is taken up where it stood.</p>
<noscript><p>The trainer needs JavaScript.</p></noscript>
<main class="choosing place">{{ embed(roots.chooser) }}</main>
<main class="learning place">{{ embed(roots.learn) }}</main>
<main class="looking-back">
  <div class="place">{{ embed(roots.progress) }}</div>
  @CHART progress_plot: Share of the points over the attempts; the table shows the same@
</main>
<main class="console">
  <h1 class="sr">Well control panel trainer</h1>
  <div class="lid">
    <header class="place">{{ embed(roots.header) }}</header>
    <div class="messages-place place">{{ embed(roots.messages) }}</div>
    <div class="watch-row">
      <div class="watch-place place">{{ embed(roots.watch) }}</div>
      @CHART flow: Flow out less flow in, last minutes@
      @CHART pit: Pit gain, last minutes@
      @CHART shut_in: Pressures of the well, last minutes@
    </div>
    @CREW@
  </div>
  <div class="stations">
    @VIEWS@
    <section class="view view-walk place" aria-label="On the way">{{ embed(roots.walk) }}</section>
    <section class="view view-trends" aria-label="Trends and alarms">
      <div class="wide">
        @CHART flow_wide: Flow in and out@
        @CHART pit_wide: Pit gain@
        @CHART shut_in_wide: Shut-in pressures@
        @CHART supply_wide: System pressures@
      </div>
      <div class="place">{{ embed(roots.alarms) }}</div>
    </section>
  </div>
  <div class="foot">
    <div class="strip-place place">{{ embed(roots.floor_strip) }}</div>
    <div class="entries-place place">{{ embed(roots.entries) }}</div>
  </div>
  <div class="brief-place">{{ embed(roots.brief) }}</div>
  <div class="card-place">{{ embed(roots.card) }}</div>
  <div class="sequence-place">{{ embed(roots.sequences) }}</div>
  <section class="diagnosis-place" role="dialog" aria-label="Diagnosis">
    <h2>Diagnosis</h2>
    <p><span>@ASKED@</span> <span>@RULE@</span></p>
    {{ embed(roots.diagnosis_part) }}
    {{ embed(roots.diagnosis_fault) }}
    <div class="place">{{ embed(roots.diagnosis) }}</div>
  </section>
</main>
<main class="score">
  <div class="place">{{ embed(roots.sheet) }}</div>
  <div class="trace">
    @CHART trace_pressure: Pressures over the run@
    @CHART trace_flow: Flow in and out over the run@
  </div>
</main>
@ASIDE@<div class="term-says" role="tooltip" popover="manual"></div>
<p class="offline" role="alert" hidden></p>
{% endblock %}
"""
