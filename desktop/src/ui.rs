//! What is generated from the markup.

slint::include_modules!();
