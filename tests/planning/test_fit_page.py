"""What the page that fits a rig asks and is told, without a browser."""

from __future__ import annotations

from typing import Any

import pytest

from trainer.console import moment, own
from trainer.drills import library
from trainer.planning import fit_page
from trainer.planning.draft import Draft
from trainer.planning.errors import PlanningError
from trainer.planning.optional import open_keys, sample
from trainer.plant.rig import load_plant
from trainer.units import show

ADD = ["add", "function", "test_ram", "lower_pipe_ram"]


def drafted(*orders: Any, name: str = "my_rig") -> Draft:
    return fit_page.drafted("quillback", name, "My rig", list(orders))


def test_a_sound_plant_is_drawn_at_once_with_its_differences() -> None:
    answer = fit_page.state(drafted(ADD, ["put", "bank.bank_a.bottles", "9"]), "driller", "light")
    assert answer["faults"] == []
    assert any(line.startswith("bank.bank_a.bottles: 9, was") for line in answer["differences"])
    assert "Test ram" in answer["drawing"]
    assert "0 psi</" not in answer["drawing"].split("Accumulator")[0][-400:]


def test_a_fault_has_its_place_and_no_drawing() -> None:
    answer = fit_page.state(drafted(["put", "bank.bank_a.precharge", "8 gal"]), "schematic", "dark")
    assert [fault["place"] for fault in answer["faults"]] == ["bank.bank_a.precharge"]
    assert "8 gal" in answer["faults"][0]["text"]
    assert answer["drawing"] == ""


def test_every_value_of_the_file_has_its_field() -> None:
    shown = str(fit_page.form(drafted(ADD)))
    plant, _ = load_plant("quillback")
    for bank in plant.bank:
        assert f'data-place="bank.{bank.id}.bottles"' in shown
    for place in ("water_depth", "well.mud", "supply.working_pressure", "function.test_ram.close_volume"):
        assert f'data-place="{place}"' in shown, place
    assert 'data-remove="function" data-part="test_ram"' in shown
    assert 'data-place="id"' not in shown


def test_what_is_shown_is_escaped() -> None:
    shown = str(fit_page.form(drafted(["put", "function.upper_annular.title", '"><b>Annular']))).lower()
    assert "<b>" not in shown


@pytest.mark.parametrize(
    ("orders", "told"),
    [
        (["nonsense"], "could not be read"),
        ([["put", "bank.bank_z.bottles", "3"]], "there is no"),
        ([["add", "bank", "Bank C", "bank_a"]], "is no id"),
        ([["remove", "bank", "bank_z"]], "there is no bank"),
        ([["fly", "bank"]], "could not be read"),
        ([["put", "water_depth", "1 ft"]] * 2001, "too many"),
    ],
)
def test_orders_that_do_not_go_are_told(orders: list[Any], told: str) -> None:
    with pytest.raises(PlanningError, match=told):
        drafted(*orders)


@pytest.mark.parametrize("base", ["../secret.toml", "/etc/plant.toml", "a/b"])
def test_no_file_of_the_servers_is_a_base(base: str) -> None:
    with pytest.raises(PlanningError, match="choose one from the list"):
        fit_page.drafted(base, "my_rig", "", [])


def test_trainees_of_a_class_choose_fitted_rigs_but_do_not_fit_them() -> None:
    mine = [own.OwnFile("my_rig.toml", "plant", "My rig", "quillback")]
    assert own.fitted_section([], [], False) is None
    assert 'href="/fit"' in str(own.fitted_section([], [], True))
    shown = str(own.fitted_section(mine, [], False))
    assert "Practise on My rig" in shown
    assert "/fit" not in shown
    every = list(library.all_drills().values())
    less = [own.OwnFile("my_rig.toml", "plant", "My rig", "quillback", unfit={"kick-while-drilling": "Choke"})]
    shown = str(own.fitted_section(less, every, False))
    assert 'value="kick-while-drilling"' not in shown and "Not on this rig: " in shown and "(no Choke)" in shown


def test_what_a_part_may_say_and_does_not_is_offered_empty_with_what_holds_without_it() -> None:
    shown = str(fit_page.form(drafted()))
    place = 'data-place="function.upper_annular.collar_factor" value=""'
    assert place in shown
    assert 'placeholder="3"' in shown.split(place)[1].split(">")[0]
    assert 'data-place="well.slug" value=""' in shown and 'placeholder="200 ft"' in shown
    # A choice is offered as one.
    choice = shown.split('<select data-place="filter.filter_1.place">')[1].split("</select>")[0]
    assert "not said: discharge" in choice and '<option value="pilot">' in choice
    assert "More of upper_annular" not in shown and "More of function.upper_annular" in shown
    assert 'data-place="well_name"' in shown and 'data-place="condition"' not in shown
    assert shown.count('data-place="base"') == shown.count('data-place="id"') == 0


