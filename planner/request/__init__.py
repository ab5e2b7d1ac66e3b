"""The request form: what a ward fills in without this program, as cells, and its filled-in cells as a profile."""
