"""What happens to a unit and in the depot outside a job, as pure values: no database, no clock."""
