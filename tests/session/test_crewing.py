"""A crew on one run: who may see, work and call what, and evidence that holds who did it and re-computes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.chromium import in_the_long_form
from tests.session.crewed import good, otherwise, without
from trainer.drills import library
from trainer.drills.partners import play_out
from trainer.drills.prepare import prepare
from trainer.drills.schema import DrillError, read_drill
from trainer.records.privacy import without_name
from trainer.reports.content import report
from trainer.session import evidence
from trainer.session.evidence import CrewList, Evidence, Manning
from trainer.session.verify import verify
from trainer.simulator import Session, build, check_drill, rebuilder

KICK = "crew-kick"


def lost(run: Session) -> dict[str, str]:
    """What the run did not earn in full: the reason, by criterion."""
    return {row["id"]: row["reason"] for row in run.sheet()["criteria"] if row["earned"] != row["points"]}


def test_the_good_crew_passes_and_each_member_has_marks() -> None:
    sheet = good(KICK).sheet()
    assert sheet["passed"], sheet["verdict"]
    assert [share["title"] for share in sheet["crew"]] == ["Driller", "Toolpusher", "Subsea engineer"]
    assert all(share["earned"] == share["points"] > 20.0 for share in sheet["crew"])


def test_a_crew_that_repeats_no_call_fails_though_each_deed_was_right() -> None:
    run, refused = otherwise(KICK, without("repeat"))
    assert refused == []
    sheet = run.sheet()
    assert not sheet["passed"]
    assert "Missing: Calls repeated back" in sheet["verdict"]
    assert "not repeated back" in lost(run)["call_kick"]
    assert not sheet["critical"]


def test_a_preventer_called_closed_before_it_closed_is_a_critical_error() -> None:
    def early(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        closes = next(line["t"] for line in lines if line["target"] == "upper_annular")
        asked = ("closed", "open_choke_line")
        return [{**line, "t": closes - 12.0} if line["target"] == asked[0] and line["do"] == "call" else line
                for line in lines if not (line["do"] == "repeat" and line["target"] == asked[0])]  # fmt: skip

    run, _ = otherwise(KICK, early)
    assert [one["id"] for one in run.sheet()["critical"]] == ["false_call"]


def test_who_does_another_members_work_passes_without_its_points() -> None:
    def alone(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [{**line, "by": "driller", "from": "driller"} if str(line["target"]).endswith("_choke") else line
                for line in lines]  # fmt: skip

    run, refused = otherwise(KICK, alone)
    assert refused == []
    assert run.sheet()["passed"]
    assert set(lost(run)) == {"line_by_toolpusher"}


def test_a_choke_line_opened_while_nobody_asked_is_a_critical_error() -> None:
    def early(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
        flows = next(line["t"] for line in lines if line["target"] == "well_flows")
        return [{**line, "t": flows + 1.0} if str(line["target"]).endswith("_choke") else line for line in lines]

    run, _ = otherwise(KICK, early)
    assert "opened_unasked" in [one["id"] for one in run.sheet()["critical"]]


REFUSED = (
    ({"do": "set", "target": "floor.mud_pumps", "value": 0, "from": "floor", "by": "toolpusher"}, "not_yours"),
    ({"do": "set", "target": "upper_annular", "value": "close", "from": "driller", "by": "subsea"}, "not_yours"),
    ({"do": "set", "target": "upper_annular", "value": "close", "from": "driller", "by": "mate"}, "who"),
    ({"do": "set", "target": "upper_annular", "value": "close", "from": "driller"}, "who"),
    ({"do": "call", "target": "have_well", "value": "toolpusher", "by": "driller"}, "not_your_call"),
    ({"do": "call", "target": "open_choke_line", "value": "subsea", "by": "driller"}, "to_nobody"),
    ({"do": "call", "target": "well_flows", "value": "driller", "by": "driller"}, "to_nobody"),
    ({"do": "call", "target": "no_such_call", "value": "subsea", "by": "driller"}, "no_call"),
    ({"do": "repeat", "target": "well_flows", "by": "toolpusher"}, "no_call"),
    ({"do": "read", "target": "sidpp", "value": 400, "by": "toolpusher"}, "not_seen"),
    ({"do": "go", "target": "unit", "by": "driller"}, "stays"),
)


@pytest.fixture(scope="module")
def begun() -> Session:
    return Session.start(KICK)


@pytest.mark.parametrize(("command", "code"), REFUSED, ids=lambda one: one if isinstance(one, str) else one["do"])
def test_what_is_not_ones_own_is_refused_and_leaves_no_trace(
    begun: Session, command: dict[str, Any], code: str
) -> None:
    refused = begun.submit(command)
    assert refused is not None
    assert refused.code == code, refused
    assert begun.log == []


def test_a_call_is_repeated_back_once_and_by_whom_it_went_to() -> None:
    run = Session.start(KICK)
    assert run.submit({"do": "call", "target": "well_flows", "value": "toolpusher", "by": "driller"}) is None
    for by in ("driller", "subsea"):
        assert run.submit({"do": "repeat", "target": "well_flows", "by": by}) is not None
    assert run.submit({"do": "repeat", "target": "well_flows", "by": "toolpusher"}) is None
    assert run.submit({"do": "repeat", "target": "well_flows", "by": "toolpusher"}) is not None
    restored = Session.restore(json.loads(json.dumps(run.snapshot())))
    assert restored.crewing is not None and run.crewing is not None
    assert restored.crewing.line == run.crewing.line
    assert restored.checkpoint() == run.checkpoint()


def test_who_is_alone_names_no_crew() -> None:
    run = Session.start("kick-while-drilling")
    for command in (REFUSED[1][0], REFUSED[4][0]):
        refused = run.submit(command)
        assert refused is not None
        assert refused.code == "no_crew"


def test_evidence_of_one_person_is_written_as_before() -> None:
    run = Session.start("kick-while-drilling", seed=6)
    run.submit({"do": "set", "target": "floor.rotary", "value": 0, "from": "floor"})
    document = run.evidence()
    assert document["version"] == 2
    assert "crew" not in document
    assert set(document["log"][0]) == {"tick", "do", "target", "value", "from", "refused", "link"}
    assert "crew" not in document["sheet"]
    assert all("post" not in row for row in document["sheet"]["criteria"])
    assert not {"called", "repeated", "hand"} & run.referee.state().keys()


PEOPLE = CrewList(
    post="driller",
    people=[
        Manning(post="driller", name="A. Example", role="trainee"),
        Manning(post="toolpusher", name="B. Example", role="trainee"),
        Manning(post="subsea"),
    ],
)


def test_evidence_says_who_did_what_and_re_computes() -> None:
    made = evidence.make(good(KICK), name="A. Example", crew=PEOPLE)
    kept = evidence.parse(json.dumps(made.record()))
    verdict = verify(kept, rebuilder())
    assert verdict.ok, verdict.reason
    assert kept.version == evidence.CREW_FORMAT
    assert kept.crew is not None and [one.name for one in kept.crew.people] == ["A. Example", "B. Example", ""]
    assert {entry.by for entry in kept.log} == {"driller", "toolpusher", "subsea"}
    other = evidence.make(good(KICK), name="B. Example", crew=PEOPLE.model_copy(update={"post": "toolpusher"}))
    assert evidence.run_hash(made) != evidence.run_hash(other)


def test_a_report_names_each_station_with_who_was_there_and_what_was_earned() -> None:
    facts = dict(report(evidence.make(good(KICK), name="A. Example", crew=PEOPLE)).facts)
    assert facts["Driller (own station)"] == "A. Example: 43 of 43 points"
    assert facts["Subsea engineer"] == "computer: 22 of 22 points"


def test_a_name_that_is_taken_out_is_taken_off_the_crew_list_too() -> None:
    kept = json.dumps(evidence.make(good(KICK), name="B. Example", crew=PEOPLE).record())
    assert "B. Example" not in without_name(kept, "B. Example", "Person 2")[0]
    verdict = verify(evidence.parse(without_name(kept, "B. Example", "Person 2")[0]), rebuilder())
    assert verdict.ok, verdict.reason


def resealed(document: dict[str, Any]) -> Evidence:
    """The document sealed anew by somebody who changed it."""
    entries = [evidence.SealedEntry.model_validate(entry) for entry in document["log"]]
    links = evidence.chain(evidence.head_hash(document), [*entries])
    for entry, link in zip(document["log"], links, strict=True):
        entry["link"] = link
    return Evidence.model_validate({**document, "seal": evidence.seal_of(document, links).model_dump()})


def test_a_deed_written_to_another_member_does_not_verify() -> None:
    document = evidence.make(good(KICK), crew=PEOPLE).record()
    at = next(n for n, entry in enumerate(document["log"]) if entry["target"] == "upper_inner_choke")
    document["log"][at] |= {"by": "driller", "from": "driller"}
    verdict = verify(resealed(document), rebuilder())
    assert verdict.seal
    assert not verdict.states
    document = evidence.make(good(KICK), crew=PEOPLE).record()
    document["crew"]["people"][1]["name"] = "C. Example"
    broken = verify(Evidence.model_validate(document), rebuilder())
    assert "the head" in broken.reason
    document["crew"]["people"][1]["post"] = "mate"
    assert "a post that the drill does not have" in verify(resealed(document), rebuilder()).reason


DRILLS = sorted(library.crewed())


def test_there_are_six_crew_drills_each_with_a_part_for_every_post() -> None:
    assert len(DRILLS) >= 6
    for name in DRILLS:
        drill = library.load_file(library.find(name))
        assert check_drill(library.find(name)) == []
        assert {part.post for part in drill.part} == {post.id for post in drill.post}
        assert {row.post for row in drill.criterion} == {post.id for post in drill.post} | {None}


@pytest.mark.parametrize("drill", [name for name in DRILLS if name != KICK])
def test_the_good_crew_of_each_drill_passes_and_one_that_repeats_nothing_fails(drill: str) -> None:
    sheet = good(drill, 3).sheet()
    assert sheet["passed"] and sheet["score"] > 97.0, sheet["verdict"]
    assert all(share["earned"] >= 0.9 * share["points"] for share in sheet["crew"])
    run, _ = otherwise(drill, without("repeat"), 3)
    assert not run.sheet()["passed"]
    assert "Calls repeated back" in run.sheet()["verdict"]


Lines = list[dict[str, object]]
CHOKE = "crew-choke-panel"


def figured(do: str, call: str, figure: float) -> Callable[[Lines], Lines]:
    """The change by which another figure is told, or repeated back, in a call."""
    return lambda lines: [
        {**line, "figure": figure} if (line["do"], line["target"]) == (do, call) else line for line in lines
    ]


def put_right(lines: Lines) -> Lines:
    """The toolpusher repeats a wrong figure; the choke operator tells it again, and it comes back right."""
    told, back = (next(line for line in lines if (line["do"], line["target"]) == (do, "sidpp_is"))
                  for do in ("call", "repeat"))  # fmt: skip
    again = [{**line, "t": float(str(line["t"])) + 8.0} for line in (told, back)]
    return [*figured("repeat", "sidpp_is", 250.0)(lines), *again]


def test_a_figure_that_came_back_wrong_and_was_put_right_costs_half_of_its_points() -> None:
    run, refused = otherwise(CHOKE, put_right)
    assert refused == []
    sheet = run.sheet()
    assert sheet["passed"]
    assert set(lost(run)) == {"sidpp_told"}
    assert "Corrected: it was repeated back as 250 psi" in lost(run)["sidpp_told"]


def test_a_figure_that_came_back_wrong_and_stays_so_fails_and_the_sheet_says_what_was_told_and_repeated() -> None:
    run, refused = otherwise(CHOKE, figured("repeat", "sidpp_is", 250.0))
    assert refused == []
    assert not run.sheet()["passed"]
    told = next(entry.figure for entry in run.log if entry.target == "sidpp_is")
    assert re.match(
        rf"{told:.0f} psi reported at .* repeated back at .* as 250 psi and not corrected", lost(run)["sidpp_told"]
    )
    assert "repeated back as 250 psi" in lost(run)["repeated"]


def test_a_figure_given_in_another_unit_system_comes_back_as_told() -> None:
    def in_bar(lines: Lines) -> Lines:
        return [{**line, "figure": f"{float(str(line['figure'])) / 14.50377:.1f} bar"}
                if (line["do"], line["target"]) == ("repeat", "sidpp_is") else line for line in lines]  # fmt: skip

    run, refused = otherwise(CHOKE, in_bar)
    assert refused == []
    assert set(lost(run)) == set()


def test_a_false_figure_that_the_choke_operator_gives_in_to_fails() -> None:
    def gives_in(lines: Lines) -> Lines:
        return [{**line, "figure": 250.0, "t": float(str(line["t"])) + shift} for shift in (0.0, 8.0) for line in lines
                if line["target"] == "sidpp_is" and (line["do"], shift) != ("call", 0.0)] + [
                    line for line in lines if line["target"] != "sidpp_is" or line["do"] == "call"]  # fmt: skip

    run, refused = otherwise(CHOKE, gives_in)
    assert refused == []
    assert not run.sheet()["passed"]
    assert "where the instrument showed" in lost(run)["sidpp_told"]


def test_an_order_to_bleed_given_before_the_well_is_shut_in_lets_nobody_open_the_choke() -> None:
    """The same order and the same opening pass once the pressures have built up and were read: the good crew's."""

    def too_soon(lines: Lines) -> Lines:
        order = [
            {**line, "t": t} for t, line in zip((2.0, 4.0), (x for x in lines if x["target"] == "bleed"), strict=True)
        ]
        choke = next(line for line in lines if line["target"] == "floor.choke")
        opened = [{**choke, "t": 70.0, "value": 30.0}, {**choke, "t": 125.0, "value": 0.0}]
        return [*lines, *order, *opened]

    run, refused = otherwise(CHOKE, too_soon)
    assert refused == []
    assert "Choke opened without an order" in run.sheet()["verdict"]


