"""What each kind of part looks like: one entry a kind, its drawing about its own origin and the room that it takes.

Our own drawing from what such parts are for: proportions in centimeters, small fittings drawn large so that a hand
finds them. A drawing that shows a state takes it from the class of the group around it, or binds the reading itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import cos, radians, sin
from typing import Any, Final

from trainer.drawing.markup import Markup, el, join
from trainer.drawing.picture.ink import Box, box, dial, dot, handle, move, path, sketch, spots, turned
from trainer.plant.attachments import KINDS

Facts = Mapping[str, Any]
Draw = Callable[[Facts], Markup]


@dataclass(frozen=True, slots=True)
class Silhouette:
    """How a kind is drawn, and the box that it fills about its origin."""

    draw: Draw
    room: Callable[[Facts], Box]


#: Every kind of part that the picture knows.
SILHOUETTES: Final[dict[str, Silhouette]] = {}


def kind(name: str, room: Box | Callable[[Facts], Box]) -> Callable[[Draw], Draw]:
    """Enter a drawing for the kind ``name`` with the room that it takes, fixed or by its facts; a decorator."""

    def enter(draw: Draw) -> Draw:
        SILHOUETTES[name] = Silhouette(draw, room if callable(room) else lambda _: room)
        return draw

    return enter


def still(name: str, room: Box, words: str) -> None:
    """Enter a kind that looks the same in every state: its room, and its drawing in the words of ``sketch``."""
    kind(name, room)(lambda _: sketch(words))


# Fittings in a pipe, the pipe along x

_FITTING: Final = Box(-13, -13, 13, 13)


@kind("ball_valve", _FITTING)
def _ball_valve(facts: Facts) -> Markup:
    return join(
        sketch("brassh -8 -6 16 12 4; steelh -11 -7 4 14; steelh 7 -7 4 14"),
        el("g", {"class": "turn-of"}, sketch("arm M0 0H15; grip 13 0 3.4"), dot(0, 0, 3, "grip")),
    )


@kind("gate_valve", Box(-13, -40, 13, 9))
def _gate_valve(facts: Facts) -> Markup:
    return join(
        sketch("steelh -13 -8 4 16; steelh 9 -8 4 16; brassh M-9 -6H9V6H-9Z; brass M-7 -6L-5 -17H5L7 -6Z"),
        el("g", {"class": "rise-of"}, sketch("steel -1.5 -30 3 18 0; grip -12 -33 24 4.5 2")),
    )


still(
    "check_valve",
    Box(-11, -10, 11, 10),
    (
        "steelh -10 -7 4 14; steelh 6 -7 4 14; brassh M-6 -5L-4 -7H4L6 -5V5L4 7H-4L-6 5Z; line "
        "M-4 0H4M1.5 -2.5L4 0L1.5 2.5"
    ),
)
still(
    "strainer",
    Box(-14, -9, 15, 18),
    (
        "brass M0 3L6 -1L15 9L9 14Z; brassh M8 14L15 7L18 10L11 17Z; steelh -14 -7 4 14; steelh 10 -7 4 14; "
        "brassh M-10 -5H10V5H-10Z; line M-5 0H5M2 -2.5L5 0L2 2.5"
    ),
)


@kind("lock", Box(-12, -12, 12, 12))
def _lock(facts: Facts) -> Markup:
    """A hasp; while a lock hangs on it, padlock and tag."""
    hung = sketch(
        "line M-5 -3V-7Q-5 -11 -1 -11Q3 -11 3 -7V-3; brass -8 -3 14 11 2; dark -1 2 1.6; paper M4 2L10 0L12 11L6 12Z"
    )
    return join(
        sketch("plate -11 -11 22 23 2; dark -11 -12 22 3 1; empty-line M-5 -3V-9H3V-3M-8 -3H6V8H-8Z"),
        el("g", {"class": "lock-of"}, hung),
    )


@kind("relief", Box(-13, -44, 13, 8))
def _relief(facts: Facts) -> Markup:
    """A relief valve; while it passes, drops and a mist at its outlet."""
    body = sketch(
        "steelh -7 -6 14 6; brass -14 -18 10 9; brass M-7 -6V-20H7V-6Z; steel M-6 -20L-5 -35H5L6 -20Z; "
        "thin M-5 -23L5 -25M-5 -27L5 -29M-5 -31L5 -33; dark -3 -40 6 5; steel -1.5 -43 3 3 0"
    )
    return join(
        body,
        el(
            "g",
            {"class": "weep"},
            path("M-15 -16h-5M-15 -13l-5 2M-15 -10l-4 5", "spray"),
            path("M-12 -6v3M-12 0v4", "drops"),
        ),
    )


still(
    "water_regulator",
    Box(-13, -33, 13, 13),
    (
        "steelh -13 -7 4 14; steelh 9 -7 4 14; brassh M-9 -6H9V6L5 12H-5L-9 6Z; mach M-12 -9A12 11 0 0 1 12 -9Z; "
        "steelh -13 -10 26 4; steel -3 -28 6 9; grip -6 -32 12 4"
    ),
)
still(
    "air_valve",
    Box(-18, -38, 18, 8),
    (
        "steelh -13 -7 4 14; steelh 9 -7 4 14; brassh M-9 -6H9V6H-9Z; steel -3 -15 6 9; mach "
        "M-17 -19Q-17 -32 0 -32Q17 -32 17 -19Z; "
        "mach M-17 -19Q-12 -13 0 -13Q12 -13 17 -19Z; steelh -18 -21 36 3.5; wire M0 -32V-37H15V-30"
    ),
)
still(
    "rate_valve",
    Box(-13, -25, 13, 9),
    ("brassh -11 -6 22 12 3; steel -3 -14 6 8; dark -8 -24 16 10 2; thin M-4 -23V-15M0 -23V-15M4 -23V-15"),
)


@kind("flow_indicator", Box(-19, -15, 19, 15))
def _flow_indicator(facts: Facts) -> Markup:
    blades = "".join(f"M0 0L{8 * cos(radians(a)):.1f} {8 * sin(radians(a)):.1f}" for a in range(20, 380, 60))
    return join(
        sketch("steelh -19 -7 5 14; steelh 14 -7 5 14; brass 0 0 14; glass 0 0 9.5"),
        el("g", {"class": "spin-of", "data-flow": facts.get("flow")}, path(blades, "line")),
        spots((-8.5, -8.5), (8.5, -8.5), (-8.5, 8.5), (8.5, 8.5), (0, 0)),
    )


# Tanks


def _tank_room(facts: Facts) -> Box:
    return Box(-3, -facts["tall"] - 12, facts["wide"] + 3, 0)


@kind("tank", _tank_room)
def _tank(facts: Facts) -> Markup:
    w, h = facts["wide"], facts["tall"]
    glass, top, deep = w - 20, -h + 16, h - 34
    ribs = "".join(f"M{x:g} {-h + 5:g}V-5" for x in (12, w * (0.5 if w < 100 else 0.72)))
    marks = "".join(f"M{glass - 6:g} {top + deep * n / 4:g}h4" for n in range(1, 4))
    fluid = {"class": "fluid", "x": glass - 0.4, "y": -18, "width": 6.8, "height": 0}
    return join(
        sketch(f"steelh {w * 0.62:g} {-h - 7:g} 40 7 2; dark {w * 0.62 + 14:g} {-h - 11:g} 12 4") if w > 100 else None,
        sketch(f"steel 0 {-h:g} {w:g} {h:g} 3; steelh -3 {-h:g} {w + 6:g} 6 2"),
        path(ribs, "thin"),
        path(marks, "line"),
        sketch(
            f"brass {glass - 4:g} {top - 6:g} 14 7; brass {glass - 4:g} {top + deep - 1:g} 14 7; "
            f"glass {glass - 1:g} {top:g} 8 {deep:g} 0"
        ),
        el("rect", {**fluid, "data-fill": facts.get("level"), "data-full": deep, "data-bottom": top + deep}),
    )


@kind("float_switch", Box(-9, -16, 41, 10))
def _float_switch(facts: Facts) -> Markup:
    return join(
        sketch("dark -4 -9 12 18 3; line M2 -9V-15H-8; steel 16 0 8"),
        spots((16, -5.5), (16, 5.5), (11, 0), (21, 0)),
        el(
            "g",
            {"class": "float-of"},
            path("M16 0L31 -1", "hidden-line"),
            el("ellipse", {"class": "hidden-line", "cx": 35, "cy": -1, "rx": 5, "ry": 4}),
        ),
    )


still(
    "dosing_pump",
    Box(-14, -37, 20, 0),
    (
        "dark -12 -3 24 3 0; steel -4 -15 8 12; steelh -7 -18 14 4; wire M-5 -15V-18M5 -15V-18; "
        "mach -11 -34 22 16 3; "
        "dark -13 -36 26 3; dark -13 -20 26 3; brass 11 -30 7 5"
    ),
)

# Pumps


@kind("triplex_pump", Box(-5, -112, 156, 0))
def _triplex(facts: Facts) -> Markup:
    caps = "; ".join(f"steel {x} -72 12 8 2; dark {x + 2} -75 8 3 0" for x in (6, 25, 44))
    glands = "; ".join(f"steelh {x} -48 7.5; line M{x - 4} -48l2 -3.5h4l2 3.5l-2 3.5h-4z" for x in (12, 31, 50))
    guard = "".join(f"M70 {y}H82" for y in range(-94, -40, 7))
    fins = "".join(f"M94 {y}H132" for y in range(-76, -38, 5))
    return join(
        sketch(
            "steelh 0 -30 150 5; dark 8 -25 10 25 0; dark 132 -25 10 25 0; mach M3 -64V-96Q3 -104 11 "
            "-104H51Q59 -104 59 -96V-64Z; "
            "flat 10 -98 30 20; glass 50 -88 4.5; line M46 -88H54; dark 26 -110 10 6 2; steel 0 -66 "
            f"62 36 2; {caps}; {glands}; "
            "steelh -4 -63 6 10; steelh -4 -47 6 10; brass M66 -30V-98Q66 -108 74 -108H78Q86 -108 86 -98V-30Z; "
            f"thin {guard}; steelh 86 -60 6 6 0; machh 90 -81 46 46 4; thin {fins}; dark 136 -80 11 "
            "44 4; mach 100 -92 22 12 2; "
            "dark 96 -35 10 5 0; dark 120 -35 10 5 0"
        ),
        spots((13, -95), (37, -95), (13, -81), (37, -81)),
        path("M150 -74A24 24 0 0 1 150 -42M147 -46L149.5 -41.5L154 -44", "turning"),
    )


@kind("motor", Box(-27, -27, 27, 20))
def _motor(facts: Facts) -> Markup:
    """The motor on a pump's frame, where a hand feels whether it is hot; hot air rises from it."""
    waves = path("M-16 -19q4 -3 0 -6M-4 -19q4 -3 0 -6M8 -19q4 -3 0 -6M18 -15q4 -3 0 -6", "heat")
    return el("g", {"class": "heat-of"}, waves)


