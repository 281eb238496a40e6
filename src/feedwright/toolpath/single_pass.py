"""One pass over one file: the arrays the compiled loop works on, and the order in which it is called.

Memory is fixed: bytes come in chunks, rows leave as soon as nothing later can change their time.
A long file is read by one thread while another times and sums what it has read; both leave the
interpreter's lock alone.
"""

import math
import re
from collections.abc import Callable, Iterable, Iterator
from queue import Queue
from threading import Thread

import numpy as np

from feedwright.toolpath import kernel as k
from feedwright.toolpath.source import CHUNK_BYTES
from feedwright.toolpath.tally import duty_of
from feedwright.toolpath.timed import TimedMoves
from feedwright.toolpath.values import Duty, MotionLimits

CAPACITY_ROWS = 32768
FRONT_ROWS, EVENTS = CAPACITY_ROWS // 2, 4096
"""Rows that may be left of a block once it is settled, and events that a block holds."""
LONGEST_LINE_BYTES = 64 * 1024
LINE_END = re.compile(rb"[\r\n]")
TENS = 10.0 ** np.arange(16)
Watch = Callable[[TimedMoves], None]
"""Is shown the moves in order as soon as nothing later can change their time, some thousands at a time."""
Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Ints = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
FILAMENT_RULES = {"own": 0, "either": 1, "last": 2}


