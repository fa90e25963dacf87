"""Fitting a plant file: parts come and go, faults are told in the plant's own words, drills say whom they suit."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from trainer.cli import app
from trainer.planning import sheet_out
from trainer.planning.draft import Draft
from trainer.planning.errors import PlanningError
from trainer.planning.origin import origin
from trainer.planning.suited import suited, tried, unfit
from trainer.plant.rig import build_machine, load_plant, plant_path
from trainer.session import actions
from trainer.session.script import play
from trainer.simulator import Session

ACTIONS = Path(__file__).parents[1] / "drills" / "actions" / "kick-while-drilling.good.jsonl"


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TRAINER_PLANTS", str(tmp_path / "plants"))
    return tmp_path / "plants"


def fitted() -> Draft:
    draft = Draft.open("quillback")
    draft.rename("my_rig", "My rig")
    draft.put("bank.bank_a.bottles", "25")
    draft.add("function", "test_ram", "lower_pipe_ram")
    draft.put("function.test_ram.below", "12 ft")
    return draft


def test_a_bottle_and_a_function_more_and_a_drill_runs_on_it(own: Path) -> None:
    draft = fitted()
    assert draft.faults() == []
    assert draft.save() == own / "my_rig.toml"
    plant, _ = load_plant("my_rig")
    assert plant.base == "quillback"
    assert [bank.bottles for bank in plant.bank if bank.id == "bank_a"] == [25]
    session = Session.start("kick-while-drilling", plant="my_rig")
    assert ("set", "test_ram") in session.machine.operables
    play(session, actions.read(ACTIONS, session.machine, session.words))
    assert session.sheet()["passed"]


def test_comments_and_order_stay() -> None:
    text = fitted().text()
    assert "# before 90 % of working pressure" in text
    assert text.index("[reservoir]") < text.index("[supply]")
    assert tomllib.loads(text)["water_depth"] == "1650 ft"


def test_differences_are_by_part() -> None:
    told = {d.place: (d.base, d.now) for d in fitted().differences()}
    assert told["bank.bank_a.bottles"] == (
        str(tomllib.loads(plant_path("quillback").read_text())["bank"][0]["bottles"]),
        "25",
    )
    assert told["function.test_ram.kind"] == (None, "pipe_ram")
    assert told["base"] == (None, "quillback")
    assert not Draft.open("quillback").differences()
    gone = Draft.open("quillback")
    gone.remove("filter", "filter_2")
    assert all(d.now is None and "taken out" in d.sentence() for d in gone.differences())


@pytest.mark.parametrize(
    ("place", "value", "told"),
    [
        ("water_depth", "8 gal", "water_depth: '8 gal' is a volume, but a length is expected"),
        ("bank.bank_b.bottles", "0", "bank.bank_b.bottles: "),
        ("function.upper_annular.supply", "steam", "'upper_annular' is fed from 'steam'"),
        ("well.colour", "blue", "well.colour: "),
        ("supply.working_pressure", "", "supply.working_pressure: "),
    ],
)
def test_faults_are_the_plants_own(place: str, value: str, told: str) -> None:
    draft = Draft.open("quillback")
    draft.put(place, value)
    assert any(told in line for line in draft.faults()), draft.faults()
    with pytest.raises(PlanningError, match="not saved while it has faults"):
        draft.save(Path("quillback.toml"))


def test_wrong_orders_are_one_sentence(own: Path) -> None:
    draft = Draft.open("quillback")
    for order, told in (
        (lambda: draft.put("bank.moon.bottles", "3"), "there is no 'bank.moon'"),
        (lambda: draft.add("bank", "Bank C"), "is no id"),
        (lambda: draft.add("bank", "bank_a"), "already"),
        (lambda: draft.add("bank", "bank_c", "moon"), "there are: bank_a, bank_b"),
        (lambda: draft.add("wheel", "wheel_1"), "no parts of the kind 'wheel'"),
        (lambda: draft.remove("pump", "moon"), "there are: triplex_1"),
        (lambda: draft.rename("My Rig"), "is no plant id"),
        (lambda: draft.save(), "is a shipped plant"),
        (lambda: draft.save(Path("other.toml")), "call it quillback.toml"),
    ):
        with pytest.raises(PlanningError, match=told):
            order()
    assert not own.exists()


def test_a_shipped_name_cannot_be_taken(own: Path) -> None:
    own.mkdir(parents=True)
    (own / "quillback.toml").write_text("id = 'nothing'")
    assert load_plant("quillback")[0].id == "quillback"


def test_drills_say_why_not() -> None:
    draft = Draft.open("quillback")
    draft.rename("no_annular")
    draft.remove("function", "upper_annular")
    assert draft.faults() == ["plant: [disconnect] moves 'upper_annular', which is no function"]
    del draft.document["disconnect"]
    plant = draft.plant()
    rows = {row.drill: row for row in suited(build_machine(plant), plant.id, plant.base)}
    assert rows["kick-while-drilling"].outcome == "does not suit"
    assert any("Upper annular" in why for why in rows["kick-while-drilling"].why)
    other = suited(build_machine(load_plant("sandpiper")[0]), "sandpiper")
    assert any("it is written for quillback" in row.why for row in other)


def test_command(own: Path) -> None:
    done = CliRunner().invoke(
        app,
        ["fit", "quillback", "--id", "deep", "--set", "water_depth=2000 ft", "--set", "umbilical.length=2200 ft",
         "--add", "bank:bank_c", "--json"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    assert document["saved"] == str(own / "deep.toml")
    assert {"place": "water_depth", "base": "1650 ft", "now": "2000 ft"} in document["differences"]
    bad = CliRunner().invoke(app, ["fit", "--set", "water_depth=8 gal"])
    assert bad.exit_code == 1
    assert "a length is expected" in bad.stdout
    assert isinstance(CliRunner().invoke(app, ["fit", "--set", "water_depth"]).exception, PlanningError)


@pytest.mark.parametrize("base", ["quillback", "sandpiper"])
def test_a_rig_without_a_diverter(base: str) -> None:
    draft = Draft.open(base)
    draft.rename("no_diverter")
    draft.remove("table", "diverter")
    assert draft.faults() == []
    plant = draft.plant()
    assert not [r for r in plant.regulator if r.serves == "diverter"]
    assert plant.diverter is None and not [f for f in plant.function if f.place == "diverter"]
    rows, left = tried(plant), unfit(plant)
    # The first page leaves out, without building a machine, what cannot start.
    lacking = {row.drill for row in rows if row.why and row.why[0].startswith("this rig has not what")}
    assert set(left) == lacking and "diverter-function-test" in left
    for row in rows:
        # What was taken out is named, not each place of the drill file that misses it.
        if row.drill == "diverter-function-test" or (row.drill == "shallow-gas" and base == "quillback"):
            assert row.why[0].startswith("this rig has not what the drill works with: Diverter") and len(row.why) == 1
    with pytest.raises(PlanningError, match="'well' cannot be taken out; these can: "):
        draft.remove("table", "well")


def test_a_fitted_file_remembers_what_was_given(own: Path) -> None:
    """Also a value that is the base's; a copied part's values are the base's until they are given."""
    draft = Draft.open("sandpiper")
    draft.rename("mine")
    rate = str(draft.data()["pump"][0]["rate"])
    draft.put("pump.triplex_1.rate", rate)
    draft.put("air.supply_pressure", "121 psi")
    draft.add("bank", "bank_z")
    draft.put("bank.bank_z.bottles", "7")
    again = Draft.open(str(draft.save()))
    found = origin(again.text())
    assert {"pump.triplex_1.rate", "air.supply_pressure", "bank.bank_z.bottles"} <= found.given
    assert found.kind(["pump.triplex_1.rate"]) == "manufacturer's figure"
    assert found.kind(["pump.air_pump_1.rate"]) == found.kind(["bank.bank_z.precharge"]) == "from Sandpiper, not given"
    assert found.kind(["pump.triplex_1.rate", "pump.air_pump_1.rate"]) == "partly from Sandpiper, not given"
    again.remove("bank", "bank_z")
    assert "bank_z" not in again.text() and "# given: pump.triplex_1.rate" in again.text()
    sheet = sheet_out.make("mine", None, engine=False)
    kinds = {row.name: sheet_out.marked(row, sheet.origin) for row in sheet.rows}
    assert kinds["Working pressure"] == "from Sandpiper, not given"
    assert kinds["Blind shear ram: shear pressure, no well pressure"] == "assumption"
    assert dict(sheet_out.title_block(sheet, "2026-01-31"))["Fitted from"].startswith("Sandpiper, an invented rig")
    rows = {row[0]: row for row in sheet_out.inputs(sheet)}
    assert f"rate {rate}" in rows[str(draft.data()["pump"][0]["title"])][1] and "area ratio 60" in rows["Air pump 1"][2]
    assert "shear pressure 1900 psi" in rows["Blind shear ram"][3]
