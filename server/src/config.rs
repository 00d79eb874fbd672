//! Configuration: flags, then environment, then file; an unknown key is an error.

use std::path::{Path, PathBuf};

use serde::Deserialize;

use crate::notify::Smtp;
use tls::door::Https;
use tls::network::Network;

/// The file given by `--config`, in TOML.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct File {
    /// Where the shop's data is kept.
    pub data: Option<PathBuf>,
    /// Address and port to listen on.
    pub listen: Option<String>,
    /// How people reach this server, for links: "https://shop.lan:8080".
    pub address: Option<String>,
    /// HTTPS even where only this machine can reach it.
    #[serde(default)]
    pub https: bool,
    /// Plain HTTP everywhere: a proxy in front does TLS.
    #[serde(default)]
    pub plain: bool,
    /// Proxies in front of this server, by address or network: theirs is the only word about where a request comes from.
    #[serde(default)]
    pub trusted_proxies: Vec<Network>,
    /// Where the page that leads new devices is served: "0.0.0.0:8081".
    pub onboard: Option<String>,
    /// Where numbers about the server are shown to a monitor: "127.0.0.1:9464". Off without it.
    pub metrics: Option<String>,
    /// Certificate files instead of the shop's own authority.
    pub tls: Option<TlsFiles>,
    /// "text" or "json".
    pub log: Option<LogForm>,
    /// E-mail is off until this is set.
    pub smtp: Option<Smtp>,
}

/// PEM files that somebody else renews; they are read again when they change.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TlsFiles {
    /// The server's certificate, then those between it and the root.
    pub certificate: PathBuf,
    pub key: PathBuf,
    /// Tell browsers to come by HTTPS only.
    #[serde(default)]
    pub hsts: bool,
}

impl File {
    /// Flags come before the file; two that contradict each other in the same place are an error.
    pub fn https(&self, flag_https: bool, flag_plain: bool) -> Result<Https, ConfigError> {
        let files = self.tls.clone().map(|tls| Https::Files {
            certificate: tls.certificate,
            key: tls.key,
            hsts: tls.hsts,
        });
        if flag_plain {
            return Ok(Https::Never);
        }
        if self.plain && !flag_https {
            let contradicts = self.https || files.is_some();
            return if contradicts { Err(ConfigError::Contradiction) } else { Ok(Https::Never) };
        }
        let own = if self.https || flag_https { Https::Always } else { Https::Auto };
        Ok(files.unwrap_or(own))
    }
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
    #[error("the configuration says plain = true and asks for HTTPS too; leave one of them out")]
    Contradiction,
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

    #[test]
    fn the_example_is_a_configuration() {
        let page = include_str!("../../deploy/operating.md");
        let example = page.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
        let asked = toml::from_str::<File>(example).unwrap();
        assert!(asked.tls.is_none() && asked.smtp.is_some());
        // With what is only proposed there, but for what would contradict it.
        let (before, tls) = example.split_once("# [tls]").unwrap();
        let (tls, after) = tls.split_once("\n\n").unwrap();
        let tls = tls.replace("\n# ", "\n");
        let before = before.replace("# onboard", "onboard").replace("# trusted", "trusted");
        let whole = format!("{before}[tls]{tls}\n{after}");
        let asked = toml::from_str::<File>(&whole).unwrap();
        assert!(
            asked.onboard.is_some()
                && asked.trusted_proxies.len() == 2
                && matches!(asked.https(false, false), Ok(Https::Files { hsts: true, .. }))
        );
    }

    #[test]
    fn https_is_chosen_by_flags_then_by_the_file() {
        let file = |text: &str| toml::from_str::<File>(text).unwrap();
        let files = "[tls]\ncertificate = \"a.crt\"\nkey = \"a.key\"\n";
        let of = |text: &str, https, plain| file(text).https(https, plain);
        assert_eq!(of("", false, false).unwrap(), Https::Auto);
        assert_eq!(of("", true, false).unwrap(), Https::Always);
        assert_eq!(of("https = true", false, false).unwrap(), Https::Always);
        assert_eq!(of("https = true", false, true).unwrap(), Https::Never);
        assert_eq!(of("plain = true", false, false).unwrap(), Https::Never);
        assert_eq!(of("plain = true", true, false).unwrap(), Https::Always);
        assert_eq!(of(files, false, true).unwrap(), Https::Never);
        let hsts = |https| matches!(https, Https::Files { hsts: true, .. });
        assert!(!hsts(of(files, true, false).unwrap()));
        assert!(hsts(of(&format!("{files}hsts = true\n"), false, false).unwrap()));
        for wrong in ["plain = true\nhttps = true\n", &format!("plain = true\n{files}")] {
            let error = of(wrong, false, false).unwrap_err().to_string();
            assert!(error.contains("leave one of them out"), "{error}");
        }
        let half = toml::from_str::<File>("[tls]\ncertificate = \"a.crt\"\n").unwrap_err().to_string();
        assert!(half.contains("key"), "{half}");
    }
}
