"""The card that goes with the patient, as plain data."""