@kind("air_pump", Box(-27, -116, 32, 0))
def _air_pump(facts: Facts) -> Markup:
    return join(
        sketch(
            "dark -16 -4 32 4 0; steel -6 -58 12 54 2; steelh -9 -12 18 8; steelh -9 -60 18 7; wire "
            "M-8 -60L-14 -76M8 -60L14 -76"
        ),
        el("g", {"class": "stroking"}, sketch("pale -2 -76 4 16 0")),
        sketch(
            "mach -19 -108 38 30 2; line M-14 -76V-110M0 -76V-110M14 -76V-110; steelh -22 -112 44 6; "
            "steelh -22 -79 44 6; "
            "dark -25 -101 6 10 2; brass 19 -100 5 7"
        ),
        path("M-9 -84V-103M-12 -99.5L-9 -103.5L-6 -99.5M9 -103V-84M6 -87.5L9 -83.5L12 -87.5", "turning"),
        path("M26 -97h5M26 -100l4 -3M26 -94l4 3", "exhaust"),
    )


@kind("starter", Box(-42, -68, 42, 0))
def _starter(facts: Facts) -> Markup:
    """A cabinet with a lamp that is lit while its motor runs, and a selector with its positions round the knob."""
    places = facts.get("positions", ("off", "auto", "manual"))
    words = [
        el("text", {"class": "near on-plate", "x": 27 * n - 27, "y": -7}, word)
        for n, word in zip(range(3), facts["words"], strict=False)
    ]
    rest = "; ".join(
        f"spot {10 * sin(radians(a)):.1f} {-28 - 10 * cos(radians(a)):.1f} 1.3" for a in (-45, 0, 45)[: len(places)]
    )
    lamp = el("circle", {"class": "lamp-of", "cx": -26, "cy": -54, "r": 4.6, "data-state": facts.get("lit")})
    return join(
        sketch(f"flat -42 -68 84 68 2; pale -39 -65 78 62 1; paper 0 -28 9; {rest}; dark 33 -30 3 12"),
        lamp if facts.get("lit") else None,
        move(0, -28, el("g", {"class": "knob-of"}, sketch("grip -2 -9 4 14 1"))),
        words,
    )


