"""Sound plans for tests that do not care how good a plan is."""
