"""What was observed or declared: frozen, checked, in SI units, never edited in place."""