@kind("air_set", Box(-21, -32, 31, 34))
def _air_set(facts: Facts) -> Markup:
    bowls = "; ".join(
        f"mach {x - 8} -6 16 11 2; glass M{x - 6} 5H{x + 6}V22Q{x + 6} 28 {x} 28Q{x - 6} 28 {x - 6} "
        f"22Z; brass {x - 1.5} 28 3 4"
        for x in (-10, 12)
    )
    return join(
        sketch(
            f"{bowls}; thin M-15 14H-5M-15 18H-5M-15 22H-5; brass M6.6 14H17.4V22Q17 27.4 12 27.4Q7 "
            "27.4 6.6 22Z; steel 10.5 -9 3 4 0; dark 22 -13 8 20 2"
        ),
        move(12, -20, dial(11, facts.get("gauge"), facts.get("band"))),
    )


still(
    "air",
    Box(-32, -124, 32, 0),
    (
        "dark -24 -8 8 8 0; dark 16 -8 8 8 0; mach M-28 -24Q-28 -8 0 -8Q28 -8 28 -24V-98Q28 "
        "-114 0 -114Q-28 -114 -28 -98Z; "
        "thin M-28 -24H28M-28 -98H28; steelh -5 -122 10 9; pale -16 -72 32 20 1; brass -3 -8 6 6 1"
    ),
)

