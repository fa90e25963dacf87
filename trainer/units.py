"""Quantities: SI inside, field or metric units at the edge.

Every number inside the engine is a plain float in SI. Files and people write ``"1650 ft"``; this module
reads such text, converts both ways and prints readings with sensible decimals.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Final, Literal, get_args

from pydantic import AfterValidator, BeforeValidator, WithJsonSchema

from trainer.constants import GRAVITY, ICE_POINT

System = Literal["field", "metric"]

_POUND: Final = 0.45359237  # kg, exact by definition
_FOOT: Final = 0.3048
_INCH: Final = 0.0254
_GALLON: Final = 231.0 * _INCH * _INCH * _INCH
_BARREL: Final = 42.0 * _GALLON
_POUND_FORCE: Final = _POUND * GRAVITY
_PSI: Final = _POUND_FORCE / (_INCH * _INCH)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: ``si = (value + offset) * factor``.

    ``decimals`` is how many decimals a reading in this unit deserves, ``symbol`` what is printed after the
    number (empty means: as the key), ``metric`` the unit shown instead when the metric system is chosen
    (empty: itself), ``whole_from`` the reading in this unit from which on no decimals are printed.
    """

    dimension: str
    factor: float
    offset: float = 0.0
    decimals: int = 1
    symbol: str = ""
    metric: str = ""
    whole_from: float = math.inf


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a float of a declaration or a law is: its dimension. It is in that dimension's SI unit."""

    dimension: str

    @property
    def unit(self) -> str:
        """The SI unit; the word itself for "alike" and "any", which take every one."""
        return self.dimension if self.dimension in ("alike", "any") else si_unit(self.dimension)


