"""Hidden-truth simulator of weighed drives, coastdowns and before/after sets.

Independent of the program; numpy only; deterministic by seed.
Internal units SI unless the name says otherwise.
"""