# Filters


@kind("filter", Box(-22, -32, 22, 72))
def _filter(facts: Facts) -> Markup:
    return join(
        sketch(
            "steelh -19 -11 38 22 3; steelh -15 11 30 6 0; mach M-13 17H13V60Q13 68 0 68Q-13 68 -13 "
            "60Z; brass -3 67 6 5; "
            "thin M-7 25V58M0 25V60M7 25V58; steel -3 -14 6 4 0"
        ),
        move(0, -22, dial(10, facts.get("gauge"), facts.get("band"))),
        figure(0, 0, facts.get("gauge"), "Pressure drop"),
        _tag(facts.get("new")),
    )


def _tag(key: str | None) -> Markup | None:
    """The tag that whoever changed the element hung on the housing, with the time."""
    if key is None:
        return None
    text = el("text", {"class": "near figure", "x": 0, "y": 44.6, "data-text": key}, "")
    return el("g", {"class": "new-tag", "data-state": key}, box(-16, 37, 32, 11, "paper", 1), text)


# Accumulators


def _rack_room(facts: Facts) -> Box:
    return Box(-2, -facts.get("tall", 186.0) - 14, 23 * facts["across"] + 5, 6)


@kind("bank", _rack_room)
def _rack(facts: Facts) -> Markup:
    h, n = facts.get("tall", 186.0), facts["across"]
    bottle = join(
        path(
            f"M-10.5 -18V{30 - h:g}Q-10.5 {16 - h:g} -4 {14 - h:g}H4Q10.5 {16 - h:g} 10.5 {30 - h:g}V-18Q10.5 "
            "-9 0 -8Q-10.5 -9 -10.5 -18Z",
            "bot",
        ),
        path(f"M-5 {14 - h:g}V{5 - h:g}Q-5 {-h:g} 0 {-h:g}Q5 {-h:g} 5 {5 - h:g}V{14 - h:g}Z", "steel"),
        sketch("stub -2.5 -3 5 8 0; brass -4 -9 8 7"),
    )
    behind = (
        "".join(f"M{23 * i + 18.5:g} {20 - h:g}v-12q0 -4 5 -4t5 4v12z" for i in range(n - 1))
        if facts.get("deep", 1) > 1
        else ""
    )
    rails = join(
        join(
            box(-2, y, 23 * n + 5, 5, "steelh", 0),
            spots(*((23 * i + 23.5, y + 2.5) for i in range(n - 1))) if n > 1 else None,
        )
        for y in (48 - h, -44)
    )
    return join(path(behind, "back") if behind else None, [move(12 + 23 * i, 0, bottle) for i in range(n)], rails)


still(
    "charging_set",
    Box(-13, -15, 13, 13),
    (
        "flat -13 -6 26 19 2; pale -10 -3 20 13 1; steel 0 -6 8; paper 0 -6 6; line M0 -6L3 -10; "
        "brass -2 10 4 3; wire M-8 3H8"
    ),
)


def _gauge_room(facts: Facts) -> Box:
    return Box(-facts["r"] - 1, -facts["r"] - 1, facts["r"] + 1, facts["r"] + 5)


