"""The command: one module a verb; the only click."""
