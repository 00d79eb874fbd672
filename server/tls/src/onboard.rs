//! The page that leads a device to trust the shop, served over plain HTTP: a device that does not trust
//! the certificate yet can read nothing else without a warning.
//!
//! Invariants: it shows nothing but what a stranger in the shop's network may know (the shop's name, its
//! addresses, the public certificate); nothing on this listener takes a password, a cookie or an operation;
//! everything but the page and the certificate is 404, never a redirect. Whoever tampers with this page
//! can offer another certificate, so it tells to compare the fingerprint with another source.

use std::collections::BTreeMap;
use std::sync::Arc;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, web as routes};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use super::name::Name;
use super::{Fingerprint, Tls};

/// Without a "Content-Disposition", so that phones offer to install it instead of only keeping it.
pub const FILE: &str = "turnbuckle-shop.crt";

const PAGE: &str = include_str!("onboard.html");
const STYLE: &str = include_str!("onboard.css");
const SCRIPT: &str = include_str!("onboard.js");

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Language {
    English,
    Spanish,
}

impl Language {
    /// The best of ours in an Accept-Language header (RFC 9110 section 12.5.4).
    pub fn accepted(header: &str) -> Self {
        let mut best = (0.0, Self::English);
        for range in header.split(',') {
            let mut parts = range.split(';').map(str::trim);
            let tag = parts.next().unwrap_or_default().to_ascii_lowercase();
            let weight = parts.find_map(|part| part.strip_prefix("q=")?.parse().ok()).unwrap_or(1.0);
            let known = Self::named(tag.split('-').next().unwrap_or_default());
            if let Some(language) = known.filter(|_| weight > best.0) {
                best = (weight, language);
            }
        }
        best.1
    }

    fn named(tag: &str) -> Option<Self> {
        match tag {
            "en" => Some(Self::English),
            "es" => Some(Self::Spanish),
            _ => None,
        }
    }

    fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::Spanish => "es",
        }
    }

    fn words(self) -> BTreeMap<&'static str, &'static str> {
        let text = match self {
            Self::English => include_str!("onboard.en.txt"),
            Self::Spanish => include_str!("onboard.es.txt"),
        };
        text.lines().filter(|line| !line.starts_with('#')).filter_map(|line| line.split_once(" = ")).collect()
    }
}

/// What the page says.
#[derive(Debug, Clone)]
pub struct View {
    pub language: Language,
    pub shop: String,
    /// Where the app is: "https://192.168.4.2:8443".
    pub app: String,
    /// Where this page is.
    pub page: String,
    /// The authority, as devices list it.
    pub authority: String,
    pub fingerprint: Fingerprint,
    /// What it can speak for.
    pub scope: String,
}

impl View {
    pub fn html(&self) -> String {
        let own = |name: &str| {
            Some(match name {
                "name" => escaped(&self.authority),
                "scope" => escaped(&self.scope),
                "file" => FILE.into(),
                _ => return None,
            })
        };
        let other = match self.language {
            Language::English => (Language::Spanish, "Español"),
            Language::Spanish => (Language::English, "English"),
        };
        let words = self.language.words();
        filled(PAGE, &|name| {
            if let Some(value) = own(name) {
                return Some(value);
            }
            Some(match name {
                "lang" => self.language.tag().into(),
                "other_lang" => other.0.tag().into(),
                "other_name" => other.1.into(),
                "style" => STYLE.into(),
                "script" => SCRIPT.into(),
                "shop" => escaped(&self.shop),
                "app" => escaped(&self.app),
                "page" => escaped(&self.page),
                "fingerprint" => {
                    self.fingerprint.lines().iter().map(|line| format!("<span>{line}</span>")).collect()
                }
                "qr_page" => picture(&self.page),
                "qr_app" => picture(&self.app),
                steps if steps.starts_with("steps_") => {
                    let steps = filled(&escaped(words.get(steps)?), &own);
                    steps.split(" / ").map(|step| format!("<li>{step}</li>")).collect()
                }
                word => filled(&escaped(words.get(word)?), &own),
            })
        })
    }

    /// Only this page's own script and style run, and they may ask the app's address only.
    pub fn policy(&self) -> String {
        let hash = |text: &str| STANDARD.encode(Sha256::digest(text));
        // An address of IPv6 cannot be written in a policy (CSP Level 3, section 2.3.1: host-char).
        let asked = if self.app.contains('[') { "https:" } else { &self.app };
        format!(
            "default-src 'none'; style-src 'sha256-{}'; script-src 'sha256-{}'; img-src data:; connect-src {asked}; \
             base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
            hash(STYLE),
            hash(SCRIPT)
        )
    }
}

