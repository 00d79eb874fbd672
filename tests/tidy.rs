//! House rules, as a test: what a reviewer would otherwise have to say again and again.

use std::fs;
use std::path::{Path, PathBuf};

fn files(dir: &str, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join(dir)];
    while let Some(dir) = open.pop() {
        for entry in fs::read_dir(&dir).unwrap().map(Result::unwrap) {
            let path = entry.path();
            let name = entry.file_name().to_string_lossy().into_owned();
            if path.is_dir() && !["node_modules", "dist", "target", "out"].contains(&name.as_str()) {
                open.push(path);
            } else if name.ends_with(ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// What runs, without its tests and examples.
fn sources() -> impl Iterator<Item = PathBuf> {
    let of_src = |path: &PathBuf| path.components().any(|part| part.as_os_str() == "src");
    files("server", ".rs").into_iter().filter(of_src)
}

/// A stranger who opens the folder sees the architecture, and nothing else.
#[test]
fn the_folder_has_eight_things_in_it() {
    let of_git = |name: &String| !name.starts_with('.') && name != "target";
    let entries = fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap().map(Result::unwrap);
    let mut names: Vec<String> =
        entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).filter(of_git).collect();
    names.sort();
    let wanted =
        ["Cargo.lock", "Cargo.toml", "DEVELOPERS.md", "README.md", "deploy", "server", "tests", "web"];
    assert_eq!(names, wanted);
}

#[test]
fn every_module_says_what_it_is_for() {
    let silent: Vec<_> = sources()
        .filter(|path| !path.ends_with("main.rs") && !path.ends_with("tests.rs"))
        .filter(|path| !fs::read_to_string(path).unwrap().starts_with("//!"))
        .collect();
    assert!(silent.is_empty(), "these begin without //! invariants: {silent:?}");
}

#[test]
fn the_pure_crates_depend_on_nothing_impure() {
    let allowed = [
        (
            "domain",
            // flate2: from bytes to bytes, in Rust.
            &["serde", "serde_json", "uuid", "thiserror", "jiff", "imbl", "libm", "flate2", "utoipa"][..],
        ),
        ("plan", &["serde", "serde_json", "sha2", "libm"][..]),
    ];
    for (name, allowed) in allowed {
        let manifest =
            fs::read_to_string(format!("{}/server/{name}/Cargo.toml", env!("CARGO_MANIFEST_DIR"))).unwrap();
        let manifest: toml::Table = manifest.parse().unwrap();
        let strangers: Vec<_> = manifest["dependencies"]
            .as_table()
            .unwrap()
            .keys()
            .filter(|d| !allowed.contains(&d.as_str()))
            .collect();
        assert!(strangers.is_empty(), "{name} depends on {strangers:?}");
    }
}

#[test]
fn free_text_is_taken_out_of_the_log() {
    // A String in a stored type is a name, a code or a digest, or it is typed by people and named in FREE_TEXT.
    let names = ["number", "vin", "sha256", "mime", "time_zone", "language", "step", "digest", "code", "why"];
    let mut unknown = Vec::new();
    for path in files("server/domain/src/stored", ".rs") {
        for line in fs::read_to_string(&path).unwrap().lines() {
            let Some((field, kind)) = line.trim().trim_start_matches("pub ").split_once(": ") else {
                continue;
            };
            let text = ["String,", "Option<String>,"].contains(&kind.trim());
            if text && !names.contains(&field) && !domain::text::FREE_TEXT.contains(&field) {
                unknown.push(format!("{}: {field}", path.display()));
            }
        }
    }
    assert!(unknown.is_empty(), "free text or not? {unknown:?}");
}

#[test]
fn nothing_is_left_open() {
    let marks = [
        concat!("todo", "!("),
        concat!("unimplemented", "!("),
        concat!("dbg", "!("),
        concat!("FIX", "ME"),
        concat!("#[", "ignore]"),
    ];
    let code = files("server", ".rs").into_iter().chain(files("tests", ".rs"));
    let open: Vec<_> = code
        .filter(|path| marks.iter().any(|mark| fs::read_to_string(path).unwrap().contains(mark)))
        .collect();
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn every_endpoint_is_documented() {
    let document = turnbuckle::http::dto::document().unwrap();
    for path in files("server/src/http", ".rs") {
        let code = fs::read_to_string(&path).unwrap();
        for part in code.split("path = \"").skip(1) {
            let address = part.split('"').next().unwrap();
            assert!(
                document.contains(&format!("\"{address}\"")),
                "{address} of {} is not in the document",
                path.display()
            );
        }
    }
}

/// An empty text in the place of what could not be written would be kept, hashed, signed or sent as if it
/// were that.
#[test]
fn what_cannot_be_written_as_json_is_an_error() {
    let writers = ["to_vec(", "to_string(", "to_value(", "to_raw_value(", "to_pretty_json(", "encode("];
    let mut silent = Vec::new();
    for path in sources() {
        let code: String = fs::read_to_string(&path).unwrap().split_whitespace().collect();
        for writer in writers {
            for (at, _) in code.match_indices(writer) {
                let inside = &code[at + writer.len()..];
                let mut open = 1;
                let end = inside.find(|c| {
                    open += i32::from(c == '(') - i32::from(c == ')');
                    open == 0
                });
                let after = &inside[end.map_or(inside.len(), |end| end + 1)..];
                if [".unwrap_or", ".ok().unwrap_or"].iter().any(|silencer| after.starts_with(silencer)) {
                    silent.push(format!("{}: {writer}", path.display()));
                }
            }
        }
        if code.contains("RawValue::NULL") {
            silent.push(format!("{}: RawValue::NULL", path.display()));
        }
    }
    assert!(silent.is_empty(), "{silent:#?}");
}

/// The API document knows types by their name alone: of two with one name, one would stand for both.
#[test]
fn no_two_types_of_the_api_have_one_name() {
    let mut seen = std::collections::BTreeMap::new();
    let mut twice = Vec::new();
    for path in sources() {
        let code = fs::read_to_string(&path).unwrap();
        for part in code.split("ToSchema").skip(1) {
            // Of the derive: the rest of its line is closed, then come attributes and the item itself.
            let Some(rest) = part.split_once(")]\n").map(|(_, rest)| rest) else { continue };
            let item = rest
                .lines()
                .map(|line| line.trim().trim_start_matches("pub "))
                .find(|line| !line.starts_with("#[") && !line.starts_with("//") && !line.is_empty());
            let mut words = item.unwrap_or_default().split(|c: char| !c.is_alphanumeric() && c != '_');
            if !matches!(words.next(), Some("struct" | "enum")) {
                continue;
            }
            let name = words.next().unwrap_or_default().to_owned();
            // Ids are made by a macro, which is given their names.
            if name.is_empty() {
                continue;
            }
            if let Some(other) = seen.insert(name.clone(), path.clone()) {
                twice.push(format!("{name}: {} and {}", other.display(), path.display()));
            }
        }
    }
    assert!(seen.len() > 100, "only {} types were found", seen.len());
    assert!(twice.is_empty(), "{twice:#?}");
}

#[test]
fn the_lock_file_of_the_app_names_no_host() {
    for path in files("web", "package-lock.json").into_iter().chain(files("tests", "package-lock.json")) {
        assert!(!fs::read_to_string(&path).unwrap().contains("\"resolved\""), "{}", path.display());
    }
}

/// Scenarios set the time; a released server reads the machine's clock and nothing else.
#[test]
fn no_released_server_has_a_clock_that_can_be_set() {
    for path in files("server", ".rs") {
        let text = fs::read_to_string(&path).unwrap();
        // What stands behind this line is built for tests only.
        let released = text.split("#[cfg(test)]").next().unwrap_or_default();
        let test = path.to_string_lossy().contains("tests") || path.ends_with("sync/src/clock.rs");
        assert!(test || !released.contains("Clock::at("), "{} sets the time", path.display());
    }
}

/// Their texts go with the binary, and the bill of materials names the same (CycloneDX 1.5, JSON).
#[test]
fn what_others_wrote_is_named_with_its_licence() {
    let node = |args: &[&str]| {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("deploy/notices.mjs");
        let done = std::process::Command::new("node").arg(script).args(args).output().expect("Node.js");
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    };
    node(&["--check"]);
    let bill: serde_json::Value = serde_json::from_str(&node(&["--sbom", "-"])).unwrap();
    assert_eq!((&bill["bomFormat"], &bill["specVersion"]), (&"CycloneDX".into(), &"1.5".into()));
    let parts = bill["components"].as_array().unwrap();
    assert!(parts.iter().all(|part| {
        let licensed = part["licenses"][0]["expression"].as_str().is_some_and(|said| !said.is_empty());
        licensed
            && part["hashes"][0]["content"].is_string()
            && part["purl"].as_str().unwrap().starts_with("pkg:")
    }));
    let text =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("deploy/licenses/THIRD-PARTY.txt"))
            .unwrap();
    for part in parts {
        let named = format!("{} {}", part["name"].as_str().unwrap(), part["version"].as_str().unwrap());
        assert!(text.matches(&named).count() >= 2, "{named} is listed and stands above a text");
    }
    let names: Vec<_> = parts.iter().filter_map(|part| part["name"].as_str()).collect();
    for carried in ["imbl", "actix-web", "preact", "webpki-roots"] {
        assert!(names.contains(&carried), "{carried}");
    }
}

/// HTTP/2 would let one connection hold any number of half-sent requests, and its crate has known faults.
#[test]
fn nothing_speaks_http_2_and_nothing_is_unsafe() {
    let lock = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.lock")).unwrap();
    assert!(!lock.contains("name = \"h2\""));
    let manifest = |file: &str| {
        let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap();
        text.parse::<toml::Table>().unwrap()
    };
    let root = manifest("Cargo.toml");
    let workspace = root["workspace"].as_table().unwrap();
    assert_eq!(workspace["lints"]["rust"]["unsafe_code"].as_str(), Some("forbid"));
    let members = workspace["members"].as_array().unwrap().iter().map(|member| member.as_str().unwrap());
    for member in members.map(|member| format!("{member}/Cargo.toml")).chain(["Cargo.toml".into()]) {
        assert_eq!(manifest(&member)["lints"]["workspace"].as_bool(), Some(true), "{member}");
    }
}

fn kept_or_made(path: &str, now: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    if std::env::var_os("UPDATE_SECURITY").is_some() {
        fs::write(&path, now).unwrap();
    }
    assert!(
        fs::read_to_string(&path).unwrap_or_default() == now,
        "UPDATE_SECURITY=1, and look at what changed"
    );
}

/// A limit without a reason is a number somebody will change.
#[test]
fn every_limit_stands_in_the_document_with_its_reason() {
    let mut table = String::from(
        "# Limits\n\nMade from the code by a test: what somebody may send, hold or make at most, and why.\n\n\
         | limit | value | why |\n| --- | --- | --- |\n",
    );
    for file in ["server/src/limits.rs", "server/sync/src/limits.rs", "server/domain/src/decide/limits.rs"] {
        let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap();
        let mut why: Vec<&str> = Vec::new();
        for line in text.lines() {
            if let Some(said) = line.strip_prefix("/// ") {
                why.push(said);
            } else if let Some(constant) = line.strip_prefix("pub const ") {
                let (name, rest) = constant.split_once(':').unwrap();
                let value = rest.split_once('=').unwrap().1.trim().trim_end_matches(';');
                // Two of a kind stand below one reason.
                if !why.is_empty() {
                    table.push_str(&format!("| `{name}` | `{value}` | {} |\n", why.join(" ")));
                } else {
                    table.push_str(&format!("| `{name}` | `{value}` | as above |\n"));
                }
            } else if !line.is_empty() {
                why.clear();
            }
            if line.starts_with("pub const ") {
                why.clear();
            }
        }
    }
    assert!(!table.contains("|  |"), "{table}");
    kept_or_made("deploy/security/limits.md", &table);
}

/// Every requirement once; what is met names tests that exist, what is not says why.
#[test]
fn the_table_of_requirements_is_held_by_tests_that_exist() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let table = fs::read_to_string(root.join("deploy/security/asvs.md")).unwrap();
    let tests: String = ["server", "tests"]
        .iter()
        .flat_map(|dir| files(dir, ".rs"))
        .map(|path| fs::read_to_string(path).unwrap())
        .collect();
    let mut seen = std::collections::BTreeSet::new();
    for line in table.lines().filter(|line| line.starts_with("| V")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [requirement, level, state, why] = cells[..] else { panic!("{line}") };
        assert!(seen.insert(requirement.to_owned()), "{requirement} twice");
        assert!(["1", "2"].contains(&level), "{line}");
        assert!(
            ["met", "read", "deviation", "open", "not checked", "does not apply"].contains(&state),
            "{line}"
        );
        assert!(!why.is_empty(), "{line}");
        let named: Vec<&str> =
            why.split('`').skip(1).step_by(2).filter(|word| word.matches('_').count() > 3).collect();
        assert!(state != "met" || !named.is_empty(), "{line} names no test");
        for name in named {
            assert!(tests.contains(&format!("fn {name}(")), "{requirement}: there is no test {name}");
        }
    }
    // ASVS 5.0.0 has 253 of levels 1 and 2.
    assert_eq!(seen.len(), 253);
}
