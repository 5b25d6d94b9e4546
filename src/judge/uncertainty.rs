//! Uncertainty: how far a reading can be off, expanded with k = 2.
