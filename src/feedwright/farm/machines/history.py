"""How exposure grew: the series behind the pictures."""

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.naming import pick_entry
from feedwright.farm.ground.values import ExposurePoint
from feedwright.farm.machines.charging import NANO, charges_of, charges_on, nanos_of
from feedwright.farm.machines.machines import machine_named
from feedwright.records.store import Store


def exposure_over_time(store: Store, machine: str, part: str, position: int = 1) -> list[list[ExposurePoint]]:
    """Exposure of each fitting that sat at a place, one series each, oldest fitting first.

    A series begins at nought (or what the part had been through before) when it was fitted and has a point
    for each charge.
    """
    whose = machine_named(store, machine)
    catalogue = load_catalogue()
    kind = pick_entry(catalogue.parts, part, "part kind")
    removals = {removal.fitting_id: removal for removal in store.removals(whose.id)}
    charges = charges_of(store, whose.id)
    series = []
    for fitting in store.fittings(whose.id):
        if fitting.part_kind != kind.id or fitting.position != position:
            continue
        total = round(fitting.exposure_before * NANO)
        points = [ExposurePoint(fitting.fitted_utc, total / NANO)]
        on = charges_on(fitting, removals.get(fitting.id), charges)
        for charge, nano in zip(on, nanos_of(catalogue, kind, on), strict=True):
            total += nano
            points.append(ExposurePoint(charge.at_utc, total / NANO))
        series.append(points)
    return sorted(series, key=lambda points: points[0].at_utc)
