"""What came of a pass over a file, as a value: its duty or the refusal, and what a person should know."""

import re
from collections.abc import Iterator

from feedwright.toolpath import kernel as k
from feedwright.toolpath.kinds import kind_of_counts
from feedwright.toolpath.single_pass import LONGEST_LINE_BYTES, SinglePass
from feedwright.toolpath.source import MOST_UNPACKED_BYTES, Source
from feedwright.toolpath.values import Reading, Remark, ToolpathKind

HOT_C = 50.0
WORDS = {
    k.W_CHECKSUM: "the line's checksum does not match: line left out",
    k.W_UNREADABLE: "cannot be read as G-code: what could be understood was taken",
    k.W_LONG: f"line longer than {LONGEST_LINE_BYTES // 1024} kB: left out",
    k.W_NOT_GCODE: "not a G-code command: left out",
    k.W_NO_FEED: "moves before any feed rate was set: 1500 mm/min taken",
    k.W_ARC: "no such arc exists: taken as a straight move",
    k.W_PLANE: "arc in another plane than XY: taken as a straight move",
    k.W_SECOND: "a second command on the line: only the first was taken",
    k.W_UNKNOWN_G: "a G word that moves in a way not read here (spline, thread, probing, drilling): left out",
    k.W_EXPONENT: "a number followed by E without a blank: read as a filament word, not as an exponent",
}
DAMAGE = (k.W_CHECKSUM, k.W_UNREADABLE, k.W_LONG)
CUT_WORD = re.compile(rb"^\s*(?:N\s*\d+\s*)?(?:[GMT]|G\s*0*[0-3]\b.*[A-Z]\s*[-+]?\.?)\s*$", re.IGNORECASE)
"""A last line that ends in a letter or sign without its number."""


def refused(name: str, source: Source, sha256: str, told: tuple[ToolpathKind, str], *, lines: int = 0) -> Reading:
    """The reading of a file that is no filament toolpath; ``told`` is its kind and the reason."""
    kind, reason = told
    return Reading(
        name=name,
        kind=kind,
        complete=not source.cut_off,
        sha256=sha256,
        bytes_count=source.count,
        lines=lines,
        duty=None,
        refused_because=f"not a filament toolpath: {reason}",
    )


def outcome(name: str, source: Source, sha256: str, whole: SinglePass) -> Reading:
    """The reading of a file that was read to its end."""
    si = whole.reading.whole_state
    told = kind_of_counts(
        commands=int(si[k.I_N_COMMANDS]),
        other=int(si[k.I_N_OTHER]),
        moves=int(si[k.I_N_MOVES]),
        filament_mm=float(whole.reading.state[k.S_HIGH]),
        spindle=int(si[k.I_N_SPINDLE]),
        power=int(si[k.I_N_POWER]),
        plunges=int(si[k.I_N_PLUNGES]),
        other_axes=int(si[k.I_N_OTHER_AXES]),
    )
    lines = int(si[k.I_LINE])
    if told[0] != "filament":
        return refused(name, source, sha256, told, lines=lines)
    cut = tuple(_cuts(source, whole, lines))
    damaged = any(whole.reading.remarks[code, 0] for code in DAMAGE)
    return Reading(
        name=name,
        kind="filament",
        complete=not cut and not damaged,
        sha256=sha256,
        bytes_count=source.count,
        lines=lines,
        duty=whole.duty(),
        warnings=(*cut, *(() if cut else _left_hot(whole)), *_remarks(whole)),
    )


def _cuts(source: Source, whole: SinglePass, last: int) -> Iterator[Remark]:
    """Whether the file ends before its print does, as far as its bytes and commands show."""
    if source.too_large:
        yield Remark(last, f"it unpacks to more than {MOST_UNPACKED_BYTES / 1e9:g} GB: only the beginning is counted")
    elif source.cut_off:
        yield Remark(last, "the packed file is cut off or broken here: only what could be unpacked is counted")
    if CUT_WORD.match(whole.reading.tail):
        yield Remark(last, "the last line ends within a word: the file is cut off here")
    si = whole.reading.whole_state
    hot = whole.timing.tally[k.A_NOZZLE_SET] >= HOT_C
    if hot and si[k.I_LAST_MOVE] == si[k.I_LAST_PRINTING]:
        yield Remark(last, "ends in the middle of printing with the nozzle hot: the file seems cut off")


def _left_hot(whole: SinglePass) -> tuple[Remark, ...]:
    at_c = whole.timing.tally[k.A_NOZZLE_SET]
    return (Remark(0, f"leaves the nozzle at {at_c:.0f} °C when it ends"),) if at_c >= HOT_C else ()


def _remarks(whole: SinglePass) -> tuple[Remark, ...]:
    """Remarks by line, each kind with its first lines and the number left out."""
    found: list[Remark] = []
    for code, words in WORDS.items():
        count = int(whole.reading.remarks[code, 0])
        lines = whole.reading.remarks[code, 1 : 1 + min(count, k.REMARK_COLUMNS - 1)]
        found += [Remark(int(line), words) for line in lines]
        if count > len(lines):
            found.append(Remark(0, f"and {count - len(lines)} more lines: {words}"))
    return tuple(sorted(found, key=lambda remark: (remark.line == 0, remark.line)))