@kind("gauge", _gauge_room)
def _gauge(facts: Facts) -> Markup:
    r = facts["r"]
    return join(box(-2, r - 1, 4, 6, "brass", 0), dial(r, facts.get("gauge"), facts.get("band")))


# The manifold


@kind("lever", Box(-24, -52, 24, 8))
def _lever(facts: Facts) -> Markup:
    """A four-way valve's plate: open at the left, block on top, close at the right, each with a shape of its own."""
    cover = None
    if facts.get("critical"):
        cover = el(
            "g",
            {"class": "cover-of"},
            sketch(
                "cover -23 -50 46 55 3; cover-line M-23 -40L-13 -50M-23 -22L5 -50M-23 -4L23 -50"
                "M-13 5L23 -31M5 5L23 -13; grip -7 -1 14 4 2"
            ),
        )
    return join(
        sketch("plate -23 -51 46 58 3; steel 0 -8 8.5"),
        sketch("at-open -15.5 -29 4.4; at-block M0 -47.5l5 5l-5 5l-5 -5z; at-close 11.5 -33 8.4 8.4 0"),
        move(0, -8, handle(21.0)),
        cover,
        sketch("dark -23 -52 46 3 1") if cover else None,
    )


@kind("regulator", Box(-38, -74, 38, 24))
def _regulator(facts: Facts) -> Markup:
    """A regulator with two dials, pilot and read-back, a knob to lower and raise, and who sets it below."""
    places = facts.get("words", ())
    words = [el("text", {"class": "near on-plate", "x": 28 * n - 14, "y": 19}, word) for n, word in enumerate(places)]
    dials = [(-16, "pilot")] * bool(facts.get("pilot")) + [(16, "read-back")]
    return join(
        sketch(
            "wire M-14 -36L-18 -20M14 -36L18 -20; brassh -30 -20 60 13 2; mach M-15 -22Q-14 -38 0 "
            "-38Q14 -38 15 -22Z; steelh -17 -23 34 5; "
            "grip -27 -14 11; grip 27 -14 11; mark-down M-31.5 -16H-22.5L-27 -10Z; mark-up M22.5 "
            "-11.5H31.5L27 -17.5Z"
        ),
        move(-16, -51, dial(14, facts.get("pilot"))),
        move(16, -51, dial(14, facts.get("readback"), facts.get("band"))),
        [el("text", {"class": "near dial-word", "x": x, "y": -67.5}, word) for x, word in dials],
        figure(-19, -32, facts.get("pilot"), "Pilot"),
        figure(19, -32, facts.get("readback"), "Read-back"),
        sketch("pale -28 1 56 22 2; thin M0 1V23") if places else None,
        el("g", {"class": "side-of", "data-state": facts.get("authority")}, box(-27, 2, 26, 6, "grip", 1))
        if places
        else None,
        words,
    )


@kind("totaliser", Box(-42, -52, 42, 10))
def _totaliser(facts: Facts) -> Markup:
    return join(
        sketch(
            "steelh -42 -9 5 18; steelh 37 -9 5 18; brassh -37 -6 74 12 5; steel -5 -14 10 9; mach "
            "-42 -52 84 38 4; paper -37 -47 74 16 1; grip 0 -22 6"
        ),
        el("text", {"class": "near digits", "x": 0, "y": -34.5}, live_text(facts["count"])),
    )


def figure(x: float, y: float, tag: str | None, name: str) -> Markup | None:
    """What a dial without a label of its own shows, as a figure on a small plate about (x, y); nothing without tag.

    Its ``name`` shows while the pointer is on it.
    """
    if tag is None:
        return None
    text = el("text", {"class": "near figure", "x": x, "y": y + 2.6}, live_text(tag))
    return el("g", {}, el("title", {}, name), box(x - 18.7, y - 4.5, 37.4, 9, "paper", 1), text)


def live_text(tag: str) -> Markup:
    """A live number inside a text of the drawing; it shows a dash until the first reading comes."""
    return el("tspan", {"data-text": tag}, "–")


@kind("pod_selector", Box(-48, -42, 48, 12))
def _pod_selector(facts: Facts) -> Markup:
    pods: tuple[str, ...] = facts["positions"]
    span = 136.0 / len(pods)
    drawn = []
    for n, pod in enumerate(pods):
        a, b = -68.0 + span * n, -68.0 + span * (n + 1)
        css = f"sector sector-{pod}"
        drawn.append(path(f"M0 0L{turned(34, a)}A34 34 0 0 1 {turned(34, b)}Z", css))
    return join(sketch("brassh -44 -8 88 16 5"), drawn, dot(0, 0, 9, "steel"), handle(28.0, "pod-of"))


