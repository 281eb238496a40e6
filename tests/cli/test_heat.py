"""``fit``, ``soak``, ``fan``, ``push``, ``orifice``: heat and force of one machine."""

from pathlib import Path

import pytest
from tests.cli.conftest import Command

PRINT = "M83\nM109 S210\nG1 Z0.2 F600\nG1 X10 Y10 F6000\n" + "G1 X110 E4 F3000\nG1 X10 E4\n" * 20


def test_a_file_is_held_against_a_machine(ash: Command, tmp_path: Path) -> None:
    path = tmp_path / "a.gcode"
    path.write_text(PRINT)
    assert ": yes" in ash("fit", "Ash", str(path)).out
    told = ash("fit", "Ash", str(path), "--material", "petg", "--spool-g", "0.1", "--json").data
    assert told["verdict"] == "not as it stands"
    assert {trouble["kind"] for trouble in told["troubles"]} >= {"too cold", "spool"}
    assert all(trouble["words"] for trouble in told["troubles"])


def test_a_mishap_is_told_before_it_is_trusted_again(ash: Command) -> None:
    said = ash("soak", "Ash", "fan_stall", "--nozzle-c", "240", "--minutes", "30", "--material", "petg")
    assert said.code == 0
    assert "Check before trusting the machine" in said.out
    assert "burn skin" in said.out
    told = ash("soak", "Ash", "power_cut", "--nozzle-c", "210", "--json").data
    assert told["minutes"] == 240
    assert ash("event", "list", "--json").data == [], "telling records nothing"


def test_a_fan_is_judged_by_one_reading(ash: Command) -> None:
    assert "healthy" in ash("fan", "Ash", "--nozzle-c", "210", "--sink-c", "36").out
    said = ash("fan", "Ash", "--nozzle-c", "210", "--finger-s", "1.5", "--let-go")
    assert "contact thermometer" in said.out


def test_push_and_orifice_speak(ash: Command) -> None:
    assert "holds" in ash("push", "Ash", "--flow", "4").out
    assert "DOES NOT HOLD" in ash("push", "Ash", "--flow", "40").out
    assert "worn" in ash("orifice", "Ash", "--flow-new", "5", "--flow-now", "9").out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["soak", "Ash", "jam", "--nozzle-c", "200"], "power_cut"),
        (["soak", "Ash", "fan_stall", "--nozzle-c", "200"], "give the minutes"),
        (["soak", "Ash", "hot_stop", "--nozzle-c", "2000", "--minutes", "3"], "40 to 450"),
        (["fan", "Ash", "--nozzle-c", "210"], "--sink-c"),
        (["fan", "Ash", "--nozzle-c", "210", "--sink-c", "-40"], "sink_top_c"),
        (["push", "Ash", "--flow", "-1"], "flow_mm3_s"),
        (["push", "Ash", "--material", "plaa"], "did you mean pla"),
        (["orifice", "Ash", "--flow-new", "0", "--flow-now", "1"], "mm³/s"),
        (["fit", "Ash", "none.gcode"], "none.gcode"),
        (["fit", "Oak", "none.gcode"], "Ash"),
    ],
)
def test_what_cannot_be_is_refused_with_its_remedy(words: list[str], told: str, ash: Command) -> None:
    said = ash(*words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do" in said.err
