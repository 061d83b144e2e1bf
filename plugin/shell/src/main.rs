//! Figwort without a DAW. Needs the feature `standalone`.

fn main() {
    if !figwort::run_standalone() {
        std::process::exit(1);
    }
}
