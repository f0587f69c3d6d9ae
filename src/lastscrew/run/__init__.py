"""What happened at the bench: run events, and the state of a job that follows from them."""
