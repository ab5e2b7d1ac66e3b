"""Stand-in for the picture library: others ask for its name when they start, and this program handles no pictures.

Its version is 0: who asks for a newer one does without pictures.
"""

__version__ = "0"
