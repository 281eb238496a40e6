"""Heat and force of one machine: what a mishap does, the sink fan from a reading, the push of a flow."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.heat import SOAKS, FeedSheet, fan_of, push_of, soak_of
from feedwright.physics.values import FanVerdict, SoakOutcome
from feedwright.records.values import Machine
from feedwright.web import charts
from feedwright.web.fields import number, number_or_none
from feedwright.web.render import answer, farm

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """The three forms with what was typed, and the answer of the one that was sent."""

    machine: Machine
    materials: list[Material]
    mishaps: tuple[str, ...]
    given: dict[str, str]
    soak: SoakOutcome | None = None
    soak_chart: dict[str, object] | None = None
    fan: FanVerdict | None = None
    feed: FeedSheet | None = None


@router.get("/machines/{name}/heat")
def show(
    request: Request, name: str, ask: str = "", material: str = "pla", mishap: str = "", nozzle_c: str = "",
    minutes: str = "", sink_c: str = "", finger_s: str = "", let_go: str = "", ambient_c: str = "", flow: str = "",
) -> Response:  # fmt: skip
    """Ask what a mishap does, what a reading says of the fan, or how hard a flow must be pushed; records nothing."""
    with farm(request) as store:
        machine = machine_named(store, name)
        given = {
            "material": material, "mishap": mishap, "nozzle_c": nozzle_c, "minutes": minutes, "sink_c": sink_c,
            "finger_s": finger_s, "ambient_c": ambient_c, "flow": flow, "let_go": let_go, "ask": ask,
        }  # fmt: skip
        form = (machine, list(load_catalogue().materials.values()), tuple(SOAKS), given)
        if ask == "soak":
            outcome = soak_of(
                store, name, mishap, nozzle_c=number("nozzle temperature", nozzle_c),
                minutes=number_or_none("minutes", minutes), material=material,
            )  # fmt: skip
            return answer(request, "heat", Context(*form, soak=outcome, soak_chart=charts.soak_curves(outcome.curve)))
        if ask == "fan":
            verdict = fan_of(
                store, name, nozzle_c=number("nozzle temperature", nozzle_c), material=material,
                sink_c=number_or_none("sink", sink_c), finger_s=number_or_none("finger", finger_s),
                let_go=bool(let_go), ambient_c=number_or_none("ambient", ambient_c),
            )  # fmt: skip
            return answer(request, "heat", Context(*form, fan=verdict))
        if ask == "push":
            sheet = push_of(
                store, name, material=material, flow_mm3_s=number("flow", flow),
                nozzle_c=number_or_none("nozzle temperature", nozzle_c),
            )  # fmt: skip
            return answer(request, "heat", Context(*form, feed=sheet))
        if ask:
            raise BadInput("ask", place=f"“{ask}”", expected="expected soak, fan or push", remedy="use the form")
        return answer(request, "heat", Context(*form))