UNITS: Final[dict[str, Unit]] = {
    # A pressure in psi is a gauge reading or a difference: only a factor, never the atmosphere.
    "psi": Unit("pressure", _PSI, decimals=0, metric="bar"),
    "bar": Unit("pressure", 1.0e5, decimals=1),
    "kPa": Unit("pressure", 1.0e3, decimals=0),
    "MPa": Unit("pressure", 1.0e6, decimals=2),
    "Pa": Unit("pressure", 1.0, decimals=0),
    "gal": Unit("volume", _GALLON, decimals=1, metric="L"),
    "L": Unit("volume", 1.0e-3, decimals=1),
    "m3": Unit("volume", 1.0, decimals=2, symbol="m³"),
    "bbl": Unit("volume", _BARREL, decimals=1, metric="m3"),
    "gpm": Unit("flow", _GALLON / 60.0, decimals=1, metric="L/min"),
    "L/min": Unit("flow", 1.0e-3 / 60.0, decimals=0),
    "bbl/min": Unit("flow", _BARREL / 60.0, decimals=2, metric="m3/min"),
    "m3/min": Unit("flow", 1.0 / 60.0, decimals=3, symbol="m³/min"),
    "m3/s": Unit("flow", 1.0, decimals=5, symbol="m³/s"),
    "ft": Unit("length", _FOOT, decimals=0, metric="m"),
    "m": Unit("length", 1.0, decimals=1),
    "in": Unit("length", _INCH, decimals=2, metric="mm"),
    "mm": Unit("length", 1.0e-3, decimals=1),
    "degF": Unit("temperature", 5.0 / 9.0, offset=459.67, decimals=0, symbol="°F", metric="degC"),
    "degC": Unit("temperature", 1.0, offset=ICE_POINT, decimals=0, symbol="°C"),
    "K": Unit("temperature", 1.0, decimals=1),
    "lb/gal": Unit("density", _POUND / _GALLON, decimals=2, metric="kg/m3"),
    "kg/m3": Unit("density", 1.0, decimals=0, symbol="kg/m³"),
    "psi/ft": Unit("gradient", _PSI / _FOOT, decimals=3, metric="bar/m"),
    "bar/m": Unit("gradient", 1.0e5, decimals=4),
    "Pa/m": Unit("gradient", 1.0, decimals=0),
    "s": Unit("time", 1.0, decimals=1),
    "min": Unit("time", 60.0, decimals=1),
    "h": Unit("time", 3600.0, decimals=1),
    "V": Unit("voltage", 1.0, decimals=1),
    "A": Unit("current", 1.0, decimals=1),
    "mA": Unit("current", 1.0e-3, decimals=0),
    "MOhm": Unit("resistance", 1.0e6, decimals=2, symbol="MΩ", whole_from=10.0),
    "Ah": Unit("charge", 3600.0, decimals=1),
    "W": Unit("power", 1.0, decimals=0),
    "kW": Unit("power", 1.0e3, decimals=1),
    "hp": Unit("power", 550.0 * _FOOT * _POUND_FORCE, decimals=1, metric="kW"),
    "rpm": Unit("frequency", 1.0 / 60.0, decimals=0),
    "1/min": Unit("frequency", 1.0 / 60.0, decimals=0, symbol="spm"),
    # Flow of water through an opening by the root of what it costs.
    "Cv": Unit("flow coefficient", _GALLON / 60.0 / math.sqrt(_PSI), decimals=2, metric="Kv"),
    "Kv": Unit("flow coefficient", 1.0 / 3600.0 / math.sqrt(1.0e5), decimals=2),
    "lbf": Unit("force", _POUND_FORCE, decimals=0, metric="kN"),
    "klbf": Unit("force", 1.0e3 * _POUND_FORCE, decimals=1, metric="kN"),
    "N": Unit("force", 1.0, decimals=0),
    "kN": Unit("force", 1.0e3, decimals=1),
    "%": Unit("fraction", 0.01, decimals=1),
    "1": Unit("fraction", 1.0, decimals=3, symbol=" "),
    "cP": Unit("viscosity", 1.0e-3, decimals=2, metric="mPa.s"),
    "mPa.s": Unit("viscosity", 1.0e-3, decimals=2, symbol="mPa·s"),
    "Pa.s": Unit("viscosity", 1.0, decimals=5, symbol="Pa·s"),
    "ft2": Unit("area", _FOOT * _FOOT, decimals=2, symbol="ft²", metric="m2"),
    "m2": Unit("area", 1.0, decimals=4, symbol="m²"),
    "in2": Unit("area", _INCH * _INCH, decimals=2, symbol="in²", metric="mm2"),
    "mm2": Unit("area", 1.0e-6, decimals=0, symbol="mm²"),
    # Capacity of a hole or pipe: a volume in a length is an area.
    "bbl/ft": Unit("area", _BARREL / _FOOT, decimals=4, metric="L/m"),
    "L/m": Unit("area", 1.0e-3, decimals=2),
    "ft/h": Unit("velocity", _FOOT / 3600.0, decimals=0, metric="m/h"),
    "m/h": Unit("velocity", 1.0 / 3600.0, decimals=1),
    "ft/s": Unit("velocity", _FOOT, decimals=1, metric="m/s"),
    "m/s": Unit("velocity", 1.0, decimals=2),
    "lb": Unit("mass", _POUND, decimals=1, metric="kg"),
    "kg": Unit("mass", 1.0, decimals=1),
    "stk": Unit("count", 1.0, decimals=0),
    "msg": Unit("count", 1.0, decimals=0),
    "deg": Unit("angle", math.pi / 180.0, decimals=0, symbol="°"),
    "dB": Unit("level", 1.0, decimals=0),
    "state": Unit("state", 1.0, decimals=0, symbol=" "),
}

_ALIASES: Final[dict[str, str]] = {
    "psig": "psi", "l": "L", "ppg": "lb/gal", "spm": "1/min", "hr": "h", "hours": "h", "sec": "s",
    "minutes": "min", "°F": "degF", "°C": "degC", "F": "degF", "C": "degC", "m³": "m3", "m^3": "m3",
    "m³/s": "m3/s", "m³/min": "m3/min", "kg/m³": "kg/m3", "mPa·s": "mPa.s", "Pa·s": "Pa.s", "ft²": "ft2",
    "m²": "m2", "in²": "in2", "mm²": "mm2", "°": "deg", "lpm": "L/min", "bpm": "bbl/min", "percent": "%",
    "MΩ": "MOhm",
}  # fmt: skip

