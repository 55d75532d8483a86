"""From the plan to a finished two-layer board."""
