"""The hydraulic control manifold: supply, dual header, pilot supply, and the leaks and gauges of the unit.

The pilot supply branches off the header through its fine filter and a check valve, behind which the pilot bottles
keep it when the mains are lost; the surface pilot regulator reduces it for the pilot manifold.
"""

from __future__ import annotations

from typing import Annotated

from trainer.constants import ATMOSPHERE
from trainer.hydraulics.laws import check, drain, opened, relief
from trainer.hydraulics.network import Network
from trainer.hydraulics.ports import gives
from trainer.hydraulics.storage import Line
from trainer.plant.base import PSI, Part, component_fault, gauge, reading, state_reading
from trainer.plant.handwork import RELIEF, SECOND, WEEPS, hand_valve
from trainer.units import Coefficient, Flow, Number, Pressure, Volume, between

LITRE = 1.0e-3
"""m3; the manifold's volumes are in its multiples, invented for 2 in pipe."""
WALLS = 3.2e9
"""What steel walls, fittings and entrained air give, as a modulus: with water about 1.3 GPa together (invented)."""
HEADER_K = 1.2e-4
"""Header isolation and cross-over valves, full-bore 2 in: Cv about 160. Common practice."""
RELIEF_K = 2.0e-6
"""m3/(s sqrt(Pa)) of the main relief valve, 2.6 Cv: it passes what all pumps give (common practice)."""
PILOT_K = 4.0e-7
"""m3/(s sqrt(Pa)) of the pilot line past its filter, 0.53 Cv. Invented."""
LEAK_K = 1.5e-7
"""m3/(s sqrt(Pa)) of the worst leak of the manifold, 0.2 Cv. Invented."""

GAUGE_TOP, GAUGE_OF = 5000, 4000
"""psi at the end of the unit's gauges, and the highest working pressure (psi) that they serve; above it, twice as far.
Common practice: a gauge works in its middle."""


def stiff(bulk: float, walls: float = WALLS) -> float:
    """Modulus (Pa) of fluid of modulus ``bulk`` within ``walls``: compliances add (Korteweg)."""
    return 1.0 / (1.0 / bulk + 1.0 / walls)


class Supply(Part):
    """The supply: working pressure of the accumulators and the system relief valve (gauge)."""

    relief_pressure: Annotated[Pressure, between("300 psi", "12000 psi")]
    working_pressure: Annotated[Pressure, between("300 psi", "10000 psi")]
    relief_capacity: Annotated[Coefficient, between("0.05 Cv", "50 Cv")] = RELIEF_K
    """Flow coefficient of the system relief valve, full open."""

    def build(
        self,
        net: Network,
        start: float,
        modulus: float,
        pilot_filter: str = "",
        dual: bool = False,
        pilot: bool = True,
    ) -> None:
        """Add supply line, header and pilot supply at ``start`` (Pa absolute), relief and check valves, gauges.

        ``modulus`` (Pa) is that of fluid and walls; ``pilot_filter`` is the id of the filter in the pilot supply;
        ``dual`` adds two headers that the banks stand on, each behind its valve, with a cross-over between them;
        ``pilot`` adds the pilot supply, which direct hydraulics has not.
        """
        net.node("supply", Line(20 * LITRE, modulus, start))
        net.node("header", Line((20 if dual else 60) * LITRE, modulus, start))
        if dual:
            for half in ("a", "b"):
                name = f"Header {half.upper()}, isolation valve"
                meaning = f"Header {half.upper()}: isolation valve to the manifold."
                hand_valve(net, f"header_{half}.isolation", meaning, locks=name)
                net.node(f"header_{half}", Line(20 * LITRE, modulus, start))
                valve = f"header_{half}.isolation"
                net.edge(f"header_{half}.join", "header", f"header_{half}", opened, dict(k=HEADER_K, x=valve))
            hand_valve(
                net, "header.crossover", "Cross-over valve between the two headers.", 0.0, "Header cross-over valve"
            )
            net.edge("header.across", "header_a", "header_b", opened, dict(k=HEADER_K, x="header.crossover"))
        self._relief(net)
        if pilot:
            self._pilot(net, start, modulus, pilot_filter)
        self._leaks(net, pilot)
        net.var("accumulator.true", start - ATMOSPHERE, "Pa")
        net.block(true_gauge, inputs=dict(pressure="header.p"), outputs=dict(true="accumulator.true"))
        self._gauges(net, pilot, round(self.working_pressure / PSI))

    def _pilot(self, net: Network, start: float, modulus: float, pilot_filter: str) -> None:
        net.node("pilot_supply", Line(10 * LITRE, modulus, start))
        net.node("pilot", Line(10 * LITRE, modulus, start))
        back = component_fault(
            net,
            "pilot_check",
            "leaks_back",
            "Pilot supply check valve leaks back",
            ("pilot_bottles.pressure", "pilot_bottles.precharge"),
            "Restore the main accumulators; replace the check valve.",
        )
        through = f"{pilot_filter}.k" if pilot_filter else 1.0e-3
        net.edge(
            "pilot_check.flow",
            "header",
            "pilot_supply",
            filtered_check,
            dict(k=PILOT_K, element=through, severity=back),
        )

    def _relief(self, net: Network) -> None:
        group = net.group("relief", awake=0.0)
        early = component_fault(
            net,
            "relief",
            "lifts_early",
            "System relief valve lifts early",
            ("accumulator.pressure", "supply.pressure", "triplex_1.running"),
            "Hear it pass to the tank; stop the pumps and see the pressure hold; reset or replace the relief valve.",
        )
        net.edge(
            "relief.flow",
            "supply",
            "tank",
            early_relief,
            dict(k=self.relief_capacity, opens=self.relief_pressure, early=early),
            group=group,
        )
        reading(net, "relief.flow", "gpm", 0, 40, "Flow through the system relief valve, back to the tank.", ())
        meaning = "System relief valve: what is seen and heard at it."
        state_reading(net, "relief.passing", RELIEF, meaning, ("unit",))
        net.block(
            passing,
            inputs=dict(q="relief.flow.q", awake="relief.awake"),
            outputs=dict(flow="relief.flow", seen="relief.passing"),
            rate="observe",
            gate=SECOND,
        )
        net.block(
            may_lift,
            inputs=dict(p="supply.p", opens=self.relief_pressure, early=early),
            outputs=dict(awake="relief.awake"),
        )

    def _leaks(self, net: Network, pilot: bool) -> None:
        places = (("header", "Accumulator header"), ("pilot", "Pilot manifold"))
        for name, title in places if pilot else places[:1]:
            shown = "accumulator.pressure" if name == "header" else "pilot.pressure"
            leak = component_fault(
                net,
                name,
                "leak",
                f"{title} leaks at the unit",
                (shown, "tank.level", "triplex_1.running"),
                "Fluid on the deck and pressure falling with no flow count: isolate, bleed, then tighten or replace.",
            )
            net.edge(
                f"{name}.leak",
                name,
                "ground",
                leak_out,
                dict(k=LEAK_K, severity=leak, held=f"{name}.v"),
                fault=f"{name}.leak",
            )

    def _gauges(self, net: Network, has_pilot: bool, working: int) -> None:
        top = GAUGE_TOP if working <= GAUGE_OF else 2 * GAUGE_TOP
        both = ("unit", "driller")
        discharge, head = "Pump discharge pressure, before the filters.", "unit.accumulator_gauge"
        gauge(net, "supply.pressure", "supply.p", top, discharge, ("unit",), against=head)
        stored = "Accumulator header: what is stored and ready."
        gauge(
            net,
            "accumulator.pressure",
            "header.p",
            top,
            stored,
            both,
            (round(0.85 * working), working + 50),
            against=head,
        )
        pilot = "Pilot manifold: what shifts the valves subsea."
        if has_pilot:
            gauge(net, "pilot.pressure", "pilot.p", top, pilot, both, (2400, 3050), against="unit.pilot_gauge")
        dials = (
            ("unit.accumulator_gauge", "header", "accumulator header"),
            ("unit.pilot_gauge", "pilot", "pilot manifold"),
        )
        for tag, node, word in dials if has_pilot else dials[:1]:
            reading(net, tag, "psi", 0, top, f"Gauge at the unit on the {word}, without a transducer.", ("unit",))
            net.block(dial, inputs=dict(pressure=f"{node}.p"), outputs=dict(reading=tag), rate="observe", gate=SECOND)


