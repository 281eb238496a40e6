"""Finding, labels and the handbook by command."""

from io import BytesIO

import pytest
from pypdf import PdfReader


@pytest.fixture
def larch(command):
    assert command("machine", "add", "Larch", "moving_bed_remote", "--history", "new").code == 0
    return command


def test_find_says_what_fits_also_without_a_farm(larch, command, monkeypatch, tmp_path) -> None:
    found = larch("find", "lrach", "--json").data[0]
    assert found == {"kind": "machine", "id": "Larch", "title": "Larch", "fit_frac": 0.48}
    assert larch("find", "guide", "tube").out.splitlines()[2].split()[:2] == ["part", "guide_tube"]
    assert "Nothing fits" in larch("find", "xylophone").out
    monkeypatch.setenv("FEEDWRIGHT_FARM", str(tmp_path / "none"))
    assert command("find", "nozzle", "--json").data[0]["id"] == "nozzle"


def test_labels_are_written_and_what_cannot_be_is_refused(larch, tmp_path) -> None:
    to = tmp_path / "labels.pdf"
    refused = larch("labels", to)
    assert (refused.code, to.exists()) == (2, False)
    assert "figure set address" in refused.err
    assert larch("figure", "set", "address", "http://10.0.0.7:8765/").code == 0
    held = larch("labels", to, "--json").data
    assert held["labels"] == [
        {"name": "Larch", "under": held["labels"][0]["under"], "address": "http://10.0.0.7:8765/m/Larch"}
    ]
    assert len(PdfReader(to).pages) == held["sheets"] == 1
    own = larch("labels", to, "--own-sheet", "letter,2,5,100,50,5,10,2,0", "--first", 10)
    assert own.code == 0
    assert float(PdfReader(to).pages[0].mediabox.width) == pytest.approx(8.5 * 72)
    for wrong in (["--own-sheet", "a4,3"], ["--own-sheet", "a3,1,1,50,50,0,0,0,0"], ["--sheet", "71x37"],
                  ["--first", 40], ["--machine", "Nobody"], ["--shelf", "attic"],
                  ["--address", "10.0.0.7"]):  # fmt: skip
        assert larch("labels", to, *wrong).code == 2


def test_the_handbook_is_written_with_and_without_a_farm(command, larch, tmp_path, monkeypatch) -> None:
    to = tmp_path / "handbook.pdf"
    assert larch("handbook", to).code == 0
    assert "Larch" not in PdfReader(to).pages[0].extract_text()
    assert "Written by the records of My farm" in PdfReader(BytesIO(to.read_bytes())).pages[0].extract_text()
    monkeypatch.setenv("FEEDWRIGHT_FARM", str(tmp_path / "none"))
    assert command("handbook", to, "--paper", "letter", "--json").data["parts"] == 17
    assert "Without a farm's own records" in PdfReader(to).pages[0].extract_text()
    assert command("handbook", to, "--paper", "foolscap").code == 2
    assert command("handbook", to, "--farm", tmp_path / "none").code == 2


def test_measures_are_metric_or_imperial(larch) -> None:
    assert larch("figure", "set", "measures", "imperial").code == 0
    assert larch("figure", "list", "--json").data["measures"] == "imperial"
    assert larch("figure", "set", "measures", "cubits").code == 2
