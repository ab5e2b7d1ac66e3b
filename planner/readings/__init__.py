"""Readings of the crew, format 1: a YAML file, a table (CSV), or the filled-in form of the pack."""
