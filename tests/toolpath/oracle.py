"""A second reader, written apart from the first and as plainly as possible: the judge in tests.

Lists and dictionaries, one line at a time, the whole file in memory. It knows the commands that the tests use.
"""

import itertools
import math
import re
from dataclasses import dataclass, field
from functools import reduce

from feedwright.toolpath.values import MotionLimits

WORD = re.compile(r"([A-Z])\s*([-+]?(?:\d+\.?\d*|\.\d+))?")
CELL_MM = 0.1


@dataclass
class Leg:
    """One move: path length, direction at start and end, filament, speed and acceleration wanted."""

    length: float
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    filament: float
    speed: float
    acceleration: float
    stop_before: bool
    axes: tuple[float, float, float]
    z: float
    printing: bool


@dataclass
class Machine:
    limits: MotionLimits
    place: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    e: float = 0.0
    feed: float = 0.0
    mode: int | None = None
    relative: bool = False
    e_relative: bool = False
    unit: float = 1.0
    speed_ratio: float = 1.0
    flow_ratio: float = 1.0
    stop: bool = True
    retracted: bool = False
    legs: list[Leg] = field(default_factory=list)
    acceleration: dict[str, float] = field(default_factory=dict)
    still_s: float = 0.0

    def __post_init__(self) -> None:
        self.acceleration = {
            "P": self.limits.printing_acceleration_mm_s2,
            "T": self.limits.travel_acceleration_mm_s2,
            "R": self.limits.retraction_acceleration_mm_s2,
        }


def checksum_holds(line: str) -> bool:
    body, star, given = line.partition("*")
    if not star:
        return True
    return reduce(lambda total, char: total ^ ord(char), body, 0) == int(re.match(r"\d*", given)[0] or -1)


def run(text: str, limits: MotionLimits) -> Machine:
    machine = Machine(limits)
    for raw in re.split(r"\r\n|\n|\r", text):
        line = re.sub(r"\([^)]*\)?", "", raw.split(";")[0])
        if not checksum_holds(line):
            continue
        words = [(a, float(b) if b else math.nan) for a, b in WORD.findall(line.split("*")[0].upper())]
        if words and words[0][0] == "N":
            words = words[1:]
        if words:
            obey(machine, words)
    return machine


def obey(m: Machine, words: list[tuple[str, float]]) -> None:  # noqa: C901  one command after another  # noqa: C901  one command after another
    first, code = words[0]
    given = dict(words[1:] if first in "GMT" else words)
    if first == "M":
        m_command(m, int(code), given)
        return
    if first == "T":
        return
    moving = None
    for letter, number in words:
        if letter != "G":
            continue
        if number in (0, 1, 2, 3):
            moving = int(number)
        elif number in (20, 21):
            m.unit = 25.4 if number == 20 else 1.0
        elif number in (90, 91):
            m.relative = number == 91
        elif number == 4:
            m.still_s += given["S"] if "S" in given else given.get("P", 0.0) / 1000
            m.stop = True
        elif number == 28:
            for axis, name in enumerate("XYZ"):
                if name in given or not set("XYZ") & set(given):
                    m.place[axis] = 0.0
            m.stop = True
        elif number == 92:
            for axis, name in enumerate("XYZ"):
                if name in given:
                    m.place[axis] = given[name] * m.unit
            if "E" in given:
                m.e = given["E"] * m.unit
            return
        elif number in (10, 11) and m.retracted == (number == 11):
            m.retracted = number == 10
            push(m, list(m.place), m.limits.retract_mm * (1 if number == 11 else -1), m.limits.retract_mm_s, {}, 1)
    if given.get("F", 0.0) > 0:
        m.feed = given["F"] * m.unit / 60
    if moving is None and first != "G":
        moving = m.mode
    if moving is None:
        return
    m.mode = moving
    go(m, given, moving)


