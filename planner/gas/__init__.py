"""Gas laws as pure functions of floats: density of oxygen, contents of a cylinder, air at altitude, blends."""
