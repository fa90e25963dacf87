"""The schematic follows the plant: any number of pumps, filters, banks and functions, with or without pods."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from playwright.sync_api import Browser

from tests.drawing.conftest import Rig, rig
from tests.drawing.fitted import fitted
from trainer.drawing.cards import card_of
from trainer.drawing.context import DrawingContext
from trainer.drawing.fill_in import fill_in, keys_of
from trainer.drawing.mimic import outlet_row
from trainer.drawing.path_view import runs_of
from trainer.drawing.preview import page, standalone_svg
from trainer.drawing.rig_view import RigView
from trainer.drawing.sample import sample_readings
from trainer.drawing.schematic import schematic_svg
from trainer.drawing.sheet import RUNS, H, W
from trainer.drawing.symbols import BOTTLE
from trainer.hydraulics.machine import Machine
from trainer.plant.rig import Plant


def parts(markup: str) -> list[str]:
    return [str(n.get("data-component")) for n in ET.fromstring(markup).iter() if n.get("data-component")]


def test_every_declared_part_is_drawn_and_can_be_reached_by_keyboard(each: Rig) -> None:
    sheet = ET.fromstring(schematic_svg(each.desk))
    drawn = {node.get("data-component") for node in sheet.iter()}
    seen = each.desk.rig
    wanted = {*each.plant.parts, seen.tank, "relief", "well", "vent"}
    if seen.pods:
        wanted |= {"totaliser", "pod_selector", "shuttle"}
    has = {"eds": each.plant.disconnect, "flex_joint": each.plant.flex_joint, "pilot_check": each.plant.umbilical}
    wanted |= {name for name, table in has.items() if table is not None}
    assert sorted(wanted - drawn) == [], "declared in the plant's file, and not drawn"
    for node in sheet.iter():
        if node.get("data-component"):
            assert (node.get("role"), node.get("tabindex")) == ("button", "0")
            assert node.get("aria-label")


def test_every_declared_part_has_a_card_and_can_fail(each: Rig) -> None:
    """A kind that a plant's file declares is taught, and an instructor can have it fail."""
    failing = {fault.component for fault in each.machine.faults.values()}
    assert [name for name in each.plant.parts if card_of(each.desk.rig, name) is None] == [], "without a card"
    assert sorted(set(each.plant.parts) - failing) == [], "without a fault"


def test_further_panels_are_drawn_and_have_cards() -> None:
    made = fitted("quillback", panels=3)
    test_every_declared_part_is_drawn_and_can_be_reached_by_keyboard(made)
    test_every_declared_part_has_a_card_and_can_fail(made)


def test_a_surface_stack_shows_nothing_of_pods_and_returns_its_fluid() -> None:
    sheet = ET.fromstring(schematic_svg(rig("sandpiper").desk))
    text = " ".join(node.text or "" for node in sheet.iter() if not node.tag.endswith("style")).lower()
    for word in ("pilot", "totaliser", "pod", "sea", "umbilical", "riser"):
        assert word not in text, word
    assert "returns to the tank" in text


def test_what_moves_on_the_sea_floor_moves_on_the_sheet(each: Rig) -> None:
    """Every function has an element, a gate or a latch that follows its position; locks have none."""
    bound = set(keys_of(schematic_svg(each.desk)))
    wanted = {f"{f.id}.position" for f in each.desk.rig.functions if f.kind != "lock"}
    assert sorted(wanted - bound) == []


@pytest.mark.parametrize(("pumps", "filters", "banks"), [(1, 1, 1), (6, 3, 4), (9, 4, 6)])
def test_any_number_of_parts_stays_on_the_sheet(
    plant: Plant, desk: DrawingContext, pumps: int, filters: int, banks: int
) -> None:
    many = {
        kind: tuple(first.model_copy(update={"id": f"{kind}_{i}", "title": f"{kind} {i}"}) for i in range(count))
        for kind, first, count in (
            ("pump", plant.pump[0], pumps),
            ("filter", plant.filter[0], filters),
            ("bank", plant.bank[0], banks),
        )
    }
    markup = schematic_svg(DrawingContext(RigView(plant.model_copy(update=many)), desk.signals))
    assert {f"pump_{i}" for i in range(pumps)} | {f"bank_{i}" for i in range(banks)} <= set(parts(markup))
    for node in ET.fromstring(markup).iter():
        moved = node.get("transform", "")
        if moved.startswith("translate("):
            x, y = (float(v) for v in moved[10:].split(")")[0].split())
            assert -W <= x <= W
            assert -H <= y <= H


