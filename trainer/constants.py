"""Constants that more than one room computes with: each with its unit and its source, and with no second home."""

from __future__ import annotations

from typing import Final

TICK: Final = 0.02
"""s of one step of the physics. Ours: short beside the quickest line of the plant, at what a browser can compute."""
TICKS_PER_SCAN: Final = 5
"""Steps of the physics to one scan."""
TICKS_PER_SECOND: Final = 50
"""Steps of the physics to a simulated second; the log counts its time in them."""
SCAN: Final = TICK * TICKS_PER_SCAN
"""s between two turns of logic, instruments, commands and referee. Ours: a control unit's logic answers in tenths of a
second (common practice)."""
SCANS_PER_SECOND: Final = TICKS_PER_SECOND // TICKS_PER_SCAN
"""Scans to a simulated second."""
HAIR: Final = 1.0e-9
"""What rounding may make of a time (s) or of points: far below a scan and a point, far above a double's last bit."""
SCAN_HAIR: Final = 1.0e-6
"""What a decimal time may miss its scan by, in scans (0.1 s is no exact float): never enough to add a scan."""

GRAVITY: Final = 9.80665
"""m/s2, standard gravity: 3rd General Conference on Weights and Measures, 1901; exact by definition."""
ATMOSPHERE: Final = 101325.0
"""Pa, standard atmosphere, which turns a gauge reading into an absolute pressure: 10th General Conference on Weights
and Measures, 1954; ISO 2533; exact by definition."""
ICE_POINT: Final = 273.15
"""K at 0 degC: the Celsius scale by its definition in the International System of Units."""
SEA_WATER: Final = 1025.0
"""kg/m3, sea water: 64 lb/ft3, the handbooks' 0.445 psi/ft (common practice; from memory)."""
STEEL: Final = 7850.0
"""kg/m3, carbon steel: 65.4 lb/gal in the handbooks' buoyancy factor (common practice; from memory)."""
