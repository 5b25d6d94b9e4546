//! The thin binary: everything lives in the library.

fn main() -> std::process::ExitCode {
    stillohm::cli::main(std::env::args_os())
}
