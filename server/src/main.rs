fn main() -> std::process::ExitCode {
    turnbuckle::cli::run()
}
