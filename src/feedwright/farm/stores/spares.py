"""Whether the part that a job takes is on hand."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.stores.stock import Stock, chosen_item, fitting_items, stocks
from feedwright.records.reads import Reads
from feedwright.records.stores_values import Item
from feedwright.records.values import Fitting, Machine


@dataclass(frozen=True, slots=True)
class Spare:
    """What the stores hold for one job or several alike."""

    part: str
    """The part's title."""
    item: Item | None
    """None where nothing that fits is kept."""
    needed: int
    """Pieces that the jobs take."""
    on_hand: int

    @property
    def there(self) -> bool:
        """True where it is kept and there is enough."""
        return self.item is not None and self.on_hand >= self.needed

    @property
    def words(self) -> str:
        """'2 of brass nozzle 0.4, 6 on hand'."""
        if self.item is None:
            return f"{self.part}: not kept in the stores"
        return f"{self.needed} of {self.item.name}, {max(self.on_hand, 0) or 'none'} on hand"


def spares_of_parts(records: Reads, parts: Iterable[FittedPart]) -> dict[int, Spare]:
    """What the stores hold for renewing each of these parts by itself, by fitting; nothing where it takes none."""
    fittings = [part.fitting for part in parts if part.advice.act == "renew"]
    kept, held = records.every(Item), stocks(records)
    found: dict[int, Spare] = {}
    for fitting in fittings:
        spare = _spare(kept, held, fitting)
        if spare is not None:
            found[fitting.id] = spare
    return found


def spares_for(records: Reads, machine: Machine, part_kinds: Sequence[str]) -> list[Spare]:
    """What the stores hold for renewing these kinds of part on a machine in one visit: items counted together."""
    kept, held = records.every(Item), stocks(records)
    fitted: dict[str, Fitting] = {}
    for fitting in records.fittings(machine.id, open_only=True):
        fitted.setdefault(fitting.part_kind, fitting)
    together: dict[tuple[int, str], list[Spare]] = defaultdict(list)
    for kind in part_kinds:
        spare = _spare(kept, held, fitted[kind]) if kind in fitted else None
        if spare is not None:
            together[(spare.item.id, "") if spare.item else (0, spare.part)].append(spare)
    return [
        Spare(", ".join(one.part for one in alike), alike[0].item, sum(one.needed for one in alike), alike[0].on_hand)
        for alike in together.values()
    ]


def _spare(kept: Sequence[Item], held: dict[int, Stock], fitting: Fitting) -> Spare | None:
    kind = load_catalogue().parts[fitting.part_kind]
    found = fitting_items(kept, kind.id, fitting.product)
    if found:
        item, pieces = chosen_item(found, held)
        return Spare(kind.title, item, pieces, held[item.id].on_hand)
    return Spare(kind.title, None, 1, 0) if kind.renewal.parts else None
