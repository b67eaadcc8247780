//! The server of the demonstration, on a thread of this process.

use std::{io, net::TcpListener, sync::mpsc, thread::JoinHandle};

use actix_web::{dev::ServerHandle, web};

use super::Failure;
use crate::http::{self, Api};

/// A server that runs.
pub(super) struct Running {
    handle: ServerHandle,
    thread: JoinHandle<io::Result<()>>,
}

impl Running {
    /// Starts serving on a listener.
    pub(super) fn start(api: web::Data<Api>, listener: TcpListener) -> Result<Self, Failure> {
        let (tell, told) = mpsc::channel();
        let thread = std::thread::Builder::new().name("demo-server".into()).spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let server = http::serve(api, listener, None)?;
                let _ = tell.send(server.handle());
                server.await
            })
        })?;
        match told.recv() {
            Ok(handle) => Ok(Self { handle, thread }),
            Err(_) => {
                ended(thread)?;
                Err("the server did not start".into())
            }
        }
    }

    /// Serves until the process is told to stop.
    pub(super) fn wait(self) -> Result<(), Failure> {
        ended(self.thread)
    }

    /// Stops at once.
    pub(super) fn stop(self) -> Result<(), Failure> {
        // The order to stop is sent by the call; what it returns is only the waiting.
        drop(self.handle.stop(false));
        ended(self.thread)
    }
}

fn ended(thread: JoinHandle<io::Result<()>>) -> Result<(), Failure> {
    match thread.join() {
        Ok(ended) => Ok(ended?),
        Err(_) => Err("the server broke down".into()),
    }
}

/// Takes the port on the loopback address.
pub(super) fn listen(port: u16) -> Result<TcpListener, Failure> {
    Ok(TcpListener::bind(("127.0.0.1", port)).map_err(|error| match error.kind() {
        io::ErrorKind::AddrInUse => {
            format!("port {port} is taken: give another with --port, or --port 0 for any free one")
        }
        _ => format!("port {port}: {error}"),
    })?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_taken_port_is_named_with_a_way_out() {
        let taken = listen(0).unwrap();
        let port = taken.local_addr().unwrap().port();
        let error = listen(port).unwrap_err().to_string();
        assert!(error.contains(&port.to_string()) && error.contains("--port 0"), "{error}");
    }
}