def _alarms_room(facts: Facts) -> Box:
    return Box(-48, -4, 48, 24.0 * len(facts["alarms"]) + 40)


@kind("annunciator", _alarms_room)
def _annunciator(facts: Facts) -> Markup:
    """A window for each alarm, with a mark that shows its state by fill and edge, and two keys below."""
    rows = []
    for n, (tag, word) in enumerate(facts["alarms"]):
        y = 24.0 * n
        words = el("text", {"class": "near start", "x": -30, "y": y + 13.5}, word)
        rows.append(
            el(
                "g",
                {"class": "alarm-window", "data-state": tag},
                box(-46, y, 92, 21, "window", 2),
                path(f"M-37 {y + 5:g}l5 10h-10z", "alarm-sign"),
                words,
            )
        )
    low = 24.0 * len(facts["alarms"]) + 6
    keys = [
        join(box(x, low, 44, 28, "grip", 3), el("text", {"class": "near on-grip", "x": x + 22, "y": low + 16.5}, word))
        for x, word in ((-46, "Acknowl."), (2, "Silence"))
    ]
    return join(rows, keys)


@kind("side_selector", Box(-30, -32, 30, 10))
def _side_selector(facts: Facts) -> Markup:
    words = [
        el("text", {"class": "near on-plate", "x": 28 * n - 14, "y": -4}, word) for n, word in enumerate(facts["words"])
    ]
    return join(
        sketch("pale -30 -30 60 38 2; thin M0 -14V6"),
        move(0, -20, el("g", {"class": "knob-of"}, sketch("grip -2 -8 4 13 1"))),
        words,
    )


# Boxes and electricity


@kind("junction_box", Box(-3, -60, 84, 9))
def _junction_box(facts: Facts) -> Markup:
    switches = "; ".join(
        f"dark {x} -46 8 13 3; line M{x + 4} -33V-26; brass {x + 0.5} -26 7 10" for x in range(14, 70, 12)
    )
    coils = "; ".join(f"mach {x} {y} 12 8; brass {x + 1} {y + 8} 10 6" for x in range(13, 70, 16) for y in (-48, -28))
    glands = "; ".join(f"brass {x} 0 5 8 1" for x in range(10, 72, 12))
    inside = {"switches": switches, "solenoids": coils}[facts["inside"]]
    return sketch(f"{glands}; flat 0 -58 80 58 2; pale 7 -52 68 44 1; dark -2 -48 4 8; dark -2 -18 4 8; {inside}")


@kind("air_service", Box(-3, -76, 90, 22))
def _air_service(facts: Facts) -> Markup:
    """The air that the boxes need: filter, and separator with a bowl in which water shows."""
    bowl = {"class": "fluid", "x": 53.5, "y": 0, "width": 17, "height": 0}
    return join(
        sketch(
            "steelh -2 -42 90 6 1; mach 6 -50 26 20 3; mach M9 -30H29V6Q29 12 19 12Q9 12 9 6Z; thin "
            "M14 -24V4M19 -24V6M24 -24V4; "
            "mach 50 -50 24 20 3; glass M52 -30H72V8Q72 14 62 14Q52 14 52 8Z; brass 60 14 4 6"
        ),
        el("rect", {**bowl, "data-fill": facts.get("level"), "data-full": 40, "data-bottom": 13}),
        path("M52 -30H72V8Q72 14 62 14Q52 14 52 8Z", "line"),
        move(41, -60, dial(14, facts.get("gauge"), facts.get("band"))),
    )


@kind("battery", Box(-2, -62, 144, 2))
def _battery(facts: Facts) -> Markup:
    """As many units in series as there are, in two rows; of more than ten, ten."""
    many = min(int(facts.get("units") or 10), 10)
    upper = many if many <= 5 else (many + 1) // 2
    places = [(6 + 26 * n, -50) for n in range(upper)] + [(6 + 26 * n, -23) for n in range(many - upper)]
    cells = "; ".join(
        f"dark {x} {y} 24 19 2; brass {x + 3} {y - 3} 4 3 0; brass {x + 17} {y - 3} 4 3 0" for x, y in places
    )
    links = "".join(f"M{x + 19} {y - 4}H{x + 31}" for x, y in places if (x + 26, y) in places)
    return sketch(f"pale 0 -60 142 60 2; {cells}; {f'line {links}; ' if links else ''}steelh -2 -2 146 4 0")


