"""Exercises made from a plant: every part is asked, one answer is right, and traces follow the compiled network."""

from __future__ import annotations

import random
from collections import Counter

from tests.learn.conftest import Place
from trainer.learn.lesson import Lesson
from trainer.learn.path import HEADER, before
from trainer.learn.questions import FEWEST, KINDS


def test_every_part_has_a_card_of_its_own_name(lesson: Lesson) -> None:
    titles = Counter(thing.title for thing in lesson.parts.values())
    assert [title for title, count in titles.items() if count > 1] == []
    assert sum(thing.drawn for thing in lesson.parts.values()) > 50


def test_every_part_is_asked_and_every_kind_of_exercise_comes(lesson: Lesson) -> None:
    keys = lesson.questions.keys
    assert len(keys) == len(set(keys))
    for thing in lesson.parts.values():
        kinds = {key.split()[0] for key in keys if key.split()[1] == thing.id}
        assert {"point", "name", "does"} <= kinds if thing.drawn else "does" in kinds
    assert {key.split()[0] for key in keys} == set(KINDS)


def test_one_answer_is_right_and_none_comes_twice(lesson: Lesson) -> None:
    for key in lesson.questions.keys:
        for lot in (1, 2):
            question = lesson.questions.make(key, random.Random(lot))
            assert question.why
            if question.choices:
                assert len(question.choices) >= FEWEST
                assert len(set(question.choices)) == len(question.choices)
                assert 0 <= question.right < len(question.choices)
            else:
                assert question.kind in ("point", "trace")


def test_wrong_choices_are_wrong(lesson: Lesson) -> None:
    titles = {thing.title: thing for thing in lesson.parts.values()}
    network = lesson.questions.network
    for key in lesson.questions.keys:
        question = lesson.questions.make(key, random.Random(3))
        about = lesson.parts[question.about]
        wrong = [words for at, words in enumerate(question.choices) if at != question.right]
        if question.kind == "name":
            assert about.title == question.choices[question.right]
        elif question.kind == "does":
            assert about.line("What it does") not in wrong
        elif question.kind == "feeds":
            assert titles[question.choices[question.right]].id in network[about.id]
            assert not {titles[words].id for words in wrong} & before(network, about.id)
        elif question.kind == "isolates":
            assert lesson.questions.valves[about.id] == titles[question.choices[question.right]].id


def test_a_gauge_question_has_the_band_of_the_catalogue(place: Place, lesson: Lesson) -> None:
    asked = [key for key in lesson.questions.keys if key.startswith("reads ")]
    assert len(asked) >= 5
    for key in asked:
        question = lesson.questions.make(key, random.Random(4))
        signal = place.desk.signals[str(lesson.parts[question.about].gauge)]
        assert signal.normal is not None
        bands = [tuple(float(word) for word in words.split(" to ")) for words in _bare(question.choices)]
        right = bands.pop(question.right)
        assert all(abs(told - true) <= 0.51 for told, true in zip(right, signal.normal, strict=True))
        assert all(band[0] > right[1] or band[1] < right[0] for band in bands)


def _bare(choices: tuple[str, ...]) -> list[str]:
    return [words.rsplit(" ", 1)[0] for words in choices]


def _reach(place: Place, start: str, barred: set[str]) -> set[str]:
    """Every node that fluid from ``start`` comes to by the compiled edges, not beyond the ``barred`` ones."""
    seen, waiting = {start}, [start]
    while waiting:
        here = waiting.pop()
        for edge in place.machine.net.edges.values():
            if edge.a == here and edge.b not in seen:
                seen.add(edge.b)
                if edge.b not in barred:
                    waiting.append(edge.b)
    return seen


def test_a_function_is_fed_by_the_regulator_of_the_compiled_network(place: Place, lesson: Lesson) -> None:
    edges = place.machine.net.edges
    regulated = {r.id: r.serves for r in place.desk.rig.regulators}
    for function in place.desk.rig.functions:
        nodes = {edge.a for name, edge in edges.items() if name.startswith(f"{function.id}.close.") and ".feed" in name}
        nodes |= {edge.a for name, edge in edges.items() if name == f"{function.id}.close.feed"}
        assert nodes, function.id
        claimed = lesson.questions.network[function.id]
        for node in nodes:
            supply = node.rpartition(".")[2]
            if supply == "supply":  # what no regulator serves comes from the pods themselves
                assert all(part.startswith("pod_") for part in claimed)
            else:
                assert [regulated[part] for part in claimed] == [supply], function.id


def test_every_trace_ends_where_the_compiled_network_begins(place: Place, lesson: Lesson) -> None:
    rig, network = place.desk.rig, lesson.questions.network
    from_tank = _reach(place, rig.tank, {rig.tank, "sea", "ground"})
    for function in rig.functions:
        assert {rig.tank, HEADER} <= before(network, function.id)
        assert f"{function.id}.close" in from_tank
    for pump in rig.pumps:
        assert place.machine.net.edges[f"{pump.id}.delivery"].a == rig.tank
        assert rig.tank in before(network, f"{pump.id}_check")
    for bank in rig.surface_banks:
        assert place.machine.net.edges[f"{bank.id}.port"].a in {"header", "header_a", "header_b"}
        assert HEADER in before(network, bank.id)
    for key in lesson.questions.keys:
        question = lesson.questions.make(key, random.Random(5))
        if question.goal:
            assert question.goal in before(network, question.about)


def test_each_valve_that_isolates_can_be_worked_and_shut(place: Place, lesson: Lesson) -> None:
    for valve in lesson.questions.valves.values():
        operable = place.machine.operables[("set", valve)]
        assert operable.values is not None
        assert {"shut", "close"} & {str(value) for value in operable.values}
