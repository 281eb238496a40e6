"""The compiled loop: bytes to moves, moves to times, times to sums.

All compiled code stands in this one file, because a cached function does not notice that a helper in
another file has changed. Nothing here allocates by the size of a file, raises, or knows a name: the
typed shells in ``read.py`` own the arrays and turn codes and lines into words.

Three functions run one after the other on each chunk of the file:

``read_moves``   bytes -> rows, one a move, fully resolved (modal state applied), and events between rows
``plan_moves``   rows -> seconds, by look-ahead in energy form (v squared), committed where nothing later matters
``tally_moves``  seconds -> sums in at most ``SLICES`` slices of the print's own time

Numbers only: mm, s, mm/s, mm/s2, degC. Filament position is held in float64 throughout.
"""

import math

import numpy as np

from feedwright.toolpath.compiled import compiled

# --- rows ------------------------------------------------------------------------------------------------
# Columns of the float rows. The reader writes displacement, feed rate, acceleration and filament of a straight
# move; the planner turns that into path length, unit tangent, speed and acceleration within every axis's limits.
# An arc leaves the reader with all of them in place.
C_LENGTH, C_UX, C_UY, C_UZ, C_SPEED, C_ACC, C_FIL, C_Z = range(8)  # C_Z: height at the end
COLUMNS = 8
# Columns of the whole-number rows: line, layer, flags, arc (index into the arc table, -1 = straight).
R_LINE, R_LAYER, R_FLAGS, R_ARC = 0, 1, 2, 3
WHOLE_COLUMNS = 4
F_STOP, F_FILAMENT_ONLY, F_REVERSAL, F_PRINTING = 1, 2, 4, 8
# Columns of the arc table: tangent at the end, travel along each axis.
ARC_COLUMNS = 6

# --- events ----------------------------------------------------------------------------------------------
EV_DWELL, EV_NOZZLE, EV_NOZZLE_WAIT, EV_BED, EV_BED_WAIT, EV_FAN, EV_PAUSE = 1, 2, 3, 4, 5, 6, 7
EV_CORNER_DEVIATION, EV_CORNER_X = 10, 11  # 11..14: instant velocity change of X, Y, Z, filament
EV_INV_SPEED, EV_INV_ACC = 20, 30  # 20..23, 30..33: one over the greatest speed, acceleration of each axis

# --- reader state, floats --------------------------------------------------------------------------------
(S_X, S_Y, S_Z, S_E, S_FEED, S_OFF_X, S_OFF_Y, S_OFF_Z, S_SCALE, S_FEED_RATIO, S_FLOW_RATIO, S_VOLUME_AREA,
 S_POS, S_HIGH, S_TURN, S_LAYER_Z, S_STEP, S_ACC_PRINT, S_ACC_TRAVEL, S_ACC_RETRACT, S_RETRACT_MM,
 S_RETRACT_SPEED, S_HOMING_S, S_TOOL_S, S_BOX) = range(25)  # fmt: skip
S_INV_SPEED = S_BOX + 6
S_INV_ACC = S_INV_SPEED + 4
S_TOOL_C = S_INV_ACC + 4
S_SIZE = S_TOOL_C + 8
# --- reader state, whole numbers -------------------------------------------------------------------------
(I_LINE, I_MOTION, I_RELATIVE, I_FIL_RELATIVE, I_FIL_RULE, I_DIRECTION, I_LAYER, I_RETRACTED, I_TOOL, I_STOP,
 I_BASE, I_RUN, I_ROWS, I_EVENTS, I_ARCS, I_LAST_MOVE, I_PLANE, I_TOOL_SEEN, I_SPIRAL) = range(19)  # fmt: skip
# counts kept for telling what kind of file this is
(I_N_COMMANDS, I_N_OTHER, I_N_FIL_WORDS, I_N_SPINDLE, I_N_POWER, I_N_OTHER_AXES, I_N_MOVES, I_N_DAMAGED,
 I_N_CHECKED, I_LAST_PRINTING, I_N_XY_MOVES, I_N_PLUNGES, I_N_BLANK) = range(19, 32)  # fmt: skip
I_SIZE = 32

# --- remarks ---------------------------------------------------------------------------------------------
(W_CHECKSUM, W_UNREADABLE, W_NOT_GCODE, W_NO_FEED, W_ARC, W_PLANE, W_SECOND, W_LONG, W_UNKNOWN_G,
 W_EXPONENT) = range(1, 11)  # fmt: skip
W_SIZE = 11
REMARK_COLUMNS = 6  # count, then the first lines

LIMIT_MM = 1e5  # no machine moves further, nor feeds more filament in one move
CELL_MM = 0.1
RING = 16384
PASSES = 256  # the last counts that many or more

# --- tally -----------------------------------------------------------------------------------------------
SLICES = 256
NOZZLE_LEVELS, BED_LEVELS = 48, 16
(T_PRINTING, T_TRAVEL, T_HEATING, T_IDLE, T_FORWARD, T_BACK, T_REVERSALS, T_X, T_Y, T_Z, T_FAN, T_NOZZLE_UPS,
 T_BED_UPS, T_LAID, T_FLOW_MAX, T_LAYER, T_LINE, T_NOZZLE_C, T_NOZZLE) = range(19)  # fmt: skip
T_BED = T_NOZZLE + NOZZLE_LEVELS
T_SIZE = T_BED + BED_LEVELS
FLOW_BINS = 120
FLOW_BIN = 0.5
# tally state
(A_SLICE_S, A_IN_SLICE, A_HELD, A_FAN, A_NOZZLE_SET, A_NOZZLE_NOW, A_BED_SET, A_BED_NOW, A_SINCE,
 A_SLICE, A_NOZZLE_LEVEL, A_BED_LEVEL, A_NOZZLE_COUNT, A_BED_COUNT, A_FLOW_MAX, A_NOZZLE_MAX, A_BED_MAX,
 A_CLOCK) = range(18)  # fmt: skip
A_SIZE = 18
# tally numbers
M_AREA, M_NOZZLE_UP, M_NOZZLE_DOWN, M_BED_UP, M_BED_DOWN, M_AMBIENT = range(6)
# planner state: the last row, what is planned so far, limits; then the run of short rows (see _corner_of_run)
(P_UX, P_UY, P_UZ, P_UE, P_LENGTH, P_SPEED, P_ACC, P_ENERGY, P_PLANNED, P_DEVIATION, P_JX, P_JY, P_JZ, P_JE,
 P_RULE, P_ANCHOR, P_CHORD_X, P_CHORD_Y, P_CHORD_Z, P_CHORD, P_LAST_X, P_LAST_Y,
 P_LAST_Z, P_LAST) = range(24)  # fmt: skip
P_INV_SPEED, P_INV_ACC = 24, 28
P_SIZE = 32
ROUNDING_MM = 1e-3  # files write three decimals (assumed), which alone can turn a row by twice this over its length
SHORT_MM = 0.2  # rows shorter than this may hide their turn in the rounding
CHORD_MM = 0.5  # over which the bend of a run of such rows is measured instead, less where it bends much
CHORD_ROWS = 256


@compiled()
def _remark(st, si, remarks, code):
    """Count one remark of this kind, and keep the line where it is among the first."""
    count = remarks[code, 0] + 1
    remarks[code, 0] = count
    if count < remarks.shape[1]:
        remarks[code, count] = si[I_LINE]


@compiled()
def _event(si, event_rows, event_values, code, value, flag):
    count = si[I_EVENTS]
    event_rows[count, 0] = si[I_ROWS]
    event_rows[count, 1] = code
    event_values[count, 0] = value
    event_values[count, 1] = flag
    si[I_EVENTS] = count + 1


@compiled()
def _finalise(si, ring, passes_mm, upto):
    """Count the cells from the base up to (not with) ``upto`` as done."""
    base = si[I_BASE]
    run = si[I_RUN]
    while base < upto:
        at = base & (RING - 1)
        run += ring[at]
        ring[at] = 0
        if run > 0:
            passes_mm[min(run, PASSES - 1)] += CELL_MM
        base += 1
    si[I_BASE] = base
    si[I_RUN] = run


