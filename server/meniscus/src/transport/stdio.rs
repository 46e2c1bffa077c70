//! Standard input and output, registered with the reactor where they can be.
//!
//! Tokio's own hand every read and write to a blocking thread and back, which costs more than all the rest
//! of a keystroke. Pipes and the socket pairs that some editors use need no such detour.

use tokio::io::{AsyncRead, AsyncWrite};

/// What the client says.
pub(crate) type Input = Box<dyn AsyncRead + Send + Unpin>;
/// What the client hears.
pub(crate) type Output = Box<dyn AsyncWrite + Send + Unpin>;

/// Both streams. Call it inside the runtime.
pub(crate) fn stdio() -> (Input, Output) {
    (
        input().unwrap_or_else(|| Box::new(tokio::io::stdin())),
        output().unwrap_or_else(|| Box::new(tokio::io::stdout())),
    )
}

#[cfg(unix)]
use unix::{input, output};

#[cfg(not(unix))]
fn input() -> Option<Input> {
    None
}

#[cfg(not(unix))]
fn output() -> Option<Output> {
    None
}

#[cfg(unix)]
mod unix {
    use super::{Input, Output};
    use std::fs::File;
    use std::os::fd::{AsFd, OwnedFd};
    use std::os::unix::fs::FileTypeExt;
    use std::os::unix::net::UnixStream as StdStream;
    use tokio::net::{UnixStream, unix::pipe};

    pub(super) fn input() -> Option<Input> {
        match Stream::of(std::io::stdin())? {
            Stream::Pipe(file) => Some(Box::new(pipe::Receiver::from_file(file).ok()?)),
            Stream::Socket(socket) => Some(Box::new(socket)),
        }
    }

    pub(super) fn output() -> Option<Output> {
        match Stream::of(std::io::stdout())? {
            Stream::Pipe(file) => Some(Box::new(pipe::Sender::from_file(file).ok()?)),
            Stream::Socket(socket) => Some(Box::new(socket)),
        }
    }

    enum Stream {
        Pipe(File),
        Socket(UnixStream),
    }

    impl Stream {
        fn of(standard: impl AsFd) -> Option<Stream> {
            let file = File::from(standard.as_fd().try_clone_to_owned().ok()?);
            let kind = file.metadata().ok()?.file_type();
            if kind.is_fifo() {
                return Some(Stream::Pipe(file));
            }
            if !kind.is_socket() {
                return None;
            }
            let socket = StdStream::from(OwnedFd::from(file));
            // Only a Unix socket has a Unix address: this refuses the others.
            socket.local_addr().ok()?;
            socket.set_nonblocking(true).ok()?;
            UnixStream::from_std(socket).ok().map(Stream::Socket)
        }
    }
}
