"""What this farm's own findings have taught: the life of every part kind, product and machine."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.outlook.stories import Histories
from feedwright.records.reads import Reads
from feedwright.wear.findings import Story
from feedwright.wear.life import LifeTable
from feedwright.wear.pooled import PooledLife, learn, table_of

LARGE = 2000
"""From so many stories on a farm is large. What they have taught is held when one more is told: it would move it by
next to nothing, and learning all of it anew takes seconds."""


def is_large(store: Reads) -> bool:
    """True for a large farm, told without reading its stories: every fitting has one."""
    return store.has_fittings(LARGE)


@dataclass(frozen=True)
class Belief:
    """What is believed of a part kind's life, and the stories it was learned from, by fitting."""

    life: PooledLife
    stories: Mapping[int, Story]

    @cached_property
    def table(self) -> LifeTable:
        """All lives that anything of the kind may have, in the plain product's exposure."""
        return table_of(self.life)


@dataclass(frozen=True)
class FarmLives:
    """The stories of all fitted parts, and what they teach."""

    histories: Histories
    stories: Mapping[int, Story]
    """By fitting."""
    _beliefs: dict[str, Belief] = field(default_factory=dict)

    @property
    def is_large(self) -> bool:
        """True for a farm whose lives take seconds to learn, and are held for a while."""
        return len(self.stories) >= LARGE

    @cached_property
    def by_kind(self) -> Mapping[str, tuple[Story, ...]]:
        """The stories of each part kind."""
        return {kind: tuple(told.values()) for kind, told in self._numbered.items()}

    @cached_property
    def _numbered(self) -> Mapping[str, Mapping[int, Story]]:
        return grouped_by_kind(self.histories, self.stories)

    def of_machine(self, part_kind: str, machine_id: int) -> list[Story]:
        """The stories of a machine's parts of one kind."""
        fittings = self.histories.of_machine(machine_id)
        return [self.stories[fitting.id] for fitting in fittings if fitting.part_kind == part_kind]

    def belief(self, part_kind: str) -> Belief:
        """What is believed of a part kind's life, and why; learned when it is first asked for."""
        held = self._beliefs.get(part_kind)
        if held is None:
            held = self._beliefs[part_kind] = belief_from(part_kind, self._numbered.get(part_kind, {}))
        return held

    def life(self, part_kind: str) -> PooledLife:
        """What is believed of a part kind's life."""
        return self.belief(part_kind).life

    def believes_as(self, other: "FarmLives") -> bool:
        """True where nothing that the other believed was learned anew since."""
        return all(self._beliefs.get(kind) is held for kind, held in other._beliefs.items())

    def with_news(self, store: Reads, machine_ids: Iterable[int]) -> "FarmLives":
        """The same, with the stories of these machines told anew.

        A kind whose stories changed is learned anew; a large farm holds what it has learned, until it is made afresh.
        """
        touched = set(machine_ids)
        histories = self.histories.with_news(store, touched)
        stories = dict(self.stories)
        for fitting in (fitting for number in touched for fitting in self.histories.of_machine(number)):
            stories.pop(fitting.id, None)
        stories.update(histories.stories(machines=touched))
        news = FarmLives(histories, stories)
        news._beliefs.update(
            (kind, held)
            for kind, held in self._beliefs.items()
            if news.is_large or news._numbered.get(kind, {}) == held.stories
        )
        return news

    def afresh(self) -> "FarmLives":
        """The same stories, with all that they teach to be learned anew."""
        return FarmLives(self.histories, self.stories)


_KEPT: dict[tuple[str, str], tuple[int, FarmLives]] = {}
"""What was learned last, with the number of the latest act by then, by farm and catalogue."""
MOST_KEPT = 2
"""A process shows one farm, or the demo and the one begun from it; what is kept of a farm is a hundred megabytes."""


def farm_lives(store: Reads) -> FarmLives:
    """What the farm's records teach by now; only what was recorded since is told anew."""
    catalogue = load_catalogue()
    key, latest = _key(store), store.latest_act_id()
    act_id, lives = _KEPT.get(key, (0, None))
    if lives is not None and act_id == latest:
        return lives
    touched = None if lives is None else store.machines_touched(act_id)
    if lives is None or touched is None:
        histories = Histories.read(store, catalogue, store.machines())
        lives = FarmLives(histories, histories.stories())
    elif touched:
        lives = lives.with_news(store, touched)
    while len(_KEPT) >= MOST_KEPT and key not in _KEPT:
        _KEPT.pop(next(iter(_KEPT)), None)
    _KEPT[key] = latest, lives
    return lives


def learned_anew(store: Reads, lives: FarmLives) -> None:
    """Believe from now on what these lives, made afresh from those in force, have learned or will learn."""
    key = _key(store)
    act_id, held = _KEPT[key]
    if held.stories is not lives.stories:  # something was recorded meanwhile
        lives = FarmLives(held.histories, held.stories, dict(lives._beliefs))
    _KEPT[key] = act_id, lives


def _key(store: Reads) -> tuple[str, str]:
    return str(store.folder.resolve()), load_catalogue().digest


def grouped_by_kind(histories: Histories, stories: Mapping[int, Story]) -> dict[str, dict[int, Story]]:
    """Stories by part kind and fitting."""
    grouped: dict[str, dict[int, Story]] = defaultdict(dict)
    for fitting in histories.fittings:
        if fitting.id in stories:
            grouped[fitting.part_kind][fitting.id] = stories[fitting.id]
    return dict(grouped)


def belief_from(part_kind: str, stories: Mapping[int, Story]) -> Belief:
    """What those stories, by fitting, teach of a part kind's life."""
    return Belief(learned(part_kind, tuple(stories.values())), stories)


@lru_cache(maxsize=160)
def learned(part_kind: str, stories: tuple[Story, ...]) -> PooledLife:
    """The posterior of a part kind's life; kept, since most kinds' stories do not change from one act to the next."""
    return learn(load_catalogue().parts[part_kind], stories)
