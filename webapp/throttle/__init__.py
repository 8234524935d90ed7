"""Throttle: failed tries, counted in the database so that every process sees them."""
