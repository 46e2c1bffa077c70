//! Finding the program under test.

use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

/// The path of `meniscus`: what `MENISCUS` names, or else a build of the same profile, in the same target
/// folder, as the running test. It is another package, so cargo does not hand us its path.
///
/// # Panics
/// When it cannot be built.
pub fn meniscus() -> PathBuf {
    static PATH: OnceLock<Option<PathBuf>> = OnceLock::new();
    let path = PATH.get_or_init(|| {
        std::env::var_os("MENISCUS")
            .map(PathBuf::from)
            .or_else(build)
    });
    path.clone().expect("meniscus does not build")
}

fn build() -> Option<PathBuf> {
    // TARGET/PROFILE/deps/TEST
    let test = std::env::current_exe().expect("the test's own path");
    let profile = test.ancestors().nth(2).expect("the folder of the profile");
    let target = profile.parent().expect("the target folder");
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    cargo
        .args(["build", "--quiet", "--package", "meniscus"])
        .env("CARGO_TARGET_DIR", target);
    if profile.ends_with("release") {
        cargo.arg("--release");
    }
    let built = cargo.status().expect("cargo").success();
    built.then(|| profile.join(format!("meniscus{}", std::env::consts::EXE_SUFFIX)))
}