# The unit named first when a message shows how to write a quantity of this dimension.
_EXAMPLES: Final[dict[str, str]] = {
    "pressure": "3000 psi", "volume": "11 gal", "flow": "20 gpm", "length": "1650 ft",
    "temperature": "70 degF", "density": "10.4 lb/gal", "gradient": "0.445 psi/ft", "time": "45 s",
    "voltage": "120 V", "current": "8 A", "resistance": "20 MOhm", "charge": "100 Ah", "power": "37 kW",
    "frequency": "70 1/min",
    "force": "350 klbf", "fraction": "95 %", "viscosity": "1.1 cP", "area": "20 in2",
    "flow coefficient": "10 Cv", "velocity": "1000 ft/h", "mass": "50 kg", "angle": "90 deg", "count": "1500 stk",
    "level": "90 dB",
    "state": "1",
}  # fmt: skip

_SI: Final[dict[str, str]] = {
    "pressure": "Pa", "volume": "m3", "flow": "m3/s", "length": "m", "temperature": "K", "density": "kg/m3",
    "gradient": "Pa/m", "time": "s", "voltage": "V", "current": "A", "resistance": "Ohm", "charge": "A s", "power": "W",
    "frequency": "1/s",
    "flow coefficient": "m3/(s sqrt(Pa))", "force": "N", "fraction": "1", "viscosity": "Pa s", "area": "m2",
    "velocity": "m/s", "mass": "kg", "angle": "rad", "count": "1", "level": "dB", "state": "1",
    # What only laws compute with; it stands in no file.
    "number": "1", "compliance": "m3/Pa", "conductance": "m3/(s Pa)", "softness": "1/Pa", "force per length": "N/m",
    "gravity times height": "m2/s2", "warming by density": "K m3/kg", "pressure per warming": "Pa/K",
    "pressure per flow": "Pa s/m3", "share per flow": "s/m3", "share per length": "1/m",
    "pressure per velocity": "Pa s/m",
}  # fmt: skip
SI_UNITS: Final = tuple(dict.fromkeys(_SI.values()))
"""The SI units in which the engine holds its numbers."""

QUOTED: Final = 60

_NUMBER = r"[+-]?(?:\d{1,3}(?:,\d{3})+|\d+)?(?:\.\d*)?(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*(\S.*?)?\s*")


def _quoted(text: str) -> str:
    """What was given, as a message quotes it: of a long text its beginning tells enough."""
    return repr(text if len(text) <= QUOTED else f"{text[:QUOTED]}…")


def _unit(name: str) -> Unit:
    """The unit called ``name`` (an alias counts); ValueError names the known ones."""
    found = UNITS.get(name) or UNITS.get(_ALIASES.get(name, ""))
    if found is None:
        raise ValueError(f"the unit {name!r} is not known; known units are {', '.join(UNITS)}")
    return found


def dimension_of(unit: str) -> str:
    """The dimension of a unit: ``dimension_of("psi") == "pressure"``. ValueError for an unknown unit."""
    return _unit(unit).dimension


def si_unit(dimension: str) -> str:
    """The SI unit of a dimension: ``si_unit("pressure") == "Pa"``; "1" for a share, a state or a count.

    KeyError for an unknown dimension.
    """
    return _SI[dimension]


def units_of(dimension: str) -> tuple[str, ...]:
    """The units of a dimension, field unit first. ValueError for an unknown dimension."""
    found = tuple(name for name, unit in UNITS.items() if unit.dimension == dimension)
    if not found:
        raise ValueError(f"the dimension {dimension!r} is not known; known dimensions are {', '.join(_EXAMPLES)}")
    return found


def to_unit(value: float, unit: str) -> float:
    """An SI value in ``unit``: ``to_unit(502.92, "ft")`` is 1650.

    >>> round(to_unit(300.0, "degF"), 2)
    80.33
    """
    u = _unit(unit)
    return value / u.factor - u.offset


