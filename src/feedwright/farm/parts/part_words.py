"""The fitted parts of a machine as one line of words, for a cell of a table, and back."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.naming import nearest, one_of, pick_entry, within
from feedwright.farm.parts.renewals import checked_product
from feedwright.records.values import Fitting, History

_ENTRY = re.compile(r"([^:]+?)(?:\s+(\d+))?\s*:\s*(\S+)(?:\s+(new|used|unknown)(?:\s+([\d.eE+-]+))?)?")
EXPECTED = "expected part: product, then new, used or unknown, then what it had been through"


def parts_in_words(fittings: Sequence[Fitting]) -> str:
    """'nozzle: brass new; sink_fan: sleeve used 1200.5': product, history, and exposure where it is not nought."""
    said = []
    for fitting in fittings:
        where = fitting.part_kind + (f" {fitting.position}" if fitting.position > 1 else "")
        before = f" {fitting.exposure_before!r}" if fitting.exposure_before else ""
        said.append(f"{where}: {fitting.product} {fitting.history}{before}")
    return "; ".join(said)


def parse_parts(words: str, fittings: Sequence[Fitting]) -> list[Fitting]:
    """The fittings of a build with what the words say of them; those not named stay as the build has them."""
    held = {(fitting.part_kind, fitting.position): fitting for fitting in fittings}
    for entry in (entry.strip() for entry in words.split(";")):
        if not entry:
            continue
        match = _ENTRY.fullmatch(entry)
        if match is None:
            raise BadInput("parts", place=f"“{entry:.60}”", expected=EXPECTED, remedy="such as nozzle: brass used 12")
        kind = pick_entry(load_catalogue().parts, match[1], "part kind")
        place = (kind.id, int(match[2] or 1))
        if place not in held:
            remedy = nearest(kind.id, [part for part, _ in held])
            raise BadInput("parts", place=f"“{entry:.60}”", expected="the build has no such part", remedy=remedy)
        history: History = one_of("history", match[4] or held[place].history, get_args(History))  # type: ignore[assignment]
        held[place] = replace(
            held[place],
            product=checked_product(kind, match[3]),
            history=history,
            exposure_before=_exposure(match[5]) if match[4] else held[place].exposure_before,
        )
    return list(held.values())


def _exposure(said: str | None) -> float:
    try:
        return within("what a part had been through", float(said or 0), 0, 1e9)
    except ValueError as error:
        raise BadInput("parts", place=f"“{said}”", expected=EXPECTED, remedy="write a plain number") from error
