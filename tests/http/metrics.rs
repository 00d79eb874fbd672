//! Numbers for whoever keeps the server running: the real command, on a listener of their own.
//! The format is checked against the OpenMetrics 1.0.0 text format (from memory of its sections "Overall Structure" and
//! "Suffixes"): ends in "# EOF", counters in "_total", histograms cumulative up to "+Inf".

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use crate::support::{agent, wait_for};

fn value(text: &str, name: &str) -> Option<f64> {
    let line = text.lines().find(|line| line.split_whitespace().next() == Some(name))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn numbers_about_the_server_are_shown_where_the_flag_says_and_nowhere_else() {
    let dir = tempfile::tempdir().unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_turnbuckle"))
        .args(["serve", "--listen", "127.0.0.1:0", "--metrics", "127.0.0.1:0", "--data"])
        .arg(dir.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let mut addresses = lines.filter_map(|line| {
        line.split_whitespace().find(|word| word.starts_with("http://")).map(str::to_owned)
    });
    let app = addresses.next().expect("where the app is").replace("localhost", "127.0.0.1");
    let page = addresses.next().expect("where the numbers are");
    std::thread::spawn(move || addresses.for_each(drop));
    let agent = agent();
    let get = |url: &str| {
        let mut answer = agent.get(url).call().ok()?;
        Some((answer.status().as_u16(), answer.body_mut().read_to_string().ok()?))
    };
    let text = wait_for("a first plan", || {
        let (status, text) = get(&page)?;
        assert_eq!(status, 200);
        value(&text, "turnbuckle_plan_first_seconds_count").is_some_and(|n| n > 0.0).then_some(text)
    });
    assert!(text.ends_with("# EOF\n"), "{text}");
    assert!(value(&text, "turnbuckle_log_entries").is_some_and(|n| n > 0.0), "{text}");
    assert_eq!(value(&text, "turnbuckle_read_only"), Some(0.0));
    let first = "turnbuckle_plan_first_seconds";
    let count = value(&text, &format!("{first}_count")).expect("a histogram");
    assert_eq!(value(&text, &format!("{first}_bucket{{le=\"+Inf\"}}")), Some(count));
    assert!(value(&text, &format!("{first}_sum")).is_some_and(|sum| sum > 0.0));
    // People's listener does not know it.
    let (_, beside) = get(&format!("{app}/metrics")).unwrap();
    assert!(!beside.contains("turnbuckle_log_entries"), "{beside}");
    child.kill().unwrap();
    child.wait().unwrap();
}
