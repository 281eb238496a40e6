"""Filament in its tube, in the gap and under its own springing, against the closed forms of mechanics."""

import math
from dataclasses import replace

import pytest

from feedwright.catalogue.hot_ends import drive_of, hot_end_of
from feedwright.catalogue.load import load_catalogue
from feedwright.physics.feed_force import bending_nmm, capstan_ratio, column_n, feed_path, limits_n
from feedwright.physics.slack import clearance_mm, elastic_mm


@pytest.mark.parametrize(
    ("friction", "ratios"),
    [
        (0.05, (1.081706, 1.170089, 1.265693, 1.369108)),
        (0.10, (1.170089, 1.369108, 1.601978, 1.874456)),
        (0.30, (1.601978, 2.566332, 4.111207, 6.586062)),
    ],
)
def test_a_bent_tube_multiplies_as_euler_and_eytelwein_say(friction: float, ratios: tuple[float, ...]) -> None:
    """exp(mu theta) at 90, 180, 270 and 360 degrees (restated in arXiv 2012.13353)."""
    found = [capstan_ratio(friction, bend_deg) for bend_deg in (90, 180, 270, 360)]
    assert found == pytest.approx(ratios, rel=1e-6)
    assert 15 * capstan_ratio(0.1, 180) == pytest.approx(20.536617, rel=1e-7)
    assert 15 * capstan_ratio(0.2, 180) == pytest.approx(28.116841, rel=1e-7)


@pytest.mark.parametrize(
    ("modulus_mpa", "gap_mm", "expected_n"),
    [
        (3500, 5, 636.136),
        (3500, 10, 159.034),
        (3500, 20, 39.758),
        (1387, 10, 63.023),
        (2000, 10, 90.877),
        (50, 5, 9.088),
        (50, 10, 2.272),
        (50, 3, 25.243),
        (2.5, 10, 0.114),
    ],
)
def test_unguided_filament_buckles_as_euler_says(modulus_mpa: float, gap_mm: float, expected_n: float) -> None:
    """pi² E I / L² for 1.75 mm; moduli of a public table of polymers and of Int. J. Bioprinting 9, 756."""
    assert column_n(modulus_mpa, 1.75, gap_mm) == pytest.approx(expected_n, abs=6e-4)


def test_stiff_filament_crushes_before_it_buckles_in_a_short_gap() -> None:
    """144.317 N at 60 MPa: Euler governs only beyond 10.4975 mm."""
    crush_n = 60 * math.pi / 4 * 1.75**2
    assert crush_n == pytest.approx(144.317, abs=1e-3)
    assert column_n(3500, 1.75, 10.4975) == pytest.approx(crush_n, rel=1e-4)


@pytest.mark.parametrize(("radius_mm", "moment_nmm"), [(100, 16.1135), (50, 32.2270)])
def test_a_bend_takes_the_moment_of_a_beam(radius_mm: float, moment_nmm: float) -> None:
    """E I / R for PLA of 3.5 GPa."""
    assert bending_nmm(3500, 1.75, radius_mm) == pytest.approx(moment_nmm, abs=1e-4)


@pytest.mark.parametrize(
    ("bore_mm", "expected"), [(2.0, (0.392699, 0.785398, 1.570796)), (1.9, (0.235619, 0.471239, 0.942478))]
)
def test_lost_motion_is_clearance_times_bend(bore_mm: float, expected: tuple[float, ...]) -> None:
    """At 90, 180 and 360 degrees: outer-wall length less inner-wall length of the bend."""
    for bend_deg, lost_mm in zip((90, 180, 360), expected, strict=True):
        assert clearance_mm(bore_mm, 1.75, bend_deg) == pytest.approx(lost_mm, abs=1e-6)
        radius, theta, clearance = 80.0, math.radians(bend_deg), bore_mm - 1.75
        by_walls = (radius + clearance / 2) * theta - (radius - clearance / 2) * theta
        assert clearance_mm(bore_mm, 1.75, bend_deg) == pytest.approx(by_walls, rel=1e-9)


def test_filament_springs_as_a_rod() -> None:
    """400 mm under 20 N: PLA 0.950290 mm (21.0462 N/mm), a soft grade of 50 MPa 66.5 mm."""
    assert elastic_mm(20, 400, 3500, 1.75) == pytest.approx(0.950290, abs=1e-6)
    assert 20 / elastic_mm(20, 400, 3500, 1.75) == pytest.approx(21.0462, abs=1e-4)
    assert elastic_mm(20, 400, 50, 1.75) == pytest.approx(66.5, abs=0.05)


def test_the_motor_s_torque_is_the_push_times_the_radius() -> None:
    """60 N at an effective radius of 5.476 mm take 0.328560 N m."""
    drive = drive_of("remote")
    drive = replace(drive, motor_torque_nmm=replace(drive.motor_torque_nmm, value=328.560))
    limits = dict(limits_n(feed_path(hot_end_of("lined"), drive), load_catalogue().materials["pla"]))
    assert limits["motor"] + drive.spool_pull_n.value == pytest.approx(60.0, rel=1e-4)
