"""A new trip profile: from answers to questions, or from another profile with values changed.

`interview` asks in the order in which people think of a trip, `draft` writes what was answered as a commented profile,
and `template` changes values in the text of a profile and leaves every other letter as it is.
"""
