"""What is expected of one machine, and of the prints planned on it."""

from tests.cli.conftest import PRINT, Command


def test_the_outlook_of_a_machine_and_of_planned_prints(ash: Command) -> None:
    ash("run", "add", "Ash", "--hours", "300", "--material", "pla")
    said = ash("outlook", "Ash")
    assert said.code == 0
    assert "Tube end" in said.out
    ash("toolpath", "add", PRINT)
    ahead = ash("outlook", "Ash", "d20.gcode", "--material", "pla", "--copies", "3")
    assert "A part fails within that:" in ahead.out
    data = ash("outlook", "Ash", "d20.gcode", "--material", "pla", "--json").data
    assert 0 <= data["spoiled_frac"] <= data["failure_frac"] <= 1


def test_planned_prints_need_their_material_and_known_names(ash: Command) -> None:
    assert "--material" in ash("outlook", "Ash", "d20.gcode").err
    assert ash("outlook", "Ash", "nosuch", "--material", "pla").code == 2
