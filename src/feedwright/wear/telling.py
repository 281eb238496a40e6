"""What was learned of a part's life, in sentences."""

import math
from collections.abc import Sequence

import numpy as np

from feedwright.units import show_rounded
from feedwright.wear.findings import Bounds, Floats, Story
from feedwright.wear.pooled import PooledLife, counts
from feedwright.wear.posterior import quantiles
from feedwright.wear.values import Interval

RULE_OF_THUMB = "the rule of thumb"
MUCH = 1.25
"""A machine or a life is called different where it is so many times off."""
MORE = 1.02
CONTRADICTED = "What was written down of it does not fit together: look again, and check its dates and grades."


def source_of(findings: int) -> str:
    """What a life rests on: the rule of thumb alone, or with so many findings."""
    if not findings:
        return RULE_OF_THUMB
    return f"{RULE_OF_THUMB} and {findings} {'finding' if findings == 1 else 'findings'}"


def ratio_to_rule(life: PooledLife, weight: Floats) -> Interval:
    """How many times the rule of thumb's median life a belief (edges, g, s) or (g, s) amounts to; 80 % band."""
    over = weight.sum(axis=0) if weight.ndim == 3 else weight
    low, mid, high = quantiles(life.grid.log_median, over.sum(axis=1), (0.1, 0.5, 0.9))
    rule = math.log(life.kind.life.median.value)
    return Interval(math.exp(low - rule), math.exp(mid - rule), math.exp(high - rule))


def about_the_farm(life: PooledLife, product: str) -> tuple[str, ...]:
    """How far such parts are off the rule of thumb on a machine of this farm, and what that rests on.

    The band is wider than that of the farm as a whole, since machines differ.
    """
    if not life.findings:
        return ()
    ratio = ratio_to_rule(life, life.product_weight[product])
    low, mid, high = (show_rounded(end) for end in (ratio.low, ratio.mid, ratio.high))
    words = f"By {life.findings} {'finding' if life.findings == 1 else 'findings'}, such parts last about {mid} times "
    return (words + f"{RULE_OF_THUMB} on any one machine of this farm (eight in ten: {low} to {high}).",)


def about_the_machine(life: PooledLife, machine: int, product: str, stories: Sequence[Story]) -> tuple[str, ...]:
    """Whether the machine wears such parts out faster or slower than the others."""
    own = sum(counts(story) for story in stories if (story.machine, story.product) == (machine, product))
    weight = life.group_weight.get((machine, product))
    if weight is None or not own:
        return ()
    here = ratio_to_rule(life, weight)
    all_over = ratio_to_rule(life, life.product_weight[product])
    ratio = here.mid / all_over.mid
    if max(ratio, 1 / ratio) < MUCH:
        return ()
    word = "longer" if ratio > 1 else "less long"
    return (
        f"On this machine they last {word} than on the others, about {ratio:.2g} times "
        f"({own} {'finding' if own == 1 else 'findings'} here).",
    )


def about_the_part(held: Bounds, story: Story, share: Floats, unit: str) -> tuple[str, ...]:
    """What was seen of the part itself, and what that says of its life."""
    if not story.looks:
        return ()
    last = story.looks[-1]
    if story.end == "failed":
        return (f"At its last look it was found {last.grade}: it no longer does its job.",)
    if held.misread:
        return (CONTRADICTED,)
    now = float(held.entry.mean()) + story.gathered
    low = float(np.exp(np.log(np.maximum(held.low, 1e-12)).mean(axis=1) @ share))
    if now <= 0:
        return (f"It was found {last.grade} before it was used.",)
    bounds = [f"lasts beyond {show_rounded(low)}"] if low > MORE * now else []
    if np.isfinite(held.high).all():
        bounds.append(f"fails before {show_rounded(float(np.exp(np.log(held.high).mean(axis=1) @ share)))}")
    said = f"At its last look, {show_rounded(last.gathered)} {unit} after it was fitted, it was found {last.grade}"
    return (f"{said}: by that it likely {' and '.join(bounds)}." if bounds else f"{said}; it has outlived that sign.",)
