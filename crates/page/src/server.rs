//! Listening on loopback, with a bound on connections and on every wait.

use crate::error::PageError;
use crate::slow::{Crowd, Slow};
use crate::state::App;
use crate::{Options, Scorer, guard, routes};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use std::future::Future;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

/// Connections at a time. Past that the oldest of those that never showed the cookie goes.
const CONNECTIONS: usize = 256;
/// A request's head must be there within this; idle connections are closed after it too.
const HEAD_WITHIN: Duration = Duration::from_secs(5);
/// The longest that a connection may last.
const LONGEST: Duration = Duration::from_secs(30 * 60);
/// An answer's next piece must be taken within this.
const READ_WITHIN: Duration = Duration::from_secs(10);
/// A request's head, bytes.
const HEAD_BYTES: usize = 32 * 1024;
/// How long open requests may take once the server is to stop.
const LAST_WORDS: Duration = Duration::from_secs(2);

/// A server whose port is open; it answers once [`Server::run`] is called.
#[derive(Debug)]
pub struct Server {
    listener: TcpListener,
    address: SocketAddr,
    app: Arc<App>,
}

impl Server {
    /// Takes the port and opens the journal.
    ///
    /// # Errors
    /// [`PageError`].
    pub fn bind(options: &Options, scorer: Arc<dyn Scorer>) -> Result<Self, PageError> {
        let taken = |source| PageError::Port { port: options.port, source };
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, options.port)).map_err(taken)?;
        listener.set_nonblocking(true).map_err(taken)?;
        let address = listener.local_addr().map_err(taken)?;
        let app = Arc::new(App::new(options, address.port(), scorer)?);
        Ok(Self { listener, address, app })
    }

    /// Where the pages are, with the key that lets its bearer in.
    pub fn url(&self) -> String {
        format!("http://{}/?key={}", self.address, self.app.key())
    }

    /// Host and port.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves until `stop` is done, then lets open requests finish for two seconds.
    ///
    /// # Errors
    /// [`PageError::Start`] if the system gives no threads.
    pub fn run(self, stop: impl Future<Output = ()>) -> Result<(), PageError> {
        let start = |e: std::io::Error| PageError::Start(e.to_string());
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .max_blocking_threads(64)
            .enable_all()
            .build()
            .map_err(start)?;
        let done = runtime.block_on(async {
            let listener = tokio::net::TcpListener::from_std(self.listener).map_err(start)?;
            accept(listener, Arc::clone(&self.app), stop).await;
            Ok(())
        });
        // A take that is being scored does not hold the program back, and leaves nothing behind.
        self.app.jobs.close();
        runtime.shutdown_background();
        done
    }
}

async fn accept(listener: tokio::net::TcpListener, app: Arc<App>, stop: impl Future<Output = ()>) {
    let router = guard::around(routes::router(Arc::clone(&app)), app);
    let crowd = Crowd::new(CONNECTIONS);
    let graceful = GracefulShutdown::new();
    let mut stop = std::pin::pin!(stop);
    loop {
        let next = async {
            let place = crowd.place().await;
            (place, listener.accept().await)
        };
        let (place, accepted) = tokio::select! {
            () = &mut stop => break,
            next = next => next,
        };
        let stream = match accepted {
            Ok((stream, _)) => stream,
            Err(_) => {
                // Out of file handles, most likely: wait until some are free again.
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let (trusted, mut leave) = place.enter();
        let mut builder = http1::Builder::new();
        builder.timer(TokioTimer::new()).header_read_timeout(HEAD_WITHIN).max_buf_size(HEAD_BYTES);
        let service = TowerToHyperService::new(router.clone().layer(axum::Extension(trusted)));
        let connection = builder.serve_connection(TokioIo::new(Slow::new(stream, READ_WITHIN)), service);
        let connection = graceful.watch(connection);
        tokio::spawn(async move {
            // A connection that breaks off concerns its other end alone.
            tokio::select! {
                _ = tokio::time::timeout(LONGEST, connection) => {}
                _ = &mut leave => {}
            }
            drop(place);
        });
    }
    drop(listener);
    let _ = tokio::time::timeout(LAST_WORDS, graceful.shutdown()).await;
}

/// Done once the user interrupts the program (Ctrl-C), its terminal goes away or the system asks it to end.
pub async fn interrupted() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let each = [SignalKind::interrupt(), SignalKind::terminate(), SignalKind::hangup()].map(signal);
        let waits = each.into_iter().filter_map(Result::ok).map(|mut s| {
            Box::pin(async move {
                s.recv().await;
            })
        });
        let waits: Vec<_> = waits.collect();
        if waits.is_empty() {
            // Without a signal there is nothing to wait for but the end of the process.
            std::future::pending::<()>().await;
        }
        futures_util::future::select_all(waits).await;
    }
    #[cfg(not(unix))]
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}
