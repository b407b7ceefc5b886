"""Dataclasses whose methods are written late are what the standard library makes of the same text.

The standard library's ``dataclasses`` is what they are compared with, for every one in ``verifier``.
"""

from __future__ import annotations

import ast
import copy
import dataclasses
import importlib
import inspect
import pickle
import pkgutil
import subprocess
import sys
from pathlib import Path
from typing import Any, ClassVar

import pytest

import verifier
from verifier import records
from verifier.records import dataclass


def _all_of_the_package() -> tuple[type, ...]:
    for module in pkgutil.walk_packages(verifier.__path__, "verifier."):
        importlib.import_module(module.name)
    return tuple(cls for cls in records._given if cls.__module__.startswith("verifier."))


def _twin(cls: type) -> Any:
    """The standard library's class of the same fields, defaults and name."""
    given = records._given[cls]
    body = {
        name: copy.copy(value) for name, value in given.items() if value is not dataclasses.MISSING
    }
    body |= {"__annotations__": dict(cls.__annotations__), "__module__": cls.__module__}
    body |= {"__qualname__": cls.__qualname__, "__doc__": cls.__doc__}
    return dataclasses.dataclass(frozen=True, slots=True)(type(cls.__name__, (), body))


CLASSES = _all_of_the_package()


def _values(cls: type, shift: int = 0) -> dict[str, Any]:
    return {name: (number + shift, name) for number, name in enumerate(records._given[cls])}


def test_most_classes_of_the_package_are_made_late() -> None:
    assert len(CLASSES) > 350


@pytest.mark.parametrize("cls", CLASSES, ids=lambda cls: f"{cls.__module__}.{cls.__qualname__}")
def test_a_class_is_as_the_standard_library_makes_it(cls: Any) -> None:
    twin = _twin(cls)
    assert cls.__match_args__ == twin.__match_args__
    assert cls.__slots__ == twin.__slots__
    assert not hasattr(cls(**_values(cls)), "__dict__")
    ours, theirs = dataclasses.fields(cls), dataclasses.fields(twin)
    for own, other in zip(ours, theirs, strict=True):
        for part in ("name", "type", "default", "default_factory", "compare", "repr", "init"):
            assert getattr(own, part) == getattr(other, part)
    assert inspect.signature(cls) == inspect.signature(twin)
    assert repr(cls.__dataclass_params__) == repr(twin.__dataclass_params__)
    value, like = cls(**_values(cls)), twin(**_values(cls))
    assert repr(value) == repr(like)
    assert hash(value) == hash(like)
    assert cls(*_values(cls).values()) == value
    assert copy.copy(value) == copy.deepcopy(value) == pickle.loads(pickle.dumps(value)) == value
    for name, changed in _values(cls, 1).items():
        another, alike = (dataclasses.replace(one, **{name: changed}) for one in (value, like))
        assert (another == value) == (alike == like)
        assert (hash(another) == hash(value)) == (hash(alike) == hash(like))
        assert getattr(another, name) == changed
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(value, name, changed)
        with pytest.raises(dataclasses.FrozenInstanceError):
            delattr(value, name)
    with pytest.raises((dataclasses.FrozenInstanceError, TypeError)):
        value.no_such_field = 1
    assert value != like
    assert value.__eq__(like) is NotImplemented


