"""Search finds what is meant, whatever the case, the accents or a slip.

Source of the common slips: a letter left out, doubled, swapped with its neighbour or replaced, which Damerau (1964,
Communications of the ACM 7(3), 171-176) found to make up four in five misspellings.
"""

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.cases.cases import open_case
from feedwright.farm.desk.search import candidates, find
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.prints.runs import add_run
from feedwright.records.store import Store


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory):
    with open_farm(tmp_path_factory.mktemp("farm"), create=True) as held:
        for name in ("Müller's Ahorn", "Larch", "Larch two"):
            add_machine(held, name, "moving_bed_remote", history="new")
        add_run(held, "Larch", material="pla", hours=2.0, nozzle_c=210.0)
        open_case(held, machine="Larch")
        yield held


def _best(store: Store | None, asked: str) -> tuple[str, str] | None:
    hits = find(asked, candidates(store, asked))
    return (hits[0].found.kind, hits[0].found.key) if hits else None


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        ("larch", ("machine", "Larch")), ("LARCH TWO", ("machine", "Larch two")),
        ("muller ahorn", ("machine", "Müller's Ahorn")), ("mülers", ("machine", "Müller's Ahorn")),
        ("case 1", ("case", "1")), ("run 1", ("run", "1")), ("nozle", ("part", "nozzle")),
        ("guide tube", ("part", "guide_tube")), ("stringing", ("sign", "strings")), ("strings", ("sign", "strings")),
        ("petg", ("material", "petg")), ("tram bed", ("repair", "tram_bed")),
    ],
)  # fmt: skip
def test_what_is_meant_comes_first(store: Store, asked: str, wanted: tuple[str, str]) -> None:
    assert _best(store, asked) == wanted


def _slips(word: str):
    for at in range(1, len(word) - 1):
        yield word[:at] + word[at + 1 :]
        yield word[:at] + word[at] + word[at:]
        yield word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        yield word[:at] + "x" + word[at + 1 :]


@pytest.mark.parametrize("kind", ["nozzle", "heater", "idler", "belt"])
def test_the_four_common_slips_still_find_the_part(kind: str) -> None:
    title = load_catalogue().parts[kind].title.split()[-1].lower()
    found = [kind in {hit.found.key for hit in find(slip, candidates(None, slip))} for slip in _slips(title)]
    assert sum(found) / len(found) >= 0.9


def test_every_word_counts_and_nothing_is_found_for_nothing(store: Store) -> None:
    assert _best(store, "larch xylophone") is None
    assert find("", candidates(store, "")) == []
    assert find("?!", candidates(store, "?!")) == []


def test_a_record_that_is_not_there_is_not_found(store: Store) -> None:
    assert _best(store, "run 99") is None
