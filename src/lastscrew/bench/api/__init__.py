"""The interface for other systems and for the work page: JSON over HTTP, described by OpenAPI."""
