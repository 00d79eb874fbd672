//! Handles (open files and connections) that this process may have.

/// Raises the soft limit as far as it helps and the machine lets us; returns what there is now. A service
/// manager's default of 1,024, or a shell's 256, is less than a busy shop and some strangers need.
#[cfg(unix)]
pub fn raise() -> u64 {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};

    use crate::limits::HANDLES_WANTED;

    let now = getrlimit(Resource::Nofile);
    let current = now.current.unwrap_or(u64::MAX);
    let wanted = HANDLES_WANTED.min(now.maximum.unwrap_or(u64::MAX));
    let raised = wanted > current
        && setrlimit(Resource::Nofile, Rlimit { current: Some(wanted), maximum: now.maximum }).is_ok();
    let have = if raised { wanted } else { current };
    if have < HANDLES_WANTED {
        tracing::warn!(
            have,
            wanted = HANDLES_WANTED,
            "few handles; raise the hard limit of open files (ulimit -Hn, LimitNOFILE)"
        );
    }
    have
}

#[cfg(not(unix))]
pub fn raise() -> u64 {
    crate::limits::HANDLES_WANTED
}
