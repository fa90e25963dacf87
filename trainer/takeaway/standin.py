"""Stands in for pydantic where only checked files are read: it builds the same objects and checks no rule of the whole.

The browser's start waits for no compiled library this way. What it reads was held against the full rules when the site
was built, and is known by its hash (``trusted.py``); commands and what the browser's store gives back are checked here
field by field. Files of a person's own are for the full library: the worker then starts with it.

Only what the trainer's own declarations use is here; anything else fails when the module that asks for it is imported,
which happens when the site is built.
"""

from __future__ import annotations

import inspect
import json
import operator
import re
import types
from collections.abc import Callable, Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal, Self, Union, get_args, get_origin, get_type_hints

_MISSING: Any = object()


class ValidationError(ValueError):
    """A value that does not fit its declaration; ``errors`` tells where and why, the first fault only."""

    def __init__(self, kind: str, message: str, given: Any, loc: tuple[str | int, ...] = (), **ctx: Any) -> None:
        super().__init__(message)
        self.kind, self.message, self.given, self.loc, self.ctx = kind, message, given, loc, ctx

    def inside(self, part: str | int) -> ValidationError:
        """The same fault seen from one level further out, its place led by ``part``."""
        return ValidationError(self.kind, self.message, self.given, (part, *self.loc), **self.ctx)

    def errors(self, include_url: bool = True) -> list[dict[str, Any]]:
        """The fault as a list of one row in pydantic's own form: type, loc, msg, input and ctx."""
        return [{"type": self.kind, "loc": self.loc, "msg": self.message, "input": self.given, "ctx": self.ctx}]

    def __str__(self) -> str:
        return f"{'.'.join(map(str, self.loc)) or 'the document'}: {self.message}"


_BOUNDS: tuple[tuple[str, Callable[[Any, Any], bool], str], ...] = (
    ("ge", operator.ge, "greater than or equal to"),
    ("gt", operator.gt, "greater than"),
    ("le", operator.le, "less than or equal to"),
    ("lt", operator.lt, "less than"),
)


class FieldInfo:
    """What a declaration says of a field beside its type: default, factory, alias; the rest is kept unread."""

    def __init__(self, default: Any = _MISSING, default_factory: Any = None, **more: Any) -> None:
        self.default, self.factory, self.more = default, default_factory, more
        self.alias: str | None = more.get("alias")
        self.annotation: Any = None

    def made(self) -> Any:
        """The default's value; ``_MISSING`` for a field that must be given."""
        return self.factory() if self.factory is not None else self.default

    def check(self, value: Any) -> Any:
        """The value as it came; ValidationError where it is out of the bounds or the pattern."""
        more = self.more
        if value is None:
            return value
        for name, holds, said in _BOUNDS:
            if name in more and not holds(value, more[name]):
                raise ValidationError(f"value_{name}", f"Input should be {said} {more[name]:g}", value)
        if "max_length" in more and len(value) > more["max_length"]:
            raise ValidationError("too_long", f"Input should have at most {more['max_length']} items or letters", value)
        if "min_length" in more and len(value) < more["min_length"]:
            raise ValidationError(
                "too_short", f"Input should have at least {more['min_length']} items or letters", value
            )
        if "pattern" in more and not re.search(more["pattern"], value):
            raise ValidationError("pattern", f"Input should match {more['pattern']}", value)
        return value


def Field(  # noqa: N802 - as pydantic calls it
    default: Any = _MISSING, *, default_factory: Any = None, **more: Any
) -> Any:
    """What is said of a field beside its type, under pydantic's name; limits were held when the site was built."""
    return FieldInfo(None if default is ... else default, default_factory, **more)


def ConfigDict(**more: Any) -> dict[str, Any]:  # noqa: N802 - as pydantic calls it
    """How a model is to behave, as a plain dict under pydantic's name; ``frozen`` and ``extra`` are looked at."""
    return more


class BeforeValidator:
    """A function that the value goes through before its type is looked at."""

    def __init__(self, func: Callable[[Any], Any]) -> None:
        self.func = func


class AfterValidator(BeforeValidator):
    """A function that the value goes through after its type was looked at."""


class WithJsonSchema:
    """How a field shows in the published schema, under pydantic's name: nothing here asks for it."""

    def __init__(self, schema: Any) -> None:
        self.schema = schema


