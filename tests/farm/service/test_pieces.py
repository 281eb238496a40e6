"""Each test piece passes `fit` on the machine it was made for."""

from pathlib import Path

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.dispatch.fits import fit
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.service.pieces import piece_for, record_piece, save_piece
from feedwright.farm.service.settings_ledger import value_now
from feedwright.records.store import Store
from feedwright.service.pieces import PIECES


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
            assert not [trouble.words for trouble in report.troubles if trouble.kind == "travel"], name
    return made, refused


@pytest.mark.parametrize("build", sorted(load_catalogue().builds))
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


def test_a_piece_of_a_rectangular_bed_is_refused_by_a_round_one(farm: Store, tmp_path: Path) -> None:
    add_machine(farm, "Rowan", "three_tower_remote")
    add_machine(farm, "Birch", "moving_bed_remote")
    file = save_piece(piece_for(farm, "Birch", "first_layer"), tmp_path / "piece.gcode")
    report = fit(farm, "Rowan", file, material="pla")
    assert any(trouble.kind == "travel" and trouble.grave for trouble in report.troubles)
    assert "from -90 to 90 mm" in next(one.words for one in report.troubles if one.kind == "travel")


def test_a_file_that_is_there_is_not_written_over(farm: Store, tmp_path: Path) -> None:
    add_machine(farm, "Rowan", "moving_bed_remote")
    piece = piece_for(farm, "Rowan", "first_layer")
    save_piece(piece, tmp_path / "piece.gcode")
    with pytest.raises(Conflict, match="file of that name"):
        save_piece(piece, tmp_path / "piece.gcode")


def test_how_a_piece_came_out_is_recorded_and_sets_the_value_it_found(farm: Store) -> None:
    add_machine(farm, "Rowan", "moving_bed_remote")
    bands = piece_for(farm, "Rowan", "retraction").bands
    made = record_piece(farm, "Rowan", "retraction", bands[2].value)
    machine = next(one for one in farm.machines() if one.name == "Rowan")
    assert value_now(farm, machine, "retract_mm", "pla") == bands[2].value
    assert (made.measurement.kind, made.measurement.unit) == ("piece_retraction", "mm")
    assert made.setting is not None
    assert made.setting.measurement_id == made.measurement.id
    kept = record_piece(farm, "Rowan", "temperature", 200, write=False)
    assert kept.setting is None
    assert value_now(farm, machine, "nozzle_c", "pla") is None


def test_a_flow_below_what_the_path_should_sustain_is_told(farm: Store) -> None:
    add_machine(farm, "Rowan", "moving_bed_remote")
    bands = piece_for(farm, "Rowan", "flow").bands
    assert "open a case" in record_piece(farm, "Rowan", "flow", bands[1].value).because[0]
    assert "in order" in record_piece(farm, "Rowan", "flow", bands[4].value).because[0]


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [("retraction", 0.08, "expected"), ("temperature", 428, "180 to"), ("first_layer", 9, "0 to 1"),
     ("single_wall", 1, "measured"), ("vase", 1, "expected one of")],
)  # fmt: skip
def test_a_result_that_no_band_has_room_for_is_refused_and_nothing_is_kept(
    farm: Store, name: str, value: float, words: str
) -> None:
    """Inches for mm, °F for °C, nine patches for a share."""
    add_machine(farm, "Rowan", "moving_bed_remote")
    before = farm.counts()
    with pytest.raises(BadInput, match=words):
        record_piece(farm, "Rowan", name, value)
    assert farm.counts() == before
