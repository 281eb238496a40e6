"""What kind of file is this? Told from its first bytes and from its commands alone, never from comments."""

from codecs import getincrementaldecoder

from feedwright.toolpath.values import ToolpathKind

MAGIC: tuple[tuple[bytes, ToolpathKind, str], ...] = (
    (b"\x89PNG", "image", "a picture (PNG)"),
    (b"\xff\xd8\xff", "image", "a picture (JPEG)"),
    (b"GIF8", "image", "a picture (GIF)"),
    (b"BM", "image", "a picture (bitmap)"),
    (b"RIFF", "image", "a picture or sound (RIFF)"),
    (b"%PDF", "binary", "a document (PDF)"),
    (b"PK\x03\x04", "binary", "a packed archive or model, not the G-code in it"),
    (b"solid ", "text", "a surface model, not yet cut into layers"),
)


def kind_of_bytes(head: bytes) -> tuple[ToolpathKind, str] | None:
    """Kind and reason where the first bytes already say that it is no G-code; None where they do not."""
    for magic, kind, words in MAGIC:
        if head.startswith(magic) and (kind == "text" or _has_control_bytes(head)):
            return kind, f"it is {words}"
    if b"\x00" in head:
        return "binary", "it holds zero bytes, which no G-code text does"
    if head and sum(byte > 126 for byte in head) > 0.3 * len(head) and not _is_utf8(head):
        return "binary", "most of its bytes are not text"
    return None


def _is_utf8(head: bytes) -> bool:
    """True for text of any script; a letter cut in two at the head's end is none the worse."""
    try:
        getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return False
    return True


def _has_control_bytes(head: bytes) -> bool:
    return any(byte < 9 or 13 < byte < 32 or byte > 126 for byte in head)


def kind_of_counts(
    *,
    commands: int,
    other: int,
    moves: int,
    filament_mm: float,
    spindle: int,
    power: int,
    plunges: int,
    other_axes: int,
) -> tuple[ToolpathKind, str]:
    """Kind, and the reason where it is not filament, from what the commands did.

    ``spindle`` counts M3 and M4, ``power`` moves with an S word, ``plunges`` moves below zero height,
    ``other_axes`` lines with A, B, C or U words, ``other`` lines that are no commands.
    """
    if commands == 0 and other == 0:
        return "empty", "it holds no command at all"
    if commands < other:
        return "text", f"only {commands} of its {commands + other} lines are G-code commands"
    if filament_mm > 0:
        return "filament", ""
    if other_axes > moves // 4 and other_axes > 0:
        return (
            "drawing",
            "it never feeds filament (E); it drives other axes instead, as a paste or syringe head does",
        )
    if power > moves // 4 and power > 0 and plunges == 0:
        return "laser", "it never feeds filament (E); it sets beam power (S) along its moves"
    if spindle > 0 or plunges > 0:
        return "milling", "it never feeds filament (E); it turns a spindle or cuts below zero height"
    if moves > 0:
        return "drawing", "it never feeds filament (E): its moves draw or travel only"
    return "text", "it holds commands but no move"
