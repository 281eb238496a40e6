"""Each test piece passes `fit` on the machine it was made for."""

from pathlib import Path

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.fits import fit
from feedwright.farm.machines import add_machine
from feedwright.farm.pieces import ROUND_BEDS, piece_for, save_piece
from feedwright.records.store import Store
from feedwright.service.pieces import PIECES

SQUARE = sorted(set(load_catalogue().builds) - set(ROUND_BEDS))


def made_and_refused(farm: Store, tmp_path: Path, materials: list[str]) -> tuple[int, set[str]]:
    """Makes every piece for Rowan, and holds each against it."""
    made, refused = 0, set[str]()
    for material in materials:
        for name in PIECES:
            try:
                piece = piece_for(farm, "Rowan", name, material=material)
            except BadInput as refusal:
                refused.add(refusal.expected.split()[0])
                continue
            made += 1
            report = fit(farm, "Rowan", save_piece(piece, tmp_path / f"{material}-{name}.gcode"), material=material)
            grave = [trouble.words for trouble in report.troubles if trouble.grave]
            assert not grave, (material, name, grave)
    return made, refused


@pytest.mark.parametrize("build", SQUARE)
def test_no_piece_gives_grave_trouble_on_its_own_machine(farm: Store, tmp_path: Path, build: str) -> None:
    add_machine(farm, "Rowan", build)
    assert made_and_refused(farm, tmp_path, ["pla"]) == (len(PIECES), set())


@pytest.mark.slow
@pytest.mark.parametrize("build", ["moving_bed_remote", "crossed_gantry_enclosed"])
def test_no_piece_of_any_material_gives_grave_trouble(farm: Store, tmp_path: Path, build: str) -> None:
    add_machine(farm, "Rowan", build)
    made, refused = made_and_refused(farm, tmp_path, list(load_catalogue().materials))
    assert made >= 5 * len(PIECES)
    assert refused <= {"it", "the"}  # "it wants more than the liner bears", "the feed path sustains too little"


def test_a_round_bed_whose_middle_is_not_on_record_is_refused(farm: Store) -> None:
    add_machine(farm, "Rowan", ROUND_BEDS[0])
    with pytest.raises(BadInput, match="round"):
        piece_for(farm, "Rowan", "first_layer")


def test_a_file_that_is_there_is_not_written_over(farm: Store, tmp_path: Path) -> None:
    add_machine(farm, "Rowan", "moving_bed_remote")
    piece = piece_for(farm, "Rowan", "first_layer")
    save_piece(piece, tmp_path / "piece.gcode")
    with pytest.raises(Conflict, match="file of that name"):
        save_piece(piece, tmp_path / "piece.gcode")
