//! Working back from the off-shed time.
