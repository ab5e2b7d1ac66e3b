"""A line of the trade's shorthand, `US-E 1900 psi, reservoir mask 15, 12 min, in house`, to answers of the interview.

Words and values become tokens, tokens the statements of a small grammar, statements what was said. A part of the line
that can be taken in more than one way, or that holds one word too many, is not taken at all: it is asked about.
"""
