"""Hook heights at which a ram, or the whole stack, is clear of tool joints, and those to hang off at.

Tool joints come round at the length of a joint, so what is clear follows from the heights of the rams alone, worked out
once at load; at run time it only has to be laid beside the hook. What heave moves the string is kept clear on
both sides.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.plant.base import reading
from trainer.plant.functions import RAMS, Function
from trainer.units import Length, from_unit

HANG_WITHIN = from_unit(5.0, "ft")
"""To hang off, a joint stands this near above the ram: a short way of pipe to slide through it. Common practice."""

Span = tuple[float, float]


def clear_spans(rams: Iterable[Function], length: float, tool_joint: float, heave: float = 0.0) -> list[Span]:
    """Heights (m) of the nearest joint above the upper pipe ram, in 0 to twice ``length``, with no joint in a ram.

    A span that runs over the end of a joint is given once, from its lower end on. Empty when none is clear.
    """
    blocked = []
    for ram in rams:
        reach = 0.5 * (tool_joint + ram.block_height) + heave
        middle = -ram.below % length
        blocked += [(middle + k * length - reach, middle + k * length + reach) for k in (-1, 0, 1, 2)]
    spans, at = [], 0.0
    for low, high in sorted(blocked):
        if low > at and at > 0.0:
            spans.append((at, low))
        at = max(at, high)
    return [(low, high) for low, high in spans if low < length]


def widest(spans: Sequence[Span]) -> Span:
    """The widest of several spans of hook height, each (lower, upper) in m; (0, 0) when there is none."""
    best = (0.0, 0.0)
    for span in spans:
        if span[1] - span[0] > best[1] - best[0]:
            best = span
    return best


def hang_span(rams: Sequence[Function], ram: Function, length: float, tool_joint: float, heave: float) -> Span:
    """Where a joint stands close above ``ram`` and in no other: heights as in ``clear_spans``; (0, 0) when nowhere."""
    low = -ram.below % length + 0.5 * (tool_joint + ram.block_height) + heave
    high = low - 0.5 * (tool_joint + ram.block_height) - heave + HANG_WITHIN
    found = [
        (max(a, low), min(b, high))
        for a, b in clear_spans(rams, length, tool_joint, heave)
        for a, b in ((a, b), (a + length, b + length))
        if max(a, low) < min(b, high)
    ]
    return widest(found)


def build_windows(
    net: Network, functions: Sequence[Function], length: float, tool_joint: float, heave: float, top: float
) -> None:
    """Add the windows as hook heights; ``top`` is the hook's highest place, m."""
    rams = [f for f in functions if f.kind in RAMS]
    bearing = next((f for f in rams if f.bears > 0.0), None)
    spans = {"stack.clear": widest(clear_spans(rams, length, tool_joint, heave))}
    words = {"stack.clear": "no ram has a joint in it"}
    if bearing is not None:
        spans["stack.hang"] = hang_span(rams, bearing, length, tool_joint, heave)
        words["stack.hang"] = f"a joint stands close above the {bearing.name.lower()} and in no ram"
    for ram in rams:
        spans[f"{ram.id}.safe"] = widest(clear_spans([ram], length, tool_joint, heave))
        words[f"{ram.id}.safe"] = f"the {ram.name.lower()} has no joint in it"
    for name, (low, high) in spans.items():
        ends = f"{name}_low", f"{name}_high"
        for end, which in zip(ends, ("Lowest", "Highest"), strict=True):
            reading(net, end, "ft", -50, 200, f"{which} hook at which {words[name]}, within reach.", ())
        if high > low:
            net.block(
                beside,
                inputs=dict(
                    hook="floor.hook",
                    slack="floor.slack",
                    height="floor.tool_joint",
                    low=low,
                    width=high - low,
                    length=length,
                    top=top,
                ),
                outputs=dict(lowest=ends[0], highest=ends[1]),
                rate="observe",
                gate="pipe.stirs",
            )


@gives("lowest", "highest")
def beside(
    hook: Length, slack: Length, height: Length, low: Length, width: Length, length: Length, top: Length
) -> tuple[Length, Length]:
    """The span that begins at ``low`` and is ``width`` wide, as hook heights: the next one at or above the hook that
    ends below ``top``, all m. ``height`` is that of the nearest joint above the upper pipe ram.
    """
    first = hook + slack + low - height
    lower = first - length if first - length + width >= hook else first
    upper = lower if lower + width >= hook else lower + length
    reached = upper - length if upper + min(width, 0.5 * length) > top else upper
    begin = reached - length if reached > top else reached
    return max(begin, 0.0), min(begin + width, top)
