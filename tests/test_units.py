"""Quantities: reading, converting, printing and refusing."""

from __future__ import annotations

import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from trainer import units


def test_docstring_examples() -> None:
    assert doctest.testmod(units).failed == 0


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("1650 ft", "length", 502.92),
        ("1,650ft", "length", 502.92),
        ("3000 psi", "pressure", 20_684_271.879505),
        ("36 bar", "pressure", 3.6e6),
        ("11 gal", "volume", 0.041639529624),
        ("1 bbl", "volume", 0.158987294928),
        ("60 gpm", "flow", 0.003785411784),
        ("70 degF", "temperature", 294.2611111111),
        ("-40 °C", "temperature", 233.15),
        ("10.4 lb/gal", "density", 1246.194843),
        ("0.445 psi/ft", "gradient", 10066.164683),
        ("95 %", "fraction", 0.95),
        ("0.95", "fraction", 0.95),
        ("70 1/min", "frequency", 70 / 60),
        ("70 spm", "frequency", 70 / 60),
        ("100 Ah", "charge", 360_000.0),
        ("1.5e3 mPa.s", "viscosity", 1.5),
        ("1 hp", "power", 745.6998715823),
        ("350 klbf", "force", 1_556_877.5653),
    ],
)
def test_parse_reads_si(text: str, dimension: str, si: float) -> None:
    assert units.parse(text, dimension) == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "dimension", "told"),
    [
        ("1650", "length", "has no unit"),
        ("1650 gal", "length", "is a volume, but a length is expected"),
        ("1650 fathom", "length", "unknown unit 'fathom'"),
        ("deep", "length", "must start with a finite number"),
        ("", "length", "must start with a finite number"),
        ("nan ft", "length", "must start with a finite number"),
        ("1e999 ft", "length", "must start with a finite number"),
        ("16,50 ft", "length", "unknown unit"),
        ("8 gal", "area", "but an area is expected"),
    ],
)
def test_parse_refuses_in_one_sentence_that_shows_how(text: str, dimension: str, told: str) -> None:
    with pytest.raises(ValueError) as caught:
        units.parse(text, dimension)
    message = str(caught.value)
    assert told in message
    assert "write it like" in message and "\n" not in message


@given(st.sampled_from(sorted(units.UNITS)), st.floats(-1e6, 1e6))
def test_conversion_goes_both_ways(unit: str, value: float) -> None:
    assert units.to_unit(units.from_unit(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_every_unit_is_consistent() -> None:
    for name, unit in units.UNITS.items():
        assert name in units.units_of(unit.dimension)
        assert units.dimension_of(units.metric_of(name)) == unit.dimension
        assert units.metric_of(units.metric_of(name)) == units.metric_of(name)


@pytest.mark.parametrize(
    ("field", "metric"),
    [("psi", "bar"), ("gal", "L"), ("bbl", "m3"), ("gpm", "L/min"), ("ft", "m"), ("in", "mm"),
     ("degF", "degC"), ("lb/gal", "kg/m3"), ("ft/h", "m/h"), ("V", "V"),
     ("state", "state"), ("1/min", "1/min")],
)  # fmt: skip
def test_metric_partner(field: str, metric: str) -> None:
    assert units.metric_of(field) == metric


@pytest.mark.parametrize(
    ("value", "unit", "field", "metric"),
    [
        (1519.7, "psi", "1,520 psi", "104.8 bar"),
        (-0.2, "psi", "0 psi", "0.0 bar"),
        (70.0, "degF", "70 °F", "21 °C"),
        (84.55, "%", "84.5 %", "84.5 %"),
        (1.0, "state", "1", "1"),
        (70.0, "1/min", "70 spm", "70 spm"),
        (math.nan, "psi", "– psi", "– bar"),
    ],
)
def test_show(value: float, unit: str, field: str, metric: str) -> None:
    si = units.from_unit(value, unit)
    assert (units.show(si, unit), units.show(si, unit, "metric")) == (field, metric)


def test_edge_values_take_numbers_and_text() -> None:
    assert units.edge_value(520, "psi") == units.edge_value("520 psi", "psi") == units.edge_value("520", "psi")
    assert units.edge_value("36 bar", "psi") == pytest.approx(3.6e6)
    with pytest.raises(ValueError, match="is a volume, but a pressure is expected"):
        units.edge_value("36 gal", "psi")
    with pytest.raises(ValueError, match="not a finite number"):
        units.edge_value(math.inf, "psi")


class _Bottle(BaseModel):
    volume: units.Volume
    precharge: units.Pressure = 101_325.0


def test_declarations_hold_si() -> None:
    bottle = _Bottle.model_validate({"volume": "11 gal"})
    assert bottle.volume == pytest.approx(0.0416395296)
    assert bottle.precharge == 101_325.0
    assert _Bottle.model_json_schema()["properties"]["volume"]["type"] == "string"


@pytest.mark.parametrize("given_value", [11, 11.0, True, None, ["11 gal"]])
def test_declarations_refuse_a_bare_number(given_value: object) -> None:
    with pytest.raises(ValidationError, match="has no unit, but a volume is expected; write it as text like"):
        _Bottle.model_validate({"volume": given_value})


def test_a_minus_reads_as_a_hyphen_does() -> None:
    assert units.parse("−71 psi", "pressure") == units.parse("-71 psi", "pressure") < 0.0
    assert units.edge_value("−71", "psi") == units.edge_value("-71", "psi")


def test_a_large_resistance_is_printed_without_decimals_that_no_instrument_shows() -> None:
    shown = [units.show(units.from_unit(ohms, "MOhm"), "MOhm") for ohms in (0.05, 1.0, 9.994, 10.0, 500.0)]
    assert shown == ["0.05 MΩ", "1.00 MΩ", "9.99 MΩ", "10 MΩ", "500 MΩ"]