def m_command(m: Machine, code: int, given: dict[str, float]) -> None:
    if code in (82, 83):
        m.e_relative = code == 83
    elif code == 204:
        for name in "PTR":
            m.acceleration[name] = given.get(name, given.get("S", 0) if name != "R" else 0) or m.acceleration[name]
    elif code == 220 and given.get("S", 0) > 0:
        m.speed_ratio = given["S"] / 100
    elif code == 221 and given.get("S", 0) > 0:
        m.flow_ratio = given["S"] / 100
    elif code in (109, 190):
        m.stop = True


def go(m: Machine, given: dict[str, float], mode: int) -> None:
    if not set("XYZEIJ") & set(given):
        return
    target = list(m.place)
    for axis, name in enumerate("XYZ"):
        if name in given:
            target[axis] = given[name] * m.unit + (m.place[axis] if m.relative else 0.0)
    filament = 0.0
    if "E" in given:
        relative = m.e_relative or (m.limits.filament_mode_rule == "either" and m.relative)
        target_e = given["E"] * m.unit + (m.e if relative else 0.0)
        filament, m.e = target_e - m.e, target_e
        filament *= m.flow_ratio
    if m.feed <= 0:
        m.feed = 25.0
    push(m, target, filament, m.feed * m.speed_ratio, given, mode)


def push(m: Machine, target: list[float], filament: float, speed: float, given: dict[str, float], mode: int) -> None:
    delta = [b - a for a, b in zip(m.place, target, strict=True)]
    arc = mode in (2, 3) and ("I" in given or "J" in given)
    far = math.hypot(*delta)
    if far < 1e-8 and abs(filament) < 1e-12 and not arc:
        return
    if arc:
        i, j = given.get("I", 0.0) * m.unit, given.get("J", 0.0) * m.unit
        radius = math.hypot(i, j)
        begin = math.atan2(-j, -i)
        finish = math.atan2(delta[1] - j, delta[0] - i)
        sense = 1 if mode == 3 else -1
        sweep = (sense * (finish - begin)) % (2 * math.pi)
        if sweep < 1e-9 or math.hypot(delta[0], delta[1]) < 1e-6:
            sweep = 2 * math.pi
        length = math.hypot(radius * sweep, delta[2])
        flat, rise = radius * sweep / length, delta[2] / length

        def tangent(angle: float) -> tuple[float, float, float]:
            return (-sense * math.sin(angle) * flat, sense * math.cos(angle) * flat, rise)

        start, end = tangent(begin), tangent(begin + sense * sweep)
        steps = 4000
        at = [begin + sense * sweep * k / steps for k in range(steps + 1)]
        axes = (
            sum(abs(radius * (math.cos(b) - math.cos(a))) for a, b in itertools.pairwise(at)),
            sum(abs(radius * (math.sin(b) - math.sin(a))) for a, b in itertools.pairwise(at)),
            abs(delta[2]),
        )
        worst = (flat, flat, abs(rise), abs(filament) / length)
    elif far >= 1e-8:
        length = far
        start = end = (delta[0] / far, delta[1] / far, delta[2] / far)
        axes = (abs(delta[0]), abs(delta[1]), abs(delta[2]))
        worst = (abs(start[0]), abs(start[1]), abs(start[2]), abs(filament) / far)
    else:
        length = abs(filament)
        start = end = (0.0, 0.0, 0.0)
        axes = (0.0, 0.0, 0.0)
        worst = (0.0, 0.0, 0.0, 1.0)
    wanted = m.acceleration["P" if filament > 0 else "T"] if far >= 1e-8 or arc else m.acceleration["R"]
    for share, most, fastest in zip(worst, m.limits.axis_acceleration_mm_s2, m.limits.axis_speed_mm_s, strict=True):
        if share > 0:
            wanted, speed = min(wanted, most / share), min(speed, fastest / share)
    if arc:
        speed = min(speed, math.sqrt(wanted * radius) / flat)
    flat_move = arc or math.hypot(delta[0], delta[1]) > 0
    m.legs.append(Leg(length, start, end, filament, speed, wanted, m.stop, axes, target[2], filament > 0 and flat_move))
    m.stop = False
    m.place = target