@gives("true")
def true_gauge(pressure: Pressure) -> Pressure:
    """Pressure above atmosphere, Pa, of an absolute one; negative under vacuum."""
    return pressure - ATMOSPHERE


@gives("reading")
def dial(pressure: Pressure) -> Pressure:
    """What a Bourdon gauge shows of an absolute pressure, Pa above atmosphere, never below 0."""
    return max(pressure - ATMOSPHERE, 0.0)


@gives("flow", "seen")
def passing(q: Flow, awake: Number) -> tuple[Flow, Number]:
    """Flow through a relief valve, m3/s, and 1 where it is enough to be seen and heard."""
    return max(q, 0.0), (1.0 if awake > 0.5 and q > WEEPS else 0.0)


@gives("awake")
def may_lift(p: Pressure, opens: Pressure, early: Number) -> Number:
    """1 while the relief valve may lift: over its setting ``opens`` (Pa), or when a fault lifts it early; else 0."""
    return 1.0 if p > opens or early > 0.0 else 0.0


def early_relief(
    pu: Pressure, pd: Pressure, k: Coefficient, opens: Pressure, early: Number
) -> tuple[float, float, float]:
    """System relief valve; at full severity of its fault it lifts at 60 % of its setting."""
    q, gu, gd = relief(pu, pd, k, opens * (1.0 - 0.4 * early), 0.05 * opens)
    return q, gu, gd


def filtered_check(
    pu: Pressure, pd: Pressure, k: Coefficient, element: Coefficient, severity: Number
) -> tuple[float, float, float]:
    """Check valve (``k``) behind a filter (``element``), joined as k' = k kf / (k + kf), never above either.

    At full severity a tenth of its flow passes back.
    """
    both = k * element / (k + element)
    q, gu, gd = check(pu, pd, both, 0.0, 0.1 * both * severity)
    return q, gu, gd


def leak_out(pu: Pressure, pd: Pressure, k: Coefficient, severity: Number, held: Volume) -> tuple[float, float, float]:
    """Flow of a leak at the unit to the deck, m3/s, with its slopes; nothing without pressure."""
    q, gu, gd = drain(pu, pd, k * severity, held, LITRE)
    return q, gu, gd


def return_line(pu: Pressure, pd: Pressure, k: Coefficient, x: Number) -> tuple[float, float, float]:
    """Flow of a vented line back to the tank, m3/s, with its slopes: it runs only that way."""
    q, gu, gd = check(pu, pd, k * x, 0.0, 0.0)
    return q, gu, gd


__all__ = ["PSI", "Supply", "return_line"]
