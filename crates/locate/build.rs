//! Puts the weights of the nets where the crate takes them from: its own, or those of another fit in the folder that
//! `TAKEGAUGE_WEIGHTS` names. So a program is built whose ear has not heard a guitar that it is judged by
//! (tests/measure/guitars_left_out.py).

use std::path::PathBuf;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-env-changed=TAKEGAUGE_WEIGHTS");
    let own = || PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default()).join("weights");
    let folder = env::var_os("TAKEGAUGE_WEIGHTS").map_or_else(own, PathBuf::from);
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default());
    for name in ["quick.bin", "thorough.bin"] {
        let from = folder.join(name);
        println!("cargo::rerun-if-changed={}", from.display());
        fs::copy(&from, out.join(name))?;
    }
    Ok(())
}
