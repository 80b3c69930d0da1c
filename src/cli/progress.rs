//! Says that something is going on when it takes longer than half a second, and only to somebody who is looking.

use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// What takes less than this needs no word.
const AFTER: Duration = Duration::from_millis(500);
const EVERY: Duration = Duration::from_millis(120);

/// Something that goes on until this is dropped.
pub(super) struct Working {
    /// How far it is, of how much; shown when how much is known.
    at: Arc<AtomicU64>,
    done: Option<Sender<()>>,
    shown: Option<JoinHandle<()>>,
}

impl Working {
    /// From now on `what` is being done, so many bytes of it where that is known.
    fn on(what: String, of: u64) -> Self {
        let at = Arc::new(AtomicU64::new(0));
        if !std::io::stderr().is_terminal() {
            return Self { at, done: None, shown: None };
        }
        let (done, ended) = channel::<()>();
        let so_far = Arc::clone(&at);
        let shown = std::thread::spawn(move || {
            if ended.recv_timeout(AFTER) != Err(RecvTimeoutError::Timeout) {
                return;
            }
            let bar = if of > 0 { ProgressBar::new(of) } else { ProgressBar::new_spinner() };
            let template = if of > 0 { "  {msg}  {percent:>3} %  {wide_bar}" } else { "  {msg}  {elapsed}" };
            if let Ok(style) = ProgressStyle::with_template(template) {
                bar.set_style(style.progress_chars("=> "));
            }
            bar.set_message(what);
            while ended.recv_timeout(EVERY) == Err(RecvTimeoutError::Timeout) {
                bar.set_position(so_far.load(Ordering::Relaxed).min(of));
                bar.tick();
            }
            bar.finish_and_clear();
        });
        Self { at, done: Some(done), shown: Some(shown) }
    }

    /// So many bytes are done.
    pub(super) fn at(&self, bytes: u64) {
        self.at.fetch_max(bytes, Ordering::Relaxed);
    }

    /// From now on this file is being read.
    pub(super) fn reading(path: &std::path::Path) -> Self {
        let name = path.file_name().map_or_else(|| path.into(), std::path::PathBuf::from);
        let size = std::fs::metadata(path).map_or(0, |m| m.len());
        let said = if size > 0 { format!(", {:.0} MB", size as f64 / 1e6) } else { String::new() };
        Self::on(super::console::printable(&format!("Reading {}{said}", name.display())).into_owned(), size)
    }
}

impl Drop for Working {
    fn drop(&mut self) {
        self.done.take();
        if let Some(shown) = self.shown.take() {
            let _ = shown.join();
        }
    }
}
