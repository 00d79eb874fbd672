//! Configuration: flags, then environment, then file; an unknown key is an error.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use crate::notify::Smtp;

/// The file given by `--config`, in TOML.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct File {
    /// Where the shop's data is kept.
    pub data: Option<PathBuf>,
    /// Address and port to listen on.
    pub listen: Option<String>,
    /// How people reach this server, for links: "http://shop.lan:8080".
    pub address: Option<String>,
    /// "text" or "json".
    pub log: Option<LogForm>,
    /// E-mail is off until this is set.
    pub smtp: Option<Smtp>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "snake_case")]
pub enum LogForm {
    Text,
    Json,
}

#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    #[error("the configuration {} cannot be read: {source}", path.display())]
    Read { path: PathBuf, source: std::io::Error },
    #[error("the configuration {} is wrong: {source}", path.display())]
    Wrong { path: PathBuf, source: Box<toml::de::Error> },
}

pub fn read(path: Option<&Path>) -> Result<File, ConfigError> {
    let Some(path) = path else { return Ok(File::default()) };
    let text = std::fs::read_to_string(path)
        .map_err(|source| ConfigError::Read { path: path.to_owned(), source })?;
    toml::from_str(&text)
        .map_err(|source| ConfigError::Wrong { path: path.to_owned(), source: Box::new(source) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_key_is_an_error_that_names_its_line() {
        let wrong =
            toml::from_str::<File>("listen = \"127.0.0.1:8080\"\nlisten_on = 3\n").unwrap_err().to_string();
        assert!(wrong.contains("listen_on") && wrong.contains("line 2"), "{wrong}");
    }
}
