"""What one action is worth at other times: the score of the run with it moved by each step of two minutes either way.

A run is computed again for each step, some at each beat, and the scores are drawn as a curve.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.console.debrief import clock
from trainer.console.told import Deed
from trainer.drawing.markup import Markup, el
from trainer.session.replay import Player, Recording, shifted
from trainer.simulator import Session

#: Seconds by which the action is moved.
STEPS = tuple(range(-120, 121, 10))
#: Scans of 100 ms at each beat, some 40 ms of work.
SCANS = 2000
#: The plot in its own units: places of the axes, and what a second and a point take.
LEFT, TOP, WIDE, HIGH = 40.0, 12.0, 440.0, 130.0


@dataclass(frozen=True)
class Score:
    """What the run comes to with the action given so many seconds later."""

    by: int
    score: float
    passed: bool


class Moves:
    """The action at one place in the log, moved earlier and later in steps, and the score that each step brings."""

    def __init__(self, begin: Callable[[], Session], recorded: Recording, deed: Deed, following: bool) -> None:
        self.deed = deed
        self.scores: list[Score] = []
        self._begin, self._recorded, self._following = begin, recorded, following
        self._left = [by for by in STEPS if deed.t + by >= 0.0]
        self._player: Player | None = None

    @property
    def done(self) -> bool:
        """Whether the scores of all steps are computed; then ``work`` does nothing more."""
        return not self._left

    @property
    def share(self) -> float:
        """How many of the steps are computed, as a share of all from 0 to 1."""
        return len(self.scores) / max(len(self.scores) + len(self._left), 1)

    def work(self) -> bool:
        """Compute a slice of the step at hand; True once every step is done."""
        scans = SCANS
        while scans > 0 and self._left:
            by, deed = self._left[0], self.deed
            if self._player is None:
                self._player = Player(
                    self._begin(), shifted(self._recorded, deed.place, by, self._following, deed.also)
                )
            scans -= max(self._player.play(scans), 1)
            if self._player.over:
                sheet = self._player.session.sheet()
                self.scores.append(Score(by, float(sheet["score"]), bool(sheet["passed"])))
                self._player = None
                del self._left[0]
        return self.done


def curve(moves: Moves) -> Markup:
    """The scores over how far the action was moved (s), as a drawing; runs that pass have filled points."""
    points = [(LEFT + WIDE * (one.by - STEPS[0]) / (STEPS[-1] - STEPS[0]), _high(one.score)) for one in moves.scores]
    axis = {"stroke": "currentColor", "stroke-width": 1, "opacity": 0.5}
    word = {"font-size": 12, "fill": "currentColor"}
    marks = [
        el("circle", {"cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": 4, "stroke": "currentColor",
                      "fill": "currentColor" if one.passed else "none"},
           el("title", {}, f"{_when(one.by)}: {one.score:.0f} points, {'passed' if one.passed else 'not passed'}"))
        for one, (x, y) in zip(moves.scores, points, strict=True)
    ]  # fmt: skip
    lines = [
        el("line", {"x1": LEFT, "x2": LEFT + WIDE, "y1": _high(score), "y2": _high(score), **axis})
        for score in (0.0, 50.0, 100.0)
    ]
    scale = [
        el("text", {"x": LEFT - 8, "y": _high(score) + 4, "text-anchor": "end", **word}, f"{score:.0f}")
        for score in (0.0, 50.0, 100.0)
    ]
    times = [
        el("text", {"x": f"{LEFT + WIDE * (by - STEPS[0]) / (STEPS[-1] - STEPS[0]):.1f}", "y": TOP + HIGH + 20,
                    "text-anchor": "middle", **word}, f"{by:+d} s" if by else "as it was")
        for by in (-120, -60, 0, 60, 120)
    ]  # fmt: skip
    best = max(moves.scores, key=lambda one: (one.passed, one.score, -abs(one.by)))
    told = f"Best: {_when(best.by)}, {best.score:.0f} points" + (", passed" if best.passed else ", not passed")
    line = el("polyline", {"points": " ".join(f"{x:.1f},{y:.1f}" for x, y in points), "fill": "none",
                           "stroke": "currentColor", "stroke-width": 2})  # fmt: skip
    box = {"viewBox": f"0 0 {LEFT + WIDE + 30:.0f} {TOP + HIGH + 30:.0f}", "role": "img", "width": "100%"}
    return el(
        "figure",
        {"class": "moves"},
        el("figcaption", {}, f"Score when “{moves.deed.text}” is moved. {told}. Filled points pass."),
        el("svg", {**box, "style": "max-width: 640px", "aria-label": f"Score by time of the action. {told}."},
           *lines, *scale, *times, line, *marks),
    )  # fmt: skip


def _high(score: float) -> float:
    return TOP + HIGH * (1.0 - min(max(score, 0.0), 100.0) / 100.0)


def _when(by: int) -> str:
    return "as it was" if by == 0 else f"{clock(abs(by))} {'later' if by > 0 else 'earlier'}"
