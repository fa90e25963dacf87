"""What has to fit together in a plant file beyond each table's own rules; every fault at once, as sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.plant.rig import Plant


def faults_of(plant: Plant) -> list[str]:
    """Everything that does not fit together, or nothing."""
    return [*_ids(plant), *_control(plant), *_functions(plant), *_sequences(plant)]


def _ids(plant: Plant) -> list[str]:
    found, seen = [], set()
    parts: list[Any] = [*plant.pump, *plant.filter, *plant.bank, *plant.regulator, *plant.pod, *plant.function]
    for part in parts:
        if part.id in seen:
            found.append(f"two parts are called '{part.id}'; give one of them another id")
        seen.add(part.id)
    return found


def _control(plant: Plant) -> list[str]:
    found = []
    if len(plant.pod) == 1:
        found.append("a plant has two pods or none")
    if plant.pod and plant.umbilical is None:
        found.append("pods hang on a table [umbilical]")
    if plant.umbilical is not None and not plant.pod:
        found.append("an [umbilical] needs two tables [[pod]]")
    if plant.pod and [pod.id for pod in plant.pod] != ["yellow", "blue"]:
        found.append("the two pods are 'yellow' and 'blue', in this order")
    if not plant.pod:
        found += [f"'{b.id}': stack bottles need pods" for b in plant.bank if b.place == "stack"]
        found += [f"'{r.id}' stands in pods, and there are none" for r in plant.regulator if r.place == "pods"]
    return found


def _functions(plant: Plant) -> list[str]:
    found = []
    below = {r.serves for r in plant.regulator if r.in_pod} | {"supply"}
    above = {r.serves for r in plant.regulator if r.place == "unit"}
    ids = {f.id: f for f in plant.function}
    banks = {b.id for b in plant.bank}
    joints = {"riser", "wellhead", *plant.pods}
    for function in plant.function:
        known = below if plant.piloted(function) else above
        if function.supply not in known:
            names = ", ".join(sorted(known)) or "none"
            found.append(f"'{function.id}' is fed from '{function.supply}'; there are: {names}")
        if not plant.piloted(function) and plant.hoses is None:
            found.append(f"'{function.id}' hangs on hoses, and there is no table [hoses]")
        if function.isolates and function.isolates not in banks:
            found.append(f"'{function.id}' isolates '{function.isolates}', which is no bank")
        if function.joins and function.joins not in joints:
            found.append(f"'{function.id}' joins '{function.joins}'; there are: {', '.join(sorted(joints))}")
        for ram in function.locks:
            if ram not in ids or ids[ram].kind not in ("pipe_ram", "shear_ram"):
                found.append(f"'{function.id}' locks '{ram}', which is no ram")
    return found


def _sequences(plant: Plant) -> list[str]:
    found = []
    ids = {f.id for f in plant.function}
    regulators = {r.id for r in plant.regulator}
    if plant.disconnect is not None:
        names = [s.function for s in plant.disconnect.step if s.function] + [plant.disconnect.connector]
        found += [f"[disconnect] moves '{n}', which is no function" for n in names if n not in ids]
        sets = [s.regulator for s in plant.disconnect.step if s.regulator]
        found += [f"[disconnect] sets '{n}', which is no regulator" for n in sets if n not in regulators]
    if plant.diverter is not None:
        found += [f"[diverter] names '{n}', which is no function" for n in plant.diverter.parts() if n not in ids]
    return found
