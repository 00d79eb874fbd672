//! Commands as a script meets them: exit codes, one clear sentence on stderr, nothing half-done.

use std::io::{BufRead, BufReader};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn turnbuckle(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_turnbuckle")).args(args).output().unwrap()
}

fn fails(args: &[&str], code: i32, says: &str) {
    let out = turnbuckle(args);
    let said = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(code), "{args:?}: {said}");
    let last = said.lines().last().unwrap_or_default();
    assert!(said.contains(says), "{args:?} said: {last}");
}

fn path(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

#[test]
fn wrong_usage_is_2_and_failure_is_1() {
    fails(&["dance"], 2, "unrecognized subcommand");
    fails(&["plan"], 2, "--instance");
    fails(&["plan", "--instance", "/nowhere.json"], 1, "/nowhere.json cannot be read");
    fails(&["verify", "--data", "/nowhere"], 1, "holds no shop");
    fails(&["forecast", "--data", "/nowhere"], 1, "holds no shop");
    fails(&["import", "export.ndjson"], 1, "comes in a later version");
    assert!(turnbuckle(&["--help"]).status.success());
    assert_eq!(
        String::from_utf8(turnbuckle(&["openapi"]).stdout).unwrap(),
        turnbuckle::http::dto::document().unwrap()
    );
}

#[test]
fn an_instance_that_cannot_be_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("circle.json");
    let circle = r#"{"name":"circle","resources":[],"jobs":[],"objective":"makespan","tasks":[
        {"id":"a","duration":1,"demands":{},"successors":[{"id":"b"}]},
        {"id":"b","duration":1,"demands":{},"successors":[{"id":"a"}]}]}"#;
    std::fs::write(&file, circle).unwrap();
    fails(&["plan", "--instance", &path(&file)], 1, "wait for each other in a circle: a, b");
    std::fs::write(&file, "{").unwrap();
    fails(&["plan", "--instance", &path(&file)], 1, "not a planning instance");
}

