"""What of a machine may be described, and what each new value must be."""

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any, get_args, get_origin, get_type_hints

from feedwright.errors import BadInput
from feedwright.farm.ground.naming import nearest, text, within
from feedwright.records.values import Machine
from feedwright.toolpath.values import MotionLimits

MOST = 1e12
"""No number that describes a machine is greater; whole numbers of any length are compared with it, not converted."""


def described(machine: Machine, changes: dict[str, Any]) -> Machine:
    """The machine described anew; ``changes`` maps field names, or motion limits, to new values."""
    limits = {field.name for field in fields(MotionLimits)}
    for key in changes:
        if key not in CHANGEABLE and key not in limits:
            remedy = nearest(key, [*CHANGEABLE, *limits])
            raise BadInput("field", place=f"“{key}”", expected="cannot be changed", remedy=remedy)
    own = {key: CHANGEABLE[key](value) for key, value in changes.items() if key in CHANGEABLE}
    motion = motion_with(machine.motion, {key: value for key, value in changes.items() if key in limits})
    return replace(machine, **{**own, "motion": motion})


def motion_with(motion: MotionLimits, changes: dict[str, Any]) -> MotionLimits:
    """The limits with some of them changed; refuses an unknown name or a value of the wrong kind."""
    known = get_type_hints(MotionLimits)
    for name in changes:
        if name not in known:
            raise BadInput("motion limit", place=f"“{name}”", expected="no such limit", remedy=nearest(name, known))
    return replace(motion, **{name: _limit(name, value, known[name]) for name, value in changes.items()})


def _limit(name: str, value: Any, kind: Any) -> Any:
    """A motion limit's value as its kind has it."""
    made: Callable[[Any], Any]
    if get_origin(kind) is tuple:
        right = isinstance(value, (list, tuple)) and len(value) == 4 and all(_is_number(p) and p > 0 for p in value)
        expected, made = "expected four numbers above 0: X, Y, Z, filament", _floats
    elif kind is int:
        right, expected, made = _is_number(value) and value == int(value), "expected a whole number", int
    elif kind is float:
        right, expected, made = _is_number(value), "expected a number", float
    else:
        right, expected, made = value in get_args(kind), "expected one of " + ", ".join(get_args(kind)), str
    if not right:
        raise BadInput(name, place=_shown(value), expected=expected, remedy="change the value")
    return made(value)


def _floats(values: Any) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and -MOST <= value <= MOST


def _shown(value: Any) -> str:
    """The value as it was given, as far as it can be shown."""
    return "a number too long to show" if isinstance(value, int) and abs(value) > MOST else f"“{value!s:.60}”"


def box(box_mm: Any) -> tuple[float, float, float]:
    """The printable lengths of the axes in mm."""
    if not isinstance(box_mm, (list, tuple)) or len(box_mm) != 3:
        raise BadInput("box", place=_shown(box_mm), expected="expected three lengths in mm", remedy="give X, Y and Z")
    for axis, length in zip("XYZ", box_mm, strict=True):
        if not (_is_number(length) and 20 <= length <= 3000):
            raise BadInput(
                f"box {axis}",
                place=_shown(length),
                expected="expected 20 to 3000 mm",
                remedy="give the printable length of the axis",
            )
    x_mm, y_mm, z_mm = box_mm
    return (float(x_mm), float(y_mm), float(z_mm))


def _enclosure(value: Any) -> float:
    return within("enclosure_c", _number("enclosure_c", value), -20, 150, "°C")


def _tube(value: Any) -> float:
    return within("tube_needed_mm", _number("tube_needed_mm", value), 0, 10_000, "mm")


def _number(name: str, value: Any) -> float:
    if not _is_number(value):
        raise BadInput(name, place=_shown(value), expected="expected a number", remedy="change the value")
    return float(value)


def _note(value: Any) -> str:
    return text("note", value)


CHANGEABLE: dict[str, Callable[[Any], Any]] = {
    "note": _note,
    "box_mm": box,
    "tube_needed_mm": _tube,
    "enclosure_c": _enclosure,
}
"""What of a machine may be described anew, besides its motion limits, and what checks the new value."""