TURN: Final = 2.0 * math.pi
"""One whole turn, rad."""


def bearing(angle: float) -> float:
    """An angle (rad) as a compass bearing: within one whole turn, clockwise from north.

    >>> round(to_unit(bearing(from_unit(368.0, "deg")), "deg"), 6), round(to_unit(bearing(-TURN / 4.0), "deg"), 6)
    (8.0, 270.0)
    """
    while angle >= TURN:
        angle -= TURN
    while angle < 0.0:
        angle += TURN
    return angle


def apart(one: float, other: float, unit: str) -> float:
    """How far two values are from each other, in SI; bearings the shorter way round, within ten turns.

    >>> round(to_unit(apart(from_unit(358.0, "deg"), from_unit(2.0, "deg"), "deg"), "deg"), 6)
    4.0
    >>> apart(3.0, 5.0, "psi")
    2.0
    """
    off = abs(one - other)
    if unit == "deg" and off < 10.0 * TURN:
        off = bearing(off)
        return min(off, TURN - off)
    return off


def alike(one: float, other: float, unit: str) -> bool:
    """Whether two figures in ``unit`` are printed alike in one of the unit systems: told in one, repeated in another.

    >>> alike(520.0, 35.9 * 14.5038, "psi"), alike(520.0, 250.0, "psi")
    (True, False)
    """
    si = from_unit(one, unit), from_unit(other, unit)
    return any(show(si[0], unit, system) == show(si[1], unit, system) for system in get_args(System))


def from_unit(value: float, unit: str) -> float:
    """A value given in ``unit`` as SI.

    >>> round(from_unit(1000.0, "psi"))
    6894757
    """
    u = _unit(unit)
    return (value + u.offset) * u.factor


def _split(text: str) -> tuple[float, str] | None:
    """Number and unit text of ``"1,650 ft"``; None when it does not start with a finite number.

    A minus counts as a hyphen does: boards print one.
    """
    match = _QUANTITY.fullmatch(text.replace("−", "-"))
    if match is None:
        return None
    try:
        value = float(match[1].replace(",", ""))
    except ValueError:
        return None
    return (value, match[2] or "") if math.isfinite(value) else None


def parse(text: str, dimension: str) -> float:
    """Read a quantity with its unit; the result is SI.

    ``text`` is a number (thousands commas allowed), a blank (optional) and a unit of ``dimension``. A share
    may be written without a unit (``"0.6"``) as it has none. ValueError: one sentence saying what was given,
    what was expected and how to mend it.

    >>> round(parse("1650 ft", "length"), 2)
    502.92
    >>> parse("8 gal", "length")
    Traceback (most recent call last):
    ...
    ValueError: '8 gal' is a volume, but a length is expected; write it like '1650 ft' (units: ft, m, in, mm)
    """
    allowed = units_of(dimension)
    advice = f"write it like {_EXAMPLES[dimension]!r} (units: {', '.join(allowed)})"
    article = "an" if dimension[0] in "aeiou" else "a"
    parts = _split(text)
    if parts is None:
        raise ValueError(f"{_quoted(text)} is not {article} {dimension}: it must start with a finite number; {advice}")
    value, name = parts
    if not name:
        if dimension in ("fraction", "state"):
            return value
        raise ValueError(f"{_quoted(text)} has no unit, but {article} {dimension} is expected; {advice}")
    unit = UNITS.get(name) or UNITS.get(_ALIASES.get(name, ""))
    if unit is None:
        raise ValueError(
            f"{_quoted(text)} has the unknown unit {_quoted(name)}, but {article} {dimension} is expected; {advice}"
        )
    if unit.dimension != dimension:
        other = "an" if unit.dimension[0] in "aeiou" else "a"
        raise ValueError(
            f"{_quoted(text)} is {other} {unit.dimension}, but {article} {dimension} is expected; {advice}"
        )
    return (value + unit.offset) * unit.factor


