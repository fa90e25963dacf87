"""What a plant file may say besides what it says: the keys that its parts may have, and what holds without them."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Literal, get_args, get_origin

from pydantic import BaseModel

from trainer.plant.rig import Plant
from trainer.units import to_unit

if TYPE_CHECKING:
    # What the edition without a server starts from has no such module.
    from pydantic.fields import FieldInfo


def open_keys(place: str, there: Collection[str]) -> list[tuple[str, str]]:
    """Keys that the part or table at ``place`` may have beside those ``there``, each with what holds without it.

    ``place`` is written as in messages, empty for the plant itself. Keys with further keys inside are left out.
    """
    model = _model_at(place)
    fields = model.model_fields if model is not None else {}
    return [
        (key, _holds(field))
        for key, field in fields.items()
        if not field.is_required() and key not in there and _model(field.annotation) is None
        and get_origin(field.annotation) is not dict
    ]  # fmt: skip


def open_tables(there: Collection[str]) -> list[str]:
    """Tables that a plant file need not have, since all that they say has a usual value, beside those ``there``."""
    return [
        key for key, field in Plant.model_fields.items() if key not in there and isinstance(field.default, BaseModel)
    ]


def sample(place: str) -> object:
    """A value of the kind that belongs at ``place``: text, truth or list; None where a number or quantity does."""
    where, _, key = place.rpartition(".")
    model = _model_at(where)
    field = model.model_fields.get(key) if model is not None else None
    kind = field.annotation if field is not None else None
    if kind is str or get_origin(kind) is Literal:
        return ""
    return [] if get_origin(kind) is tuple else None


def words_of(place: str) -> tuple[str, ...]:
    """The words of which a value at ``place`` is one; none where it is no such choice."""
    where, _, key = place.rpartition(".")
    model = _model_at(where)
    field = model.model_fields.get(key) if model is not None else None
    if field is None or get_origin(field.annotation) is not Literal:
        return ()
    return tuple(str(word) for word in get_args(field.annotation))


def _model_at(place: str) -> type[BaseModel] | None:
    """The declaration of the part or table at ``place``."""
    model: type[BaseModel] = Plant
    steps = place.split(".") if place else []
    while steps:
        field = model.model_fields.get(steps[0])
        inner = _model(field.annotation) if field is not None else None
        if field is None or inner is None:
            return None
        # A part of which there are any number is named by its id, after its kind.
        many = get_origin(field.annotation) is tuple
        if many and len(steps) < 2:
            return None
        model, steps = inner, steps[2 if many else 1 :]
    return model


def _model(kind: object) -> type[BaseModel] | None:
    """The declaration inside a type such as ``tuple[Pump, ...]`` or ``Hoses | None``."""
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return kind
    return next((found for one in get_args(kind) if (found := _model(one)) is not None), None)


def _holds(field: FieldInfo) -> str:
    """What holds without a key, as a file would write it; empty for nothing."""
    value = field.get_default()
    example = next((data["examples"][0] for one in field.metadata if (data := getattr(one, "json_schema", None))), "")
    if get_origin(field.annotation) is Literal:
        others = [str(word) for word in get_args(field.annotation) if word not in (value, "")]
        return f"{value or 'none'} (or {', '.join(others)})" if others else str(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if example and isinstance(value, float):
        unit = example.split(" ", 1)[1]
        return f"{to_unit(value, unit):.4g} {unit}"
    return "" if value in (None, "", ()) else f"{value:.4g}" if isinstance(value, float) else str(value)
