"""Physics held against outside sources, one row a check."""

from __future__ import annotations

from collections.abc import Iterator

from trainer import units
from trainer.bench import criteria, operator, stiff
from trainer.bench.checks import BALANCE, INDEPENDENT, Check
from trainer.fluids import gas
from trainer.plant import rig
from trainer.simulator import Session

ATMOSPHERE_PSI = 14.696
_EOS = "Span et al., J. Phys. Chem. Ref. Data 29 (2000) 1361, equation of state of nitrogen, by CoolProp 8.0.0"


# Density in kg/m3 by absolute pressure (psi) and temperature (°F).
_DENSITIES = (
    (1000, 40, 84.8949),
    (1000, 120, 71.6040),
    (3000, 70, 223.9124),
    (5000, 70, 332.4648),
    (6000, 40, 396.4765),
    (6000, 120, 343.0957),
)

# Precharge, highest and lowest pressure (psi gauge at 70 °F); usable share of the bottle by real gas.
_BOTTLES = (
    (1000, 3000, 1200, 0.47931, 0.23480),
    (1500, 5000, 1800, 0.48272, 0.21095),
)


def _gauge(psi: float) -> float:
    return units.from_unit(psi + ATMOSPHERE_PSI, "psi")


def _nitrogen() -> Iterator[Check]:
    for psi, fahrenheit, expected in _DENSITIES:
        computed = gas.density(units.from_unit(psi, "psi"), units.from_unit(fahrenheit, "degF"))
        yield Check(
            f"nitrogen density at {psi} psia, {fahrenheit} °F", _EOS, expected, computed, 0.0005, "kg/m3", INDEPENDENT
        )
    warm = units.from_unit(70.0, "degF")
    for precharge, high, low, isothermal, adiabatic in _BOTTLES:
        name = f"{precharge}/{high}/{low} psig bottle at 70 °F"
        empty = gas.density(_gauge(precharge), warm)
        full = gas.density(_gauge(high), warm)
        # A bottle's gas fills the share empty/rho of it, so the fluid given is the difference of two shares.
        slow = empty / gas.density(_gauge(low), warm) - empty / full
        yield Check(f"usable share, slow, {name}", _EOS, isothermal, slow, 0.005, "1", INDEPENDENT)
        after, _ = gas.adiabatic_density(warm, full, _gauge(low))
        fast = empty / after - empty / full
        yield Check(f"usable share, isentropic, {name}", _EOS, adiabatic, fast, 0.005, "1", INDEPENDENT)


def _shut_in() -> Iterator[Check]:
    """The simulated kick against handbook arithmetic; formation pressure and influx are the model's truth."""
    session = operator.shut_in()
    machine, shown = session.machine, session.signals()
    well = rig.load_plant(session.identity.plant)[0].well
    mud = units.to_unit(well.mud, "lb/gal")
    column = 0.052 * mud * shown["well.hole_depth"]
    yield Check(
        "formation pressure from SIDPP and the mud column, after a simulated shut-in",
        "IADC formula sheet (2016): formation pressure = 0.052 × lb/gal × ft + SIDPP",
        shown["well.formation_pressure"],
        shown["well.drillpipe_pressure"] + column,
        0.01,
        "psi",
        INDEPENDENT,
    )
    yield Check(
        "pit gain against the influx, after a simulated shut-in",
        "balance of volumes: what came in at the bottom went out into the pit",
        shown["well.influx_volume"],
        shown["well.pit_gain"],
        0.05,
        "bbl",
        BALANCE,
    )
    before = Session.start(operator.DRILL).machine.fluid()
    yield Check(
        f"control fluid in tanks, lines, bottles, chambers and sea after {session.time:g} s of that drill",
        "balance of volumes: what was there at the start",
        before,
        machine.fluid(),
        1e-9,
        "m3",
        BALANCE,
    )


def checks(long: bool = False) -> list[Check]:
    """All checks. ``long`` takes the hour at rest for what it is and adds ten minutes beside a stiff integrator."""
    beside = stiff.checks(600) if long else ()
    return [*_nitrogen(), *_shut_in(), *criteria.criteria(60.0 if long else 1.0), *beside]
