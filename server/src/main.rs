#![forbid(unsafe_code)]

fn main() -> std::process::ExitCode {
    turnbuckle::cli::run()
}
