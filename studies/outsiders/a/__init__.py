"""Hidden-truth hold-out simulator for weighed drives, coastdowns and comparison sets (numpy only, deterministic by seed)."""
