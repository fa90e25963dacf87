"""Rows of a planning sheet, and the figures behind them that rules judge."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.planning.accumulators import precharge_at
from trainer.plant.accumulators import Bank
from trainer.plant.functions import Function
from trainer.plant.rig import Plant
from trainer.units import from_unit, to_unit

OVER_PRECHARGE = from_unit(200.0, "psi")


@dataclass(frozen=True, slots=True)
class Row:
    """One figure of the planning sheet in its field unit, with its method and its source."""

    name: str
    value: float
    unit: str
    method: str
    source: str
    places: tuple[str, ...] = ()
    """Places of the plant file whose values it is, or is a sum of."""


class Work:
    """Collects rows and the figures that rules judge, both from one computation."""

    def __init__(self, plant: Plant, low: float | None = None) -> None:
        self.plant = plant
        self.low = lowest(plant) if low is None else low
        """Header pressure (gauge Pa) down to which bottles are used; the filed precharge stays its datum in a rig whose
        bottles have lost some of theirs."""
        self.rows: list[Row] = []
        self.figures: dict[str, float] = {}
        self.methods: dict[str, str] = {}

    def row(
        self, name: str, si: float, unit: str, method: str, source: str, figure: str = "", places: tuple[str, ...] = ()
    ) -> None:
        """Add a row from an SI value; ``figure`` names the quantity when rules judge it."""
        self.rows.append(Row(name, to_unit(si, unit), unit, method, source, places))
        if figure:
            self.figures[figure] = si
            self.methods[figure] = method


def lowest(plant: Plant) -> float:
    """Header pressure (gauge Pa) down to which the bottles are used: 200 psi above every bank's precharge.

    A stack bottle's precharge counts less the head of control fluid above it. The bank that asks for most decides: a
    bank deep in the sea must not lower what the bottles on deck may be drawn to.
    """
    return max(bank.precharge - setting(plant, bank)[0] for bank in mains(plant)) + OVER_PRECHARGE


def preventers(plant: Plant) -> list[Function]:
    """The annulars and rams of a plant, which close on the well, in the plant's order."""
    return [f for f in plant.function if f.kind in ("annular", "pipe_ram", "shear_ram")]


def mains(plant: Plant) -> list[Bank]:
    """Banks that feed the functions: on the surface header and on the stack, not the pilot bottles."""
    return [bank for bank in plant.bank if bank.place != "pilot"]


def setting(plant: Plant, bank: Bank) -> tuple[float, float]:
    """Head (Pa) under which a bank stands and its temperature (K)."""
    return (plant.head, plant.sea_temperature) if bank.place == "stack" else (0.0, plant.surface_temperature)


def weather(plant: Plant, by: float) -> Plant:
    """The rig in weather ``by`` K off, its bottles charged before: their gas goes with it at constant volume."""
    now = plant.surface_temperature + by
    banks = tuple(
        b if b.place == "stack" else b.model_copy(
            update={"precharge": precharge_at(b.precharge, plant.surface_temperature, now)}
        )
        for b in plant.bank
    )  # fmt: skip
    return plant.model_copy(update={"surface_temperature": now, "bank": banks})
