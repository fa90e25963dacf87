"""What the drawings look for in a plant: its parts by kind and by place, in the order of the plant file."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.plant.accumulators import Bank
from trainer.plant.attachment import Attachment
from trainer.plant.filters import Filter
from trainer.plant.functions import Function
from trainer.plant.pods import Pod
from trainer.plant.pumps import Pump
from trainer.plant.regulators import Regulator
from trainer.plant.rig import Plant


@dataclass(frozen=True, slots=True)
class RigView:
    """The declared parts of ``plant`` by what drawings ask for: read from the declaration itself, nothing is copied."""

    plant: Plant

    @property
    def id(self) -> str:
        """Id of the plant, which is the name of its file: what pages and addresses call it."""
        return self.plant.id

    @property
    def title(self) -> str:
        """Title of the plant as people read it, from the plant's file."""
        return self.plant.title

    @property
    def well_name(self) -> str:
        """Name of the well as briefings say it; empty where the plant's file gives none."""
        return self.plant.well_name

    @property
    def subsea(self) -> bool:
        """Whether the stack stands on the sea floor, and so is worked through pods; else at the surface."""
        return self.plant.subsea

    @property
    def tank(self) -> str:
        """Id of the mixed-fluid tank, by which its level and its drain are named."""
        return self.plant.reservoir.id

    @property
    def pumps(self) -> tuple[Pump, ...]:
        """The pumps of the unit, electric and air-driven, in the order of the plant's file."""
        return self.plant.pump

    @property
    def filters(self) -> tuple[Filter, ...]:
        """The filters of the unit, in the pump discharge and in the pilot supply, in the order of the plant's file."""
        return self.plant.filter

    @property
    def banks(self) -> tuple[Bank, ...]:
        """All accumulator banks, on the surface, for the pilots and on the stack, in the order of the plant's file."""
        return self.plant.bank

    @property
    def regulators(self) -> tuple[Regulator, ...]:
        """All regulators, whatever they serve and wherever they stand, in the order of the plant's file."""
        return self.plant.regulator

    @property
    def pods(self) -> tuple[Pod, ...]:
        """The pods in the order of the plant's file; empty for a stack at the surface, which has none."""
        return self.plant.pod

    @property
    def functions(self) -> tuple[Function, ...]:
        """All functions in the order of the plant's file, which need not be that of the stack."""
        return self.plant.function

    @property
    def attached(self) -> tuple[Attachment, ...]:
        """The parts that hang on the unit, each kind whole in one module of ``plant/attached``; mostly none."""
        return self.plant.attached

    @property
    def levers(self) -> tuple[Function, ...]:
        """The functions that have a control valve with a lever at the unit."""
        return tuple(f for f in self.functions if not self.plant.ordered(f))

    def functions_of(self, *kinds: str) -> tuple[Function, ...]:
        """The functions of these kinds in the order of the plant's file; empty where there is none of them."""
        return tuple(f for f in self.functions if f.kind in kinds)

    def line_valves(self, line: str) -> tuple[Function, ...]:
        """The valves of the choke or kill line, in the order of the plant file."""
        return tuple(f for f in self.functions if f.line == line)

    @property
    def surface_banks(self) -> tuple[Bank, ...]:
        """The main accumulator banks on the header at the surface, in the order of the plant's file."""
        return tuple(b for b in self.banks if b.place == "surface")

    @property
    def pilot_banks(self) -> tuple[Bank, ...]:
        """The bottles that are kept for the pilot supply alone; empty where the main header feeds it."""
        return tuple(b for b in self.banks if b.place == "pilot")

    @property
    def stack_banks(self) -> tuple[Bank, ...]:
        """The bottles that stand on the stack, in the order of the plant's file; empty without any."""
        return tuple(b for b in self.banks if b.place == "stack")

    @property
    def main_filters(self) -> tuple[Filter, ...]:
        """The filters in the discharge of the pumps, through which all of the main supply comes."""
        return tuple(f for f in self.filters if f.place != "pilot")

    @property
    def pilot_filters(self) -> tuple[Filter, ...]:
        """The filters in the pilot supply, behind its regulator; empty where pilots are not piloted by fluid."""
        return tuple(f for f in self.filters if f.place == "pilot")

    @property
    def pilot_regulators(self) -> tuple[Regulator, ...]:
        """The regulators of the pilot supply, which stand at the unit; empty without a pilot supply."""
        return tuple(r for r in self.regulators if r.serves == "pilot")

    @property
    def power_regulators(self) -> tuple[Regulator, ...]:
        """The regulators of the fluid that works the functions: neither of the pilots nor of the diverter."""
        return tuple(r for r in self.regulators if r.serves not in ("pilot", "diverter"))

    @property
    def diverter_regulators(self) -> tuple[Regulator, ...]:
        """The regulators of the diverter's own supply, which stand at the unit; empty without a diverter."""
        return tuple(r for r in self.regulators if r.serves == "diverter")

    def diverter(self) -> tuple[Function, ...]:
        """The diverter's functions, the packer first, then its valves; empty for a rig without a diverter."""
        return (*self.functions_of("diverter_packer"), *self.functions_of("diverter_valve"))

    def joining(self, pod: str) -> Function | None:
        """The connector that holds the pod of this id to the stack; None where the plant has none for it."""
        return next((f for f in self.functions if f.joins == pod), None)

    def isolating(self, bank: str) -> Function | None:
        """The function that shuts the bank of this id off; None where only a hand valve does."""
        return next((f for f in self.functions if f.isolates == bank), None)

    def listed(self) -> tuple[Function, ...]:
        """Functions that the sheet lists below the column: locks, pod connectors, isolations, choke and kill valves."""
        placed = {f.id for f in self.diverter()}
        aside = tuple(f for f in self.aside() if f.id not in placed)
        return (*self.others(), *aside, *self.line_valves("kill"), *self.line_valves("choke"))

    def column(self) -> tuple[Function, ...]:
        """Everything stacked on the well, top down by its height: connectors of riser above, of the wellhead below."""
        top = tuple(f for f in self.functions if f.kind == "connector" and "riser" in f.id)
        bottom = tuple(f for f in self.functions if f.kind == "connector" and "wellhead" in f.id)
        body = tuple(sorted(self.functions_of("annular", "shear_ram", "pipe_ram"), key=lambda function: function.below))
        annulars = tuple(f for f in body if f.kind == "annular")
        # The riser parts from the stack below the upper annular: the lower riser package carries that one.
        if len(annulars) > 1 and top:
            rest = tuple(f for f in body if f is not annulars[0])
            return (annulars[0], *top, *rest, *bottom)
        return (*top, *body, *bottom)

    def others(self) -> tuple[Function, ...]:
        """Functions that are neither in the column nor choke or kill valves nor seldom used."""
        placed = {f.id for f in (*self.column(), *self.aside())}
        return tuple(f for f in self.functions if f.id not in placed and not f.line)

    @property
    def holds_enable(self) -> bool:
        """Whether Enable is held with one hand: so on panels whose orders are messages."""
        return self.plant.telemetry is not None

    def aside(self) -> tuple[Function, ...]:
        """Functions for which a hand seldom reaches: the diverter's, the pods' connectors, plain isolations."""
        placed = {f.id for f in self.column()}
        seldom = ("diverter_packer", "diverter_valve", "connector", "unlatch", "valve")
        return tuple(f for f in self.functions if f.id not in placed and f.kind in seldom and not f.line)
