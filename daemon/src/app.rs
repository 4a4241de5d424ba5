//! Puts the hub together and takes it apart: journal, barn, broker, devices, pages, loop, in the order in which each needs
//! the one before. Whatever can be wrong is found before the first message is taken.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use bellmare_barn::barn::Barn;
use bellmare_barn::input::Input;
use bellmare_barn::time::Now;
use thiserror::Error;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tracing::{error, info};

use crate::broker::{Broker, BrokerError, BrokerSettings, Hearing};
use crate::clock::Clock;
use crate::complaint::Complaint;
use crate::devices::intake::{Ears, INTAKE_CAPACITY};
use crate::devices::ledger::Ledger;
use crate::devices::mqtt::{Connection, Mqtt, availability};
use crate::devices::rules::topic_map;
use crate::exchange::{self, Faults};
use crate::hub::feed::Feed;
use crate::hub::planner::{LastPlan, Planner};
use crate::hub::{self, Back, Hub, start};
use crate::journal::outbox::Outbox;
use crate::journal::{Found, Journal, JournalError, Keeper, Options};
use crate::messages::Messages;
use crate::messages::lamp::{Lamp, Picture};
use crate::messages::link::Links;
use crate::metrics::Metrics;
use crate::settings::{self, Settings};
use crate::web::{self, Keys, OfficeToken, Takes, Web, WebError};

/// The journal's file in the data folder.
pub const JOURNAL_FILE: &str = "journal.db";
/// Requests that may wait for the loop.
const REQUESTS: usize = 64;
/// How long a reading that changes nothing may wait for company while the barn is quiet.
pub const LINGER: Duration = Duration::from_secs(10);

/// What may differ from run to run and is no setting.
#[derive(Clone, Debug)]
pub struct Conduct {
    /// How long a reading that changes nothing may wait for company.
    pub linger: Duration,
    /// How the journal is opened.
    pub journal: Options,
}

impl Default for Conduct {
    fn default() -> Self {
        Self { linger: LINGER, journal: Options::default() }
    }
}