def model_validator(*, mode: str) -> Callable[[Any], Any]:
    """A rule of the whole, which was held when the site was built; NotImplementedError for a mode that changes what is
    read."""
    if mode != "after":
        raise NotImplementedError(f"a validator with mode={mode!r} changes what is read: not in the browser's start")
    return lambda method: method


class BaseModel:
    """A declaration under pydantic's name: its annotated names are fields, filled from keywords or from plain data."""

    model_config: ClassVar[Any] = {}
    model_fields: ClassVar[dict[str, FieldInfo]] = {}
    _hints: ClassVar[dict[str, Any]] = {}

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        settings: dict[str, Any] = {}
        fields: dict[str, FieldInfo] = {}
        for base in reversed(cls.__mro__):
            if base in (object, BaseModel) or not issubclass(base, BaseModel):
                continue
            settings |= base.__dict__.get("model_config", {})
            for name, annotation in inspect.get_annotations(base).items():
                if name.startswith("_") or name == "model_config" or str(annotation).startswith("ClassVar"):
                    continue
                given = base.__dict__.get(name, _MISSING)
                fields[name] = given if isinstance(given, FieldInfo) else FieldInfo(given)
        cls.model_config, cls.model_fields, cls._hints = settings, fields, {}
        if settings.get("frozen") and "__hash__" not in cls.__dict__:
            cls.__hash__ = BaseModel._hashed  # type: ignore

    def __init__(self, **data: Any) -> None:
        self._fill(data)

    @classmethod
    def model_validate(cls, data: Any) -> Self:
        """An instance from plain data; ValidationError tells what does not fit."""
        if isinstance(data, cls):
            return data
        if not isinstance(data, Mapping):
            raise ValidationError("model_type", "Input should be an object", data)
        made = cls.__new__(cls)
        made._fill(data)
        return made

    def _fill(self, data: Mapping[str, Any]) -> None:
        cls = type(self)
        if not cls._hints:
            cls._hints = get_type_hints(cls, include_extras=True)
            for name, about in cls.model_fields.items():
                about.annotation = cls._hints[name]
                about.alias = about.alias or _alias(about.annotation)
        strict = bool(cls.model_config.get("strict"))
        by_name = cls.model_config.get("populate_by_name")
        values, given, taken = self.__dict__, set(), set()
        for name, about in cls.model_fields.items():
            key = about.alias or name
            if key not in data and by_name:
                key = name
            if key not in data:
                values[name] = about.made()
                if values[name] is _MISSING:
                    raise ValidationError("missing", "Field required", dict(data), (about.alias or name,))
                continue
            try:
                values[name] = about.check(_fit(about.annotation, data[key], strict))
            except ValidationError as error:
                raise error.inside(key) from None
            given.add(name)
            taken.add(key)
        if cls.model_config.get("extra") == "forbid" and len(taken) < len(data):
            key = next(key for key in data if key not in taken)
            raise ValidationError("extra_forbidden", "Extra inputs are not permitted", data[key], (key,))
        values["_given"] = given

    @property
    def model_fields_set(self) -> set[str]:
        """Names of the fields that were given; the others have their defaults."""
        given: set[str] = self.__dict__.get("_given", set())
        return given

    def model_dump(self, *, by_alias: bool = False, exclude: set[str] | None = None) -> dict[str, Any]:
        """The fields as plain data, models inside as mappings; the given names are left out."""
        return {
            about.alias if by_alias and about.alias else name: _plain(self.__dict__[name], by_alias)
            for name, about in self.model_fields.items()
            if not about.more.get("exclude") and name not in (exclude or ())
        }

    def model_dump_json(self) -> str:
        """The fields as JSON without spaces, letters beyond ASCII as they are, in the order of the declaration."""
        return json.dumps(self.model_dump(), separators=(",", ":"), ensure_ascii=False)

    def model_copy(self, *, update: Mapping[str, Any] | None = None) -> Self:
        """A copy with some fields set to other values, which are taken as they are and not validated."""
        made = type(self).__new__(type(self))
        made.__dict__.update({name: self.__dict__[name] for name in self.model_fields} | dict(update or {}))
        made.__dict__["_given"] = self.model_fields_set | set(update or ())
        return made

    def __iter__(self) -> Iterator[tuple[str, Any]]:
        return iter([(name, self.__dict__[name]) for name in self.model_fields])

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and list(self) == list(other)

    __hash__ = None  # type: ignore[assignment]

    def _hashed(self) -> int:
        return hash(tuple(self.__dict__[name] for name in self.model_fields))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in self)})"


