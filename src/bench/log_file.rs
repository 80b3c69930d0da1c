//! A log in a file: read on every core there is, in memory that does not grow with the file.

use crate::trace::{Analyzer, Rows, Shape, TraceContext, TraceError, TraceSummary};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Why a log in a file could not be read.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// The file could not be opened or read.
    #[error("could not read {path}: {source}")]
    Io {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// Reading stopped half-way.
    #[error("{path}, line {line}: reading stopped here: {source}")]
    Broken {
        /// Which file.
        path: PathBuf,
        /// Lines read until then.
        line: u64,
        /// Why.
        source: io::Error,
    },
    /// It is no file: reading it could go on for ever.
    #[error("{path} is {what}; give a file, or - to read standard input")]
    NotAFile {
        /// What was named.
        path: PathBuf,
        /// What it is.
        what: &'static str,
    },
    /// The log itself cannot be used.
    #[error("{path}: {source}")]
    Trace {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: TraceError,
    },
}

/// Bytes read at a time by one thread: their rows still fit near the processor when their turn comes.
const CHUNK: usize = 1 << 18;
/// Chunks that may wait for their turn, beside one for each thread.
const AHEAD: usize = 4;
/// Enough to settle the shape of any log that can be settled.
const FIRST: usize = 1 << 20;
/// More threads than this gain nothing: what follows the reading is done in order.
const MOST_THREADS: usize = 8;

/// Is told how many bytes are done.
pub type Tell<'a> = dyn Fn(u64) + Sync + 'a;

/// Reads the log in the file at `path`.
pub fn read_log(path: &Path, ctx: TraceContext) -> Result<TraceSummary, LogError> {
    read_log_telling(path, ctx, &|_| {})
}

/// The same, telling `tell` from whatever thread how many bytes are done.
pub fn read_log_telling(path: &Path, ctx: TraceContext, tell: &Tell<'_>) -> Result<TraceSummary, LogError> {
    let io = |source| LogError::Io { path: path.to_owned(), source };
    let trace = |source| LogError::Trace { path: path.to_owned(), source };
    let found = std::fs::metadata(path).map_err(io)?;
    if !found.is_file() {
        let what = if found.is_dir() { "a folder" } else { "a device or a pipe" };
        return Err(LogError::NotAFile { path: path.to_owned(), what });
    }
    let file = File::open(path).map_err(io)?;
    let mut analyzer = Analyzer::new(ctx);
    // The first chunk settles the shape; the rest can be read anywhere.
    let mut first = vec![0; FIRST];
    let length = read_full(&file, &mut first, 0).map_err(io)?;
    if (length as u64) < found.len().min(FIRST as u64) {
        return Err(io(shorter()));
    }
    analyzer.push(&first[..length]);
    drop(first);
    if let Some(error) = analyzer.failed() {
        return Err(trace(error.clone()));
    }
    if length == FIRST {
        analyzer = match analyzer.shape() {
            Some(shape) => apart(&file, analyzer, &shape, (length as u64, found.len()), tell)
                .map_err(|(line, source)| LogError::Broken { path: path.to_owned(), line, source })?,
            None => analyzer,
        };
    }
    analyzer.finish().map_err(trace)
}

/// Reads a log from a stream to its end.
pub fn read_stream(mut from: impl Read, name: &Path, ctx: TraceContext) -> Result<TraceSummary, LogError> {
    let mut analyzer = Analyzer::new(ctx);
    let mut buffer = vec![0; CHUNK];
    loop {
        match from.read(&mut buffer) {
            Ok(0) => break,
            Ok(n) => analyzer.push(&buffer[..n]),
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(source) => {
                let line = analyzer.lines();
                return Err(LogError::Broken { path: name.to_owned(), line, source });
            }
        }
        if analyzer.failed().is_some() {
            break;
        }
    }
    analyzer.finish().map_err(|source| LogError::Trace { path: name.to_owned(), source })
}

/// A chunk of the file, and the rows of its whole lines.
struct Chunk {
    bytes: Vec<u8>,
    /// How much of the buffer is filled.
    filled: usize,
    /// Where its first whole line begins: what is before belongs to the line that the chunk before left open.
    begins: usize,
    /// Bytes from there that the rows were read from.
    used: usize,
    rows: Rows,
    /// Why no more could be read.
    failed: Option<io::Error>,
}

/// What the threads share.
struct Shared {
    /// The analysis, unless a thread is at work with it.
    analyzer: Option<Analyzer>,
    /// The chunk to be handed out next.
    hand_out: u64,
    /// The chunk to be taken next.
    take: u64,
    /// Chunks that were read and wait for their turn.
    read: BTreeMap<u64, Chunk>,
    /// Chunks that were taken: their room is used again.
    free: Vec<Chunk>,
    /// No more is handed out: a chunk could not be read.
    stop: bool,
    /// Why not, once all before it has been taken.
    failed: Option<io::Error>,
}

