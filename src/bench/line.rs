//! A live line: a serial device or standard input, read on a thread of its own, opened again when it comes back.

use serial2::SerialPort;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread;
use std::time::Duration;

/// Where a live line comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineSource {
    /// Standard input.
    Stdin,
    /// A serial device at a speed in baud.
    Serial {
        /// The device.
        port: PathBuf,
        /// Its speed.
        baud: u32,
    },
}

/// A line that could not be opened, and what to do.
#[derive(Debug, thiserror::Error)]
#[error("could not open {}: {source}", port.display())]
pub struct LineError {
    /// The device.
    pub port: PathBuf,
    /// Why.
    pub source: io::Error,
    /// What to do.
    pub hint: String,
}

/// What comes from a line.
#[derive(Debug)]
pub enum FromLine {
    /// Bytes.
    Bytes(Vec<u8>),
    /// The device is gone; it is tried again.
    Lost(String),
    /// It is back.
    Back,
    /// Bytes that had to be thrown away because nobody took them in time.
    Flooded(u64),
    /// The line is at its end, and will not come back.
    Ended,
}

/// Pieces on their way: with at most [`PIECE`] bytes each, 8 MiB.
const ON_THE_WAY: usize = 512;
const PIECE: usize = 16 * 1024;
/// How long a read waits before it looks whether it should stop.
const READ_WAIT: Duration = Duration::from_millis(100);
/// How long between attempts to open a device that is gone.
const RETRY: Duration = Duration::from_millis(500);

/// An open line.
#[derive(Debug)]
pub struct Line {
    pieces: Receiver<FromLine>,
    stop: Arc<AtomicBool>,
}

impl Line {
    /// Opens a line and begins to read it.
    pub fn open(source: &LineSource) -> Result<Self, LineError> {
        let (send, pieces) = sync_channel(ON_THE_WAY);
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        match source {
            LineSource::Stdin => {
                thread::spawn(move || read_stdin(&send));
            }
            LineSource::Serial { port, baud } => {
                let device = open_port(port, *baud).map_err(|source| LineError {
                    hint: hint(&source, port),
                    port: port.clone(),
                    source,
                })?;
                let again = lasting_name(port, Path::new(BY_ID)).unwrap_or_else(|| port.clone());
                let baud = *baud;
                thread::spawn(move || read_port(device, &again, baud, &send, &stopped));
            }
        }
        Ok(Self { pieces, stop })
    }

    /// What came, or `None` when nothing did for so long.
    pub fn next(&self, wait: Duration) -> Option<FromLine> {
        match self.pieces.recv_timeout(wait) {
            Ok(piece) => Some(piece),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => Some(FromLine::Ended),
        }
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// The serial devices there are.
pub fn ports() -> Vec<PathBuf> {
    SerialPort::available_ports().unwrap_or_default()
}

/// Where the system keeps names of serial devices that stay the same whatever number they get.
const BY_ID: &str = "/dev/serial/by-id";

/// The name in `folder` under which a device is found again when it comes back with another number; `None` when it has none
/// (a port without a serial number, another system).
fn lasting_name(port: &Path, folder: &Path) -> Option<PathBuf> {
    let device = port.canonicalize().ok()?;
    let names = std::fs::read_dir(folder).ok()?.flatten().map(|entry| entry.path());
    names.filter(|name| name.canonicalize().is_ok_and(|to| to == device)).min()
}

fn open_port(port: &Path, baud: u32) -> io::Result<SerialPort> {
    let mut device = SerialPort::open(port, baud)?;
    device.set_read_timeout(READ_WAIT)?;
    Ok(device)
}

fn hint(error: &io::Error, port: &Path) -> String {
    match error.kind() {
        io::ErrorKind::PermissionDenied => {
            "you may not use this device: sudo usermod -aG dialout $USER, then log in again".to_owned()
        }
        io::ErrorKind::NotFound => {
            let there: Vec<String> = ports().iter().map(|p| p.display().to_string()).collect();
            if there.is_empty() {
                "there is no such device, and no other serial device here; is it plugged in?".to_owned()
            } else {
                format!("there is no such device; there are: {}", there.join(", "))
            }
        }
        io::ErrorKind::ResourceBusy => format!("another program has {} open", port.display()),
        _ => "is this a serial device? Its speed is given with --baud".to_owned(),
    }
}

/// Standard input waits for us: nothing is thrown away.
fn read_stdin(send: &SyncSender<FromLine>) {
    let mut stdin = io::stdin().lock();
    let mut buffer = vec![0; PIECE];
    loop {
        match stdin.read(&mut buffer) {
            Ok(0) => break,
            Ok(n) => {
                if send.send(FromLine::Bytes(buffer[..n].to_vec())).is_err() {
                    return;
                }
            }
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(_) => break,
        }
    }
    let _ = send.send(FromLine::Ended);
}

/// A device does not wait: it is read at once, and what nobody takes is counted. `port` is the name it is looked for
/// under when it has gone.
fn read_port(device: SerialPort, port: &Path, baud: u32, send: &SyncSender<FromLine>, stop: &AtomicBool) {
    let mut device = Some(device);
    let mut buffer = vec![0; PIECE];
    let mut flooded = 0u64;
    while !stop.load(Ordering::Relaxed) {
        let Some(open) = &device else {
            thread::sleep(RETRY);
            if let Ok(back) = open_port(port, baud) {
                device = Some(back);
                if send.send(FromLine::Back).is_err() {
                    return;
                }
            }
            continue;
        };
        let lost = match open.read(&mut buffer) {
            // No bytes without a timeout is a hang-up, not a pause.
            Ok(0) => "the device hung up".to_owned(),
            Ok(n) => {
                if flooded > 0 && send.try_send(FromLine::Flooded(flooded)).is_ok() {
                    flooded = 0;
                }
                match send.try_send(FromLine::Bytes(buffer[..n].to_vec())) {
                    Ok(()) => {}
                    Err(TrySendError::Full(_)) => flooded += n as u64,
                    Err(TrySendError::Disconnected(_)) => return,
                }
                continue;
            }
            Err(e)
                if matches!(
                    e.kind(),
                    io::ErrorKind::TimedOut | io::ErrorKind::Interrupted | io::ErrorKind::WouldBlock
                ) =>
            {
                continue;
            }
            Err(e) => e.to_string(),
        };
        device = None;
        if send.send(FromLine::Lost(lost)).is_err() {
            return;
        }
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    #[test]
    fn a_device_is_looked_for_by_the_name_that_stays_with_it() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir(at("by-id")).unwrap();
        for (device, name) in [("tty0", "usb-wideband-0417"), ("tty1", "usb-vacuum-0032")] {
            std::fs::write(at(device), "").unwrap();
            symlink(at(device), at("by-id").join(name)).unwrap();
        }
        symlink(at("gone"), at("by-id").join("usb-absent-1")).unwrap();
        let name = |port: &str| lasting_name(&at(port), &at("by-id"));
        assert_eq!(name("tty1"), Some(at("by-id/usb-vacuum-0032")));
        assert_eq!(name("by-id/usb-wideband-0417"), Some(at("by-id/usb-wideband-0417")), "it is its own");
        std::fs::write(at("tty2"), "").unwrap();
        assert_eq!(name("tty2"), None, "no such name");
        assert_eq!(name("gone"), None, "no such device");
        assert_eq!(lasting_name(&at("tty0"), &at("nothing")), None, "no such folder");
    }
}