def test_a_surface_stack_has_its_regulators_in_line(plant: Plant, desk: DrawingContext) -> None:
    surface = plant.model_copy(update={"subsea": False, "pod": ()})
    drawn = parts(schematic_svg(DrawingContext(RigView(surface), desk.signals)))
    assert not {"pod_yellow", "pod_selector", "shuttle"} & set(drawn)
    assert {"manifold_regulator", "annular_regulator", "upper_pipe_ram"} <= set(drawn)


def test_nothing_true_is_bound_when_the_truth_is_withheld(desk: DrawingContext, machine: Machine) -> None:
    bound = keys_of(schematic_svg(desk, truth=False))
    # What runs in a header is concluded from readings that stand on instruments.
    asked = {tag for key in bound for tag in key.removeprefix(RUNS).split(",")}
    assert [tag for tag in asked if not machine.signals[tag].station] == []
    assert "upper_pipe_ram.position" in keys_of(schematic_svg(desk))


def test_a_full_bottle_is_drawn_full(desk: DrawingContext, machine: Machine) -> None:
    bank = desk.rig.surface_banks[0]
    full = bank.bottles * bank.bottle_volume / 3.785411784e-3  # m3 in the model, gal on the gauge
    filled = fill_in(schematic_svg(desk), sample_readings(machine, changed={f"{bank.id}.fluid": full}))
    node = next(n for n in ET.fromstring(filled).iter() if n.get("data-fill") == f"{bank.id}.fluid")
    assert float(node.get("height", "0")) == pytest.approx(BOTTLE, abs=0.5)


def test_a_closing_ram_moves_towards_the_bore(desk: DrawingContext, machine: Machine) -> None:
    def shift(percent: float) -> float:
        filled = fill_in(schematic_svg(desk), sample_readings(machine, changed={"upper_pipe_ram.position": percent}))
        node = next(n for n in ET.fromstring(filled).iter() if n.get("data-shift") == "upper_pipe_ram.position")
        return float(node.get("transform", "")[10:].split()[0])

    assert shift(0) == 0.0
    assert shift(100) < shift(50) < 0.0


def test_the_printed_sheet_stands_alone(desk: DrawingContext, machine: Machine) -> None:
    text = standalone_svg(desk, sample_readings(machine))
    root = ET.fromstring(text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "<style>" in text
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_the_path_through_a_part_is_what_feeds_it(desk: DrawingContext) -> None:
    assert runs_of(desk, "upper_pipe_ram")[:4] == (
        "suction",
        "supply.pressure",
        "accumulator.pressure",
        "manifold_regulator.readback",
    )
    assert "annular_regulator.readback" in runs_of(desk, "upper_annular")
    assert runs_of(desk, "triplex_1_strainer") == ("suction", "supply.pressure")
    assert runs_of(desk, "well") == ()
    assert "diverter" in runs_of(desk, "port_overboard")
    assert not {"diverter", "pilot"} & set(runs_of(desk, "upper_pipe_ram"))


def test_pointing_at_a_ram_lights_its_supply_and_not_the_annulars(
    browser: Browser, plant: Plant, machine: Machine
) -> None:
    tab = browser.new_page(viewport={"width": 1280, "height": 800})
    try:
        tab.set_content(page(plant, machine, "schematic"))

        def colours(run: str) -> set[str]:
            lines = tab.locator(f".pipe[data-pressure='{run}']")
            return set(lines.evaluate_all("all => all.map(line => getComputedStyle(line).stroke)"))

        rest = colours("manifold_regulator.readback")
        tab.locator(".stack-view [data-component='upper_pipe_ram']").focus()
        tab.keyboard.press("Shift+Tab")
        tab.keyboard.press("Tab")
        lit = colours("manifold_regulator.readback") - rest
        assert len(lit) == 1
        idle = tab.locator(".supply-of-blue .pipe").first.evaluate("line => getComputedStyle(line).stroke")
        assert idle not in lit
        assert not colours("annular_regulator.readback") & lit
    finally:
        tab.close()


def test_outlets_leave_the_bore_where_the_plant_has_them() -> None:
    """Rows of the column after which each outlet leaves: under the lower annular, over and under the lowest ram."""
    rows = {}
    desk = rig("quillback").desk
    names = [f.id for f in desk.rig.column()]
    for line, level in (("choke", "upper"), ("kill", "upper"), ("choke", "lower"), ("kill", "lower")):
        valve = next(v for v in desk.rig.line_valves(line) if level in v.id)
        rows[level, line] = names[outlet_row(desk.rig, valve)]
    assert rows == {
        ("upper", "choke"): "lower_annular",
        ("upper", "kill"): "lower_annular",
        ("lower", "choke"): "middle_pipe_ram",
        ("lower", "kill"): "lower_pipe_ram",
    }
