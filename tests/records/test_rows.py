"""Values that are kept as JSON come back as they were."""

from datetime import UTC, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st

from feedwright.records import rows
from feedwright.toolpath.values import ADDITIVE, Duty, MotionLimits, Profile, Reading, Remark, Stretch

numbers = st.floats(0, 1e12, allow_subnormal=False)
levels = st.dictionaries(st.floats(0, 500), numbers, max_size=4).map(lambda held: tuple(sorted(held.items())))
stretches = st.builds(Stretch, **dict.fromkeys(ADDITIVE, numbers), nozzle_s=levels, bed_s=levels)
triples = st.tuples(numbers, numbers, numbers)


def tuples(of: st.SearchStrategy[float]) -> st.SearchStrategy[tuple[float, ...]]:
    return st.lists(of, max_size=4).map(tuple)


profiles = st.builds(
    Profile,
    slice_s=numbers,
    slices=st.lists(stretches, max_size=3).map(tuple),
    flow_mm3_s=tuples(numbers),
    flow_max_mm3_s=tuples(numbers),
    nozzle_c=tuples(numbers),
    layer=tuples(st.integers(0, 9)),
    line=tuples(st.integers(0, 9)),
)
duties = st.builds(
    Duty,
    whole=stretches,
    moves=st.integers(0, 10**9),
    layers=st.integers(0, 10**4),
    filament_high_water_mm=numbers,
    passes_mm=tuples(numbers),
    flow_s=tuples(numbers),
    flow_bin_mm3_s=numbers,
    flow_max_mm3_s=numbers,
    nozzle_c_max=numbers,
    bed_c_max=numbers,
    box_low_mm=triples,
    box_high_mm=triples,
    profile=profiles,
)
readings = st.builds(
    Reading,
    name=st.text(max_size=20),
    kind=st.sampled_from(["filament", "milling"]),
    complete=st.booleans(),
    sha256=st.text("0123456789abcdef", min_size=64, max_size=64),
    bytes_count=st.integers(0, 10**12),
    lines=st.integers(0, 10**9),
    duty=st.none() | duties,
    reader=st.text(max_size=5),
    refused_because=st.text(max_size=20),
    warnings=st.lists(st.builds(Remark, st.integers(0, 9), st.text(max_size=9)), max_size=3).map(tuple),
)


@given(stretches)
def test_a_stretch_comes_back_to_the_last_bit(stretch: Stretch) -> None:
    assert rows.stretch_from_text(rows.stretch_to_text(stretch)) == stretch


@given(readings)
def test_a_reading_comes_back_to_the_last_bit(reading: Reading) -> None:
    assert rows.reading_from_bytes(rows.reading_to_bytes(reading)) == reading


@given(st.builds(MotionLimits, axis_speed_mm_s=st.tuples(*[st.floats(1, 1e5)] * 4), ambient_c=st.floats(-50, 100)))
def test_motion_limits_come_back_and_are_known_by_their_digest(limits: MotionLimits) -> None:
    again = rows.motion_from_text(rows.motion_to_text(limits))
    assert again == limits
    assert rows.limits_key(again) == rows.limits_key(limits)
    assert rows.limits_key(limits) != rows.limits_key(MotionLimits(ambient_c=99.5))


@given(
    st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1)),  # noqa: DTZ001 - the zone is added
    st.integers(-14, 14),
)
def test_a_time_of_any_zone_comes_back_to_the_microsecond(naive: datetime, hours: int) -> None:
    at = naive.replace(tzinfo=timezone(timedelta(hours=hours)))
    again = rows.time_from_row(rows.time_to_row(at))
    assert again == at
    assert again.tzinfo is UTC
