"""What was recorded at the steps of a visit, in words."""

import json

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.procedures import StepRecord, load_procedures
from feedwright.farm.service.service_visits import VisitSheet
from feedwright.units import BY_SUFFIX, show_rounded


def recorded_words(sheet: VisitSheet) -> dict[str, str]:
    """By step: what was found, fitted or read there; steps that recorded nothing are left out."""
    records = {screen.step.id: screen.step.record for screen in sheet.screens}
    found = {}
    for step, entry in sheet.closed.items():
        record = records.get(step)
        if entry.kind == "done" and record and entry.value:
            found[step] = _words(record, json.loads(entry.value))
    return found


def _words(record: StepRecord, value: dict[str, object]) -> str:
    if record.kind == "proof":
        proof = load_procedures().proofs[record.proof]
        read = float(str(value["value"]))
        symbol = BY_SUFFIX[proof.unit].symbol if proof.unit in BY_SUFFIX else ""
        return f"{show_rounded(read)} {symbol}".strip()
    kind = load_catalogue().parts[record.part]
    if record.kind == "finding":
        return next((grade.title for grade in kind.grades if grade.id == value.get("grade")), str(value.get("grade")))
    product = kind.product(str(value.get("product", "")))
    said = [f"renewed, {value.get('reason', 'worn')}", product.title.lower() if product else ""]
    for name, words in (("trimmed_mm", "cut off"), ("length_mm", "long")):
        if name in value:
            said.append(f"{show_rounded(float(str(value[name])))} mm {words}")
    return ", ".join(part for part in said if part)
