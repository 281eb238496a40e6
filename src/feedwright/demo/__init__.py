"""An invented workshop that prints, wears and fails, for trying and testing."""