@kind("charger", Box(-1, -86, 61, 0))
def _charger(facts: Facts) -> Markup:
    lamp = el("circle", {"class": "lamp-of", "cx": 14, "cy": -36, "r": 4.6, "data-state": facts.get("lit")})
    return join(
        sketch("flat 0 -85 60 85 3; thin M10 -16H50M10 -12H50M10 -8H50; pale 24 -46 26 22 2"),
        move(16, -66, dial(12, facts.get("volts"), facts.get("band"))),
        move(44, -66, dial(12, facts.get("amps"))),
        lamp,
        move(37, -35, el("g", {"class": "switch-of"}, sketch("grip -3 -8 6 16 2"))),
    )


@kind("breaker", Box(-1, -86, 43, 0))
def _breaker(facts: Facts) -> Markup:
    """The main switch: a handle up for on, down for off, and a lamp while the supply is there."""
    lamp = el("circle", {"class": "lamp-of", "cx": 21, "cy": -74, "r": 4.6, "data-state": facts.get("lit")})
    return join(
        sketch(
            "flat 0 -85 42 85 2; pale 6 -62 30 44 2; dark 18 -56 6 32 2; line M13 -54H16M13 -26H16; "
            "thin M8 -10H34M8 -6H34"
        ),
        lamp,
        move(21, -40, el("g", {"class": "switch-of"}, sketch("grip -9 -13 18 8 2"))),
    )


# The sea floor


@kind("pod", Box(-52, -200, 52, 0))
def _pod(facts: Facts) -> Markup:
    cells = "; ".join(
        f"mach {x} {y} 14 10 2; brass {x + 2} {y + 10} 10 5" for x in (-34, -14, 6, 24) for y in (-150, -122, -94)
    )
    domes = "; ".join(
        f"mach M{x - 9} -52Q{x - 9} -66 {x} -66Q{x + 9} -66 {x + 9} -52Z; brassh {x - 12} -52 24 10 2"
        for x in (-26, 4, 32)
    )
    return join(
        sketch(
            "wire M-12 -200V-180M0 -200V-180M12 -200V-180; dark -20 -184 40 8 2; steelh -48 -176 96 "
            "6 1; pale -44 -170 88 140 3; "
            "steelh -48 -32 96 6 1; steel M-30 -26H30L22 0H-22Z; dark -50 -176 6 150 2; dark 44 -176 6 150 2; "
            f"{cells}; {domes}; line M-40 -78H40"
        ),
        box(-44, -170, 88, 13, f"sector sector-{facts['pod']}", 2),
    )


@kind("umbilical", Box(-46, -92, 46, 0))
def _umbilical(facts: Facts) -> Markup:
    turns = "; ".join(f"coil 0 -48 {r}" for r in (36, 30, 24, 18))
    return sketch(
        f"dark -38 -6 76 6 0; dark -34 -44 6 40 0; dark 28 -44 6 40 0; steel 0 -48 42; {turns}; "
        "steel 0 -48 8; dark 0 -48 3"
    )


def _in_stack(facts: Facts) -> Box:
    half, tall = _HALF.get(facts["shape"], 44.0), facts["tall"]
    return Box(-half, -tall, half, 0)


_HALF: Final = {
    "annular": 48.0,
    "ram": 74.0,
    "shear": 78.0,
    "connector": 44.0,
    "joint": 30.0,
    "riser": 18.0,
    "diverter": 60.0,
}


@kind("preventer", _in_stack)
def _preventer(facts: Facts) -> Markup:
    """One body of the stack, ``tall`` high, with its name on it."""
    name = el("text", {"class": "near on-body", "x": 0, "y": 2.6 - facts["tall"] / 2}, facts["title"])
    return join(_body(facts), name)


