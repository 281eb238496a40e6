"""A heating log as people bring it, and logs that say nothing."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.errors import BadInput, FeedwrightError
from feedwright.service.heating_log import read_heating_log

ROWS = [(second, 22 + 3.0 * second) for second in range(30)]


@pytest.mark.parametrize(
    "text",
    [
        "time_s,nozzle_c\n" + "\n".join(f"{t},{c}" for t, c in ROWS),
        "\n".join(f"{t} {c}" for t, c in ROWS),
        "\ufeffTime (s);Temperature\n" + "\n".join(f"{t};{str(c).replace('.', ',')}" for t, c in ROWS),
        "# heated by hand\ntemperature\tseconds\n" + "\n".join(f"{c}\t{t}" for t, c in ROWS),
    ],
)
def test_it_is_read_however_its_columns_are_kept_apart(text: str) -> None:
    log = read_heating_log(text)
    assert list(zip(log.time_s, log.at_c, strict=True)) == ROWS


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("\n".join(f"{t},22" for t in range(60)), "never heats"),
        ("\n".join("5,100" for _ in range(30)), "time must go on"),
        ("\n".join(f"{t},{20 + 30 * t}" for t in range(30)), "cannot be"),
        ("1,2\n2,3", "expected 12 or more"),
        ("colour,shape\n1,2", "time and a temperature"),
        ("\n".join(f"{t},{20 + 3 * t}" for t in range(20)) + "\n20,hot", "row 21"),
        ("", "expected 12 or more"),
    ],
)
def test_a_log_that_says_nothing_is_refused_with_the_row(text: str, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        read_heating_log(text)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    with suppress(FeedwrightError):
        read_heating_log(text)
