//! Planning beside the loop: a thread takes the barn's orders and hands in the plans that are worth showing. The loop never
//! waits for it.
//!
//! Only the newest order counts. Where one comes while another is worked on, that one is finished with what it has, at the
//! latest after [`PATIENCE`], and its plan is shown until the next: on a busy day on a slow board people see a plan that is a
//! moment old, and never none.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::time::{Duration, Instant};

use bellmare_barn::effect::Order;
use bellmare_barn::input::NewPlan;
use bellmare_barn::plan::file::{DayFile, PlanFile};
use bellmare_barn::prep::calm::{Made, make};
use serde::Serialize;
use tokio::sync::mpsc::UnboundedSender;
use tracing::{debug, error};

use crate::metrics::Metrics;

/// How long an order is worked on though a newer one waits.
const PATIENCE: Duration = Duration::from_secs(1);

/// The plan that holds and the day that it was made of, for whoever wants to check it.
#[derive(Clone, PartialEq, Debug, Serialize)]
pub struct Planned {
    /// The day.
    pub day: DayFile,
    /// Its plan.
    pub plan: PlanFile,
}

/// Where the plan that holds can be looked at.
pub type LastPlan = Arc<Mutex<Option<Arc<Planned>>>>;

/// Takes orders. The thread ends when this goes.
#[derive(Debug)]
pub struct Planner {
    orders: mpsc::Sender<(u64, Box<Order>)>,
    newest: Arc<AtomicU64>,
}

impl Planner {
    /// Starts the thread. Plans that people are to see go to `plans`; every plan that holds is put into `last`.
    pub fn start(plans: UnboundedSender<NewPlan>, last: LastPlan, metrics: Arc<Metrics>) -> Self {
        let (orders, taken) = mpsc::channel();
        let newest = Arc::new(AtomicU64::new(0));
        let seen = Arc::clone(&newest);
        std::thread::spawn(move || work(&taken, &seen, &plans, &last, &metrics));
        Self { orders, newest }
    }

    /// Hands over an order.
    pub fn order(&self, order: Box<Order>) {
        let number = self.newest.fetch_add(1, Ordering::Relaxed) + 1;
        if self.orders.send((number, order)).is_err() {
            error!("the planner has ended; the last plan stays");
        }
    }
}

fn work(
    orders: &mpsc::Receiver<(u64, Box<Order>)>,
    newest: &AtomicU64,
    plans: &UnboundedSender<NewPlan>,
    last: &LastPlan,
    metrics: &Metrics,
) {
    while let Ok(mut order) = orders.recv() {
        while let Ok(newer) = orders.try_recv() {
            order = newer;
        }
        let (number, order) = order;
        let began = Instant::now();
        let mut go_on = || newest.load(Ordering::Relaxed) == number || began.elapsed() < PATIENCE;
        let made = match make(&order, &mut go_on) {
            Ok(made) => made,
            Err(faults) => {
                let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
                error!(faults = faults.join("; "), "the day can not be planned; the last plan stays");
                continue;
            }
        };
        metrics.plan_seconds.observe(began.elapsed().as_secs_f64());
        debug!(cost = made.plan().cost, bound = made.plan().bound, took = ?began.elapsed(), "planned");
        let planned = Arc::new(Planned { day: order.day, plan: made.plan().clone() });
        *last.lock().unwrap_or_else(PoisonError::into_inner) = Some(planned);
        if let Made::New(plan) = made
            && plans.send(NewPlan { date: order.date, plan }).is_err()
        {
            // The loop has ended, and nobody is left to see a plan.
            return;
        }
    }
}
