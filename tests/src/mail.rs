//! A real mail server of other people's, aiosmtpd, with behaviour that tests choose; see `smtp.py`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command};
use std::time::Duration;

use serde::Deserialize;
use tempfile::TempDir;

use crate::wait::{free_port, until};

/// How clients speak to it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// Plain.
    Plain,
    /// Plain until STARTTLS, which it insists on.
    StartTls,
    /// Encrypted from the first byte.
    Tls,
}

/// A mail that it took.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
pub struct Mail {
    /// Receivers, as they were named to the server.
    pub to: Vec<String>,
    /// As the mail itself says.
    pub header_to: String,
    /// From whom.
    pub from: String,
    /// The subject, decoded.
    pub subject: String,
    /// The Message-ID.
    pub id: String,
    /// What it refers to.
    pub references: String,
    /// When it says it was written.
    pub date: String,
    /// Whether it says that no machine should answer.
    pub auto: String,
    /// The text, decoded.
    pub body: String,
    /// True where the line was encrypted.
    pub encrypted: bool,
    /// True where the client had signed in.
    pub signed_in: bool,
}

/// A mail server that runs.
pub struct MailServer {
    folder: TempDir,
    process: Option<Child>,
    kind: Kind,
    login: Option<(String, String)>,
    /// Its port on loopback.
    pub port: u16,
}

impl MailServer {
    /// Starts one that takes everything.
    pub fn start(kind: Kind) -> Self {
        Self::with_login(kind, None)
    }

    /// The same; with a login it takes mail of nobody else.
    pub fn with_login(kind: Kind, login: Option<(&str, &str)>) -> Self {
        let folder = tempfile::tempdir().expect("a folder for the mail server");
        let login = login.map(|(user, password)| (user.to_owned(), password.to_owned()));
        let mut this = Self { folder, process: None, kind, login, port: free_port() };
        if kind != Kind::Plain {
            this.make_certificates();
        }
        this.behave("well");
        this.again();
        this
    }

    /// Has it behave otherwise from now on.
    pub fn behave(&self, mode: &str) {
        let (new, file) = (self.folder.path().join("mode.new"), self.folder.path().join("mode"));
        fs::write(&new, mode).and_then(|()| fs::rename(&new, &file)).expect("the mode written");
    }

    /// Ends it: nobody listens there.
    pub fn stop(&mut self) {
        if let Some(mut process) = self.process.take() {
            process.kill().expect("killed");
            process.wait().expect("gone");
        }
    }

    /// Starts it again.
    pub fn again(&mut self) {
        let kind = match self.kind {
            Kind::Plain => "none",
            Kind::StartTls => "starttls",
            Kind::Tls => "tls",
        };
        let mut command = Command::new(python());
        command.arg(concat!(env!("CARGO_MANIFEST_DIR"), "/src/smtp.py"));
        command.arg(self.port.to_string()).arg(self.folder.path()).arg(kind);
        if let Some((user, password)) = &self.login {
            command.args([user, password]);
        }
        self.process = Some(command.spawn().expect("python starts"));
        until("the mail server listens", Duration::from_secs(30), || {
            let ended = self.process.as_mut().and_then(|process| process.try_wait().ok().flatten());
            assert!(ended.is_none(), "the mail server ended: tests/run makes a Python with aiosmtpd, PYTHON_WITH_PAHO");
            std::net::TcpStream::connect(("127.0.0.1", self.port)).map(drop).map_err(|why| why.to_string())
        });
    }

    /// What it has taken, in order.
    pub fn mails(&self) -> Vec<Mail> {
        let text = fs::read_to_string(self.folder.path().join("mails.jsonl")).unwrap_or_default();
        // The last line may be half written.
        text.lines().filter_map(|line| serde_json::from_str(line).ok()).collect()
    }

    /// Waits until it has taken so many.
    #[track_caller]
    pub fn wait_for(&self, count: usize, within: Duration) -> Vec<Mail> {
        until(&format!("{count} mails have come"), within, || {
            let mails = self.mails();
            if mails.len() >= count {
                return Ok(mails);
            }
            Err(format!("{:?}", mails.iter().map(|mail| (&mail.to, &mail.subject)).collect::<Vec<_>>()))
        })
    }

    /// Settings of a hub that sends through it, with these people.
    pub fn settings(&self, people: &[(&str, &str)]) -> String {
        let tls = match self.kind {
            Kind::Plain => "tls = \"none\"".to_owned(),
            Kind::StartTls => format!("tls = \"starttls\"\nca_file = {:?}", self.authority().display().to_string()),
            Kind::Tls => format!("tls = \"tls\"\nca_file = {:?}", self.authority().display().to_string()),
        };
        let login = self
            .login
            .as_ref()
            .map_or_else(String::new, |(user, password)| format!("user = {user:?}\npassword = {password:?}\n"));
        let people: String = people.iter().map(|(person, address)| format!("{person} = {address:?}\n")).collect();
        format!(
            "[messages.mail]\nhost = \"127.0.0.1\"\nport = {}\n{tls}\n{login}from = \"Larkspur Hollow <hub@barn.example>\"\n\
             [messages.people]\n{people}",
            self.port
        )
    }

    /// The certificate of who signed the server's.
    pub fn authority(&self) -> PathBuf {
        self.folder.path().join("ca.pem")
    }

    fn make_certificates(&self) {
        let openssl = |arguments: &[&str]| {
            let made = Command::new("openssl").args(arguments).current_dir(self.folder.path()).output();
            let made = made.expect("openssl is installed: apt-get install openssl");
            assert!(made.status.success(), "{made:?}");
        };
        let extension = self.folder.path().join("names");
        fs::write(&extension, "subjectAltName=IP:127.0.0.1,DNS:localhost\nbasicConstraints=CA:FALSE\n")
            .expect("written");
        let ec = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"];
        let mut authority = vec!["req", "-x509", "-days", "2", "-subj", "/CN=test authority", "-keyout", "ca.key"];
        authority.extend(["-out", "ca.pem", "-addext", "keyUsage=critical,keyCertSign,cRLSign"]);
        openssl(&[&authority[..], &ec[..]].concat());
        openssl(&[&["req", "-subj", "/CN=mail", "-keyout", "key.pem", "-out", "mail.csr"][..], &ec[..]].concat());
        let mut signed =
            vec!["x509", "-req", "-in", "mail.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial"];
        signed.extend(["-days", "2", "-extfile", "names", "-out", "cert.pem"]);
        openssl(&signed);
    }

    /// Its folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }
}

impl Drop for MailServer {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The Python that `tests/run` makes, with what the tests want of it.
pub fn python() -> String {
    std::env::var("PYTHON_WITH_PAHO").unwrap_or_else(|_| "python3".to_owned())
}