/// Why the hub does not start.
#[derive(Debug, Error)]
pub enum StartError {
    /// The data folder can not be made or written.
    #[error("using the data folder {} (data.folder)", path.display())]
    Data {
        /// Which.
        path: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// The journal can not be opened.
    #[error("opening the journal")]
    Journal(#[from] JournalError),
    /// The book that the settings name is faulty.
    #[error("the book has faults; mend these and start again:\n{}", exchange::report(.0))]
    Book(Faults),
    /// The broker can not be started.
    #[error("starting the embedded broker")]
    Broker(#[from] BrokerError),
    /// A file that the settings name can not be used.
    #[error("wrong settings: {0}")]
    Settings(Complaint),
    /// The pages can not be served.
    #[error(transparent)]
    Web(#[from] WebError),
}

/// A hub that runs.
pub struct Running {
    /// Where the pages are.
    pub web: SocketAddr,
    /// The embedded broker, where the hub has its own.
    pub broker: Option<Broker>,
    /// How the hub hears a broker of its own, should that be started again.
    pub(crate) hearing: Option<Hearing>,
    /// Its clock.
    pub clock: Clock,
    stop: watch::Sender<bool>,
    hub: JoinHandle<()>,
    pages: JoinHandle<()>,
    /// The line to a broker elsewhere.
    line: Option<JoinHandle<()>>,
}

/// Starts a hub. `clock` makes its clock, given when the journal's last entry was taken.
///
/// # Errors
/// Whatever keeps it from starting; nothing has been taken in then.
pub async fn start(
    settings: &Settings,
    clock: impl FnOnce(Option<Now>) -> Clock,
    conduct: Conduct,
) -> Result<Running, StartError> {
    let listener = web::listen(settings.web.listen).await?;
    let address = listener.local_addr().unwrap_or(settings.web.listen);

    let data = |source| StartError::Data { path: settings.data.folder.clone(), source };
    std::fs::create_dir_all(&settings.data.folder).map_err(data)?;
    let office = OfficeToken::of(&settings.data.folder).map_err(data)?;
    let links = Links::of(&settings.data.folder, settings.messages.link_base.clone()).map_err(data)?;
    let (barn, journal) = open(settings, &conduct.journal)?;
    let clock = clock(journal.last);
    let first = first_inputs(settings, &barn.barn)?;

    // The settings have been checked; what they could complain of, they have.
    let topics = topic_map(&settings.mqtt.prefix, &settings.mqtt.watch, &settings.topics, &mut Vec::new());

    let (stop, stopped) = watch::channel(false);
    let ledger = Arc::new(Ledger::default());
    let metrics = Arc::new(Metrics::new());
    let (feed, boards) = Feed::new();
    let (to_hub, intake) = mpsc::channel(INTAKE_CAPACITY);
    let (requests, asked) = mpsc::channel(REQUESTS);
    let (to_loop, plans) = mpsc::unbounded_channel();
    let planned = LastPlan::default();
    let planner = Planner::start(to_loop, Arc::clone(&planned), Arc::clone(&metrics));
    let time = clock.clone();
    let ears = Ears::new(topics, Arc::clone(&ledger), move || time.now().wall, to_hub);
    let (lamp, shown) = lamp(settings);
    let devices = devices(settings, ears, shown).await?;
    let (to_loop, reports) = mpsc::unbounded_channel();
    let messages = Messages::start(settings, links.clone(), journal.outbox, &clock, &metrics, to_loop)
        .map_err(StartError::Settings)?;
    let hub = Hub {
        barn: barn.barn,
        clock: clock.clone(),
        keeper: Keeper::spawn(journal.journal)?,
        boot: journal.boot,
        last_seq: barn.last_seq,
        deliveries: barn.deliveries,
        acker: devices.line.as_ref().map(|(line, _)| line.acker()),
        ledger: Arc::clone(&ledger),
        metrics: Arc::clone(&metrics),
        feed,
        planner,
        linger: conduct.linger,
        messages,
        lamp,
        disk: hub::room::Gauge::new(&settings.data.folder),
    };
    let keys = settings.web.kiosk_keys.iter().map(|(kiosk, key)| (kiosk.clone(), key.expose().to_owned())).collect();
    let (keys, office) = (Arc::new(Keys::new(keys)), Arc::new(office));
    let takes = Arc::new(Takes::new(links, clock.clone()));
    let pages = Web { requests, boards, planned, ledger, metrics, keys, office, staff: Arc::default(), takes };
    info!(web = %address, barn = %settings.limits.barn, "the hub runs");
    let line = devices.line.map(|(line, ears)| tokio::spawn(line.run(ears, stopped.clone())));
    Ok(Running {
        web: address,
        broker: devices.broker,
        hearing: devices.hearing,
        clock,
        hub: tokio::spawn(hub::run(hub, first, intake, asked, Back { plans, reports }, stopped.clone())),
        pages: tokio::spawn(web::serve(listener, pages, stopped)),
        line,
        stop,
    })
}

impl Running {
    /// Ends it: what has arrived is committed, a snapshot kept, files closed.
    pub async fn stop(self) {
        // Nobody listening means that all have ended already.
        let _ = self.stop.send(true);
        let line = async {
            if let Some(line) = self.line {
                // An error is one of this program, and has been told of already.
                let _ = line.await;
            }
        };
        let ended = tokio::join!(self.hub, line, tokio::time::timeout(Duration::from_secs(1), self.pages));
        if let Err(why) = ended.0 {
            error!(%why, "the hub's loop did not end well");
        }
        if let Some(broker) = self.broker
            && let Err(why) = broker.stop().await
        {
            error!(why = crate::chain(&why), "the broker did not end well");
        }
    }

    /// Waits until the loop ends by itself, which it does only where something is very wrong.
    pub async fn ended(&mut self) {
        if let Err(why) = (&mut self.hub).await {
            error!(%why, "the hub's loop ended");
        }
    }
}

/// Where the devices' messages come from: a broker of the hub's own, or a line to another.
struct Devices {
    broker: Option<Broker>,
    hearing: Option<Hearing>,
    line: Option<(Connection, Ears)>,
}

/// Where the broker is told what stands, where the settings ask for it.
fn lamp(settings: &Settings) -> (Option<(String, watch::Sender<Picture>)>, Option<Lamp>) {
    let Some(prefix) = settings.messages.mqtt.as_ref().map(|mqtt| mqtt.prefix.clone()) else { return (None, None) };
    let (sender, wanted) = watch::channel(Picture::new());
    let lamp = Lamp { prefix: prefix.clone(), wanted };
    (Some((prefix, sender)), Some(lamp))
}

async fn devices(settings: &Settings, ears: Ears, lamp: Option<Lamp>) -> Result<Devices, StartError> {
    if let Some(mqtt) = Mqtt::of(&settings.mqtt).map_err(StartError::Settings)? {
        return Ok(Devices { broker: None, hearing: None, line: Some((Connection::new(&mqtt, lamp), ears)) });
    }
    let hearing = Hearing { ears: Arc::new(ears), availability: availability(&settings.mqtt.prefix), lamp };
    let broker = own_broker(settings, hearing.clone()).await?;
    Ok(Devices { broker, hearing: Some(hearing), line: None })
}

/// The embedded broker, where the settings ask for it. Its sessions are kept beside the journal.
pub(crate) async fn own_broker(settings: &Settings, hearing: Hearing) -> Result<Option<Broker>, BrokerError> {
    let settings::Broker::Embedded { listen, accounts } = &settings.mqtt.broker else { return Ok(None) };
    let data = settings.data.folder.join("broker");
    let settings = BrokerSettings { listen: *listen, data, accounts: accounts.clone() };
    Broker::start(settings, Some(hearing)).await.map(Some)
}

struct Opened {
    journal: Journal,
    boot: u32,
    last: Option<Now>,
    outbox: Outbox,
}

/// Opens the journal and brings the barn back. Damage that shows only on reading sets the file aside, as on opening.
fn open(settings: &Settings, options: &Options) -> Result<(start::Restored, Opened), StartError> {
    let path = settings.data.folder.join(JOURNAL_FILE);
    let (mut journal, mut opening) = Journal::open(&path, options)?;
    let mut restored = start::restore(&journal);
    if let Err(why) = &restored
        && why.is_damage()
    {
        let why = crate::chain(why);
        journal.close()?;
        (journal, opening) = Journal::open_afresh(&path, options, &why)?;
        restored = start::restore(&journal);
    }
    if let Found::Damaged { set_aside, why } = &opening.found {
        error!(set_aside = %set_aside.display(), why, "the journal was damaged and is set aside; a new one is begun");
    }
    let outbox = journal.outbox()?;
    Ok((restored?, Opened { journal, boot: opening.boot, last: opening.last, outbox }))
}

/// What the loop steps the barn with before anything else.
fn first_inputs(settings: &Settings, barn: &Barn) -> Result<Vec<Input>, StartError> {
    let mut first = vec![Input::Started];
    if **barn.limits() != settings.limits {
        first.push(Input::Limits(Arc::new(settings.limits.clone())));
    }
    if barn.has_no_book()
        && let Some(folder) = &settings.data.book
    {
        let book = exchange::read_book(folder).map_err(StartError::Book)?;
        first.push(Input::Book(Arc::new(book)));
    }
    Ok(first)
}
