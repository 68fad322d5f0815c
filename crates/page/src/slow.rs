//! Clients that do not read, and clients that only take up room.

use std::collections::BTreeMap;
use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::sync::{Notify, oneshot};
use tokio::time::Sleep;

/// A stream whose other end must take what is written within a time; else it breaks off.
pub(crate) struct Slow<S> {
    inner: S,
    within: Duration,
    waiting: Option<Pin<Box<Sleep>>>,
}

impl<S> Slow<S> {
    pub(crate) fn new(inner: S, within: Duration) -> Self {
        Self { inner, within, waiting: None }
    }

    /// Passes on what is ready; counts the time where nothing is.
    fn timed<T>(&mut self, polled: Poll<io::Result<T>>, cx: &mut Context<'_>) -> Poll<io::Result<T>> {
        if polled.is_ready() {
            self.waiting = None;
            return polled;
        }
        let within = self.within;
        let waiting = self.waiting.get_or_insert_with(|| Box::pin(tokio::time::sleep(within)));
        match waiting.as_mut().poll(cx) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Slow<S> {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.inner).poll_read(cx, buf)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Slow<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        let polled = Pin::new(&mut self.inner).poll_write(cx, buf);
        self.timed(polled, cx)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bufs: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let polled = Pin::new(&mut self.inner).poll_write_vectored(cx, bufs);
        self.timed(polled, cx)
    }

    fn is_write_vectored(&self) -> bool {
        self.inner.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let polled = Pin::new(&mut self.inner).poll_flush(cx);
        self.timed(polled, cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        let polled = Pin::new(&mut self.inner).poll_shutdown(cx);
        self.timed(polled, cx)
    }
}

/// Set by the guard once a connection has shown the cookie.
#[derive(Debug, Clone)]
pub(crate) struct Trusted(Arc<AtomicBool>);

impl Trusted {
    pub(crate) fn trust(&self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// The connections there are. Where there is no more room the oldest stranger leaves, so that strangers hold up
/// nobody but each other.
pub(crate) struct Crowd {
    most: usize,
    inside: Arc<Inside>,
}

#[derive(Default)]
struct Inside {
    list: Mutex<(u64, BTreeMap<u64, Member>)>,
    left: Notify,
}

impl Inside {
    /// Every change of the list is one step: a panic leaves it whole.
    fn list(&self) -> std::sync::MutexGuard<'_, (u64, BTreeMap<u64, Member>)> {
        self.list.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

struct Member {
    trusted: Trusted,
    leave: Option<oneshot::Sender<()>>,
}

/// A connection's place; free again when this goes.
pub(crate) struct Place {
    number: u64,
    inside: Arc<Inside>,
}

impl Crowd {
    pub(crate) fn new(most: usize) -> Self {
        Self { most, inside: Arc::default() }
    }

    /// Waits for room, and makes some.
    pub(crate) async fn place(&self) -> Place {
        loop {
            let left = self.inside.left.notified();
            {
                let mut list = self.inside.list();
                if list.1.len() < self.most {
                    list.0 += 1;
                    let number = list.0;
                    list.1.insert(number, Member { trusted: Trusted(Arc::default()), leave: None });
                    return Place { number, inside: Arc::clone(&self.inside) };
                }
                let strangers = list.1.values_mut().filter(|m| !m.trusted.0.load(Ordering::Relaxed));
                if let Some(leave) = strangers.filter_map(|m| m.leave.take()).next() {
                    // It may be leaving already.
                    let _ = leave.send(());
                }
            }
            left.await;
        }
    }
}

impl Place {
    /// Somebody has come: the mark that shows whether they are trusted, and a word to leave.
    pub(crate) fn enter(&self) -> (Trusted, oneshot::Receiver<()>) {
        let (send, leave) = oneshot::channel();
        let mut list = self.inside.list();
        let trusted = match list.1.get_mut(&self.number) {
            Some(member) => {
                member.leave = Some(send);
                member.trusted.clone()
            }
            None => Trusted(Arc::default()),
        };
        (trusted, leave)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        self.inside.list().1.remove(&self.number);
        self.inside.left.notify_one();
    }
}
