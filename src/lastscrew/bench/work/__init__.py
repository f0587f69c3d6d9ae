"""What the bench shows while work is done, from a device and the events of a job: pure values, no database."""
