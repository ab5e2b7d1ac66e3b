"""JSON Schemas (draft 2020-12) of the profile language, format 1, and of policy files."""
