"""Requirement forms as observers."""