def test_the_computer_tells_a_figure_again_that_came_back_wrong() -> None:
    run = Session.start(CHOKE)
    play_out(run, ("driller", "choke", "toolpusher"), 238.4)
    while not any(entry.target == "sidpp_is" for entry in run.log):
        play_out(run, ("driller", "choke", "toolpusher"), run.time + 0.1)
    assert run.submit({"do": "repeat", "target": "sidpp_is", "by": "toolpusher", "figure": 250}) is None
    play_out(run, ("driller", "choke", "toolpusher"), 1800.0)
    told = [entry for entry in run.log if entry.target == "sidpp_is"]
    assert [entry.do for entry in told] == ["call", "repeat", "call", "repeat"]
    assert told[0].figure == told[2].figure == told[3].figure
    assert run.sheet()["passed"]
    assert "Corrected" in lost(run)["sidpp_told"]


def test_a_call_with_a_figure_has_one_and_others_have_none() -> None:
    run = Session.start(CHOKE)
    told = {"do": "call", "target": "sidpp_is", "value": "toolpusher", "by": "choke"}
    words = {"do": "call", "target": "choke_shut", "value": "driller", "by": "choke"}
    for command, code in (
        (told, "no_value"),
        ({**told, "figure": ""}, "no_value"),
        ({**told, "figure": "many"}, "wrong_unit"),
        ({**told, "figure": "12 ft"}, "wrong_unit"),
        ({**told, "figure": True}, "no_command"),
        ({**told, "figure": 500, "by": "driller"}, "not_your_call"),
        ({**words, "figure": 500}, "takes_no_value"),
    ):
        refused = run.submit(command)
        assert refused is not None
        assert refused.code == code, refused
    assert run.log == []
    assert run.submit({**told, "figure": "35.9 bar"}) is None
    assert run.log[0].figure == pytest.approx(520.7, abs=0.1)
    assert run.submit({"do": "repeat", "target": "sidpp_is", "by": "toolpusher"}) is not None


