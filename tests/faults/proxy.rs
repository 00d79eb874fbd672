//! A bad network between phones and server: answers cut after some bytes, delayed, or reset.
//!
//! One connection carries what its seed says until it breaks; phones connect anew.

use std::io::{Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

pub struct Proxy {
    pub base: String,
    target: Arc<Mutex<SocketAddr>>,
    /// Connections that were broken on purpose.
    pub broken: Arc<AtomicU64>,
}

impl Proxy {
    pub fn start(seed: u64, target: SocketAddr) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let target = Arc::new(Mutex::new(target));
        let broken = Arc::new(AtomicU64::new(0));
        let (to, count) = (target.clone(), broken.clone());
        std::thread::spawn(move || {
            let mut chance = ChaCha8Rng::seed_from_u64(seed);
            for phone in listener.incoming().flatten() {
                let Ok(server) =
                    TcpStream::connect_timeout(&to.lock().unwrap().clone(), Duration::from_secs(1))
                else {
                    // The server is down: the phone's connection is closed by dropping it.
                    continue;
                };
                let (cut, delay) = match chance.next_u32() % 10 {
                    0..4 => (None, Duration::ZERO),
                    // In the head, in the middle, or just behind an answer.
                    4..8 => (Some(chance.next_u32() as usize % 2_500), Duration::ZERO),
                    8 => (None, Duration::from_millis(u64::from(chance.next_u32() % 40))),
                    // The request goes through, and nothing ever comes back.
                    _ => (Some(0), Duration::ZERO),
                };
                carry(phone, server, cut, delay, count.clone());
            }
        });
        Self { base, target, broken }
    }

    pub fn lead_to(&self, target: SocketAddr) {
        *self.target.lock().unwrap() = target;
    }
}

fn carry(phone: TcpStream, server: TcpStream, cut: Option<usize>, delay: Duration, broken: Arc<AtomicU64>) {
    let (mut up_from, mut up_to) = (phone.try_clone().unwrap(), server.try_clone().unwrap());
    std::thread::spawn(move || {
        // Ends when either side does; what it could not carry is what a network loses.
        let _ = std::io::copy(&mut up_from, &mut up_to);
        let _ = up_to.shutdown(Shutdown::Both);
    });
    let (mut server, mut phone) = (server, phone);
    std::thread::spawn(move || {
        let mut left = cut.unwrap_or(usize::MAX);
        let mut room = [0; 4096];
        while let Ok(read @ 1..) = server.read(&mut room) {
            std::thread::sleep(delay);
            let sent = read.min(left);
            if phone.write_all(&room[..sent]).is_err() {
                break;
            }
            left -= sent;
            if left == 0 {
                broken.fetch_add(1, Ordering::Relaxed);
                break;
            }
        }
        let _ = phone.shutdown(Shutdown::Both);
        let _ = server.shutdown(Shutdown::Both);
    });
}