def test_an_optional_key_is_checked_written_and_taken_back_as_typed() -> None:
    place = "bank.bank_a.relaxation"
    added = fit_page.state(drafted(["put", place, "60 s"]), "unit", "light")
    assert added["faults"] == []
    assert f"{place}: new, 60 s" in added["differences"]
    wrong = fit_page.state(drafted(["put", place, "sixty"]), "unit", "light")
    assert [fault["place"] for fault in wrong["faults"]] == [place]
    assert "sixty" in wrong["faults"][0]["text"]
    gone = drafted(["put", place, "60 s"], ["put", place, ""])
    assert fit_page.state(gone, "unit", "light")["differences"] == []
    # Text stays text though it looks like a number, and a list is one though a single name is typed.
    draft = drafted(["put", "well_name", "42"], ["put", "function.upper_annular.locks", "upper_pipe_ram"])
    assert draft.data()["well_name"] == "42"
    part = next(one for one in draft.data()["function"] if one["id"] == "upper_annular")
    assert part["locks"] == ["upper_pipe_ram"]


def test_a_table_that_the_file_does_not_have_begins_with_its_first_key() -> None:
    assert 'data-place="floor.stand_length"' in str(fit_page.form(drafted()))
    draft = drafted(["put", "floor.trip_speed", "1 m/s"])
    assert draft.data()["floor"] == {"trip_speed": "1 m/s"}
    assert draft.faults() == []


def test_no_place_is_offered_where_the_file_has_none() -> None:
    assert open_keys("moon", ()) == open_keys("bank", ()) == open_keys("water_depth", ()) == []
    assert sample("moon.bank_a.bottles") is None


def test_a_further_panel_is_added_fitted_drawn_and_taken_out() -> None:
    adds = [["add", "panel", "escape_panel", ""], ["put", "panel.escape_panel.gauges", "accumulator.pressure"]]
    draft = drafted(*adds, ["put", "panel.escape_panel.load", "1.2 A"])
    shown = str(fit_page.form(draft))
    assert 'data-place="panel.escape_panel.functions"' in shown and 'data-remove="panel"' in shown
    supply = shown.split('<select data-place="panel.escape_panel.supply">')[1].split("</select>")[0]
    assert 'selected="selected">the unit&#x27;s battery' in supply or "the unit's battery" in supply
    assert "What it can carry, with ids" in shown and "air.pressure" in shown
    answer = fit_page.state(draft, "third", "light")
    assert answer["faults"] == [] and "Escape panel" in answer["drawing"] and "third" in answer["boards"]
    assert draft.plant().battery_load == pytest.approx(9.2)
    wrong = fit_page.state(drafted(*adds, ["put", "panel.escape_panel.functions", "moon"]), "third", "light")
    assert "functions names 'moon'" in wrong["faults"][0]["text"]
    gone = drafted(*adds, ["remove", "panel", "escape_panel"])
    assert gone.plant().panel == () and "third" not in fit_page.state(gone, "third", "light")["boards"]


LEFT_OUT = [["remove", "table", "acoustic"], ["remove", "table", "emergency"], ["remove", "table", "rov"]]
BY_MESSAGES = {
    "one pod": [["remove", "pod", "blue"], ["remove", "function", "blue_pod_connector"]],
    "three pods": [["add", "pod", "white", ""]],
    "no locks": [*LEFT_OUT, ["remove", "function", "ram_locks"]],
    "no disconnect": [["remove", "table", "position"], ["remove", "table", "disconnect"]],
    "no back-ups": [*LEFT_OUT, ["remove", "table", "position"], ["remove", "table", "disconnect"]],
    "a step later, a step less": [
        ["put", "disconnect.sequence.pipe.step.9.at", "20 s"],
        ["remove", "row", "disconnect.sequence.pipe.step.1"],
    ],
    "a fifth sequence": [
        ["add", "row", "disconnect.sequence", ""],
        ["put", "disconnect.sequence.secured_2.title", "Well secured, slow"],
        ["put", "disconnect.sequence.secured_2.done", "30 s"],
        ["put", "disconnect.sequence.secured_2.step.10.at", "20 s"],
    ],
    "the deadman locks nothing": [["remove", "row", "emergency.step.2"]],
    "one port less for the vehicle": [
        ["remove", "row", "rov.port.3"],
        ["put", "rov.port.0.label", "Shear ram"],
    ],
    "another order of the stack": [["move", "function", "casing_shear_ram", "up"]],
    "a panel on the bridge": [["add", "panel", "bridge", ""]],
    "slow messages, wide conduits": [["put", "telemetry.cable", "0.9 s"], ["put", "conduits.supply_bore", "3 in"]],
    "one bus": [["put", "pump.triplex_2.bus", ""], ["put", "pump.triplex_3.bus", ""]],
}
"""What may be fitted from a rig whose orders are messages."""