#[test]
fn what_stops_a_start_is_said_in_a_sentence() {
    let dir = tempfile::tempdir().unwrap();
    let data = path(&dir.path().join("data"));
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    fails(&["serve", "--data", &data, "--listen", &address], 1, "cannot be listened on");
    let file = dir.path().join("a-file");
    std::fs::write(&file, "x").unwrap();
    fails(&["serve", "--data", &path(&file.join("data"))], 1, "cannot be written");
    let config = dir.path().join("config.toml");
    std::fs::write(&config, "listen_on = \"x\"\n").unwrap();
    fails(&["serve", "--config", &path(&config)], 1, "unknown field `listen_on`");

    let mut server = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data", &data])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let first = BufReader::new(server.stdout.take().unwrap()).lines().next().unwrap().unwrap();
    let address = first.split_whitespace().find(|word| word.starts_with("http")).unwrap();
    // Nobody reads what else it says; it goes on all the same.
    let health = ureq::get(format!("{address}/healthz")).call().unwrap();
    assert_eq!(health.status(), 200, "{first}");
    fails(&["doctor", "--data", &data], 1, "is in use by process");
    fails(&["report", "--data", &data], 1, "ask the server that runs there with --server");
    server.kill().unwrap();
    server.wait().unwrap();

    // A shop without work has nothing to forecast, and says what it has learnt from: nothing yet.
    let forecast = turnbuckle(&["forecast", "--data", &data, "--json"]);
    let forecast: serde_json::Value = serde_json::from_slice(&forecast.stdout).unwrap();
    assert_eq!((&forecast["learnt"]["cards"], &forecast["vehicles"]), (&0.into(), &serde_json::json!([])));

    // A full disk behind `>` is a failure.
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let mut forecast = Command::new(env!("CARGO_BIN_EXE_turnbuckle"));
    let forecast = forecast.args(["forecast", "--data", &data, "--json"]).stdout(full).output().unwrap();
    assert_eq!(forecast.status.code(), Some(1));
    let said = String::from_utf8(forecast.stderr).unwrap();
    assert!(said.starts_with("turnbuckle: the output: "), "{said}");

    // What the other one left is whole, and comes back from a backup under a new epoch.
    assert!(turnbuckle(&["doctor", "--data", &data]).status.success());
    let backup = path(&dir.path().join("shop.backup"));
    assert!(turnbuckle(&["backup", "--data", &data, &backup]).status.success());
    fails(&["backup", "--data", &data, &backup], 1, "cannot be written");
    let restored = path(&dir.path().join("restored"));
    assert!(turnbuckle(&["restore", "--data", &restored, &backup]).status.success());
    let log = |data: &str| {
        let out = turnbuckle(&["export", "--format", "ndjson", "--data", data]);
        String::from_utf8(out.stdout).unwrap().lines().skip(1).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(log(&data), log(&restored), "the restored log is the same, byte for byte");
    assert!(!log(&data).join("").contains("Administrator"), "names stand beside the log, not in it");
    let tables = path(&dir.path().join("tables"));
    fails(
        &["export", "--format", "ndjson", "--out", &tables, "--data", &data],
        2,
        "use it with --format csv",
    );
    assert!(turnbuckle(&["export", "--format", "csv", "--out", &tables, "--data", &data]).status.success());
    fails(&["export", "--format", "csv", "--out", &tables, "--data", &data], 1, "is not empty");
    every_column_is_explained(Path::new(&tables));
    fails(&["report", "--data", &data, "--class", "huge"], 2, "There is no class «huge»");
    fails(&["report", "--data", &data, "--from", "2026-03-02", "--to", "2026-03-01"], 2, "--to must not lie");
    fails(&["report", "--data", &data, "--department", "moon"], 2, "There is no department «moon»");
    fails(&["report", "--server", "somewhere", "--token", "t"], 2, "is no address of a server");
    fails(&["report", "--server", "http://localhost:1"], 2, "--token-file");
    fails(
        &["report", "--server", "http://localhost:1", "--token-file", "/nowhere"],
        2,
        "cannot read /nowhere",
    );
    let file = format!("{data}-token");
    std::fs::write(&file, "t\n").unwrap();
    fails(&["report", "--server", "http://127.0.0.1:1", "--token-file", &file], 1, "127.0.0.1:1");
    let help = turnbuckle(&["report", "--help"]);
    let help = String::from_utf8_lossy(&help.stdout).into_owned();
    assert!(help.contains("--token-file <FILE>") && !help.contains("--token <TOKEN>"), "{help}");
    let report = turnbuckle(&["report", "--data", &restored, "--json"]);
    let report: serde_json::Value = serde_json::from_slice(&report.stdout).unwrap();
    let stretch = report["to"].as_i64().unwrap() - report["from"].as_i64().unwrap();
    // To the nearest day: one of them may have an hour more or less.
    let day = 24 * 3_600_000;
    assert_eq!((stretch + day / 2) / day, 30, "the last thirty days, today among them");
    assert!(
        report["measures"]
            .as_array()
            .unwrap()
            .iter()
            .all(|m| m["clock"].is_string() && m["unit"].is_string())
    );
}

/// The first line of every table, against the table of columns; and nobody's name in any of them.
fn every_column_is_explained(tables: &Path) {
    let explained = std::fs::read_to_string(tables.join("columns.csv")).unwrap();
    let explained: Vec<(String, String)> = csv::Reader::from_reader(explained.as_bytes())
        .records()
        .map(Result::unwrap)
        .map(|row| (row[0].to_owned(), row[1].to_owned()))
        .collect();
    let mut found = Vec::new();
    for file in std::fs::read_dir(tables).unwrap().map(|file| file.unwrap().path()) {
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(!text.contains("Administrator"), "{name}");
        let first = text.lines().next().unwrap_or_default().to_owned();
        found.extend(first.split(',').map(|column| (name.clone(), column.to_owned())));
    }
    let sorted = |mut list: Vec<(String, String)>| {
        list.sort();
        list
    };
    assert_eq!(sorted(found), sorted(explained));
}

#[test]
fn new_keys_are_made_one_by_one_and_what_follows_is_said() {
    let dir = tempfile::tempdir().unwrap();
    let data = path(&dir.path().join("data"));
    fails(&["rekey", "tokens", "--data", &data], 1, "holds no shop");
    fails(&["rekey", "--data", &data], 2, "required");
    assert!(turnbuckle(&["invite", "--data", &data, "--role", "admin", "--name", "Ana"]).status.success());
    let keys = || {
        let shop = turnbuckle::serve::open(Path::new(&data), turnbuckle::clock::Clock::System).unwrap();
        let access = shop.control.read();
        (access.key.clone(), access.identity.as_ref().unwrap().id.clone(), access.authority.clone())
    };
    let before = keys();
    std::fs::create_dir_all(dir.path().join("data/tls")).unwrap();
    std::fs::write(dir.path().join("data/tls/authority.pem"), "x").unwrap();
    let said = |args: &[&str]| {
        let out = turnbuckle(&[&["rekey", "--data", &data], args].concat());
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    };
    assert!(said(&["tokens"]).contains("change over by themselves"));
    assert!(said(&["tokens", "--keep-days", "0"]).contains("everybody signs in anew"));
    assert!(said(&["shop", "authority"]).contains("new connection code"));
    let after = keys();
    assert!(before.0 != after.0 && before.1 != after.1 && after.2.is_none());
    assert!(!dir.path().join("data/tls/authority.pem").exists());
}