def test_evidence_of_figures_re_computes_and_a_figure_written_anew_does_not() -> None:
    run, _ = otherwise(CHOKE, put_right)
    document = json.loads(json.dumps(evidence.make(run).record()))
    verdict = verify(evidence.parse(json.dumps(document)), rebuilder())
    assert verdict.ok, verdict.reason
    assert all(("figure" in entry) == (entry["target"] in ("sidpp_is", "sicp_is", "bled_is", "gain_is"))
               for entry in document["log"])  # fmt: skip
    wrong = next(entry for entry in document["log"] if entry.get("figure") == 250.0)
    wrong["figure"] = next(entry["figure"] for entry in document["log"] if entry["target"] == "sidpp_is")
    assert not verify(resealed(document), rebuilder()).ok


def test_a_run_with_figures_goes_on_from_its_snapshot() -> None:
    run = good(CHOKE)
    again = Session.restore(json.loads(json.dumps(run.snapshot())))
    assert again.checkpoint() == run.checkpoint()
    assert again.sheet() == run.sheet()
    assert again.crewing is not None and run.crewing is not None
    assert again.crewing.line == run.crewing.line


def earlier(target: str, than: str, by: float = 1.0) -> Callable[[Lines], Lines]:
    """The change by which something is done before something else: by so many seconds."""

    def change(lines: Lines) -> Lines:
        at = next(float(str(line["t"])) for line in lines if line["target"] == than) - by
        return [{**line, "t": at} if line["target"] == target and line["do"] != "repeat" else line for line in lines]

    return change


