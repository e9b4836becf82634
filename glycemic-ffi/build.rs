//! Gives the shared library its SONAME, which cargo does not set by itself.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    if std::env::var("CARGO_CFG_TARGET_OS").as_deref() == Ok("linux") {
        // Before 1.0 a minor release may change the ABI, so the minor number belongs to the name.
        let part =
            |name: &str| std::env::var(format!("CARGO_PKG_VERSION_{name}")).unwrap_or_default();
        let (major, minor) = (part("MAJOR"), part("MINOR"));
        println!("cargo:rustc-cdylib-link-arg=-Wl,-soname,libglycemic.so.{major}.{minor}");
    }
}
