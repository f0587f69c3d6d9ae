"""The audit: what a careful colleague would say about a procedure or a device file."""