def _body(facts: Facts) -> Markup:
    h, shape = facts["tall"], facts["shape"]
    flange = f"steelh -30 {-h:g} 60 4 1; steelh -30 -4 60 4 1"
    if shape == "annular":
        return sketch(
            f"{flange}; mach M-46 -6V{-h * 0.55:g}Q-44 {5 - h:g} -20 {4 - h:g}H20Q44 {5 - h:g} 46 {-h * 0.55:g}V-6Q46 "
            "-4 42 -4H-42Q-46 -4 -46 -6Z; "
            f"thin M-46 {-h * 0.36:g}H46; dark -48 {-h * 0.3:g} 6 6 1; dark 42 {-h * 0.3:g} 6 6 1"
        )
    if shape in ("ram", "shear"):
        m, reach = -h / 2, 74 if shape == "ram" else 78
        arm = (
            f"mach {-reach} {m - 8:g} 34 16 3; mach {reach - 34} {m - 8:g} 34 16 3; steelh -44 {m - 11:g} "
            f"8 22 1; steelh 36 {m - 11:g} 8 22 1"
        )
        mark = f"; brassh {-reach} {m - 8:g} 8 16 2; brassh {reach - 8} {m - 8:g} 8 16 2" if shape == "shear" else ""
        return sketch(f"{flange}; {arm}{mark}; steel -37 {4 - h:g} 74 {h - 8:g} 3")
    if shape == "connector":
        return sketch(f"{flange}; machh -44 {5 - h:g} 88 {h - 10:g} 4")
    if shape == "joint":
        return sketch(
            f"steelh -24 {-h:g} 48 4 1; steel M-22 {4 - h:g}Q-30 {-h / 2:g} -18 -4H18Q30 {-h / 2:g} "
            f"22 {4 - h:g}Z; thin M-26 -8H26"
        )
    if shape == "riser":
        return sketch(f"steelh -14 {-h:g} 28 {h:g} 1; wire M-17 {-h:g}V0M17 {-h:g}V0")
    return sketch(
        f"steelh -60 {-h:g} 120 5 1; machh -50 {5 - h:g} 100 {h - 10:g} 4; brass -22 {5 - h:g} 44 "
        f"{h - 10:g} 3; steelh -54 -6 108 5 1"
    )


still(
    "telemetry",
    Box(-34, -116, 34, 0),
    "dark -34 -6 68 6 0; steelh -34 -116 30 110 2; steelh 4 -116 30 110 2; pale -30 -108 22 40 2; pale 8 -108 22 40 2; "
    "dark -28 -60 18 4 1; dark -28 -50 18 4 1; dark -28 -40 18 4 1; dark 10 -60 18 4 1; dark 10 -50 18 4 1; "
    "dark 10 -40 18 4 1; brass -22 -24 6 6 3; brass 16 -24 6 6 3",
)
still(
    "rov",
    Box(-34, -58, 34, 0),
    "brass -32 -58 64 24 5; steelh -30 -34 60 26 2; dark -24 -30 16 16 6; dark 8 -30 16 16 6; steelh -34 -8 68 8 2; "
    "line M30 -20H34",
)
still(
    "acoustic",
    Box(-36, -72, 36, 0),
    "dark -34 -34 50 34 3; steelh -34 -72 50 36 3; pale -28 -66 38 24 2; brass -28 -28 5 5; brass 5 -28 5 5; "
    "machh -26 -16 34 5 1; machh -26 -8 34 5 1; line M16 -20Q28 -30 27 -46; steelh 20 -62 14 18 4",
)
still(
    "position",
    Box(-30, -96, 30, 0),
    "dark -30 -6 60 6 0; steelh -26 -60 52 54 3; pale -24 -96 48 32 3; line M-14 -80H14M0 -92V-68; "
    "dark -18 -50 36 5 1; dark -18 -40 36 5 1; brass -4 -28 8 8 4",
)
still(
    "line_valve",
    Box(-17, -13, 17, 13),
    ("steelh -17 -8 4 16; steelh 13 -8 4 16; mach -13 -9 26 18 2; machh -8 -13 16 5 2; brass -3 9 6 4"),
)
still("locks", Box(-16, -11, 16, 11), "mach -16 -9 32 18 2; dark -11 -4 22 8 1; brass -15 -2 5 4; brass 10 -2 5 4")
still(
    "stack_valve",
    Box(-14, -12, 14, 12),
    "steelh -14 -7 4 14; steelh 10 -7 4 14; brassh -10 -7 20 14 3; mach -6 -12 12 5 2",
)
still(
    "pod_connector",
    Box(-30, -12, 30, 12),
    "steelh -30 -12 60 8 2; mach -24 -4 48 10 2; dark -20 -1 8 5 1; dark 12 -1 8 5 1; steelh -28 6 56 6 2",
)
still(
    "overboard",
    Box(-22, -14, 22, 14),
    "steelh -22 -12 5 24; steelh 17 -12 5 24; machh -17 -9 34 18 2; dark 0 0 7; line M-5 -5L5 5",
)

for _name, _kind in KINDS.items():
    still(_name, Box(*_kind.room), _kind.body)
