//! Compiles the screens, with their fonts and translations inside the program: a barn's computer has none of ours installed.

use slint_build::{CompilerConfiguration, DefaultTranslationContext, EmbedResourcesKind};

fn main() -> Result<(), slint_build::CompileError> {
    let settings = CompilerConfiguration::new()
        .with_style("fluent".to_owned())
        .embed_resources(EmbedResourcesKind::EmbedFiles)
        .with_bundled_translations("lang")
        .with_default_translation_context(DefaultTranslationContext::None)
        .with_debug_info(true);
    slint_build::compile_with_config("ui/app.slint", settings)
}
