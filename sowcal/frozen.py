"""Frozen dataclasses that load fast: their methods are shared, not written and compiled anew for each class.

Some hundred classes are loaded by every command, and compiling their methods took longer than importing numpy. What is
made here is a dataclass to `fields`, `replace`, `asdict` and `is_dataclass`, behaves as a frozen one, and is one to
type checkers.
"""

from __future__ import annotations

import dataclasses
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass"]


class _Shape:
    """What the shared methods know of a class: its fields, and how each is set."""

    def __init__(self, kind: type, slots: bool):
        self.kind = kind
        self.fields = dataclasses.fields(kind)
        self.names = tuple(f.name for f in self.fields)
        self.setters = tuple(vars(kind)[name].__set__ for name in self.names) if slots else ()
        compared = [f.name for f in self.fields if f.compare]
        self.compared = attrgetter(*compared) if compared else lambda _: None
        self.shown = tuple(f.name for f in self.fields if f.repr)
        self.after = getattr(kind, "__post_init__", None)

    def values(self, given: tuple[Any, ...], named: dict[str, Any]) -> tuple[Any, ...]:
        """A value for each field, of those given in order, by name, or by default."""
        if len(given) > len(self.names):
            raise TypeError(f"{self.kind.__name__} has {len(self.names)} values, {len(given)} are given")
        out = list(given)
        for field in self.fields[len(given) :]:
            if field.name in named:
                out.append(named.pop(field.name))
            elif field.default is not dataclasses.MISSING:
                out.append(field.default)
            elif field.default_factory is not dataclasses.MISSING:
                out.append(field.default_factory())
            else:
                raise TypeError(f"{self.kind.__name__} needs a value for {field.name!r}")
        if named:
            raise TypeError(f"{self.kind.__name__} has no {next(iter(named))!r}, or is given it twice")
        return tuple(out)


class _Signature:
    """The signature of a class, made when it is asked for."""

    def __get__(self, _: object, kind: type) -> Any:
        from inspect import Parameter, Signature

        def parameter(field: dataclasses.Field[Any]) -> Parameter:
            default: Any = Parameter.empty if field.default is dataclasses.MISSING else field.default
            if field.default_factory is not dataclasses.MISSING:
                default = field.default_factory
            return Parameter(field.name, Parameter.POSITIONAL_OR_KEYWORD, default=default, annotation=field.type)

        return Signature([parameter(field) for field in dataclasses.fields(kind)])


def _setting(shape: _Shape) -> dict[str, Any]:
    """How an instance is made, and that it is not changed."""
    size, names, setters, after = len(shape.names), shape.names, shape.setters, shape.after

    def __init__(self: Any, *given: Any, **named: Any) -> None:
        if named or len(given) != size:
            given = shape.values(given, named)
        if setters:
            for put, value in zip(setters, given, strict=True):
                put(self, value)
        else:
            self.__dict__.update(zip(names, given, strict=True))
        if after is not None:
            after(self)

    def __setattr__(self: Any, name: str, value: object) -> None:
        raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")

    def __delattr__(self: Any, name: str) -> None:
        raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")

    return {"__init__": __init__, "__setattr__": __setattr__, "__delattr__": __delattr__}


def _comparing(shape: _Shape) -> dict[str, Any]:
    """Equality by value, and the hash that goes with it."""
    compared = shape.compared

    def __eq__(self: Any, other: object) -> Any:
        return compared(self) == compared(other) if other.__class__ is self.__class__ else NotImplemented

    def __hash__(self: Any) -> int:
        return hash(compared(self))

    return {"__eq__": __eq__, "__hash__": __hash__}


def _with_methods(kind: type, slots: bool, eq: bool) -> type:
    shape = _Shape(kind, slots)

    @recursive_repr()
    def __repr__(self: Any) -> str:
        told = ", ".join(f"{name}={getattr(self, name)!r}" for name in shape.shown)
        return f"{self.__class__.__qualname__}({told})"

    methods = _setting(shape) | (_comparing(shape) if eq else {})
    if "__repr__" not in vars(kind):
        methods["__repr__"] = __repr__
    if slots:  # what is unpickled is not set by attributes
        methods["__getstate__"] = lambda self: [getattr(self, name) for name in shape.names]

        def __setstate__(self: Any, state: list[Any]) -> None:
            for put, value in zip(shape.setters, state, strict=True):
                put(self, value)

        methods["__setstate__"] = __setstate__
    for name, method in methods.items():
        setattr(kind, name, method)
    kind.__signature__ = _Signature()  # type: ignore[attr-defined]
    return kind


if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(*, frozen: bool = True, slots: bool = False, eq: bool = True):
        """A frozen dataclass: `fields`, `replace` and the rest of `dataclasses` take it for one of theirs.

        Parameters
        ----------
        frozen : bool
            Always True; it is said for the reader and for type checkers.
        slots, eq : bool
            As `dataclasses.dataclass` has them.
        """
        if not frozen:
            raise TypeError("what may change is a dataclass of the standard library")

        def made(cls: type) -> type:
            if cls.__doc__ is None:
                cls.__doc__ = cls.__name__  # else its signature is written for one
            kind = dataclasses.dataclass(init=False, repr=False, eq=False, slots=slots)(cls)
            return _with_methods(kind, slots, eq)

        return made
