"""``python -m feedwright.cli.prepare``: compile what the toolpath room has not, once, while setting up."""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

PRINT = "M83\nM109 S210\nG1 Z0.2 F600\nG1 X10 Y10 F6000\nG1 X60 E2 F3000\nG1 E-4 F2400\nG1 E4\nG1 X10 E2 F3000\n"


def _say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def main() -> None:
    """Each loop by doing once, in a farm thrown away, what needs it; the toolpath room prepares its own."""
    from feedwright.farm.dispatch.fits import fit
    from feedwright.farm.figures.policy import study
    from feedwright.farm.ground.house import open_farm
    from feedwright.farm.machines.machines import add_machine
    from feedwright.farm.parts.heat import soak_of
    from feedwright.farm.prints.runs import add_run

    _say("Compiling the heat model, the walk over files, the policy study and the rounds, once ...")
    with TemporaryDirectory() as folder, open_farm(Path(folder) / "farm", create=True) as store:
        begun = datetime.now(UTC) - timedelta(days=2)
        add_machine(store, "trial", "moving_bed_remote", history="new", at_utc=begun)
        add_run(store, "trial", material="pla", hours=9, started_utc=begun + timedelta(hours=1))
        path = Path(folder) / "trial.gcode"
        path.write_text(PRINT)
        soak_of(store, "trial", "fan_stall", nozzle_c=240, minutes=5)
        fit(store, "trial", path, material="pla")
        study(store, datetime.now(UTC), years=1, farms=2)
    _a_round()


def _a_round() -> None:
    import numpy as np

    from feedwright.planning.rounds import plan_rounds
    from feedwright.planning.rounds_values import MachineWork, RoundsProblem, RoundTask

    work = MachineWork(1, (RoundTask(1, (0.0,), 9.0),), np.array([0.0, 5.0]), (60.0,))
    plan_rounds(RoundsProblem((60.0,), (work,), 0.4, 1.0, 1.0))


if __name__ == "__main__":
    main()
