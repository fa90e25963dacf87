"""Strip charts in Bokeh over the two sources that the presenter feeds, ``trend`` and ``events``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bokeh.models import ColumnDataSource, DataRange1d, NumeralTickFormatter, Range1d
from bokeh.plotting import figure

from trainer.console.progress_chart import progress_chart
from trainer.console.trends import LINES, TREND_TAGS

#: Seconds that a strip chart shows; the score sheet's trace shows the whole run.
WINDOW = 300.0
#: Charts with room for the words of what was done.
LABELLED = ("flow_wide", "trace_pressure")
DASHES = ("solid", "dashed", "dotdash", "dotted")


class Charts:
    """All strip charts of one page over shared sources; ``figures`` by name."""

    def __init__(self) -> None:
        self.trend = ColumnDataSource({"t": [], **{tag: [] for tag in TREND_TAGS}}, name="trend")
        self.events = ColumnDataSource({"t": [], "label": []}, name="events")
        # Flows and pressures stand on zero, and a ripple must not look like a kick. Time begins at zero, with room for
        # the first half minute.
        self.ground = ColumnDataSource({"t": [0.0, 30.0], "y": [0.0, 1.0]})
        window = DataRange1d(follow="end", follow_interval=WINDOW, range_padding=0, default_span=WINDOW)
        whole = DataRange1d(range_padding=0, default_span=WINDOW)
        self.figures: dict[str, Any] = {}
        for name, lines in LINES.items():
            self.figures[name] = self._chart(name, lines, whole if name.startswith("trace") else window)
        self.progress = {
            "progress.lines": ColumnDataSource({"xs": [], "ys": [], "width": [], "dash": []}, name="progress.lines"),
            "progress.ends": ColumnDataSource({"x": [], "y": [], "text": []}, name="progress.ends"),
        }
        self.figures["progress_plot"] = progress_chart(*self.progress.values())

    def _chart(self, name: str, lines: Sequence[tuple[str, str]], x_range: Range1d | DataRange1d) -> Any:
        small = not name.endswith("_wide") and not name.startswith("trace")
        chart = figure(
            name=name,
            sizing_mode="stretch_both",
            min_height=40,
            toolbar_location=None,
            x_range=x_range,
            tools="" if small else "xpan,xwheel_zoom,reset",
            background_fill_color=None,
            border_fill_color=None,
            outline_line_color=None,
            min_border=1 if small else 2,
            # Half of the last tick's label stands beyond the axis.
            min_border_right=4 if small else 26,
            lod_threshold=None,
        )
        for at, (tag, legend) in enumerate(lines):
            drawn = chart.line("t", tag, source=self.trend, legend_label=legend, line_width=2, line_dash=DASHES[at])
            drawn.glyph.name = f"{name}.line{at}"
        marks = chart.vspan(x="t", source=self.events, line_width=1, line_dash="dotted")
        marks.glyph.name = f"{name}.marks"
        aside = [marks]
        if name in LABELLED:
            labels = chart.text(
                x="t",
                y=0.0,
                text="label",
                source=self.events,
                angle=1.5708,
                text_font_size="11px",
                text_baseline="bottom",
                x_offset=-2,
                y_offset=-4,
            )
            labels.glyph.name = f"{name}.labels"
            aside.append(labels)
        ground = chart.scatter("t", "y", source=self.ground, alpha=0.0, size=1)
        # The marks are moments of the run: they must not stretch the range of what was measured.
        measured = [drawn for drawn in chart.renderers if drawn not in aside]
        chart.y_range.renderers = measured
        if isinstance(x_range, DataRange1d):
            x_range.renderers = [*(x_range.renderers or []), *measured]
        chart.renderers.sort(key=lambda drawn: drawn is not ground)
        chart.xaxis[0].update(
            name=f"{name}.x",
            formatter=NumeralTickFormatter(format="00:00:00"),
            major_label_text_font_size="11px",
            minor_tick_line_color=None,
        )
        chart.yaxis[0].update(
            name=f"{name}.y",
            major_label_text_font_size="11px",
            minor_tick_line_color=None,
            axis_label_text_font_size="11px",
            axis_label_text_font_style="normal",
            axis_label_standoff=2,
            formatter=NumeralTickFormatter(name=f"{name}.numbers", format="0,0.[0]"),
        )
        chart.yaxis[0].ticker.desired_num_ticks = 3 if small else 5
        # No second stands twice on the axis of a run that has just begun.
        chart.xaxis[0].ticker.update(desired_num_ticks=3 if small else 6, min_interval=1.0)
        chart.xgrid[0].name, chart.ygrid[0].name = f"{name}.xgrid", f"{name}.ygrid"
        chart.legend[0].update(
            name=f"{name}.legend",
            location="top_left",
            orientation="horizontal",
            label_text_font_size="11px",
            background_fill_alpha=0.0,
            border_line_color=None,
            padding=0,
            margin=1,
            spacing=8,
            glyph_width=16,
            label_standoff=3,
        )
        for at, item in enumerate(chart.legend[0].items):
            item.name = f"{name}.name{at}"
        # Beside the plot, so that it never hides a line.
        chart.add_layout(chart.legend[0], "above")
        if small:
            # The readings beside it carry the names and pieces of the lines; it shows the last five minutes.
            chart.legend[0].visible = chart.xaxis[0].visible = False
        return chart
