"""What this farm's own findings have taught: the life of every part kind, product and machine."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.stories import Histories
from feedwright.records.store import Store
from feedwright.wear.findings import Story
from feedwright.wear.pooled import PooledLife, learn


@dataclass(frozen=True, slots=True)
class FarmLives:
    """The stories of all fitted parts, and what they teach."""

    histories: Histories
    stories: Mapping[int, Story]
    """By fitting."""
    by_kind: Mapping[str, tuple[Story, ...]]

    def life(self, part_kind: str) -> PooledLife:
        """What is believed of a part kind's life."""
        return learned(part_kind, self.by_kind.get(part_kind, ()))


_KEPT: dict[tuple[str, int, str], FarmLives] = {}
MOST_KEPT = 4


def farm_lives(store: Store) -> FarmLives:
    """What the farm's records teach by now; worked out anew only after something was recorded."""
    catalogue = load_catalogue()
    key = (str(store.folder.resolve()), store.latest_act_id(), catalogue.digest)
    kept = _KEPT.get(key)
    if kept is None:
        histories = Histories(store, catalogue, store.machines())
        stories = histories.stories()
        while len(_KEPT) >= MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)), None)
        kept = _KEPT[key] = FarmLives(histories, stories, grouped_by_kind(histories, stories))
    return kept


def grouped_by_kind(histories: Histories, stories: Mapping[int, Story]) -> dict[str, tuple[Story, ...]]:
    """Stories by part kind."""
    part_kind = {fitting.id: fitting.part_kind for fitting in histories.fittings}
    grouped: dict[str, list[Story]] = defaultdict(list)
    for fitting_id, story in stories.items():
        grouped[part_kind[fitting_id]].append(story)
    return {kind: tuple(told) for kind, told in grouped.items()}


@lru_cache(maxsize=160)
def learned(part_kind: str, stories: tuple[Story, ...]) -> PooledLife:
    """The posterior of a part kind's life; kept, since most kinds' stories do not change from one act to the next."""
    return learn(load_catalogue().parts[part_kind], stories)
