"""The standard library's ``dataclass``, whose methods are written when they are first used.

To make a frozen dataclass with slots takes a third of a millisecond, most of it for methods that
most runs never call, and there are hundreds of them: a tenth of a second of each start. Here such
a class gets stand-ins, and each is replaced by the real method at its first call. For everything
else about it (``fields``, ``repr``, parameters) the standard library is asked, then, with the same
fields. A class of any other kind is the standard library's at once, and type checkers see that one.

Two things are quicker besides: a field is set through its slot, and a value equals itself without
a look at its fields (which is what the comparison of their tuples comes to).
"""

from __future__ import annotations

import dataclasses
import functools
from types import CodeType, FunctionType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from dataclasses import dataclass as dataclass

_OWN = frozenset(
    {
        "__init__",
        "__new__",
        "__post_init__",
        "__eq__",
        "__hash__",
        "__repr__",
        "__setattr__",
        "__delattr__",
        "__reduce__",
        "__reduce_ex__",
        "__getstate__",
        "__setstate__",
        "__slots__",
        "__match_args__",
    }
)
"""What a class must not have of its own to be made here."""

_NO_FIELDS = ("ClassVar", "InitVar", "KW_ONLY")


def _dataclass(cls: type | None = None, /, **options: Any) -> Any:
    """The class as a dataclass; with options alone, what makes one of a class."""
    if cls is None:
        return lambda given: _made(given, options)
    return _made(cls, options)


def _made(cls: type, options: dict[str, Any]) -> type:
    if options != {"frozen": True, "slots": True} or not _is_plain(cls):
        made: type = dataclasses.dataclass(**options)(cls)
        return made
    return _lazy(cls)


def _is_plain(cls: type) -> bool:
    """Whether the class has fields and methods, and nothing that bears on how they are made."""
    inside = cls.__dict__
    if cls.__bases__ != (object,) or type(cls) is not type or not cls.__doc__:
        return False
    if not _OWN.isdisjoint(inside):
        return False
    for name, kind in cls.__annotations__.items():
        if not isinstance(kind, str) or any(word in kind for word in _NO_FIELDS):
            return False
        if name.startswith("_") or name == "self":
            return False  # the texts below have such names of their own
        given = inside.get(name)
        if isinstance(given, dataclasses.Field):
            odd = not given.init or given.hash is not None or given.kw_only is True
            if odd or given.metadata:
                return False
        elif given is not None and given.__class__.__hash__ is None:
            return False  # a default that could change: an error, which is the library's to tell
    return True


def _lazy(cls: type) -> type:
    """The class anew, with slots and stand-ins."""
    inside = dict(cls.__dict__)
    given = {name: inside.pop(name, dataclasses.MISSING) for name in cls.__annotations__}
    names = tuple(given)
    for name in ("__dict__", "__weakref__"):
        inside.pop(name, None)
    inside |= {
        "__slots__": names,
        "__match_args__": names,
        "__init__": _init,
        "__eq__": _eq,
        "__hash__": _hash,
        "__repr__": _repr,
        "__reduce__": _reduce,
        "__setattr__": _setattr,
        "__delattr__": _delattr,
        "__dataclass_fields__": _Asked("__dataclass_fields__"),
        "__dataclass_params__": _Asked("__dataclass_params__"),
        "__signature__": _Asked("__signature__"),
    }
    made = type(cls.__name__, (), inside)
    _given[made] = given
    return made


_given: dict[type, dict[str, Any]] = {}
"""The fields of each class made here, and what it says of each: a default, a field, or nothing."""


class _Asked:
    """What the standard library knows of a class, asked for when it is read."""

    __slots__ = ("name",)

    def __init__(self, name: str) -> None:
        self.name = name

    def __get__(self, _: object, cls: type) -> Any:
        return _library(_home(cls), self.name)


def _home(cls: type) -> type:
    """The class made here that a class is, or comes from."""
    return next(base for base in cls.__mro__ if base in _given)


def _library(cls: type, name: str) -> Any:
    """An attribute of the standard library's dataclass with the same fields; it stays."""
    given = _given[cls]
    inside = {field: value for field, value in given.items() if value is not dataclasses.MISSING}
    body = {
        **inside,
        "__annotations__": dict(cls.__annotations__),
        "__module__": cls.__module__,
        "__qualname__": cls.__qualname__,
        "__doc__": cls.__doc__,
    }
    whole = name != "__dataclass_fields__"  # those alone come without a method
    make = dataclasses.dataclass(init=whole, repr=whole, eq=whole, frozen=whole)
    like: Any = make(type(cls.__name__, (), body))
    if name == "__signature__":
        import inspect

        found: Any = inspect.signature(like)
    else:
        found = like.__dict__[name]
    setattr(cls, name, found)
    return found


