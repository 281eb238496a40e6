"""Hot-end heat, feed force, guide-tube slack: published models as pure functions."""
