//! Sockets that nobody can hold open for nothing.
//!
//! A connection on which nothing was written for [`IDLE`] is closed: a request
//! that never ends, a client that never reads, one that says nothing. An event
//! stream writes at least every few seconds, so it lives while it is read.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::extract::connect_info::Connected;
use axum::serve::IncomingStream;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Instant, Sleep, sleep};

/// The longest a connection lives without a byte of an answer.
const IDLE: Duration = Duration::from_secs(20);

/// Bytes that wait in the system for a client: some views, and the largest asset.
#[cfg(unix)]
const UNREAD: usize = 64 * 1024;

/// Both ends of a connection.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ends {
    /// This machine's end.
    pub(super) local: SocketAddr,
    /// The other one.
    pub(super) peer: SocketAddr,
}

/// Accepts; waits a little when the system has no room for more.
pub(super) struct Listener(TcpListener);

impl Listener {
    pub(super) fn new(listener: TcpListener) -> Self {
        Self(listener)
    }
}

impl axum::serve::Listener for Listener {
    type Io = Socket;
    type Addr = Ends;

    async fn accept(&mut self) -> (Socket, Ends) {
        loop {
            if let Ok((stream, peer)) = self.0.accept().await
                && let Ok(local) = stream.local_addr()
            {
                // Rows and digits go out as they come; a refusal costs only time.
                _ = stream.set_nodelay(true);
                bound_unread(&stream);
                return (Socket::new(stream), Ends { local, peer });
            }
            sleep(Duration::from_millis(100)).await;
        }
    }

    fn local_addr(&self) -> io::Result<Ends> {
        self.0.local_addr().map(|local| Ends { local, peer: local })
    }
}

/// What a client does not read waits in the system only so far: hundreds that
/// never read would otherwise hold megabytes each, and be written to for long.
fn bound_unread(stream: &TcpStream) {
    #[cfg(unix)]
    {
        // A refusal leaves the system's own bound.
        _ = rustix::net::sockopt::set_socket_send_buffer_size(stream, UNREAD);
    }
    #[cfg(not(unix))]
    let _: &TcpStream = stream;
}

impl Connected<IncomingStream<'_, Listener>> for Ends {
    fn connect_info(stream: IncomingStream<'_, Listener>) -> Self {
        *stream.remote_addr()
    }
}

/// A stream that ends when nothing is written for too long.
pub(super) struct Socket {
    stream: TcpStream,
    idle: Pin<Box<Sleep>>,
}

impl Socket {
    fn new(stream: TcpStream) -> Self {
        Self {
            stream,
            idle: Box::pin(sleep(IDLE)),
        }
    }

    fn too_long(&mut self, cx: &mut Context<'_>) -> bool {
        self.idle.as_mut().poll(cx).is_ready()
    }

    fn wrote(
        &mut self,
        cx: &mut Context<'_>,
        done: Poll<io::Result<usize>>,
    ) -> Poll<io::Result<usize>> {
        match done {
            Poll::Ready(Ok(_)) => {
                // tokio's own clock: nothing here is recorded.
                self.idle.as_mut().reset(Instant::now() + IDLE);
                done
            }
            Poll::Pending if self.too_long(cx) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            other => other,
        }
    }
}

impl AsyncRead for Socket {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.too_long(cx) {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        Pin::new(&mut self.stream).poll_read(cx, buf)
    }
}

impl AsyncWrite for Socket {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &[u8],
    ) -> Poll<io::Result<usize>> {
        let done = Pin::new(&mut self.stream).poll_write(cx, buf);
        self.wrote(cx, done)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let done = Pin::new(&mut self.stream).poll_write_vectored(cx, bufs);
        self.wrote(cx, done)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}