@pytest.mark.parametrize("cls", CLASSES, ids=lambda cls: f"{cls.__module__}.{cls.__qualname__}")
def test_defaults_are_the_standard_library_s(cls: Any) -> None:
    needed = {
        name: (name,)
        for name, given in inspect.signature(_twin(cls)).parameters.items()
        if given.default is inspect.Parameter.empty
    }
    value, like = cls(**needed), _twin(cls)(**needed)
    for field in dataclasses.fields(like):
        assert getattr(value, field.name) == getattr(like, field.name)
        if field.default_factory is not dataclasses.MISSING:
            assert getattr(value, field.name) is not getattr(cls(**needed), field.name)
    for name in needed:
        rest = {other: given for other, given in needed.items() if other != name}
        with pytest.raises(TypeError, match=rf"__init__\(\) missing 1 .*'{name}'"):
            cls(**rest)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two things."""

    first: object
    second: object = dataclasses.field(default=0, compare=False)


@pytest.mark.parametrize("used", ["eq", "hash", "repr", "pickle", "fields", "signature", "set"])
def test_whatever_is_used_first_is_there(used: str) -> None:
    # In a class of its own, so that nothing of it is written yet; made without its `__init__`.
    cls: Any = records._lazy(Pair_as_written())
    value = object.__new__(cls)
    object.__setattr__(value, "first", 1)
    object.__setattr__(value, "second", 2)
    match used:
        case "eq":
            other = object.__new__(cls)
            object.__setattr__(other, "first", 1)
            object.__setattr__(other, "second", 3)
            assert value == other
        case "hash":
            assert hash(value) == hash((1,))
        case "repr":
            assert repr(value).endswith("(first=1, second=2)")
        case "pickle":
            assert value.__reduce__() == (cls, (1, 2))
        case "fields":
            assert [field.name for field in dataclasses.fields(cls)] == ["first", "second"]
        case "signature":
            assert str(inspect.signature(cls)) == "(first: 'object', second: 'object' = 0) -> None"
        case _:
            with pytest.raises(dataclasses.FrozenInstanceError):
                value.first = 2


def Pair_as_written() -> type:  # noqa: N802
    """The class before it is made a dataclass."""

    class PairAnew:
        """Two things."""

        first: object
        second: object = dataclasses.field(default=0, compare=False)

    return PairAnew


def test_a_value_equals_itself_though_its_parts_do_not() -> None:
    # As the standard library's does: tuples compare their items by identity first.
    unequal = float("nan")
    value = Pair(unequal)
    twin = _twin(Pair)(unequal)
    assert value == copy.copy(value)
    assert (value == value) == (twin == twin)
    assert (value == Pair(float("nan"))) == (twin == _twin(Pair)(float("nan")))


class _Base:
    """What another class comes from."""


def test_what_is_out_of_the_common_run_is_the_standard_library_s() -> None:
    class Counted:
        """With what is no field."""

        count: ClassVar[int] = 0
        first: int

    class Derived(_Base):
        """With a base."""

        first: int

    class Own:
        """With a comparison of its own."""

        first: int

        def __eq__(self, other: object) -> bool:
            return True

        def __hash__(self) -> int:
            return 0

    class Kept:
        """With a field that is not given."""

        first: int = dataclasses.field(default=1, init=False)

    for cls in (Counted, Derived, Own, Kept):
        made: Any = records._dataclass(cls, frozen=True, slots=True)
        assert made not in records._given
        assert dataclasses.is_dataclass(made)
    changing = records._dataclass(slots=True)(Pair_as_written())
    assert changing not in records._given
    one: Any = changing(1)
    one.first = 2
    assert one.first == 2


def test_a_default_that_can_change_is_an_error_as_ever() -> None:
    class Wrong:
        """With a list for all."""

        first: list[int] = []  # noqa: RUF012

    with pytest.raises(ValueError, match="mutable default"):
        records._dataclass(Wrong, frozen=True, slots=True)


def test_imports_write_hardly_any_method() -> None:
    program = (
        "from verifier import records\n"
        "written = []\n"
        "one = records._written\n"
        "def noted(cls, *rest):\n"
        "    written.append(cls.__name__)\n"
        "    return one(cls, *rest)\n"
        "records._written = noted\n"
        "import verifier.model.job, verifier.language.tree\n"
        "print(len(records._given) > 100, len(written) < 10)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout == "True True\n"


def test_every_module_takes_its_dataclasses_from_here() -> None:
    """The standard library's own would be as right, and slower to start with."""
    root = Path(next(iter(verifier.__path__)))
    guilty = [
        path.name
        for path in root.rglob("*.py")
        if path.name != "records.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == "dataclasses"
        if "dataclass" in {name.name for name in node.names}
    ]
    assert guilty == []
