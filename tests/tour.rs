//! The API by hand (`deploy/api.md`), run as it stands there, against `serve` on an empty data directory.

use std::fs::read_to_string;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

#[test]
fn the_api_by_hand_works() {
    let page = include_str!("../deploy/api.md");
    let tour = page
        .split("```sh tour\n")
        .nth(1)
        .and_then(|rest| rest.split("```").next())
        .expect("a tour in deploy/api.md");
    let dir = tempfile::tempdir().unwrap();
    let mut server = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(dir.path().join("data"))
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(server.stdout.take().unwrap()).lines().map(Result::unwrap);
    let link = lines
        .find_map(|line| Some(read_to_string(line.split_once(", good once, is in ")?.1).unwrap()))
        .expect("the first link");
    let (base, token) = link.trim().split_once("/#join=").unwrap();
    let out = Command::new("bash")
        .arg("-euo")
        .arg("pipefail")
        .arg("-c")
        .arg(tour)
        .env("S", base)
        .env("TOKEN", token)
        .current_dir(dir.path())
        .output()
        .unwrap();
    server.kill().unwrap();
    server.wait().unwrap();
    let (said, errors) = (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    assert!(out.status.success(), "{said}\n{errors}");
    for expected in [
        "mechanic was told: asked",
        "drop is number 1 in mechanical",
        "body was told: taken",
        "open: suspension-down-rear",
        "painter was told: next",
        "asked_to_taken",
        "clock: calendar",
    ] {
        assert!(said.contains(expected), "«{expected}» is missing in:\n{said}\n{errors}");
    }
}
