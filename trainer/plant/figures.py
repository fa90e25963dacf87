"""Figures of a plant by their place in its file, for texts and rules that must not contradict it."""

from __future__ import annotations

from pydantic import BaseModel


def figure(plant: BaseModel, path: str) -> float:
    """The SI value at a place such as ``well.casing_shoe`` or ``function.upper_annular.close_volume``.

    Entries of a list are named by their id, or counted from 1. LookupError says what there is instead.
    """
    at: object = plant
    for depth, name in enumerate(path.split(".")):
        inner = _inner(at)
        if name not in inner:
            where = ".".join(path.split(".")[:depth]) or "the plant"
            raise LookupError(f"{where} has no {name!r}; there are: {', '.join(sorted(inner)[:12])}")
        at = inner[name]
    if isinstance(at, bool) or not isinstance(at, int | float):
        raise LookupError(f"{path} is no number")
    return float(at)


def _inner(at: object) -> dict[str, object]:
    """What lies at a place, by name."""
    if isinstance(at, BaseModel):
        return {name: getattr(at, name) for name in type(at).model_fields}
    if isinstance(at, list | tuple):
        return {str(getattr(item, "id", number)): item for number, item in enumerate(at, 1)}
    return dict(at) if isinstance(at, dict) else {}
