"""Every procedure is whole, safe in its words, and leads to the proofs it asks for."""

from importlib.resources import files

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.procedures import (
    FILES,
    SHARED,
    Procedures,
    load_procedures,
    parse_procedures,
    procedure_named,
)
from feedwright.errors import BadEntry, BadInput

KNOWN = load_procedures()
NAMES = (SHARED, *FILES)
NAMED_IN_THE_PLAN = (
    "unload_filament", "load_filament", "trim_tube", "renew_tube", "renew_nozzle", "cold_pull", "clear_clog",
    "clean_drive", "renew_gear", "renew_idler", "renew_coupler", "look_sink_fan", "renew_sink_fan", "look_part_fan",
    "renew_part_fan", "renew_liner", "renew_heat_break", "check_heater", "renew_heater", "renew_sensor", "tram_bed",
    "clean_bed", "renew_bed_surface", "look_belts", "renew_belts", "look_wheels", "renew_wheels", "look_lead_screw",
    "renew_lead_screw", "check_terminals", "after_power_cut", "into_storage", "out_of_storage",
)  # fmt: skip


def texts() -> dict[str, bytes]:
    return {name: files("feedwright.catalogue").joinpath(name).read_bytes() for name in NAMES}


def test_every_job_of_the_plan_is_there() -> None:
    assert not set(NAMED_IN_THE_PLAN) - KNOWN.procedures.keys()


def test_every_part_kind_can_be_renewed_on_every_build_that_has_it() -> None:
    catalogue = load_catalogue()
    for build in catalogue.builds.values():
        for part, _, _ in build.parts:
            fits = [
                one for one in KNOWN.procedures.values()
                if one.renews == part and one.drive in ("any", build.drive) and one.hot_end in ("any", build.hot_end)
            ]  # fmt: skip
            assert len(fits) == 1, (build.id, part, [one.id for one in fits])


def test_every_hot_or_powered_off_step_has_its_caution_or_follows_a_change_that_has() -> None:
    for state, caution in (("hot", "hot"), ("ready", "hot"), ("pull", "hot"), ("cold", "hot"), ("off", "mains")):
        assert caution in KNOWN.changes[state].cautions
    for procedure in KNOWN.procedures.values():
        for step in procedure.steps:
            if "blade" in step.do or "Cut" in step.do or "cutter" in " ".join(step.tools):
                assert "blade" in step.cautions or step.shared or step.state != "any", step.id


def test_mains_work_is_left_to_a_qualified_person() -> None:
    assert "qualified person" in KNOWN.cautions["mains"]
    assert "local code" in KNOWN.cautions["mains"]
    for procedure in ("check_terminals", "have_supply_fan_renewed"):
        said = " ".join(step.do for step in KNOWN.procedures[procedure].steps)
        assert "qualified person, by local code" in said


def test_every_renewal_is_recorded_once() -> None:
    for procedure in KNOWN.procedures.values():
        renewed = [step.record.part for step in procedure.steps if step.record and step.record.kind == "renewal"]
        assert renewed == ([procedure.renews] if procedure.renews else [])


def test_every_proof_is_yielded_by_a_step_that_records_it() -> None:
    for proof in KNOWN.proofs:
        records = [step.record.proof for step in KNOWN.proving(proof).steps if step.record]
        assert records == [proof]


def test_every_word_is_said() -> None:
    for procedure in KNOWN.procedures.values():
        assert procedure.title
        assert procedure.purpose
        for step in procedure.steps:
            assert step.do.endswith(".") or step.do.endswith("?"), step.id
            assert step.why.endswith("."), step.id
            assert 0 < step.minutes <= 120, step.id


@pytest.mark.parametrize(
    ("name", "old", "new", "place", "words"),
    [
        (FILES[0], 'renews = "tube_end"', 'renews = "hat"', "trim_tube.renews", "no part kind"),
        (FILES[0], 'use = "tube_out"', 'use = "hat"', "trim_tube.steps[2].use", "no shared step"),
        (FILES[0], 'cautions = ["blade"]', 'cautions = ["bears"]', "trim_tube.steps[4].cautions", "among the cautions"),
        (FILES[0], 'state = "any"', 'state = "tepid"', "trim_tube.steps[3].state", "not known"),
        (FILES[1], 'proofs = ["tram", "first_layer"]', 'proofs = ["luck"]', "renew_nozzle.proofs", "no proof"),
        (FILES[2], '"renew_nozzle", ', '"renew_hat", ', "tram_bed.after", "no procedure"),
        (SHARED, "[changes.on]", "[changes.up]", "changes", "on is missing"),
        (SHARED, 'unit = "mm"', 'unit = "miles"', "proofs.tram.unit", "no unit"),
        (FILES[2], 'proves = ["tram"]', "proves = []", "proofs.tram", "no procedure yields it"),
    ],
)  # fmt: skip
def test_a_slip_in_the_files_is_refused_with_its_place(name: str, old: str, new: str, place: str, words: str) -> None:
    held = texts()
    changed = held[name].decode().replace(old, new, 1)
    assert changed != held[name].decode()
    with pytest.raises(BadEntry, match=words) as refusal:
        parse_procedures({**held, name: changed.encode()})
    assert refusal.value.place == place


def test_an_unknown_procedure_names_the_known() -> None:
    with pytest.raises(BadInput, match="trim_tube"):
        procedure_named("trim_the_hedge")


def test_what_is_shipped_is_what_is_parsed() -> None:
    assert isinstance(parse_procedures(texts()), Procedures)
