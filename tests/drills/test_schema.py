"""Drill files: every fault at once, with its place, what was expected and how to mend it."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import get_args

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.drills.fake import FakeMachine
from tests.drills.test_runner import TEXT
from trainer import resources
from trainer.drills import library
from trainer.drills.criteria_schema import Criterion
from trainer.drills.language import FUNCTIONS
from trainer.drills.prepare import prepare
from trainer.drills.schema import DrillError, json_schema, read_drill
from trainer.session import actions
from trainer.session.script import play
from trainer.simulator import Session, build, check_drill, drill_hints

PUBLISHED = resources.assets() / "schema" / "drill.schema.json"


def faults(text: str) -> list[str]:
    with pytest.raises(DrillError) as caught:
        prepare(read_drill(text, "small.toml"), FakeMachine(), "small.toml")
    return [str(problem) for problem in caught.value.problems]


def test_the_published_schema_is_the_models() -> None:
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == json_schema()


def test_the_published_schema_accepts_a_good_drill_and_refuses_a_bad_one() -> None:
    schema = json.loads(PUBLISHED.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    drill = tomllib.loads(TEXT)
    jsonschema.validate(drill, schema)
    drill["criterion"][0]["kind"] = "guess"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(drill, schema)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'level = "beginner"',
            'level = "expert"',
            "level: given 'expert'; expected 'beginner', 'competent'",
        ),
        ('full = "30 s"', "full = 30", "criterion[1].full: given 30; 30 has no unit, but a time is expected"),
        ('full = "30 s"', 'fulll = "30 s"', "criterion[1].fulll: unknown key; did you mean full?"),
        (
            'kind = "order"',
            'kind = "sequence"',
            "criterion[2]: there is no such kind; kinds are reach",
        ),
        ('kind = "order"\n', "", "criterion[2]: missing 'kind'"),
        ('text = "The well flows."\n', "", "statement[1].text: missing; add 'text'."),
        ('id = "big_kick"', 'id = "Big Kick"', "critical[1].id: given 'Big Kick'; an id is small letters"),
        ('settle = "2 s"', 'setle = "2 s"', "initial.setle: unknown key; did you mean settle?"),
        ("minutes = 2", "minutes = 0", "minutes: given 0; input should be greater than 0"),
        ("[initial]", "[initial", "is not TOML"),
    ],
)
def test_faults_of_form(old: str, new: str, said: str) -> None:
    assert TEXT.count(old) >= 1
    assert any(said in fault for fault in faults(TEXT.replace(old, new, 1)))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("well.pit_gain > 0.5 bbl", "well.pit_gian > 0.5 bbl", "milestone[1].when: the plant has no reading"),
        ("well.pit_gain > 0.5 bbl", "well.pit_gain > 5 psi", "is a volume but 5 psi is a pressure"),
        ("well.pit_gain > 0.5 bbl", "well.pit_gain > 500 bbl", "can never be true within the ranges"),
        (
            'fault = "well.kick"',
            'fault = "well.kik"',
            "event[1].fault: there is no fault 'well.kik'",
        ),
        ('at = "vary.kick_at"', 'at = "20 psi"', "event[1].at: expected a time"),
        (
            'at = "vary.kick_at"',
            'at = "3 s"\nwhen = "t > 4 s"',
            "event[1]: give either at or when",
        ),
        ('fault = "well.kick"\nover = "5 s"\ntell', "title2", "event[1].title2: unknown key"),
        (
            'from = "kick"\nfull',
            'from = "kik"\nfull',
            "criterion[1].from: there is no milestone 'kik'",
        ),
        ('zero = "90 s"', 'zero = "20 s"', "criterion[1].zero: comes before the time"),
        ('tolerance = "25 psi"', 'tolerance = "25 gal"', "criterion[4].tolerance: expected a pressure"),
        (
            'statement = "well_flows"',
            'statement = "flows"',
            "criterion[5].statement: there is no statement",
        ),
        (
            'of = ["totaliser.count"]',
            'of = ["totaliser"]',
            "criterion[6].of: there is no reading",
        ),
        ('zero = "40 gal"', 'zero = "40 s"', "criterion[7].zero: expected a volume"),
        ('high = "20 s"', 'high = "20 gal"', "vary[1].high: 10 s and 20 gal are not of the same dimension."),
        ('high = "20 s"\n', "", "vary[1]: give both low and high, or one_of."),
        (
            '"ram.valve" = "open"',
            '"ram.valve" = "ajar"',
            "initial.values.ram.valve: given 'ajar'",
        ),
        (
            '"ram.valve" = "open"',
            '"ram.vale" = "open"',
            "initial.values.ram.vale: the plant has no",
        ),
        (
            'target = "ram"',
            'target = "rma"',
            "caution[1].target: the plant cannot set 'rma'",
        ),
        (
            'id = "all_well"',
            'id = "well_flows"',
            "statement[2].id: 'well_flows' is used twice",
        ),
        (
            "minutes = 2",
            'minutes = 2\nrules = ["disconnect_started", "disconnect_started"]',
            "critical[3].id: 'disconnect_started' is used twice",
        ),
        ("required = true\n", "", "criterion: No must-pass criterion. Add required = true to at least one."),
        (
            'tag = "well.casing_pressure"',
            'tag = "well.casing"',
            "reading[1].tag: there is no reading",
        ),
        ('steps = ["kick",', 'steps = ["kik",', "criterion[2].steps: there is no milestone 'kik'"),
        ('needs = ["shut_in"]', 'needs = ["shut"]', "criterion[3].needs: there is no milestone 'shut'"),
    ],
)
def test_faults_against_the_plant(old: str, new: str, said: str) -> None:
    assert TEXT.count(old) >= 1
    assert any(said in fault for fault in faults(TEXT.replace(old, new, 1)))


def test_a_depth_that_the_well_cannot_begin_with_is_told() -> None:
    text, plant = library.find("kick-while-drilling").read_text(encoding="utf-8"), build("quillback")
    for old, new, said in (
        ('low = "9600 ft"', 'low = "600 ft"', "initial.depth: 'vary.depth' is not always between 6,828 ft and"),
        ('depth = "vary.depth"', 'depth = "200 psi"', "initial.depth: expected a length"),
        ('depth = "vary.depth"', 'bit = "vary.depth"', "initial.bit: drilling begins with the bit on bottom"),
    ):
        assert text.count(old) == 1
        with pytest.raises(DrillError, match=re.escape(said)):
            prepare(read_drill(text.replace(old, new)), plant)


def test_all_faults_come_at_once() -> None:
    text = TEXT.replace("well.pit_gain > 0.5 bbl", "well.gain > 5 psi").replace('"25 psi"', '"25 gal"')
    text = text.replace('fault = "well.kick"', 'fault = "kick"').replace('id = "all_well"', 'id = "well_flows"')
    assert len(faults(text)) == 5  # the statement is missing too, for the one criterion that names it


@given(st.text(max_size=300))
def test_any_text_gives_a_drill_or_one_error(text: str) -> None:
    with pytest.raises(DrillError) as caught:
        read_drill(text)
    assert caught.value.problems


@given(st.integers(0, len(TEXT) - 1), st.integers(1, 40), st.text(max_size=12))
def test_a_damaged_file_gives_a_drill_or_an_error(place: int, length: int, put: str) -> None:
    text = TEXT[:place] + put + TEXT[place + length :]
    try:
        drill = read_drill(text)
        prepare(drill, FakeMachine())
    except DrillError as error:
        assert all(str(problem) for problem in error.problems)
        return
    assert drill.criterion


def test_the_library_names_the_nearest_drill() -> None:
    with pytest.raises(DrillError, match="there is no such drill; did you mean kick-while-drilling"):
        library.find("kick-while-driling")


def test_the_file_is_called_as_the_drill(tmp_path: Path) -> None:
    path = tmp_path / "other.toml"
    path.write_text(TEXT, encoding="utf-8")
    with pytest.raises(DrillError, match=r"call the file small\.toml"):
        library.load_file(path)
    good = path.with_name("small.toml")
    good.write_text(TEXT, encoding="utf-8")
    assert library.load_file(good).id == "small"
    assert library.check(good, lambda _: FakeMachine()) == []
    assert [str(p) for p in library.check(path, lambda _: FakeMachine())]
    bad = path.with_name("bad.toml")
    bad.write_bytes(b"\xff\xfe\x00")
    assert "UTF-8" in str(library.check(bad, lambda _: FakeMachine())[0])


def test_the_drill_of_the_tutorial_works(tmp_path: Path) -> None:
    """A reader who does as the page says gets a sound drill that the good file passes with its own seed alone."""
    page = (resources.scenarios().parent / "assets" / "docs" / "write-a-drill.md").read_text(encoding="utf-8")
    text, lines = (page.split(f"```{kind}\n")[1].split("```")[0] for kind in ("toml", "jsonl"))
    path = tmp_path / "close-and-prove.toml"
    path.write_text(text, encoding="utf-8")
    assert check_drill(path) == [] and drill_hints(path) == []
    told = re.findall(r"`Gauge: ([^`]+)`", page)
    count, readback = told
    for entered in (("0 gal", "0 psi"), (count, readback)):
        session = Session.start(path, seed=3)
        script = lines.replace("0 gal", entered[0]).replace("0 psi", entered[1])
        commands = actions.parse(script, "good.jsonl", session.machine, session.words)
        assert play(session, commands) == []
        reasons = " ".join(row["reason"] for row in session.sheet()["criteria"])
        assert f"Gauge: {count}" in reasons and f"Gauge: {readback}" in reasons
    assert session.finished and session.sheet()["score"] == 100.0
    other = Session.start(path, seed=6)
    play(other, commands)
    assert other.finished and not other.sheet()["passed"]
    idle = Session.start(path, seed=4)
    idle.advance(300.0)
    assert idle.finished and not idle.sheet()["passed"]


def test_the_tutorial_names_every_kind_and_every_function() -> None:
    page = (resources.scenarios().parent / "assets" / "docs" / "write-a-drill.md").read_text(encoding="utf-8")
    kinds = [get_args(model.model_fields["kind"].annotation)[0] for model in get_args(get_args(Criterion)[0])]
    assert [kind for kind in kinds if f"| `{kind}` |" not in page] == []
    assert [name for name in FUNCTIONS if f"`{name}" not in page] == []


NO_TALK = {
    "follow-the-fluid": "a lesson in parts, alone",
    "mux-first-look": "one person works one small valve and reads its answer",
    "name-the-parts": "a lesson in parts, alone",
    "pressure-switch-fault": "read at the unit, reported by the diagnosis alone",
    "regulator-setting": "one person sets two regulators",
    "surface-first-function-test": "one person works three preventers from one panel",
}
"""Drills in which nothing hangs on how people speak with each other."""


def test_where_people_and_talk_matter_an_assessor_judges_by_three_levels() -> None:
    for drill in library.all_drills().values():
        assessed = [one for one in drill.criterion if one.kind == "assess"]
        if drill.id in NO_TALK:
            assert not assessed, f"{drill.id} is assessed: take it out of the list"
            continue
        assert assessed, f"{drill.id}: no criterion is left to an assessor"
        for one in assessed:
            assert one.levels and len(set(one.levels)) == 3, f"{drill.id}: {one.id} describes no three levels"
            assert not one.required, "the machine alone cannot give what only a person can"
