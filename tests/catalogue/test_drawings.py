"""The drawings show every part that a build has, and nothing lies outside the picture.

Sources: W3C SVG 2, chapter 9 (path data); the order in which filament meets the parts is the feed path's own.
"""

import itertools
import re

import numpy as np
import pytest
from scipy.optimize import minimize

from feedwright.catalogue.drawings import TAG_PITCH, feed_path, frame_picture, spread
from feedwright.catalogue.load import load_catalogue

BUILDS = list(load_catalogue().builds.values())
TOKEN = re.compile(r"[MLHVCQZmlhvcqz]|-?\d+(?:\.\d+)?")


@pytest.mark.parametrize("build", BUILDS, ids=lambda build: build.id)
def test_every_part_of_a_build_is_drawn_and_has_its_tag(build) -> None:
    kinds = {kind for kind, _, _ in build.parts}
    drawing = feed_path(build.drive, build.hot_end, kinds)
    assert {stroke.part for stroke in drawing.strokes if stroke.part} == kinds
    assert set(drawing.anchors) == kinds == set(drawing.tags)
    heights = list(drawing.tags.values())
    assert all(later - before >= TAG_PITCH - 1e-9 for before, later in itertools.pairwise(heights))
    assert heights[0] >= TAG_PITCH / 2 - 1e-9
    assert heights[-1] <= drawing.height - TAG_PITCH / 2 + 1e-9


@pytest.mark.parametrize("build", BUILDS, ids=lambda build: build.id)
def test_path_data_hold_nothing_but_the_commands_that_both_painters_know(build) -> None:
    for drawing in (feed_path(build.drive, build.hot_end, [kind for kind, _, _ in build.parts]), frame_picture(build)):
        for stroke in drawing.strokes:
            assert not TOKEN.sub("", stroke.d).strip(), stroke.d


def test_the_filament_meets_the_parts_from_the_spool_down() -> None:
    build = load_catalogue().builds["moving_bed_remote"]
    drawing = feed_path(build.drive, build.hot_end, [kind for kind, _, _ in build.parts])
    way = ["drive_gear", "tube_coupler", "guide_tube", "heat_break", "tube_end", "nozzle", "bed_surface"]
    heights = [drawing.anchors[kind][1] for kind in way]
    assert heights == sorted(heights)


@pytest.mark.parametrize("seed", range(4))
def test_tags_lie_as_near_to_their_parts_as_a_general_optimizer_puts_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = np.sort(rng.uniform(0, 300, 7))
    found = np.array(spread(list(wanted), 30.0, -1e9, 1e9))
    apart = [{"type": "ineq", "fun": lambda y, at=at: y[at + 1] - y[at] - 30.0} for at in range(6)]
    held = minimize(lambda y: ((y - wanted) ** 2).sum(), wanted, constraints=apart, method="SLSQP", tol=1e-12)
    assert np.allclose(found, held.x, atol=1e-3)