def edge_value(value: float | str, unit: str) -> float:
    """A value from an action file or page as SI: a number counts in ``unit``, text may carry its own unit.

    ValueError in one sentence when the text is no quantity of that dimension or the number is not finite.

    >>> round(edge_value("36 bar", "psi")) == round(edge_value(522.136, "psi"), -1) == 3600000
    True
    """
    if isinstance(value, str):
        parts = _split(value)
        if parts is None or parts[1]:
            return parse(value, dimension_of(unit))
        value = parts[0]
    if not math.isfinite(value):
        raise ValueError(f"{value!r} is not a finite number; give a number in {unit}")
    return from_unit(value, unit)


def metric_of(unit: str) -> str:
    """The unit shown instead of ``unit`` in the metric system: psi -> bar; one without a partner stays."""
    return _unit(unit).metric or unit


def display_unit(unit: str, system: System = "field") -> str:
    """The unit key in which a signal with field unit ``unit`` is shown in ``system``."""
    return metric_of(unit) if system == "metric" else unit


def symbol(unit: str) -> str:
    """What is printed after a number: ``symbol("degF") == "°F"``; empty for a plain number or a state."""
    return (_unit(unit).symbol or unit).strip()


def number(value: float, unit: str, system: System = "field") -> str:
    """The SI ``value`` as digits in the display unit, without the unit's symbol.

    >>> number(from_unit(1519.7, "psi"), "psi")
    '1,520'
    """
    return _digits(unit, system)(value)


def show(value: float, unit: str, system: System = "field") -> str:
    """The SI ``value`` as text with its unit, for a signal whose field unit is ``unit``.

    >>> show(from_unit(1519.7, "psi"), "psi"), show(from_unit(1519.7, "psi"), "psi", "metric")
    ('1,520 psi', '104.8 bar')
    """
    return shower(unit, system)(value)


@cache
def shower(unit: str, system: System = "field") -> Callable[[float], str]:
    """``show`` for one unit, with all worked out beforehand that is the same for each value."""
    digits, sign = _digits(unit, system), symbol(display_unit(unit, system))
    tail = sign if not sign or sign == "°" else f" {sign}"
    return lambda value: digits(value) + tail


@cache
def print_step(unit: str, system: System = "field") -> tuple[float, float]:
    """In SI the step of the last digit that ``show`` prints, and the value of which it prints zero."""
    shown = _unit(display_unit(unit, system))
    return shown.factor * 10.0**-shown.decimals, shown.offset * shown.factor


@cache
def _digits(unit: str, system: System) -> Callable[[float], str]:
    shown = _unit(display_unit(unit, system))
    factor, offset, form, whole_from = shown.factor, shown.offset, f",.{shown.decimals}f", shown.whole_from

    def digits(value: float) -> str:
        if not math.isfinite(value):
            return "–"
        amount = value / factor - offset
        text = format(amount, form if amount < whole_from else ",.0f")
        # A reading that rounds to nothing is zero, not "-0".
        return text[1:] if text[0] == "-" and not text.strip("-0.,") else text

    return digits


def _reader(dimension: str) -> BeforeValidator:
    """A pydantic validator that turns text with a unit into SI and refuses a bare number."""

    def read(value: object) -> float:
        if isinstance(value, str):
            return parse(value, dimension)
        raise ValueError(
            f"{value!r} has no unit, but a {dimension} is expected; "
            f'write it as text like "{_EXAMPLES[dimension]}" (units: {", ".join(units_of(dimension))})'
        )

    return BeforeValidator(read)


def between(low: str, high: str) -> AfterValidator:
    """A pydantic validator that refuses a quantity outside ``low`` to ``high``, both text with the same unit.

    The bounds say what equipment of this trade can be at all, not what is good: a value beyond them is a slip of the
    pen or of the unit. Figures are common practice unless a field names a source.
    """
    parts = _split(low)
    if parts is None:
        raise ValueError(f"{low!r} is no quantity")
    unit = parts[1]
    least, most = (parse(text, dimension_of(unit)) for text in (low, high))
    slack = 1.0e-9 * max(abs(least), abs(most))

    def held(value: float) -> float:
        if least - slack <= value <= most + slack:
            return value
        raise ValueError(f"{to_unit(value, unit):g} {unit} is outside {low} to {high}; check the number and its unit")

    return AfterValidator(held)


