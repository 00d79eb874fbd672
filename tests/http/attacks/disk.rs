//! Somebody else with an account on the box, or with a copy of a backup: the shop's keys and its people's hashes are
//! the owner's only (ASVS 5.0, 13.3.2 and 14.2.4).

use std::fs::{self, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::process::{Server, binary};

/// The binary under a shell that lets everybody read and write what is made.
fn openly(args: &[&str]) -> Command {
    let mut command = Command::new("sh");
    command.args(["-c", "umask 000; exec \"$0\" \"$@\""]).arg(binary().get_program()).args(args);
    command.env_remove("TURNBUCKLE_PASSPHRASE").stderr(Stdio::piped());
    command
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn open_to_others(path: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut look = vec![path.to_owned()];
    while let Some(path) = look.pop() {
        let about = fs::symlink_metadata(&path).unwrap();
        if about.permissions().mode() & 0o077 != 0 {
            found.push(path.clone());
        }
        if about.is_dir() {
            look.extend(fs::read_dir(&path).unwrap().map(|entry| entry.unwrap().path()));
        }
    }
    found
}

fn one_start(data: &Path) -> String {
    let mut command = openly(&["serve", "--listen", "127.0.0.1:0", "--data", text(data)]);
    let errors = data.parent().unwrap().join("errors");
    command.stderr(fs::File::create(&errors).unwrap());
    Server::start(&mut command, false).0.kill();
    fs::read_to_string(errors).unwrap()
}

#[test]
fn nobody_else_reads_what_the_server_keeps() {
    let dir = tempfile::tempdir().unwrap();
    let data = dir.path().join("data");
    one_start(&data);
    assert_eq!(open_to_others(&data), Vec::<PathBuf>::new());
    // A directory of before, or one that was copied about: closed at the next start, and said.
    for path in [data.clone(), data.join("control"), data.join("log")] {
        fs::set_permissions(&path, Permissions::from_mode(0o755)).unwrap();
    }
    for entry in fs::read_dir(data.join("control")).unwrap() {
        fs::set_permissions(entry.unwrap().path(), Permissions::from_mode(0o644)).unwrap();
    }
    let said = one_start(&data);
    assert_eq!(open_to_others(&data), Vec::<PathBuf>::new());
    assert!(said.contains("others on this machine could read"), "{said}");
    assert!(!one_start(&data).contains("others on this machine"), "once");
    // Backups and tables.
    let (backup, tables) = (dir.path().join("backup.tar"), dir.path().join("tables"));
    let run = |args: &[&str]| {
        let out = openly(args).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    };
    run(&["backup", "--data", text(&data), text(&backup)]);
    run(&["export", "--data", text(&data), "--format", "csv", "--out", text(&tables)]);
    assert_eq!((open_to_others(&backup), open_to_others(&tables)), (vec![], vec![]));
}

#[test]
fn a_sealed_backup_opens_with_its_passphrase_and_shows_nothing_without() {
    let dir = tempfile::tempdir().unwrap();
    let at = |name: &str| dir.path().join(name);
    let data = at("data");
    one_start(&data);
    fs::write(at("words"), "four words on paper\n").unwrap();
    fs::write(at("wrong"), "three words on paper\n").unwrap();
    fs::write(at("short"), "short\n").unwrap();
    let run = |args: &[&str]| openly(args).output().unwrap();
    let (words, sealed) = (at("words"), at("sealed"));
    let short =
        run(&["backup", "--data", text(&data), "--passphrase-file", text(&at("short")), text(&sealed)]);
    assert_eq!(short.status.code(), Some(2), "{}", String::from_utf8_lossy(&short.stderr));
    assert_eq!(run(&["backup", "--data", text(&data), "--seal", text(&sealed)]).status.code(), Some(2));
    let made = run(&["backup", "--data", text(&data), "--passphrase-file", text(&words), text(&sealed)]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let bytes = fs::read(&sealed).unwrap();
    for shown in ["manifest.json", "identity", "control/all.json"] {
        assert!(!bytes.windows(shown.len()).any(|part| part == shown.as_bytes()), "{shown}");
    }
    assert_eq!(open_to_others(&sealed), Vec::<PathBuf>::new());
    let back = |to: &str, with: Option<&Path>| {
        let to = at(to);
        let mut args = vec!["restore", "--data", text(&to), text(&sealed)];
        if let Some(with) = with {
            args.extend(["--passphrase-file", text(with)]);
        }
        let out = run(&args);
        (out.status.success(), String::from_utf8_lossy(&out.stderr).into_owned())
    };
    let (went, said) = back("none", None);
    assert!(!went && said.contains("is sealed"), "{said}");
    let (went, said) = back("bad", Some(&at("wrong")));
    assert!(!went && said.contains("the passphrase is not the one"), "{said}");
    let (went, said) = back("good", Some(&words));
    assert!(went, "{said}");
    assert!(run(&["verify", "--data", text(&at("good"))]).status.success());
}
