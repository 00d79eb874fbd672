//! Commands. Their names are fixed: scripts rely on them.
//!
//! Exit codes: 0 done, 1 failed, 2 wrong usage. Errors are one sentence on stderr.

/// A line to whoever reads the output.
macro_rules! say {
    ($($said:tt)*) => { $crate::cli::to_reader(format_args!("{}\n", format_args!($($said)*))) };
}

/// The same, without the end of the line.
macro_rules! say_on {
    ($($said:tt)*) => { $crate::cli::to_reader(format_args!($($said)*)) };
}

mod data;
pub(crate) mod demo;
mod erasures;
mod forecast;
mod plan;
mod remote;
mod report;
mod serve;
mod tables;

use std::fmt;
use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::config::{self, LogForm};
use crate::serve::{ServeError, default_data};
use tls::network::Network;

/// Made by deploy/notices.mjs, and held to the build by a test.
const THIRD_PARTY: &str = include_str!("../../../deploy/licenses/THIRD-PARTY.txt");

#[derive(Parser)]
#[command(
    name = "turnbuckle",
    version,
    about = "Hand-offs between the departments of a collision repair shop"
)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Args, Clone)]
pub struct DataDir {
    /// The directory that holds the shop's data.
    #[arg(long, env = "TURNBUCKLE_DATA", value_name = "DIR")]
    data: Option<PathBuf>,
}

impl DataDir {
    fn or_default(self) -> PathBuf {
        self.data.unwrap_or_else(default_data)
    }
}

#[derive(Args, Clone, Default)]
pub struct ServeArgs {
    /// The directory that holds the shop's data (made if it is not there).
    #[arg(long, env = "TURNBUCKLE_DATA", value_name = "DIR")]
    data: Option<PathBuf>,
    /// Where to listen.
    #[arg(long, env = "TURNBUCKLE_LISTEN", value_name = "ADDR:PORT")]
    listen: Option<String>,
    /// How people reach this server, for links.
    #[arg(long, env = "TURNBUCKLE_ADDRESS", value_name = "URL")]
    address: Option<String>,
    #[command(flatten)]
    door: DoorArgs,
    /// Proxies in front of this server, by address or network: of them alone it believes from where a request comes
    /// (X-Forwarded-For, X-Forwarded-Proto). Needs the address too.
    #[arg(long, env = "TURNBUCKLE_TRUSTED_PROXIES", value_name = "ADDR", value_delimiter = ',')]
    trusted_proxies: Vec<Network>,
    /// A configuration file (TOML).
    #[arg(long, env = "TURNBUCKLE_CONFIG", value_name = "FILE")]
    config: Option<PathBuf>,
    /// Form of the log.
    #[arg(long, env = "TURNBUCKLE_LOG", value_enum)]
    log: Option<LogForm>,
    /// Show numbers about the server to a monitor there, as OpenMetrics at /metrics; off without it.
    #[arg(long, env = "TURNBUCKLE_METRICS", value_name = "ADDR:PORT")]
    metrics: Option<String>,
    /// Start a new epoch: the answer to a log that is shorter than what phones have seen.
    #[arg(long)]
    new_epoch: bool,
}

#[derive(Args, Clone, Default)]
pub struct DoorArgs {
    /// HTTPS even where only this machine can reach it (elsewhere it is on by itself).
    #[arg(long, env = "TURNBUCKLE_HTTPS", conflicts_with = "plain")]
    https: bool,
    /// Plain HTTP everywhere: for a proxy in front that does TLS.
    #[arg(long, env = "TURNBUCKLE_PLAIN")]
    plain: bool,
    /// Where the page that leads new devices is served, over plain HTTP (default: the next port).
    #[arg(long, env = "TURNBUCKLE_ONBOARD", value_name = "ADDR:PORT")]
    onboard: Option<String>,
}

#[derive(Args)]
pub struct DemoArgs {
    #[arg(long, value_name = "ADDR:PORT", default_value = "127.0.0.1:8080")]
    listen: String,
    #[command(flatten)]
    door: DoorArgs,
    /// Kept there; without it in a new temporary directory.
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Days of history.
    #[arg(long, default_value_t = 90, value_parser = clap::value_parser!(u32).range(14..=7000))]
    days: u32,
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// The demo's today; without it today, or the Friday before a weekend.
    #[arg(long, value_name = "DATE")]
    date: Option<jiff::civil::Date>,
    /// What time it is there when it opens: the middle of a working morning, whenever you look.
    #[arg(long, value_name = "HH:MM", default_value = "10:40")]
    at: jiff::civil::Time,
}

