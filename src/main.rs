//! The program. Everything is in the library.

fn main() -> std::process::ExitCode {
    leanbest::cli::run()
}
