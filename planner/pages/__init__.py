"""The PDF pack: pages laid out as plain drawing lists, then written with reportlab."""
