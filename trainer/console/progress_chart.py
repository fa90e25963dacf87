"""The plot of progress: a line a learning point over the attempts, numbered like the rows of the table."""

from __future__ import annotations

from bokeh.models import ColumnDataSource, DataRange1d, FixedTicker, Range1d
from bokeh.plotting import figure

#: Attempts are whole numbers; a plot of more than this many shows every tenth.
TICKS = [*range(1, 21), *range(30, 201, 10)]


def progress_chart(lines: ColumnDataSource, ends: ColumnDataSource) -> object:
    """The plot over its two sources (``Progress.lines`` and ``Progress.ends``)."""
    chart = figure(
        name="progress",
        sizing_mode="stretch_both",
        min_height=200,
        toolbar_location=None,
        tools="",
        x_range=DataRange1d(range_padding=0.06, default_span=2.0),
        y_range=Range1d(-4.0, 108.0),
        background_fill_color=None,
        border_fill_color=None,
        outline_line_color=None,
        min_border=4,
    )
    drawn = chart.multi_line("xs", "ys", source=lines, line_width="width", line_dash="dash")
    drawn.glyph.name = "progress.line0"
    words = chart.text(
        "x",
        "y",
        "text",
        source=ends,
        x_offset=-8,
        y_offset=-6,
        text_align="right",
        text_baseline="bottom",
        text_font_size="12px",
        text_font_style="bold",
    )
    words.glyph.name = "progress.labels"
    dots = chart.scatter("x", "y", source=ends, size=8)
    dots.glyph.name = "progress.marks"
    chart.x_range.renderers = [drawn]
    chart.xaxis[0].update(
        name="progress.x", axis_label="Attempt", ticker=FixedTicker(ticks=TICKS), minor_tick_line_color=None
    )
    chart.yaxis[0].update(name="progress.y", axis_label="% of the points", minor_tick_line_color=None)
    for axis in (chart.xaxis[0], chart.yaxis[0]):
        axis.update(axis_label_text_font_style="normal", major_label_text_font_size="11px")
    chart.xgrid[0].name, chart.ygrid[0].name = "progress.xgrid", "progress.ygrid"
    return chart