def sooner(target: str, by: float) -> Callable[[Lines], Lines]:
    """The change by which all that is done to a control is done so many seconds before its time."""
    return lambda lines: [
        {**line, "t": float(str(line["t"])) - by} if line["target"] == target else line for line in lines
    ]


def by_another(target: str, post: str, station: str) -> Callable[[Lines], Lines]:
    """The change by which another member does something, at another station."""
    return lambda lines: [
        {**line, "by": post, "from": station} if line["target"] == target and line["do"] in ("set", "push") else line
        for line in lines
    ]


def instead(call: str, other: str) -> Callable[[Lines], Lines]:
    """The change by which another call is made, and repeated back."""
    return lambda lines: [{**line, "target": other} if line["target"] == call else line for line in lines]


NEAR_MISSES = (
    ("crew-disconnect", earlier("disconnect", "make_ready", -1.0), "Disconnect ordered on red"),
    ("crew-disconnect", without("call", "disconnect"), "Sequence started without the order"),
    ("crew-disconnect", instead("disconnect", "ride"), "Sequence started without the order"),
    ("crew-dead-panels", without("call", "close_lever"), "Lever operated without an order"),
    ("crew-dead-panels", without("go"), "Annular closed"),
    ("crew-dead-panels", without("read"), "Flow count read"),
    ("crew-annular-leaks", without("set", "middle_pipe_ram"), "Closing called while the well flowed"),
    ("crew-annular-leaks", instead("leaks", "well_static"), "Leak called"),
    ("crew-annular-leaks", without("call", "close_ram"), "Another preventer ordered"),
    ("crew-trip-kick", without("set", "floor.safety_valve"), "Annular closed on an open string"),
    ("crew-trip-kick", instead("flows", "drains"), "Flow of the well called"),
    ("crew-trip-kick", earlier("upper_annular", "stab"), "String shut before the annulus"),
    (CHOKE, figured("repeat", "sidpp_is", 250.0), "SIDPP reported and repeated back"),
    (CHOKE, figured("call", "sicp_is", 300.0), "SICP reported and repeated back"),
    (CHOKE, without("read", "sheet_sidpp"), "SIDPP on the kill sheet"),
    (CHOKE, sooner("floor.choke", 40.0), "Choke opened without an order"),
)


