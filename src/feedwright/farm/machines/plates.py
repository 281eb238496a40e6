"""The bed of a machine from above."""

from feedwright.catalogue.load import load_catalogue
from feedwright.records.values import Machine
from feedwright.service.plate import Plate


def plate_of(machine: Machine) -> Plate:
    """Its plate: the box says how large it is, the build whether it is round."""
    build = load_catalogue().builds.get(machine.build)
    return Plate(machine.box_mm[0], machine.box_mm[1], build.bed if build else "rectangular")
