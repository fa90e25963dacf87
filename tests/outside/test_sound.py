"""Sound in sea water against published equations: its speed, and what a signal loses on its way to the stack."""

from __future__ import annotations

import math

import pytest

from tests.outside.sources import held_against
from trainer.plant.acoustic import LOSS, lost_on_the_way
from trainer.plant.rig import load_plant

WENTLETRAP, _ = load_plant("wentletrap")


def mackenzie(depth: float, celsius: float) -> float:
    """Speed (m/s) at ``depth`` m in sea water of salinity 35: Mackenzie 1981, J. Acoust. Soc. Am. 70, 807 to 812."""
    return (
        1448.96
        + 4.591 * celsius
        - 5.304e-2 * celsius**2
        + 2.374e-4 * celsius**3
        + 1.630e-2 * depth
        + 1.675e-7 * depth**2
        - 7.139e-13 * celsius * depth**3
    )


def thorp(kilohertz: float) -> float:
    """Absorption in dB/km of sea water at 4 degC: Thorp's formula, as in Urick, Principles of Underwater Sound."""
    square = kilohertz**2
    return 0.0033 + square * (3.0e-4 + 44.0 / (4100.0 + square) + 0.11 / (1.0 + square))


@held_against("speed of sound in the sea", "Mackenzie 1981, nine-term equation, at half the depth and 39 degF")
def test_sound_travels_as_fast_as_published() -> None:
    """Over the whole depth the mean of surface, middle and bottom lies within 0.1 % of that of the middle."""
    own, depth, celsius = WENTLETRAP.acoustic, WENTLETRAP.water_depth, WENTLETRAP.sea_temperature - 273.15
    assert own is not None
    assert own.sound == pytest.approx(mackenzie(0.5 * depth, celsius), rel=1e-3)
    mean = (mackenzie(0.0, celsius) + 4.0 * mackenzie(0.5 * depth, celsius) + mackenzie(depth, celsius)) / 6.0
    assert own.way(depth) == pytest.approx(depth / mean, rel=1e-3) and own.way(depth) == pytest.approx(1.52, abs=0.005)


@held_against("transmission loss", "spherical spreading 20 lg r and Thorp's absorption, 6.1 dB/km at 25 kHz")
def test_a_signal_falls_off_by_spreading_and_absorption() -> None:
    def loss(metres: float) -> float:
        return 20.0 * math.log10(metres) + thorp(25.0) * metres / 1000.0

    for metres, decibels in LOSS:
        assert decibels == pytest.approx(loss(metres), abs=0.06)
    for metres in range(500, 4001, 125):
        assert lost_on_the_way(metres) == pytest.approx(loss(metres), abs=0.6)