#[derive(Args)]
pub struct PlanArgs {
    /// The instance to solve.
    #[arg(long, value_name = "FILE")]
    instance: PathBuf,
    /// Work to do, in decoded lists: repeatable.
    #[arg(long, conflicts_with = "budget_ms")]
    decodes: Option<u64>,
    /// Work to do, in milliseconds.
    #[arg(long)]
    budget_ms: Option<u64>,
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the schedule there instead of to the screen.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Add how the objective fell.
    #[arg(long)]
    trace: bool,
}

/// A server that runs, asked through its API.
#[derive(Args, Clone, Default)]
pub struct ServerArgs {
    /// Ask the server that runs there instead of reading a directory.
    #[arg(long, value_name = "URL")]
    server: Option<String>,
    /// A file with an access token (the cookie `turnbuckle_access_…` of a sign-in, by HTTPS
    /// `__Host-turnbuckle_access_…`); without it, the environment's TURNBUCKLE_TOKEN.
    #[arg(long, value_name = "FILE", conflicts_with = "token")]
    token_file: Option<PathBuf>,
    /// The token itself; everybody on this machine may see what a command was started with.
    #[arg(long, env = "TURNBUCKLE_TOKEN", value_name = "TOKEN", hide_env_values = true, hide = true)]
    token: Option<String>,
    /// The shop's certificate authority, for HTTPS.
    #[arg(long, value_name = "FILE")]
    authority: Option<PathBuf>,
}

#[derive(Args)]
pub struct ReportArgs {
    #[command(flatten)]
    data: DataDir,
    #[command(flatten)]
    server: ServerArgs,
    /// First day (default: so that it is 30 days with the last).
    #[arg(long, value_name = "DATE")]
    from: Option<jiff::civil::Date>,
    /// Last day, included (default: today).
    #[arg(long, value_name = "DATE")]
    to: Option<jiff::civil::Date>,
    /// Only this department (short word).
    #[arg(long)]
    department: Option<String>,
    /// Only this class of vehicles: rolling, towed_in, small, medium, large.
    #[arg(long)]
    class: Option<String>,
    #[arg(long)]
    json: bool,
}

