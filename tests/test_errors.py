"""Every refusal says where, what was expected and what to do, wherever it was raised."""

import pickle

import pytest

from feedwright import errors
from feedwright.errors import (
    BadEntry,
    BadInput,
    BadToolpath,
    Conflict,
    FeedwrightError,
    NotAllowed,
    NotFound,
    NotSignedIn,
    OutOfRange,
    StoreError,
    TooOften,
)

KINDS = (BadInput, BadToolpath, BadEntry, NotFound, Conflict, NotSignedIn, NotAllowed, StoreError)


@pytest.mark.parametrize("kind", KINDS)
def test_a_refusal_names_subject_place_expectation_and_remedy(kind: type[FeedwrightError]) -> None:
    error = kind("part.gcode", place="line 7", expected="expected a number", remedy="correct the line")
    assert str(error) == "part.gcode, line 7: expected a number: correct the line"
    assert error.as_dict() == {
        "error": kind.__name__,
        "subject": "part.gcode",
        "place": "line 7",
        "expected": "expected a number",
        "remedy": "correct the line",
    }


def test_a_refusal_with_nothing_more_to_say_is_its_subject() -> None:
    assert str(NotFound("machine “bench 3”")) == "machine “bench 3”"


def test_out_of_range_says_the_range_and_what_was_given() -> None:
    error = OutOfRange("nozzle_c", 512.0, 0.0, 500.0)
    assert str(error) == "nozzle_c: expected 0 to 500, was given 512: give nozzle_c within that range"
    assert (error.value, error.low, error.high) == (512.0, 0.0, 500.0)


@pytest.mark.parametrize(
    "error",
    [
        BadToolpath("a", place="line 1", expected="b", remedy="c"),
        OutOfRange("speed_mm_s", 9.0, 0.0, 1.0),
        TooOften("passphrase", wait_s=300.0, expected="tried too often"),
    ],
)
def test_a_refusal_survives_the_way_back_from_a_worker_process(error: FeedwrightError) -> None:
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is type(error)
    assert str(back) == str(error)
    assert vars(back) == vars(error)


def test_the_tree_in_the_module_s_own_words_lists_every_class() -> None:
    kinds = [
        name for name, held in vars(errors).items() if isinstance(held, type) and issubclass(held, FeedwrightError)
    ]
    assert all(name in (errors.__doc__ or "") for name in kinds)
