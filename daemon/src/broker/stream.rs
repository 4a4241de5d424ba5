//! A client's socket as the broker reads and writes it, with the gate in between.

use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, ready};

use mqtt5::broker::transport::WebSocketTransport;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;

use super::gate::Gate;
use super::wire::{Packets, Publishes};

/// A socket behind a gate.
pub(super) struct Stream {
    tcp: TcpStream,
    gate: Arc<Gate>,
    read: Publishes,
    written: Packets,
}

impl Stream {
    pub(super) fn new(tcp: TcpStream, gate: Arc<Gate>) -> Self {
        Self { tcp, gate, read: Publishes::default(), written: Packets::default() }
    }

    /// Writes what may go out.
    fn poll_send(&mut self, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let Self { tcp, gate, .. } = self;
        let sent = gate.send(|bytes| match Pin::new(&mut *tcp).poll_write(cx, bytes) {
            Poll::Ready(Ok(0)) => Err(Some(io::ErrorKind::WriteZero.into())),
            Poll::Ready(Ok(count)) => Ok(count),
            Poll::Ready(Err(why)) => Err(Some(why)),
            Poll::Pending => Err(None),
        });
        match sent {
            Ok(()) => Poll::Ready(Ok(())),
            Err(Some(why)) => Poll::Ready(Err(why)),
            Err(None) => Poll::Pending,
        }
    }
}

/// The broker takes other people's streams under this name alone; nothing of WebSocket is spoken.
impl WebSocketTransport for Stream {
    fn peer_addr(&self) -> mqtt5::Result<SocketAddr> {
        Ok(self.tcp.peer_addr()?)
    }
}

impl AsyncRead for Stream {
    /// The broker is always about to read, so this is also where answers go out that were held back.
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        if !self.gate.reads(cx.waker()) {
            return Poll::Ready(Err(io::ErrorKind::ConnectionAborted.into()));
        }
        // A socket that takes no more now wakes this task when it does.
        if let Poll::Ready(sent) = self.poll_send(cx) {
            sent?;
        }
        let before = buf.filled().len();
        ready!(Pin::new(&mut self.tcp).poll_read(cx, buf))?;
        let Self { gate, read, .. } = &mut *self;
        read.feed(buf.filled().get(before..).unwrap_or_default(), |packet_id, dup| gate.arrives(packet_id, dup));
        Poll::Ready(Ok(()))
    }
}

impl AsyncWrite for Stream {
    /// Takes everything; the broker flushes after each packet, and that waits for the socket.
    fn poll_write(mut self: Pin<&mut Self>, _: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let Self { gate, written, .. } = &mut *self;
        written.feed(bytes, |packet| gate.writes(packet));
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        ready!(self.poll_send(cx))?;
        Pin::new(&mut self.tcp).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        ready!(self.poll_send(cx))?;
        Pin::new(&mut self.tcp).poll_shutdown(cx)
    }
}
