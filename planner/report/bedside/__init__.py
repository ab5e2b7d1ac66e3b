"""Answers of the bedside verbs, as text and JSON."""