#[derive(Args)]
pub struct ForecastArgs {
    #[command(flatten)]
    data: DataDir,
    #[command(flatten)]
    server: ServerArgs,
    /// Whether forecasts of the last 180 days came true, instead; takes seconds.
    #[arg(long)]
    accuracy: bool,
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Format {
    Ndjson,
    Csv,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum RoleArg {
    Technician,
    Parts,
    Planner,
    Manager,
    Admin,
}

#[derive(Subcommand)]
enum Command {
    /// Start the server; also what happens without a command.
    Serve(ServeArgs),
    /// Start an invented shop with history and today's work; sends nothing outside.
    Demo(DemoArgs),
    /// Solve a planning instance and print the schedule.
    Plan(PlanArgs),
    /// Print every measure with unit, clock and count.
    Report(ReportArgs),
    /// When each vehicle will be finished, and how sure that is.
    Forecast(ForecastArgs),
    /// Write everything that is kept into one file.
    Backup {
        #[command(flatten)]
        data: DataDir,
        file: PathBuf,
        /// Only a passphrase opens it again: TURNBUCKLE_PASSPHRASE, or the file named by --passphrase-file.
        #[arg(long)]
        seal: bool,
        #[arg(long, value_name = "FILE")]
        passphrase_file: Option<PathBuf>,
    },
    /// Make a new data directory from a backup; phones learn of it and send again what is not in it.
    Restore {
        #[command(flatten)]
        data: DataDir,
        file: PathBuf,
        /// Of a sealed backup, if it is not in TURNBUCKLE_PASSPHRASE.
        #[arg(long, value_name = "FILE")]
        passphrase_file: Option<PathBuf>,
        /// Who was erased since: a data directory that this one replaces, or a list from there. The list beside the
        /// backup is read by itself.
        #[arg(long, value_name = "PATH")]
        erasures: Vec<PathBuf>,
    },
    /// Read both journals and find any edit or gap.
    Verify {
        #[command(flatten)]
        data: DataDir,
    },
    /// Write the shop log (ndjson) or the clocked work (csv) to the screen, or with --out every table
    /// that measures are computed from.
    Export {
        #[command(flatten)]
        data: DataDir,
        #[arg(long, value_enum)]
        format: Format,
        /// A new folder for the tables (csv).
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
    },
    /// Make a data directory from an export (comes later; `restore` reads backups).
    Import {
        #[command(flatten)]
        data: DataDir,
        file: PathBuf,
    },
    /// Look at a data directory and say what is wrong with it.
    Doctor {
        #[command(flatten)]
        data: DataDir,
    },
    /// New keys, where somebody may have seen the old ones. The server must not run.
    Rekey {
        #[command(flatten)]
        data: DataDir,
        /// Which.
        #[arg(value_enum, required = true)]
        keys: Vec<KeyArg>,
        /// For how many days sign-ins that the old key signed still count. 0 where it was stolen: everybody signs in anew.
        #[arg(long, default_value_t = 14, value_parser = clap::value_parser!(u32).range(0..=90))]
        keep_days: u32,
    },
    /// Sign somebody up and print a one-time link.
    Invite {
        #[command(flatten)]
        data: DataDir,
        #[arg(long, value_enum)]
        role: RoleArg,
        #[arg(long)]
        name: String,
        /// Department, as a short word (default: the first one).
        #[arg(long)]
        department: Option<String>,
        /// How people reach this server.
        #[arg(long, env = "TURNBUCKLE_ADDRESS", default_value = "http://localhost:8080")]
        address: String,
    },
    /// Prints what other people wrote and this program carries, with their notices and licences.
    Notices,
    /// Print the API document.
    Openapi,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum KeyArg {
    /// What signs sign-ins and marks browsers.
    Tokens,
    /// What signs passes to sister shops.
    Shop,
    /// What the shop's devices trust, where the server is its own authority.
    Authority,
}

/// A failure as one sentence.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    #[error(transparent)]
    Serve(#[from] ServeError),
    #[error(transparent)]
    Store(#[from] store::Error),
    #[error(transparent)]
    Config(#[from] config::ConfigError),
    #[error(transparent)]
    Plan(#[from] ::plan::PlanError),
    #[error("{what}: {source}")]
    Io { what: String, source: std::io::Error },
    #[error("{0}")]
    Said(String),
    /// What was typed cannot be meant: trying again changes nothing.
    #[error("{0}")]
    Usage(String),
}

impl Failure {
    fn io(what: impl Into<String>) -> impl FnOnce(std::io::Error) -> Self {
        let what = what.into();
        move |source| Failure::Io { what, source }
    }
}

/// Who has stopped reading (`| head`) has seen enough; a file that cannot be written to is a failure.
fn to_reader(said: fmt::Arguments<'_>) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_fmt(said).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::Io { what: "the output".into(), source: error })
        }
        _ => Ok(()),
    }
}

pub fn run() -> ExitCode {
    // Keys, hashes and everybody's data: what any command writes is its owner's, whatever the shell says.
    rustix::process::umask(rustix::fs::Mode::RWXG | rustix::fs::Mode::RWXO);
    let cli = Cli::parse();
    match dispatch(cli.command.unwrap_or_else(|| Command::Serve(ServeArgs::default()))) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("turnbuckle: {failure}");
            // As the reader of the command line itself does.
            if matches!(failure, Failure::Usage(_)) { ExitCode::from(2) } else { ExitCode::FAILURE }
        }
    }
}

fn dispatch(command: Command) -> Result<(), Failure> {
    match command {
        Command::Serve(args) => serve::run(args),
        Command::Demo(args) => demo::run(args),
        Command::Plan(args) => plan::run(&args),
        Command::Report(args) => report::run(args),
        Command::Backup { data, file, seal, passphrase_file } => {
            data::backup(&data.or_default(), &file, seal, passphrase_file.as_deref())
        }
        Command::Restore { data, file, passphrase_file, erasures } => {
            data::restore(&data.or_default(), &file, passphrase_file.as_deref(), &erasures)
        }
        Command::Rekey { data, keys, keep_days } => data::rekey(&data.or_default(), &keys, keep_days),
        Command::Verify { data } => data::verify(&data.or_default()),
        Command::Export { data, format, out } => data::export(&data.or_default(), format, out.as_deref()),
        Command::Doctor { data } => data::doctor(&data.or_default()),
        Command::Invite { data, role, name, department, address } => {
            data::invite(&data.or_default(), role, &name, department, &address)
        }
        Command::Notices => say!("{THIRD_PARTY}"),
        Command::Openapi => {
            let document = crate::http::dto::document();
            let document = document.map_err(|error| Failure::io("the API document")(error.into()))?;
            say_on!("{document}")?;
            Ok(())
        }
        Command::Forecast(args) => forecast::run(args),
        Command::Import { .. } => Err(Failure::Said(
            "import of an export comes in a later version; open repair orders are imported in the app, backups by `restore`".into(),
        )),
    }
}