# ---------------------------------------------------------------- the methods


def _fields_of(cls: type) -> dict[str, Any]:
    return {
        name: value if isinstance(value, dataclasses.Field) else None
        for name, value in _given[cls].items()
    }


def _compared(cls: type) -> list[str]:
    return [name for name, said in _fields_of(cls).items() if said is None or said.compare]


def _tuple_of(value: str, count: int) -> str:
    """The text of a tuple of so many fields.

    >>> _tuple_of("self", 2), _tuple_of("self", 0)
    ('(self._0,self._1,)', '()')
    """
    return f"({''.join(f'{value}._{number},' for number in range(count))})"


@functools.cache
def _code(text: str) -> CodeType:
    """The compiled function of a text; its fields are called ``_0``, ``_1`` and so on.

    To compile it takes ten times as long as all else: what has as many fields shares one code.
    """
    space: dict[str, Any] = {}
    exec(text, space)
    function: FunctionType = next(v for v in space.values() if isinstance(v, FunctionType))
    return function.__code__


def _written(cls: type, name: str, code: CodeType, known: dict[str, Any]) -> Callable[..., Any]:
    """A method of the class; it takes the place of its stand-in."""
    method = FunctionType(code.replace(co_qualname=f"{cls.__qualname__}.{name}"), known, name)
    method.__module__ = cls.__module__
    setattr(cls, name, method)
    return method


def _init(self: object, *values: Any, **named: Any) -> None:
    cls = _home(type(self))
    known: dict[str, Any] = {"_missing": dataclasses.MISSING}
    parameters, lines, defaults = ["self"], [], []
    for number, (name, given) in enumerate(_given[cls].items()):
        said = given if isinstance(given, dataclasses.Field) else None
        default = given if said is None else said.default
        value = f"_{number}"
        if said is not None and said.default_factory is not dataclasses.MISSING:
            known[f"_new_{number}"] = said.default_factory
            value = f"_new_{number}() if _{number} is _missing else _{number}"
            defaults.append(dataclasses.MISSING)
        elif default is not dataclasses.MISSING:
            defaults.append(default)
        parameters.append(f"_{number}")
        known[f"_set_{number}"] = cls.__dict__[name].__set__
        lines.append(f"    _set_{number}(self, {value})")
    text = "\n".join([f"def __init__({', '.join(parameters)}):", *(lines or ["    pass"])])
    code = _code(text).replace(co_varnames=("self", *_given[cls]))
    method = _written(cls, "__init__", code, known)
    method.__defaults__ = tuple(defaults)
    method(self, *values, **named)


def _eq(self: object, other: object) -> Any:
    cls = _home(type(self))
    names = _compared(cls)
    text = (
        "def __eq__(self, other):\n"
        "    if self is other:\n"
        "        return True\n"
        "    if other.__class__ is self.__class__:\n"
        f"        return {_tuple_of('self', len(names))} == {_tuple_of('other', len(names))}\n"
        "    return NotImplemented"
    )
    return _written(cls, "__eq__", _named(text, names), {})(self, other)


def _hash(self: object) -> int:
    cls = _home(type(self))
    names = _compared(cls)
    text = f"def __hash__(self):\n    return hash({_tuple_of('self', len(names))})"
    found: int = _written(cls, "__hash__", _named(text, names), {})(self)
    return found


def _named(text: str, names: list[str]) -> CodeType:
    """The code of a text in which field ``_0`` is the first of ``names``, and so on."""
    code = _code(text)
    own = {f"_{number}": name for number, name in enumerate(names)}
    return code.replace(co_names=tuple(own.get(name, name) for name in code.co_names))


def _repr(self: object) -> str:
    cls = _home(type(self))
    found: str = _library(cls, "__repr__")(self)
    return found


def _reduce(self: object) -> Any:
    cls = _home(type(self))
    names = list(_given[cls])
    text = f"def __reduce__(self):\n    return self.__class__, {_tuple_of('self', len(names))}"
    return _written(cls, "__reduce__", _named(text, names), {})(self)


def _setattr(self: object, name: str, value: object) -> None:
    cls = _home(type(self))
    if type(self) is cls or name in _given[cls]:
        raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
    object.__setattr__(self, name, value)


def _delattr(self: object, name: str) -> None:
    cls = _home(type(self))
    if type(self) is cls or name in _given[cls]:
        raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
    object.__delattr__(self, name)


if not TYPE_CHECKING:
    dataclass = _dataclass