@pytest.mark.parametrize("change", BY_MESSAGES)
def test_a_rig_with_orders_by_message_is_fitted(change: str) -> None:
    draft = fit_page.drafted("wentletrap", "my_rig", "", BY_MESSAGES[change])
    answer = fit_page.state(draft, "driller", "light")
    assert answer["faults"] == [] and answer["differences"] and "answered" in str(answer["drawing"])
    assert all(draft.plant().ordered(f) or f.place == "diverter" for f in draft.plant().function)


def test_another_order_of_the_stack_changes_heights_and_stays_on_its_part() -> None:
    def order(draft: Draft) -> list[str]:
        stack = [f for f in draft.plant().function if f.kind in ("annular", "shear_ram", "pipe_ram")]
        return [f.id for f in sorted(stack, key=lambda f: f.below)]

    before = order(fit_page.drafted("wentletrap", "my_rig", "", []))
    after = order(fit_page.drafted("wentletrap", "my_rig", "", [["move", "function", "casing_shear_ram", "up"]]))
    assert before[2:4] == ["blind_shear_ram", "casing_shear_ram"] and after[2:4] == before[3:1:-1]
    assert sorted(before) == sorted(after) and after[4:] == before[4:]
    back = fit_page.drafted("wentletrap", "my_rig", "", [["move", "function", "casing_shear_ram", way]
                                                         for way in ("up", "down")])  # fmt: skip
    assert order(back) == before
    with pytest.raises(PlanningError, match="top one of its stack"):
        fit_page.drafted("wentletrap", "my_rig", "", [["move", "function", "blind_shear_ram", "up"]])
    with pytest.raises(PlanningError, match="no annular or ram"):
        fit_page.drafted("wentletrap", "my_rig", "", [["move", "function", "ram_locks", "up"]])


def test_rows_of_a_table_have_fields_and_a_way_out_and_in() -> None:
    shown = str(fit_page.form(fit_page.drafted("wentletrap", "my_rig", "", [])))
    for place in ("disconnect.sequence.pipe.step.0.at", "emergency.step.1.function", "rov.port.3.label"):
        assert f'data-place="{place}"' in shown
    assert 'data-part="disconnect.sequence.pipe.step.13"' in shown and "Move casing_shear_ram up in the stack" in shown
    for wrong, told in (
        (["add", "row", "disconnect", ""], "no list"),
        (["remove", "row", "emergency.step.9"], "there is no '9'"),
        (["move", "function", "moon", "up"], "no annular"),
        (["move", "function", "test_ram", "over"], "could not be read"),
    ):
        with pytest.raises(PlanningError, match=told):
            fit_page.drafted("wentletrap", "my_rig", "", [wrong])
    late = [["put", "disconnect.sequence.pipe.step.0.at", "30 s"]]
    faults = fit_page.state(fit_page.drafted("wentletrap", "my_rig", "", late), "driller", "light")["faults"]
    assert "out of order" in str(faults)


def test_what_telemetry_needs_is_asked_for_by_name() -> None:
    shown = str(fit_page.form(fit_page.drafted("wentletrap", "my_rig", "", [])))
    for words in ("Controllers and telemetry", "Conduits to the pods", "Time in which an answer is due"):
        assert words in shown
    wrong = fit_page.drafted("wentletrap", "my_rig", "", [["put", "telemetry.answer", "2 psi"]])
    assert "telemetry.answer" in str(fit_page.state(wrong, "driller", "light")["faults"])


def test_a_first_part_is_offered_only_where_it_can_be_added() -> None:
    shown = str(fit_page.form(fit_page.drafted("sandpiper", "my_rig", "", [])))
    assert 'data-add="panel"' in shown and 'data-add="restrictor"' in shown and 'data-add="pod"' not in shown
    for kind in ("panel", "restrictor"):
        first = fit_page.drafted("sandpiper", "my_rig", "", [["add", kind, "a_first", ""]])
        assert fit_page.state(first, "schematic", "light")["faults"] == []


def test_a_drill_on_an_own_rig_is_told_with_its_own_well() -> None:
    """The name of the base's well is not this rig's, and the depth is the drill's."""
    base, drill = load_plant("sandpiper")[0], library.all_drills()["surface-kick-while-drilling"]
    mine = base.model_copy(update={"well_name": "Test well", "title": "Mine", "base": "sandpiper"})
    told = moment.on_own_rig(drill.initial.text, mine, base, drill, "field")
    assert "on Test well" in told and base.well_name not in told
    assert told.endswith(f"the file of Mine has {show(base.well.depth, 'ft')}.")
    unnamed = moment.on_own_rig("At Cordgrass 1.", mine.model_copy(update={"well_name": ""}), base, drill, "metric")
    assert unnamed.startswith("At your well.") and " m." in unnamed


def test_the_preview_shows_the_filed_fluid() -> None:
    draft = fit_page.drafted("sandpiper", "my_rig", "", [["put", "reservoir.mixed_volume", "300 gal"]])
    assert "240.0 gal" in fit_page.state(draft, "schematic", "light")["drawing"]
