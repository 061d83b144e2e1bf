//! Figwort without a DAW. Needs the feature `standalone`.

fn main() -> std::process::ExitCode {
    figwort::standalone::run(std::env::args())
}
