"""It says when no cause fits well, when two together fit better, and what is left over."""

from tests.diagnosis.conftest import Stand

from feedwright.catalogue.network import Network
from feedwright.diagnosis.unexplained import fit_of
from feedwright.diagnosis.values import Fit, Situation


def fit(network: Network, stand: Stand, *seen: str, away: tuple[str, ...] = ()) -> Fit:
    bench, believed, evidence = stand(*seen, away=away)
    return fit_of(network, bench.model, evidence, believed)


def test_one_cause_that_explains_all_needs_no_words(network: Network, stand: Stand) -> None:
    assert fit(network, stand, "strings", "gaps_after_travel", "end_ring").sentences == ()


def test_nothing_seen_says_nothing(network: Network, stand: Stand) -> None:
    assert fit(network, stand) == Fit(False, (), (), ())


def test_two_troubles_at_once_are_told_as_two(network: Network, stand: Stand) -> None:
    found = fit(network, stand, "bubbles", "crackles", "pulley_loose", "layer_shift")
    assert set(found.together) == {"filament_moist", "pulley_slips"}
    assert "Two causes together fit better" in found.sentences[0]


def test_evidence_that_no_cause_brings_is_said_to_fit_none(network: Network, stand: Stand) -> None:
    """A seam of blobs alone, with all its causes cleared: most likely chance or something unknown."""
    clear = ("file_short_reversals", "file_hot", "bubbles", "crackles", "tube_moves", "strings", "blobs",
             "other_spool_good", "droop", "slumped")  # fmt: skip
    found = fit(network, stand, "seam_blobs", away=clear)
    assert found.none_fits
    assert "No known cause fits" in found.sentences[0]


def test_a_finding_that_stands_apart_is_named(network: Network, stand: Stand) -> None:
    found = fit(network, stand, "end_black", "thin_lines", "clicks", "draughty", away=("lifted_corners", "weak_layers"))
    assert "draughty" in found.left_over or "draught" in found.together


def test_a_cause_that_cannot_be_is_never_named(network: Network, stand: Stand) -> None:
    bench, believed, evidence = stand("strings", "end_ring", situation=Situation("direct", "all_metal"))
    found = fit_of(network, bench.model, evidence, believed)
    assert not {"liner_gap", "liner_aged", "liner_burnt", "tube_crept"} & set(found.together)
