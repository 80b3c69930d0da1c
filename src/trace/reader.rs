//! Bytes in pieces of any size to blocks of rows: the same rows whichever way the bytes are cut.

use super::channel::Channel;
use super::fault::TraceError;
use super::header::{self, Head};
use super::layout::Layout;
use super::logger::LoggerProfile;
use super::rows::{self, Block, LONGEST_LIVE_LINE};

/// Bytes taken in one go from a large push, so that a block stays near the processor.
const PIECE: usize = 1 << 20;

/// Takes blocks, beside the shape of the log they are of.
pub(super) type Sink<'a> = dyn FnMut(&Head, &Block) -> Result<(), TraceError> + 'a;

/// Turns pushed bytes into blocks of rows.
#[derive(Debug)]
pub(super) struct Reader {
    logger: LoggerProfile,
    live: bool,
    /// Which channels are read, when not all.
    wanted: Option<fn(Channel) -> bool>,
    head: Option<Head>,
    /// The unfinished line at the end of what was pushed (before the head is settled: everything).
    tail: Vec<u8>,
    /// In the middle of a line that is too long: nothing is read up to its end.
    skipping: bool,
    block: Block,
}

impl Reader {
    /// For a log, or (`live`) for a line that is read as it comes.
    pub(super) fn new(logger: &LoggerProfile, live: bool) -> Self {
        Self {
            logger: logger.clone(),
            live,
            wanted: None,
            head: None,
            tail: Vec::new(),
            skipping: false,
            block: Block::default(),
        }
    }

    /// Reads only these channels: parsing what nobody looks at costs as much as parsing what somebody does.
    #[must_use]
    pub(super) fn wanting(mut self, wanted: fn(Channel) -> bool) -> Self {
        self.wanted = Some(wanted);
        self
    }

    /// The shape of the log, once settled.
    pub(super) fn head(&self) -> Option<&Head> {
        self.head.as_ref()
    }

    /// Whether the next byte begins a line.
    pub(super) fn at_line_start(&self) -> bool {
        self.head.is_some() && self.tail.is_empty() && !self.skipping
    }

    /// Drops the unfinished line: what comes next begins a new one, or the rest of one that is lost.
    pub(super) fn drop_tail(&mut self) {
        if self.head.is_some() {
            self.tail.clear();
            self.skipping = false;
        }
    }

    /// Takes bytes; hands blocks to `sink` as they are read.
    pub(super) fn push(&mut self, bytes: &[u8], sink: &mut Sink<'_>) -> Result<(), TraceError> {
        bytes.chunks(PIECE).try_for_each(|piece| self.piece(piece, false, sink))
    }

    /// Nothing follows.
    pub(super) fn finish(&mut self, sink: &mut Sink<'_>) -> Result<(), TraceError> {
        self.piece(&[], true, sink)
    }

    fn piece(&mut self, bytes: &[u8], at_end: bool, sink: &mut Sink<'_>) -> Result<(), TraceError> {
        if self.head.is_none() {
            self.tail.extend_from_slice(bytes);
            let Some(mut head) = header::settle(&self.tail, at_end, self.live, &self.logger)? else {
                return Ok(());
            };
            if self.live {
                head.layout.join_lines = false;
                head.layout.longest_line = LONGEST_LIVE_LINE;
            }
            if let Some(wanted) = self.wanted {
                head.layout.used.retain(|u| wanted(u.channel));
            }
            self.tail.drain(..head.consumed);
            self.block.clear();
            self.block.lines = head.lines.clone();
            sink(&head, &self.block)?;
            self.head = Some(head);
            return self.read(&[], at_end, sink);
        }
        self.read(bytes, at_end, sink)
    }

    fn read(&mut self, bytes: &[u8], at_end: bool, sink: &mut Sink<'_>) -> Result<(), TraceError> {
        let Some(head) = self.head.as_ref() else { return Ok(()) };
        let layout = &head.layout;
        let mut bytes = bytes;
        if self.skipping {
            let Some(end) = memchr::memchr(layout.line_end, bytes) else { return Ok(()) };
            self.skipping = false;
            bytes = &bytes[end + 1..];
        }
        self.block.clear();
        if self.tail.is_empty() {
            rows::read(layout, bytes, at_end, &mut self.block);
            self.tail.extend_from_slice(&bytes[self.block.consumed..]);
        } else {
            self.tail.extend_from_slice(bytes);
            rows::read(layout, &self.tail, at_end, &mut self.block);
            self.tail.drain(..self.block.consumed);
        }
        if self.tail.len() > layout.longest_line && memchr::memchr(layout.line_end, &self.tail).is_none() {
            self.tail.clear();
            self.skipping = true;
            self.block.lines.lines += 1;
            rows::too_long(layout, &mut self.block);
        }
        sink(head, &self.block)
    }
}

/// Reads whole lines apart from the rest of the log, on any thread.
///
/// `bytes` must begin a line; what is not whole at the end is left (see [`Block::consumed`]).
pub(super) fn read_apart(layout: &Layout, bytes: &[u8], block: &mut Block) {
    block.clear();
    rows::read(layout, bytes, false, block);
}
