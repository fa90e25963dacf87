"""Colours of the strip charts: a canvas takes none from a style sheet, so a theme is a patch like any other."""

from __future__ import annotations

from trainer.console.trends import LINES as CHARTS

#: Lines are told apart by dash and legend too; each colour has 3:1 against its ground.
INK = {"light": "#182029", "dark": "#eef2f5"}
GRID = {"light": "#c8cfd5", "dark": "#414b56"}
LINE_COLOURS = {
    "light": ("#14688a", "#8a4b00", "#5d3f8f", "#47525e"),
    "dark": ("#5cc3e6", "#f0b34a", "#c3a6ff", "#b4bfca"),
}
MARKS = {"light": "#47525e", "dark": "#b4bfca"}


def theme_patch(theme: str) -> dict[str, dict[str, object]]:
    """What to set on the charts' parts for the theme ``"light"`` or ``"dark"``."""
    theme = "dark" if theme == "dark" else "light"
    ink, grid = INK[theme], GRID[theme]
    patch: dict[str, dict[str, object]] = {}
    for chart, lines in {**CHARTS, "progress": ("shares",)}.items():
        for axis in ("x", "y"):
            patch[f"{chart}.{axis}"] = {
                "major_label_text_color": ink,
                "axis_label_text_color": ink,
                "axis_line_color": ink,
                "major_tick_line_color": ink,
            }
            patch[f"{chart}.{axis}grid"] = {"grid_line_color": grid}
        if chart in CHARTS:
            patch[f"{chart}.legend"] = {"label_text_color": ink}
        patch[f"{chart}.marks"] = {"line_color": MARKS[theme]}
        patch[f"{chart}.labels"] = {"text_color": ink}
        for at in range(len(lines)):
            patch[f"{chart}.line{at}"] = {"line_color": LINE_COLOURS[theme][at]}
    return patch