/// Puts values into {{places}}, once: what a value contains is not looked at again.
fn filled(text: &str, value: &dyn Fn(&str) -> Option<String>) -> String {
    let mut out = String::with_capacity(text.len() * 2);
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("{{") {
        out.push_str(before);
        let Some((name, after)) = after.split_once("}}") else {
            rest = after;
            continue;
        };
        out.push_str(&value(name).unwrap_or_default());
        rest = after;
    }
    out.push_str(rest);
    out
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

fn picture(text: &str) -> String {
    let svg = |code: qrcode::QrCode| {
        code.render::<qrcode::render::svg::Color>().min_dimensions(220, 220).quiet_zone(true).build()
    };
    let svg = qrcode::QrCode::new(text).map(svg).unwrap_or_default();
    format!("data:image/svg+xml;base64,{}", STANDARD.encode(svg))
}

/// Scheme, host and port, the port left out where it is the usual one.
pub fn origin(scheme: &str, name: &Name, port: u16) -> String {
    let usual = if scheme == "https" { 443 } else { 80 };
    let port = if port == usual { String::new() } else { format!(":{port}") };
    format!("{scheme}://{}{port}", name.host())
}

/// What the listener knows.
pub struct Onboarding {
    pub tls: Arc<Tls>,
    pub shop: Box<dyn Fn() -> String + Send + Sync>,
    /// Where people are told to go.
    pub app: String,
    /// Said by the operator, so nothing that a browser sends changes it.
    pub app_is_set: bool,
    pub app_port: u16,
    pub page_port: u16,
}

impl Onboarding {
    /// A device that reached this page by a name reaches the app by it too; only names of the shown
    /// certificate count, so the header cannot put anything else into the page.
    fn view(&self, language: Language, host: Option<&str>) -> Option<View> {
        let authority = self.tls.authority()?;
        let host = host.map(|host| {
            host.rsplit_once(':').filter(|(_, p)| p.parse::<u16>().is_ok()).map_or(host, |(h, _)| h)
        });
        let used = host.and_then(Name::of_host).filter(|name| self.tls.names().contains(name));
        let app = match &used {
            Some(name) if !self.app_is_set => origin("https", name, self.app_port),
            _ => self.app.clone(),
        };
        let page = match &used {
            Some(name) => origin("http", name, self.page_port),
            None => self.tls.onboarding().unwrap_or_default().to_owned(),
        };
        Some(View {
            language,
            shop: (self.shop)(),
            app,
            page,
            authority: authority.name.clone(),
            fingerprint: authority.fingerprint,
            scope: authority.scope(),
        })
    }
}

pub fn configure(config: &mut routes::ServiceConfig) {
    let page = routes::resource("/").route(routes::get().to(page)).route(routes::head().to(page));
    let file = routes::resource(format!("/{FILE}"))
        .route(routes::get().to(certificate))
        .route(routes::head().to(certificate));
    config
        .service(page.default_service(routes::to(not_here)))
        .service(file.default_service(routes::to(not_here)))
        .default_service(routes::to(not_here));
}

fn language(request: &HttpRequest) -> Language {
    let asked = request.query_string().split('&').find_map(|pair| pair.strip_prefix("lang="));
    let header = request.headers().get(header::ACCEPT_LANGUAGE).and_then(|value| value.to_str().ok());
    asked.and_then(Language::named).unwrap_or_else(|| Language::accepted(header.unwrap_or_default()))
}

async fn page(about: routes::Data<Onboarding>, request: HttpRequest) -> HttpResponse {
    let host = request.headers().get(header::HOST).and_then(|value| value.to_str().ok());
    let Some(view) = about.view(language(&request), host) else {
        return not_here(request).await;
    };
    HttpResponse::Ok()
        .content_type("text/html; charset=utf-8")
        .insert_header((header::CONTENT_SECURITY_POLICY, view.policy()))
        .insert_header((header::CONTENT_LANGUAGE, view.language.tag()))
        .insert_header((header::VARY, "Accept-Language, Host"))
        .insert_header((header::CACHE_CONTROL, "no-store"))
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((header::REFERRER_POLICY, "no-referrer"))
        .body(view.html())
}

async fn certificate(about: routes::Data<Onboarding>, request: HttpRequest) -> HttpResponse {
    match about.tls.authority() {
        Some(authority) => HttpResponse::Ok()
            .content_type("application/x-x509-ca-cert")
            .insert_header((header::CACHE_CONTROL, "no-store"))
            .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
            .body(authority.der.to_vec()),
        None => not_here(request).await,
    }
}

async fn not_here(request: HttpRequest) -> HttpResponse {
    let language = language(&request);
    let words = language.words();
    HttpResponse::NotFound()
        .content_type("text/plain; charset=utf-8")
        .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(format!("{}\n", words.get("not_here").unwrap_or(&"")))
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    fn view(language: Language) -> View {
        View {
            language,
            shop: "Two Rivers <b>Body</b> {{style}}".into(),
            app: "https://192.168.4.2:8443".into(),
            page: "http://192.168.4.2:8444".into(),
            authority: "Turnbuckle on box 1234ABCD".into(),
            fingerprint: Fingerprint([0x3f; 32]),
            scope: ".local, .lan".into(),
        }
    }

    #[test]
    fn both_languages_say_everything() {
        let names = |language: Language| language.words().into_keys().collect::<BTreeSet<_>>();
        assert_eq!(names(Language::English), names(Language::Spanish));
        for language in [Language::English, Language::Spanish] {
            let words = language.words();
            let silent: Vec<_> = words.iter().filter(|(_, words)| words.trim().is_empty()).collect();
            assert!(silent.is_empty(), "{silent:?}");
            // Every place of the page is one of ours or has words, and every word has a place.
            let mut places = BTreeSet::new();
            for part in PAGE.split("{{").skip(1) {
                places.insert(part.split_once("}}").unwrap().0);
            }
            for word in words.keys().filter(|word| **word != "not_here") {
                assert!(places.remove(word), "{word} is said nowhere");
            }
            let ours = [
                "lang",
                "other_lang",
                "other_name",
                "style",
                "script",
                "shop",
                "app",
                "page",
                "name",
                "file",
            ];
            let ours = ours.into_iter().chain(["fingerprint", "qr_page", "qr_app"]).collect();
            assert_eq!(places, ours);
            let html = view(language).html();
            assert!(html.contains("Turnbuckle on box 1234ABCD”"), "the name stands in the steps");
            assert!(html.contains(".local, .lan"));
        }
    }

    #[test]
    fn a_shop_cannot_put_markup_or_places_into_the_page() {
        let html = view(Language::English).html();
        assert!(html.contains("Two Rivers &lt;b&gt;Body&lt;/b&gt; {{style}}"));
        assert_eq!(html.matches("{{").count(), 2, "only the two in the shop's name");
    }

    #[test]
    fn the_policy_names_what_runs_and_what_is_asked() {
        let mut view = view(Language::English);
        let html = view.html();
        let inside = |tag: &str| {
            let (_, after) = html.split_once(&format!("<{tag}>")).unwrap();
            STANDARD.encode(Sha256::digest(after.split_once(&format!("</{tag}>")).unwrap().0))
        };
        let policy = view.policy();
        assert!(policy.contains(&format!("style-src 'sha256-{}';", inside("style"))));
        assert!(policy.contains(&format!("script-src 'sha256-{}';", inside("script"))));
        assert!(policy.contains("connect-src https://192.168.4.2:8443;"));
        assert!(!html.contains("style=\""), "the policy would refuse it");
        view.app = "https://[fd00::2]:8443".into();
        assert!(view.policy().contains("connect-src https:;"));
    }

    #[test]
    fn the_language_is_the_one_asked_for() {
        let of = |header: &str| Language::accepted(header).tag();
        assert_eq!(of(""), "en");
        assert_eq!(of("es-MX,es;q=0.9,en;q=0.8"), "es");
        assert_eq!(of("fr, en;q=0.4, es;q=0.7"), "es");
        assert_eq!(of("en-US,es;q=0.5"), "en");
    }

    #[test]
    fn the_usual_port_is_not_said() {
        let name = Name::of_host("[fd00::2]").unwrap();
        assert_eq!(origin("https", &name, 443), "https://[fd00::2]");
        assert_eq!(origin("http", &name, 8444), "http://[fd00::2]:8444");
    }
}
