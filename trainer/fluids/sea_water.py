"""Sea water, as the whole plant takes it."""

from __future__ import annotations

SEA_WATER = 1025.0
"""Density, kg/m3: 64 lb/ft3, the handbooks' 0.445 psi/ft (common practice; from memory)."""
