//! Secrets in files: only the owner reads them, and a pulled plug leaves the old file or the new one.
//!
//! Must not know: what is in them.

use std::fs::{self, DirBuilder, File, OpenOptions, Permissions};
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt};
use std::path::Path;

const DIRECTORY: u32 = 0o700;
const FILE: u32 = 0o600;

/// Written beside its place, synced, renamed into it.
pub fn write(dir: &Path, name: &str, bytes: &[u8]) -> io::Result<()> {
    DirBuilder::new().recursive(true).mode(DIRECTORY).create(dir)?;
    fs::set_permissions(dir, Permissions::from_mode(DIRECTORY))?;
    let beside = dir.join(format!("{name}.new"));
    match fs::remove_file(&beside) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut file = OpenOptions::new().write(true).create_new(true).mode(FILE).open(&beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&beside, dir.join(name))?;
    File::open(dir)?.sync_all()
}

/// None: it was never written. What others could read is closed to them again.
pub fn read(dir: &Path, name: &str) -> io::Result<Option<Vec<u8>>> {
    let path = dir.join(name);
    let bytes = match fs::read(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        other => other?,
    };
    let mode = fs::metadata(&path)?.permissions().mode() & 0o777;
    if mode & !FILE != 0 {
        tracing::warn!(path = %path.display(), mode = format!("{mode:o}"), "others could read this key; closed");
        fs::set_permissions(&path, Permissions::from_mode(FILE))?;
    }
    Ok(Some(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(path: &Path) -> u32 {
        fs::metadata(path).unwrap().permissions().mode() & 0o777
    }

    #[test]
    fn only_the_owner_reads_it_and_what_was_opened_up_is_closed() {
        let temporary = tempfile::tempdir().unwrap();
        let dir = temporary.path().join("tls");
        assert_eq!(read(&dir, "key").unwrap(), None);
        write(&dir, "key", b"one").unwrap();
        assert_eq!((mode(&dir), mode(&dir.join("key"))), (0o700, 0o600));
        fs::set_permissions(dir.join("key"), Permissions::from_mode(0o644)).unwrap();
        assert_eq!(read(&dir, "key").unwrap().unwrap(), b"one");
        assert_eq!(mode(&dir.join("key")), 0o600);
    }

    #[test]
    fn what_a_pulled_plug_left_beside_it_is_written_anew() {
        let temporary = tempfile::tempdir().unwrap();
        write(temporary.path(), "key", b"one").unwrap();
        fs::write(temporary.path().join("key.new"), b"ha").unwrap();
        assert_eq!(read(temporary.path(), "key").unwrap().unwrap(), b"one");
        write(temporary.path(), "key", b"two").unwrap();
        assert_eq!(read(temporary.path(), "key").unwrap().unwrap(), b"two");
        assert!(!temporary.path().join("key.new").exists());
    }
}
