"""What kind of quantity a number is, so that a drill cannot compare a pressure with a volume."""

from __future__ import annotations

from trainer import units

Dimension = tuple[int, int, int, int, int]
"""Exponents of metre, kilogram, second, kelvin and ampere."""

NONE: Dimension = (0, 0, 0, 0, 0)
TIME: Dimension = (0, 0, 1, 0, 0)
TEMPERATURE: Dimension = (0, 0, 0, 1, 0)

# One sample unit for each dimension: exponents and a unit to use in messages.
_SAMPLES: tuple[tuple[str, Dimension, str], ...] = (
    ("psi", (-1, 1, -2, 0, 0), "pressure"),
    ("gal", (3, 0, 0, 0, 0), "volume"),
    ("gpm", (3, 0, -1, 0, 0), "flow"),
    ("ft", (1, 0, 0, 0, 0), "length"),
    ("degF", TEMPERATURE, "temperature"),
    ("lb/gal", (-3, 1, 0, 0, 0), "density"),
    ("psi/ft", (-2, 1, -2, 0, 0), "pressure gradient"),
    ("s", TIME, "time"),
    ("V", (2, 1, -3, 0, -1), "voltage"),
    ("A", (0, 0, 0, 0, 1), "current"),
    ("kW", (2, 1, -3, 0, 0), "power"),
    ("Ah", (0, 0, 1, 0, 1), "charge"),
    ("rpm", (0, 0, -1, 0, 0), "rate"),
    ("1/min", (0, 0, -1, 0, 0), "rate"),
    ("lbf", (1, 1, -2, 0, 0), "force"),
    ("cP", (-1, 1, -1, 0, 0), "viscosity"),
    ("in2", (2, 0, 0, 0, 0), "area"),
    ("ft/h", (1, 0, -1, 0, 0), "speed"),
    ("kg", (0, 1, 0, 0, 0), "mass"),
    ("%", NONE, "plain number"),
)
_BY_NAME: dict[str, Dimension] = {
    units.dimension_of(unit): dimension for unit, dimension, _ in _SAMPLES if unit in units.UNITS
}
_WORDS: dict[Dimension, tuple[str, str]] = {}
for _unit, _dimension, _word in _SAMPLES:
    _WORDS.setdefault(_dimension, (_word, _unit))


def of_unit(unit: str) -> Dimension:
    """Exponents of a field unit; a unit without a known dimension counts as a plain number."""
    return _BY_NAME.get(units.dimension_of(unit), NONE)


def times(a: Dimension, b: Dimension) -> Dimension:
    """Dimension of a product of two quantities, exponent by exponent."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2], a[3] + b[3], a[4] + b[4])


def over(a: Dimension, b: Dimension) -> Dimension:
    """Dimension of a quotient of two quantities, exponent by exponent."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2], a[3] - b[3], a[4] - b[4])


def word(dimension: Dimension) -> str:
    """Plain word with its article, for messages, such as "a pressure"; one for dimensions that have no name."""
    name = _WORDS.get(dimension, ("quantity of its own kind", ""))[0]
    return f"{'an' if name[0] in 'aeiou' else 'a'} {name}"


def sample_unit(dimension: Dimension) -> str:
    """A unit somebody could have written for this dimension; empty for a plain number."""
    unit = _WORDS.get(dimension, ("", ""))[1]
    return "" if dimension == NONE else unit
