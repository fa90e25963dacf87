"""What the strip charts remember: chosen signals over the run's time, and the marks of what was done."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any

from trainer import units
from trainer.console.happened import Happened
from trainer.console.reading import Readable
from trainer.console.shell import alarm_name
from trainer.hydraulics.catalogue import POWER, Signal, on_panel_power
from trainer.languages import ENGLISH

#: Columns of the strip charts, in the order they are drawn; a plant without one of them leaves it empty.
TREND_TAGS = (
    "well.flow_in",
    "well.flow_out",
    "well.flow_difference",
    "alarms.flow_difference_limit",
    "well.pit_gain",
    "alarms.pit_gain_limit",
    "well.drillpipe_pressure",
    "well.casing_pressure",
    "test.pressure",
    "accumulator.pressure",
    "manifold_regulator.readback",
    "annular_regulator.readback",
    POWER,
)

#: Steps of an axis that need a decimal, and up to which value it may have them.
TENTHS = (0.1, 0.2, 0.5)
MOST_DECIMALS = 5.0
#: Chart by name: its lines as (tag, legend).
LINES: dict[str, tuple[tuple[str, str], ...]] = {
    "flow": (("well.flow_difference", "Flow out − in"), ("alarms.flow_difference_limit", "Alarm")),
    "pit": (("well.pit_gain", "Pit gain"), ("alarms.pit_gain_limit", "Alarm")),
    "shut_in": (("well.drillpipe_pressure", "Drill pipe"), ("well.casing_pressure", "Casing")),
    "flow_wide": (("well.flow_out", "Flow out"), ("well.flow_in", "Flow in")),
    "pit_wide": (("well.pit_gain", "Pit gain"),),
    "shut_in_wide": (
        ("well.drillpipe_pressure", "Drill pipe"),
        ("well.casing_pressure", "Casing"),
        ("test.pressure", "Test unit"),
    ),
    "supply_wide": (
        ("accumulator.pressure", "Accumulators"),
        ("manifold_regulator.readback", "Manifold read-back"),
        ("annular_regulator.readback", "Annular read-back"),
    ),
    "trace_flow": (
        ("well.flow_out", "Flow out"),
        ("well.flow_in", "Flow in"),
    ),
    "trace_pressure": (
        ("well.drillpipe_pressure", "Drill pipe"),
        ("well.casing_pressure", "Casing"),
        ("accumulator.pressure", "Accumulators"),
    ),
}

#: Charts beside the readings of their lines.
BESIDE = ("flow", "pit", "shut_in")
SAMPLE_SECONDS = 1.0
#: As wide as a line of text on a chart of five minutes.
ROOM_S = 6.0
#: Four hours at one a second: older samples fall off the chart, not out of the evidence.
LONGEST = 14_400


class History:
    """Samples in SI, handed out in the display units as whole columns or as the news since the last call.

    The charts' sources are named ``trend`` (columns ``t`` in seconds and one a tag) and ``events`` (``t``,
    ``label``). ``pace`` is how much faster the run is than the wall clock. A recorder on the panels' supply stands
    while that is lost: its line has a gap (None), until ``whole`` is asked for the truth of a run that is over.
    """

    def __init__(self, tags: Sequence[str] = TREND_TAGS) -> None:
        self.tags = tuple(tags)
        self.pace = 1.0
        self.samples: list[tuple[float, ...]] = []
        self.marks: list[tuple[float, str]] = []
        self.happened = Happened()
        self._scales: list[tuple[str, str] | None] = [None] * len(self.tags)
        self._fed = [False] * len(self.tags)
        self._power = self.tags.index(POWER) + 1 if POWER in self.tags else 0
        self._next = 0.0
        self._sent = 0
        self._marked = 0

    def show_in(self, system: units.System, signals: Mapping[str, Signal]) -> None:
        """Hand out in these units from now on; the columns must then be sent whole."""
        self._scales = [
            (signals[tag].unit, units.display_unit(signals[tag].unit, system)) if tag in signals else None
            for tag in self.tags
        ]
        self._fed = [POWER in signals and tag in signals and on_panel_power(signals[tag]) for tag in self.tags]

    def units(self) -> dict[str, str]:
        """The unit symbol each column is in."""
        return {tag: units.symbol(scale[1]) for tag, scale in zip(self.tags, self._scales, strict=True) if scale}

    def look(self, t: float, machine: Readable) -> None:
        """Take a sample if one is due at ``t`` seconds, and mark alarms that came."""
        for tag in self.happened.look(t, machine):
            self.mark(t, f"Alarm: {alarm_name(tag)}")
        if t < self._next:
            return
        self._next = t + SAMPLE_SECONDS
        values = [machine.read(tag) if scale else 0.0 for tag, scale in zip(self.tags, self._scales, strict=True)]
        self.samples.append((t, *values))

    def resume_at(self, t: float) -> None:
        """Take the next sample at ``t`` seconds: what comes before is kept already."""
        self._next = t

    def mark(self, t: float, label: str) -> None:
        """Note that something was done at ``t`` seconds."""
        self.marks.append((t, label))

    def whole(self, truth: bool = False) -> dict[str, dict[str, object]]:
        """Everything kept, as the ``data`` of both sources; with ``truth`` what recorders without power missed, too."""
        del self.samples[:-LONGEST]
        self._sent, self._marked = len(self.samples), len(self.marks)
        return {
            "trend": {"data": self._columns(self.samples, truth)},
            "events": {"data": self._events(0)},
        }

    def news(self) -> dict[str, dict[str, object]]:
        """What was added since the last call, as the ``stream`` of the sources it belongs to."""
        out: dict[str, dict[str, object]] = {}
        # In a fast run several samples go together: a chart need not be drawn more than once a second.
        if len(self.samples) - self._sent >= max(self.pace, 1.0):
            out["trend"] = {"stream": self._columns(self.samples[self._sent :])}
            self._sent = len(self.samples)
        if len(self.marks) > self._marked:
            out["events"] = {"stream": self._events(self._marked)}
            self._marked = len(self.marks)
        return out

    def _columns(self, samples: Sequence[tuple[float, ...]], truth: bool = False) -> dict[str, list[float | None]]:
        columns: dict[str, list[float | None]] = {"t": [sample[0] for sample in samples]}
        power = self._power
        for at, (tag, scale, fed) in enumerate(zip(self.tags, self._scales, self._fed, strict=True), start=1):
            if scale is None or at == power:
                columns[tag] = [sample[at] for sample in samples]
            elif fed and not truth:
                columns[tag] = [None if s[power] < 0.5 else units.to_unit(s[at], scale[1]) for s in samples]
            else:
                columns[tag] = [units.to_unit(sample[at], scale[1]) for sample in samples]
        return columns

    def _events(self, first: int) -> dict[str, list[Any]]:
        """The marks from number ``first`` on. Of marks close together only one is told in words: they would overlap."""
        told, labels = -ROOM_S, []
        for t, label in self.marks:
            labels.append(label if t - told >= ROOM_S else "")
            told = t if labels[-1] else told
        return {"t": [t for t, _ in self.marks[first:]], "label": labels[first:]}


def word_patch(language: str, tell: Callable[[str], str]) -> dict[str, dict[str, object]]:
    """The names of the charts' lines and the figures on their axes in a language, as a patch.

    The charts' library writes English figures only. Elsewhere the mark that groups thousands is left out, since it
    would read as a decimal mark, and each figure with a decimal is given as the language writes it.
    """
    names: dict[str, dict[str, object]] = {
        f"{name}.name{at}": {"label": {"value": tell(legend)}}
        for name, lines in LINES.items()
        for at, (_, legend) in enumerate(lines)
    }
    english = language == ENGLISH
    figures = {} if english else {value: tell(text) for value, text in _decimals().items()}
    for name in LINES:
        names[f"{name}.numbers"] = {"format": "0,0.[0]" if english else "0.[0]"}
        names[f"{name}.y"] = {"major_label_overrides": figures}
    return names


@cache
def _decimals() -> dict[float, str]:
    """The figures with a decimal that can stand at an axis, by their values as the charts' library works them out."""
    steps = [(count * step, f"{count * step:.1f}") for step in TENTHS for count in range(round(MOST_DECIMALS / step))]
    return {way * value: f"{way * value:.1f}" for value, text in steps if text[-1] != "0" for way in (1, -1)}


def unit_patch(symbols: Mapping[str, str]) -> dict[str, dict[str, object]]:
    """The charts' axis labels for the units now shown, as a patch; the small ones stand beside their readings."""
    return {
        f"{name}.y": {"axis_label": symbols.get(lines[0][0], "")} for name, lines in LINES.items() if name not in BESIDE
    }
