"""Files that appear whole or not at all, one process at a time, many processes at once."""
