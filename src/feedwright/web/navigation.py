"""Where the pages are: sections of the house, and the pages of each."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Door:
    """One page that the navigation leads to."""

    to: str
    words: str
    under: str = ""
    """Where the pages that belong to it lie, where that is not under its own address."""

    def leads_to(self, path: str) -> bool:
        """True where the path is this page or belongs to it."""
        return path == self.to or path.startswith(f"{self.under or self.to}/")


@dataclass(frozen=True, slots=True)
class Section:
    """Pages that belong together; the first is where the section opens."""

    words: str
    doors: tuple[Door, ...]

    def holds(self, path: str) -> bool:
        """True where the path is one of its pages."""
        return any(door.leads_to(path) for door in self.doors)


SECTIONS = (
    Section("Bench", (Door("/", "Bench list", under="/bench"),)),
    Section("Service", (Door("/visits", "Visits"), Door("/rounds", "Rounds"), Door("/cases", "Cases"))),
    Section(
        "Prints",
        (
            Door("/prints", "Under way"),
            Door("/queue", "Queue"),
            Door("/runs", "Runs"),
            Door("/toolpaths", "Toolpaths"),
            Door("/arrivals", "New files"),
            Door("/fit", "Will it print?"),
        ),
    ),
    Section(
        "Farm",
        (
            Door("/machines", "Machines"),
            Door("/stores", "Stores"),
            Door("/spools", "Spools"),
            Door("/labels", "Labels"),
        ),
    ),
    Section(
        "Figures",
        (
            Door("/figures", "Figures"),
            Door("/learning", "Learning"),
        ),
    ),
    Section("Handbook", (Door("/handbook", "Handbook"),)),
    Section(
        "House",
        (
            Door("/settings", "Settings"),
            Door("/books", "Books"),
            Door("/exchange", "In and out"),
            Door("/access", "Access"),
            Door("/api", "API"),
        ),
    ),
)
