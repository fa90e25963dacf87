"""Pump-discharge filters in parallel, each with isolation valves, so that one is cleaned while the other works.

A clean element drops ``CLEAN_DROP`` at ``CLEAN_FLOW``; dirt cuts its flow coefficient. The gauge reads the difference.
"""

from __future__ import annotations

from pydantic import Field

from trainer.hydraulics.laws import orifice
from trainer.hydraulics.network import Network
from trainer.plant.base import PSI, Component, choice, component_fault, reading, state_reading

CLEAN_FLOW = 1.9e-3
CLEAN_DROP = 10.0 * PSI
SHUT = ("shut", "open")


class Filter(Component):
    """One filter between ``supply`` and ``header``."""

    rating_micron: float = Field(gt=0, le=1000)
    in_use: bool = True

    def build(self, net: Network) -> None:
        """Add the filter, its isolation and its differential-pressure gauge."""
        i = self.id
        reading(
            net,
            f"{i}.dp",
            "psi",
            0,
            100,
            f"{self.name}: pressure drop across the element.",
            ("unit",),
            (0, 35),
        )
        state_reading(net, f"{i}.isolation", SHUT, f"{self.name}: isolation.", ("unit",), 1.0 if self.in_use else 0.0)
        choice(net, f"{i}.isolation", SHUT, f"{self.name}: isolation valves up and downstream.", ("unit",))
        dirt = component_fault(
            net,
            i,
            "blocked",
            f"{self.name}: element loaded with dirt",
            (f"{i}.dp", "supply.pressure"),
            "Bring the clean filter into use, isolate and bleed this one, change the element.",
        )
        k = CLEAN_FLOW / CLEAN_DROP**0.5
        q = net.edge(f"{i}.through", "supply", "header", filter_flow, k, f"{i}.isolation", dirt)
        net.block(filter_drop, ["supply.p", "header.p", f"{i}.isolation", q], [f"{i}.dp"], rate="observe")


def filter_flow(pu: float, pd: float, k: float, isolation: float, dirt: float) -> tuple[float, float, float]:
    """Flow through the element; at full severity dirt leaves 3 % of the clean flow coefficient."""
    q, gu, gd = orifice(pu, pd, k * isolation * (1.0 - 0.97 * dirt))
    return q, gu, gd


def filter_drop(pu: float, pd: float, isolation: float, q: float) -> float:
    """What the differential gauge reads, Pa: nothing on an isolated filter."""
    return max(pu - pd, 0.0) if isolation > 0.5 and q > 0.0 else 0.0
