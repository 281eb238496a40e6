"""Names of files from elsewhere: shown and kept as text, never used as a path."""

import re
import unicodedata

LONGEST_NAME = 120
SEPARATORS = re.compile(r"[/\\]")


def shown_name(given: str | None, otherwise: str = "file") -> str:
    """The last part of the name, composed (Unicode NFC), of letters that can be seen, shortened at its front's end.

    The ending is kept where the name is too long. What is left of it may be nothing: then it is ``otherwise``.

    >>> shown_name("../../etc/pass\\nwd"), shown_name("C:\\\\prints\\\\vase.gcode"), shown_name("..")
    ('passwd', 'vase.gcode', 'file')
    """
    last = SEPARATORS.split(unicodedata.normalize("NFC", given or ""))[-1]
    seen = "".join(letter for letter in last if letter.isprintable()).strip()
    if len(seen) > LONGEST_NAME:
        front, dot, ending = seen.rpartition(".")
        ending = dot + ending if front and len(ending) < LONGEST_NAME // 2 else ""
        seen = seen[: LONGEST_NAME - len(ending)] + ending
    return otherwise if not seen.strip(". ") else seen
