"""What the pages look up: bounded questions to the tables, answered as plain values."""