class Reading:
    """The reader's half: bytes to rows."""

    def __init__(self, limits: MotionLimits, *, straight: bool = True) -> None:
        self.straight = straight
        self.state = np.zeros(k.S_SIZE)
        self.whole_state = np.zeros(k.I_SIZE, np.int64)
        self.words = np.zeros(26)
        self.remarks = np.zeros((k.W_SIZE, k.REMARK_COLUMNS), np.int64)
        self.ring = np.zeros(k.RING, np.int32)
        self.passes_mm = np.zeros(k.PASSES)
        self.tail = b""
        """The end of a last line that has no newline."""
        self._start(limits)

    def _start(self, limits: MotionLimits) -> None:
        st, si = self.state, self.whole_state
        st[k.S_SCALE] = st[k.S_FEED_RATIO] = st[k.S_FLOW_RATIO] = 1.0
        st[k.S_STEP] = 0.2
        st[k.S_ACC_PRINT] = limits.printing_acceleration_mm_s2
        st[k.S_ACC_TRAVEL] = limits.travel_acceleration_mm_s2
        st[k.S_ACC_RETRACT] = limits.retraction_acceleration_mm_s2
        st[k.S_RETRACT_MM], st[k.S_RETRACT_SPEED] = limits.retract_mm, limits.retract_mm_s
        st[k.S_HOMING_S], st[k.S_TOOL_S] = limits.homing_s, limits.tool_change_s
        st[k.S_BOX : k.S_BOX + 3], st[k.S_BOX + 3 : k.S_BOX + 6] = math.inf, -math.inf
        st[k.S_INV_SPEED : k.S_INV_SPEED + 4] = 1.0 / np.array(limits.axis_speed_mm_s)
        st[k.S_INV_ACC : k.S_INV_ACC + 4] = 1.0 / np.array(limits.axis_acceleration_mm_s2)
        si[k.I_MOTION] = -1
        si[k.I_PLANE] = 170
        si[k.I_STOP] = 1
        si[k.I_FIL_RULE] = FILAMENT_RULES[limits.filament_mode_rule]
        si[k.I_BASE] = -(k.RING // 4)

    def read(self, buffer: np.ndarray, start: int, end: int, block: "Block") -> int:
        """Read from ``start`` until the block is full or ``end`` is reached; returns where it stopped."""
        si = self.whole_state
        si[k.I_ROWS], si[k.I_EVENTS], si[k.I_ARCS] = block.counts
        stopped = k.read_moves(
            buffer, start, end, self.state, si, self.words, block.rows, block.whole, block.arcs,
            block.event_rows, block.event_values, self.remarks, self.ring, self.passes_mm, TENS, self.straight,
        )  # fmt: skip
        block.counts = (int(si[k.I_ROWS]), int(si[k.I_EVENTS]), int(si[k.I_ARCS]))
        return int(stopped)

    def leave_out_line(self) -> None:
        """Count a line that is too long to be one."""
        self.whole_state[[k.I_LINE, k.I_N_OTHER, k.I_N_DAMAGED]] += 1
        count = self.remarks[k.W_LONG, 0] + 1
        self.remarks[k.W_LONG, 0] = count
        if count < k.REMARK_COLUMNS:
            self.remarks[k.W_LONG, count] = self.whole_state[k.I_LINE]


class Block:
    """Rows, arcs and events between the two halves; ``counts`` says how many of each are filled."""

    def __init__(self, capacity: int = CAPACITY_ROWS) -> None:
        self.rows, self.whole, self.arcs, self.event_rows, self.event_values = k.empty_arrays(capacity)
        self.counts = (0, 0, 0)

    @classmethod
    def of(cls, rows: Floats, whole: Ints, arcs: Floats, event_rows: Ints, event_values: Floats) -> "Block":
        """A block that lies in these arrays, still empty."""
        block = cls.__new__(cls)
        block.rows, block.whole, block.arcs = rows, whole, arcs
        block.event_rows, block.event_values = event_rows, event_values
        block.counts = (0, 0, 0)
        return block


class Handed:
    """Rows that the reading thread hands to the timing one, with room before them for those it still holds.

    What is left of one block is copied before the next, a few moves; the block itself is never copied.
    """

    def __init__(self) -> None:
        self._all = Block(FRONT_ROWS + CAPACITY_ROWS)
        fresh, events = FRONT_ROWS + CAPACITY_ROWS // 2, EVENTS
        self._all.event_rows = np.zeros((2 * events, 2), np.int64)
        self._all.event_values = np.zeros((2 * events, 2))
        self.fresh = Block.of(
            self._all.rows[:fresh], self._all.whole[:fresh], self._all.arcs[:fresh], self._all.event_rows,
            self._all.event_values,
        )  # fmt: skip

    def clear(self) -> Block:
        """The block to read into, with room before what will be read."""
        self.fresh.counts = (FRONT_ROWS, EVENTS, FRONT_ROWS)
        return self.fresh

    def behind(self, left: Block) -> Block:
        """What is left of the block before, and this one's rows behind it."""
        rows, events, arcs = left.counts
        last_row, last_event, last_arc = self.fresh.counts
        first, first_event, first_arc = FRONT_ROWS - rows, EVENTS - events, FRONT_ROWS - arcs
        whole, event_rows = self._all.whole, self._all.event_rows
        if last_arc > FRONT_ROWS:
            index = whole[FRONT_ROWS:last_row, k.R_ARC]
            index[index >= 0] -= first_arc
        event_rows[EVENTS:last_event, 0] -= first
        joined = Block.of(
            self._all.rows[first : first + CAPACITY_ROWS], whole[first : first + CAPACITY_ROWS],
            self._all.arcs[first_arc : first_arc + CAPACITY_ROWS], event_rows[first_event:],
            self._all.event_values[first_event:],
        )  # fmt: skip
        joined.rows[:rows], joined.whole[:rows] = left.rows[:rows], left.whole[:rows]
        joined.arcs[:arcs] = left.arcs[:arcs]
        joined.event_rows[:events], joined.event_values[:events] = left.event_rows[:events], left.event_values[:events]
        joined.counts = (last_row - first, last_event - first_event, last_arc - first_arc)
        return joined


class Timing:
    """The second half: rows to seconds and sums."""

    def __init__(self, limits: MotionLimits, block: Block, watch: Watch | None) -> None:
        self.block = block
        self.watch = watch
        capacity = block.rows.shape[0]
        self.corner, self.energy = np.zeros(capacity), np.zeros(capacity)
        self.seconds, self.cruise = np.zeros(capacity), np.zeros(capacity)
        self.begin, self.nozzle_c = np.zeros(capacity), np.zeros(capacity)
        self.window = min(limits.look_ahead_moves, capacity // 4)
        self.deque = np.zeros(max(self.window, 1) + 2, np.int64)
        self.left = np.zeros(3, np.int64)
        self.planner = np.zeros(k.P_SIZE)
        self.tally = np.zeros(k.A_SIZE)
        self.slices = np.zeros((k.SLICES, k.T_SIZE))
        self.flow_s = np.zeros(k.FLOW_BINS)
        self.nozzle_levels, self.bed_levels = np.zeros(k.NOZZLE_LEVELS), np.zeros(k.BED_LEVELS)
        self._start(limits)

    def _start(self, limits: MotionLimits) -> None:
        self.planner[k.P_DEVIATION] = limits.corner_deviation_mm
        self.planner[k.P_JX : k.P_JX + 4] = np.maximum(limits.velocity_change_mm_s, 1e-3)
        self.planner[k.P_INV_SPEED : k.P_INV_SPEED + 4] = 1.0 / np.array(limits.axis_speed_mm_s)
        self.planner[k.P_INV_ACC : k.P_INV_ACC + 4] = 1.0 / np.array(limits.axis_acceleration_mm_s2)
        self.planner[k.P_RULE] = 0.0 if limits.corner_rule == "deviation" else 1.0
        self.tally[k.A_SLICE_S] = 1.0
        self.tally[k.A_NOZZLE_LEVEL] = self.tally[k.A_BED_LEVEL] = -1.0
        self.tally[k.A_NOZZLE_NOW] = self.tally[k.A_BED_NOW] = limits.ambient_c
        self.numbers = np.array(
            [
                0.25 * math.pi * limits.filament_diameter_mm**2,
                limits.nozzle_heating_c_s,
                limits.nozzle_cooling_c_s,
                limits.bed_heating_c_s,
                limits.bed_cooling_c_s,
                limits.ambient_c,
            ]
        )

    def settle(self, *, flush: bool = False) -> tuple[int, int]:
        """Time and sum every row that is final, all where ``flush``; returns how many rows and events are."""
        b = self.block
        n, events, _ = b.counts
        done = k.plan_moves(
            b.rows, b.whole, b.arcs, b.event_rows, b.event_values, n, events, self.planner, self.window, flush,
            self.corner, self.energy, self.seconds, self.cruise, self.deque,
        )  # fmt: skip
        used = k.tally_moves(
            b.rows, b.whole, b.arcs, b.event_rows, b.event_values, n, done, events, flush, self.seconds,
            self.cruise, self.tally, self.numbers, self.slices, self.flow_s, self.nozzle_levels, self.bed_levels,
            self.begin, self.nozzle_c,
        )  # fmt: skip
        if self.watch is not None and done:
            self.watch(self.timed(int(done)))
        return int(done), int(used)

    def drop(self, done: int, used: int) -> None:
        """Move what is not final yet to the front of the block."""
        b = self.block
        n, events, arcs = b.counts
        k.drop_rows(
            b.rows, b.whole, b.arcs, b.event_rows, b.event_values, self.corner, n, events, arcs, done, used,
            self.planner, self.left,
        )  # fmt: skip
        b.counts = (int(self.left[0]), int(self.left[1]), int(self.left[2]))

    def make_room(self) -> None:
        """Settle and drop; where endless events between few moves still fill the block, come to a stop."""
        self.drop(*self.settle())
        if self.block.counts[1] > EVENTS // 2:
            self.drop(*self.settle(flush=True))

    def take(self, handed: Handed) -> None:
        """Settle what another thread has read; what is left is kept here, so that it can be read into again."""
        kept = self.block
        self.block = handed.behind(kept)
        self.make_room()
        rows, events, arcs = kept.counts = self.block.counts
        kept.rows[:rows], kept.whole[:rows] = self.block.rows[:rows], self.block.whole[:rows]
        kept.arcs[:arcs] = self.block.arcs[:arcs]
        kept.event_rows[:events] = self.block.event_rows[:events]
        kept.event_values[:events] = self.block.event_values[:events]
        self.block = kept

    def timed(self, count: int) -> TimedMoves:
        """Copies of what is known of the first ``count`` rows."""
        rows, whole = self.block.rows[:count], self.block.whole[:count]
        filament_mm, cruise = rows[:, k.C_FIL].copy(), self.cruise[:count]
        return TimedMoves(
            line=whole[:, k.R_LINE].copy(),
            layer=whole[:, k.R_LAYER].copy(),
            printing=(whole[:, k.R_FLAGS] & k.F_PRINTING) != 0,
            begin_s=self.begin[:count].copy(),
            duration_s=self.seconds[:count].copy(),
            filament_mm=filament_mm,
            flow_mm3_s=filament_mm * (self.numbers[k.M_AREA] * cruise / rows[:, k.C_LENGTH]),
            nozzle_c=self.nozzle_c[:count].copy(),
            z_mm=rows[:, k.C_Z].copy(),
        )


class SinglePass:
    """One file's pass: feed it chunks of whole lines, then ask for the duty."""

    def __init__(
        self, limits: MotionLimits, most_bytes: int = CHUNK_BYTES, *, straight: bool = True, watch: Watch | None = None
    ) -> None:
        self.reading = Reading(limits, straight=straight)
        self.timing = Timing(limits, Block(min(CAPACITY_ROWS, most_bytes + 64)), watch)

    def run(self, chunks: Iterable[tuple[np.ndarray, int]]) -> None:
        """Read, time and sum in this thread; each chunk is a buffer and the length of whole lines in it."""
        for buffer, end in chunks:
            position = 0
            while position < end:
                position = self.reading.read(buffer, position, end, self.timing.block)
                self.timing.make_room()
        self._finish()

    def run_in_two_threads(self, chunks: Iterable[tuple[np.ndarray, int]]) -> None:
        """The same, reading in this thread while another times and sums."""
        free: Queue[Handed | None] = Queue()
        full: Queue[Handed | None] = Queue()
        for _ in range(3):
            free.put(Handed())
        failed: list[BaseException] = []
        worker = Thread(target=self._time_blocks, args=(full, free, failed), daemon=True)
        worker.start()
        try:
            for buffer, end in chunks:
                position = 0
                while position < end and (handed := free.get()) is not None:
                    position = self.reading.read(buffer, position, end, handed.clear())
                    full.put(handed)
        finally:
            full.put(None)
            worker.join()
        if failed:
            raise failed[0]
        self._finish()

    def _time_blocks(
        self, full: "Queue[Handed | None]", free: "Queue[Handed | None]", failed: list[BaseException]
    ) -> None:
        try:
            while (handed := full.get()) is not None:
                self.timing.take(handed)
                free.put(handed)
        except BaseException as error:  # handed over to the reading thread, which raises it
            failed.append(error)
            free.put(None)

    def _finish(self) -> None:
        self.timing.drop(*self.timing.settle(flush=True))
        k.finish_passes(self.reading.state, self.reading.whole_state, self.reading.ring, self.reading.passes_mm)

    def duty(self) -> Duty:
        """What the whole file asks of the machine."""
        st, si = self.reading.state, self.reading.whole_state
        return duty_of(
            self.timing.slices, self.timing.tally, self.timing.flow_s, self.timing.nozzle_levels,
            self.timing.bed_levels, self.reading.passes_mm,
            area_mm2=float(self.timing.numbers[k.M_AREA]), moves=int(si[k.I_N_MOVES]), layers=int(si[k.I_LAYER]),
            high_water_mm=float(st[k.S_HIGH]), box=st[k.S_BOX : k.S_BOX + 6],
        )  # fmt: skip


def whole_lines(
    blocks: Iterable[bytes], reading: Reading, most_bytes: int = CHUNK_BYTES
) -> Iterator[tuple[np.ndarray, int]]:
    """Cut blocks of at most ``most_bytes`` into buffers that end with a line; overlong lines are left out."""
    buffer = bytearray(most_bytes + LONGEST_LINE_BYTES + 8)
    array = np.frombuffer(buffer, np.uint8)
    have = 0
    skipping = False
    for block in blocks:
        piece = block
        if skipping:
            cut = LINE_END.search(piece)
            if cut is None:
                continue
            piece, skipping = piece[cut.end() :], False
        buffer[have : have + len(piece)] = piece
        have += len(piece)
        end = max(buffer.rfind(b"\n", 0, have), buffer.rfind(b"\r", 0, have - 1)) + 1
        if end > 0:
            yield array, end
            buffer[: have - end] = buffer[end:have]
            have -= end
        if have > LONGEST_LINE_BYTES:
            reading.leave_out_line()
            have, skipping = 0, True
    if have:
        reading.tail = bytes(buffer[max(0, have - 256) : have])
        buffer[have] = 10  # the straight road looks for a line's end without looking for the buffer's
        yield array, have
