//! Puts the built web app into the binary. It only looks at `web/dist`; it never runs npm, so that a
//! plain `cargo build` works anywhere, with a placeholder page that says what is missing.

use std::path::Path;
use std::{env, fs};

fn main() -> std::io::Result<()> {
    let root = env::var("CARGO_MANIFEST_DIR").expect("cargo sets this for build scripts");
    let built = Path::new(&root).join("web/dist");
    println!("cargo::rerun-if-changed=web/dist");
    println!("cargo::rerun-if-changed=server/build.rs");
    let folder = if built.join("index.html").is_file() {
        built
    } else {
        println!(
            "cargo::warning=web/dist is missing: the binary carries a placeholder page; run ./deploy/build for the app"
        );
        let placeholder =
            Path::new(&env::var("OUT_DIR").expect("cargo sets this for build scripts")).join("web");
        fs::create_dir_all(&placeholder)?;
        fs::write(
            placeholder.join("index.html"),
            "<!doctype html><meta charset=utf-8><title>Turnbuckle</title>\
             <p>The server runs, but it was built without its app. Run <code>./deploy/build</code> and start it again.",
        )?;
        placeholder
    };
    println!("cargo::rustc-env=TURNBUCKLE_WEB={}", folder.display());
    Ok(())
}