def _schema(dimension: str) -> WithJsonSchema:
    return WithJsonSchema(
        {
            "type": "string",
            "description": f"a {dimension} with its unit: {', '.join(units_of(dimension))}",
            "examples": [_EXAMPLES[dimension]],
        }
    )


# Types for declarations and laws: text with a unit in the file, SI float in the model. Counts stay plain int or float.
Pressure = Annotated[float, Quantity("pressure"), _reader("pressure"), _schema("pressure")]
Volume = Annotated[float, Quantity("volume"), _reader("volume"), _schema("volume")]
Flow = Annotated[float, Quantity("flow"), _reader("flow"), _schema("flow")]
Length = Annotated[float, Quantity("length"), _reader("length"), _schema("length")]
Temperature = Annotated[float, Quantity("temperature"), _reader("temperature"), _schema("temperature")]
Density = Annotated[float, Quantity("density"), _reader("density"), _schema("density")]
Gradient = Annotated[float, Quantity("gradient"), _reader("gradient"), _schema("gradient")]
Seconds = Annotated[float, Quantity("time"), _reader("time"), _schema("time")]
Fraction = Annotated[float, Quantity("fraction"), _reader("fraction"), _schema("fraction")]
Voltage = Annotated[float, Quantity("voltage"), _reader("voltage"), _schema("voltage")]
Current = Annotated[float, Quantity("current"), _reader("current"), _schema("current")]
Resistance = Annotated[float, Quantity("resistance"), _reader("resistance"), _schema("resistance")]
Charge = Annotated[float, Quantity("charge"), _reader("charge"), _schema("charge")]
Power = Annotated[float, Quantity("power"), _reader("power"), _schema("power")]
Frequency = Annotated[float, Quantity("frequency"), _reader("frequency"), _schema("frequency")]
Force = Annotated[float, Quantity("force"), _reader("force"), _schema("force")]
Viscosity = Annotated[float, Quantity("viscosity"), _reader("viscosity"), _schema("viscosity")]
Area = Annotated[float, Quantity("area"), _reader("area"), _schema("area")]
Velocity = Annotated[float, Quantity("velocity"), _reader("velocity"), _schema("velocity")]
Mass = Annotated[float, Quantity("mass"), _reader("mass"), _schema("mass")]
Coefficient = Annotated[float, Quantity("flow coefficient"), _reader("flow coefficient"), _schema("flow coefficient")]
Angle = Annotated[float, Quantity("angle"), _reader("angle"), _schema("angle")]
Level = Annotated[float, Quantity("level"), _reader("level"), _schema("level")]
"""A sound's, in dB above 1 micropascal."""

# Types for laws alone.
Number = Annotated[float, Quantity("number")]
"""A share, a state, a flag or a count."""
Alike = Annotated[float, Quantity("alike")]
"""Whatever unit it is: the same at all ports of a law that are of this type."""
AnyUnit = Annotated[float, Quantity("any")]
"""Whatever unit it is, each value its own: for a law that only tells whether something has changed."""
Compliance = Annotated[float, Quantity("compliance")]
Conductance = Annotated[float, Quantity("conductance")]
Softness = Annotated[float, Quantity("softness")]
ForcePerLength = Annotated[float, Quantity("force per length")]
GravityHeight = Annotated[float, Quantity("gravity times height")]
Warming = Annotated[float, Quantity("warming by density")]
ThermalPressure = Annotated[float, Quantity("pressure per warming")]
PressurePerFlow = Annotated[float, Quantity("pressure per flow")]
PerFlow = Annotated[float, Quantity("share per flow")]
PerLength = Annotated[float, Quantity("share per length")]
PressurePerVelocity = Annotated[float, Quantity("pressure per velocity")]
