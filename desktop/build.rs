//! Compiles the markup of the window.

fn main() -> Result<(), slint_build::CompileError> {
    // Ids of elements are kept, so that tests find controls in the live tree.
    let config = slint_build::CompilerConfiguration::new().with_debug_info(true);
    slint_build::compile_with_config("ui/app.slint", config)
}
