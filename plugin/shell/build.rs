//! Asks the linker to keep the plugin in memory once it is loaded.
//!
//! Hosts unload a plugin after looking at it. Values that belong to a thread are dropped when that thread
//! ends, by code of the plugin; if it is gone by then, the host crashes. The tests' hosts, which load and
//! unload on many threads, did.

#![allow(clippy::print_stdout, reason = "this is how a build script talks to cargo")]

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    if std::env::var("CARGO_CFG_TARGET_OS").is_ok_and(|os| os == "linux") {
        println!("cargo::rustc-link-arg-cdylib=-Wl,-z,nodelete");
    }
}
