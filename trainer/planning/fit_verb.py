"""The command ``trainer fit``: a plant file fitted to a rig from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from trainer.drills import library
from trainer.planning.draft import Draft
from trainer.planning.errors import PlanningError
from trainer.planning.suited import tried


def fit(
    base: str,
    plant: str,
    sets: list[str],
    adds: list[str],
    removes: list[str],
    title: str,
    output: Path | None,
    tries: list[str],
) -> dict[str, object]:
    """Fit ``base`` by the orders of the command line and save it when it is sound and has an id of its own.

    ``adds`` are KIND:ID or KIND:ID:LIKE, ``removes`` KIND:ID, ``sets`` PLACE=VALUE; parts go first, then settings.
    ``tries`` are drills that their good crews try on the plant, or "all".
    """
    draft = Draft.open(base)
    if plant:
        draft.rename(plant, title)
    for order in adds:
        kind, new, like = (*_split(order, ":", "--add", "bank:bank_c:bank_a"), "")[:3]
        draft.add(kind, new, like)
    for order in removes:
        kind, part = _split(order, ":", "--remove", "bank:bank_b")[:2]
        draft.remove(kind, part)
    for order in sets:
        place, value = _split(order, "=", "--set", "bank.bank_a.bottles=30")[:2]
        draft.put(place.strip(), value)
    faults, differences = draft.faults(), draft.differences()
    document: dict[str, object] = {
        "plant": str(draft.document["id"]),
        "base": str(draft.base["id"]),
        "faults": faults,
        "differences": [{"place": d.place, "base": d.base, "now": d.now} for d in differences],
        "sentences": [d.sentence() for d in differences],
        "drills": [],
        "saved": None,
    }
    if not faults:
        wanted = list(library.all_drills()) if "all" in tries else tries
        document["drills"] = [row.record() for row in tried(draft.plant(), wanted)]
        if plant or output is not None:
            document["saved"] = str(draft.save(output))
    return document


def _split(order: str, sign: str, option: str, example: str) -> tuple[str, ...]:
    parts = tuple(order.split(sign, 1 if sign == "=" else 2))
    if len(parts) < 2 or not all(part.strip() for part in parts[:1]):
        raise PlanningError(f"{option} {order!r} is not understood; write it like {option} {example}")
    return parts


def lines(document: dict[str, Any]) -> list[str]:
    """What was fitted as lines for a terminal: the differences from the base, then what is not sound yet."""
    found = [f"{document['plant']}, fitted from {document['base']}", ""]
    found += [f"  {line}" for line in document["sentences"]] or ["  no difference from the base"]
    if document["faults"]:
        return [*found, "", "Not sound yet:", *(f"  {line}" for line in document["faults"])]
    found += ["", "Drills (--try DRILL or --try all has their good crews try them)"]
    for row in document["drills"]:
        found.append(f"  {row['outcome']:<13}  {row['id']}: {'; '.join(row['why']) or row['title']}")
    if document["saved"]:
        found += ["", f"saved as {document['saved']}"]
    return found
