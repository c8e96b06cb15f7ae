"""Traces, replay, rechecks."""