def _alias(annotation: Any) -> str | None:
    metas = annotation.__metadata__ if get_origin(annotation) is Annotated else ()
    return next((meta.alias for meta in metas if isinstance(meta, FieldInfo) and meta.alias), None)


def _plain(value: Any, by_alias: bool) -> Any:
    if isinstance(value, BaseModel):
        return value.model_dump(by_alias=by_alias)
    if isinstance(value, list | tuple):
        return type(value)(_plain(one, by_alias) for one in value)
    if isinstance(value, dict):
        return {key: _plain(one, by_alias) for key, one in value.items()}
    return value


def _fit(kind: Any, value: Any, strict: bool) -> Any:
    """The value as this type has it."""
    origin = get_origin(kind)
    if origin is Annotated:
        return _annotated(kind, value, strict)
    if origin in (Union, types.UnionType):
        return _one_of(get_args(kind), value, strict)
    if origin is Literal:
        if value in get_args(kind) and not (isinstance(value, bool) and True not in get_args(kind)):
            return value
        expected = " or ".join(repr(one) for one in get_args(kind))
        raise ValidationError("literal_error", f"Input should be {expected}", value, expected=expected)
    if origin in (list, tuple, dict):
        return _several(origin, get_args(kind), value, strict)
    if kind is Any:
        return value
    if kind in (None, type(None)):
        return _if(value is None, "none_required", "Input should be null", value)
    if kind is float:
        so = isinstance(value, int | float) and not isinstance(value, bool)
        number = float(_if(so, "float_type", "Input should be a valid number", value))
        return _if(number - number == 0.0, "finite_number", "Input should be a finite number", number)
    if kind is int:
        so = isinstance(value, int) and not isinstance(value, bool)
        return _if(so, "int_type", "Input should be a valid integer", value)
    if kind in (bool, str):
        return _if(isinstance(value, kind), f"{kind.__name__}_type", f"Input should be a valid {kind.__name__}", value)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return kind.model_validate(value)
    raise NotImplementedError(f"the browser's start knows no field of type {kind!r}")


def _if(so: bool, kind: str, message: str, value: Any) -> Any:
    if not so:
        raise ValidationError(kind, message, value)
    return value


def _annotated(kind: Any, value: Any, strict: bool) -> Any:
    inner, *metas = get_args(kind)
    try:
        for meta in reversed(metas):
            if type(meta) is BeforeValidator:
                value = meta.func(value)
        value = _fit(inner, value, strict)
        for meta in metas:
            if isinstance(meta, FieldInfo):
                value = meta.check(value)
            elif isinstance(meta, AfterValidator):
                value = meta.func(value)
    except ValidationError:
        raise
    except ValueError as error:
        raise ValidationError("value_error", f"Value error, {error}", value) from None
    return value


def _one_of(kinds: tuple[Any, ...], value: Any, strict: bool) -> Any:
    plain = type(value)
    first: ValidationError | None = None
    # A value that is of one of the types already stays as it is.
    for kind in sorted(kinds, key=lambda kind: _bare(kind) is not plain):
        try:
            return _fit(kind, value, strict)
        except ValidationError as error:
            first = first or error
    assert first is not None
    raise first


def _bare(kind: Any) -> Any:
    return _bare(get_args(kind)[0]) if get_origin(kind) is Annotated else kind


def _several(origin: Any, kinds: tuple[Any, ...], value: Any, strict: bool) -> Any:
    if origin is dict:
        _if(isinstance(value, dict), "dict_type", "Input should be a valid object", value)
        return {_fit(kinds[0], key, strict): _inside(kinds[1], one, strict, key) for key, one in value.items()}
    _if(isinstance(value, list | tuple), "list_type", "Input should be a valid list", value)
    if origin is tuple and kinds[-1] is not ...:
        _if(len(value) == len(kinds), "too_long", f"Input should have {len(kinds)} items", value)
        return tuple(_inside(kind, one, strict, at) for at, (kind, one) in enumerate(zip(kinds, value, strict=True)))
    return origin(_inside(kinds[0], one, strict, at) for at, one in enumerate(value))


def _inside(kind: Any, value: Any, strict: bool, at: str | int) -> Any:
    try:
        return _fit(kind, value, strict)
    except ValidationError as error:
        raise error.inside(at) from None