def corner_v2(before: Leg, after: Leg, limits: MotionLimits) -> float:
    if after.stop_before:
        return 0.0
    top = min(before.speed, after.speed) ** 2
    if limits.corner_rule == "velocity_change":
        jumps = [abs(b - a) for a, b in zip(before.end, after.start, strict=True)]
        jumps.append(abs(after.filament / after.length - before.filament / before.length))
        for jump, allowed in zip(jumps, limits.velocity_change_mm_s, strict=True):
            if jump > 0:
                top = min(top, (allowed / jump) ** 2)
        return top
    if not any(before.end) or not any(after.start):
        return 0.0
    cosine = sum(a * b for a, b in zip(before.end, after.start, strict=True))
    if cosine >= 0.99999999:
        return top
    half_inner = math.acos(max(-1.0, min(1.0, -cosine))) / 2
    sine = math.sin(half_inner)
    if sine < 1e-6:
        return 0.0
    radius = limits.corner_deviation_mm * sine / (1 - sine)
    radius = min(radius, min(before.length, after.length) / 2 * math.tan(half_inner))
    return min(top, min(before.acceleration, after.acceleration) * radius)


def seconds(m: Machine) -> list[float]:
    """The time of every leg, looking ahead over all of them."""
    legs, n = m.legs, len(m.legs)
    entry = [0.0] * (n + 1)
    for i in range(n - 1, -1, -1):
        corner = corner_v2(legs[i - 1], legs[i], m.limits) if i else 0.0
        entry[i] = min(corner, entry[i + 1] + 2 * legs[i].acceleration * legs[i].length)
    times = []
    v0 = 0.0
    for i, leg in enumerate(legs):
        a, v = leg.acceleration, leg.speed
        v1 = math.sqrt(min(entry[i + 1], v0 * v0 + 2 * a * leg.length))
        peak = math.sqrt((2 * a * leg.length + v0 * v0 + v1 * v1) / 2)
        if peak <= v:
            times.append((2 * peak - v0 - v1) / a)
        else:
            cruise = leg.length - (2 * v * v - v0 * v0 - v1 * v1) / (2 * a)
            times.append((2 * v - v0 - v1) / a + cruise / v)
        v0 = v1
    return times


def layers(m: Machine, step: float = 0.2) -> int:
    count, height, spiral, below = 0, 0.0, False, 0.0
    for leg in m.legs:
        rising = leg.z > below + 1e-12
        below = leg.z
        if not leg.printing:
            continue
        gain = leg.z - height
        if count == 0 or (count == 1 and gain < -0.04):
            count, height = 1, leg.z
        elif rising or spiral:
            if gain >= step - 1e-6:
                count, height = count + 1, leg.z
        elif gain >= 0.04:
            step = gain if gain <= 1.5 else step
            count, height = count + 1, leg.z
        spiral = rising
    return count


def feed(m: Machine) -> dict[str, float]:
    """Highest position, forward, back, turns from forward to back."""
    place = high = forward = back = 0.0
    turns, direction = 0, 0
    for leg in m.legs:
        if leg.filament == 0:
            continue
        place += leg.filament
        high = max(high, place)
        forward += max(leg.filament, 0.0)
        back += max(-leg.filament, 0.0)
        turns += direction > 0 and leg.filament < 0
        direction = 1 if leg.filament > 0 else -1
    return {"high": high, "forward": forward, "back": back, "turns": turns}


def passes(m: Machine) -> dict[int, int]:
    """How many cells of filament passed the drive how often, by walking every stretch cell by cell."""
    turning, place, direction = [0.0], 0.0, 0
    for leg in m.legs:
        if leg.filament == 0:
            continue
        new = 1 if leg.filament > 0 else -1
        if direction and new != direction:
            turning.append(place)
        direction = new
        place += leg.filament
    turning.append(place)
    cells: dict[int, int] = {}
    for a, b in itertools.pairwise(turning):
        low, high = sorted((math.floor(a / CELL_MM + 1e-6), math.floor(b / CELL_MM + 1e-6)))
        for cell in range(low, high):
            cells[cell] = cells.get(cell, 0) + 1
    counted: dict[int, int] = {}
    for count in cells.values():
        counted[count] = counted.get(count, 0) + 1
    return counted
