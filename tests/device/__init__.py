"""Tests of the device file."""