@compiled()
def _turn(st, si, ring, passes_mm):
    """Add one pass to every cell between the last turning point and the present position.

    Only the ends of the stretch are touched. A stretch longer than the ring is laid down in part and
    settled: what lies further than half a ring behind can no longer be told apart and counts as done.
    """
    low = math.floor(min(st[S_TURN], st[S_POS]) / CELL_MM + 1e-6)
    high = math.floor(max(st[S_TURN], st[S_POS]) / CELL_MM + 1e-6)
    st[S_TURN] = st[S_POS]
    if high - si[I_BASE] >= RING:
        room = si[I_BASE] + RING - 1
        if low < room:
            ring[max(low, si[I_BASE]) & (RING - 1)] += 1
            ring[room & (RING - 1)] -= 1
            low = room
        if high - room >= RING // 2:  # all that was worked before is far behind; one pass from there on
            _finalise(si, ring, passes_mm, room + 1)
            base = high - RING // 2
            passes_mm[1] += (base - si[I_BASE]) * CELL_MM
            si[I_BASE] = base
            low = max(low, base)
        else:
            _finalise(si, ring, passes_mm, high - RING // 2)
    low = max(low, si[I_BASE])
    if high > low:
        ring[low & (RING - 1)] += 1
        ring[high & (RING - 1)] -= 1


@compiled()
def finish_passes(st, si, ring, passes_mm):
    """Settle the last stretch and every cell still in the ring."""
    _turn(st, si, ring, passes_mm)
    _finalise(si, ring, passes_mm, si[I_BASE] + RING)


@compiled()
def _emit(st, si, rows, whole, dx, dy, dz, de, speed, flags):
    """One straight row as the file says it; the planner holds it within the axes' limits."""
    n = si[I_ROWS]
    if dx * dx + dy * dy + dz * dz >= 1e-16:
        rows[n, C_UX], rows[n, C_UY], rows[n, C_UZ] = dx, dy, dz
        rows[n, C_ACC] = st[S_ACC_PRINT] if de > 0.0 else st[S_ACC_TRAVEL]
    else:
        rows[n, C_UX], rows[n, C_UY], rows[n, C_UZ] = 0.0, 0.0, 0.0
        rows[n, C_ACC] = st[S_ACC_RETRACT]
        flags |= F_FILAMENT_ONLY
    rows[n, C_SPEED] = speed
    rows[n, C_FIL] = de
    rows[n, C_Z] = st[S_Z] + dz
    whole[n, R_LINE] = si[I_LINE]
    whole[n, R_LAYER] = si[I_LAYER]
    whole[n, R_ARC] = -1
    if si[I_STOP] != 0:
        flags |= F_STOP
        si[I_STOP] = 0
    whole[n, R_FLAGS] = flags
    si[I_ROWS] = n + 1


@compiled()
def _feed(st, si, de, ring, passes_mm):
    """Move the filament; returns the reversal flag. Passes are laid down only where the feed turns."""
    flag = 0
    if de > 0.0:
        if si[I_DIRECTION] < 0:
            _turn(st, si, ring, passes_mm)
        si[I_DIRECTION] = 1
        st[S_POS] += de
        if st[S_POS] > st[S_HIGH]:
            st[S_HIGH] = st[S_POS]
    else:
        if si[I_DIRECTION] > 0:
            _turn(st, si, ring, passes_mm)
            flag = F_REVERSAL
        si[I_DIRECTION] = -1
        st[S_POS] += de
    return flag


@compiled()
def _grow_box(st, x, y, z):
    if x < st[S_BOX]:
        st[S_BOX] = x
    if y < st[S_BOX + 1]:
        st[S_BOX + 1] = y
    if z < st[S_BOX + 2]:
        st[S_BOX + 2] = z
    if x > st[S_BOX + 3]:
        st[S_BOX + 3] = x
    if y > st[S_BOX + 4]:
        st[S_BOX + 4] = y
    if z > st[S_BOX + 5]:
        st[S_BOX + 5] = z


@compiled()
def _layer(st, si, z, rising):
    """A new layer where filament is laid higher than the last; a spiral counts by its last planar step."""
    gain = z - st[S_LAYER_Z]
    if si[I_LAYER] == 0:
        st[S_LAYER_Z] = z
        si[I_LAYER] = 1
    elif si[I_LAYER] == 1 and gain < -0.04:  # what lay higher before was priming, not a layer
        st[S_LAYER_Z] = z
    elif rising or si[I_SPIRAL]:
        if gain >= st[S_STEP] - 1e-6:
            st[S_LAYER_Z] = z
            si[I_LAYER] += 1
    elif gain >= 0.04:
        if gain <= 1.5:
            st[S_STEP] = gain
        st[S_LAYER_Z] = z
        si[I_LAYER] += 1
    si[I_SPIRAL] = 1 if rising else 0


@compiled()
def _swing(at):
    """Integral of |sin| from 0 to ``at``."""
    turns = math.floor(at / math.pi)
    return 2.0 * turns + 1.0 - math.cos(at - turns * math.pi)


@compiled()
def _arc(st, si, rows, whole, arcs, clockwise, ex, ey, dz, de, speed, flags, by_radius, i, j, radius, turns):
    """One arc as one row. Returns False where no such arc exists, so that it is taken straight."""
    x, y = st[S_X], st[S_Y]
    dx, dy = ex - x, ey - y
    chord = math.sqrt(dx * dx + dy * dy)
    if by_radius:
        if chord < 1e-9 or abs(radius) * 2.0 < chord * (1.0 - 1e-3) or radius == 0.0:
            return False
        rest = math.sqrt(max(0.0, radius * radius - 0.25 * chord * chord))
        side = -1.0 if clockwise else 1.0
        if radius < 0.0:
            side = -side
        i = 0.5 * dx - side * rest * dy / chord
        j = 0.5 * dy + side * rest * dx / chord
    r = math.sqrt(i * i + j * j)
    if not (1e-6 < r < 1e6):
        return False
    r_end = math.sqrt((dx - i) ** 2 + (dy - j) ** 2)
    if abs(r_end - r) > max(0.5, 0.02 * r):
        return False
    start = math.atan2(-j, -i)
    sign = -1.0 if clockwise else 1.0
    sweep = (sign * (math.atan2(dy - j, dx - i) - start)) % (2.0 * math.pi)
    if sweep < 1e-9 or chord < 1e-6:
        sweep = 2.0 * math.pi
    sweep = sign * (sweep + 2.0 * math.pi * turns)
    flat = r * abs(sweep)
    length = math.sqrt(flat * flat + dz * dz)
    n, k = si[I_ROWS], si[I_ARCS]
    level, climb = flat / length, dz / length
    rows[n, C_UX] = -sign * math.sin(start) * level
    rows[n, C_UY] = sign * math.cos(start) * level
    rows[n, C_UZ] = climb
    end = start + sweep
    arcs[k, 0] = -sign * math.sin(end) * level
    arcs[k, 1] = sign * math.cos(end) * level
    arcs[k, 2] = climb
    low, high = min(start, end), max(start, end)
    arcs[k, 3] = r * (_swing(high + 8 * math.pi) - _swing(low + 8 * math.pi))
    arcs[k, 4] = r * (_swing(high + 8.5 * math.pi) - _swing(low + 8.5 * math.pi))
    arcs[k, 5] = abs(dz)
    acc = st[S_ACC_PRINT] if de > 0.0 else st[S_ACC_TRAVEL]
    lazy = max(
        max(level * st[S_INV_ACC], level * st[S_INV_ACC + 1]),
        max(abs(climb) * st[S_INV_ACC + 2], abs(de) / length * st[S_INV_ACC + 3]),
    )
    if acc * lazy > 1.0:
        acc = 1.0 / lazy
    slow = max(
        max(level * st[S_INV_SPEED], level * st[S_INV_SPEED + 1]),
        max(abs(climb) * st[S_INV_SPEED + 2], abs(de) / length * st[S_INV_SPEED + 3]),
    )
    if speed * slow > 1.0:
        speed = 1.0 / slow
    speed = min(speed, math.sqrt(acc * r) / level)
    rows[n, C_LENGTH] = length
    rows[n, C_SPEED] = speed
    rows[n, C_ACC] = acc
    rows[n, C_FIL] = de
    rows[n, C_Z] = st[S_Z] + dz
    whole[n, R_LINE] = si[I_LINE]
    whole[n, R_LAYER] = si[I_LAYER]
    whole[n, R_ARC] = k
    if si[I_STOP] != 0:
        flags |= F_STOP
        si[I_STOP] = 0
    whole[n, R_FLAGS] = flags
    si[I_ROWS] = n + 1
    si[I_ARCS] = k + 1
    if flags & F_PRINTING:
        cx, cy = x + i, y + j
        for quarter in range(-16, 17):
            at = quarter * 0.5 * math.pi
            if low <= at <= high:
                _grow_box(st, cx + r * math.cos(at), cy + r * math.sin(at), st[S_Z])
    return True


@compiled()
def _set_modes(st, si, code):
    """G words that only change how the rest is understood. Returns True where it was one."""
    if code == 900:
        si[I_RELATIVE] = 0
        if si[I_FIL_RULE] == 2:
            si[I_FIL_RELATIVE] = 0
    elif code == 910:
        si[I_RELATIVE] = 1
        if si[I_FIL_RULE] == 2:
            si[I_FIL_RELATIVE] = 1
    elif code == 200:
        st[S_SCALE] = 25.4
    elif code == 210:
        st[S_SCALE] = 1.0
    elif code == 170 or code == 180 or code == 190:
        si[I_PLANE] = code
    else:
        return False
    return True


@compiled()
def _machine_word(st, si, m, mask, val, event_rows, event_values):
    """An M command with its words; commands that change nothing we count are left alone."""
    has_s = (mask >> 18) & 1
    s = val[18]
    if m == 104 or m == 109:
        waits = m == 109
        wanted = s if has_s else val[17]
        given = has_s or (mask >> 17) & 1
        tool = si[I_TOOL]
        if (mask >> 19) & 1 and 0.0 <= val[19] < 8.0:
            tool = int(val[19])
        if given and wanted == wanted and 0 <= tool < 8:
            wanted = min(max(wanted, 0.0), 2000.0)
            st[S_TOOL_C + tool] = wanted
        if tool == si[I_TOOL] or tool < 0 or tool >= 8:
            if given and wanted == wanted:
                _event(si, event_rows, event_values, EV_NOZZLE, wanted, 0.0)
            if waits:
                _event(si, event_rows, event_values, EV_NOZZLE_WAIT, 0.0, 0.0 if has_s else 1.0)
                si[I_STOP] = 1
    elif m == 140 or m == 190:
        wanted = s if has_s else val[17]
        if (has_s or (mask >> 17) & 1) and wanted == wanted:
            _event(si, event_rows, event_values, EV_BED, min(max(wanted, 0.0), 2000.0), 0.0)
        if m == 190:
            _event(si, event_rows, event_values, EV_BED_WAIT, 0.0, 0.0 if has_s else 1.0)
            si[I_STOP] = 1
    elif m == 106:
        which = val[15] if (mask >> 15) & 1 else 0.0
        if which == 0.0 or which == 1.0:
            full = s / 255.0 if has_s and s == s else 1.0
            _event(si, event_rows, event_values, EV_FAN, min(max(full, 0.0), 1.0), 0.0)
    elif m == 107:
        _event(si, event_rows, event_values, EV_FAN, 0.0, 0.0)
    elif m == 82 or m == 83:
        si[I_FIL_RELATIVE] = m - 82
    elif m == 200:
        if (mask >> 3) & 1 and val[3] == val[3]:
            st[S_VOLUME_AREA] = 0.25 * math.pi * val[3] * val[3] if val[3] > 0.0 else 0.0
    elif m == 220:
        if has_s and s > 0.0:
            st[S_FEED_RATIO] = min(s / 100.0, 10.0)
    elif m == 221:
        if has_s and s > 0.0:
            st[S_FLOW_RATIO] = min(s / 100.0, 10.0)
    elif m == 201 or m == 203:
        base = S_INV_ACC if m == 201 else S_INV_SPEED
        for axis in range(4):
            letter = 23 + axis if axis < 3 else 4
            if (mask >> letter) & 1 and val[letter] > 0.0:
                inverse = 1.0 / min(max(val[letter], 1e-3), 1e9)
                st[base + axis] = inverse
                code = EV_INV_ACC if m == 201 else EV_INV_SPEED
                _event(si, event_rows, event_values, code + axis, inverse, 0.0)
    elif m == 204:
        for letter in (18, 15, 17, 19):  # S both, P printing, R filament alone, T travel
            if (mask >> letter) & 1 and val[letter] > 0.0:
                acc = min(max(val[letter], 1.0), 1e9)
                if letter == 18 or letter == 15:
                    st[S_ACC_PRINT] = acc
                if letter == 18 or letter == 19:
                    st[S_ACC_TRAVEL] = acc
                if letter == 17:
                    st[S_ACC_RETRACT] = acc
    elif m == 205:
        if (mask >> 9) & 1 and val[9] > 0.0:
            _event(si, event_rows, event_values, EV_CORNER_DEVIATION, min(val[9], 1e3), 0.0)
        for axis in range(4):
            letter = 23 + axis if axis < 3 else 4
            if (mask >> letter) & 1 and val[letter] > 0.0:
                _event(si, event_rows, event_values, EV_CORNER_X + axis, max(val[letter], 1e-3), 0.0)
    elif m == 3 or m == 4:
        si[I_N_SPINDLE] += 1


@compiled(error_model="numpy")
def _read_plain_moves(buf, pos, end, st, si, rows, whole, tens, ring, passes_mm):
    """The straight road: lines that are blank, comment, or G0/G1 with X Y Z E F words and no more.

    Reads on while lines are of that kind and returns the offset of the first that is not. All state is
    held in local variables meanwhile, which is what makes it fast; the result is the same as that of the
    general road in ``read_moves`` (a test compares them).
    """
    cap = rows.shape[0] - 4
    n = si[I_ROWS]
    line = si[I_LINE]
    layer = si[I_LAYER]
    spiral = si[I_SPIRAL]
    direction = si[I_DIRECTION]
    stop = si[I_STOP]
    last_printing = si[I_LAST_PRINTING]
    last_move = si[I_LAST_MOVE]
    commands = si[I_N_COMMANDS]
    blank = si[I_N_BLANK]
    fil_words = si[I_N_FIL_WORDS]
    moves = si[I_N_MOVES]
    xy_moves = si[I_N_XY_MOVES]
    motion = si[I_MOTION]
    relative = si[I_RELATIVE] != 0
    fil_relative = si[I_FIL_RELATIVE] != 0 or (si[I_FIL_RULE] == 1 and relative)
    px, py, pz, pe = st[S_X], st[S_Y], st[S_Z], st[S_E]
    feed = st[S_FEED]
    position, high = st[S_POS], st[S_HIGH]
    layer_z, step = st[S_LAYER_Z], st[S_STEP]
    acc_print, acc_travel, acc_retract = st[S_ACC_PRINT], st[S_ACC_TRAVEL], st[S_ACC_RETRACT]
    x_low, y_low, z_low = st[S_BOX], st[S_BOX + 1], st[S_BOX + 2]
    x_high, y_high, z_high = st[S_BOX + 3], st[S_BOX + 4], st[S_BOX + 5]
    while pos < end and n < cap:
        at = pos
        c = buf[at]
        if c == 59:  # a comment line
            while at < end and buf[at] != 10:
                at += 1
            if at >= end:
                break
            pos = at + 1
            line += 1
            blank += 1
            continue
        if c == 10:
            pos += 1
            line += 1
            blank += 1
            continue
        if c != 71 or at + 3 >= end:
            break
        code = buf[at + 1]
        if code != 48 and code != 49:
            break
        at += 2
        d = buf[at]
        if 48 <= d <= 57 or d == 46:
            break
        tx, ty, tz, te = px, py, pz, 0.0
        has_e = False
        new_feed = 0.0
        plain = True
        while True:
            while d == 32:
                at += 1
                d = buf[at]
            if d == 10:
                break
            if d == 13:
                if at + 1 < end and buf[at + 1] == 10:
                    at += 1
                    break
                plain = False
                break
            if d == 59:
                while at < end and buf[at] != 10 and buf[at] != 13:
                    at += 1
                if at >= end:
                    plain = False
                    break
                d = buf[at]
                continue
            letter = d
            word = at
            if not (letter == 88 or letter == 89 or letter == 69 or letter == 70 or letter == 90):
                plain = False
                break
            at += 1
            d = buf[at]
            negative = d == 45
            if negative:
                at += 1
                d = buf[at]
            mantissa = 0
            first_digit = at
            digit = np.int64(d) - 48
            while 0 <= digit <= 9:
                mantissa = mantissa * 10 + digit
                at += 1
                digit = np.int64(buf[at]) - 48
            decimals = 0
            digits = at - first_digit
            if digit == -2:
                at += 1
                point = at
                digit = np.int64(buf[at]) - 48
                while 0 <= digit <= 9:
                    mantissa = mantissa * 10 + digit
                    at += 1
                    digit = np.int64(buf[at]) - 48
                decimals = at - point
                digits += decimals
            d = buf[at]
            if digits == 0 or digits > 15:
                plain = False
                break
            number = mantissa / tens[decimals]
            if negative:
                number = -number
            if letter == 88:
                tx = number + px if relative else number
            elif letter == 89:
                ty = number + py if relative else number
            elif letter == 69:
                if has_e or (buf[word - 1] > 32 and buf[pos + 2] == 32):  # twice, or an exponent by its looks
                    plain = False
                    break
                te = number
                has_e = True
            elif letter == 70:
                new_feed = number
            else:
                tz = number + pz if relative else number
        if not plain:
            break
        de = 0.0
        if has_e:
            de = te if fil_relative else te - pe
        dx, dy, dz = tx - px, ty - py, tz - pz
        if max(max(abs(tx), abs(ty)), max(abs(tz), abs(de))) > LIMIT_MM or tz < 0.0 or abs(te) > 1e9:
            break
        if new_feed > 0.0:
            feed = new_feed / 60.0
        elif feed <= 0.0:
            break
        # From here on the line is taken.
        pos = at + 1
        line += 1
        commands += 1
        motion = np.int64(code) - 48
        if has_e:
            fil_words += 1
            pe += de
            if not fil_relative:
                pe = te
        flat2 = dx * dx + dy * dy
        length2 = flat2 + dz * dz
        ae = abs(de)
        if length2 < 1e-16 and ae < 1e-12:
            continue
        flags = 0
        if de > 0.0:
            if direction < 0:
                st[S_POS] = position
                _turn(st, si, ring, passes_mm)
            direction = 1
            position += de
            high = max(high, position)
            if flat2 > 0.0:
                flags = F_PRINTING
                rising = dz > 0.0
                if tz != layer_z or rising or layer == 0:
                    gain = tz - layer_z
                    if layer == 0:
                        layer_z = tz
                        layer = 1
                    elif layer == 1 and gain < -0.04:
                        layer_z = tz
                    elif rising or spiral:
                        if gain >= step - 1e-6:
                            layer_z = tz
                            layer += 1
                    elif gain >= 0.04:
                        if gain <= 1.5:
                            step = gain
                        layer_z = tz
                        layer += 1
                spiral = 1 if rising else 0
                x_low, y_low, z_low = min(x_low, min(px, tx)), min(y_low, min(py, ty)), min(z_low, tz)
                x_high, y_high, z_high = max(x_high, max(px, tx)), max(y_high, max(py, ty)), max(z_high, tz)
                last_printing = line
        elif de < 0.0:
            if direction > 0:
                st[S_POS] = position
                _turn(st, si, ring, passes_mm)
                flags = F_REVERSAL
            direction = -1
            position += de
        last_move = line
        moves += 1
        if length2 >= 1e-16:
            rows[n, C_UX], rows[n, C_UY], rows[n, C_UZ] = dx, dy, dz
            rows[n, C_ACC] = acc_print if de > 0.0 else acc_travel
            if flat2 > 0.0:
                xy_moves += 1
        else:
            rows[n, C_UX], rows[n, C_UY], rows[n, C_UZ] = 0.0, 0.0, 0.0
            rows[n, C_ACC] = acc_retract
            flags |= F_FILAMENT_ONLY
        rows[n, C_SPEED] = max(feed, 1e-3)
        rows[n, C_FIL] = de
        rows[n, C_Z] = tz
        if stop != 0:
            flags |= F_STOP
            stop = 0
        whole[n, R_LINE] = line
        whole[n, R_LAYER] = layer
        whole[n, R_FLAGS] = flags
        whole[n, R_ARC] = -1
        n += 1
        px, py, pz = tx, ty, tz
    si[I_ROWS] = n
    si[I_LINE] = line
    si[I_LAYER] = layer
    si[I_SPIRAL] = spiral
    si[I_DIRECTION] = direction
    si[I_STOP] = stop
    si[I_LAST_PRINTING] = last_printing
    si[I_LAST_MOVE] = last_move
    si[I_N_COMMANDS] = commands
    si[I_N_BLANK] = blank
    si[I_N_FIL_WORDS] = fil_words
    si[I_N_MOVES] = moves
    si[I_N_XY_MOVES] = xy_moves
    si[I_MOTION] = motion
    st[S_X], st[S_Y], st[S_Z], st[S_E] = px, py, pz, pe
    st[S_FEED] = feed
    st[S_POS], st[S_HIGH] = position, high
    st[S_LAYER_Z], st[S_STEP] = layer_z, step
    st[S_BOX], st[S_BOX + 1], st[S_BOX + 2] = x_low, y_low, z_low
    st[S_BOX + 3], st[S_BOX + 4], st[S_BOX + 5] = x_high, y_high, z_high
    return pos


@compiled()
def read_moves(
    buf,
    start,
    end,
    st,
    si,
    val,
    rows,
    whole,
    arcs,
    event_rows,
    event_values,
    remarks,
    ring,
    passes_mm,
    tens,
    straight,
):
    """Read whole lines of ``buf[start:end]`` into rows; returns the offset where it stopped.

    It stops at ``end``, or earlier where the rows, arcs or events are nearly full. ``buf`` uint8 (n,);
    ``rows`` float64 (capacity, COLUMNS); ``whole`` int64 (capacity, WHOLE_COLUMNS); ``tens`` powers of ten
    (16,); ``straight`` False keeps to the general road throughout (for tests).
    """
    cap = rows.shape[0] - 4
    cap_events = event_rows.shape[0] - 16
    cap_arcs = arcs.shape[0] - 4
    pos = start
    while pos < end:
        if si[I_ROWS] >= cap or si[I_EVENTS] >= cap_events or si[I_ARCS] >= cap_arcs:
            break
        if (
            straight
            and st[S_SCALE] == 1.0
            and st[S_FLOW_RATIO] == 1.0
            and st[S_FEED_RATIO] == 1.0
            and st[S_VOLUME_AREA] == 0.0
        ):
            pos = _read_plain_moves(buf, pos, end, st, si, rows, whole, tens, ring, passes_mm)
            if pos >= end or si[I_ROWS] >= cap:
                break
        line_start = pos
        si[I_LINE] += 1
        mask = 0
        first = 0  # letter of the first word after a line number
        motion = -1
        act = -1  # a G word that does something other than move, times ten
        m_code = -1
        damaged = False
        second = False
        x = y = z = e = 0.0
        feed_given = False
        spaced = False
        while pos < end:
            c = buf[pos]
            if c == 32 or c == 9:
                pos += 1
                continue
            if c == 10 or c == 13:
                break
            if c == 59:  # ;
                while pos < end and buf[pos] != 10 and buf[pos] != 13:
                    pos += 1
                break
            if c == 40:  # ( ... )
                while pos < end and buf[pos] != 41 and buf[pos] != 10 and buf[pos] != 13:
                    pos += 1
                if pos < end and buf[pos] == 41:
                    pos += 1
                continue
            if c >= 97 and c <= 122:
                c -= 32
            if c < 65 or c > 90:
                if c == 42:  # * checksum of all that stands before it
                    total = 0
                    for k in range(line_start, pos):
                        total ^= buf[k]
                    pos += 1
                    given = 0
                    digits = 0
                    while pos < end and 48 <= buf[pos] <= 57 and digits < 6:
                        given = given * 10 + buf[pos] - 48
                        digits += 1
                        pos += 1
                    si[I_N_CHECKED] += 1
                    if digits == 0 or given != total:
                        _remark(st, si, remarks, W_CHECKSUM)
                        si[I_N_DAMAGED] += 1
                        first = -1
                    while pos < end and buf[pos] != 10 and buf[pos] != 13:
                        pos += 1
                    break
                if c == 37 or c == 47:  # % frames a program, / marks a line that may be left out
                    pos += 1
                    continue
                damaged = True
                while pos < end and buf[pos] != 10 and buf[pos] != 13:
                    pos += 1
                break
            # a word: letter, then a number
            if c == 69 and spaced and pos > line_start and buf[pos - 1] > 32:
                _remark(st, si, remarks, W_EXPONENT)  # 'X1.5E-5' among words set apart by blanks
            spaced = pos > line_start and (buf[pos - 1] == 32 or buf[pos - 1] == 9)
            pos += 1
            while pos < end and (buf[pos] == 32 or buf[pos] == 9):
                pos += 1
            negative = False
            mantissa = 0
            digits = 0
            decimals = 0
            d = buf[pos] if pos < end else 10
            if d == 45:
                negative = True
                pos += 1
                d = buf[pos] if pos < end else 10
            elif d == 43:
                pos += 1
                d = buf[pos] if pos < end else 10
            while 48 <= d <= 57:
                if digits < 17:
                    mantissa = mantissa * 10 + (d - 48)
                    digits += 1
                else:
                    decimals -= 1
                pos += 1
                d = buf[pos] if pos < end else 10
            if d == 46:
                pos += 1
                d = buf[pos] if pos < end else 10
                while 48 <= d <= 57:
                    if digits < 17:
                        mantissa = mantissa * 10 + (d - 48)
                        digits += 1
                        decimals += 1
                    pos += 1
                    d = buf[pos] if pos < end else 10
            if digits == 0:
                number = math.nan
            else:
                number = float(mantissa)
                if decimals > 0:
                    if decimals <= 5:
                        if decimals == 3:
                            number /= 1e3
                        elif decimals == 5:
                            number /= 1e5
                        elif decimals == 4:
                            number /= 1e4
                        elif decimals == 2:
                            number /= 1e2
                        else:
                            number /= 10.0
                    else:
                        number /= 10.0**decimals
                elif decimals < 0:
                    number *= 10.0 ** min(-decimals, 30)
                if negative:
                    number = -number
            # 71 G, 77 M, 78 N, 84 T, 88 X, 89 Y, 90 Z, 69 E, 70 F
            if c == 88:
                x = number
                mask |= 1 << 23
            elif c == 89:
                y = number
                mask |= 1 << 24
            elif c == 69:
                e = number
                mask |= 1 << 4
            elif c == 70:
                feed_given = True
                val[5] = number
                mask |= 1 << 5
            elif c == 71:
                if first == 0 or (first == 71 and m_code < 0):
                    code = int(number * 10.0 + 0.5) if number == number and 0 <= number < 99999 else -2
                    if code <= 30 and code % 10 == 0:
                        if motion >= 0 or act >= 0:
                            second = True
                        else:
                            motion = code // 10
                    elif not _set_modes(st, si, code):
                        if motion >= 0 or act >= 0:
                            second = True
                        else:
                            act = code
                            if code == -2:
                                act = 0  # none that does anything; it only keeps the line from moving
                                damaged = True
                else:  # a second command after an M or T: the first one decides
                    second = True
                    while pos < end and buf[pos] != 10 and buf[pos] != 13:
                        pos += 1
                    break
            elif c == 77:
                if first == 0:
                    m_code = int(number) if number == number and 0 <= number < 100000 else 99999
                    known = (
                        m_code == 104 or m_code == 109 or m_code == 140 or m_code == 190 or m_code == 106
                        or m_code == 107 or m_code == 82 or m_code == 83 or (200 <= m_code <= 205)
                        or m_code == 220 or m_code == 221 or m_code == 3 or m_code == 4
                    )  # fmt: skip
                    if not known or m_code == 202:  # the rest may be text, or words we do not count
                        if m_code == 99999:
                            damaged = True
                        first = 77
                        # stop at a comment or a checksum only
                        while pos < end and buf[pos] != 10 and buf[pos] != 13 and buf[pos] != 42:
                            if buf[pos] == 59:
                                while pos < end and buf[pos] != 10 and buf[pos] != 13:
                                    pos += 1
                                break
                            pos += 1
                        if pos < end and buf[pos] == 42 and buf[line_start] != 78 and buf[line_start] != 110:
                            while pos < end and buf[pos] != 10 and buf[pos] != 13:
                                pos += 1
                        continue
                else:
                    second = True
                    if number == 3.0 or number == 4.0:
                        si[I_N_SPINDLE] += 1
                    while pos < end and buf[pos] != 10 and buf[pos] != 13:
                        pos += 1
                    break
            elif c == 78 and first == 0 and mask == 0:
                if digits == 0:
                    first = -2
                    while pos < end and buf[pos] != 10 and buf[pos] != 13:
                        pos += 1
                    break
                continue
            elif c == 84 and first == 0:
                val[19] = number
                mask |= 1 << 19
            else:
                if c == 90:
                    z = number
                val[c - 65] = number
                mask |= 1 << (c - 65)
            if first == 0:
                first = c
                if digits == 0 and ((d >= 65 and d <= 90) or (d >= 97 and d <= 122) or d == 95):
                    # letters on letters: a named macro or prose, not a word of G-code
                    first = -2
                    while pos < end and buf[pos] != 10 and buf[pos] != 13:
                        pos += 1
                    break
            if digits == 0 and first != 71 and first != 77 and c != 84:
                damaged = True
        # past the line's end
        if pos < end:
            if buf[pos] == 13:
                pos += 1
                if pos < end and buf[pos] == 10:
                    pos += 1
            else:
                pos += 1
        if damaged:
            si[I_N_DAMAGED] += 1
            si[I_N_OTHER] += 1
            _remark(st, si, remarks, W_UNREADABLE)
            if first != 71 or motion < 0:
                continue
        if first == 0 or first == -1:
            if first == 0:
                si[I_N_BLANK] += 1
            continue
        if first == -2:
            si[I_N_OTHER] += 1
            _remark(st, si, remarks, W_NOT_GCODE)
            continue
        if second:
            _remark(st, si, remarks, W_SECOND)
        if mask & 0x100007:  # A B C U
            si[I_N_OTHER_AXES] += 1
        if m_code >= 0:
            si[I_N_COMMANDS] += 1
            val[4] = e
            val[23] = x
            val[24] = y
            _machine_word(st, si, m_code, mask, val, event_rows, event_values)
            continue
        if first == 84:
            si[I_N_COMMANDS] += 1
            tool = int(val[19]) if val[19] == val[19] and 0 <= val[19] < 100 else -1
            if 0 <= tool:
                if tool != si[I_TOOL] and si[I_TOOL_SEEN]:
                    _event(si, event_rows, event_values, EV_PAUSE, st[S_TOOL_S], 0.0)
                    si[I_STOP] = 1
                si[I_TOOL_SEEN] = 1
                si[I_TOOL] = tool
                if tool < 8 and st[S_TOOL_C + tool] > 0.0:
                    _event(si, event_rows, event_values, EV_NOZZLE, st[S_TOOL_C + tool], 0.0)
            continue
        if first == 71:
            si[I_N_COMMANDS] += 1
        elif mask & 0x3800010:  # a line of axis words alone goes on with the last motion
            si[I_N_COMMANDS] += 1
            motion = si[I_MOTION]
        else:
            if feed_given or first == 83:
                si[I_N_COMMANDS] += 1
            else:
                si[I_N_OTHER] += 1
            if not feed_given:
                continue
        scale = st[S_SCALE]
        if feed_given and val[5] == val[5] and val[5] > 0.0:
            st[S_FEED] = val[5] * scale / 60.0
        if act >= 0:
            if act == 40:
                seconds = 0.0
                if (mask >> 18) & 1 and val[18] > 0.0:
                    seconds = val[18]
                elif (mask >> 15) & 1 and val[15] > 0.0:
                    seconds = val[15] / 1000.0
                _event(si, event_rows, event_values, EV_DWELL, min(seconds, 1e6), 0.0)
                si[I_STOP] = 1
            elif act == 100 or act == 110:
                if act == 100 and not (mask & ((1 << 11) | (1 << 15))) and si[I_RETRACTED] == 0:
                    si[I_RETRACTED] = 1
                    if st[S_RETRACT_MM] > 1e-6:
                        flags = _feed(st, si, -st[S_RETRACT_MM], ring, passes_mm)
                        _emit(st, si, rows, whole, 0.0, 0.0, 0.0, -st[S_RETRACT_MM], st[S_RETRACT_SPEED], flags)
                        si[I_N_MOVES] += 1
                elif act == 110 and si[I_RETRACTED] == 1:
                    si[I_RETRACTED] = 0
                    if st[S_RETRACT_MM] > 1e-6:
                        _feed(st, si, st[S_RETRACT_MM], ring, passes_mm)
                        _emit(st, si, rows, whole, 0.0, 0.0, 0.0, st[S_RETRACT_MM], st[S_RETRACT_SPEED], 0)
                        si[I_N_MOVES] += 1
            elif act == 280:
                _event(si, event_rows, event_values, EV_PAUSE, st[S_HOMING_S], 0.0)
                si[I_STOP] = 1
                every = not (mask & 0x3800000)
                for axis in range(3):
                    if every or (mask >> (23 + axis)) & 1:
                        st[S_X + axis] = 0.0
                        st[S_OFF_X + axis] = 0.0
            elif act == 920:
                every = not (mask & 0x3800010)
                for axis in range(3):
                    if every or (mask >> (23 + axis)) & 1:
                        value = x if axis == 0 else (y if axis == 1 else z)
                        value = 0.0 if every or value != value else value * scale
                        value = min(max(value, -LIMIT_MM), LIMIT_MM)
                        st[S_OFF_X + axis] += st[S_X + axis] - value
                        st[S_X + axis] = value
                if every or (mask >> 4) & 1:
                    st[S_E] = 0.0 if every or e != e else min(max(e * scale, -1e9), 1e9)
            elif act == 921:
                for axis in range(3):
                    st[S_X + axis] += st[S_OFF_X + axis]
                    st[S_OFF_X + axis] = 0.0
            elif (
                act == 50
                or act == 51
                or act == 60
                or act == 330
                or (380 <= act <= 389)
                or act == 730
                or (810 <= act <= 899)
            ):
                _remark(st, si, remarks, W_UNKNOWN_G)  # it would move: splines, threads, probing, drilling
            continue
        if motion < 0:
            continue
        si[I_MOTION] = motion
        if not (mask & 0x3800010):
            if not (motion >= 2 and mask & 0x300):
                continue
        tx, ty, tz = st[S_X], st[S_Y], st[S_Z]
        if (mask >> 23) & 1 and x == x:
            tx = x * scale + (tx if si[I_RELATIVE] else 0.0)
        if (mask >> 24) & 1 and y == y:
            ty = y * scale + (ty if si[I_RELATIVE] else 0.0)
        if (mask >> 25) & 1 and z == z:
            tz = z * scale + (tz if si[I_RELATIVE] else 0.0)
        de = 0.0
        if (mask >> 4) & 1 and e == e:
            si[I_N_FIL_WORDS] += 1
            relative = si[I_FIL_RELATIVE] or (si[I_FIL_RULE] == 1 and si[I_RELATIVE])
            if relative:
                de = e * scale
                st[S_E] += de
            else:
                de = e * scale - st[S_E]
                st[S_E] = e * scale
            de *= st[S_FLOW_RATIO]
            if st[S_VOLUME_AREA] > 0.0:
                de /= st[S_VOLUME_AREA]
        lost = ((mask >> 23) & 1 and x != x) or ((mask >> 24) & 1 and y != y) or ((mask >> 25) & 1 and z != z)
        if lost or ((mask >> 4) & 1 and e != e):
            si[I_N_DAMAGED] += 1
            _remark(st, si, remarks, W_UNREADABLE)
        if max(max(abs(tx), abs(ty)), max(abs(tz), abs(de))) > LIMIT_MM or abs(st[S_E]) > 1e9:
            si[I_N_DAMAGED] += 1
            _remark(st, si, remarks, W_UNREADABLE)
            continue
        dx, dy, dz = tx - st[S_X], ty - st[S_Y], tz - st[S_Z]
        moves_xy = dx * dx + dy * dy > 0.0
        far = dx * dx + dy * dy + dz * dz >= 1e-16
        curved = motion >= 2 and (mask & 0x20300) != 0 and (moves_xy or mask & 0x300)
        if not far and not curved and abs(de) < 1e-12:
            continue
        flags = 0
        if de != 0.0:
            flags = _feed(st, si, de, ring, passes_mm)
        if de > 0.0 and (moves_xy or curved):
            flags |= F_PRINTING
            _layer(st, si, tz, dz > 0.0)
            _grow_box(st, st[S_X], st[S_Y], tz)
            _grow_box(st, tx, ty, tz)
            si[I_LAST_PRINTING] = si[I_LINE]
        si[I_LAST_MOVE] = si[I_LINE]
        if moves_xy or curved:
            si[I_N_XY_MOVES] += 1
        if dz < 0.0 and tz < 0.0:
            si[I_N_PLUNGES] += 1
        if (mask >> 18) & 1:
            si[I_N_POWER] += 1
        if st[S_FEED] <= 0.0:
            st[S_FEED] = 25.0
            _remark(st, si, remarks, W_NO_FEED)
        speed = max(st[S_FEED] * st[S_FEED_RATIO], 1e-3)
        si[I_N_MOVES] += 1
        done = False
        if motion >= 2:
            if curved and si[I_PLANE] == 170:
                done = _arc(
                    st, si, rows, whole, arcs, motion == 2, tx, ty, dz, de, speed, flags,
                    not (mask & 0x300),
                    val[8] * scale if (mask >> 8) & 1 and val[8] == val[8] else 0.0,
                    val[9] * scale if (mask >> 9) & 1 and val[9] == val[9] else 0.0,
                    val[17] * scale if (mask >> 17) & 1 and val[17] == val[17] else 0.0,
                    min(max(val[15] - 1.0, 0.0), 3.0) if (mask >> 15) & 1 and val[15] == val[15] else 0.0,
                )  # fmt: skip
            if not done:
                _remark(st, si, remarks, W_PLANE if si[I_PLANE] != 170 else W_ARC)
        if not done and (far or abs(de) >= 1e-12):
            _emit(st, si, rows, whole, dx, dy, dz, de, speed, flags)
        st[S_X] = tx
        st[S_Y] = ty
        st[S_Z] = tz
    return pos


@compiled()
def _set_planner(pl, code, value):
    """A change of the machine's limits between two moves."""
    if code >= EV_INV_ACC:
        pl[P_INV_ACC + code - EV_INV_ACC] = value
    elif code >= EV_INV_SPEED:
        pl[P_INV_SPEED + code - EV_INV_SPEED] = value
    elif code >= EV_CORNER_X:
        pl[P_JX + code - EV_CORNER_X] = value
    elif code == EV_CORNER_DEVIATION:
        pl[P_DEVIATION] = value


@compiled(error_model="numpy")
def _tangent_circle(cosine, deviation, shorter):
    """Radius of the circle that touches both legs of a corner and passes it at ``deviation``.

    R = deviation s / (1 - s), s the sine of half the inner angle; at most (shorter / 2) tan of it, so that the
    circle stays within half of either leg (else finely cut arcs would be taken too fast).
    """
    half = 0.5 * (1.0 + cosine)  # s squared
    if half < 1e-12:
        return 0.0
    s = math.sqrt(half)
    return min(deviation * s / (1.0 - s), 0.5 * shorter * s / math.sqrt(1.0 - half))


@compiled(error_model="numpy")
def _corner_of_run(pl, corner, i, ux, uy, uz, length, acc):
    """Follow a run of short rows whose single turns rounding hides, and hold it to its bend.

    The run is measured by chords of CHORD_MM, or less where it bends much. The circle that touches both of two
    chords limits the speed: ``corner`` is lowered at every row of the later one.
    """
    if pl[P_CHORD] == 0.0:
        pl[P_ANCHOR] = i
    pl[P_CHORD_X] += ux * length
    pl[P_CHORD_Y] += uy * length
    pl[P_CHORD_Z] += uz * length
    pl[P_CHORD] += length
    x, y, z = pl[P_CHORD_X], pl[P_CHORD_Y], pl[P_CHORD_Z]
    span = max(math.sqrt(x * x + y * y + z * z), 1e-9)
    bent = span > 0.1 and ux * x + uy * y + uz * z < 0.97 * span
    if pl[P_CHORD] < CHORD_MM and not bent and i - pl[P_ANCHOR] < CHORD_ROWS:
        return
    x, y, z = x / span, y / span, z / span
    anchor = int(pl[P_ANCHOR])
    if pl[P_LAST] > 0.0 and anchor >= 0:
        cosine = x * pl[P_LAST_X] + y * pl[P_LAST_Y] + z * pl[P_LAST_Z]
        if cosine < 0.99999999:
            radius = _tangent_circle(cosine, 1e9, min(span, pl[P_LAST]))
            for k in range(anchor, i + 1):
                corner[k] = min(corner[k], acc * radius)
    pl[P_LAST_X], pl[P_LAST_Y], pl[P_LAST_Z], pl[P_LAST] = x, y, z, span
    pl[P_CHORD_X] = pl[P_CHORD_Y] = pl[P_CHORD_Z] = pl[P_CHORD] = 0.0


@compiled(error_model="numpy")
def plan_moves(
    rows,
    whole,
    arcs,
    event_rows,
    event_values,
    n,
    n_events,
    pl,
    window,
    flush,
    corner,
    energy,
    seconds,
    cruise,
    ring,
):
    """Speeds and times of rows ``0..n``; returns how many are final.

    ``corner`` and ``energy`` float64 (capacity,) hold the greatest v squared at each row's start: by the
    corner itself, and as reachable from what follows (``E = min(corner, E_next + 2 a L)``). ``window``:
    how many moves the machine sees ahead, 0 = all. Rows that stay are those that later rows may still slow.
    """
    planned = int(pl[P_PLANNED])
    at_event = 0
    while at_event < n_events and event_rows[at_event, 0] < planned:
        at_event += 1
    for i in range(planned, n):
        while at_event < n_events and event_rows[at_event, 0] <= i:
            _set_planner(pl, event_rows[at_event, 1], event_values[at_event, 0])
            at_event += 1
        flags = whole[i, R_FLAGS]
        ux, uy, uz = rows[i, C_UX], rows[i, C_UY], rows[i, C_UZ]
        speed, acc, length = rows[i, C_SPEED], rows[i, C_ACC], rows[i, C_LENGTH]
        if whole[i, R_ARC] < 0:
            ae = abs(rows[i, C_FIL])
            slow = max(
                max(abs(ux) * pl[P_INV_SPEED], abs(uy) * pl[P_INV_SPEED + 1]),
                max(abs(uz) * pl[P_INV_SPEED + 2], ae * pl[P_INV_SPEED + 3]),
            )
            lazy = max(
                max(abs(ux) * pl[P_INV_ACC], abs(uy) * pl[P_INV_ACC + 1]),
                max(abs(uz) * pl[P_INV_ACC + 2], ae * pl[P_INV_ACC + 3]),
            )
            length = ae if flags & F_FILAMENT_ONLY else math.sqrt(ux * ux + uy * uy + uz * uz)
            if speed * slow > length:
                speed = length / slow
            if acc * lazy > length:
                acc = length / lazy
            inverse = 1.0 / length
            ux *= inverse
            uy *= inverse
            uz *= inverse
            rows[i, C_UX], rows[i, C_UY], rows[i, C_UZ] = ux, uy, uz
            rows[i, C_SPEED], rows[i, C_ACC], rows[i, C_LENGTH] = speed, acc, length
        ue = rows[i, C_FIL] / length
        limit = 0.0
        in_run = False
        if not flags & F_STOP and pl[P_LENGTH] > 0.0:
            limit = min(speed, pl[P_SPEED])
            limit *= limit
            if pl[P_RULE] == 0.0:
                cosine = ux * pl[P_UX] + uy * pl[P_UY] + uz * pl[P_UZ]
                if flags & F_FILAMENT_ONLY or (pl[P_UX] == 0.0 and pl[P_UY] == 0.0 and pl[P_UZ] == 0.0):
                    limit = 0.0
                else:
                    shorter = min(length, pl[P_LENGTH])
                    if shorter < SHORT_MM and whole[i, R_ARC] < 0:
                        in_run = (1.0 - cosine) * shorter * shorter <= 8.0 * ROUNDING_MM * ROUNDING_MM
                    if cosine < 0.99999999 and not in_run:
                        radius = _tangent_circle(cosine, pl[P_DEVIATION], shorter)
                        limit = min(limit, min(acc, pl[P_ACC]) * radius)
            else:
                jump = max(
                    max(abs(ux - pl[P_UX]) / pl[P_JX], abs(uy - pl[P_UY]) / pl[P_JY]),
                    max(abs(uz - pl[P_UZ]) / pl[P_JZ], abs(ue - pl[P_UE]) / pl[P_JE]),
                )
                if jump * jump * limit > 1.0:
                    limit = 1.0 / (jump * jump)
        corner[i] = limit
        if in_run:
            _corner_of_run(pl, corner, i, ux, uy, uz, length, acc)
        elif pl[P_CHORD] > 0.0 or pl[P_LAST] > 0.0:
            pl[P_CHORD_X] = pl[P_CHORD_Y] = pl[P_CHORD_Z] = pl[P_CHORD] = pl[P_LAST] = 0.0
        arc = whole[i, R_ARC]
        if arc >= 0:
            pl[P_UX], pl[P_UY], pl[P_UZ] = arcs[arc, 0], arcs[arc, 1], arcs[arc, 2]
        else:
            pl[P_UX], pl[P_UY], pl[P_UZ] = ux, uy, uz
        pl[P_UE], pl[P_LENGTH], pl[P_SPEED], pl[P_ACC] = ue, length, speed, acc
    while at_event < n_events:
        _set_planner(pl, event_rows[at_event, 1], event_values[at_event, 0])
        at_event += 1
    pl[P_PLANNED] = n

    final = n
    still_open = n  # rows from here on may yet be slowed by the bend of their run
    if pl[P_CHORD] > 0.0:
        still_open = max(int(pl[P_ANCHOR]), 0)
    if window == 0:
        ahead = 0.0
        settled = 0
        for i in range(n - 1, -1, -1):
            ahead = ahead + 2.0 * rows[i, C_ACC] * rows[i, C_LENGTH]
            if corner[i] <= ahead:
                ahead = corner[i]
                if settled == 0 and i <= still_open:
                    settled = i
            energy[i] = ahead
        if not flush:  # where nothing is settled and the buffer fills, look no further than half of it
            final = max(settled, n - rows.shape[0] // 2)
    else:
        if not flush:
            final = max(0, min(n, still_open) - window, n - rows.shape[0] // 2)
        # ahead[i] = min over the window of (corner[k] + P[k]) - P[i], where P sums 2 a L
        total = 0.0
        for i in range(n):
            seconds[i] = total
            total += 2.0 * rows[i, C_ACC] * rows[i, C_LENGTH]
        size = ring.shape[0]
        head = 0
        count = 0
        for i in range(n - 1, -1, -1):
            # front = newest; an older entry that is no lower can never be the least again
            while count > 0 and corner[ring[head]] + seconds[ring[head]] >= corner[i] + seconds[i]:
                head = (head + 1) % size
                count -= 1
            head = (head - 1) % size
            ring[head] = i
            count += 1
            while ring[(head + count - 1) % size] >= i + window:
                count -= 1
            k = ring[(head + count - 1) % size]
            best = corner[k] + seconds[k]
            last = seconds[i + window] if i + window < n else total
            energy[i] = min(best, last) - seconds[i]

    entry = pl[P_ENERGY]
    v0 = math.sqrt(entry)
    for i in range(final):
        length, acc, speed = rows[i, C_LENGTH], rows[i, C_ACC], rows[i, C_SPEED]
        gain = 2.0 * acc * length
        leave = entry + gain
        if i + 1 < n:
            leave = min(leave, energy[i + 1])
        else:
            leave = 0.0
        v1 = math.sqrt(leave)
        peak2 = 0.5 * (gain + entry + leave)
        if peak2 <= speed * speed:
            peak = math.sqrt(peak2)
            seconds[i] = (2.0 * peak - v0 - v1) / acc
            cruise[i] = peak
        else:
            inv = 1.0 / acc
            seconds[i] = (2.0 * speed - v0 - v1) * inv + (
                length - (2.0 * speed * speed - entry - leave) * 0.5 * inv
            ) / speed
            cruise[i] = speed
        entry = leave
        v0 = v1
    pl[P_ENERGY] = entry
    return final


@compiled()
def drop_rows(rows, whole, arcs, event_rows, event_values, corner, n, n_events, n_arcs, done, used, pl, counts):
    """Move the rows, events and arcs still in use to the front; ``counts`` gets how many of each are left."""
    left = n - done
    first_arc = n_arcs
    for i in range(left):
        for c in range(COLUMNS):
            rows[i, c] = rows[done + i, c]
        for c in range(WHOLE_COLUMNS):
            whole[i, c] = whole[done + i, c]
        corner[i] = corner[done + i]
        if whole[i, R_ARC] >= 0 and whole[i, R_ARC] < first_arc:
            first_arc = whole[i, R_ARC]
    for k in range(first_arc, n_arcs):
        for c in range(ARC_COLUMNS):
            arcs[k - first_arc, c] = arcs[k, c]
    for i in range(left):
        if whole[i, R_ARC] >= 0:
            whole[i, R_ARC] -= first_arc
    for k in range(used, n_events):
        event_rows[k - used, 0] = event_rows[k, 0] - done
        event_rows[k - used, 1] = event_rows[k, 1]
        event_values[k - used, 0] = event_values[k, 0]
        event_values[k - used, 1] = event_values[k, 1]
    pl[P_PLANNED] -= done
    pl[P_ANCHOR] -= done
    counts[0] = left
    counts[1] = n_events - used
    counts[2] = n_arcs - first_arc


@compiled()
def _settle(a, slices):
    """Write the time held since the last change of temperature or fan into the present slice."""
    held = a[A_HELD]
    if held > 0.0:
        k = int(a[A_SLICE])
        if a[A_NOZZLE_LEVEL] >= 0:
            slices[k, T_NOZZLE + int(a[A_NOZZLE_LEVEL])] += held
        if a[A_BED_LEVEL] >= 0:
            slices[k, T_BED + int(a[A_BED_LEVEL])] += held
        slices[k, T_FAN] += held * a[A_FAN]
        a[A_HELD] = 0.0


@compiled()
def _close_slice(a, slices):
    """Begin the next slice; when all are full, join them two by two and double their length."""
    _settle(a, slices)
    k = int(a[A_SLICE])
    slices[k, T_NOZZLE_C] = a[A_NOZZLE_SET]
    a[A_IN_SLICE] = 0.0
    k += 1
    if k == SLICES:
        for j in range(SLICES // 2):
            for c in range(T_SIZE):
                if c == T_FLOW_MAX:
                    slices[j, c] = max(slices[2 * j, c], slices[2 * j + 1, c])
                elif c == T_LAYER or c == T_LINE or c == T_NOZZLE_C:
                    slices[j, c] = slices[2 * j + 1, c]
                else:
                    slices[j, c] = slices[2 * j, c] + slices[2 * j + 1, c]
        for j in range(SLICES // 2, SLICES):
            for c in range(T_SIZE):
                slices[j, c] = 0.0
        k = SLICES // 2
        a[A_SLICE_S] *= 2.0
    slices[k, T_LAYER] = slices[k - 1, T_LAYER]
    slices[k, T_LINE] = slices[k - 1, T_LINE]
    a[A_SLICE] = k


@compiled()
def _drift(now, target, up, down, elapsed, ambient):
    """Temperature after a while on its way to the set point, in a straight line."""
    goal = max(target, ambient)
    if now < goal:
        return min(goal, now + up * elapsed)
    return max(goal, now - down * elapsed)


@compiled()
def _level(levels, count, value):
    """Index of the set temperature in the table; the nearest where the table is full."""
    best = -1
    gap = 1e18
    for k in range(count):
        if levels[k] == value:
            return k, count
        if abs(levels[k] - value) < gap:
            gap = abs(levels[k] - value)
            best = k
    if count < levels.shape[0]:
        levels[count] = value
        return count, count + 1
    return best, count


@compiled()
def _pass_time(a, slices, column, seconds, line):
    """Time in which nothing moves; waiting to be warm is not counted as time at a temperature."""
    a[A_CLOCK] += seconds
    left = seconds
    while left > 0.0:
        part = min(left, a[A_SLICE_S] - a[A_IN_SLICE])
        k = int(a[A_SLICE])
        slices[k, column] += part
        slices[k, T_LINE] = line
        a[A_IN_SLICE] += part
        if column == T_HEATING:  # the fan turns all the same
            slices[k, T_FAN] += part * a[A_FAN]
        else:
            a[A_HELD] += part
        left -= part
        if a[A_IN_SLICE] >= a[A_SLICE_S]:
            _close_slice(a, slices)


@compiled()
def _drift_both(a, m):
    elapsed = a[A_CLOCK] - a[A_SINCE]
    a[A_NOZZLE_NOW] = _drift(a[A_NOZZLE_NOW], a[A_NOZZLE_SET], m[M_NOZZLE_UP], m[M_NOZZLE_DOWN], elapsed, m[M_AMBIENT])
    a[A_BED_NOW] = _drift(a[A_BED_NOW], a[A_BED_SET], m[M_BED_UP], m[M_BED_DOWN], elapsed, m[M_AMBIENT])
    a[A_SINCE] = a[A_CLOCK]


@compiled()
def _happen(a, m, slices, nozzle_levels, bed_levels, code, value, both_ways, line):
    """One event between moves."""
    if code == EV_DWELL or code == EV_PAUSE:
        _pass_time(a, slices, T_IDLE, value, line)
        return
    if code >= EV_CORNER_DEVIATION:
        return
    _settle(a, slices)
    if code == EV_FAN:
        a[A_FAN] = value
        return
    _drift_both(a, m)
    k = int(a[A_SLICE])
    if code == EV_NOZZLE:
        if a[A_NOZZLE_SET] < 50.0 <= value:
            slices[k, T_NOZZLE_UPS] += 1.0
        a[A_NOZZLE_SET] = value
        a[A_NOZZLE_MAX] = max(a[A_NOZZLE_MAX], value)
        a[A_NOZZLE_LEVEL] = -1.0
        if value > 0.0:
            index, count = _level(nozzle_levels, int(a[A_NOZZLE_COUNT]), value)
            a[A_NOZZLE_LEVEL] = index
            a[A_NOZZLE_COUNT] = count
    elif code == EV_BED:
        if a[A_BED_SET] < 30.0 <= value:
            slices[k, T_BED_UPS] += 1.0
        a[A_BED_SET] = value
        a[A_BED_MAX] = max(a[A_BED_MAX], value)
        a[A_BED_LEVEL] = -1.0
        if value > 0.0:
            index, count = _level(bed_levels, int(a[A_BED_COUNT]), value)
            a[A_BED_LEVEL] = index
            a[A_BED_COUNT] = count
    elif code == EV_NOZZLE_WAIT:
        gap = max(a[A_NOZZLE_SET], m[M_AMBIENT]) - a[A_NOZZLE_NOW]
        if gap > 0.0:
            _pass_time(a, slices, T_HEATING, gap / m[M_NOZZLE_UP], line)
        elif gap < 0.0 and both_ways > 0.0:
            _pass_time(a, slices, T_HEATING, -gap / m[M_NOZZLE_DOWN], line)
        _drift_both(a, m)
    elif code == EV_BED_WAIT:
        gap = max(a[A_BED_SET], m[M_AMBIENT]) - a[A_BED_NOW]
        if gap > 0.0:
            _pass_time(a, slices, T_HEATING, gap / m[M_BED_UP], line)
        elif gap < 0.0 and both_ways > 0.0:
            _pass_time(a, slices, T_HEATING, -gap / m[M_BED_DOWN], line)
        _drift_both(a, m)


@compiled()
def tally_moves(
    rows,
    whole,
    arcs,
    event_rows,
    event_values,
    n,
    done,
    n_events,
    flush,
    seconds,
    cruise,
    a,
    m,
    slices,
    flow_s,
    nozzle_levels,
    bed_levels,
    begin,
    nozzle_c,
):
    """Add the final rows, and the events before them, to the slices; returns the number of events used.

    ``begin`` and ``nozzle_c`` get the clock and the set temperature at each row's start.
    """
    area = m[M_AREA]
    at = 0
    next_event = event_rows[0, 0] if n_events > 0 else 1 << 60
    for i in range(done):
        while next_event <= i:
            _happen(
                a,
                m,
                slices,
                nozzle_levels,
                bed_levels,
                event_rows[at, 1],
                event_values[at, 0],
                event_values[at, 1],
                whole[i, R_LINE],
            )
            at += 1
            next_event = event_rows[at, 0] if at < n_events else 1 << 60
        dt = seconds[i]
        de = rows[i, C_FIL]
        length = rows[i, C_LENGTH]
        flags = whole[i, R_FLAGS]
        begin[i] = a[A_CLOCK]
        nozzle_c[i] = a[A_NOZZLE_SET]
        if flags & F_REVERSAL:
            slices[int(a[A_SLICE]), T_REVERSALS] += 1.0
        if flags & F_PRINTING:
            if dt > 0.0:
                flow_s[int(min(de * area / (dt * FLOW_BIN), FLOW_BINS - 1.0))] += dt
            k = int(a[A_SLICE])
            if de * area * cruise[i] > slices[k, T_FLOW_MAX] * length:
                slices[k, T_FLOW_MAX] = de * area * cruise[i] / length
        printing = (flags & F_PRINTING) != 0
        arc = whole[i, R_ARC]
        if arc >= 0:
            way_x, way_y, way_z = arcs[arc, 3], arcs[arc, 4], arcs[arc, 5]
        else:
            way_x = abs(rows[i, C_UX]) * length
            way_y = abs(rows[i, C_UY]) * length
            way_z = abs(rows[i, C_UZ]) * length
        left = dt
        ends = True
        while ends:  # once, or again for each slice that ends within this row
            ends = a[A_IN_SLICE] + left >= a[A_SLICE_S]
            part = a[A_SLICE_S] - a[A_IN_SLICE] if ends else left
            share = part / dt if part < dt else 1.0
            k = int(a[A_SLICE])
            if printing:
                slices[k, T_PRINTING] += part
                slices[k, T_LAID] += de * share
            else:
                slices[k, T_TRAVEL] += part
            if de > 0.0:
                slices[k, T_FORWARD] += de * share
            else:
                slices[k, T_BACK] -= de * share
            slices[k, T_X] += way_x * share
            slices[k, T_Y] += way_y * share
            slices[k, T_Z] += way_z * share
            slices[k, T_LAYER] = whole[i, R_LAYER]
            slices[k, T_LINE] = whole[i, R_LINE]
            a[A_HELD] += part
            a[A_IN_SLICE] += part
            left -= part
            if ends:
                _close_slice(a, slices)
        a[A_CLOCK] += dt
    if done == n:
        while at < n_events:
            _happen(
                a,
                m,
                slices,
                nozzle_levels,
                bed_levels,
                event_rows[at, 1],
                event_values[at, 0],
                event_values[at, 1],
                slices[int(a[A_SLICE]), T_LINE],
            )
            at += 1
    if flush:
        _settle(a, slices)
        slices[int(a[A_SLICE]), T_NOZZLE_C] = a[A_NOZZLE_SET]
    return at


def empty_arrays(capacity: int):  # type: ignore[no-untyped-def]
    """The arrays a chunk is read into: rows, whole, arcs, event rows, event values."""
    return (
        np.zeros((capacity, COLUMNS)),
        np.zeros((capacity, WHOLE_COLUMNS), np.int64),
        np.zeros((capacity, ARC_COLUMNS)),
        np.zeros((4096, 2), np.int64),
        np.zeros((4096, 2)),
    )
