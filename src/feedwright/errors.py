"""Every refusal the program can give, in one tree.

::

    FeedwrightError
    ├── BadInput            what was given is wrong: file or field, place, expected, remedy
    │   ├── BadToolpath     a toolpath file
    │   └── BadEntry        an entry of the catalogue
    ├── OutOfRange          a formula was asked beyond the range its source covers
    ├── NotFound            a name or number that no record carries
    ├── Conflict            the records changed meanwhile, or say otherwise
    ├── NotSignedIn         whoever asks over the network has not shown who they are
    ├── NotAllowed          whoever asks may not do that
    ├── TooOften            tried too often: wait
    ├── StillWorking        what a large farm's page needs is not worked out yet
    └── StoreError          the records cannot be opened, read or written

Raised where the fact is known; rendered once for the terminal (``cli/main.py``)
and once for pages and JSON (``web/errors.py``).
"""


class FeedwrightError(Exception):
    """Anything the program refuses, with what to do about it.

    ``subject`` names the file or field, ``place`` where in it (line and column,
    row, table path), ``expected`` what would have been right, ``remedy`` what to do.
    """

    def __init__(self, subject: str, *, place: str = "", expected: str = "", remedy: str = "") -> None:
        self.subject = subject
        self.place = place
        self.expected = expected
        self.remedy = remedy
        super().__init__(self.sentence)

    def __reduce__(self) -> tuple[object, ...]:
        # refusals cross from worker processes: rebuild from the fields, since not every class takes the same
        return _rebuilt, (type(self), self.__dict__)

    @property
    def sentence(self) -> str:
        """The whole refusal as one line of plain words."""
        where = f"{self.subject}, {self.place}" if self.place else self.subject
        return ": ".join(part for part in (where, self.expected, self.remedy) if part)

    def as_dict(self) -> dict[str, str]:
        """The same four fields for JSON."""
        return {
            "error": type(self).__name__,
            "subject": self.subject,
            "place": self.place,
            "expected": self.expected,
            "remedy": self.remedy,
        }


def _rebuilt(kind: type[FeedwrightError], fields: dict[str, object]) -> FeedwrightError:
    error = kind.__new__(kind)
    error.__dict__.update(fields)
    error.args = (error.sentence,)
    return error


class BadInput(FeedwrightError):
    """What a person or a file gave cannot be taken as it is."""


class BadToolpath(BadInput):
    """A file that is not a filament toolpath, or cannot be read as one."""


class BadEntry(BadInput):
    """An entry of the catalogue that contradicts itself or points nowhere."""


class OutOfRange(FeedwrightError):
    """A quantity beyond the range in which a formula holds."""

    def __init__(self, quantity: str, value: float, low: float, high: float, *, remedy: str = "") -> None:
        self.value, self.low, self.high = value, low, high
        super().__init__(
            quantity,
            expected=f"expected {low:g} to {high:g}, was given {value:g}",
            remedy=remedy or f"give {quantity} within that range",
        )


class NotFound(FeedwrightError):
    """A name or number that no record carries."""


class Conflict(FeedwrightError):
    """The records changed meanwhile, or contradict what is asked."""


class NotSignedIn(FeedwrightError):
    """Whoever asks over the network has not shown who they are, or no longer counts as such."""


class NotAllowed(FeedwrightError):
    """Whoever asks is known, or need not be, and still may not do that."""


class TooOften(FeedwrightError):
    """Something was tried too often; ``wait_s`` says for how long it is refused."""

    def __init__(self, subject: str, *, wait_s: float, expected: str, remedy: str = "") -> None:
        self.wait_s = wait_s
        minutes = max(1, round(wait_s / 60))
        super().__init__(subject, expected=expected, remedy=remedy or f"wait {minutes} min, then try again")


class StillWorking(FeedwrightError):
    """What was asked for is being worked out, which takes a while on a large farm; ask again in ``wait_s``."""

    def __init__(self, what: str, *, place: str, wait_s: float) -> None:
        self.wait_s = wait_s
        super().__init__(what, place=place, expected="being worked out", remedy="ask again in a few seconds")


class StoreError(FeedwrightError):
    """The records cannot be opened, read or written."""


def refusal_of_system(error: OSError) -> BadInput:
    """What the operating system refused, such as a folder that may not be read."""
    return BadInput(
        str(error.filename or "the system"),
        expected=error.strerror or str(error),
        remedy="check the path, that you may read and write there, and the space on the disk",
    )
