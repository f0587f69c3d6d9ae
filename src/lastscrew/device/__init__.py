"""The device file: what a machine is made of, what holds it together, what it takes to reach it."""
