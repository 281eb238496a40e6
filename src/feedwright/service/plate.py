"""The bed's plate: where a point lies on it, by its shape and where its origin is."""

import math
from dataclasses import dataclass

from feedwright.catalogue.entry import BedShape


@dataclass(frozen=True, slots=True)
class Plate:
    """A plate from above. A rectangular one begins at its corner, a round one has its origin in the middle."""

    x_mm: float
    """Width; of a round one its diameter is the lesser of width and depth."""
    y_mm: float
    shape: BedShape = "rectangular"

    @property
    def is_round(self) -> bool:
        """True where its origin is in the middle."""
        return self.shape == "round"

    @property
    def radius_mm(self) -> float:
        """Of a round one: how far it reaches from the middle."""
        return min(self.x_mm, self.y_mm) / 2

    @property
    def middle_mm(self) -> tuple[float, float]:
        """The middle of the plate."""
        return (0.0, 0.0) if self.is_round else (self.x_mm / 2, self.y_mm / 2)

    @property
    def span_mm(self) -> tuple[float, float]:
        """How wide and how deep it is."""
        return (2 * self.radius_mm, 2 * self.radius_mm) if self.is_round else (self.x_mm, self.y_mm)

    @property
    def low_mm(self) -> tuple[float, float]:
        """Its least coordinates."""
        return (-self.radius_mm, -self.radius_mm) if self.is_round else (0.0, 0.0)

    @property
    def high_mm(self) -> tuple[float, float]:
        """Its greatest coordinates."""
        return (self.radius_mm, self.radius_mm) if self.is_round else (self.x_mm, self.y_mm)

    def holds(self, x_mm: float, y_mm: float) -> bool:
        """True where the point lies on the plate."""
        if self.is_round:
            return math.hypot(x_mm, y_mm) <= self.radius_mm + 1e-9
        return 0 <= x_mm <= self.x_mm and 0 <= y_mm <= self.y_mm

    @property
    def reach(self) -> str:
        """How far it reaches, in words."""
        if self.is_round:
            return f"the bed is round and reaches {self.radius_mm:g} mm from its middle, where x and y are 0"
        return f"the bed reaches from 0 to {self.x_mm:g} mm along x and to {self.y_mm:g} mm along y"

    def field_mm(self, edge_mm: float) -> tuple[float, float]:
        """Width and depth of a field about the middle that stays so far from the edge; a square on a round plate."""
        if self.is_round:
            side = math.sqrt(2) * (self.radius_mm - edge_mm)
            return side, side
        return self.x_mm - 2 * edge_mm, self.y_mm - 2 * edge_mm

    def width_mm(self, edge_mm: float, depth_mm: float) -> float:
        """Width of a field about the middle that is so deep and stays so far from the edge."""
        if self.is_round:
            return 2 * math.sqrt(max(0.0, (self.radius_mm - edge_mm) ** 2 - (depth_mm / 2) ** 2))
        return self.x_mm - 2 * edge_mm