/// The file, as the threads see it.
struct Work<'a> {
    file: &'a File,
    shape: &'a Shape,
    from: u64,
    size: u64,
    tell: &'a Tell<'a>,
    shared: Mutex<Shared>,
    /// A chunk has become free, or all is over.
    freed: Condvar,
}

/// Threads read chunks and make rows of them, each for itself; the rows are taken in the file's order, by whichever
/// thread finds the analysis idle and the next chunk there. None waits for another while there is something to read.
fn apart(
    file: &File,
    analyzer: Analyzer,
    shape: &Shape,
    (from, size): (u64, u64),
    tell: &Tell<'_>,
) -> Result<Analyzer, (u64, io::Error)> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(MOST_THREADS);
    let chunk = || Chunk {
        bytes: vec![0; CHUNK],
        filled: 0,
        begins: 0,
        used: 0,
        rows: Rows::default(),
        failed: None,
    };
    let shared = Shared {
        analyzer: Some(analyzer),
        hand_out: 0,
        take: 0,
        read: BTreeMap::new(),
        free: (0..threads + AHEAD).map(|_| chunk()).collect(),
        stop: false,
        failed: None,
    };
    let work = Work { file, shape, from, size, tell, shared: Mutex::new(shared), freed: Condvar::new() };
    std::thread::scope(|scope| {
        for _ in 1..threads {
            scope.spawn(|| work.run());
        }
        work.run();
    });
    let shared = work.shared.into_inner().unwrap_or_else(PoisonError::into_inner);
    let lines = shared.analyzer.as_ref().map_or(0, Analyzer::lines);
    match (shared.failed, shared.analyzer) {
        (None, Some(analyzer)) => Ok(analyzer),
        (failed, _) => {
            Err((lines, failed.unwrap_or_else(|| io::Error::other("a thread that read the log is lost"))))
        }
    }
}

/// A file that ends before the size it had when it was opened.
fn shorter() -> io::Error {
    io::Error::new(io::ErrorKind::UnexpectedEof, "the file became shorter while it was read")
}

impl Work<'_> {
    fn lock(&self) -> MutexGuard<'_, Shared> {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn run(&self) {
        while let Some((number, mut chunk)) = self.next() {
            let read = self.read(number, &mut chunk);
            (self.tell)(self.from + number * CHUNK as u64 + chunk.filled as u64);
            let mut shared = self.lock();
            chunk.failed = read.err();
            shared.stop |= chunk.failed.is_some();
            shared.read.insert(number, chunk);
            self.take_what_is_there(shared);
        }
    }

    /// The next chunk's number and room for it; `None` when all are handed out.
    fn next(&self) -> Option<(u64, Chunk)> {
        let mut shared = self.lock();
        loop {
            if shared.stop || shared.hand_out * CHUNK as u64 >= self.size.saturating_sub(self.from) {
                return None;
            }
            if let Some(chunk) = shared.free.pop() {
                shared.hand_out += 1;
                return Some((shared.hand_out - 1, chunk));
            }
            shared = self.freed.wait(shared).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn read(&self, number: u64, chunk: &mut Chunk) -> io::Result<()> {
        let at = self.from + number * CHUNK as u64;
        let wanted = usize::try_from(self.size - at).unwrap_or(CHUNK).min(CHUNK);
        let read = read_full(self.file, &mut chunk.bytes[..wanted], at);
        chunk.filled = *read.as_ref().unwrap_or(&0);
        let bytes = &chunk.bytes[..chunk.filled];
        chunk.begins = memchr::memchr(self.shape.line_end(), bytes).map_or(bytes.len(), |n| n + 1);
        chunk.used = self.shape.read(&bytes[chunk.begins..], &mut chunk.rows);
        match read? {
            filled if filled < wanted => Err(shorter()),
            _ => Ok(()),
        }
    }

    /// Takes the chunks whose turn it is, unless another thread is at it.
    fn take_what_is_there<'a>(&'a self, mut shared: MutexGuard<'a, Shared>) {
        let Some(mut analyzer) = shared.analyzer.take() else { return };
        while shared.failed.is_none() {
            let turn = shared.take;
            let Some(mut chunk) = shared.read.remove(&turn) else { break };
            drop(shared);
            let bytes = &chunk.bytes[..chunk.filled];
            analyzer.push(&bytes[..chunk.begins]);
            if analyzer.take(&chunk.rows) {
                analyzer.push(&bytes[chunk.begins + chunk.used..]);
            } else {
                analyzer.push(&bytes[chunk.begins..]);
            }
            shared = self.lock();
            shared.take += 1;
            shared.failed = chunk.failed.take();
            shared.free.push(chunk);
            self.freed.notify_one();
        }
        shared.analyzer = Some(analyzer);
        drop(shared);
        self.freed.notify_all();
    }
}

/// Fills the buffer as far as the file goes.
fn read_full(file: &File, buffer: &mut [u8], at: u64) -> io::Result<usize> {
    let mut filled = 0;
    while filled < buffer.len() {
        match file.read_at(&mut buffer[filled..], at + filled as u64) {
            Ok(0) => break,
            Ok(n) => filled += n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(filled)
}
