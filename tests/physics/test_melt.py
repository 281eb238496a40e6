"""The flow curve and what it refuses."""

import numpy as np
import pytest

from feedwright.catalogue.entry import Material, Rheology, Sourced
from feedwright.catalogue.hot_ends import HotEnd, polymer_of
from feedwright.errors import BadEntry, OutOfRange
from feedwright.physics.melt import flow_curve, nozzle_pressure, shift_ratio, viscosity_pa_s


def test_every_material_of_the_catalogue_has_a_flow_curve(lined: HotEnd, materials: dict[str, Material]) -> None:
    """Pressure rises with the flow and falls with heat."""
    for material in materials.values():
        at_c = material.nozzle_c.value
        slow, fast, warm = (
            nozzle_pressure(lined, material, flow_mm3_s=flow, melt_c=c).sum_mpa
            for flow, c in ((2, at_c), (8, at_c), (8, at_c + 20))
        )
        assert 0 < slow < fast
        assert warm < fast


def test_a_narrower_orifice_takes_more_pressure(lined: HotEnd, pla: Material) -> None:
    """Cone and orifice; the melt zone is the same."""
    wide, narrow = (nozzle_pressure(lined, pla, flow_mm3_s=5, melt_c=200, orifice_mm=bore) for bore in (0.6, 0.4))
    assert narrow.orifice_mpa > wide.orifice_mpa
    assert narrow.cone_mpa > wide.cone_mpa
    assert narrow.melt_zone_mpa == wide.melt_zone_mpa


def test_at_its_own_temperature_a_melt_is_not_shifted(pla: Material) -> None:
    """The constants hold at the temperature their entry names."""
    assert shift_ratio(pla, polymer_of(pla), np.array([200.0]))[0] == pytest.approx(1.0)


def test_a_law_without_its_constant_is_refused_by_name() -> None:
    """The remedy is to give it."""
    with pytest.raises(BadEntry, match="k_pa_sn"):
        viscosity_pa_s(Rheology("power", 200.0, {"n_ratio": Sourced(0.4, 0.4, 0.4, "ratio", "assumed")}), 10.0)


def test_a_law_whose_stress_falls_is_refused() -> None:
    """No pump works against it, and no table can be read backwards."""
    held = {key: Sourced(v, v, v, "ratio", "assumed") for key, v in (("k_pa_sn", 100.0), ("n_ratio", -0.2))}
    with pytest.raises(BadEntry, match="stress must rise"):
        flow_curve(Rheology("power", 200.0, held))


@pytest.mark.parametrize(("field", "value"), [("flow_mm3_s", -1.0), ("melt_c", 1000.0), ("orifice_mm", 0.0)])
def test_what_cannot_be_is_refused_by_name(lined: HotEnd, pla: Material, field: str, value: float) -> None:
    """Field and range are in the refusal."""
    given = {"flow_mm3_s": 5.0, "melt_c": 200.0, field: value}
    with pytest.raises(OutOfRange, match=field):
        nozzle_pressure(lined, pla, **given)
