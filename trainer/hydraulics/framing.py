"""Loads what flat code reads and stores what it writes; what only gated parts use, only when their gate is on.

Most functions of a stack are at rest most of the time: their hundred variables each are then not even loaded.
"""

from __future__ import annotations

import re


def framed(body: list[str], names: dict[str, int], gate_of: dict[str, str]) -> list[str]:
    """``body`` with loads before and stores after it.

    ``names`` gives each variable's place in the state list ``s``; ``gate_of`` the gate (or nothing) behind each switch
    that an ``if`` line of the body tests.
    """
    tagged = _gated(body, gate_of)
    load, keep = _loads_and_stores(tagged, names)
    first: dict[int, str] = {}
    for at, (_, gate) in enumerate(tagged):
        if gate and gate not in first.values():
            first[at] = gate
    lines: list[str] = load.pop("", [])
    for at, line in enumerate(body):
        # The header of a gated part carries no gate itself: the part's loads go in just above it.
        gate = first.get(at + 1, "")
        if load.get(gate):
            lines += [f"if {gate}:", *(f"    {item}" for item in load[gate])]
        lines.append(line)
    lines += keep.pop("", [])
    for gate, stores in keep.items():
        lines += [f"if {gate}:", *(f"    {item}" for item in stores)]
    return lines


def _loads_and_stores(
    tagged: list[tuple[str, str]], names: dict[str, int]
) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    used: dict[str, set[str]] = {}
    written: set[str] = set()
    for line, gate in tagged:
        for word in re.findall(r"[A-Za-z_]\w*", line):
            if word in names:
                used.setdefault(word, set()).add(gate)
        target = re.match(r"\s*([A-Za-z_]\w*) [-+]?= ", line)
        if target:
            written.add(target.group(1))
    load: dict[str, list[str]] = {}
    keep: dict[str, list[str]] = {}
    for word, i in names.items():
        gates = used.get(word, set())
        if gates:
            place = next(iter(gates)) if len(gates) == 1 else ""
            load.setdefault(place, []).append(f"{word} = s[{i}]")
            if word in written:
                keep.setdefault(place, []).append(f"s[{i}] = {word}")
    return load, keep


def _gated(body: list[str], gate_of: dict[str, str]) -> list[tuple[str, str]]:
    """Each line with the gate under which alone it runs, or nothing."""
    tagged: list[tuple[str, str]] = []
    gate, depth = "", -1
    for line in body:
        indent = len(line) - len(line.lstrip())
        if depth >= 0 and indent <= depth:
            gate, depth = "", -1
        tagged.append((line, gate))
        header = re.match(r"\s*if (\w+):$", line)
        if header and depth < 0 and gate_of.get(header.group(1)):
            gate, depth = gate_of[header.group(1)], indent
    return tagged