@in_the_long_form
@pytest.mark.parametrize(("drill", "change", "why"), NEAR_MISSES, ids=lambda one: one if isinstance(one, str) else "")
def test_a_dangerous_near_miss_of_the_crew_fails(drill: str, change: Callable[[Lines], Lines], why: str) -> None:
    run, _ = otherwise(drill, change, 3)
    sheet = run.sheet()
    assert not sheet["passed"]
    assert why in sheet["verdict"], sheet["verdict"]


RIGHT_TOO = (
    ("crew-kick", by_another("upper_annular", "toolpusher", "remote")),
    ("crew-disconnect", by_another("eds.start", "toolpusher", "remote")),
    ("crew-annular-leaks", by_another("middle_pipe_ram", "toolpusher", "remote")),
    ("crew-trip-kick", by_another("upper_annular", "toolpusher", "remote")),
    ("crew-dead-panels", lambda lines: [line for line in lines if line["target"] != "suspended"]),
    (CHOKE, by_another("upper_annular", "toolpusher", "remote")),
)


@in_the_long_form
@pytest.mark.parametrize(("drill", "change"), RIGHT_TOO, ids=lambda one: one if isinstance(one, str) else "")
def test_another_way_that_is_right_too_passes(drill: str, change: Callable[[Lines], Lines]) -> None:
    run, refused = otherwise(drill, change, 3)
    assert refused == []
    assert run.sheet()["passed"], run.sheet()["verdict"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('wait = "90 s"', 'wait = "-90 s"', "part[10].wait: given -90 s; a wait is zero or longer"),
        ('do = "read"\ntarget = "readback"', 'do = "read"\ntarget = "sidpp"', "not shown at the post 'subsea'"),
        ('target = "floor.rotary"\nvalue = 0', 'target = "floor.rotary"\nvalue = "fast"', "part[2].value: "),
        ('target = "floor.rotary"\nvalue = 0', 'target = "floor.rotary"\nvalue = inf', "part[2].value: "),
        ('target = "floor.rotary"', 'at = "unit"\ntarget = "floor.rotary"', "'driller' does not stand at 'unit'"),
    ],
)
def test_what_the_good_crew_cannot_do_is_a_fault_of_its_drill(old: str, new: str, said: str) -> None:
    text = library.crewed()[KICK].read_text("utf-8")
    assert text.count(old) >= 1
    with pytest.raises(DrillError, match=re.escape(said)):
        prepare(read_drill(text.replace(old, new, 1)), build("quillback"))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('figure = "sidpp"', 'figure = "sidp"', "call[8]: figure: there is no [[reading]] 'sidp'"),
        ('call = "choke_shut"', 'call = "gain_is"', "the call 'gain_is' carries a figure; use kind = 'figure'"),
        ('call = "gain_is"', 'call = "choke_shut"', "'choke_shut' carries no figure"),
        ('tolerance = "1 bbl"', 'tolerance = "1 psi"', "tolerance: "),
        (
            'post = "choke"\nwhen = "noted(sidpp)"',
            'post = "toolpusher"\nwhen = "noted(sidpp)"',
            "not shown at the post",
        ),
        ('heard = "bled_is"', 'heard = "bleed"', "there is no [[call]] 'bleed' with a figure"),
        ('target = "sheet_sidpp"\nheard = "bled_is"', 'target = "sheet_sidpp"', "no instrument shows 'sheet_sidpp'"),
    ],
)
def test_a_figure_that_no_one_can_tell_is_a_fault_of_its_drill(old: str, new: str, said: str) -> None:
    text = library.crewed()[CHOKE].read_text("utf-8")
    assert text.count(old) >= 1
    with pytest.raises(DrillError, match=re.escape(said)):
        prepare(read_drill(text.replace(old, new, 1)), build("quillback"))
