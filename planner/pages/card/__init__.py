"""The card on paper."""
