"""The written answer: whole, safe, and in signs that every medium holds."""

from tests.diagnosis.conftest import Stand

from feedwright.catalogue.network import Network
from feedwright.diagnosis.answer import SAFETY, WrittenAnswer, as_text, write_answer
from feedwright.diagnosis.explain import suspects
from feedwright.diagnosis.unexplained import fit_of
from feedwright.farm.cases.case_pdf import answer_pdf


def written(network: Network, stand: Stand, *seen: str, away: tuple[str, ...] = ()) -> WrittenAnswer:
    bench, believed, evidence = stand(*seen, away=away)
    return write_answer(
        bench, evidence, believed, suspects(network, bench.model, believed, evidence),
        fit_of(network, bench.model, evidence, believed),
    )  # fmt: skip


def test_it_says_all_that_an_asker_needs(network: Network, stand: Stand) -> None:
    text = as_text(written(network, stand, "strings", "gaps_after_travel", away=("bubbles",)))
    for part in ("What you described", "What is likely, and why", "What to check, in this order",
                 "What to renew or set right", "What not to bother with for now", "How sure this is"):  # fmt: skip
        assert part.upper() in text
    assert "Not seen: pitted, frothy or cloudy surface." in text
    assert "1. Pull the tube and look at its end" in text
    assert "! " in text, "cautions stand in the text"
    for caution in SAFETY:
        assert caution in text


def test_every_cause_s_answer_can_be_written_and_printed(network: Network, stand: Stand) -> None:
    """Each sign lies in Windows-1252, which the PDF's standard fonts hold."""
    for k, cause in enumerate(network.causes.values()):
        strongest = sorted(cause.shows, key=lambda name: -cause.shows[name].value)[:3]
        answer = written(network, stand, *strongest)
        assert as_text(answer).encode("cp1252")
        if k % 15 == 0:
            assert answer_pdf(answer) == answer_pdf(answer)
            assert answer_pdf(answer).startswith(b"%PDF-")


def test_an_answer_with_nothing_described_still_says_where_to_begin(network: Network, stand: Stand) -> None:
    answer = written(network, stand)
    assert any(section.title.startswith("What to check") for section in answer.sections)
