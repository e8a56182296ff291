//! Tables of others into the records.
