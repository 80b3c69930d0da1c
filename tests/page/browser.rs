//! A headless browser, where there is one.

use std::path::{Path, PathBuf};
use std::process::Command;

/// A browser on this machine.
pub(crate) struct Browser {
    program: PathBuf,
}

/// What it had to say of a page.
pub(crate) struct Seen {
    pub(crate) console: Vec<String>,
    /// Addresses asked for, other than the page itself.
    pub(crate) requests: Vec<String>,
    /// How large the picture of the page came out.
    pub(crate) picture_bytes: u64,
}

/// The first one found.
pub(crate) fn find() -> Option<Browser> {
    let path = std::env::var_os("PATH")?;
    let programs =
        std::env::split_paths(&path).flat_map(|d| ["chromium", "chromium-browser"].map(|n| d.join(n)));
    programs.into_iter().find(|p| p.is_file()).map(|program| Browser { program })
}

impl Browser {
    /// Loads a page, listens to its console and its requests, and takes its picture.
    pub(crate) fn show(&self, page: &Path) -> Seen {
        let home = tempfile::tempdir().expect("a folder");
        let (picture, log) = (home.path().join("page.png"), home.path().join("net.json"));
        let out = self.run(
            home.path(),
            &[
                "--enable-logging=stderr".to_owned(),
                format!("--log-net-log={}", log.display()),
                "--window-size=1100,1600".to_owned(),
                format!("--screenshot={}", picture.display()),
                format!("file://{}", page.display()),
            ],
        );
        let console = out.lines().filter(|l| l.contains("CONSOLE")).map(str::to_owned).collect();
        let net = std::fs::read_to_string(log).expect("the log of requests");
        // The browser looks for its own maker's hosts; a page's request names the page as where it comes from.
        let requests = net
            .lines()
            .filter(|l| l.contains("\"initiator\":\"file://\"") || l.contains("\"initiator\":\"null\""));
        Seen {
            console,
            requests: requests.filter(|l| !l.contains(".html\"")).map(str::to_owned).collect(),
            picture_bytes: std::fs::metadata(picture).expect("a picture").len(),
        }
    }

    /// Sides of paper the page takes.
    pub(crate) fn printed_sides(&self, page: &Path) -> usize {
        let home = tempfile::tempdir().expect("a folder");
        let paper = home.path().join("page.pdf");
        self.run(
            home.path(),
            &[
                "--no-pdf-header-footer".to_owned(),
                format!("--print-to-pdf={}", paper.display()),
                format!("file://{}", page.display()),
            ],
        );
        let bytes = std::fs::read(paper).expect("the printed page");
        let words = String::from_utf8_lossy(&bytes);
        words.match_indices("/Type /Page").filter(|(at, m)| !words[at + m.len()..].starts_with('s')).count()
    }

    fn run(&self, home: &Path, args: &[String]) -> String {
        let out = Command::new(&self.program)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--no-first-run",
                "--hide-scrollbars",
            ])
            .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
            .arg(format!("--user-data-dir={}", home.join("profile").display()))
            .args(args)
            .output()
            .expect("the browser starts");
        String::from_utf8_lossy(&out.stderr).into_owned()
    }
}
