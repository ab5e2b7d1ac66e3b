"""Questions of the bedside: how long a cylinder lasts, what flow its gauge tells of."""
