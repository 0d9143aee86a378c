"""One module per step; `revision` and `down_revision` order them."""
