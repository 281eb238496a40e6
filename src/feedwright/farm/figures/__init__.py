"""What keeping costs and what the policy saves."""
