"""When to renew, rounds, dispatch, spares, what a policy costs."""
