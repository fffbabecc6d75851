//! A link between two machines that breaks when a test says so: bytes go both ways until it is cut, and a cut is counted in
//! bytes and connections, never in time.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// What a connection may carry before it breaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Bytes from whoever connects.
    pub there: usize,
    /// Bytes back.
    pub back: usize,
}

impl Budget {
    /// Without an end.
    pub const WHOLE: Self = Self { there: usize::MAX, back: usize::MAX };
}

struct Plan {
    target: SocketAddr,
    /// Budgets of the next connections in their order.
    budgets: Vec<Budget>,
    /// Budget of every connection after them.
    after: Budget,
    /// Whether nobody gets through.
    down: bool,
}

/// The link.
pub struct Proxy {
    pub address: SocketAddr,
    plan: Arc<Mutex<Plan>>,
    /// Changes when every connection is to break now.
    cut: watch::Sender<u64>,
    /// Connections that were made, and that broke.
    made: watch::Receiver<(u64, u64)>,
}

impl Proxy {
    pub async fn to(target: SocketAddr) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let plan =
            Arc::new(Mutex::new(Plan { target, budgets: Vec::new(), after: Budget::WHOLE, down: false }));
        let cut = watch::Sender::new(0);
        let (count, made) = watch::channel((0, 0));
        let count = Arc::new(count);
        tokio::spawn({
            let (plan, cut) = (Arc::clone(&plan), cut.clone());
            async move {
                while let Ok((stream, _)) = listener.accept().await {
                    let (target, budget, down) = {
                        let mut plan = plan.lock().unwrap();
                        let next = !plan.down && !plan.budgets.is_empty();
                        let budget = if next { plan.budgets.remove(0) } else { plan.after };
                        (plan.target, budget, plan.down)
                    };
                    count.send_modify(|(made, _)| *made += 1);
                    let (cut, count) = (cut.subscribe(), Arc::clone(&count));
                    tokio::spawn(async move {
                        if !down {
                            carry(stream, target, budget, cut).await;
                        }
                        count.send_modify(|(_, broken)| *broken += 1);
                    });
                }
            }
        });
        Self { address, plan, cut, made }
    }

    /// Where the far end is from now on, for connections that are made from now on.
    pub fn lead_to(&self, target: SocketAddr) {
        self.plan.lock().unwrap().target = target;
    }

    /// Breaks every connection, and lets none through until [`Proxy::up`].
    pub fn down(&self) {
        self.plan.lock().unwrap().down = true;
        self.cut();
    }

    /// Lets everything through.
    pub fn up(&self) {
        self.plan.lock().unwrap().down = false;
    }

    /// Breaks every connection.
    pub fn cut(&self) {
        self.cut.send_modify(|cuts| *cuts += 1);
    }

    /// The next connections get these budgets.
    pub fn plan(&self, budgets: Vec<Budget>) {
        self.plan.lock().unwrap().budgets = budgets;
    }

    /// Every connection after those that are planned gets this budget, for ever.
    pub fn narrow(&self, after: Budget) {
        self.plan.lock().unwrap().after = after;
    }

    /// Budgets that no connection was made for yet.
    pub fn left(&self) -> usize {
        self.plan.lock().unwrap().budgets.len()
    }

    /// Connections that were made so far, and that broke or ended.
    pub fn counted(&self) -> (u64, u64) {
        *self.made.borrow()
    }

    /// Waits until so many connections broke or ended.
    pub async fn broken(&self, connections: u64) {
        let mut made = self.made.clone();
        made.wait_for(|(_, broken)| *broken >= connections).await.unwrap();
    }
}

/// Carries bytes until one side ends, a budget is used up, or the link is cut.
async fn carry(near: TcpStream, target: SocketAddr, budget: Budget, mut cut: watch::Receiver<u64>) {
    let Ok(far) = TcpStream::connect(target).await else { return };
    near.set_nodelay(true).unwrap();
    far.set_nodelay(true).unwrap();
    let ((near_in, near_out), (far_in, far_out)) = (near.into_split(), far.into_split());
    tokio::select! {
        () = one_way(near_in, far_out, budget.there) => {}
        () = one_way(far_in, near_out, budget.back) => {}
        _ = cut.changed() => {}
    }
}

async fn one_way(mut from: OwnedReadHalf, mut to: OwnedWriteHalf, mut budget: usize) {
    let mut bytes = vec![0; 16 * 1024];
    loop {
        let Ok(read) = from.read(&mut bytes).await else { return };
        let may = read.min(budget);
        budget -= may;
        if read == 0 || to.write_all(&bytes[..may]).await.is_err() || may < read {
            return;
        }
    }
}
